"""Removing a person's name: which, and from which texts."""

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.errors import NeedsConfirmation
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.forgetting import (
    QUESTION,
    ForgetPlan,
    forget,
    plan_forgetting,
)
from stillroom.keeping.year.people import names
from stillroom.quantities import how_many
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, words
from stillroom.screens.kit.text import safe

_YES, _NO = "yes", "no"
_ANSWERS = ((_YES, "yes"), (_NO, "no"))


class ForgetNameDialog(Dialog[ForgetPlan]):
    """Asks whose name is to be removed."""

    TITLE_TEXT = "Remove a person's name"
    ACT = "Find"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    def compose_form(self) -> ComposeResult:
        """The field for the name."""
        yield Entry("Name", words, id="name", classes="-wide", max_length=200,
                    suggestions=names(self.keeper))  # fmt: skip

    def keep(self) -> ForgetPlan:
        """Find where the name is."""
        return plan_forgetting(self.keeper, self.query_one("#name", Entry).needed())


class ForgetDialog(Dialog[str]):
    """Each text with the name in it, for a yes or no."""

    TITLE_TEXT = "Remove a person's name"
    ACT = "Remove"

    def __init__(self, keeper: Keeper, plan: ForgetPlan) -> None:
        super().__init__()
        self.keeper = keeper
        self.plan = plan

    def compose_form(self) -> ComposeResult:
        """Where the name is, and where it will stay."""
        plan = self.plan
        if plan.movements:
            said = f"For {safe(plan.name)}: {how_many(plan.movements, 'place')}, removed."
            yield Static(said, classes="heading", markup=False)
        for match in plan.matches:
            count = f" ({match.places} places)" if match.places > 1 else ""
            yield Static(f"{match.where}{count}: {safe(match.text)}", markup=False)
            yield Pick("Remove there", _ANSWERS, id=f"match-{match.number}")
        if plan.backups:
            said = "The name is still in these copies of the shelf. Delete them yourself:"
            yield Static(said, classes="warning", markup=False)
            for path in plan.backups:
                yield Static(safe(str(path)), markup=False)

    def keep(self) -> str:
        """Remove it, once the question has been answered."""
        if not self.confirmed:
            raise NeedsConfirmation(f"{QUESTION} Remove the name?")
        chosen = {
            match.key
            for match in self.plan.matches
            if self.query_one(f"#match-{match.number}", Pick).value == _YES
        }
        count = forget(self.keeper, self.plan.name, chosen, confirmed=True)
        return f"Removed the name from {how_many(count, 'place')}."
