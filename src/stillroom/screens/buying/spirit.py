"""The form of a spirit."""

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.keeping.cupboard.cupboard import add_spirit, change_spirit, spirits
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.drafts import SpiritDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.reckoning.cautions import FOOD_GRADE
from stillroom.reckoning.kinds import Kind
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import (
    DayEntry,
    Entry,
    amount,
    note_lines,
    on_one_line,
    optional_figure,
    prefilled,
    words,
)


class SpiritDialog(Dialog[int]):
    """A new spirit, or a change to one."""

    BINDINGS = [
        Binding("ctrl+b", "other", "Not a spirit", id="spirit.other",
                tooltip="Add honey, glycerine, vinegar or the like instead"),
    ]  # fmt: skip

    def __init__(
        self, keeper: Keeper, spirit: SpiritView | None = None, *, offers_other: bool = False
    ) -> None:
        super().__init__()
        self.keeper = keeper
        self.offers_other = offers_other
        """Whether another liquid can be asked for instead."""
        self.wants_other = False
        """Whether it was."""
        self.spirit = spirit
        self.wording = wording(keeper)
        self.corrects = spirit is not None
        self.began_with = spirit and _spirit_facts(spirit)
        self.TITLE_TEXT = "Spirit" if spirit else "New spirit"

    def written(self) -> object:
        """The spirit as it is now."""
        wanted = self.spirit and self.spirit.spirit_id
        return next((_spirit_facts(s) for s in spirits(self.keeper) if s.spirit_id == wanted), None)

    def compose_form(self) -> ComposeResult:
        """Name, strength, what was bought and for how much."""
        known = self.spirit
        yield Entry("Name", words, known.name if known else "", id="name", hint="e.g. Grain spirit")
        yield Entry(
            "Strength", amount(Kind.STRENGTH, self.wording),
            prefilled(Kind.STRENGTH, known.strength_abv if known else None, self.wording),
            id="strength", hint="e.g. 40 % or 80 proof",
        )  # fmt: skip
        yield optional_figure("Bought", Kind.VOLUME, known.bought_ml if known else None,
                              self.wording, "bought", "volume; blank: not counted")  # fmt: skip
        yield optional_figure("Price", Kind.MONEY, known.price if known else None,
                              self.wording, "price", "for all of it, e.g. 25")  # fmt: skip
        yield DayEntry(
            "Bought on", self.keeper.today, known.bought_on if known else self.keeper.today,
            wording=self.wording, id="day", required=False, hint="e.g. 26 Nov 2026",
        )  # fmt: skip
        yield Entry("Origin", words, known.origin if known else "", id="origin",
                    required=False, classes="-wide", max_length=2000)  # fmt: skip
        yield Entry("Lot", words, known.lot if known else "", id="lot", required=False,
                    max_length=2000, hint="the seller's own")  # fmt: skip
        yield Entry("Code", words, known.code if known else "", id="code", required=False,
                    max_length=40, hint="yours, if you have two lots")  # fmt: skip
        density = known.density_g_per_ml if known else None
        yield optional_figure("Density", Kind.NUMBER, density, self.wording,
                              "density", "g/mL, if weighed")  # fmt: skip
        yield Entry("Note", note_lines, on_one_line(known.note) if known else "", id="note",
                    required=False, classes="-wide", hint="// starts a new line")  # fmt: skip
        yield Static(FOOD_GRADE, classes="quiet", markup=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Only a form that can take another liquid offers one."""
        if action == "other":
            return self.offers_other
        return super().check_action(action, parameters)

    def action_other(self) -> None:
        """End without a spirit; whoever asked opens the form of another liquid."""
        if not self.holds_back("ctrl+b"):
            self.wants_other = True
            self.dismiss(None)

    def keep(self) -> int:
        """Add the spirit, or change it."""
        draft = SpiritDraft(
            name=self.query_one("#name", Entry).needed(),
            strength_abv=self.query_one("#strength", Entry).needed(),
            bought_ml=self.query_one("#bought", Entry).read(),
            price=self.query_one("#price", Entry).read(),
            bought_on=self.query_one("#day", Entry).read(),
            origin=self.query_one("#origin", Entry).read() or "",
            note=self.query_one("#note", Entry).read() or "",
            lot=self.query_one("#lot", Entry).read() or "",
            code=self.query_one("#code", Entry).read() or "",
            density_g_per_ml=self.query_one("#density", Entry).read(),
        )
        if self.spirit is None:
            return add_spirit(self.keeper, draft)
        change_spirit(self.keeper, self.spirit.spirit_id, draft)
        return self.spirit.spirit_id


def _spirit_facts(spirit: SpiritView) -> tuple[object, ...]:
    """All of a spirit that its form can correct; what is left of it may change."""
    return (
        spirit.name, spirit.strength_abv, spirit.bought_ml, spirit.price, spirit.bought_on,
        spirit.origin, spirit.lot, spirit.code, spirit.density_g_per_ml, spirit.note,
    )  # fmt: skip
