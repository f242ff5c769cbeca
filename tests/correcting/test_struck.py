"""Which ledger lines a correction strikes through, and what stays as it was shown."""

from datetime import timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import put_right, take_out
from stillroom.keeping.correcting.correct import correct, plan_correction
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.correcting.subjects import subject_of_code, subjects_of_event
from stillroom.keeping.drafts import BottleDraft, ChargeDraft
from stillroom.keeping.jars.jar import shake
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import events
from stillroom.keeping.ledger_views import EventView, Mark
from stillroom.keeping.undo import undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.yields import Pressing

from ..builders import bottled, filled, retentions_seen, spirit, strained

ROOT = ChargeDraft("Angelica", Part.ROOT, Condition.DRIED, 100.0)


@pytest.fixture
def jar(keeper: Keeper, clock: SetClock) -> Subject:
    """A jar filled, shaken, strained, bottled, drawn from and counted, each on its day."""
    jar_id = filled(keeper, [ROOT], spirit(500, 45))
    clock.advance(days=1)
    shake(keeper, jar_id)
    clock.advance(days=20)
    made = strained(keeper, jar_id, 330)
    clock.advance(days=1)
    bottled(keeper, made, BottleDraft(250, 250), BottleDraft(50, 50))
    clock.advance(days=1)
    first, _ = bottle_rows(keeper)
    take_out(keeper, first.bottle_id, 30)
    clock.advance(days=1)
    put_right(keeper, first.bottle_id, 200)
    clock.advance(days=1)
    return Subject(SubjectKind.JAR, jar_id)


def _struck(keeper: Keeper) -> list[EventView]:
    return [line for line in events(keeper, "1") if line.mark is Mark.CORRECTED]


@pytest.mark.parametrize(
    ("code", "name", "text", "struck", "said"),
    [
        ("26-001", "weight", "90 g", {"filled"}, "Weight 100 → 90 g"),
        ("26-001", "pour-1.strength", "50 %", {"filled"}, "Liquid 1, strength 45 → 50 %"),
        ("26-001", "yield", "340 ml", {"strained"}, "Yield 330 → 340 mL"),
        ("26-001", "bottle-2.place", "Attic", {"bottled"}, "Bottle 2, place none → Attic"),
        ("26-001.1", "movement-1.volume", "20 ml", {"draw"}, "Movement 1, volume 30 → 20 mL"),
        ("26-001.1", "movement-2.seen", "190 ml", {"count"}, "Movement 2, held when seen 200 → "),
        ("Angelica", "name", "Angelica root", set(), "Name Angelica → Angelica root"),
    ],
)
def test_the_line_that_recorded_a_fact_is_struck_through_beside_its_correction(
    keeper: Keeper, jar: Subject, code: str, name: str, text: str, struck: set[str], said: str
) -> None:
    subject = subject_of_code(keeper, code)
    correct(keeper, subject, {name: text}, why="misread")
    (newest, *_) = events(keeper, "1", limit=1)
    assert newest.kind == "corrected"
    assert newest.text.startswith(said)
    assert {line.kind for line in _struck(keeper)} == struck
    assert all(line.later_id == newest.line_id for line in _struck(keeper))
    assert subject in subjects_of_event(keeper, newest.event_id)
    undo(keeper)
    assert _struck(keeper) == []


def test_a_second_correction_strikes_through_the_first(keeper: Keeper, jar: Subject) -> None:
    correct(keeper, jar, {"yield": "340 ml"})
    correct(keeper, jar, {"weight": "90 g"})
    correct(keeper, jar, {"yield": "345 ml"})
    struck = {line.text: line.later_id for line in _struck(keeper)}
    assert "Yield 330 → 340 mL" in struck
    assert "Weight 100 → 90 g" not in struck


def test_the_number_of_shakes_on_an_earlier_day_is_corrected(keeper: Keeper, jar: Subject) -> None:
    (day,) = jar_view(keeper, jar.row_id).days_shaken
    correct(keeper, jar, {"shakes": f"{day}: 3; {day + timedelta(days=1)}: 1"})
    shaken = jar_view(keeper, jar.row_id).days_shaken
    assert shaken == {day: 3, day + timedelta(days=1): 1}
    correct(keeper, jar, {"shakes": f"{day}: 0"})
    assert jar_view(keeper, jar.row_id).days_shaken == {day + timedelta(days=1): 1}


def test_a_straining_set_aside_no_longer_teaches_and_what_was_shown_that_day_stays(
    keeper: Keeper, jar: Subject
) -> None:
    other = filled(keeper, [ROOT], spirit(500, 45))
    to_strain = jar_view(keeper, other)
    assert len(retentions_seen(keeper, to_strain, Pressing.SQUEEZED)) == 1
    expected = jar_view(keeper, jar.row_id).straining
    correct(keeper, jar, {"teaches": "no"})
    assert retentions_seen(keeper, to_strain, Pressing.SQUEEZED) == []
    correct(keeper, jar, {"teaches": "yes", "weight": "80 g"}, confirmed=True)
    (seen,) = retentions_seen(keeper, to_strain, Pressing.SQUEEZED)
    # 500 mL of 45 % and 8 g of water in 80 g of dried herb; 330 mL came out.
    assert seen == pytest.approx((500 + 8 / 0.99820 - 330) / 80, abs=0.05)
    now = jar_view(keeper, jar.row_id).straining
    assert expected is not None
    assert now is not None
    assert now.expected_ml == expected.expected_ml


def test_the_rest_written_off_at_bottling_stays_unless_corrected(
    keeper: Keeper,
) -> None:
    jar_id = filled(keeper, [ROOT], spirit(500, 45))
    made = strained(keeper, jar_id, 330)
    bottled(keeper, made, BottleDraft(250, 250), write_off_rest=True)
    subject = Subject(SubjectKind.JAR, jar_id)

    def lost() -> object:
        return {fact.name: fact.value for fact in facts_of(keeper, subject)}["lost"]

    assert lost() == 80
    correct(keeper, subject, {"yield": "340 ml"})
    assert lost() == 90
    correct(keeper, subject, {"bottle-1.volume": "240 ml"})
    assert lost() == 100
    correct(keeper, subject, {"bottle-2.size": "30 ml"})
    assert lost() == 70
    correct(keeper, subject, {"lost": "60 ml"})
    assert lost() == 60
    correct(keeper, subject, {"yield": "330 ml"})
    assert lost() == 60


def test_a_count_stays_as_seen_when_an_earlier_draw_is_corrected(
    keeper: Keeper, jar: Subject
) -> None:
    bottle = subject_of_code(keeper, "26-001.1")
    plan = plan_correction(keeper, bottle, {"movement-1.volume": "45 ml"})
    assert plan.effects == ()
    correct(keeper, bottle, {"movement-1.volume": "45 ml"})
    assert keeper.rows("SELECT volume_ml FROM movement WHERE kind = 'count'") == [(-5.0,)]
    correct(keeper, bottle, {"movement-1.volume": "50 ml"})
    # Nothing was missing then: the entry of the count goes.
    assert keeper.rows("SELECT volume_ml FROM movement WHERE kind = 'count'") == []
    assert next(b for b in bottle_rows(keeper) if b.code == "26-001.1").left_ml == 200


def test_facts_of_two_subjects_are_corrected_in_one_act(keeper: Keeper, jar: Subject) -> None:
    before = keeper.rows("SELECT count(*) FROM action")
    texts = {"bottle-1.volume": "245 ml", "26-001.1:movement-1.volume": "25 ml"}
    plan = correct(keeper, jar, texts)
    assert [change.name for change in plan.changes] == list(texts)
    assert keeper.rows("SELECT count(*) FROM action") == [(before[0][0] + 1,)]
    kinds = {line.kind for line in _struck(keeper)}
    assert kinds == {"bottled", "draw"}
