"""What is in each batch and what became of all that was put in, from the rows of the file alone."""

import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from graphlib import TopologicalSorter

from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.contents import herb_equivalents_of
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check

from ..reckoning.printed_density import ETHANOL, G_PER_ML, WEIGHT_PERCENT, between, g_per_ml

Amounts = dict[str, float]
"""mL or g by thing: `ethanol`, `g`, `other mL`, `other g`, and each herb and liquid by name."""
WATER_IN_DRIED, WATER_IN_FRESH_LEAF = 0.1, 0.8
"""Taken where it wasn't measured: common practice, no source."""


@dataclass
class Ledger:
    """What is in a millilitre of each batch, and what became of it, from the rows alone."""

    rows: Callable[[str], list[tuple]]
    per_ml: dict[int, Amounts] = field(default_factory=dict)
    of_unknown_marc: set[int] = field(default_factory=set)
    """Batches that hold some of a simmered marc, or of one whose liquid isn't known: how much of
    the herb came over isn't known either."""
    volume_ml: dict[int, float] = field(default_factory=dict)
    """Calculated, of the batches made of others; all the liquid in the jar for those strained."""
    put_in: Amounts = field(default_factory=lambda: defaultdict(float))
    in_marc: Amounts = field(default_factory=lambda: defaultdict(float))

    def __post_init__(self) -> None:
        self.liquids = {
            liquid_id: (name, density)
            for liquid_id, name, density in self.rows(
                "SELECT id, name, density_g_per_ml FROM liquid"
            )
        }
        jars = {
            tincture_id: (jar_id, yield_ml)
            for tincture_id, jar_id, yield_ml in self.rows(
                """SELECT t.id, s.jar_id, s.yield_ml FROM tincture t
                   JOIN straining s ON s.id = t.straining_id"""
            )
        }
        inputs = self._inputs()
        graph = {batch: {i[0] for i in found if i[0]} for batch, found in inputs.items()}
        pours = {batch: self._pours(jar_id) for batch, (jar_id, _) in jars.items()}
        graph |= {batch: {pour[3] for pour in found if pour[3]} for batch, found in pours.items()}
        self.of_unknown_marc = {
            found
            for (found,) in self.rows(
                """SELECT t.id FROM tincture t JOIN straining s ON s.id = t.straining_id
                   JOIN jar j ON j.id = s.jar_id WHERE j.marc_of_id IS NOT NULL
                   AND NOT EXISTS (SELECT 1 FROM pour WHERE jar_id = j.id AND kind = 'held back')"""
            )
        }
        for batch_id in TopologicalSorter(graph).static_order():
            if graph.get(batch_id, set()) & self.of_unknown_marc:
                self.of_unknown_marc.add(batch_id)
            if batch_id in jars:
                self._strained(batch_id, *jars[batch_id], pours[batch_id])
            else:
                self._made_of_others(batch_id, inputs[batch_id])

    def _add(self, into: Amounts, volume_ml: float, abv: float, liquid_id: int | None) -> None:
        if liquid_id is None:
            into["ethanol"] += volume_ml * abv / 100
            into["g"] += volume_ml * g_per_ml(abv)
            return
        name, density = self.liquids[liquid_id]
        for key, amount in ((name, volume_ml), ("other mL", volume_ml)):
            into[key] += amount
        for key in ("g", "other g"):
            into[key] += volume_ml * density

    def _volume(self, content: Amounts) -> float:
        """By the printed densities; other liquids are added to it."""
        rest_g = content["g"] - content["other g"]
        if rest_g < 1e-9:
            return content["other mL"]
        percent = min(100.0, 100 * content["ethanol"] * ETHANOL / rest_g)
        return rest_g / between(percent, WEIGHT_PERCENT, G_PER_ML) + content["other mL"]

    def _pours(self, jar_id: int) -> list[tuple]:
        """mL, strength, liquid and tincture of each, and whether the marc held it back."""
        return self.rows(
            f"""SELECT p.volume_ml, p.strength_abv, p.liquid_id,
                       coalesce(p.source_id, b.tincture_id,
                                CASE WHEN p.kind = 'held back' THEN t.id END),
                       p.kind = 'held back'
                FROM pour p JOIN jar j ON j.id = p.jar_id
                LEFT JOIN movement m ON m.id = p.movement_id
                LEFT JOIN bottle b ON b.id = m.bottle_id
                LEFT JOIN straining s ON s.jar_id = j.marc_of_id
                LEFT JOIN tincture t ON t.straining_id = s.id
                WHERE p.jar_id = {jar_id}"""
        )

    def _strained(self, tincture_id: int, jar_id: int, yield_ml: float, pours: list[tuple]) -> None:
        content: Amounts = defaultdict(float)
        fresh: Amounts = defaultdict(float)
        for volume_ml, abv, liquid_id, from_id, is_held_back in pours:
            if from_id is None:
                self._add(fresh, volume_ml, abv or 0.0, liquid_id)
                continue
            for key, amount in self.per_ml[from_id].items():
                content[key] += amount * volume_ml
                if is_held_back:
                    self.in_marc[key] -= amount * volume_ml
        for name, condition, mass_g, water in self.rows(
            f"""SELECT h.name, l.condition, l.mass_g, l.water_fraction
                FROM charge_line l JOIN herb h ON h.id = l.herb_id
                WHERE l.jar_id = {jar_id} AND l.mass_g IS NOT NULL"""
        ):
            fresh[f"{name} {condition}"] += mass_g
            usual = WATER_IN_FRESH_LEAF if condition == "fresh" else WATER_IN_DRIED
            fresh["g"] += (usual if water is None else water) * mass_g
        for key, amount in fresh.items():
            content[key] += amount
            self.put_in[key] += amount
        self.volume_ml[tincture_id] = self._volume(content)
        self.per_ml[tincture_id] = {
            key: amount / self.volume_ml[tincture_id] for key, amount in content.items()
        }
        for key, amount in content.items():
            self.in_marc[key] += amount - self.per_ml[tincture_id][key] * yield_ml

    def _inputs(self) -> dict[int, list[tuple]]:
        inputs: dict[int, list[tuple]] = defaultdict(list)
        for batch_id, *rest in self.rows(
            """SELECT i.tincture_id, coalesce(i.source_id, b.tincture_id),
                      coalesce(i.volume_ml, -m.volume_ml), i.strength_abv, i.liquid_id
               FROM batch_input i LEFT JOIN movement m ON m.id = i.movement_id
               LEFT JOIN bottle b ON b.id = m.bottle_id"""
        ):
            inputs[batch_id].append(tuple(rest))
        return inputs

    def _made_of_others(self, batch_id: int, inputs: list[tuple]) -> None:
        content: Amounts = defaultdict(float)
        for from_id, volume_ml, abv, liquid_id in inputs:
            if from_id is not None:
                for key, amount in self.per_ml[from_id].items():
                    content[key] += amount * volume_ml
                continue
            fresh: Amounts = defaultdict(float)
            self._add(fresh, volume_ml, abv or 0.0, liquid_id)
            for key, amount in fresh.items():
                content[key] += amount
                self.put_in[key] += amount
        self.volume_ml[batch_id] = self._volume(content)
        self.per_ml[batch_id] = {
            key: amount / self.volume_ml[batch_id] for key, amount in content.items()
        }

    def ends(self) -> Amounts:
        """What is in bottles, was taken out of them, waits, was lost, and is in the marc.

        What was poured on herb that still steeps is among it.
        """
        found: Amounts = defaultdict(float, self.in_marc)
        for tincture_id, made_ml, into_others_ml in self.rows(
            """SELECT t.id, t.volume_ml,
                      coalesce((SELECT sum(volume_ml) FROM batch_input WHERE source_id = t.id), 0)
                      - coalesce((SELECT sum(m.volume_ml) FROM movement m
                                  JOIN bottle b ON b.id = m.bottle_id
                                  WHERE b.tincture_id = t.id AND m.kind = 'blend'), 0)
                      + coalesce((SELECT sum(p.volume_ml) FROM pour p
                                  JOIN straining s ON s.jar_id = p.jar_id
                                  JOIN tincture made ON made.straining_id = s.id
                                  LEFT JOIN movement m ON m.id = p.movement_id
                                  LEFT JOIN bottle b ON b.id = m.bottle_id
                                  WHERE coalesce(p.source_id, b.tincture_id) = t.id), 0)
               FROM tincture t"""
        ):
            for key, amount in self.per_ml[tincture_id].items():
                found[key] += amount * (made_ml - into_others_ml)
        return found


_LOTS = """
    SELECT l.code, l.mass_g
           + coalesce((SELECT sum(mass_g) FROM herb_movement WHERE lot_id = l.id), 0)
           - coalesce((SELECT sum(mass_g) FROM charge_line WHERE lot_id = l.id), 0)
           - coalesce((SELECT sum(mass_g) FROM herb_lot WHERE from_lot_id = l.id), 0), s.left_g
    FROM herb_lot l JOIN in_store s ON s.lot_id = l.id
"""


def problems(keeper: Keeper) -> Iterator[str]:
    """Where the shelf and the ledger differ."""
    yield from (finding.what for finding in check(keeper))
    with closing(sqlite3.connect(keeper.path)) as db:

        def rows(sql: str) -> list[tuple]:
            return db.execute(sql).fetchall()

        ledger = Ledger(rows)
        views = tincture_views(keeper, ledger.per_ml)
        herbs = herb_equivalents_of(keeper, list(views))
        is_rounded_up = False
        for tincture_id, view in views.items():
            per_ml, code = ledger.per_ml[tincture_id], view.code
            if view.is_blend:
                calculated = ledger.volume_ml[tincture_id]
                ratio = view.volume_ml / calculated
                is_rounded_up |= ratio > 1.001  # what was bottled was there, up to a hundredth
                if not 0.999 < ratio < 1.011:
                    yield f"{code}: {view.volume_ml} mL, by the ledger {calculated}"
                if ratio > 1.001:
                    continue
            if abs((view.strength_abv or 0) - 100 * per_ml["ethanol"]) > 0.15:
                yield f"{code}: {view.strength_abv} %, by the ledger {100 * per_ml['ethanol']}"
            for herb in herbs[tincture_id]:
                key = f"{herb.herb} {herb.condition}"
                if herb.g_per_ml is None:
                    if tincture_id not in ledger.of_unknown_marc:
                        yield f"{code}: how much {key} is in it is known, but isn't shown"
                elif abs(herb.g_per_ml - per_ml[key]) > 0.012 * per_ml[key]:
                    yield f"{code}: {herb.g_per_ml} g/mL {key}, not {per_ml[key]}"
            for each in view.others.liquids:
                if abs(each.share / per_ml[each.name] - 1) > 0.012:
                    yield f"{code}: {each.share} {each.name}, by the ledger {per_ml[each.name]}"
            used = rows(
                f"""SELECT (SELECT coalesce(sum(volume_ml), 0) FROM loss
                            WHERE tincture_id = {tincture_id})
                         + (SELECT coalesce(sum(volume_ml), 0) FROM batch_input
                            WHERE source_id = {tincture_id})
                         + (SELECT coalesce(sum(volume_ml), 0) FROM pour
                            WHERE source_id = {tincture_id})
                         + (SELECT coalesce(sum(m.volume_ml), 0) FROM movement m JOIN bottle b
                            ON b.id = m.bottle_id
                            WHERE b.tincture_id = {tincture_id} AND m.kind = 'fill')"""
            )[0][0]
            if abs(view.volume_ml - used - view.loose_ml) > 0.02:
                yield f"{code}: {view.loose_ml} mL wait, by its rows {view.volume_ml - used}"
        for code, by_rows_g, left_g in rows(_LOTS):
            if abs(by_rows_g - left_g) > 0.01:
                yield f"{code}: {left_g} g left, by its rows {by_rows_g}"
        ends = ledger.ends()
        slack = 0.012 if is_rounded_up else 0.001
        for key, amount in ledger.put_in.items():
            if abs(ends[key] - amount) > slack * amount + 1e-6:
                yield f"{key}: {amount} put in, {ends[key]} accounted for"
