"""Blending finished tinctures."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from stillroom.reckoning.doses import herb_equivalent_g
from stillroom.reckoning.limits import OutOfRange, at_least_nothing, more_than_nothing, within
from stillroom.reckoning.mixing import Liquid, Mixture, mix


@dataclass(frozen=True)
class BlendedTincture:
    """One tincture that goes into a blend."""

    volume_ml: float
    strength_abv: float
    n: float | None = None
    """The n of its 1:n, herb to liquid poured; None when its ratio is by eye."""
    name: str = ""
    herb_g_per_ml: float | None = None
    """Grams of herb that 1 mL stands for; None where only the ratio is known, or nothing."""

    def __post_init__(self) -> None:
        at_least_nothing(self.volume_ml, "A volume", "mL")
        within(self.strength_abv, 0, 100, "Strength", "% vol")
        if self.n is not None:
            more_than_nothing(self.n, "A ratio")
        if self.herb_g_per_ml is not None:
            at_least_nothing(self.herb_g_per_ml, "The herb in 1 mL", "g")

    @property
    def herb_g(self) -> float | None:
        """Herb it stands for: volume · g/mL, or volume / n as if nothing but what was poured were
        in the jar."""
        if self.herb_g_per_ml is not None:
            return herb_equivalent_g(self.volume_ml, self.herb_g_per_ml)
        return None if self.n is None else self.volume_ml / self.n

    @property
    def menstruum_ml(self) -> float | None:
        """The liquid that was poured on that herb: herb · n."""
        return None if self.n is None or self.herb_g is None else self.herb_g * self.n


@dataclass(frozen=True)
class BlendShare:
    """What one tincture brings to the blend."""

    share_percent: float
    """Of the volumes measured in."""
    herb_g: float | None
    herb_g_per_ml: float | None
    """In the finished blend."""


@dataclass(frozen=True)
class Blend:
    """A blend and what is in it."""

    mixture: Mixture
    shares: tuple[BlendShare, ...]
    """In the order the parts were given."""
    herb_g: float | None
    """All herb together; None when any ratio is by eye."""
    n: float | None
    """The n of the blend's own 1:n, all herb to all liquid that was poured on it."""


def blend(parts: Sequence[BlendedTincture]) -> Blend:
    """Returns a blend: strength by mass and ethanol, each part's share, and the herb it stands for.

    Share = its volume / sum of volumes; the blend's n = all liquid poured / all herb, so that equal
    ratios blend to the same ratio. Per mL of the blend: herb / volume of the blend.

    >>> made = blend([BlendedTincture(60, 45, 5), BlendedTincture(40, 60, 2)])
    >>> made.herb_g, [share.share_percent for share in made.shares]
    (32.0, [60.0, 40.0])
    """
    poured_ml = fsum(part.volume_ml for part in parts)
    if poured_ml <= 0.0:
        raise OutOfRange("A blend needs at least one tincture with a volume above zero.")
    mixture = mix([Liquid(part.volume_ml, part.strength_abv) for part in parts])
    shares = tuple(
        BlendShare(
            100.0 * part.volume_ml / poured_ml,
            part.herb_g,
            None if part.herb_g is None else part.herb_g / mixture.volume_ml,
        )
        for part in parts
    )
    known = [part.herb_g for part in parts if part.herb_g is not None]
    herb_g = fsum(known) if len(known) == len(parts) else None
    poured = [part.menstruum_ml for part in parts if part.menstruum_ml is not None]
    n = fsum(poured) / herb_g if herb_g and len(poured) == len(parts) else None
    return Blend(mixture, shares, herb_g, n)
