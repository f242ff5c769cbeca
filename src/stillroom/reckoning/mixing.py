"""Mixing liquids in one file, as every recipe is the same sum: mass and ethanol are kept.

A liquid of volume V and strength s holds V·s/100 mL of ethanol, all at 20 °C, and weighs V·ρ. What
comes of a mixture is its total mass and its total ethanol, turned back into volume and strength by
the density formula of OIML R 22 (1975).

Other liquids, such as glycerine or honey, are added by volume: no table of what they lose together
with ethanol and water is in use here. Their mass is kept all the same, and strength is ethanol over
the sum.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import KW_ONLY, dataclass
from enum import StrEnum
from functools import lru_cache
from math import fsum

from stillroom.reckoning.alcoholometry import (
    ETHANOL_G_PER_ML,
    WATER_G_PER_ML,
    abv_from_mass_fraction,
    density,
    mass_fraction_from_abv,
    volume_at_20c,
)
from stillroom.reckoning.limits import at_least_nothing, more_than_nothing, within
from stillroom.reckoning.sharing import Source, most_like, share_out

TINY_ML = 1e-9
"""Below this an amount is a rounding of nothing."""
_MOST_ML = 1e9
"""Beyond this a strength is out of reach."""


@dataclass(frozen=True)
class Liquid:
    """Spirit, water or menstruum as it was measured out."""

    volume_ml: float
    """As measured, at `temperature_c`."""
    strength_abv: float = 0.0
    temperature_c: float = 20.0
    other_ml: float = 0.0
    """Of the volume, what is neither ethanol nor water."""
    other_g: float = 0.0
    """Its mass."""

    def __post_init__(self) -> None:
        at_least_nothing(self.volume_ml, "A volume", "mL")
        within(self.strength_abv, 0, 100, "Strength", "% vol")
        within(self.temperature_c, -20, 40, "Temperature", "°C")
        within(self.other_ml, 0, self.volume_ml + TINY_ML, "Other liquid", "mL")

    @property
    def volume_at_20c_ml(self) -> float:
        if self.other_ml:  # what is known of other liquids is known at 20 °C
            return self.volume_ml
        return volume_at_20c(self.volume_ml, self.strength_abv, self.temperature_c)

    @property
    def ethanol_ml(self) -> float:
        """Pure ethanol in it, at 20 °C."""
        return self.volume_at_20c_ml * self.strength_abv / 100.0

    @property
    def mass_g(self) -> float:
        return self.other_g + self.spirit_and_water_g

    @property
    def spirit_and_water_g(self) -> float:
        """The mass of the ethanol and water in it."""
        rest_ml, abv = self.volume_ml, self.strength_abv
        if self.other_ml:
            rest_ml -= self.other_ml
            if rest_ml <= TINY_ML:
                return 0.0
            abv = min(100.0, abv * self.volume_ml / rest_ml)
        return rest_ml * density(mass_fraction_from_abv(abv), self.temperature_c) / 1000.0


@dataclass(frozen=True)
class Mixture:
    """What liquids come to once they are together, at 20 °C."""

    volume_ml: float
    strength_abv: float
    ethanol_ml: float
    contraction_ml: float
    """Volumes of the parts less the volume of the whole. What ends up weak can swell a little,
    by less than a five-hundredth: then it is below zero."""
    mass_g: float
    _: KW_ONLY
    other_ml: float = 0.0
    """Of the volume, what is neither ethanol nor water: added without contraction."""
    other_g: float = 0.0

    @property
    def as_liquid(self) -> Liquid:
        """The same, to be mixed further."""
        return Liquid(
            self.volume_ml, self.strength_abv, other_ml=self.other_ml, other_g=self.other_g
        )

    @property
    def ethanol_g(self) -> float:
        return self.ethanol_ml * ETHANOL_G_PER_ML


def mix(liquids: Iterable[Liquid]) -> Mixture:
    """Returns the mixture of any number of liquids.

    Mass and ethanol are conserved; strength is 100 · ethanol / volume at 20 °C.

    >>> punch = mix([Liquid(500, 96), Liquid(500)])
    >>> round(punch.volume_ml, 1), round(punch.strength_abv, 1), round(punch.contraction_ml, 1)
    (969.6, 49.5, 30.4)
    """
    parts = tuple(liquids)
    volume_ml = fsum(part.volume_at_20c_ml for part in parts)
    ethanol_ml = fsum(part.ethanol_ml for part in parts)
    other_ml = fsum(part.other_ml for part in parts)
    if not other_ml:
        return _mixture(fsum(part.mass_g for part in parts), ethanol_ml, volume_ml)
    return _with_others(
        fsum(part.spirit_and_water_g for part in parts),
        ethanol_ml,
        volume_ml,
        other_ml,
        fsum(part.other_g for part in parts),
    )


def _with_others(
    mass_g: float, ethanol_ml: float, parts_ml: float, other_ml: float, other_g: float
) -> Mixture:
    """Ethanol and water together as ever, and the other liquids' volume on top."""
    rest_ml, contraction_ml = 0.0, 0.0
    if mass_g > TINY_ML:
        rest = _mixture(mass_g, ethanol_ml, parts_ml - other_ml)
        rest_ml, contraction_ml = rest.volume_ml, rest.contraction_ml
    volume_ml = rest_ml + other_ml
    return Mixture(
        volume_ml=volume_ml,
        strength_abv=100.0 * ethanol_ml / volume_ml,
        ethanol_ml=ethanol_ml,
        contraction_ml=contraction_ml,
        mass_g=mass_g + other_g,
        other_ml=other_ml,
        other_g=other_g,
    )


def _mixture(mass_g: float, ethanol_ml: float, parts_ml: float) -> Mixture:
    more_than_nothing(mass_g, "The amount of liquid", "g")
    p = min(1.0, ethanol_ml * ETHANOL_G_PER_ML / mass_g)
    volume_ml = mass_g * 1000.0 / density(p)
    return Mixture(
        volume_ml=volume_ml,
        strength_abv=abv_from_mass_fraction(p),
        ethanol_ml=ethanol_ml,
        contraction_ml=parts_ml - volume_ml,
        mass_g=mass_g,
    )


def mass_from_volume_g(volume_ml: float, strength_abv: float = 0.0) -> float:
    """Returns the mass of a volume at 20 °C.

    >>> mass_from_volume_g(100, 50)
    93.01
    """
    return volume_ml * _g_per_ml(strength_abv)


@lru_cache(maxsize=256)
def _g_per_ml(strength_abv: float) -> float:
    return density(mass_fraction_from_abv(strength_abv)) / 1000.0


def volume_from_mass_ml(mass_g: float, strength_abv: float = 0.0) -> float:
    """Returns the volume at 20 °C of a mass.

    >>> volume_from_mass_ml(93.014, 50)
    100.0
    """
    return mass_g / _g_per_ml(strength_abv)


def added_to_reach_ml(base: Liquid | Mixture, added_abv: float, target_abv: float) -> float | None:
    """Returns how much of a second liquid takes the first to a strength, or None if none does.

    V = (p·m − e) / (e₂ − p·m₂), with p the mass fraction at the target, m and e the mass of the
    base and of its ethanol, and m₂ and e₂ the same for one millilitre of what is added. It serves
    both ways: water or weak spirit to dilute, strong spirit to strengthen.

    >>> round(added_to_reach_ml(Liquid(500), 96, 25), 1)
    171.5
    >>> added_to_reach_ml(Liquid(500), 20, 25) is None
    True
    """
    within(target_abv, 0, 100, "Strength to reach", "% vol")
    if base.other_ml:
        return _added_by_trial_ml(base, added_abv, target_abv)
    p = mass_fraction_from_abv(target_abv)
    base_lacks_g = p * base.mass_g - base.ethanol_ml * ETHANOL_G_PER_ML
    added_brings_g = _surplus_g_per_ml(added_abv, p)
    if abs(base_lacks_g) < TINY_ML:
        return 0.0
    if base_lacks_g * added_brings_g <= 0.0 or abs(added_brings_g) < TINY_ML:
        return None
    return base_lacks_g / added_brings_g


def _added_by_trial_ml(base: Liquid | Mixture, added_abv: float, target_abv: float) -> float | None:
    """The same where other liquids are in the base, for which there is no closed formula."""
    first = base.as_liquid if isinstance(base, Mixture) else base
    is_to_rise = target_abv > base.strength_abv
    if abs(target_abv - base.strength_abv) < TINY_ML:
        return 0.0
    if is_to_rise != (added_abv > target_abv) or added_abv == target_abv:
        return None

    def is_reached(added_ml: float) -> bool:
        found = mix([first, Liquid(added_ml, added_abv)]).strength_abv
        return found >= target_abv if is_to_rise else found <= target_abv

    low_ml, high_ml = 0.0, max(first.volume_ml, 1.0)
    while not is_reached(high_ml):
        high_ml *= 2.0
        if high_ml > _MOST_ML:
            return None
    while high_ml - low_ml > TINY_ML * high_ml:
        middle_ml = (low_ml + high_ml) / 2.0
        if is_reached(middle_ml):
            high_ml = middle_ml
        else:
            low_ml = middle_ml
    return high_ml


def _surplus_g_per_ml(strength_abv: float, p: float) -> float:
    """Ethanol in 1 mL beyond what 1 mL of that weight needs to be at mass fraction `p`."""
    ethanol_g = strength_abv / 100.0 * ETHANOL_G_PER_ML
    return ethanol_g - p * mass_from_volume_g(1.0, strength_abv)


class Shortfall(StrEnum):
    """Why a target is out of reach."""

    TOO_WEAK = "too weak"
    """Nothing on hand is strong enough."""
    TOO_STRONG = "too strong"
    """Nothing on hand, water included, would bring it down that far."""
    TOO_LITTLE = "too little"
    """Strong enough, but not enough of it."""


@dataclass(frozen=True)
class SpiritOnHand:
    """A spirit that may be poured."""

    strength_abv: float
    on_hand_ml: float | None = None
    """At 20 °C; None when there is as much as it takes."""

    def __post_init__(self) -> None:
        within(self.strength_abv, 0, 100, "Strength of a spirit", "% vol")
        if self.on_hand_ml is not None:
            at_least_nothing(self.on_hand_ml, "Spirit on hand", "mL")

    @property
    def limit_ml(self) -> float:
        return float("inf") if self.on_hand_ml is None else self.on_hand_ml


@dataclass(frozen=True)
class Recipe:
    """What to pour, what it makes, and whether that is what was asked."""

    amounts_ml: tuple[float, ...]
    """Of each spirit, in the order they were given; most are usually 0."""
    water_ml: float
    result: Mixture
    target_abv: float
    shortfall: Shortfall | None = None
    """None when the target is reached; else the result is the nearest that can be."""

    @property
    def is_reached(self) -> bool:
        return self.shortfall is None


def dilute(spirit: Liquid, target_abv: float) -> Recipe:
    """Returns the water that takes all of a spirit down to a strength.

    Water = mass of the result − mass of the spirit.

    >>> round(dilute(Liquid(1000, 96), 70).water_ml)
    408
    """
    return combine(spirit, 0.0, target_abv)


def combine(base: Liquid, added_abv: float, target_abv: float) -> Recipe:
    """Returns how much of a second liquid takes all of the first to a strength.

    `amounts_ml` holds the first and the second; with plain water as the second it is `water_ml`.
    Out of reach, nothing is added.

    >>> recipe = combine(Liquid(500, 40), 96, 60)
    >>> [round(amount) for amount in recipe.amounts_ml], round(recipe.result.volume_ml)
    ([500, 264], 756)
    """
    more_than_nothing(base.volume_ml, "The volume to start from", "mL")
    added_ml = added_to_reach_ml(base, added_abv, target_abv)
    shortfall = None
    if added_ml is None:
        added_ml = 0.0
        is_weak = base.strength_abv < target_abv
        shortfall = Shortfall.TOO_WEAK if is_weak else Shortfall.TOO_STRONG
    result = mix([base, Liquid(added_ml, added_abv)])
    if added_abv == 0.0:
        return Recipe((base.volume_at_20c_ml,), added_ml, result, target_abv, shortfall)
    return Recipe((base.volume_at_20c_ml, added_ml), 0.0, result, target_abv, shortfall)


def make_up(spirits: Sequence[SpiritOnHand], target_abv: float, volume_ml: float) -> Recipe:
    """Returns how to make a volume of a strength from spirits on hand and water, all at 20 °C.

    Of all the ways to the target, in this order: the least water, so that a weaker spirit on hand
    goes in before a strong one is watered down; the fewest bottles; the least strong spirit spent
    on lifting the weak; the bottles earliest in the list, which is the oldest lot first. Out of
    reach, the recipe is for the same volume at the greatest strength that can be had.

    >>> recipe = make_up([SpiritOnHand(40), SpiritOnHand(96, on_hand_ml=400)], 60, 1000)
    >>> [round(amount) for amount in recipe.amounts_ml], recipe.water_ml, recipe.is_reached
    ([661, 349], 0.0, True)
    """
    more_than_nothing(volume_ml, "The volume to make", "mL")
    within(target_abv, 0, 100, "Strength to reach", "% vol")

    def posed(abv: float, spirits: Sequence[SpiritOnHand]) -> _Posed:
        p = mass_fraction_from_abv(abv)
        return _posed_by_mass(spirits, p, mass_from_volume_g(volume_ml, abv))

    return _nearest(spirits, target_abv, posed)


def most_at_strength_ml(
    spirits: Sequence[SpiritOnHand], target_abv: float, up_to_ml: float
) -> float:
    """Returns the largest volume of a strength that the spirits on hand allow, up to a limit.

    >>> round(most_at_strength_ml([SpiritOnHand(96, on_hand_ml=100)], 48, 1000))
    200
    """
    more_than_nothing(up_to_ml, "The volume to make", "mL")
    within(target_abv, 0, 100, "Strength to reach", "% vol")
    most_g = mass_from_volume_g(up_to_ml, target_abv)
    posed = _posed_by_mass(spirits, mass_fraction_from_abv(target_abv), most_g)
    return up_to_ml * most_like(*posed).size / most_g


def pours_for_jar(
    spirits: Sequence[SpiritOnHand], target_abv: float, poured_ml: float, plant_water_g: float
) -> Recipe:
    """Returns what to pour, adding up to `poured_ml`, for a strength once plant water has joined.

    The pours are measured out one by one, so their volumes add up before they shrink together.
    The result includes the plant's water. Chosen as in `make_up`.

    >>> recipe = pours_for_jar([SpiritOnHand(96)], 50, 200, 80)
    >>> [round(amount, 1) for amount in recipe.amounts_ml], round(recipe.water_ml, 1)
    ([141.5], 58.5)
    >>> round(pours_for_jar([SpiritOnHand(40)], 50, 200, 80).result.strength_abv, 1)
    28.6
    """
    more_than_nothing(poured_ml, "The volume to pour", "mL")
    at_least_nothing(plant_water_g, "Water in the plant", "g")
    within(target_abv, 0, 100, "Strength to reach", "% vol")

    def posed(abv: float, spirits: Sequence[SpiritOnHand]) -> _Posed:
        p = mass_fraction_from_abv(abv)
        plant_takes_g = p * plant_water_g / poured_ml
        sources = [
            Source(1.0, _surplus_g_per_ml(s.strength_abv, p) - plant_takes_g, s.limit_ml)
            for s in (*spirits, _WATER)
        ]
        return sources[:-1], sources[-1], poured_ml

    return _nearest(spirits, target_abv, posed, Liquid(plant_water_g / WATER_G_PER_ML))


_WATER = SpiritOnHand(0.0)
_Posed = tuple[list[Source], Source, float]
"""The spirits, water, and the size they must come to."""


def _posed_by_mass(spirits: Sequence[SpiritOnHand], p: float, mass_g: float) -> _Posed:
    """How to come to a mass at mass fraction `p`: the size of a liquid is its mass."""
    sources = [
        Source(
            mass_from_volume_g(1.0, s.strength_abv),
            _surplus_g_per_ml(s.strength_abv, p),
            s.limit_ml,
        )
        for s in (*spirits, _WATER)
    ]
    return sources[:-1], sources[-1], mass_g


def _nearest(
    spirits: Sequence[SpiritOnHand],
    target_abv: float,
    posed: Callable[[float, Sequence[SpiritOnHand]], _Posed],
    plant_water: Liquid | None = None,
) -> Recipe:
    """The recipe for the target or, failing that, for the greatest strength below it."""

    def is_reached(abv: float, spirits: Sequence[SpiritOnHand]) -> bool:
        sources, water, size = posed(abv, spirits)
        return most_like(sources, water, size).size >= size

    reached_abv, shortfall = target_abv, None
    if not is_reached(target_abv, spirits):
        plenty = [SpiritOnHand(s.strength_abv) for s in spirits if s.limit_ml > 0.0]
        would_do = is_reached(target_abv, plenty)
        shortfall = Shortfall.TOO_LITTLE if would_do else Shortfall.TOO_WEAK
        reached_abv = _greatest(lambda abv: is_reached(abv, spirits), target_abv)
    shares = share_out(*posed(reached_abv, spirits))
    assert shares is not None
    amounts_ml, water_ml = tuple(map(_clean, shares.amounts_ml)), _clean(shares.water_ml)
    pours = [Liquid(ml, s.strength_abv) for ml, s in zip(amounts_ml, spirits, strict=True)]
    already_there = [] if plant_water is None else [plant_water]
    result = mix([*pours, Liquid(water_ml), *already_there])
    return Recipe(amounts_ml, water_ml, result, target_abv, shortfall)


def _greatest(is_reached: Callable[[float], bool], below_abv: float) -> float:
    """The greatest strength that is reached, by halving; water alone always reaches none."""
    low_abv, high_abv = 0.0, below_abv
    for _ in range(50):
        middle_abv = (low_abv + high_abv) / 2.0
        if is_reached(middle_abv):
            low_abv = middle_abv
        else:
            high_abv = middle_abv
    return low_abv


def _clean(amount_ml: float) -> float:
    return 0.0 if amount_ml < TINY_ML else amount_ml
