"""What travels of a plan: each tincture with what it asks for, the spirit, and what-ifs."""

from dataclasses import dataclass
from datetime import date

from stillroom.reckoning.planning import Plan, Range, UseRate, UsualRecipe, Window


@dataclass(frozen=True)
class ToGet:
    """Herb to gather or buy: what the plan asks for, less what is in store."""

    in_store_g: float
    """As it goes into the jar, fresh herb in store by what it will weigh dried."""
    herb_g: Range
    """As it goes into the jar."""
    fresh_g: Range | None
    """The same fresh, where it goes in dried; None where it goes in fresh."""
    dryings: int
    """Own dryings that the fresh weight rests on; 0 where the usual water of the part is taken."""

    @property
    def is_enough(self) -> bool:
        """Whether the store has it all."""
        return self.herb_g.middle <= 0


@dataclass(frozen=True)
class WhatIf:
    """What the plan would be if something were otherwise. Nothing is written."""

    months: float | None = None
    """In hand, of every herb; None as it is."""
    without: tuple[str, ...] = ()
    """Herbs left out."""
    more: tuple[tuple[str, float], ...] = ()
    """People by name, and how much more each would get, as a share: 0.5 is half as much again."""

    @property
    def is_asked(self) -> bool:
        """Whether anything is otherwise."""
        return self != AS_IT_IS


AS_IT_IS = WhatIf()


@dataclass(frozen=True)
class Ahead:
    """What there is of one tincture, how it is used, and what it asks for."""

    herb: str
    part: str
    condition: str
    """As it was put in last."""
    in_bottles_ml: float
    to_bottle_ml: float
    past_date_ml: float
    """In bottles or to be bottled, but past its date: not planned with."""
    withheld_ml: float
    """Of batches that were rejected or withdrawn: not planned with."""
    steeping_ml: Range
    by_eye: int
    """Jars that steep and whose yield can't be predicted: they are in no figure."""
    rate: UseRate | None
    """None where it wasn't in stock long enough."""
    recipe: UsualRecipe | None
    window: Window | None
    plan: Plan | None
    months_in_hand: float
    in_store_g: tuple[tuple[str, float], ...] = ()
    """Herb in store: its condition, and g."""
    to_get: ToGet | None = None
    """None where nothing has to be made, or no weighed jar shows how much herb it takes."""

    @property
    def left_ml(self) -> float:
        """In bottles and to be bottled."""
        return self.in_bottles_ml + self.to_bottle_ml


@dataclass(frozen=True)
class SpiritNeeded:
    """Spirit of one strength that the plan asks for."""

    strength_abv: float
    needed_ml: float
    there_ml: float
    """In the cupboard, where it is counted."""
    per_ml: float | None
    """By the latest purchase of that strength with a price."""

    @property
    def to_buy_ml(self) -> float:
        """What is needed beyond what is on hand, mL."""
        return max(0.0, self.needed_ml - self.there_ml)

    @property
    def cost(self) -> float | None:
        """Of what is missing; None where no price is known."""
        return None if self.per_ml is None else self.to_buy_ml * self.per_ml


@dataclass(frozen=True)
class PlanView:
    """The plan of a shelf."""

    day: date
    herbs: tuple[Ahead, ...]
    """What has to start first at the top."""
    spirits: tuple[SpiritNeeded, ...]

    @property
    def due(self) -> tuple[Ahead, ...]:
        """What has to start within a month, or should have."""
        return tuple(h for h in self.herbs if h.plan is not None and h.plan.is_due)
