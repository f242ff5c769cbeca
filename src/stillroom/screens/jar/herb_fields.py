"""The fields of one herb of a jar, and what they begin with."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input

from stillroom.errors import NotUnderstood
from stillroom.keeping.cupboard.herb_names import KnownHerb
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots_in_words import left_words
from stillroom.keeping.cupboard.taking import charge_of_lot, short_of
from stillroom.keeping.drafts import ChargeDraft
from stillroom.keeping.jars.filling import water_fraction
from stillroom.keeping.wording import Wording
from stillroom.keeping.words import NAME_LENGTH
from stillroom.reckoning.charge import (
    ALSO_CALLED,
    KNOWN_CONDITIONS,
    KNOWN_PARTS,
    Charge,
    Condition,
    Part,
    default_water_fraction,
)
from stillroom.reckoning.kinds import Kind
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.fields import DayEntry, Entry, Pair, amount, prefilled, words
from stillroom.screens.kit.placed_once import PlacedOnce


@dataclass(frozen=True)
class HerbStart:
    """What a herb's fields begin with."""

    herb: str = ""
    botanical: str = ""
    part: Part = Part.LEAF
    condition: Condition = Condition.DRIED
    mass_g: float | None = None
    water_fraction: float | None = None
    gathered_on: date | None = None
    origin: str = ""
    lot_id: int | None = None
    """The lot in store that it was taken from."""


_NAME_OR_LOT = "name, or a lot's code"


class HerbFields(Vertical, PlacedOnce):
    """One herb of the jar."""

    DEFAULT_CSS = "HerbFields { height: auto; margin-bottom: 1; }"

    def __init__(
        self,
        start: HerbStart,
        known: Sequence[KnownHerb],
        lots: Sequence[HerbLotView],
        wording: Wording,
        today: date,
    ):
        super().__init__()
        self.start = start
        self.lots = lots
        self.wording = wording
        self.known = {herb.name.casefold(): herb for herb in known}
        names = [*(herb.name for herb in known), *(lot.code for lot in lots)]
        self.herb = Entry(
            "Herb",
            words,
            start.herb,
            hint="name, or code of a lot" if lots else "name",
            suggestions=names,
            max_length=NAME_LENGTH,
        )
        self.botanical = Entry(
            "Botanical", words, start.botanical, hint="optional", required=False,
            max_length=NAME_LENGTH,
        )  # fmt: skip
        self.part = Pick(
            "Part", [(p.value, p.value) for p in KNOWN_PARTS], start.part, also=ALSO_CALLED
        )
        self.condition = Pick(
            "Condition", [(c.value, c.value) for c in KNOWN_CONDITIONS], start.condition
        )
        self.mass = Entry(
            "Weight",
            amount(Kind.MASS, wording),
            prefilled(Kind.MASS, start.mass_g, wording),
            hint="blank: filled by eye",
            required=False,
        )
        percent = None if start.water_fraction is None else 100.0 * start.water_fraction
        self.water = Entry(
            "Water in herb",
            amount(Kind.PERCENT, wording),
            prefilled(Kind.PERCENT, percent, wording),
            hint="blank: typical value",
            required=False,
        )
        self.gathered = DayEntry(
            "Gathered on",
            today,
            start.gathered_on,
            hint="optional",
            required=False,
            wording=wording,
        )
        self.origin = Entry(
            "Origin, lot", words, start.origin, hint="place or seller, lot", required=False
        )

    def compose(self) -> ComposeResult:
        """Four lines of two fields."""
        yield Pair(self.herb, self.botanical)
        yield Pair(self.part, self.condition)
        yield Pair(self.mass, self.water)
        yield Pair(self.gathered, self.origin)

    def restock(self, lots: Sequence[HerbLotView], code: str = "") -> None:
        """Know the lots that are in store now, and take one of them."""
        self.lots = lots
        if code:
            self.herb.typed = code
            self.mass.field.focus()
        self._follow()

    @property
    def lot(self) -> HerbLotView | None:
        """The lot in store whose code is typed in place of the herb."""
        typed = self.herb.typed.strip().casefold()
        return next((lot for lot in self.lots if typed == lot.code.casefold()), None)

    @property
    def short(self) -> str:
        """That the lot doesn't hold as much as is typed, with both amounts; or blank."""
        return short_of(self.lot, self.mass.peek(), self.wording) if self.lot else ""

    @property
    def in_store(self) -> str:
        """The lots of the herb that is typed by its name, with what is left of each; or blank."""
        typed = self.herb.typed.strip().casefold()
        of_herb = [
            f"{lot.code} {lot.condition}, {left_words(lot, self.wording)}"
            for lot in self.lots
            if lot.herb.casefold() == typed and not lot.is_drying
        ]
        if not of_herb:
            return ""
        return f"In store: {'; '.join(of_herb)}. Type the code at Herb to take from a lot."

    @on(Input.Changed)
    @on(Choice.Changed)
    def _follow(self) -> None:
        if lot := self.lot:
            self._follow_lot(lot)
            return
        self.herb.advise(_NAME_OR_LOT if self.lots else "name")
        self.mass.advise("blank: filled by eye")
        usual = default_water_fraction(Part(self.part.value), Condition(self.condition.value))
        self.water.advise(f"blank: typical, {self.wording.percent(100 * usual)}")
        known = self.known.get(self.herb.typed.strip().casefold())
        self.botanical.advise(known.botanical if known and known.botanical else "optional")

    def _follow_lot(self, lot: HerbLotView) -> None:
        """Show what comes from a lot."""
        self.part.choice.value = lot.part
        self.condition.choice.value = lot.condition
        self.herb.advise(lot.herb)
        self.botanical.advise(lot.botanical or "optional")
        self.mass.advise(f"{left_words(lot, self.wording)}; blank: by eye")
        water = default_water_fraction(lot.part, lot.condition)
        water = water if lot.water_fraction is None else lot.water_fraction
        self.water.advise(f"blank: {self.wording.percent(100 * water)}")
        self.gathered.advise(f"blank: {lot.came} {self.wording.day(lot.got_on)}")
        self.origin.advise(lot.where_from or "optional")

    @property
    def is_blank(self) -> bool:
        """Whether nothing was typed."""
        return not any(e.typed.strip() for e in (self.herb, self.mass, self.origin))

    def charge(self, *, simmered: bool) -> Charge | None:
        """For the live figures: the herb, or what of it can be read."""
        if self.is_blank:
            return None
        percent = self.water.peek()
        usual = default_water_fraction(Part(self.part.value), Condition(self.condition.value))
        if self.lot and self.lot.water_fraction is not None:
            usual = self.lot.water_fraction
        try:
            water_fraction = usual if percent is None else percent / 100.0
            return Charge(self.mass.peek(), water_fraction, simmered)
        except ValueError:
            return None

    def draft(self) -> ChargeDraft:
        """The herb as read; complains at the field that cannot be."""
        try:
            fraction = water_fraction(self.water.read())
        except NotUnderstood as error:
            self.water.mark_wrong(str(error))
            raise
        if lot := self.lot:
            taken = charge_of_lot(lot, self.mass.read(), fraction)
            return replace(
                taken,
                gathered_on=self.gathered.read() or taken.gathered_on,
                origin=self.origin.read() or taken.origin,
            )
        # A jar that is corrected keeps its lot as long as the herb is the same.
        is_same = self.herb.typed.strip().casefold() == self.start.herb.casefold()
        return ChargeDraft(
            herb=self.herb.needed(),
            part=Part(self.part.value),
            condition=Condition(self.condition.value),
            mass_g=self.mass.read(),
            water_fraction=fraction,
            botanical=self.botanical.read() or "",
            gathered_on=self.gathered.read(),
            origin=self.origin.read() or "",
            lot_id=self.start.lot_id if is_same else None,
        )
