"""Glycerine, vinegar, honey, syrup and juice: what they weigh, and what of them keeps a liquid."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import fsum

from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.states import OtherLiquidKind

LEAST_GLYCEROL, MOST_GLYCEROL = 25, 80
"""The least shares of glycerol, % by volume, that recommendations ask for: they contradict each
other by as much as this. Common practice, no source."""

NO_CONTRACTION = (
    "Volumes other than of ethanol and water are added without contraction: the true volume may "
    "be a little less."
)
GLYCEROL_DIFFERS = (
    f"Recommendations of the least glycerol that keeps differ, from {LEAST_GLYCEROL} to "
    f"{MOST_GLYCEROL} %: no verdict."
)
ACID_DIFFERS = "Recommendations of the least acid that keeps differ: no verdict."


@dataclass(frozen=True)
class UsualLiquid:
    """What is usual of a kind of liquid; every figure can be changed."""

    density_g_per_ml: float
    source: str
    glycerol: float | None = None
    """% by volume."""
    acidity: float | None = None
    """g of acid in 100 mL."""


USUAL = {
    OtherLiquidKind.GLYCERINE: UsualLiquid(
        1.261, "glycerol at 20 °C, CRC Handbook of Chemistry and Physics", glycerol=100.0
    ),
    OtherLiquidKind.HONEY: UsualLiquid(1.42, "honey with about 20 % water, USDA and Codex"),
    OtherLiquidKind.VINEGAR: UsualLiquid(1.005, "common practice, no source", acidity=5.0),
    OtherLiquidKind.SYRUP: UsualLiquid(1.30, "Syrup, USP 32: specific gravity not less than 1.30"),
    OtherLiquidKind.JUICE: UsualLiquid(1.045, "common practice, no source"),
    OtherLiquidKind.OTHER: UsualLiquid(1.0, "common practice, no source"),
}
"""By kind."""


@dataclass(frozen=True)
class LiquidShare:
    """How much of one liquid is in a millilitre of something."""

    name: str
    kind: OtherLiquidKind
    share: float
    """0 to 1, by volume."""
    g_per_ml: float
    glycerol: float | None = None
    """% by volume of the liquid itself."""
    acidity: float | None = None
    """g in 100 mL of the liquid itself."""


@dataclass(frozen=True)
class Others:
    """The liquids other than spirit and water in a millilitre of something."""

    liquids: tuple[LiquidShare, ...] = ()

    def __bool__(self) -> bool:
        """Whether there is any."""
        return bool(self.liquids)

    @property
    def share(self) -> float:
        """All of them, 0 to 1 by volume."""
        return fsum(each.share for each in self.liquids)

    @property
    def g_per_ml(self) -> float:
        """What all of them in a millilitre of the whole weigh."""
        return fsum(each.share * each.g_per_ml for each in self.liquids)

    @property
    def glycerol_percent(self) -> float:
        """Glycerol, % by volume of the whole.

        >>> Others((LiquidShare("G", OtherLiquidKind.GLYCERINE, 0.5, 1.26, 99.0),)).glycerol_percent
        49.5
        """
        return fsum(each.share * (each.glycerol or 0.0) for each in self.liquids)

    @property
    def acidity(self) -> float:
        """Acid, g in 100 mL of the whole."""
        return fsum(each.share * (each.acidity or 0.0) for each in self.liquids)


NO_OTHERS = Others()
"""Spirit and water alone."""


def liquid_holding(volume_ml: float, strength_abv: float, others: Others) -> Liquid:
    """Returns so much of a liquid that holds others, to be mixed.

    >>> honey = LiquidShare("Honey", OtherLiquidKind.HONEY, 0.25, 1.42)
    >>> half = liquid_holding(200, 30, Others((honey,)))
    >>> half.other_ml, half.other_g, half.ethanol_ml
    (50.0, 71.0, 60.0)
    """
    return Liquid(
        volume_ml,
        strength_abv,
        other_ml=volume_ml * others.share,
        other_g=volume_ml * others.g_per_ml,
    )


def together(parts: Sequence[tuple[float, Others]], volume_ml: float) -> Others:
    """The other liquids in a millilitre of a mixture, from the volume and liquids of each part."""
    shares: dict[LiquidShare, float] = {}
    for part_ml, others in parts:
        for each in others.liquids:
            same = replace(each, share=0.0)
            shares[same] = shares.get(same, 0.0) + each.share * part_ml / volume_ml
    return Others(tuple(replace(each, share=share) for each, share in shares.items()))


def reason_for_no_verdict(others: Others) -> str:
    """Returns why there is no verdict on what other liquids keep."""
    if others.glycerol_percent:
        return GLYCEROL_DIFFERS
    if others.acidity:
        return ACID_DIFFERS
    return "There is no rule for whether it keeps: no verdict."
