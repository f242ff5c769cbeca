"""What herbs and liquids in a jar come to, said while they are typed."""

from collections.abc import Sequence

from stillroom.keeping.settings import Settings
from stillroom.quantities import show
from stillroom.reckoning.charge import (
    Charge,
    Keeping,
    dried_mass_g,
    fit_in_jar,
    liquid_in_jar,
    ratio_n,
)
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.yields import RETENTION, Pressing


def comes_to(
    charges: Sequence[Charge],
    pours: Sequence[Liquid],
    capacity_ml: float | None,
    settings: Settings,
) -> list[str]:
    """What herbs and liquids come to, in a few sentences; none before there is liquid."""

    def shown(kind: Kind, value: float) -> str:
        return show(kind, value, settings.units, decimal_comma=settings.decimal_comma)

    if not pours:
        return []
    jar = liquid_in_jar(charges, pours)
    n = ratio_n(charges, sum(pour.volume_ml for pour in pours)) if charges else None
    ratio = "Ratio unknown (herb not weighed)"
    if n:
        ratio = f"{shown(Kind.RATIO, n)} herb to liquid poured"
    strength = shown(Kind.STRENGTH, jar.strength_abv)
    if jar.hides_water:
        strength = f"at most {strength}"
    elif jar.is_partial:
        strength = f"about {strength}"
    else:
        strength += f", {_whose_water(charges)} reckoned in"
    lines = [f"{ratio} · {shown(Kind.VOLUME, jar.volume_ml)} at {strength}"]
    lines.append(f"{'✓' if jar.keeping is Keeping.KEEPS else '!'} {jar.keeping_sentence}")
    dried_g = dried_mass_g(charges)
    if dried_g and jar.volume_ml < RETENTION[Pressing.DRAINED].mean * dried_g:
        lines.append("! This much herb takes up all of this liquid: it needs more to be covered")
    if capacity_ml:
        fit = fit_in_jar(charges, pours, capacity_ml)
        needed, usable = shown(Kind.VOLUME, fit.needed_ml), shown(Kind.VOLUME, fit.usable_ml)
        if fit.is_enough:
            lines.append(f"✓ Fits: {needed} in a jar that takes {usable} with air under the lid")
        else:
            lines.append(f"! Too much: {needed} in a jar that takes {usable}")
    return lines


def _whose_water(charges: Sequence[Charge]) -> str:
    if any(charge.is_simmered for charge in charges):
        return "the water held by simmered herb"
    return "the plant's own water"
