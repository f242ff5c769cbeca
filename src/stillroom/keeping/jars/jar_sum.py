"""What herbs and liquids in a jar come to."""

from collections.abc import Sequence

from stillroom.keeping.wording import Wording
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
from stillroom.reckoning.other_liquids import NO_OTHERS, reason_for_no_verdict
from stillroom.reckoning.yields import RETENTION, Pressing


def comes_to(
    charges: Sequence[Charge],
    pours: Sequence[Liquid],
    capacity_ml: float | None,
    wording: Wording,
    carried: Sequence[Charge] = (),
) -> list[str]:
    """What herbs and liquids come to, in a few sentences; none before there is liquid.

    `carried` is the herb that tinctures poured on bring: it counts for the ratio alone.
    """
    if not pours:
        return []
    jar = liquid_in_jar(charges, pours)
    poured_ml = sum(pour.volume_ml for pour in pours)
    n = ratio_n([*charges, *carried], poured_ml) if charges else None
    ratio = "Ratio unknown (herb not weighed)"
    if n:
        ratio = f"{wording.ratio(n)} herb to liquid poured"
    strength = wording.of(Kind.STRENGTH, jar.strength_abv)
    if jar.hides_water:
        shown_strength = strength = f"up to {strength}"
    elif jar.is_partial:
        shown_strength = strength = f"about {strength}"
    else:
        shown_strength = f"{strength} ({_whose_water(charges)} included)"
    lines = [f"{ratio} · {wording.volume(jar.volume_ml)} at {shown_strength}"]
    if jar.keeping is not Keeping.KEEPS and any(pour.other_ml for pour in pours):
        lines.append(f"! {reason_for_no_verdict(NO_OTHERS)}")
    else:
        lines.append(verdict_line(jar.keeping, jar.keeping_sentence, strength))
    return lines + room_lines(charges, pours, jar.volume_ml, capacity_ml, wording)


def room_lines(
    charges: Sequence[Charge],
    pours: Sequence[Liquid],
    volume_ml: float,
    capacity_ml: float | None,
    wording: Wording,
) -> list[str]:
    """Whether the liquid, `volume_ml` in all, covers the herb, and the jar holds both."""
    lines = []
    dried_g = dried_mass_g(charges)
    if dried_g and volume_ml < RETENTION[Pressing.DRAINED].mean * dried_g:
        lines.append("! This herb takes up all of this liquid: it needs more to be covered")
    if capacity_ml:
        fit = fit_in_jar(charges, pours, capacity_ml)
        needed, usable = wording.volume(fit.needed_ml), wording.volume(fit.usable_ml)
        if fit.is_enough:
            lines.append(f"✓ Fits: needs {needed}; the jar takes {usable} with air under the lid")
        else:
            lines.append(
                f"! Doesn't fit: needs {needed}; the jar takes {usable} with air under the lid"
            )
    return lines


def verdict_line(keeping: str, sentence: str, strength: str) -> str:
    """The verdict on keeping with its mark; the strength goes with a good one."""
    if keeping == Keeping.KEEPS:
        return f"✓ {sentence.removesuffix('.')} ({strength})"
    return f"! {sentence}"


def _whose_water(charges: Sequence[Charge]) -> str:
    if any(charge.is_simmered for charge in charges):
        return "water in the simmered herb"
    return "plant's own water"
