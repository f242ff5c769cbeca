"""Who is at the shelf in this window."""

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import come_to_shelf, seen_at_shelf
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, words


class WhoDialog(Dialog[str]):
    """Initials from a short list, or new ones; they are of this window and not of the file."""

    TITLE_TEXT = "Who is at the shelf?"
    ACT = "Done"
    CHANGES_SHELF = False

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    def compose_form(self) -> ComposeResult:
        """Those seen lately, and a field for new ones."""
        known = [*seen_at_shelf(self.keeper), ""]
        options = [(initials, initials or "none") for initials in known]
        yield Pick("Initials", options, self.keeper.maker, id="known", hint="← → to choose")
        yield Entry("Or new ones", words, id="new", required=False, max_length=12)
        yield Static(
            "Written beside every entry of this window, until you close it or change them here. "
            "Others start with the initials of the settings.",
            classes="quiet", markup=False,
        )  # fmt: skip

    def keep(self) -> str:
        """Write these down from now on."""
        new = self.query_one("#new", Entry).read()
        return come_to_shelf(self.keeper, str(new or self.query_one("#known", Pick).value))
