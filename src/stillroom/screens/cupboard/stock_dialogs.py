"""Counting a spirit or other liquid of the cupboard, and writing down what was taken of it."""

from textual import on
from textual.app import ComposeResult
from textual.widgets import Input, Static

from stillroom.keeping.bottles.stock import volume_or_all
from stillroom.keeping.cupboard.counting import (
    InCupboard,
    count_in_cupboard,
    take_from_cupboard,
)
from stillroom.keeping.cupboard.densities import volume_or_weight
from stillroom.keeping.drafts import ALL
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import NAME_LENGTH
from stillroom.reckoning.states import CupboardMovementKind
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, example, words
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe

KINDS = tuple((str(kind), str(kind)) for kind in CupboardMovementKind if kind.takes_out)


class CountCupboardDialog(Dialog[int]):
    """What a spirit or liquid holds, by looking at it."""

    TITLE_TEXT = "Count"
    ACT = "Count"

    def __init__(self, keeper: Keeper, one: InCupboard) -> None:
        super().__init__()
        self.keeper = keeper
        self.one = one
        self.wording = wording(keeper)

    def compose_form(self) -> ComposeResult:
        """What it is, what is left, a note."""
        yield Static(_heading(self.one, self.wording), classes="heading", markup=False)
        density = self.one.density_g_per_ml
        hint = example("300 ml", "10 fl oz", self.wording)
        yield Entry("Left now", lambda text: volume_or_weight(self.wording, text, density),
                    id="left", hint=f"{hint}, or a weight" if density else hint)  # fmt: skip
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)

    def keep(self) -> int:
        """Set it to what is there."""
        return count_in_cupboard(
            self.keeper,
            self.one.kind,
            self.one.row_id,
            self.query_one("#left", Entry).needed(),
            note=str(self.query_one("#note", Entry).read() or ""),
        ).row_id


class TakeCupboardDialog(Dialog[int]):
    """What was given away, spilled or spoiled of a spirit or liquid."""

    TITLE_TEXT = "Take out"
    ACT = "Take out"

    def __init__(self, keeper: Keeper, one: InCupboard, kind: CupboardMovementKind) -> None:
        super().__init__()
        self.keeper = keeper
        self.one = one
        self.why = kind
        self.wording = wording(keeper)

    def compose_form(self) -> ComposeResult:
        """How much, what became of it, for whom."""
        yield Static(_heading(self.one, self.wording), classes="heading", markup=False)
        density = self.one.density_g_per_ml
        yield Entry("Volume", lambda text: volume_or_all(self.wording, text, density), id="volume",
                    hint=example("30 ml, or all", "1 fl oz, or all", self.wording))  # fmt: skip
        yield Pick("Kind", KINDS, str(self.why), id="kind")
        yield Entry("For", words, id="person", required=False, max_length=NAME_LENGTH)
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)
        yield DayEntry("On", self.keeper.today, self.keeper.today, wording=self.wording, id="day",
                       hint="e.g. 26 Nov 2026")  # fmt: skip
        yield Static("", id="short", markup=False)

    @on(Input.Changed)
    def _tell_short(self) -> None:
        typed, left_ml = self.query_one("#volume", Entry).peek(), self.one.left_ml
        is_short = isinstance(typed, float) and left_ml is not None and typed > left_ml + EMPTY_ML
        words = ""
        if is_short and left_ml is not None:
            held, taken = self.wording.volume(left_ml), self.wording.volume(typed)
            words = f"! Not enough left: it holds {held}, and this takes {taken}."
        show(self.query_one("#short", Static), words)

    def keep(self) -> int:
        """Take it out of the cupboard."""
        typed = self.query_one("#volume", Entry).needed()
        return take_from_cupboard(
            self.keeper,
            self.one.kind,
            self.one.row_id,
            ALL if typed is ALL else typed,
            CupboardMovementKind(self.query_one("#kind", Pick).value),
            person=str(self.query_one("#person", Entry).read() or ""),
            note=str(self.query_one("#note", Entry).read() or ""),
            day=self.query_one("#day", DayEntry).needed(),
        ).row_id


def _heading(one: InCupboard, said: Wording) -> str:
    held = "not counted" if one.left_ml is None else f"{said.volume(one.left_ml)} left"
    return f"{safe(one.name)}: {held}"
