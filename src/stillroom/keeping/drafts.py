"""What a person has filled in, read and in inner units, but not yet kept."""

from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Final

from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import (
    BatchHow,
    DayBy,
    HerbCame,
    InputKind,
    LiquidKind,
    LossKind,
    OtherLiquidKind,
)
from stillroom.reckoning.yields import Pressing


class AllOfIt(Enum):
    """A volume that isn't measured."""

    ALL = "all"


ALL: Final = AllOfIt.ALL
"""All that a bottle holds when it is taken."""
ToTake = float | AllOfIt
"""What to take out of a bottle, mL or ALL."""


@dataclass(frozen=True)
class ChargeDraft:
    """One herb to put into a jar."""

    herb: str
    """Its name; a name not known yet becomes a new herb."""
    part: Part
    condition: Condition
    mass_g: float | None = None
    """None when filled by eye."""
    water_fraction: float | None = None
    """0 to 1 if measured; None takes the default for the part and condition."""
    botanical: str = ""
    """Used when the herb is new or has none yet."""
    gathered_on: date | None = None
    origin: str = ""
    lot_id: int | None = None
    """The lot in store that it is taken from."""
    part_assumed: bool = False
    """Whether a person answered it for a sheet that leaves it out."""
    condition_assumed: bool = False


@dataclass(frozen=True)
class HerbLotDraft:
    """Herb gathered or bought."""

    herb: str
    """Its name; a name not known yet becomes a new herb."""
    part: Part
    condition: Condition
    came: HerbCame
    got_on: date
    origin: str = ""
    """Place or seller."""
    seller_lot: str = ""
    mass_g: float | None = None
    """None where it isn't weighed."""
    price: float | None = None
    """For all of it."""
    water_fraction: float | None = None
    """0 to 1 if measured."""
    note: str = ""
    botanical: str = ""
    """Used when the herb is new or has none yet."""


@dataclass(frozen=True)
class PourDraft:
    """One liquid to pour on."""

    kind: LiquidKind
    volume_ml: float
    strength_abv: float = 0.0
    spirit_id: int | None = None
    """The cupboard's spirit; None for one that it does not keep."""
    liquid_id: int | None = None
    """The cupboard's other liquid."""
    bottle_id: int | None = None
    """The bottle that a tincture comes from."""
    source_id: int | None = None
    """The tincture that it is where it waits to be bottled."""


@dataclass(frozen=True)
class JarDraft:
    """A jar to fill, or the correct entry of an existing one."""

    charges: tuple[ChargeDraft, ...]
    pours: tuple[PourDraft, ...]
    filled_on: date
    strain_on: date
    shakes_per_day: int = 1
    shelf_id: int | None = None
    """None puts it on the first shelf."""
    capacity_ml: float | None = None
    simmered: bool = False
    note: str = ""


@dataclass(frozen=True)
class AgainDraft:
    """A second pour on the marc of a strained jar."""

    jar_id: int
    """The jar whose marc it is."""
    pours: tuple[PourDraft, ...]
    filled_on: date
    strain_on: date
    shakes_per_day: int = 1
    shelf_id: int | None = None
    """None leaves it on the shelf of the first jar."""
    capacity_ml: float | None = None
    simmered: bool = False
    note: str = ""
    marc_g: float | None = None
    """What the marc weighs, where it was weighed only now."""
    held_ml: float | None = None
    """What it holds back, where that can't be calculated."""


@dataclass(frozen=True)
class StrainDraft:
    """A straining as measured."""

    jar_id: int
    strained_on: date
    yield_ml: float
    pressing: Pressing
    marc_g: float | None = None
    measured_abv: float | None = None
    note: str = ""
    confirmed: bool = False
    """Whether a yield above what could be there was confirmed as measured."""
    pressing_assumed: bool = False
    """Whether a person answered it for a sheet that leaves it out."""
    day_by: DayBy = DayBy.STATED
    """How the day is known."""
    teaches: bool = True
    """Whether the forecast may learn from it."""


@dataclass(frozen=True)
class BottleDraft:
    """One bottle to fill."""

    size_ml: float
    volume_ml: float
    place: str = ""


@dataclass(frozen=True)
class BottlingDraft:
    """How a tincture is shared out."""

    tincture_id: int
    bottles: tuple[BottleDraft, ...]
    filled_on: date
    write_off_rest: bool = False
    """Whether what is left over is lost; otherwise it stays to be bottled another day."""
    lost_as: LossKind = LossKind.NOT_STATED
    """How it was lost."""
    bottle_lot: str = ""
    """The lot of the empty bottles, for the batch record."""
    cap_lot: str = ""


@dataclass(frozen=True)
class SpiritDraft:
    """A purchase of spirit."""

    name: str
    strength_abv: float
    bought_ml: float | None = None
    """None if the cupboard doesn't count it."""
    price: float | None = None
    bought_on: date | None = None
    origin: str = ""
    note: str = ""
    lot: str = ""
    code: str = ""
    """Of one's own, to tell two lots of one spirit apart."""
    density_g_per_ml: float | None = None
    """As weighed; None where it follows from the strength."""


@dataclass(frozen=True)
class LiquidDraft:
    """A liquid bought that is no spirit."""

    name: str
    kind: OtherLiquidKind
    density_g_per_ml: float
    density_source: str = ""
    acidity: float | None = None
    """Acid, g in 100 mL."""
    glycerol: float | None = None
    """Glycerol, % by volume."""
    bought_ml: float | None = None
    """None if the cupboard doesn't count it."""
    price: float | None = None
    bought_on: date | None = None
    origin: str = ""
    lot: str = ""
    code: str = ""
    note: str = ""


@dataclass(frozen=True)
class HerbDraft:
    """What the user writes about a herb."""

    name: str
    botanical: str = ""
    cautions: str = ""
    note: str = ""


@dataclass(frozen=True)
class ShelfDraft:
    """A shelf for jars."""

    name: str
    note: str = ""
    position: int | None = None
    """None puts it last."""


@dataclass(frozen=True)
class BlendPartDraft:
    """What one bottle gives to a blend."""

    bottle_id: int
    volume_ml: ToTake


@dataclass(frozen=True)
class InputDraft:
    """What goes into a batch from elsewhere than a bottle."""

    kind: InputKind
    volume_ml: ToTake
    row_id: int | None = None
    """Of the batch that waits to be bottled, the spirit or the liquid; None for water."""


@dataclass(frozen=True)
class BlendDraft:
    """A batch to make from what is in bottles, in other batches and in the cupboard."""

    name: str
    parts: tuple[BlendPartDraft, ...]
    made_on: date
    note: str = ""
    others: tuple[InputDraft, ...] = ()
    how: BatchHow = BatchHow.BLENDED


@dataclass(frozen=True)
class FormulaPartDraft:
    """One part of a formula."""

    name: str
    """A herb, or a tincture by its own name."""
    share: float
    """Parts or percent by volume; only the proportions matter."""
    part: Part | None = None
    """Of the plant; None where any will do."""
    condition: Condition | None = None
    """None where either will do."""


@dataclass(frozen=True)
class FormulaDraft:
    """A blend to be made again and again."""

    name: str
    parts: tuple[FormulaPartDraft, ...]
    note: str = ""
