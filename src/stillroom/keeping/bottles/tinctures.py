"""Finished lots of liquid: what is in them, in words and figures."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby
from operator import itemgetter
from typing import Any

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.contents import contents_of, equivalents, ratio_in
from stillroom.keeping.cupboard_views import HerbEquivalent
from stillroom.keeping.graph import LEFT_TO_BOTTLE, SOURCES_OF
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.others_in import others_in
from stillroom.keeping.tolerances import LOOSE_ML
from stillroom.keeping.views import ChargeView, TinctureView
from stillroom.keeping.words import listed
from stillroom.reckoning.charge import Condition, Part, default_water_fraction, most_abv
from stillroom.reckoning.mixing import Liquid, mix
from stillroom.reckoning.other_liquids import Others
from stillroom.reckoning.states import BatchStatus, DayBy, LiquidKind, StrengthBy

_CHARGE = """h.id, h.name, h.botanical, l.part, l.condition, l.mass_g, l.water_fraction,
           l.gathered_on, l.origin, h.cautions, j.simmered,
           EXISTS (SELECT 1 FROM pour WHERE pour.jar_id = l.jar_id),
           coalesce((SELECT measured_abv IS NOT NULL FROM straining
                     WHERE straining.jar_id = l.jar_id), 0),
           l.lot_id, coalesce((SELECT code FROM herb_lot WHERE herb_lot.id = l.lot_id), ''),
           j.marc_of_id IS NOT NULL AND EXISTS (SELECT 1 FROM pour WHERE pour.jar_id = l.jar_id
                                                AND pour.kind = 'held back'),
           j.marc_of_id IS NOT NULL, l.part_assumed, l.condition_assumed"""
_CHARGE_LINES = "charge_line l JOIN herb h ON h.id = l.herb_id JOIN jar j ON j.id = l.jar_id"


_TINCTURES = f"""
    SELECT t.id, t.code, t.name, s.jar_id, t.made_on, j.filled_on, t.volume_ml,
           {LEFT_TO_BOTTLE} AS loose,
           (SELECT count(*) FROM bottle WHERE tincture_id = t.id),
           t.lost_ml, t.strength_abv, t.strength_by, t.ratio, t.keep_until, t.note,
           (SELECT sum(p.volume_ml * p.strength_abv) / 100 FROM pour p WHERE p.jar_id = s.jar_id),
           s.yield_ml, t.status,
           (SELECT json_group_array(json_array(p.kind, p.volume_ml, p.strength_abv))
            FROM pour p WHERE p.jar_id = s.jar_id), s.day_by
    FROM tincture t
    LEFT JOIN straining s ON s.id = t.straining_id
    LEFT JOIN jar j ON j.id = s.jar_id
"""


def charge_views(keeper: Keeper, jar_id: int) -> tuple[ChargeView, ...]:
    """The herbs in a jar, in the order they were written down."""
    return charges_of_jars(keeper, [jar_id]).get(jar_id, ())


def charges_of_jars(keeper: Keeper, jar_ids: Sequence[int]) -> dict[int, tuple[ChargeView, ...]]:
    """The herbs in each of these jars."""
    rows = keeper.rows(
        f"""SELECT l.jar_id, {_CHARGE} FROM {_CHARGE_LINES}
            WHERE l.jar_id IN (SELECT value FROM json_each(?)) ORDER BY l.jar_id, l.id""",
        json.dumps(list(jar_ids)),
    )
    return _by_first(rows)


def _by_first(rows: Iterable[tuple[Any, ...]]) -> dict[int, tuple[ChargeView, ...]]:
    """Charges under the id each row begins with; rows of one id must follow each other."""
    return {
        of_id: tuple(_charge(row[1:]) for row in lines)
        for of_id, lines in groupby(rows, key=itemgetter(0))
    }


def _charge(row: tuple[Any, ...]) -> ChargeView:
    (
        herb_id, herb, botanical, part, condition, mass, water, gathered, origin, cautions,
        simmered, is_poured, is_measured, lot_id, lot, is_marc, is_again, *assumed
    ) = row  # fmt: skip
    part, condition = Part(part), Condition(condition)
    default = default_water_fraction(part, condition)
    return ChargeView(
        herb_id=herb_id,
        herb=herb,
        botanical=botanical,
        part=part,
        condition=condition,
        mass_g=mass,
        water_fraction=default if water is None else water,
        water_is_measured=water is not None,
        gathered_on=day_or_none(gathered),
        origin=origin,
        cautions=cautions,
        simmered=bool(simmered),
        is_poured=bool(is_poured),
        is_measured=bool(is_measured),
        lot_id=lot_id,
        lot=lot,
        is_marc=bool(is_marc),
        is_second_pour=bool(is_again),
        part_assumed=bool(assumed[0]),
        condition_assumed=bool(assumed[1]),
    )


def tincture_view(keeper: Keeper, tincture_id: int) -> TinctureView:
    """A tincture by id; Refused where it is no longer there."""
    found = _tinctures(keeper, "t.id = ?", tincture_id)
    if not found:
        raise Refused("That tincture no longer exists.")
    return found[0]


def tincture_views(keeper: Keeper, tincture_ids: Iterable[int]) -> dict[int, TinctureView]:
    """These tinctures; one that is no longer there is left out."""
    wanted = json.dumps(list(tincture_ids))
    found = _tinctures(keeper, "t.id IN (SELECT value FROM json_each(?))", wanted)
    return {view.tincture_id: view for view in found}


def tincture_of_jar(keeper: Keeper, jar_id: int) -> TinctureView | None:
    """What a jar became, once strained."""
    found = _tinctures(keeper, "s.jar_id = ?", jar_id)
    return found[0] if found else None


def unbottled(keeper: Keeper) -> list[TinctureView]:
    """Tinctures and blends with liquid that waits to be bottled, oldest first."""
    waiting = "t.id IN (SELECT tincture_id FROM to_bottle) AND loose >= ?"
    return _tinctures(keeper, f"{waiting} ORDER BY t.made_on, t.id", LOOSE_ML)


def _tinctures(keeper: Keeper, condition: str, *values: object) -> list[TinctureView]:
    rows = keeper.rows(f"{_TINCTURES} WHERE {condition}", *values)
    herbs = _herbs_in(keeper, [row[0] for row in rows])
    others = others_in(keeper, [row[0] for row in rows])
    blends = [row[0] for row in rows if row[3] is None]
    contents = contents_of(keeper, blends) if blends else {}
    ratios = {each: ratio_in(contents.get(each, {})) for each in blends}
    for each in blends:
        herbs[each] = _most_first(herbs.get(each, ()), equivalents(contents.get(each, {})))
    return [
        replace(_tincture(row, herbs.get(row[0], ()), ratios), others=others.get(row[0], Others()))
        for row in rows
    ]


def _most_first(
    herbs: Sequence[ChargeView], amounts: Iterable[HerbEquivalent]
) -> tuple[ChargeView, ...]:
    """The herbs of a blend in descending order of weight, as they went in; those by eye last.

    As Regulation (EU) 1169/2011, article 18(1), has ingredients listed.
    """
    grams = {(each.herb_id, each.part, each.condition): each.g_per_ml or 0.0 for each in amounts}
    return tuple(sorted(herbs, key=lambda h: -grams.get((h.herb_id, h.part, h.condition), 0.0)))


def _tincture(
    row: tuple[Any, ...], herbs: tuple[ChargeView, ...], of_blends: Mapping[int, float | None]
) -> TinctureView:
    (tincture_id, code, name, jar_id, made_on, filled_on, volume, loose, bottles) = row[:9]
    lost, strength, strength_by, ratio, keep_until, note, ethanol, strained, status = row[9:18]
    view = TinctureView(
        tincture_id=tincture_id,
        code=code,
        name=name or listed(h.herb for h in herbs),
        herbs=herbs,
        is_blend=jar_id is None,
        jar_id=jar_id,
        made_on=date.fromisoformat(made_on),
        filled_on=day_or_none(filled_on),
        volume_ml=volume,
        loose_ml=max(0.0, loose),
        bottles=bottles,
        lost_ml=lost,
        strength_abv=strength,
        strength_by=StrengthBy(strength_by),
        ratio=of_blends.get(tincture_id) if jar_id is None else ratio,
        keep_until=day_or_none(keep_until),
        note=note,
        status=status and BatchStatus(status),
        solvent_abv=_solvent_abv(row[18]),
        made_by=DayBy(row[19] or DayBy.STATED),
    )
    if strength is None or ethanol is None or not view.strength_at_most:
        return view
    # The first release recorded the strength of what was poured, whatever was strained.
    return replace(view, strength_abv=most_abv(strength, ethanol, strained))


def _solvent_abv(pours: str) -> float | None:
    """The strength of what was poured, mixed; None where other than spirit and water was poured."""
    poured = [(LiquidKind(kind), ml, abv) for kind, ml, abv in json.loads(pours)]
    plain = {LiquidKind.SPIRIT, LiquidKind.WATER}
    if not any(abv for _, _, abv in poured) or any(kind not in plain for kind, _, _ in poured):
        return None
    if len(poured) == 1:
        return float(poured[0][2])
    return mix(Liquid(ml, abv) for _, ml, abv in poured).strength_abv


def _herbs_in(keeper: Keeper, tincture_ids: Sequence[int]) -> dict[int, tuple[ChargeView, ...]]:
    rows = keeper.rows(
        f"""{SOURCES_OF} SELECT source.tincture_id, {_CHARGE} FROM {_CHARGE_LINES}
            JOIN straining s ON s.jar_id = l.jar_id
            JOIN tincture t ON t.straining_id = s.id
            JOIN source ON source.from_id = t.id
            ORDER BY source.tincture_id, t.id, l.id""",
        json.dumps(list(tincture_ids)),
    )
    return _by_first(rows)
