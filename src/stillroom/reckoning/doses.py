"""Ethanol and herb in an amount taken, and the published label thresholds.

Nothing here recommends an amount.
"""

from dataclasses import dataclass

from stillroom.reckoning.alcoholometry import ETHANOL_G_PER_ML
from stillroom.reckoning.limits import at_least_nothing, more_than_nothing, within


def ethanol_g(volume_ml: float, strength_abv: float) -> float:
    """Returns the pure ethanol in an amount: mL · % vol / 100 · 0.789 g.

    >>> ethanol_g(5, 40)
    1.58
    """
    at_least_nothing(volume_ml, "The amount", "mL")
    within(strength_abv, 0, 100, "Strength", "% vol")
    return volume_ml * strength_abv / 100.0 * ETHANOL_G_PER_ML


def in_each_ml(amount: float, liquid_ml: float, strained_ml: float = 0.0) -> float:
    """Returns what 1 mL of a tincture holds of something that went into its jar: amount / liquid.

    The amount is grams of herb or millilitres of spirit. The liquid is all that was in the jar, the
    plant's own water and soaked-up water with it (`liquid_in_jar`), never only what was poured. It
    is taken as evenly mixed, so that what is strained, lost and held by the marc together hold
    exactly the amount. Where more was strained than was reckoned to be there, that is the liquid.
    A mass balance: no published source is needed.

    >>> in_each_ml(100, 320)
    0.3125
    >>> in_each_ml(100, 320, strained_ml=400)
    0.25
    """
    at_least_nothing(amount, "The amount")
    return amount / more_than_nothing(max(liquid_ml, strained_ml), "The liquid in the jar", "mL")


def herb_equivalent_g(volume_ml: float, g_per_ml: float) -> float:
    """Returns the herb that an amount of tincture stands for: mL · g/mL, by `in_each_ml`.

    >>> herb_equivalent_g(5, 0.2)
    1.0
    """
    at_least_nothing(volume_ml, "The amount", "mL")
    return volume_ml * at_least_nothing(g_per_ml, "The herb in 1 mL", "g")


@dataclass(frozen=True)
class LabelThreshold:
    """What a published rule requires on a label about ethanol from some amount per dose up."""

    rule: str
    above_g: float
    """More than this much ethanol in one dose."""
    says: str

    @property
    def where(self) -> str:
        """Where it applies, with a place for the figure: the 2003 text's 0.1 g counts itself."""
        if not self.above_g:
            return "any amount"
        return "from {0}" if _reaches(self.above_g, self) else "above {0}"


EU_2003 = "European Commission, excipients in the label and package leaflet (2003)"
GERMANY = "German AMWarnV, section 2"

LABEL_THRESHOLDS = (
    LabelThreshold(EU_2003, 0.0, "contains small amounts of ethanol"),
    LabelThreshold(
        EU_2003,
        0.1,
        "state the ethanol; harmful in alcoholism; to be taken into account in pregnancy and "
        "breast-feeding, in children, in liver disease and in epilepsy",
    ),
    LabelThreshold(EU_2003, 3.0, "as above, and may affect other medicines and driving"),
    LabelThreshold(GERMANY, 0.05, "state the ethanol in % vol"),
    LabelThreshold(
        GERMANY,
        0.5,
        "state it and refer to the leaflet, which warns in alcohol dependence, liver disease, "
        "epilepsy, pregnancy and for children",
    ),
    LabelThreshold(GERMANY, 3.0, "as above, and may slow reactions and affect driving"),
)
"""Rising within each rule. The EU text has been revised since (2019, by mg per kg of body weight);
the later figures could not be checked and are left out."""


def label_statements(ethanol_in_dose_g: float) -> tuple[LabelThreshold, ...]:
    """Returns the highest statement each published rule asks for at an amount of ethanol.

    >>> [statement.above_g for statement in label_statements(1.6)]
    [0.1, 0.5]
    """
    at_least_nothing(ethanol_in_dose_g, "The ethanol", "g")
    asked: dict[str, LabelThreshold] = {}
    for threshold in LABEL_THRESHOLDS:
        if _reaches(ethanol_in_dose_g, threshold):
            asked[threshold.rule] = threshold
    return tuple(asked.values())


def _reaches(grams: float, threshold: LabelThreshold) -> bool:
    """The 2003 text counts from 100 mg on; the others only above their figure."""
    if threshold.rule == EU_2003 and threshold.above_g == 0.1:
        return grams >= 0.1
    return grams > threshold.above_g
