"""A steeping jar corrected from its form: rows in place, the first entry readable."""

from dataclasses import fields, replace
from datetime import timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping.cupboard.cupboard import add_shelf, add_spirit
from stillroom.keeping.drafts import ChargeDraft, JarDraft, ShelfDraft, SpiritDraft
from stillroom.keeping.jars.amending import amend_jar
from stillroom.keeping.jars.jar import fill_jar, top_up
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import jar_history
from stillroom.keeping.ledger_views import Mark
from stillroom.keeping.undo import undo
from stillroom.reckoning.charge import Condition, Part

from ..builders import spirit
from .histories import told_by

ROOT = ChargeDraft("Angelica", Part.ROOT, Condition.DRIED, 100.0)
LEAF = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, 20.0)


def _draft(keeper: Keeper, **changes: object) -> JarDraft:
    day = keeper.today - timedelta(days=3)
    draft = JarDraft((ROOT, LEAF), (spirit(500, 45),), day, day + timedelta(days=30))
    return replace(draft, **changes)  # type: ignore[arg-type]


def _rows(keeper: Keeper) -> list[tuple[object, ...]]:
    return [
        *keeper.rows("SELECT id, herb_id, mass_g FROM charge_line ORDER BY id"),
        *keeper.rows("SELECT id, volume_ml, poured_on FROM pour ORDER BY id"),
    ]


def test_correcting_a_jar_keeps_the_ids_of_its_rows_and_the_day_of_a_top_up(
    keeper: Keeper, clock: SetClock
) -> None:
    draft = _draft(keeper)
    jar_id = fill_jar(keeper, draft).jar_id
    clock.advance(days=1)
    top_up(keeper, jar_id, spirit(80, 60))
    topped_on = keeper.today
    filled_on = draft.filled_on - timedelta(days=2)
    before = _rows(keeper)
    amended = replace(
        draft,
        charges=(LEAF, replace(ROOT, mass_g=90.0)),
        pours=(spirit(80, 60), spirit(480, 45)),  # in another order than they were poured
        filled_on=filled_on,
    )
    amend_jar(keeper, jar_id, amended)
    after = _rows(keeper)
    assert [row[0] for row in after] == [row[0] for row in before]
    assert [row[2] for row in after[:2]] == [90.0, 20.0]
    assert [row[1:] for row in after[2:]] == [
        (480.0, filled_on.isoformat()),
        (80.0, topped_on.isoformat()),
    ]


def test_the_first_entry_is_struck_through_and_the_correction_shows_old_and_new(
    keeper: Keeper,
) -> None:
    draft = _draft(keeper)
    jar_id = fill_jar(keeper, draft).jar_id
    before = told_by(keeper)
    amend_jar(keeper, jar_id, replace(draft, pours=(spirit(480, 45),)))
    corrected, filled = jar_history(keeper, jar_id)
    assert corrected.text == "Liquid 1 500 mL spirit 45 % → 480 mL spirit 45 %"
    assert (filled.mark, filled.later_id) == (Mark.CORRECTED, corrected.line_id)
    undo(keeper)
    assert told_by(keeper) == before
    assert [line.mark for line in jar_history(keeper, jar_id)] == [
        Mark.NONE,
        Mark.UNDONE,
        Mark.NONE,
    ]


def test_more_spirit_than_was_bought_is_refused(keeper: Keeper) -> None:
    spirit_id = add_spirit(keeper, SpiritDraft("Vodka", 40, 600))
    draft = _draft(keeper, pours=(spirit(500, 40, spirit_id),))
    jar_id = fill_jar(keeper, draft).jar_id
    before = told_by(keeper)
    with pytest.raises(Refused, match="not that much of this spirit"):
        amend_jar(keeper, jar_id, replace(draft, pours=(spirit(700, 40, spirit_id),)))
    assert told_by(keeper) == before


def test_a_correction_of_any_fact_of_a_jar_is_in_its_history(keeper: Keeper) -> None:
    draft = _draft(keeper)
    jar_id = fill_jar(keeper, draft).jar_id
    others = {
        "charges": (ROOT,),
        "pours": (spirit(480, 45),),
        "filled_on": draft.filled_on - timedelta(days=1),
        "strain_on": draft.strain_on + timedelta(days=1),
        "shakes_per_day": 3,
        "shelf_id": add_shelf(keeper, ShelfDraft("Cellar")),
        "capacity_ml": 750.0,
        "simmered": True,
        "note": "for winter",
    }
    assert others.keys() == {field.name for field in fields(JarDraft)}
    for name, other in others.items():
        amend_jar(keeper, jar_id, replace(draft, **{name: other}))  # type: ignore[arg-type]
        assert " → " in jar_history(keeper, jar_id)[0].text, name
        undo(keeper)
