"""What travels of blends and formulas: frozen, with no database behind it."""

from dataclasses import dataclass
from datetime import date

from stillroom.keeping.cupboard_views import HerbEquivalent
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.other_liquids import NO_OTHERS, Others
from stillroom.reckoning.states import InputKind, StrengthBy


@dataclass(frozen=True)
class BlendPartView:
    """What one bottle gives, or gave, to a blend."""

    bottle: BottleRow
    volume_ml: float
    share_percent: float
    """Of the volumes measured in."""


@dataclass(frozen=True)
class InputView:
    """What goes, or went, into a batch from elsewhere than a bottle."""

    kind: InputKind
    row_id: int | None
    """Of the batch, spirit or liquid; None for water."""
    name: str
    """With the code, where it has one."""
    volume_ml: float
    strength_abv: float | None = 0.0
    strength_by: StrengthBy = StrengthBy.MEASURED
    left_ml: float | None = None
    """What there is of it now; None where nobody counts it."""
    keep_until: date | None = None
    made_on: date | None = None
    others: Others = NO_OTHERS
    share_percent: float = 0.0
    """Of the volumes measured in."""
    bought_from: str = ""
    """Origin, lot and code of a spirit or liquid."""


@dataclass(frozen=True)
class BlendPlan:
    """What a blend would be."""

    parts: tuple[BlendPartView, ...]
    poured_ml: float
    """The volumes measured in, together."""
    volume_ml: float
    """What they come to: strong and weak shrink together."""
    strength_abv: float | None
    strength_by: StrengthBy
    strength_at_most: bool
    ratio: float | None
    herbs: tuple[HerbEquivalent, ...]
    keep_until: date | None
    """The earliest of its parts', and no later than its strength allows."""
    warnings: tuple[str, ...]
    """What to know before making it, in sentences."""
    obstacles: tuple[str, ...]
    """What keeps it from being made, in sentences."""
    inputs: tuple[InputView, ...] = ()
    """What goes in from elsewhere than bottles."""
    others: Others = NO_OTHERS
    """The liquids in it that are neither spirit nor water."""

    @property
    def contraction_ml(self) -> float:
        """What is lost in volume by mixing; a little below zero when weak liquids swell."""
        return self.poured_ml - self.volume_ml


@dataclass(frozen=True)
class FormulaPartView:
    """One part of a formula."""

    name: str
    """The herb, or the tincture by its own name."""
    herb_id: int | None
    """None where the part is named by its tincture."""
    part: Part | None
    """Of the plant; None where any will do."""
    share_percent: float
    condition: Condition | None = None
    """Fresh or dried; None where either will do."""

    @property
    def in_words(self) -> str:
        """Such as `Calendula, flower, fresh`."""
        return ", ".join(filter(None, (self.name, self.part, self.condition)))


@dataclass(frozen=True)
class FormulaView:
    """A blend kept to be made again."""

    formula_id: int
    name: str
    parts: tuple[FormulaPartView, ...]
    note: str


@dataclass(frozen=True)
class MissingPart:
    """What a formula asks for and the bottles do not hold."""

    part: FormulaPartView
    wanted_ml: float
    found_ml: float


@dataclass(frozen=True)
class FormulaProposal:
    """The bottles a formula would be made from today."""

    formula: FormulaView
    parts: tuple[BlendPartView, ...]
    missing: tuple[MissingPart, ...]
    makes_ml: float
    """What it makes in the formula's shares; nothing if a part is missing."""
