"""Slips found on a look along the shelf, corrected or refused in words."""

from datetime import date, timedelta

import pytest

from stillroom.clock import SetClock
from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import (
    discard_bottle,
    pour_together,
    put_right,
    set_keep_until,
    take_out,
)
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.correcting.correct import correct, plan_correction
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import FactKind, Subject
from stillroom.keeping.correcting.subjects import subject_of_code, title_of
from stillroom.keeping.cupboard.cupboard import add_spirit, change_herb, change_spirit, spirits
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    ChargeDraft,
    HerbDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.jar import set_dates, shake
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import events
from stillroom.keeping.ledger_views import EventView, Mark
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import undo
from stillroom.reckoning.charge import Condition, Part

from ..builders import bottled, filled, spirit, strained

ROOT = ChargeDraft("Angelica", Part.ROOT, Condition.DRIED, 100.0)
SEED = ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 100.0)


@pytest.fixture
def shelf(keeper: Keeper, clock: SetClock) -> Keeper:
    """Two batches of three bottles each, 26-001 and 26-002, made three weeks after filling."""
    jars = [filled(keeper, [charge], spirit(500, 45)) for charge in (ROOT, SEED)]
    clock.advance(days=21)
    for jar_id in jars:
        made = strained(keeper, jar_id, 330)
        bottled(keeper, made, *[BottleDraft(100, 100)] * 3)
    clock.advance(days=1)
    return keeper


def _held(keeper: Keeper) -> dict[str, float]:
    return {row.code: row.left_ml for row in bottle_rows(keeper)}


def _id(keeper: Keeper, code: str) -> int:
    return next(row.bottle_id for row in bottle_rows(keeper) if row.code == code)


def _correct(keeper: Keeper, code: str, **texts: str) -> None:
    """Correct facts; `movement_1_volume` is `movement-1.volume`."""
    named = {}
    for name, text in texts.items():
        first, _, rest = name.partition("__")
        named[f"{first.replace('_', '-')}.{rest}" if rest else name.replace("_", "-")] = text
    correct(keeper, subject_of_code(keeper, code), named)
    assert check(keeper) == []


def _line(keeper: Keeper) -> EventView:
    return events(keeper, "1", limit=1)[0]


# Days.


def test_only_planned_days_can_be_corrected_to_the_future(shelf: Keeper) -> None:
    take_out(shelf, _id(shelf, "26-001.1"), 10)
    tomorrow = str(shelf.today + timedelta(days=1))
    tried = set()
    for code in ("26-001", "26-001.1"):
        subject = subject_of_code(shelf, code)
        for fact in facts_of(shelf, subject):
            if fact.kind is not FactKind.DAY or fact.name in ("strain", "keep-until"):
                continue
            with pytest.raises(NotUnderstood, match="in the future"):
                plan_correction(shelf, subject, {fact.name: tomorrow})
            tried.add(fact.cell.column)
    assert tried == {"filled_on", "gathered_on", "poured_on", "strained_on", "day"}
    with pytest.raises(NotUnderstood, match="in the future"):
        _correct(shelf, "26-001", shakes=f"{tomorrow}: 1")


def test_days_in_the_wrong_order_offer_the_other_day_as_the_way_out(shelf: Keeper) -> None:
    subject = subject_of_code(shelf, "26-001")
    late = str(shelf.today)
    plan = plan_correction(shelf, subject, {"pour-1.day": late})
    assert "strained" in {fact.name for fact in plan.ways_out}
    plan = plan_correction(shelf, subject, {"strain": "2026-01-01"})
    assert [fact.name for fact in plan.ways_out] == ["filled"]


def test_each_correction_of_a_shake_strikes_through_the_one_before(
    shelf: Keeper, clock: SetClock
) -> None:
    jar_id = filled(shelf, [ROOT], spirit(500, 45))
    shake(shelf, jar_id)
    clock.advance(days=1)
    day = clock.today() - timedelta(days=1)
    _correct(shelf, "26-003", shakes=f"{day.day} {day:%b}: 2")
    assert _line(shelf).text.endswith(", shakes 1 → 2")
    with pytest.raises(Refused, match="Nothing would change"):
        _correct(shelf, "26-003", shakes=f"{day}: 2")
    _correct(shelf, "26-003", shakes=f"{day}: 0")
    assert _line(shelf).text.endswith(", shakes 2 → 0")
    struck = [line.text for line in events(shelf, "1") if line.mark is Mark.CORRECTED]
    assert any(text.endswith(", shakes 1 → 2") for text in struck)


# Jars.


def test_some_liquid_must_be_left_in_a_jar(shelf: Keeper) -> None:
    before = tincture_view(shelf, 1)
    with pytest.raises(Refused, match=r"26-001 needs liquid"):
        _correct(shelf, "26-001", pour_1__volume="0")
    assert tincture_view(shelf, 1) == before
    _correct(shelf, "26-001", pour_1__volume="0", pour_2__volume="500 ml", pour_2__strength="45 %")
    assert tincture_view(shelf, 1).strength_abv == before.strength_abv


# Movements.


def test_an_entry_moved_to_another_bottle_is_in_the_history_of_both(shelf: Keeper) -> None:
    take_out(shelf, _id(shelf, "26-001.1"), 10)
    _correct(shelf, "26-001.1", movement_1__bottle="26-002.2")
    found = {line.bottle_id: line.text for line in events(shelf, "1") if line.kind == "corrected"}
    assert found == {
        _id(shelf, "26-001.1"): "Movement 1, bottle 26-001.1 → 26-002.2",
        _id(shelf, "26-002.2"): "From 26-001.1: Movement 1, bottle 26-001.1 → 26-002.2",
    }


def test_liquid_poured_together_is_corrected_in_both_bottles(shelf: Keeper) -> None:
    take_out(shelf, _id(shelf, "26-001.1"), 60)
    take_out(shelf, _id(shelf, "26-001.2"), 70)
    pour_together(shelf, _id(shelf, "26-001.1"), _id(shelf, "26-001.2"))
    assert _held(shelf)["26-001.2"] == pytest.approx(70)
    _correct(shelf, "26-001.2", movement_2__volume="30 ml")
    held = _held(shelf)
    assert (held["26-001.1"], held["26-001.2"]) == pytest.approx((10, 60))
    struck = [e.kind for e in events(shelf, "1") if e.mark is Mark.CORRECTED]
    assert struck == ["pour together"] * 2
    # Correcting a draw later leaves it as it was entered.
    _correct(shelf, "26-001.1", movement_1__volume="55 ml")
    assert _held(shelf)["26-001.1"] == pytest.approx(15)
    _correct(shelf, "26-001.1", movement_2__bottle="26-001.3")
    held = _held(shelf)
    assert (held["26-001.1"], held["26-001.2"], held["26-001.3"]) == pytest.approx((45, 60, 70))
    with pytest.raises(Refused, match="Only bottles of one batch"):
        _correct(shelf, "26-001.3", movement_1__bottle="26-002.1")
    with pytest.raises(Refused, match="is the other bottle"):
        _correct(shelf, "26-001.3", movement_1__bottle="26-001.2")
    day = shelf.today - timedelta(days=1)
    _correct(shelf, "26-001.3", movement_1__day=str(day))
    days = shelf.rows("SELECT DISTINCT day FROM movement WHERE kind = 'pour together'")
    assert days == [(str(day),)]
    _correct(shelf, "26-001.3", movement_1__volume="0")
    held = _held(shelf)
    assert (held["26-001.1"], held["26-001.2"], held["26-001.3"]) == pytest.approx((45, 30, 100))


def test_a_discard_is_corrected_to_a_gift_another_bottle_or_a_part(shelf: Keeper) -> None:
    discard_bottle(shelf, _id(shelf, "26-001.1"), "cloudy")
    _correct(shelf, "26-001.1", movement_1__bottle="26-001.2")
    assert _held(shelf)["26-001.1"] == 100
    assert "26-001.2" not in _held(shelf)  # it is empty
    _correct(shelf, "26-001.2", movement_1__volume="60 ml")
    assert _held(shelf)["26-001.2"] == pytest.approx(40)
    _correct(shelf, "26-001.2", movement_1__kind="give", movement_1__for="Ada")
    assert shelf.rows("SELECT kind, person FROM movement WHERE kind = 'give'") == [("give", "Ada")]


def test_a_count_is_moved_to_another_bottle_or_removed(shelf: Keeper) -> None:
    put_right(shelf, _id(shelf, "26-001.1"), 80)
    _correct(shelf, "26-001.1", movement_1__bottle="26-001.2")
    assert (_held(shelf)["26-001.1"], _held(shelf)["26-001.2"]) == (100, 80)
    _correct(shelf, "26-001.2", movement_1__seen="none")
    assert _held(shelf)["26-001.2"] == 100
    assert _line(shelf).text == "Movement 1, held when seen 80 mL → removed"


def test_a_part_of_a_blend_can_be_corrected_from_its_bottle(shelf: Keeper) -> None:
    parts = tuple(BlendPartDraft(_id(shelf, c), 50) for c in ("26-001.1", "26-002.1"))
    blend = make_blend(shelf, BlendDraft("Winter", parts, shelf.today))
    _correct(shelf, "26-001.1", movement_1__volume="40 ml")
    assert tincture_view(shelf, blend.tincture_id).volume_ml == pytest.approx(90)
    assert "blended" in [e.kind for e in events(shelf, "1") if e.mark is Mark.CORRECTED]
    with pytest.raises(Refused, match="needs two tinctures"):
        _correct(shelf, "26-001.1", movement_1__volume="0")


# Keep-until dates.


def test_a_keep_until_date_is_set_by_hand_and_then_calculated_again(shelf: Keeper) -> None:
    usual = tincture_view(shelf, 1).keep_until
    made_on = tincture_view(shelf, 1).made_on
    by_hand = made_on + timedelta(days=400)
    parts = tuple(BlendPartDraft(_id(shelf, c), 50) for c in ("26-001.1", "26-002.1"))
    blend = make_blend(shelf, BlendDraft("Winter", parts, shelf.today))
    _correct(shelf, "26-001", keep_until=str(by_hand))
    assert tincture_view(shelf, 1).keep_until == by_hand
    assert tincture_view(shelf, blend.tincture_id).keep_until == by_hand
    _correct(shelf, "26-001", strained=str(made_on - timedelta(days=1)))
    assert tincture_view(shelf, 1).keep_until == by_hand
    with pytest.raises(Refused, match="before the day it was made"):
        _correct(shelf, "26-001", keep_until="2026-01-01")
    _correct(shelf, "26-001", strained=str(made_on), keep_until="usual")
    assert tincture_view(shelf, 1).keep_until == usual
    _correct(shelf, "26-003", keep_until="none")
    assert tincture_view(shelf, blend.tincture_id).keep_until is None


def test_more_days_for_what_will_not_keep_need_a_question(shelf: Keeper, clock: SetClock) -> None:
    weak = strained(shelf, filled(shelf, [ROOT], spirit(500, 15)), 330)
    late = str(weak.made_on + timedelta(days=300))
    subject = subject_of_code(shelf, "26-003")
    with pytest.raises(NeedsConfirmation, match="The usual date is"):
        correct(shelf, subject, {"keep-until": late})
    correct(shelf, subject, {"keep-until": late}, confirmed=True)
    assert str(tincture_view(shelf, weak.tincture_id).keep_until) == late


def test_correcting_a_keep_until_date_strikes_through_the_line_that_set_it(shelf: Keeper) -> None:
    set_keep_until(shelf, 1, date(2027, 1, 1))
    assert _line(shelf).text.endswith(" → 1 Jan 2027")
    _correct(shelf, "26-001", keep_until="2027-02-01")
    struck = [e.kind for e in events(shelf, "1") if e.mark is Mark.CORRECTED]
    assert struck == ["keep until"]


# The cupboard.


def _bought(keeper: Keeper, day: date, name: str = "Vodka", **facts: float) -> int:
    return add_spirit(keeper, SpiritDraft(name, 40.0, bought_on=day, **facts))  # type: ignore[arg-type]


def test_spirits_of_one_name_are_told_apart_by_day_or_number(shelf: Keeper) -> None:
    first, second = (_bought(shelf, date(2026, month, 3)) for month in (3, 5))
    with pytest.raises(Refused, match=rf"number {first} \(3 Mar 2026\), number {second}"):
        subject_of_code(shelf, "vodka")
    for text in (
        "Vodka 2026-05-03",
        "vodka 3 May 2026",
        "Vodka bought 3 May 2026",
        f"number {second}",
    ):
        assert subject_of_code(shelf, text).row_id == second
    assert title_of(shelf, subject_of_code(shelf, f"number {second}")) == "Vodka bought 3 May 2026"
    _bought(shelf, date(2026, 5, 3), name="Fennel")
    with pytest.raises(Refused, match="A spirit and a herb are called Fennel"):
        subject_of_code(shelf, "Fennel")
    assert subject_of_code(shelf, "herb fennel").kind == "herb"


def test_the_two_halves_of_a_divided_purchase_are_named_apart(shelf: Keeper) -> None:
    bought = _bought(shelf, date(2026, 3, 3), bought_ml=1000.0, price=20.0)
    jar_id = filled(shelf, [ROOT], spirit(400, 40, bought))
    _correct(shelf, "Vodka", price="30", **{"for": "from now on"})
    (rest, poured) = spirits(shelf)
    assert (rest.left_ml, poured.left_ml) == pytest.approx((600, 0))
    titles = {
        title_of(shelf, subject_of_code(shelf, f"number {s.spirit_id}")) for s in (rest, poured)
    }
    assert len(titles) == 2
    subject = subject_of_code(shelf, "26-003")
    assert subject.row_id == jar_id
    choices = next(f.choices for f in facts_of(shelf, subject) if f.name == "pour-1.spirit")
    assert len({label for _, label in choices}) == len(choices)
    told = {spirit_id for (spirit_id,) in shelf.rows("SELECT spirit_id FROM event")}
    assert {rest.spirit_id, poured.spirit_id} <= told
    # The way out of pouring more than was bought names the one it was poured from.
    plan = plan_correction(shelf, subject, {"pour-1.volume": "450 ml"})
    assert [f.name for f in plan.ways_out] == [f"number {poured.spirit_id}:volume"]


@pytest.mark.parametrize("strength", ["0 %", "0"])
def test_a_spirit_must_have_some_strength(shelf: Keeper, strength: str) -> None:
    _bought(shelf, date(2026, 3, 3))
    with pytest.raises((Refused, NotUnderstood), match="above 0 %"):
        _correct(shelf, "Vodka", strength=strength)


def test_merging_two_herbs_names_both_in_the_ledger(shelf: Keeper) -> None:
    correct(shelf, subject_of_code(shelf, "Fennel"), {"merge": "Angelica"})
    assert _line(shelf).text == "Same herb as Fennel → Angelica"
    undo(shelf)


def test_a_change_made_in_the_cupboard_is_in_the_ledger_with_old_and_new(shelf: Keeper) -> None:
    spirit_id = _bought(shelf, date(2026, 3, 3), price=20.0)
    change_spirit(shelf, spirit_id, SpiritDraft("Vodka", 38.0, bought_on=date(2026, 3, 3)))
    assert _line(shelf).text == "Strength 40 → 38 %; Price 20.00 → none"
    fennel = subject_of_code(shelf, "Fennel").row_id
    change_herb(shelf, fennel, HerbDraft("Fennel", "Foeniculum vulgare", note="sown in May"))
    assert _line(shelf).text == "Botanical name none → Foeniculum vulgare; Note none → sown in May"
    jar_id = filled(shelf, [ROOT], spirit(500, 45))
    set_dates(shelf, jar_id, shelf.today, shelf.today + timedelta(days=20), 1)
    was, now = (shelf.today + timedelta(days=days) for days in (14, 20))
    said = f"Strain on {was.day} {was:%b %Y} → {now.day} {now:%b %Y}"
    assert said in _line(shelf).text


def test_two_long_notes_fit_in_one_ledger_line(shelf: Keeper) -> None:
    fennel = subject_of_code(shelf, "Fennel").row_id
    for letter in "ab":
        change_herb(shelf, fennel, HerbDraft("Fennel", "", note=letter * 19_000))
    assert len(_line(shelf).text) == 20_000
    correct(shelf, Subject(subject_of_code(shelf, "Fennel").kind, fennel), {"note": "c" * 19_000})
    assert len(_line(shelf).text) == 20_000
