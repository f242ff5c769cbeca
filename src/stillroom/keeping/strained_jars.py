"""The strained jars behind tinctures, with all that went into each: herb, liquid, tinctures."""

import json
from collections.abc import Collection, Mapping
from typing import NamedTuple

from stillroom.keeping.graph import POUR_SOURCE, POUR_SOURCE_JOINS, SOURCES_OF
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.charge import (
    Charge,
    Condition,
    JarLiquid,
    Part,
    charge_as_recorded,
    liquid_in_jar,
)
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.other_liquids import NO_OTHERS, Others, liquid_holding
from stillroom.reckoning.states import LiquidKind

_CHARGES = f"""{SOURCES_OF}
    SELECT DISTINCT t.id, s.jar_id, s.yield_ml, j.simmered, h.id, h.name, h.botanical, l.part,
           l.condition, l.mass_g, l.water_fraction, l.id, j.marc_of_id IS NOT NULL
           AND EXISTS (SELECT 1 FROM pour WHERE jar_id = j.id AND kind = 'held back'), t.ratio
    FROM source
    JOIN tincture t ON t.id = source.from_id
    JOIN straining s ON s.id = t.straining_id
    JOIN jar j ON j.id = s.jar_id
    JOIN charge_line l ON l.jar_id = s.jar_id
    JOIN herb h ON h.id = l.herb_id
    ORDER BY t.id, l.id
"""

_POURS = f"""
    SELECT p.jar_id, p.volume_ml, coalesce(p.strength_abv, 0), l.density_g_per_ml, p.kind,
           {POUR_SOURCE}
    FROM pour p
    LEFT JOIN liquid l ON l.id = p.liquid_id
    {POUR_SOURCE_JOINS}
    WHERE p.jar_id IN (SELECT value FROM json_each(?)) ORDER BY p.id
"""


class HerbKey(NamedTuple):
    """What is counted apart: a gram of fresh is not a gram of dried."""

    herb_id: int
    herb: str
    botanical: str
    part: Part
    condition: Condition


class Carried(NamedTuple):
    """A tincture that went onto the herb of a jar, or that its marc held back."""

    from_id: int
    volume_ml: float
    strength_abv: float
    is_poured: bool
    """Whether it was poured on; otherwise the marc held it back."""


class StrainedJar(NamedTuple):
    """A strained jar with all that went into it."""

    tincture_id: int
    yield_ml: float
    ratio: float | None
    """The n of 1:n on its label."""
    herbs: list[tuple[HerbKey, Charge]]
    pours: list[Liquid]
    """What was poured on but for tinctures."""
    carried: list[Carried]

    def liquid(self, others: Mapping[int, Others]) -> JarLiquid:
        """All the liquid that was in it, given what is in the tinctures carried into it."""
        carried = [
            liquid_holding(each.volume_ml, each.strength_abv, others.get(each.from_id, NO_OTHERS))
            for each in self.carried
        ]
        return liquid_in_jar([charge for _, charge in self.herbs], [*self.pours, *carried])

    def liquid_ml(self, others: Mapping[int, Others]) -> float:
        """The same in mL: what came out of it at least."""
        return max(self.liquid(others).volume_ml, self.yield_ml)


def strained_jars(keeper: Keeper, tincture_ids: Collection[int]) -> dict[int, StrainedJar]:
    """The jars behind these tinctures, and behind those in them, by the jar."""
    jars: dict[int, StrainedJar] = {}
    wanted = json.dumps(list(tincture_ids))
    for row in keeper.rows(_CHARGES, wanted):
        tincture_id, jar_id, yield_ml, simmered, herb_id, name, botanical = row[:7]
        part, condition, mass, water, _, is_marc, ratio = row[7:]
        herb = HerbKey(herb_id, name, botanical, Part(part), Condition(condition))
        jar = jars.setdefault(jar_id, StrainedJar(tincture_id, yield_ml, ratio, [], [], []))
        charge = charge_as_recorded(
            mass,
            herb.part,
            herb.condition,
            water,
            is_simmered=bool(simmered),
            is_marc=bool(is_marc),
        )
        jar.herbs.append((herb, charge))
    for jar_id, volume_ml, strength_abv, density, kind, source_id in keeper.rows(
        _POURS, json.dumps(list(jars))
    ):
        if source_id is not None:
            is_poured = kind == LiquidKind.TINCTURE
            jars[jar_id].carried.append(Carried(source_id, volume_ml, strength_abv, is_poured))
            continue
        other_ml = 0.0 if density is None else volume_ml
        jars[jar_id].pours.append(
            Liquid(volume_ml, strength_abv, other_ml=other_ml, other_g=other_ml * (density or 0.0))
        )
    return jars
