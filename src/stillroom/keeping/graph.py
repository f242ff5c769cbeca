"""Which tincture is in which: the way of liquid from batch to batch, walked in either direction.

Liquid goes from a batch into another out of a bottle or out of what waits to be bottled; over the
herb of a jar in the same two ways; and from the marc of one jar into the next. The view `flow` has
each single step; these walks follow the same five by their indexes, as a view made of several
queries can't be followed step by step without reading all of it.
"""

import json
from collections.abc import Iterable

from stillroom.keeping.keeper import Keeper

LEFT_TO_BOTTLE = "(SELECT left_ml FROM unbottled WHERE tincture_id = t.id)"
"""Of the tincture `t`, mL that are neither in a bottle nor written off."""


def sources_from(first: str) -> str:
    """The head of a query that needs `source`: tinctures with all the tinctures in them.

    A tincture is among its own. `first` selects the tinctures to start from, each id twice.
    """
    return f"""
    WITH RECURSIVE source (tincture_id, from_id) AS (
        {first}
        UNION
        SELECT s.tincture_id, b.tincture_id FROM source s
        CROSS JOIN batch_input i ON i.tincture_id = s.from_id
        CROSS JOIN movement m ON m.id = i.movement_id
        CROSS JOIN bottle b ON b.id = m.bottle_id
        UNION
        SELECT s.tincture_id, i.source_id FROM source s
        CROSS JOIN batch_input i ON i.tincture_id = s.from_id AND i.source_id IS NOT NULL
        UNION
        SELECT s.tincture_id, b.tincture_id FROM source s
        CROSS JOIN tincture t ON t.id = s.from_id
        CROSS JOIN straining g ON g.id = t.straining_id
        CROSS JOIN pour p ON p.jar_id = g.jar_id
        CROSS JOIN movement m ON m.id = p.movement_id
        CROSS JOIN bottle b ON b.id = m.bottle_id
        UNION
        SELECT s.tincture_id, p.source_id FROM source s
        CROSS JOIN tincture t ON t.id = s.from_id
        CROSS JOIN straining g ON g.id = t.straining_id
        CROSS JOIN pour p ON p.jar_id = g.jar_id AND p.source_id IS NOT NULL
        UNION
        SELECT s.tincture_id, held.id FROM source s
        CROSS JOIN tincture t ON t.id = s.from_id
        CROSS JOIN straining g ON g.id = t.straining_id
        CROSS JOIN jar j ON j.id = g.jar_id AND j.marc_of_id IS NOT NULL
        CROSS JOIN straining first ON first.jar_id = j.marc_of_id
        CROSS JOIN tincture held ON held.straining_id = first.id)
"""


SOURCES = sources_from("SELECT id, id FROM tincture")
"""For every tincture there is."""

POUR_SOURCE = "coalesce(p.source_id, b.tincture_id, held.id)"
POUR_SOURCE_JOINS = """
    LEFT JOIN movement m ON m.id = p.movement_id
    LEFT JOIN bottle b ON b.id = m.bottle_id
    LEFT JOIN jar j ON j.id = p.jar_id AND p.kind = 'held back'
    LEFT JOIN straining g ON g.jar_id = j.marc_of_id
    LEFT JOIN tincture held ON held.straining_id = g.id
"""
"""The tincture that a pour `p` was of: poured from a batch or bottle, or held back by the marc."""

SOURCES_OF = sources_from("SELECT value, value FROM json_each(?)")
"""For a JSON array of ids, the query's first value."""

# In this order of tables, which SQLite keeps to: else it reads every input of every batch.
_DOWNSTREAM = """
    WITH RECURSIVE down (id) AS (
        SELECT value FROM json_each(?)
        UNION
        SELECT i.tincture_id FROM down d
        CROSS JOIN bottle b ON b.tincture_id = d.id
        CROSS JOIN movement m ON m.bottle_id = b.id AND m.kind = 'blend'
        CROSS JOIN batch_input i ON i.movement_id = m.id
        UNION
        SELECT i.tincture_id FROM down d CROSS JOIN batch_input i ON i.source_id = d.id
        UNION
        SELECT t.id FROM down d
        CROSS JOIN bottle b ON b.tincture_id = d.id
        CROSS JOIN movement m ON m.bottle_id = b.id AND m.kind = 'pour on'
        CROSS JOIN pour p ON p.movement_id = m.id
        CROSS JOIN straining s ON s.jar_id = p.jar_id
        CROSS JOIN tincture t ON t.straining_id = s.id
        UNION
        SELECT t.id FROM down d
        CROSS JOIN pour p ON p.source_id = d.id
        CROSS JOIN straining s ON s.jar_id = p.jar_id
        CROSS JOIN tincture t ON t.straining_id = s.id
        UNION
        SELECT t.id FROM down d
        CROSS JOIN tincture f ON f.id = d.id
        CROSS JOIN straining g ON g.id = f.straining_id
        CROSS JOIN jar j ON j.marc_of_id = g.jar_id
        CROSS JOIN straining s ON s.jar_id = j.id
        CROSS JOIN tincture t ON t.straining_id = s.id)
    SELECT id FROM down
"""


def downstream(keeper: Keeper, tincture_ids: Iterable[int]) -> list[int]:
    """These tinctures and every one that was made with them, through any number of steps."""
    return [found for (found,) in keeper.rows(_DOWNSTREAM, json.dumps(list(tincture_ids)))]


def upstream(keeper: Keeper, tincture_ids: Iterable[int]) -> list[int]:
    """These tinctures and every one that is in them, through any number of steps."""
    sql = f"{SOURCES_OF} SELECT DISTINCT from_id FROM source"
    return [found for (found,) in keeper.rows(sql, json.dumps(list(tincture_ids)))]
