"""The liquid in a jar: what was poured on, and the figures calculated of it."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby
from math import fsum
from operator import itemgetter
from typing import Any

from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.contents import herb_on_label_g
from stillroom.keeping.cupboard.lot_views import bought_from
from stillroom.keeping.graph import POUR_SOURCE, POUR_SOURCE_JOINS
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import ChargeView, Outlook, PourView, TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.reckoning.charge import (
    Charge,
    Keeping,
    liquid_in_jar,
    most_abv,
    ratio_n,
    will_it_keep,
)
from stillroom.reckoning.other_liquids import (
    NO_OTHERS,
    LiquidShare,
    Others,
    reason_for_no_verdict,
    together,
)
from stillroom.reckoning.states import LiquidKind, OtherLiquidKind, StrengthBy


def _lot(said: Wording, origin: str | None, bought_on: str | None) -> str:
    bought = f"bought {said.day(date.fromisoformat(bought_on))}" if bought_on else ""
    return "; ".join(filter(None, (origin, bought)))


def pour_views(keeper: Keeper, jar_id: int) -> tuple[PourView, ...]:
    """What was poured on, in order."""
    return pours_of_jars(keeper, [jar_id]).get(jar_id, ())


def pours_of_jars(keeper: Keeper, jar_ids: Sequence[int]) -> dict[int, tuple[PourView, ...]]:
    """What was poured on each of these jars, in order."""
    said = wording(keeper)
    rows = keeper.rows(
        f"""SELECT p.jar_id, p.kind, p.spirit_id, coalesce(s.name, l.name, ''), p.volume_ml,
                  p.strength_abv, p.poured_on, p.liquid_id, l.kind, l.density_g_per_ml, l.glycerol,
                  l.acidity, coalesce({bought_from("s")}, {bought_from("l")}),
                  coalesce(s.bought_on, l.bought_on),
                  {POUR_SOURCE}, coalesce(b.code, '')
           FROM pour p LEFT JOIN spirit s ON s.id = p.spirit_id
           LEFT JOIN liquid l ON l.id = p.liquid_id
           {POUR_SOURCE_JOINS}
           WHERE p.jar_id IN (SELECT value FROM json_each(?)) ORDER BY p.jar_id, p.id""",
        json.dumps(list(jar_ids)),
    )
    sources = tincture_views(keeper, {row[14] for row in rows} - {None})
    return {
        jar_id: tuple(
            _of_tincture(keeper, view, sources.get(source_id), bottle)
            for *row, source_id, bottle in pours
            for view in [_pour_view(row, said)]
        )
        for jar_id, pours in groupby(rows, key=itemgetter(0))
    }


def _others(
    name: str,
    kind: str | None,
    g_per_ml: float | None,
    glycerol: float | None,
    acidity: float | None,
) -> Others:
    """What a liquid of the cupboard is; nothing for spirit, water and decoction."""
    if kind is None or g_per_ml is None:
        return NO_OTHERS
    of_kind = OtherLiquidKind(kind)
    return Others((LiquidShare(name, of_kind, 1.0, g_per_ml, glycerol, acidity),))


def _pour_view(row: Sequence[Any], said: Wording) -> PourView:
    _, kind, spirit_id, spirit, volume, strength, day, liquid_id, *rest = row
    liquid, lot = rest[:4], rest[4:]
    return PourView(
        LiquidKind(kind),
        spirit_id,
        spirit,
        volume,
        strength or 0.0,
        date.fromisoformat(day),
        _lot(said, *lot),
        liquid_id,
        _others(spirit, *liquid),
        is_known=strength is not None,
    )


def _of_tincture(
    keeper: Keeper, pour: PourView, source: TinctureView | None, bottle: str
) -> PourView:
    """What was poured, with what is known of the tincture that it is."""
    if source is None:
        return pour
    herb_g: float | None = 0.0
    if pour.kind is LiquidKind.TINCTURE:
        per_ml = herb_on_label_g(keeper, source.tincture_id)
        herb_g = None if per_ml is None else per_ml * pour.volume_ml
    return replace(
        pour,
        source_id=source.tincture_id,
        source=bottle or source.code,
        name=source.name,
        herb_g=herb_g,
        is_estimated=source.strength_by is StrengthBy.ESTIMATED,
        is_at_most=source.strength_at_most,
        cautions=source.cautions,
        others=source.others,
    )


_OUTLOOK_WITHOUT_LIQUID = Outlook(
    volume_ml=0.0,
    strength_abv=0.0,
    is_partial=True,
    strength_at_most=False,
    ratio=None,
    verdict="No liquid is recorded for this jar, so nothing can be calculated.",
    keeps="doubtful",
)


def outlook(charges: tuple[ChargeView, ...], pours: tuple[PourView, ...]) -> Outlook:
    """Calculated figures of the liquid on these herbs."""
    if not pours:  # a jar imported from a notebook that leaves out what was poured
        return _OUTLOOK_WITHOUT_LIQUID
    herbs = [c.charge for c in charges]
    counted = [*herbs, *(Charge(p.herb_g) for p in pours if p.kind is LiquidKind.TINCTURE)]
    jar = liquid_in_jar(herbs, [pour.poured for pour in pours])
    others = together([(pour.volume_ml, pour.others) for pour in pours], jar.volume_ml)
    has_rule = not others or jar.keeping is Keeping.KEEPS
    found = Outlook(
        volume_ml=jar.volume_ml,
        strength_abv=jar.strength_abv,
        is_partial=jar.is_partial or any(p.is_estimated for p in pours),
        strength_at_most=jar.hides_water or any(p.is_at_most for p in pours),
        ratio=ratio_n(counted, fsum(p.volume_ml for p in pours)),
        verdict=jar.keeping_sentence if has_rule else reason_for_no_verdict(others),
        keeps=jar.keeping if has_rule else Keeping.DOUBTFUL,
        others=others,
    )
    if all(p.is_known for p in pours):
        return found
    return replace(
        found, is_partial=True, is_known=False, verdict=STRENGTH_UNKNOWN, keeps=Keeping.DOUBTFUL
    )


STRENGTH_UNKNOWN = (
    "Not known whether it will keep: the strength of the tincture poured on isn't known."
)


def narrowed(before: Outlook, yield_ml: float) -> Outlook:
    """What the liquid strained from herb by eye proves of the liquid that was in the jar.

    More than was poured holds water of the herb: all the ethanol poured, in that volume, is the
    most its strength can be. 300 mL of 40 % that gave 340 mL are 120 / 340, at most 35.3 %.
    """
    if not before.strength_at_most or yield_ml <= before.volume_ml:
        return before
    ethanol_ml = before.volume_ml * before.strength_abv / 100.0
    strength_abv = most_abv(before.strength_abv, ethanol_ml, yield_ml)
    keeping = will_it_keep(strength_abv)
    if keeping is Keeping.KEEPS:  # its water is still not known
        return replace(before, volume_ml=yield_ml, strength_abv=strength_abv)
    return replace(
        before,
        volume_ml=yield_ml,
        strength_abv=strength_abv,
        verdict=keeping.sentence,
        keeps=keeping,
    )
