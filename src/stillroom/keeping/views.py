"""What travels to screens, paper and the command line: frozen, with no database behind it."""

from dataclasses import dataclass, replace
from datetime import date

from stillroom.keeping.cards import JarCard
from stillroom.keeping.ledger_views import EventView
from stillroom.keeping.tolerances import LOOSE_ML
from stillroom.reckoning.cautions import deadly_warning
from stillroom.reckoning.charge import (
    Charge,
    Condition,
    Keeping,
    Part,
    charge_as_recorded,
    will_it_keep,
)
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.other_liquids import NO_OTHERS, Others, liquid_holding
from stillroom.reckoning.states import (
    BatchStatus,
    DayBy,
    JarState,
    LiquidKind,
    MovementKind,
    StrengthBy,
)
from stillroom.reckoning.yields import Pressing


def water_is_hidden(charge: Charge, *, is_poured: bool, is_measured: bool) -> bool:
    """Whether much water of a herb is missing from the strength of the tincture made with it.

    It is where fresh or simmered herb was not weighed, or what was poured on it was not; not where
    the strength was measured.
    """
    known = charge if is_poured else replace(charge, mass_g=None)
    return known.hides_water and not is_measured


def assumed(word: str, is_assumed: bool) -> str:
    """A fact in words, marked where it is a person's answer that isn't confirmed yet.

    >>> assumed("root", True)
    'root (assumed)'
    """
    return f"{word} (assumed)" if is_assumed else str(word)


@dataclass(frozen=True)
class ChargeView:
    """One herb in a jar."""

    herb_id: int
    herb: str
    botanical: str
    part: Part
    condition: Condition
    mass_g: float | None
    water_fraction: float
    """As measured, or the default for its part and condition."""
    water_is_measured: bool
    gathered_on: date | None
    origin: str
    cautions: str
    simmered: bool = False
    """Whether the whole jar was simmered before spirit went on."""
    is_measured: bool = False
    """Whether the strength of what was strained from its jar was measured."""
    is_poured: bool = True
    """Whether what was poured on it is recorded."""
    lot_id: int | None = None
    """The lot in store that it was taken from."""
    lot: str = ""
    """The code of that lot."""
    is_marc: bool = False
    """Whether it is the marc of another jar, what it holds back being counted as a pour."""
    is_second_pour: bool = False
    """Whether it is the marc of another jar, with which its weight is counted."""
    part_assumed: bool = False
    """Whether a person answered it for a sheet that leaves it out, and it isn't confirmed yet."""
    condition_assumed: bool = False

    @property
    def as_put_in(self) -> str:
        """Its part and condition in words, with what is assumed: `root (assumed), dried`."""
        return f"{assumed(self.part, self.part_assumed)}, " + assumed(
            self.condition, self.condition_assumed
        )

    @property
    def hides_water(self) -> bool:
        """Whether much water of it is missing from the strength of what was strained from it."""
        return water_is_hidden(self.charge, is_poured=self.is_poured, is_measured=self.is_measured)

    @property
    def warning(self) -> str:
        """The warning if it is known to be deadly; otherwise blank."""
        return deadly_warning(self.herb, self.botanical)

    @property
    def charge(self) -> Charge:
        """The same as reckoning takes it."""
        return charge_as_recorded(
            self.mass_g,
            self.part,
            self.condition,
            self.water_fraction if self.water_is_measured else None,
            is_simmered=self.simmered,
            is_marc=self.is_marc,
        )


@dataclass(frozen=True)
class PourView:
    """One liquid that went into a jar."""

    kind: LiquidKind
    spirit_id: int | None
    spirit: str
    volume_ml: float
    strength_abv: float
    """0 where that of a tincture isn't known: `is_known` is false then."""
    poured_on: date
    lot: str = ""
    """Seller, lot and day of purchase of the spirit or liquid, where known."""
    liquid_id: int | None = None
    """The cupboard's other liquid, such as honey."""
    others: Others = NO_OTHERS
    """Of a millilitre of it, what is neither ethanol nor water."""
    is_known: bool = True
    """Whether the strength is known."""
    source_id: int | None = None
    """The tincture that it is, or that the marc held back."""
    source: str = ""
    """Code of its bottle, or of the batch."""
    name: str = ""
    """Of the tincture."""
    herb_g: float | None = 0.0
    """Herb that a label counts with a tincture poured on; None where that isn't known."""
    is_estimated: bool = False
    """Whether a tincture's own strength is estimated only."""
    is_at_most: bool = False
    """Whether a tincture's own strength is lower than that."""
    cautions: tuple[str, ...] = ()
    """What to mind of the herbs of a tincture."""

    @property
    def poured(self) -> Liquid:
        """What of it counts for the figures of the jar."""
        return liquid_holding(self.volume_ml, self.strength_abv, self.others)


@dataclass(frozen=True)
class Outlook:
    """Calculated figures of the liquid in a jar."""

    volume_ml: float
    """Liquid in the jar, plant water and contraction included."""
    strength_abv: float
    is_partial: bool
    """Whether some herb's mass is unknown, so its water is not in the figures."""
    strength_at_most: bool
    """Whether that water is much, of fresh or simmered herb: the true strength is lower."""
    ratio: float | None
    """n of 1:n, herb to liquid poured; None when filled by eye."""
    verdict: str
    """Whether it will keep, in a sentence."""
    keeps: str
    """`keeps`, `doubtful` or `spoils`."""
    others: Others = NO_OTHERS
    """What is in it that is neither ethanol nor water."""
    is_known: bool = True
    """Whether the strength of everything poured is known."""


@dataclass(frozen=True)
class YieldOutlook:
    """What a straining may bring, for one way of pressing."""

    liquid_ml: float | None
    """All the liquid that could be there; None where a mass is unknown."""
    expected_ml: float | None
    low_ml: float | None
    high_ml: float | None
    rests_on: int
    """How many of the user's own strainings the figure is based on."""


@dataclass(frozen=True)
class GoView:
    """One go of a straining."""

    strained_on: date
    yield_ml: float
    pressing: Pressing
    maker: str
    note: str


@dataclass(frozen=True)
class StrainingView:
    """A straining as recorded; the sum of its goes, where it was done in several."""

    strained_on: date
    yield_ml: float
    pressing: Pressing
    marc_g: float | None
    measured_abv: float | None
    liquid_ml: float | None
    expected_ml: float | None
    confirmed: bool
    note: str
    more: bool = False
    """Whether the herb is still to be pressed."""
    goes: tuple[GoView, ...] = ()
    """What came on each day; none where it was strained once."""
    pressing_assumed: bool = False
    """Whether a person answered it for a sheet that leaves it out, and it isn't confirmed yet."""
    day_by: DayBy = DayBy.STATED
    """How the day is known."""

    @property
    def how_pressed(self) -> str:
        """The pressing in words."""
        return assumed(self.pressing, self.pressing_assumed)


@dataclass(frozen=True)
class JarView:
    """Everything about one jar."""

    card: JarCard
    shelf: str
    state: JarState
    simmered: bool
    capacity_ml: float | None
    ended_on: date | None
    note: str
    charges: tuple[ChargeView, ...]
    pours: tuple[PourView, ...]
    outlook: Outlook
    days_shaken: dict[date, int]
    """Shakes ticked off by local day."""
    shakes_recorded_from: date | None
    """The first day whose shakes are on record. A jar that was imported has none from before its
    first tick here; None where it has none at all."""
    events: tuple[EventView, ...]
    straining: StrainingView | None
    tincture: "TinctureView | None"
    is_imported: bool
    """Whether it came from a spreadsheet, which may leave out what a shelf records."""
    marc_of: str = ""
    """Code of the jar whose marc is in it."""
    poured_again: str = ""
    """Code of the jar that its marc is in."""

    @property
    def jar_id(self) -> int:
        """The id of the jar."""
        return self.card.jar_id


@dataclass(frozen=True)
class TinctureView:
    """A lot of finished liquid: all that a label or a batch record shows of it."""

    tincture_id: int
    code: str
    name: str
    """The user's name for it, or its herbs."""
    herbs: tuple[ChargeView, ...]
    """The herbs in it; for a blend, those of its parts, the most by weight first."""
    is_blend: bool
    jar_id: int | None
    made_on: date
    filled_on: date | None
    """The day its jar was filled; None for a blend."""
    volume_ml: float
    loose_ml: float
    """Strained, not bottled and not written off."""
    bottles: int
    """How many bottles it was ever filled into."""
    lost_ml: float
    strength_abv: float | None
    strength_by: StrengthBy
    ratio: float | None
    keep_until: date | None
    note: str
    status: BatchStatus | None = None
    """Whether it may be used; None where nobody asks."""
    made_by: DayBy = DayBy.STATED
    """How the day it was made on is known."""
    others: Others = NO_OTHERS
    """Liquids in it that are neither spirit nor water."""
    solvent_abv: float | None = None
    """Strength of what was poured on the herb, where that was spirit, alone or with water."""

    @property
    def is_to_bottle(self) -> bool:
        """Whether more than a trace is left to bottle."""
        return self.loose_ml >= LOOSE_ML

    @property
    def strength_at_most(self) -> bool:
        """Whether the true strength is lower: some of the plant's water is not in the figure."""
        return self.strength_by == StrengthBy.ESTIMATED and any(
            herb.hides_water for herb in self.herbs
        )

    @property
    def cautions(self) -> tuple[str, ...]:
        """Warnings about its herbs: that they are deadly, and what the user has written
        of them; each once, on one line."""
        warnings = (herb.warning for herb in self.herbs)
        written = (" ".join(herb.cautions.split()) for herb in self.herbs)
        return tuple(dict.fromkeys(filter(None, (*warnings, *written))))

    @property
    def to_mind(self) -> tuple[str, ...]:
        """The same, and that it will not keep, where it will not."""
        keeping = None if self.strength_abv is None else will_it_keep(self.strength_abv)
        weak = (keeping.sentence,) if keeping is Keeping.WILL_NOT and not self.others else ()
        return (*weak, *self.cautions)


@dataclass(frozen=True, slots=True)
class BottleRow:
    """A bottle in the stock list."""

    bottle_id: int
    code: str
    tincture_id: int
    batch: str
    """Batch code of its tincture."""
    herb: str
    """The heading it is listed under."""
    name: str
    botanical: str
    part: str
    """In words; of a blend, those of all its herbs."""
    condition: str
    """In words, as the part."""
    strength_abv: float | None
    ratio: float | None
    made_on: date
    keep_until: date | None
    size_ml: float
    left_ml: float
    place: str
    strength_by: StrengthBy = StrengthBy.UNKNOWN
    """`measured`, `calculated`, `estimated` or `unknown`."""
    strength_at_most: bool = False
    """Whether the true strength is lower, as `TinctureView.strength_at_most`."""
    status: BatchStatus | None = None
    """Of its batch: whether it may be used; None where nobody asks."""
    filled_ml: float = 0.0
    """What it was filled with."""
    made_by: DayBy = DayBy.STATED
    """How the day its tincture was made is known."""

    def is_past(self, today: date) -> bool:
        """Whether its keep-until date has gone by."""
        return self.keep_until is not None and self.keep_until < today


@dataclass(frozen=True)
class MovementView:
    """One line of a bottle's ledger."""

    movement_id: int
    at: str
    day: date
    maker: str
    kind: MovementKind
    volume_ml: float
    left_ml: float
    """What the bottle held after it."""
    note: str
    person: str = ""
    """For whom it was taken."""


@dataclass(frozen=True)
class BottleView:
    """A bottle, its tincture and its ledger."""

    row: BottleRow
    tincture: TinctureView
    filled_on: date
    movements: tuple[MovementView, ...]
