"""Labels whose text has changed since they were printed."""

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.keeping.bottles.print_log import OldLabel, dismiss_labels
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.quantities import how_many
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog

PRINT, DISMISS = "print", "dismiss"
_SHOWN = 12
"""Labels that are shown one by one."""


class OldLabelsDialog(Dialog[str]):
    """What each label shows and what it should; the answer is PRINT, or what was dismissed."""

    ACT = "Next"
    CHANGES_SHELF = False

    def __init__(self, keeper: Keeper, old: Sequence[OldLabel]) -> None:
        super().__init__()
        self.keeper = keeper
        self.old = tuple(old)
        self.TITLE_TEXT = how_many(len(old), "old label")

    def compose_form(self) -> ComposeResult:
        """What has changed on each, and what to do."""
        said = wording(self.keeper)
        for each in self.old[:_SHOWN]:
            lines = (
                f"{each.bottle.code} {each.bottle.name}, printed {said.day(each.printed_on)}",
                f"  shows  {'; '.join(each.gone) or 'nothing'}",
                f"  now    {'; '.join(each.new) or 'nothing'}",
            )
            yield Static("\n".join(lines), markup=False)
        if len(self.old) > _SHOWN:
            more = how_many(len(self.old) - _SHOWN, "more label")
            yield Static(f"and {more}.", classes="quiet", markup=False)
        acts = ((PRINT, "print again"), (DISMISS, "dismiss"))
        yield Pick("What to do", acts, PRINT, id="act")
        yield Static("Dismissed labels come back when their text changes again.", classes="quiet")

    def keep(self) -> str:
        """Dismiss them, or say that they are to be printed."""
        if self.query_one("#act", Pick).value == PRINT:
            return PRINT
        count = dismiss_labels(self.keeper, [each.bottle.bottle_id for each in self.old])
        return f"{how_many(count, 'label')} dismissed until the text changes again."
