"""The herbs in one jar: their water, their ratio, and the strength of what covers them."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import fsum

from stillroom.reckoning.alcoholometry import WATER_G_PER_ML
from stillroom.reckoning.drying import DRIED_WATER_FRACTION, dried_equivalent_g
from stillroom.reckoning.kinds import LIMIT_SLACK_ABV, STRENGTH_LIMITS_ABV
from stillroom.reckoning.limits import at_least_nothing, more_than_nothing, within
from stillroom.reckoning.mixing import Liquid, Mixture, mix
from stillroom.reckoning.plant import Condition as Condition
from stillroom.reckoning.plant import Part as Part

ALSO_CALLED = {
    Part.AERIAL_PARTS.value: "herb tops stem",
    Part.FLOWER.value: "blossom petals bud",
    Part.FRUIT.value: "berry berries hips",
    Part.ROOT.value: "rhizome bulb tuber",
    Part.BARK.value: "wood twig",
    Part.RESIN.value: "gum",
}
"""Other words that people call a part by, by what it is called here."""

KNOWN_PARTS = tuple(part for part in Part if part is not Part.NOT_KNOWN)
"""What a person may choose for herb that is there to be seen."""
KNOWN_CONDITIONS = (Condition.FRESH, Condition.DRIED)

FRESH_WATER_FRACTION = {
    Part.LEAF: 0.80,
    Part.AERIAL_PARTS: 0.75,
    Part.FLOWER: 0.80,
    Part.FRUIT: 0.80,
    Part.SEED: 0.50,
    Part.ROOT: 0.70,
    Part.BARK: 0.50,
    Part.RESIN: 0.10,
    Part.WHOLE_PLANT: 0.75,
}
"""Rounded judgement from USDA National Nutrient Database SR28 (fresh leaf 65–95 %, root 59–88 %,
berry 59–88 %, flower 85–95 %, seed 55 %) and growers' drying losses (leaf 80, flower 75, aerial
parts 70, root 65, bark 45 %). Whole plant is taken as aerial parts; resin has no source."""

SOLIDS_G_PER_ML = 1.5
"""Density of dry plant matter without its air; wood cell wall is 1.5 (from memory)."""

HEADSPACE_FRACTION = 0.05
"""Room left under the lid. Common practice, no source."""

SOAKED_ML_PER_G = 1.75
"""Water that dried root takes up and keeps when it is simmered and drained: 1.5–2.0 mL per g,
decoction machine guidance."""

DOUBTFUL_FROM_ABV, KEEPS_FROM_ABV = STRENGTH_LIMITS_ABV


def default_water_fraction(part: Part, condition: Condition) -> float:
    """Returns the share of water to assume in herb whose own has not been measured.

    >>> default_water_fraction(Part.ROOT, Condition.FRESH)
    0.7
    """
    if condition is Condition.DRIED:
        return DRIED_WATER_FRACTION
    return FRESH_WATER_FRACTION.get(part, 0.0) if condition is Condition.FRESH else 0.0


def is_water_known(part: Part, condition: Condition, water_fraction: float | None) -> bool:
    """Returns whether the water in herb was measured or follows from its part and condition.

    >>> is_water_known(Part.NOT_KNOWN, Condition.DRIED, None)
    True
    >>> is_water_known(Part.ROOT, Condition.NOT_KNOWN, None)
    False
    """
    if water_fraction is not None or condition is Condition.DRIED:
        return True
    return condition is Condition.FRESH and part is not Part.NOT_KNOWN


def charge_as_recorded(
    mass_g: float | None,
    part: Part,
    condition: Condition,
    water_fraction: float | None,
    *,
    is_simmered: bool = False,
    is_marc: bool = False,
) -> "Charge":
    """Returns herb as a shelf records it: with the usual water where none was measured, and with
    none, which is marked, where that isn't known either."""
    is_known = is_water_known(part, condition, water_fraction)
    if water_fraction is None:
        water_fraction = default_water_fraction(part, condition) if is_known else 0.0
    return Charge(mass_g, water_fraction, is_simmered, is_marc, is_water_known=is_known)


@dataclass(frozen=True)
class Charge:
    """One herb in a jar."""

    mass_g: float | None
    """None when the jar was filled by eye."""
    water_fraction: float = DRIED_WATER_FRACTION
    """0 to 1, by mass, as it was weighed."""
    is_simmered: bool = False
    """Whether it was simmered and drained after it was weighed, and so came full of water."""
    is_marc: bool = False
    """Whether it is spent herb whose liquid is counted among what was poured, as a second pour
    begins with: it brings no water of its own."""
    is_water_known: bool = True
    """False where nothing is known of its water, and none is counted."""

    def __post_init__(self) -> None:
        if self.mass_g is not None:
            at_least_nothing(self.mass_g, "The weight of herb", "g")
        within(100.0 * self.water_fraction, 0, 99, "Water in the herb", "%")

    @property
    def hides_water(self) -> bool:
        """Whether it brings much water that nobody knows: fresh or simmered, and not weighed.

        >>> Charge(None, 0.8).hides_water, Charge(None).hides_water, Charge(50, 0.8).hides_water
        (True, False, False)
        """
        if self.is_marc:
            return False
        holds_much = self.is_simmered or self.water_fraction > DRIED_WATER_FRACTION
        return not self.is_water_known or (self.mass_g is None and holds_much)

    @property
    def water_g(self) -> float:
        """Water it brings to the jar; none is counted when its mass is unknown.

        Simmered herb brings 1.75 mL per g of dried weight, or its own water where that is more.

        >>> round(Charge(100, 0.1).water_g), round(Charge(100, 0.1, is_simmered=True).water_g)
        (10, 175)
        """
        own_g = (self.mass_g or 0.0) * self.water_fraction
        if not self.is_simmered:
            return own_g
        return max(own_g, SOAKED_ML_PER_G * self.dried_g * WATER_G_PER_ML)

    @property
    def solids_g(self) -> float:
        return (self.mass_g or 0.0) * (1.0 - self.water_fraction)

    @property
    def dried_g(self) -> float:
        """What it would weigh dried, with a tenth of water left in it."""
        return dried_equivalent_g(self.mass_g or 0.0, self.water_fraction)


@dataclass(frozen=True)
class JarLiquid(Mixture):
    """All the liquid in a jar, the plant's own water with it."""

    plant_water_g: float
    is_partial: bool
    """True when some herb was not weighed, so that its water is missing from the reckoning; fresh
    herb filled by eye makes the true strength lower than this."""
    hides_water: bool
    """True when it was a fresh or simmered herb that was not weighed, so that much is missing."""

    @property
    def keeping(self) -> "Keeping":
        """Whether it will keep; doubtful at best where much of the water is not known.

        >>> liquid_in_jar([Charge(None, 0.8)], [Liquid(300, 40)]).keeping
        <Keeping.DOUBTFUL: 'doubtful'>
        """
        keeping = will_it_keep(self.strength_abv)
        return Keeping.DOUBTFUL if keeping is Keeping.KEEPS and self.hides_water else keeping

    @property
    def keeping_sentence(self) -> str:
        """The same in words.

        >>> liquid_in_jar([Charge(None, 0.8)], [Liquid(300, 30)]).keeping_sentence[:36]
        'Not known whether it will keep: the '
        """
        if self.keeping is not will_it_keep(self.strength_abv):
            return UNKNOWN_WATER
        return self.keeping.sentence


def liquid_in_jar(charges: Sequence[Charge], pours: Sequence[Liquid]) -> JarLiquid:
    """Returns the liquid in a jar: everything poured and the water in the plants.

    Plant water w·m joins as pure water and the solids are inert.

    >>> jar = liquid_in_jar([Charge(100, 0.8)], [Liquid(200, 40)])
    >>> round(jar.strength_abv, 1), round(jar.volume_ml, 1)
    (28.6, 279.7)
    """
    plant_water_g = fsum(charge.water_g for charge in charges)
    mixture = mix([*pours, Liquid(plant_water_g / WATER_G_PER_ML)])
    return JarLiquid(
        volume_ml=mixture.volume_ml,
        strength_abv=mixture.strength_abv,
        ethanol_ml=mixture.ethanol_ml,
        contraction_ml=mixture.contraction_ml,
        mass_g=mixture.mass_g,
        plant_water_g=plant_water_g,
        is_partial=any(
            (charge.mass_g is None or not charge.is_water_known) and not charge.is_marc
            for charge in charges
        ),
        hides_water=any(charge.hides_water for charge in charges),
        other_ml=mixture.other_ml,
        other_g=mixture.other_g,
    )


def usual_n(part: Part, condition: Condition) -> float:
    """Returns the usual n of 1:n where none is wanted in particular.

    Dried herb 1:5 and strong or resinous 1:10 (Ph. Eur., Tinctures), fresh 1:2 (USP 1890).

    >>> usual_n(Part.LEAF, Condition.FRESH), usual_n(Part.RESIN, Condition.DRIED)
    (2.0, 10.0)
    """
    if part is Part.RESIN:
        return 10.0
    return 2.0 if condition is Condition.FRESH else 5.0


def ratio_n(charges: Sequence[Charge], poured_ml: float) -> float | None:
    """Returns the n of 1:n, mL of menstruum poured per g of herb; None if any herb is by eye.

    >>> ratio_n([Charge(100), Charge(20)], 600)
    5.0
    """
    at_least_nothing(poured_ml, "The volume poured", "mL")
    mass_g = 0.0
    for charge in charges:
        if charge.mass_g is None:
            return None
        mass_g += charge.mass_g
    return poured_ml / mass_g if mass_g > 0.0 else None


def dried_mass_g(charges: Sequence[Charge]) -> float | None:
    """Returns the dried equivalent of all the herb in a jar; None if any herb is by eye, or its
    water not known."""
    if any(charge.mass_g is None or not charge.is_water_known for charge in charges):
        return None
    return fsum(charge.dried_g for charge in charges)


@dataclass(frozen=True)
class Fit:
    """How full a jar would be."""

    needed_ml: float
    """Liquid and the solids it covers, without the air between the leaves."""
    usable_ml: float
    """The jar less its headspace."""

    @property
    def is_enough(self) -> bool:
        return self.needed_ml <= self.usable_ml


def fit_in_jar(charges: Sequence[Charge], pours: Sequence[Liquid], capacity_ml: float) -> Fit:
    """Returns whether a jar holds the liquid and the solids under it.

    Needed = volume of the liquid + dry solids / 1.5; usable = capacity less 5 % headspace.

    >>> fit_in_jar([Charge(100)], [Liquid(500, 40)], 590).is_enough
    False
    """
    more_than_nothing(capacity_ml, "The jar size", "mL")
    solids_ml = fsum(charge.solids_g for charge in charges) / SOLIDS_G_PER_ML
    needed_ml = liquid_in_jar(charges, pours).volume_ml + solids_ml
    return Fit(needed_ml, capacity_ml * (1.0 - HEADSPACE_FRACTION))


def mass_for_jar_g(capacity_ml: float, n: float, water_fraction: float) -> float:
    """Returns the mass of herb that fills a jar at 1:n, its headspace left free.

    Each gram takes n mL of menstruum, w / 0.998 mL as water and (1 − w) / 1.5 mL as solids;
    contraction is left out, so the jar ends a little below the mark.

    >>> round(mass_for_jar_g(1000, 5, 0.1), 1)
    166.7
    """
    more_than_nothing(capacity_ml, "The jar size", "mL")
    more_than_nothing(n, "The ratio")
    within(100.0 * water_fraction, 0, 99, "Water in the herb", "%")
    per_gram_ml = n + water_fraction / WATER_G_PER_ML + (1.0 - water_fraction) / SOLIDS_G_PER_ML
    return capacity_ml * (1.0 - HEADSPACE_FRACTION) / per_gram_ml


class Keeping(StrEnum):
    """Whether a tincture of some strength will keep."""

    WILL_NOT = "will not keep"
    DOUBTFUL = "doubtful"
    KEEPS = "keeps"

    @property
    def sentence(self) -> str:
        return _KEEPING_SENTENCE[self]


UNKNOWN_WATER = (
    "Not known whether it will keep: the water in herb that was not weighed, or whose condition is "
    "not known, is not in this figure. Weigh the herb, or use a stronger spirit."
)


KEEPING_SOURCE = (
    "University of North Carolina pharmacy teaching notes: alcohol preserves from 15 % at pH 5 and "
    "18 % at neutral. The limits of 20 and 25 % are common practice, no source."
)

_KEEPING_SENTENCE = {
    Keeping.WILL_NOT: "Too weak to keep: make it 25 % or more, or use it within days, cold.",
    Keeping.DOUBTFUL: "May not keep: make it 25 % or more.",
    Keeping.KEEPS: "Strong enough to keep.",
}


def will_it_keep(strength_abv: float) -> Keeping:
    """Returns the verdict on a strength: under 20 % no, to 25 % doubtful, from there yes.

    >>> will_it_keep(28.6)
    <Keeping.KEEPS: 'keeps'>
    """
    within(strength_abv, 0, 100, "Strength", "% vol")
    rounded_abv = strength_abv + LIMIT_SLACK_ABV
    if rounded_abv < DOUBTFUL_FROM_ABV:
        return Keeping.WILL_NOT
    return Keeping.DOUBTFUL if rounded_abv < KEEPS_FROM_ABV else Keeping.KEEPS


@dataclass(frozen=True)
class StrengthBand:
    """A strength of menstruum and what it is used for."""

    low_abv: float
    high_abv: float
    used_for: str


STRENGTH_BANDS = (
    StrengthBand(25, 25, "tannins, mucilage, flavonoids"),
    StrengthBand(45, 60, "essential oils, alkaloids, saponins"),
    StrengthBand(90, 96, "resins and gums"),
)
STRENGTH_BANDS_SOURCE = "Common practice, no source."


def most_abv(reckoned_abv: float, ethanol_ml: float, yield_ml: float) -> float:
    """Returns the most that the strength of what was strained from herb by eye can be, % v/v.

    No more ethanol can be in it than was poured: 300 mL of 40 % that gave 340 mL are 120 / 340.

    >>> round(most_abv(40, 120, 340), 1), most_abv(40, 120, 280)
    (35.3, 40)
    """
    return min(reckoned_abv, 100.0 * ethanol_ml / yield_ml) if yield_ml > 0.0 else reckoned_abv
