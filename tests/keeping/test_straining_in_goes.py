"""A jar drained on one day and pressed on another: one straining, one batch."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.bottles.tinctures import tincture_of_jar
from stillroom.keeping.closing import close_month
from stillroom.keeping.coming_dates import strain_dates
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.day import day_view
from stillroom.keeping.drafts import ChargeDraft, StrainDraft
from stillroom.keeping.jars.jar import discard_jar, shake
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.learning import own_strainings
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import drain, strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import GoView, StrainingView
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import JarState
from stillroom.reckoning.yields import Pressing
from stillroom.records.tables import StrainingGo

from ..builders import filled, spirit, strained
from ..spoiling import without_rules

YESTERDAY, TODAY = date(2026, 11, 25), date(2026, 11, 26)


def at_noon(clock: SetClock, day: date) -> None:
    clock.moment = datetime.combine(day, time(12), UTC)


def sage(keeper: Keeper, mass_g: float | None = 100) -> int:
    """100 g of dried leaf in 500 mL of 40 %, filled a fortnight ago."""
    charge = ChargeDraft("Sage", Part.LEAF, Condition.DRIED, mass_g)
    return filled(keeper, [charge], spirit(500), on=TODAY - timedelta(days=14))


def go(jar_id: int, yield_ml: float, pressing: Pressing, on: date = TODAY) -> StrainDraft:
    return StrainDraft(jar_id, on, yield_ml, pressing)


def drained(keeper: Keeper, yield_ml: float = 300) -> int:
    jar_id = sage(keeper)
    drain(keeper, go(jar_id, yield_ml, Pressing.DRAINED, YESTERDAY))
    return jar_id


def straining_of(keeper: Keeper, jar_id: int) -> StrainingView:
    straining = jar_view(keeper, jar_id).straining
    assert straining is not None
    return straining


def test_a_drained_jar_waits_to_be_pressed_and_shows_what_to_expect(keeper: Keeper) -> None:
    """Pressed, a gram keeps 0.78 mL of what was poured (Moore's manual) and 0.1 g of its own water.

    Of 500 mL and 10 g of plant water, 509.9 mL by the densities of Perry's handbook, 88 mL stay:
    421.8 mL in all, and 121.8 mL after 300 mL.
    """
    jar_id = drained(keeper)
    view = shelves_view(keeper)
    (card,) = view.jars
    assert (card.is_steeping, card.is_drained, card.drained_ml) == (False, True, 300)
    assert card.press_ml == pytest.approx(121.8, abs=0.3)
    assert (view.to_press, view.due_today, view.over, view.to_bottle) == ((card,), (), (), 0)
    assert day_view(keeper).to_press == (card,)
    assert tincture_of_jar(keeper, jar_id) is None
    assert jar_view(keeper, jar_id).state is JarState.DRAINED
    assert trace(keeper, card.code).left_ml == pytest.approx(509.9, abs=0.3)
    assert check(keeper) == []


def test_all_goes_are_one_batch_with_the_method_of_the_last(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    made = strain(keeper, go(jar_id, 110, Pressing.PRESSED))
    assert (made.volume_ml, made.made_on, made.loose_ml) == (410, TODAY, 410)
    straining = straining_of(keeper, jar_id)
    assert (straining.yield_ml, straining.pressing, straining.more) == (410, "pressed", False)
    assert straining.goes == (
        GoView(YESTERDAY, 300, Pressing.DRAINED, "", ""),
        GoView(TODAY, 110, Pressing.PRESSED, "", ""),
    )
    assert shelves_view(keeper).jars[0].to_bottle_ml == 410
    another = jar_view(keeper, sage(keeper))
    assert [own.yield_ml for own in own_strainings(keeper, Pressing.PRESSED, another)] == [410]
    assert own_strainings(keeper, Pressing.DRAINED, another) == []
    assert check(keeper) == []


def test_straining_in_goes_gives_the_same_figures_as_straining_at_once(keeper: Keeper) -> None:
    in_goes = strain(keeper, go(drained(keeper), 110, Pressing.PRESSED))
    at_once = strained(keeper, sage(keeper), 410, Pressing.PRESSED)
    same = replace(
        at_once, tincture_id=in_goes.tincture_id, code=in_goes.code, jar_id=in_goes.jar_id
    )
    assert in_goes == same


def test_a_third_go_may_come_later(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    card = drain(keeper, go(jar_id, 60, Pressing.SQUEEZED))
    assert card.drained_ml == 360
    made = strain(keeper, go(jar_id, 50, Pressing.PRESSED))
    assert made.volume_ml == 410
    assert [g.yield_ml for g in straining_of(keeper, jar_id).goes] == [300, 60, 50]


def test_a_jar_whose_rest_is_not_pressed_was_strained_once(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    draft = StrainDraft(jar_id, TODAY, 0, Pressing.PRESSED, note="marc spoiled")
    made = strain(keeper, draft)
    assert (made.volume_ml, made.made_on) == (300, YESTERDAY)
    straining = straining_of(keeper, jar_id)
    assert (straining.pressing, straining.goes) == (Pressing.DRAINED, ())
    assert straining.note == "marc spoiled"
    assert StrainingGo.select().count() == 0
    assert check(keeper) == []


def test_too_much_is_asked_about_at_every_go_and_too_little_at_the_last(keeper: Keeper) -> None:
    jar_id = sage(keeper)
    drain(keeper, go(jar_id, 20, Pressing.DRAINED))
    with pytest.raises(NeedsConfirmation, match="more than the 515"):
        drain(keeper, go(jar_id, 500, Pressing.DRAINED))
    with pytest.raises(NeedsConfirmation, match="far less"):
        strain(keeper, go(jar_id, 20, Pressing.PRESSED))


def test_goes_are_dated_in_order(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    with pytest.raises(Refused, match="before the day it was drained"):
        strain(keeper, go(jar_id, 100, Pressing.PRESSED, YESTERDAY - timedelta(days=1)))
    with pytest.raises(Refused, match="greater than zero"):
        drain(keeper, go(jar_id, 0, Pressing.PRESSED))


def test_a_drained_jar_is_neither_shaken_nor_discarded(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    with pytest.raises(Refused, match="was drained already"):
        shake(keeper, jar_id)
    with pytest.raises(Refused, match="was drained already"):
        discard_jar(keeper, jar_id, "")


def test_undo_removes_the_goes_one_by_one(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    strain(keeper, go(jar_id, 110, Pressing.PRESSED))
    undo(keeper)
    assert jar_view(keeper, jar_id).state is JarState.DRAINED
    assert straining_of(keeper, jar_id).yield_ml == 300
    undo(keeper)
    assert jar_view(keeper, jar_id).state is JarState.STEEPING
    redo(keeper)
    redo(keeper)
    assert straining_of(keeper, jar_id).yield_ml == 410
    assert check(keeper) == []


def test_the_calendar_has_the_pressing_on_the_next_day(keeper: Keeper, clock: SetClock) -> None:
    jar_id = sage(keeper)
    drain(keeper, go(jar_id, 300, Pressing.DRAINED))
    (entry,) = strain_dates(keeper)
    assert (entry.is_to_press, entry.is_off) == (True, False)
    assert entry.strain_on == TODAY + timedelta(days=1)
    at_noon(clock, TODAY + timedelta(days=5))
    (entry,) = strain_dates(keeper)
    assert entry.strain_on == TODAY + timedelta(days=5)
    strain(keeper, go(jar_id, 110, Pressing.PRESSED, TODAY + timedelta(days=5)))
    (entry,) = strain_dates(keeper)
    assert entry.is_off


def corrected(keeper: Keeper, jar_id: int, **texts: str) -> None:
    named = {name.replace("__", ".").replace("_", "-"): text for name, text in texts.items()}
    correct(keeper, Subject(SubjectKind.JAR, jar_id), named, confirmed=True)


def test_a_go_is_corrected_and_its_batch_with_it(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    strain(keeper, go(jar_id, 110, Pressing.PRESSED))
    corrected(keeper, jar_id, go_1__yield="310 ml", go_2__pressing="squeezed")
    straining, tincture = straining_of(keeper, jar_id), tincture_of_jar(keeper, jar_id)
    assert tincture is not None
    assert (straining.yield_ml, straining.pressing) == (420, Pressing.SQUEEZED)
    assert (tincture.volume_ml, tincture.made_on) == (420, TODAY)
    corrected(keeper, jar_id, go_2__strained="25 Nov 2026")
    tincture = tincture_of_jar(keeper, jar_id)
    assert tincture is not None
    assert tincture.made_on == YESTERDAY
    assert check(keeper) == []


def test_a_go_of_a_drained_jar_is_corrected(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    corrected(keeper, jar_id, go_1__yield="290 ml")
    assert straining_of(keeper, jar_id).yield_ml == 290
    assert shelves_view(keeper).jars[0].drained_ml == 290
    assert check(keeper) == []


def test_with_one_go_removed_the_batch_has_only_the_other(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    strain(keeper, go(jar_id, 110, Pressing.PRESSED))
    corrected(keeper, jar_id, go_2__yield="0")
    straining, tincture = straining_of(keeper, jar_id), tincture_of_jar(keeper, jar_id)
    assert tincture is not None
    assert (straining.yield_ml, straining.pressing, straining.goes) == (300, "drained", ())
    assert (tincture.volume_ml, tincture.made_on) == (300, YESTERDAY)
    assert check(keeper) == []


def test_a_forgotten_pressing_is_added(keeper: Keeper) -> None:
    jar_id = sage(keeper)
    strained(keeper, jar_id, 300, Pressing.DRAINED, on=YESTERDAY)
    corrected(
        keeper, jar_id, go_2__yield="110 ml", go_2__pressing="pressed",
        go_2__strained="26 Nov 2026",
    )  # fmt: skip
    straining = straining_of(keeper, jar_id)
    assert (straining.yield_ml, straining.pressing, straining.strained_on) == (
        410,
        "pressed",
        TODAY,
    )
    assert [g.yield_ml for g in straining.goes] == [300, 110]
    assert check(keeper) == []
    undo(keeper)
    assert straining_of(keeper, jar_id).goes == ()
    assert check(keeper) == []


def test_a_go_before_the_filling_is_refused(keeper: Keeper) -> None:
    jar_id = drained(keeper)
    with pytest.raises(Refused, match="before the jar was filled"):
        corrected(keeper, jar_id, go_1__strained="1 Nov 2026")


def test_a_jar_drained_in_a_closed_month_can_be_pressed(keeper: Keeper, clock: SetClock) -> None:
    save_settings(keeper, replace(settings_of(keeper), maker="AB"))
    jar_id = drained(keeper)
    at_noon(clock, date(2026, 12, 1))
    close_month(keeper, date(2026, 11, 1))
    assert strain(keeper, go(jar_id, 110, Pressing.PRESSED, date(2026, 12, 1))).volume_ml == 410


@pytest.mark.parametrize(
    ("spoiled", "found"),
    [
        ("UPDATE straining SET yield_ml = 420", "come to 410 mL, but its straining is 420 mL"),
        ("UPDATE straining SET pressing = 'squeezed'", "last go of jar 26-001 isn't that of"),
        ("UPDATE straining_go SET strained_on = '2026-11-24'", "last go of jar 26-001 isn't that"),
        ("UPDATE straining SET more = 1", "Jar 26-001 is strained, but its straining record"),
        (
            "UPDATE jar SET state = 'drained', ended_on = NULL",
            "Jar 26-001 is drained, but its straining record",
        ),
    ],
)
def test_check_finds_a_straining_that_is_not_the_sum_of_its_goes(
    keeper: Keeper, spoiled: str, found: str
) -> None:
    strain(keeper, go(drained(keeper), 110, Pressing.PRESSED))
    with without_rules(keeper.store.path) as db:
        db.execute(spoiled)
    assert any(found in finding.what for finding in check(keeper))


def test_check_finds_a_pressing_without_the_draining_before_it(keeper: Keeper) -> None:
    drained(keeper)
    with without_rules(keeper.store.path) as db:
        db.execute("DELETE FROM straining_go")
    (finding,) = check(keeper)
    assert finding.what == "What was strained from jar 26-001 before pressing is missing."
