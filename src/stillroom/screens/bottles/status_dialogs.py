"""Forms that release, reject or withdraw batches."""

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.keeping.bottles.status import reject, release
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.states import BatchStatus
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, words

_VERDICTS = ((BatchStatus.RELEASED.value, "release"), (BatchStatus.REJECTED.value, "reject"))


class StatusDialog(Dialog[str]):
    """Release a batch, or reject it."""

    ACT = "Decide"
    TITLE_TEXT = "Release or reject"

    def __init__(self, keeper: Keeper, row: BottleRow) -> None:
        super().__init__()
        self.keeper = keeper
        self.row = row

    def compose_form(self) -> ComposeResult:
        """The batch, the verdict and the reason."""
        status = self.row.status or "no status yet"
        yield Static(f"Batch {self.row.batch} {self.row.name}: {status}", markup=False)
        yield Pick("Decision", _VERDICTS, BatchStatus.RELEASED.value, id="verdict")
        yield Entry("Reason", words, id="why", required=False, classes="-wide", max_length=2000)

    def keep(self) -> str:
        """Release or reject the batch."""
        why = self.query_one("#why", Entry).read() or ""
        if self.query_one("#verdict", Pick).value == BatchStatus.REJECTED:
            reject(self.keeper, self.row.tincture_id, why)
            return f"Rejected batch {self.row.batch}"
        release(self.keeper, self.row.tincture_id, why, confirmed=self.confirmed)
        return f"Released batch {self.row.batch}"
