"""Herbs in store: the list of lots, and the forms that handle one."""

from collections.abc import Sequence
from typing import Any

from rich.text import Text
from textual import on
from textual.app import ComposeResult
from textual.widgets import Input, Static

from stillroom.keeping.cupboard.lot_reading import herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import (
    discard_herb,
    dry,
    give_herb,
    lay_out,
    remove_lot,
    weigh_lot,
)
from stillroom.keeping.cupboard.lots_good import good_of
from stillroom.keeping.cupboard.lots_in_words import good_words, left_words
from stillroom.keeping.cupboard.taking import short_of
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.keeping.words import NAME_LENGTH
from stillroom.keeping.year.people import names
from stillroom.reckoning.charge import Condition
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import HERB_DISCARDS, HerbMovementKind
from stillroom.screens.buying.lot import LotDialog
from stillroom.screens.cupboard.part import CupboardTab, words_about
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.columns import Cell, Column
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, amount, words
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe

KINDS = tuple((str(each), str(each)) for each in HERB_DISCARDS)


class StorePart(CupboardTab[HerbLotView]):
    """Lots of herb, with what is left of each."""

    title = "Herb lots"
    columns = (
        Column("Lot", 9),
        Column("Herb"),
        Column("Part", 20),
        Column("Left", 14, is_right=True),
        Column("", 4),
        Column("Got on", 11, is_right=True),
        Column("Origin", 20, from_width=110),
    )
    hint = (
        "There are no herbs in store yet. Press n to add what you gathered or bought.\n\nFresh "
        "herb is laid out and dried here; jars then take from it by weight or by eye."
    )

    def rows(self) -> Sequence[HerbLotView]:
        """Those in store, by herb."""
        return herb_lots(self.keeper, with_empty=False)

    def key(self, row: HerbLotView) -> object:
        """The lot's id."""
        return row.lot_id

    def cells(self, row: HerbLotView) -> tuple[Cell, ...]:
        """Code, herb, part and condition, what is left, whether it is old, when it came."""
        said = self.page.wording
        condition = "drying" if row.is_drying else str(row.condition)
        return (
            Cell(row.code),
            Cell(row.herb, "strong"),
            Cell(f"{row.part}, {condition}"),
            Cell(left_words(row, said).removesuffix(" left"), "strong"),
            self._age(row),
            Cell(said.day(row.got_on)),
            Cell(row.where_from),
        )

    def _age(self, row: HerbLotView) -> Cell:
        """Whether the day up to which it is usually good is near, or past."""
        good, today = good_of(self.keeper, row), self.keeper.today
        if good is None or not good.is_near(today):
            return Cell("")
        return Cell("past", "warning") if good.is_past(today) else Cell("soon")

    def words(self, row: HerbLotView) -> tuple[str, ...]:
        """Code, herb, origin, note."""
        return (row.code, row.herb, row.where_from, row.note)

    def about(self, row: HerbLotView) -> Text:
        """Where it came from and what was done with it."""
        said = self.page.wording
        facts = [f"{row.came} {said.day(row.got_on)}"]
        if row.where_from:
            facts.append(safe(row.where_from))
        if row.price is not None:
            facts.append(f"paid {said.money(row.price)}")
        if row.laid_out_on is not None:
            facts.append(f"laid out {said.day(row.laid_out_on)}")
        if row.dry_on is not None:
            facts.append(f"dry {said.day(row.dry_on)}")
        if good := good_of(self.keeper, row):
            facts.append(good_words(good, self.keeper.today, said))
        return words_about(row.herb, " · ".join(facts), safe(row.note) or self._next_key(row))

    def _next_key(self, row: HerbLotView) -> str:
        if row.is_drying:
            return "Press l when it is dry, to enter its weight."
        if row.condition is Condition.FRESH:
            return "Press l to lay it out to dry, e to correct its weight."
        return "Press e to correct its weight, g to give some away, d to discard it."

    def form(self, row: HerbLotView | None) -> Dialog[Any]:
        """A new lot, or the weighing of one."""
        return LotDialog(self.keeper) if row is None else WeighLotDialog(self.keeper, row)

    def remove(self, row: HerbLotView) -> None:
        """Delete it, where it was never used."""
        remove_lot(self.keeper, row.lot_id)


class _OfLot(Dialog[int]):
    """A form that handles one lot."""

    ACT = "Weigh"
    BLANK_IS = "blank: all of it"
    """What a blank weight means."""

    def __init__(self, keeper: Keeper, lot: HerbLotView) -> None:
        super().__init__()
        self.keeper = keeper
        self.lot = lot
        self.wording = wording(keeper)

    def compose_form(self) -> ComposeResult:
        """The lot, a weight, and what else the act asks for."""
        held = left_words(self.lot, self.wording)
        yield Static(
            f"{self.lot.code} {safe(self.lot.herb)}, {self.lot.part}, {self.lot.condition}: {held}",
            classes="heading", markup=False,
        )  # fmt: skip
        yield Entry("Weight", amount(Kind.MASS, self.wording), id="weight", required=False,
                    hint=self.BLANK_IS)  # fmt: skip
        yield from self.compose_more()
        yield DayEntry("On", self.keeper.today, self.keeper.today, wording=self.wording, id="day",
                       hint="e.g. 26 Nov 2026")  # fmt: skip
        yield Static("", id="short", markup=False)

    def compose_more(self) -> ComposeResult:
        """The fields that this form has beyond weight and day."""
        yield from ()

    @on(Input.Changed)
    def _tell_short(self) -> None:
        short = short_of(self.lot, self.query_one("#weight", Entry).peek(), self.wording)
        show(self.query_one("#short", Static), f"! {short}" if short else "")


def _note() -> Entry[str]:
    return Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)


class LayOutDialog(_OfLot):
    """Laying fresh herb out to dry."""

    TITLE_TEXT = "Lay out to dry"
    ACT = "Lay out"

    def keep(self) -> int:
        """Lay the herb out to dry."""
        mass_g = self.query_one("#weight", Entry).read()
        day = self.query_one("#day", Entry).needed()
        return lay_out(self.keeper, self.lot.lot_id, mass_g, day=day).lot_id


class DryDialog(_OfLot):
    """What was laid out is dry."""

    TITLE_TEXT = "Dry"
    ACT = "Dry"
    BLANK_IS = "its weight when dry"

    def keep(self) -> int:
        """Record its dry weight."""
        mass_g = self.query_one("#weight", Entry).read()
        day = self.query_one("#day", Entry).needed()
        return dry(self.keeper, self.lot.lot_id, mass_g, day=day).lot_id


class WeighLotDialog(_OfLot):
    """Correcting what a lot holds by weighing it."""

    TITLE_TEXT = "Weigh"
    BLANK_IS = "what it weighs now"

    def compose_form(self) -> ComposeResult:
        """The lot, its weight, a note."""
        held = left_words(self.lot, self.wording)
        yield Static(
            f"{self.lot.code} {safe(self.lot.herb)}: {held}", classes="heading", markup=False
        )
        yield Entry("Weight", amount(Kind.MASS, self.wording), id="weight", hint=self.BLANK_IS)
        yield _note()
        yield Static("", id="short", markup=False)

    @on(Input.Changed)
    def _tell_short(self) -> None:
        """A weighing may show more than was recorded."""

    def keep(self) -> int:
        """Set it to its weight."""
        mass_g = self.query_one("#weight", Entry).needed()
        note = self.query_one("#note", Entry).read() or ""
        return weigh_lot(self.keeper, self.lot.lot_id, mass_g, note=note).lot_id


class GiveHerbDialog(_OfLot):
    """The form that gives herb away."""

    TITLE_TEXT = "Give herb away"
    ACT = "Give"
    BLANK_IS = "blank: some"

    def compose_more(self) -> ComposeResult:
        """For whom, and a note."""
        yield Entry("For", words, id="person", required=False, max_length=NAME_LENGTH,
                    suggestions=names(self.keeper))  # fmt: skip
        yield _note()

    def keep(self) -> int:
        """Give the herb away."""
        return give_herb(
            self.keeper,
            self.lot.lot_id,
            self.query_one("#weight", Entry).read(),
            person=self.query_one("#person", Entry).read() or "",
            note=self.query_one("#note", Entry).read() or "",
            day=self.query_one("#day", Entry).needed(),
        ).lot_id


class DiscardHerbDialog(_OfLot):
    """The form that discards herb."""

    TITLE_TEXT = "Discard herb"
    ACT = "Discard"

    def compose_more(self) -> ComposeResult:
        """Why, and a note."""
        yield Pick("Kind", KINDS, str(HerbMovementKind.DISCARD), id="kind")
        yield _note()

    def keep(self) -> int:
        """Discard the herb."""
        return discard_herb(
            self.keeper,
            self.lot.lot_id,
            self.query_one("#weight", Entry).read(),
            kind=HerbMovementKind(self.query_one("#kind", Pick).value),
            note=self.query_one("#note", Entry).read() or "",
            day=self.query_one("#day", Entry).needed(),
        ).lot_id
