"""Stored figures that differ from what they are calculated to be."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from stillroom.keeping.correcting.recalculate import (
    StoredFigures,
    as_bottled,
    blend_figures,
    jar_figures,
    jars_fed,
    pour_figures,
)
from stillroom.keeping.graph import downstream
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import MEASURE_ML
from stillroom.keeping.wording import Wording, wording
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import LiquidKind


@dataclass(frozen=True)
class Difference:
    """A stored figure that isn't what it is calculated to be."""

    code: str
    figure: str
    stored: str
    calculated: str


def differences(keeper: Keeper) -> list[Difference]:
    """Every stored figure of a tincture that doesn't follow from the facts."""
    codes = dict(keeper.rows("SELECT id, code FROM tincture"))
    found = [*jar_figures(keeper, codes), *blend_figures(keeper, codes)]
    # A date set by hand is followed by blends made later; those made before kept the earlier one.
    set_by_hand = keeper.rows("SELECT id FROM tincture WHERE keep_until_by_hand")
    may_differ = set(downstream(keeper, (found_id for (found_id,) in set_by_hand)))
    said = wording(keeper)
    return [
        _difference(said, codes[figures.tincture_id], name, stored, calculated)
        for figures in found
        for name, stored, calculated in _compared(figures)
        if not (name == KEEP_UNTIL and figures.tincture_id in may_differ)
    ] + _pour_differences(keeper, said)


def _pour_differences(keeper: Keeper, said: Wording) -> list[Difference]:
    jar_ids = {jar_id for _, _, jar_id in jars_fed(keeper)}
    found = []
    for each in pour_figures(keeper, jar_ids):
        what = "held back" if each.kind is LiquidKind.HELD_BACK else "of the tincture poured on"
        for name, stored, calculated in zip(
            ("volume", "strength"), each.stored, each.calculated, strict=True
        ):
            if not _same(stored, calculated):
                found_here = _difference(said, each.code, name, stored, calculated)
                found.append(replace(found_here, figure=f"{name} {what}"))
    return found


def _difference(
    said: Wording, code: str, name: str, stored: object, calculated: object
) -> Difference:
    was, now = _printed(said, name, stored), _printed(said, name, calculated)
    if was == now and isinstance(stored, float) and isinstance(calculated, float):
        now = "slightly more" if calculated > stored else "slightly less"
    return Difference(code, name, was, now)


def _printed(said: Wording, name: str, figure: object) -> str:
    if isinstance(figure, float):
        return said.to_a_hundredth(_KINDS[name], figure)
    return "not known" if figure is None else str(figure)


_KINDS = {
    "volume": Kind.VOLUME,
    "liquid in the jar": Kind.VOLUME,
    "ratio": Kind.RATIO,
    "strength": Kind.STRENGTH,
}


KEEP_UNTIL = "keep-until date"
SAME_FIGURE = 1e-6
SAME_SHARE = 1e-9
"""Figures that differ by less than `SAME_FIGURE`, or by a smaller share, are the same figure."""


def _compared(found: StoredFigures) -> Iterator[tuple[str, object, object]]:
    """Figures as stored and as calculated, where they differ."""
    was, now, older = found.stored, found.calculated, found.as_first_released
    if found.straining_id is None:
        volumes = {as_bottled(f.volume_ml, was.volume_ml - found.left_ml) for f in (now, older)}
        if all(abs(was.volume_ml - each) > MEASURE_ML for each in volumes):
            yield "volume", was.volume_ml, min(volumes)
    else:
        # The ratio of a blend is calculated where it is shown.
        if not _same(was.ratio, now.ratio):
            yield "ratio", was.ratio, now.ratio
        if was.liquid_ml is not None and not _same(was.liquid_ml, now.liquid_ml):
            yield "liquid in the jar", was.liquid_ml, now.liquid_ml
    if was.strength_by is not now.strength_by:
        yield "kind of strength", was.strength_by, now.strength_by
    elif not any(_same(was.strength_abv, each.strength_abv) for each in (now, older)):
        yield "strength", was.strength_abv, now.strength_abv
    if not found.keep_until_by_hand and was.keep_until not in (now.keep_until, older.keep_until):
        yield KEEP_UNTIL, was.keep_until, now.keep_until


def _same(stored: float | None, calculated: float | None) -> bool:
    if stored is None or calculated is None:
        return stored is calculated
    return abs(stored - calculated) <= SAME_FIGURE + SAME_SHARE * abs(calculated)
