"""The shelves as they are today, read in one query."""

import json
from datetime import date
from typing import Any

from stillroom.keeping.cards import JarCard, OffShelf, ShelfView, ShelvesView
from stillroom.keeping.graph import LEFT_TO_BOTTLE
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import LOOSE_ML
from stillroom.keeping.words import folded
from stillroom.reckoning.plant import Condition, Part

_CARDS = f"""
    SELECT j.id, j.code, h.name,
           (SELECT count(*) FROM charge_line WHERE jar_id = j.id) - 1,
           l.part, l.condition, j.filled_on, j.strain_on, j.shakes_per_day,
           (SELECT count(*) FROM shake WHERE jar_id = j.id AND day = :today),
           j.covered, j.shelf_id, j.place,
           CASE j.state WHEN 'strained' THEN {LEFT_TO_BOTTLE} END AS loose,
           CASE j.state WHEN 'drained' THEN s.yield_ml END AS drained,
           (SELECT json_group_array(name) FROM (
               SELECT o.name FROM charge_line c JOIN herb o ON o.id = c.herb_id
               WHERE c.jar_id = j.id AND c.id > l.id ORDER BY c.id)) AS others
    FROM jar j
    JOIN charge_line l ON l.id = (SELECT min(id) FROM charge_line WHERE jar_id = j.id)
    JOIN herb h ON h.id = l.herb_id
    LEFT JOIN straining s ON s.jar_id = j.id AND j.state IN ('strained', 'drained')
    LEFT JOIN tincture t ON t.straining_id = s.id
"""

_UNFINISHED = """
    SELECT id FROM jar WHERE ended_on IS NULL
    UNION ALL
    SELECT s.jar_id FROM to_bottle w CROSS JOIN tincture t ON t.id = w.tincture_id
    CROSS JOIN straining s ON s.id = t.straining_id
"""
"""Jars that steep, or whose tincture isn't all bottled: no other is ever looked at here.

In this order of tables, which SQLite keeps to: else it reads every straining.
"""

_BLENDS_TO_BOTTLE = f"""
    SELECT count(*) FROM to_bottle w CROSS JOIN tincture t ON t.id = w.tincture_id
    WHERE t.straining_id IS NULL AND {LEFT_TO_BOTTLE} >= ?
"""

_OFF_SHELVES = f"""
    SELECT j.code, coalesce(t.name, h.name), h.name, j.state, j.id, NULL, j.filled_on AS began
    FROM jar j
    JOIN charge_line l ON l.id = (SELECT min(id) FROM charge_line WHERE jar_id = j.id)
    JOIN herb h ON h.id = l.herb_id
    LEFT JOIN straining s ON s.jar_id = j.id
    LEFT JOIN tincture t ON t.straining_id = s.id
    WHERE j.state NOT IN ('steeping', 'drained') AND coalesce({LEFT_TO_BOTTLE}, 0) < ?
    UNION ALL
    SELECT t.code, t.name, '', 'blend', NULL, (SELECT min(id) FROM bottle WHERE tincture_id = t.id),
           t.made_on
    FROM tincture t WHERE t.straining_id IS NULL
    ORDER BY began DESC, 1 DESC
"""


def _card(row: tuple[Any, ...]) -> JarCard:
    jar_id, code, herb, more, part, condition, filled, strain, per_day, shaken, covered = row[:11]
    shelf_id, place, loose, drained, others = row[11:]
    return JarCard(
        jar_id=jar_id,
        code=code,
        herb=herb,
        more_herbs=more,
        part=Part(part),
        condition=Condition(condition),
        filled_on=date.fromisoformat(filled),
        strain_on=date.fromisoformat(strain),
        shakes_per_day=per_day,
        shaken=shaken,
        covered=bool(covered),
        shelf_id=shelf_id,
        place=place,
        to_bottle_ml=loose,
        drained_ml=drained,
        others=tuple(json.loads(others)),
    )


def _cards(
    keeper: Keeper, condition: str, today: date, *, with_press: bool = True, **values: object
) -> list[JarCard]:
    named = {"today": today.isoformat(), **values}
    rows = keeper.store.db.execute_sql(f"{_CARDS} WHERE {condition}", named)
    cards = [_card(row) for row in rows]
    if not with_press:
        return cards
    return [_with_press(keeper, card) if card.is_drained else card for card in cards]


def _with_press(keeper: Keeper, card: JarCard) -> JarCard:
    """A drained jar with what a press is expected to give; few are drained at a time."""
    from stillroom.keeping.jars.expecting import press_ml  # no start waits for it

    return card._replace(press_ml=press_ml(keeper, card))


def shelves_view(keeper: Keeper, *, with_press: bool = True) -> ShelvesView:
    """Every plank with the jars that steep on it or wait to be bottled.

    What a press is expected to give is left out where `with_press` is false: the first picture
    doesn't wait for it.
    """
    today = keeper.today
    standing = (
        f"j.id IN ({_UNFINISHED}) AND (j.ended_on IS NULL OR loose >= :least) "
        "ORDER BY j.shelf_id, j.place, j.id"
    )
    by_shelf: dict[int, list[JarCard]] = {}
    for card in _cards(keeper, standing, today, with_press=with_press, least=LOOSE_ML):
        by_shelf.setdefault(card.shelf_id, []).append(card)
    planks = keeper.rows("SELECT id, name, note FROM shelf ORDER BY position, id")
    return ShelvesView(
        today,
        tuple(
            ShelfView(shelf_id, name, note, tuple(by_shelf.get(shelf_id, ())))
            for shelf_id, name, note in planks
        ),
        blends_to_bottle=keeper.rows(_BLENDS_TO_BOTTLE, LOOSE_ML)[0][0],
    )


def jars_off_shelves(keeper: Keeper, text: str) -> list[OffShelf]:
    """The batches with these words in code or name that are not on the shelves, newest first."""
    words = folded(text).split()
    found = keeper.rows(_OFF_SHELVES, LOOSE_ML)
    return [
        OffShelf(code, name, state, jar_id, bottle_id)
        for code, name, herb, state, jar_id, bottle_id, _ in found
        if all(word in folded(f"{code}\n{name}\n{herb}") for word in words)
    ]


def jar_card(keeper: Keeper, jar_id: int) -> JarCard | None:
    """One jar in its present state; None if there is no such jar."""
    found = _cards(keeper, "j.id = :jar", keeper.today, jar=jar_id)
    return found[0] if found else None
