"""Bottles: what is drawn, given, spilled, weighed, poured together, moved and discarded."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom.clock import SetClock
from stillroom.dates import show_day
from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.bottle_views import (
    bottle_row,
    bottle_rows,
    bottle_view,
    bottles_by_id,
)
from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.bottles.stock import (
    discard_bottle,
    first_to_expire,
    move_bottle,
    pour_together,
    put_right,
    set_keep_until,
    take_out,
    weigh_in,
)
from stillroom.keeping.bottles.stocktake import settle_stocktake
from stillroom.keeping.bottles.tinctures import tincture_view, unbottled
from stillroom.keeping.drafts import (
    ALL,
    BlendDraft,
    BlendPartDraft,
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import events
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow
from stillroom.quantities import UnitSystem
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind, MovementKind
from stillroom.reckoning.yields import Pressing
from stillroom.records.store import Store
from stillroom.records.tables import Tincture

from ..builders import bottled as fill_bottles
from ..builders import filled, spirit, strained
from ..examples import examples

Bottled = Callable[..., list[BottleRow]]


@pytest.fixture
def fennel(bottled: Bottled) -> BottleRow:
    """A full bottle of 100 mL."""
    (row,) = bottled("Fennel")
    return row


@pytest.mark.parametrize(
    ("kind", "title"), [("draw", "Drew"), ("give", "Gave"), ("spill", "Spilled")]
)
def test_liquid_is_taken_out_with_its_kind_initials_and_day(
    keeper: Keeper, fennel: BottleRow, kind: str, title: str
) -> None:
    keeper.store.db.execute_sql("INSERT INTO setting (name, value) VALUES ('maker', 'AB')")
    keeper.forget_settings()
    after = take_out(
        keeper, fennel.bottle_id, 30, kind=MovementKind(kind), person=" Ada ", note="Cold"
    )
    assert after.left_ml == 70
    last = bottle_view(keeper, fennel.bottle_id).movements[-1]
    assert (last.kind, last.volume_ml, last.left_ml) == (kind, -30, 70)
    assert (last.person, last.note, last.maker, last.day) == ("Ada", "Cold", "AB", keeper.today)
    (said,) = events(keeper, "e.kind = ?", kind)
    assert (said.text, said.bottle_id) == ("−30 mL for Ada · Cold", fennel.bottle_id)
    assert undo(keeper) == f"{title} 30 mL from 26-001.1"
    assert bottle_row(keeper, fennel.bottle_id) == fennel


@pytest.mark.parametrize(
    ("volume_ml", "kind", "said"),
    [
        (101, "draw", "Not enough left: 26-001.1 holds 100 mL, not 101 mL."),
        (float("inf"), "draw", "The volume must be greater than zero."),
        (0, "draw", "The volume must be greater than zero."),
        (0.001, "draw", "That is too little to record. Check the volume."),
        (-5, "give", "The volume must be greater than zero."),
        (float("nan"), "spill", "The volume must be greater than zero."),
        (
            5,
            "count",
            "The kind must be draw, give, spill, filtered off, dregs, evaporated, sample or "
            "spoiled.",
        ),
    ],
)
def test_an_impossible_draw_is_refused(
    keeper: Keeper, fennel: BottleRow, volume_ml: float, kind: str, said: str
) -> None:
    with pytest.raises(Refused) as refusal:
        take_out(keeper, fennel.bottle_id, volume_ml, kind=MovementKind(kind))
    assert str(refusal.value) == said
    assert bottle_row(keeper, fennel.bottle_id) == fennel


def test_the_note_of_a_draw_can_be_as_long_as_the_schema_allows(
    keeper: Keeper, fennel: BottleRow
) -> None:
    """CHECK (length(note) <= 2000)."""
    take_out(keeper, fennel.bottle_id, 5, note="x" * 2000)
    assert len(bottle_view(keeper, fennel.bottle_id).movements[-1].note) == 2000
    with pytest.raises(NotUnderstood, match="at most 2000"):
        take_out(keeper, fennel.bottle_id, 5, note="x" * 2001)


def test_the_name_of_who_got_it_follows_the_rules_for_names(
    keeper: Keeper, fennel: BottleRow
) -> None:
    take_out(keeper, fennel.bottle_id, 5, person="x" * 200)
    assert len(bottle_view(keeper, fennel.bottle_id).movements[-1].person) == 200
    for name in ("x" * 201, "bell \a"):
        with pytest.raises(NotUnderstood, match="The name"):
            take_out(keeper, fennel.bottle_id, 5, person=name)


def test_a_draw_from_before_a_count_is_asked_about(
    keeper: Keeper, clock: SetClock, fennel: BottleRow
) -> None:
    filled_on = keeper.today
    clock.advance(days=5)
    put_right(keeper, fennel.bottle_id, 70)
    clock.advance(days=1)
    with pytest.raises(NeedsConfirmation, match="was counted on"):
        take_out(keeper, fennel.bottle_id, 30, day=filled_on)
    assert take_out(keeper, fennel.bottle_id, 30, day=filled_on, confirmed=True).left_ml == 40
    assert take_out(keeper, fennel.bottle_id, 10).left_ml == 30


def test_what_will_not_keep_gets_more_days_only_when_confirmed(
    keeper: Keeper, bottled: Bottled
) -> None:
    (weak,) = bottled("Fennel", spirit_abv=15)
    for day in (None, keeper.today + timedelta(days=30)):
        with pytest.raises(NeedsConfirmation, match="Too weak to keep"):
            set_keep_until(keeper, weak.tincture_id, day)
    set_keep_until(keeper, weak.tincture_id, keeper.today + timedelta(days=2))
    set_keep_until(keeper, weak.tincture_id, None, confirmed=True)
    assert bottle_row(keeper, weak.bottle_id).keep_until is None


@pytest.mark.parametrize("drawn_ml", [11.3, 11.34, 11.26])
def test_drawing_the_volume_shown_empties_the_bottle(
    keeper: Keeper, fennel: BottleRow, drawn_ml: float
) -> None:
    take_out(keeper, fennel.bottle_id, 100 - 11.28)
    assert take_out(keeper, fennel.bottle_id, drawn_ml).left_ml == 0
    undo(keeper)
    with pytest.raises(Refused, match=r"holds 11\.3 mL"):
        take_out(keeper, fennel.bottle_id, 11.4)
    assert take_out(keeper, fennel.bottle_id, 11.2).left_ml == pytest.approx(0.08)


def test_a_draw_of_some_days_ago_can_be_entered_today(
    keeper: Keeper, clock: SetClock, fennel: BottleRow
) -> None:
    filled_on = keeper.today
    clock.advance(days=9)
    take_out(keeper, fennel.bottle_id, 30, note="For Ada", day=filled_on + timedelta(days=2))
    last = bottle_view(keeper, fennel.bottle_id).movements[-1]
    assert last.day == filled_on + timedelta(days=2)
    (said,) = events(keeper, "e.kind = 'draw'")
    assert said.text == f"−30 mL on {show_day(last.day)} · For Ada"
    for day in (filled_on - timedelta(days=1), keeper.today + timedelta(days=1)):
        with pytest.raises(Refused, match="enter a date from then until today"):
            take_out(keeper, fennel.bottle_id, 30, day=day)


def test_the_last_drop_leaves_exactly_nothing(keeper: Keeper, fennel: BottleRow) -> None:
    take_out(keeper, fennel.bottle_id, 33.3)
    assert take_out(keeper, fennel.bottle_id, 66.7 + EMPTY_ML / 2).left_ml == 0
    assert [m.left_ml for m in bottle_view(keeper, fennel.bottle_id).movements][-1] == 0
    with pytest.raises(Refused, match=r"Bottle 26-001\.1 is empty\."):
        take_out(keeper, fennel.bottle_id, 1)
    assert bottle_rows(keeper) == []
    assert [row.code for row in bottle_rows(keeper, empties=True)] == ["26-001.1"]


def test_an_impossible_note_is_refused(keeper: Keeper, fennel: BottleRow) -> None:
    with pytest.raises(NotUnderstood, match="The note is too long"):
        take_out(keeper, fennel.bottle_id, 1, note="x" * 2001)
    with pytest.raises(NotUnderstood, match="can't be shown"):
        take_out(keeper, fennel.bottle_id, 1, note="bell \a")
    assert bottle_row(keeper, fennel.bottle_id) == fennel


@pytest.mark.parametrize("kind", ["draw", "give"])
def test_a_draw_from_a_bottle_past_its_date_is_asked_about_once(
    keeper: Keeper, fennel: BottleRow, clock: SetClock, kind: str
) -> None:
    set_keep_until(keeper, fennel.tincture_id, keeper.today)
    take_out(keeper, fennel.bottle_id, 10, kind=MovementKind(kind))
    clock.advance(days=1)
    with pytest.raises(NeedsConfirmation, match="passed its keep-until date, 26 Nov 2026"):
        take_out(keeper, fennel.bottle_id, 10, kind=MovementKind(kind))
    assert (
        take_out(keeper, fennel.bottle_id, 10, kind=MovementKind(kind), confirmed=True).left_ml
        == 80
    )


def test_a_spill_from_a_bottle_past_its_date_is_recorded_without_a_question(
    keeper: Keeper, fennel: BottleRow, clock: SetClock
) -> None:
    set_keep_until(keeper, fennel.tincture_id, keeper.today)
    clock.advance(days=1)
    assert take_out(keeper, fennel.bottle_id, 10, kind=MovementKind.SPILL).left_ml == 90


def test_a_bottle_is_corrected_by_weight_through_its_density(
    keeper: Keeper, bottled: Bottled
) -> None:
    """OIML R 22: 930.14 kg/m³ at 50 % vol and 20 °C, so 74.411 g are 80 mL."""
    (row,) = bottled("Fennel", spirit_abv=60, measured_abv=50)
    after = weigh_in(keeper, row.bottle_id, 150 + 74.411, 150, note="Kitchen scales")
    assert after.left_ml == pytest.approx(80, abs=0.01)
    last = bottle_view(keeper, row.bottle_id).movements[-1]
    assert (last.kind, last.note) == ("weigh in", "Kitchen scales")


def test_an_impossible_weight_is_refused(keeper: Keeper, fennel: BottleRow) -> None:
    with pytest.raises(Refused, match="full weight must be at least the empty weight"):
        weigh_in(keeper, fennel.bottle_id, 100, 150)
    with pytest.raises(Refused, match="zero or more"):
        weigh_in(keeper, fennel.bottle_id, 100, -1)
    with pytest.raises(Refused, match="holds at most 100 mL"):
        weigh_in(keeper, fennel.bottle_id, 500, 150)
    with keeper.act("Forgot the strength"):
        Tincture.update(strength_abv=None, strength_by="unknown").execute()
    with pytest.raises(Refused, match="strength is not known"):
        weigh_in(keeper, fennel.bottle_id, 200, 150)


def test_an_impossible_weight_is_refused_in_the_units_of_the_shelf(
    keeper: Keeper, fennel: BottleRow
) -> None:
    """An ounce is 28.35 g: 4 oz full and 6 oz empty."""
    save_settings(keeper, replace(settings_of(keeper), units=UnitSystem.US))
    with pytest.raises(Refused, match=r"at least the empty weight, 6 oz, not 4 oz\.$"):
        weigh_in(keeper, fennel.bottle_id, 113.398, 170.097)


@pytest.mark.parametrize(("seen_ml", "moved_ml"), [(80, -20), (0, -100)])
def test_a_count_records_the_difference(
    keeper: Keeper, fennel: BottleRow, seen_ml: float, moved_ml: float
) -> None:
    assert put_right(keeper, fennel.bottle_id, seen_ml).left_ml == seen_ml
    last = bottle_view(keeper, fennel.bottle_id).movements[-1]
    assert (last.kind, last.volume_ml) == ("count", moved_ml)


def test_a_count_may_find_more_up_to_the_size_of_the_bottle(
    keeper: Keeper, fennel: BottleRow
) -> None:
    take_out(keeper, fennel.bottle_id, 60)
    assert put_right(keeper, fennel.bottle_id, 100).left_ml == 100


@pytest.mark.parametrize(
    ("seen_ml", "said"),
    [
        (100.1, "Bottle 26-001.1 holds at most 100 mL."),
        (-0.1, "A bottle's content can't be negative."),
        (float("nan"), "A bottle's content can't be negative."),
        (100, "Bottle 26-001.1 holds exactly what is recorded."),
    ],
)
def test_an_impossible_or_unchanged_count_is_refused(
    keeper: Keeper, fennel: BottleRow, seen_ml: float, said: str
) -> None:
    with pytest.raises(Refused) as refusal:
        put_right(keeper, fennel.bottle_id, seen_ml)
    assert str(refusal.value) == said
    assert bottle_row(keeper, fennel.bottle_id) == fennel


def test_two_part_bottles_of_a_batch_become_one(keeper: Keeper, bottled: Bottled) -> None:
    small, large = bottled("Fennel", sizes_ml=(50, 100))
    take_out(keeper, small.bottle_id, 10)
    take_out(keeper, large.bottle_id, 70)
    after = pour_together(keeper, small.bottle_id, large.bottle_id)
    assert (after.left_ml, bottle_row(keeper, small.bottle_id).left_ml) == (70, 0)
    given = bottle_view(keeper, small.bottle_id).movements[-1]
    assert (given.kind, given.note) == ("pour together", "into 26-001.2")
    assert undo(keeper) == "Poured 26-001.1 into 26-001.2"
    assert bottle_row(keeper, small.bottle_id).left_ml == 40


def test_pouring_together_stops_when_the_bottle_is_full(keeper: Keeper, bottled: Bottled) -> None:
    small, large = bottled("Fennel", sizes_ml=(50, 100))
    take_out(keeper, small.bottle_id, 10)
    assert pour_together(keeper, large.bottle_id, small.bottle_id).left_ml == 50
    assert bottle_row(keeper, large.bottle_id).left_ml == 90
    with pytest.raises(Refused, match=r"Bottle 26-001\.1 is full\."):
        pour_together(keeper, large.bottle_id, small.bottle_id)


def test_bottles_of_different_batches_are_not_poured_together(
    keeper: Keeper, bottled: Bottled
) -> None:
    first, second = bottled("Fennel", sizes_ml=(50, 50))
    (anise,) = bottled("Anise")
    with pytest.raises(Refused, match="two different bottles"):
        pour_together(keeper, first.bottle_id, first.bottle_id)
    with pytest.raises(Refused, match="Only bottles of one batch"):
        pour_together(keeper, first.bottle_id, anise.bottle_id)
    discard_bottle(keeper, first.bottle_id, "Cloudy")
    with pytest.raises(Refused, match=r"Bottle 26-001\.1 is empty\."):
        pour_together(keeper, first.bottle_id, second.bottle_id)


def test_a_bottle_has_the_place_it_was_moved_to(keeper: Keeper, fennel: BottleRow) -> None:
    assert move_bottle(keeper, fennel.bottle_id, "  Cool   larder ").place == "Cool larder"
    assert move_bottle(keeper, fennel.bottle_id, "").place == ""
    assert undo(keeper) == "Moved 26-001.1 to no place"
    assert bottle_row(keeper, fennel.bottle_id).place == "Cool larder"
    with pytest.raises(NotUnderstood, match="The place is too long"):
        move_bottle(keeper, fennel.bottle_id, "x" * 201)


def test_a_discarded_bottle_keeps_its_history(keeper: Keeper, fennel: BottleRow) -> None:
    take_out(keeper, fennel.bottle_id, 30)
    assert discard_bottle(keeper, fennel.bottle_id, "Cloudy").left_ml == 0
    told = [(m.kind, m.volume_ml) for m in bottle_view(keeper, fennel.bottle_id).movements]
    assert told == [("fill", 100), ("draw", -30), ("discard", -70)]
    with pytest.raises(Refused, match="already empty"):
        discard_bottle(keeper, fennel.bottle_id, "Cloudy")


def test_a_keep_until_date_can_be_changed_but_not_to_before_it_was_made(
    keeper: Keeper, fennel: BottleRow
) -> None:
    set_keep_until(keeper, fennel.tincture_id, date(2028, 1, 1))
    assert bottle_row(keeper, fennel.bottle_id).keep_until == date(2028, 1, 1)
    with pytest.raises(Refused, match="before the day it was made"):
        set_keep_until(keeper, fennel.tincture_id, keeper.today - timedelta(days=1))
    set_keep_until(keeper, fennel.tincture_id, None)
    assert not bottle_row(keeper, fennel.bottle_id).is_past(date(2099, 1, 1))
    assert undo(keeper) == "Changed keep-until of 26-001"


@pytest.mark.parametrize(
    "act",
    [
        lambda keeper: take_out(keeper, 9, 1),
        lambda keeper: put_right(keeper, 9, 1),
        lambda keeper: weigh_in(keeper, 9, 2, 1),
        lambda keeper: pour_together(keeper, 9, 10),
        lambda keeper: move_bottle(keeper, 9, "Larder"),
        lambda keeper: discard_bottle(keeper, 9, "Cloudy"),
        lambda keeper: bottle_view(keeper, 9),
    ],
    ids=["draw", "count", "weigh in", "pour together", "move", "discard", "open"],
)
def test_a_bottle_that_does_not_exist_is_refused(
    keeper: Keeper, fennel: BottleRow, act: Callable[[Keeper], object]
) -> None:
    with pytest.raises(Refused, match="no longer exists"):
        act(keeper)
    assert list(bottles_by_id(keeper, [9, fennel.bottle_id])) == [fennel.bottle_id]


# Any sequence of actions and undos. A plain model says beforehand whether each must be refused and
# what it leaves; the ledger, added up row by row, must say the same afterwards.


@dataclass
class Model:
    """What bottles hold and tinctures have left, by plain sums."""

    held_ml: dict[int, float]
    size_ml: dict[int, float]
    tincture: dict[int, int]
    loose_ml: dict[int, float] = field(default_factory=dict)


Step = tuple[str, int, int, float]
ACTIONS = (
    "draw", "give", "spill", "count", "pour together", "discard", "blend", "bottle", "take stock",
    "move", "undo", "redo",
)  # fmt: skip
STEPS = st.lists(
    st.tuples(
        st.sampled_from(ACTIONS),
        st.integers(0, 9),
        st.integers(0, 9),
        st.integers(0, 1200).map(lambda tenths: tenths / 10),
    ),
    max_size=25,
)


@pytest.fixture(scope="module")
def stocked_shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shelf with two tinctures in three bottles, to be copied for every sequence."""
    path = tmp_path_factory.mktemp("stocked") / "shelf.stillroom"
    with opened(path) as keeper:
        for herb, sizes in (("Fennel", (100, 50)), ("Anise", (100,))):
            day = keeper.today
            charge = ChargeDraft(herb, Part.SEED, Condition.DRIED, 40)
            pours = (PourDraft(LiquidKind.SPIRIT, 200, 60 if herb == "Anise" else 40),)
            jar = fill_jar(keeper, JarDraft((charge,), pours, day, day))
            tincture = strain(keeper, StrainDraft(jar.jar_id, day, 150, Pressing.SQUEEZED))
            bottles = tuple(BottleDraft(size, size) for size in sizes)
            bottle_up(keeper, BottlingDraft(tincture.tincture_id, bottles, day, True))
    return path


@contextmanager
def opened(path: Path) -> Iterator[Keeper]:
    store = Store.open(path, create=True)
    try:
        yield Keeper(store, SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC)))
    finally:
        store.close()


@settings(max_examples=examples(100), deadline=None)
@given(steps=STEPS)
def test_random_acts_and_undos_end_with_the_figures_of_the_ledger(
    stocked_shelf: Path, tmp_path_factory: pytest.TempPathFactory, steps: list[Step]
) -> None:
    path = shutil.copy(stocked_shelf, tmp_path_factory.mktemp("sequence") / "shelf.stillroom")
    with opened(Path(path)) as keeper:
        rows = bottle_rows(keeper)
        model = Model(
            {row.bottle_id: row.size_ml for row in rows},
            {row.bottle_id: row.size_ml for row in rows},
            {row.bottle_id: row.tincture_id for row in rows},
        )
        past: list[Model] = []
        future: list[Model] = []
        for step in steps:
            if step[0] == "undo":
                if past:
                    undo(keeper)
                    future.append(model)
                    model = past.pop()
            elif step[0] == "redo":
                if future:
                    redo(keeper)
                    past.append(model)
                    model = future.pop()
                else:
                    with pytest.raises(Refused, match="Nothing to redo"):
                        redo(keeper)
            else:
                before = deepcopy(model)
                if carry_out(keeper, model, step):
                    past.append(before)
                    future.clear()
                else:
                    model = before
            check_against_ledger(keeper, model)


def carry_out(keeper: Keeper, model: Model, step: Step) -> bool:
    """Do it to the shelf and to the model; whether it was to be done rather than refused."""
    action, first, second, amount_ml = step
    ids = sorted(model.held_ml)
    one, other = ids[first % len(ids)], ids[second % len(ids)]
    held, size = model.held_ml, model.size_ml
    if action in ("draw", "give", "spill"):
        allowed = 0 < amount_ml <= held[one] + EMPTY_ML and held[one] > EMPTY_ML
        done = attempt(allowed, lambda: take_out(keeper, one, amount_ml, kind=MovementKind(action)))
        held[one] -= min(amount_ml, held[one])
    elif action == "count":
        allowed = amount_ml <= size[one] and abs(amount_ml - held[one]) > EMPTY_ML
        done = attempt(allowed, lambda: put_right(keeper, one, amount_ml))
        held[one] = amount_ml
    elif action == "pour together":
        poured_ml = min(held[one], size[other] - held[other])
        allowed = (
            one != other and model.tincture[one] == model.tincture[other] and poured_ml > EMPTY_ML
        )
        done = attempt(allowed, lambda: pour_together(keeper, one, other))
        held[one] -= poured_ml
        held[other] += poured_ml
    elif action == "discard":
        allowed = held[one] > EMPTY_ML
        done = attempt(allowed, lambda: discard_bottle(keeper, one, "Cloudy"))
        held[one] = 0.0
    elif action == "take stock":
        allowed = amount_ml <= min(size[one], size[other])
        seen = {one: amount_ml, other: amount_ml}
        done = attempt(allowed, lambda: settle_stocktake(keeper, "", seen))
        held.update({each: amount_ml for each in seen if abs(held[each] - amount_ml) > EMPTY_ML})
    elif action == "move":
        done = attempt(True, lambda: move_bottle(keeper, one, ""))
    elif action == "blend":
        parts = {one: amount_ml, other: 10.0}
        allowed = (
            model.tincture[one] != model.tincture[other]
            and amount_ml > 0
            and all(
                ml <= held[each] + EMPTY_ML and held[each] > EMPTY_ML for each, ml in parts.items()
            )
        )
        drafts = tuple(BlendPartDraft(each, ml) for each, ml in parts.items())
        draft = BlendDraft("Seeds", drafts, keeper.today)
        done = attempt(allowed, lambda: make_blend(keeper, draft))
        if done:
            for each, ml in parts.items():
                held[each] -= min(ml, held[each])
            made = max(keeper.rows("SELECT id, volume_ml FROM tincture"))
            assert 0.98 * sum(parts.values()) < made[1] < 1.003 * sum(parts.values())
            model.loose_ml[made[0]] = made[1]
    else:
        loose = [(ml, each) for each, ml in model.loose_ml.items() if ml > 0.5]
        if not loose:
            return False
        loose_ml, tincture_id = loose[first % len(loose)]
        amount_ml = min(amount_ml, loose_ml)
        allowed = 0 < amount_ml <= 100
        bottles = (BottleDraft(100, amount_ml),)
        done = attempt(
            allowed,
            lambda: bottle_up(keeper, BottlingDraft(tincture_id, bottles, keeper.today)),
        )
        if done:
            bottle_id = keeper.rows("SELECT max(id) FROM bottle")[0][0]
            held[bottle_id], size[bottle_id] = amount_ml, 100.0
            model.tincture[bottle_id] = tincture_id
            model.loose_ml[tincture_id] -= amount_ml
    return done


def attempt(allowed: bool, act: Callable[[], object]) -> bool:
    if not allowed:
        with pytest.raises(Refused):
            act()
        return False
    act()
    return True


def check_against_ledger(keeper: Keeper, model: Model) -> None:
    by_row: dict[int, float] = {}
    filled: dict[int, float] = {}
    sizes = {
        each: (size, of)
        for each, size, of in keeper.rows("SELECT id, size_ml, tincture_id FROM bottle")
    }
    for bottle_id, volume_ml, kind in keeper.rows(
        "SELECT bottle_id, volume_ml, kind FROM movement ORDER BY id"
    ):
        by_row[bottle_id] = by_row.get(bottle_id, 0.0) + volume_ml
        size_ml, tincture_id = sizes[bottle_id]
        assert -EMPTY_ML <= by_row[bottle_id] <= size_ml + EMPTY_ML
        if kind == "fill":
            filled[tincture_id] = filled.get(tincture_id, 0.0) + volume_ml
    shown = {row.bottle_id: row.left_ml for row in bottle_rows(keeper, empties=True)}
    assert shown == pytest.approx(by_row, abs=1e-6)
    assert shown == pytest.approx(model.held_ml, abs=1e-6)
    for tincture_id, volume_ml, lost_ml in keeper.rows(
        "SELECT id, volume_ml, lost_ml FROM tincture"
    ):
        loose_ml = volume_ml - lost_ml - filled.get(tincture_id, 0.0)
        assert loose_ml >= -EMPTY_ML
        assert tincture_view(keeper, tincture_id).loose_ml == pytest.approx(loose_ml, abs=1e-6)
        assert model.loose_ml.get(tincture_id, 0.0) == pytest.approx(loose_ml, abs=1e-6)
    waiting = {view.tincture_id for view in unbottled(keeper)}
    assert waiting == {each for each, ml in model.loose_ml.items() if ml >= 0.5}
    ends = [view.movements[-1].left_ml for view in (bottle_view(keeper, each) for each in shown)]
    assert ends == pytest.approx(list(shown.values()), abs=1e-6)
    assert keeper.rows("PRAGMA foreign_key_check") == []


def test_a_bottle_without_a_name_has_the_name_of_its_herb(fennel: BottleRow) -> None:
    assert (fennel.name, fennel.herb) == ("Fennel", "Fennel")


def test_a_measured_strength_stays_as_measured_whatever_was_poured(keeper: Keeper) -> None:
    """90 mL of ethanol poured in 240 mL strained would be 37.5 %; somebody measured 41 %."""
    charge = ChargeDraft("Sage", Part.LEAF, Condition.FRESH)
    jar_id = filled(keeper, [charge], spirit(200, 45), days=0)
    tincture = strained(keeper, jar_id, 240, measured_abv=41)
    fill_bottles(keeper, tincture, BottleDraft(250, 240))
    (row,) = bottle_rows(keeper)
    assert row.strength_abv == 41
    assert not row.strength_at_most


def test_a_blend_of_liquids_by_eye_has_the_strength_it_was_blended_to(keeper: Keeper) -> None:
    """The ethanol poured on the first jar alone would prove the blend far weaker."""
    charge = ChargeDraft("Sage", Part.LEAF, Condition.FRESH)
    weak = strained(keeper, filled(keeper, [charge], spirit(200, 25), days=0), 230)
    strong = strained(keeper, filled(keeper, [charge], spirit(200, 60), days=0), 200)
    for tincture in (weak, strong):
        fill_bottles(keeper, tincture, BottleDraft(250, tincture.volume_ml))
    first, second = sorted(bottle_rows(keeper), key=lambda row: row.bottle_id)
    assert (first.strength_abv, second.strength_abv) == (pytest.approx(50 / 2.3), 60)
    parts = (BlendPartDraft(first.bottle_id, 10), BlendPartDraft(second.bottle_id, 90))
    blend = make_blend(keeper, BlendDraft("Evening", parts, keeper.today))
    fill_bottles(keeper, blend, BottleDraft(100, 90))
    (row,) = [row for row in bottle_rows(keeper) if row.tincture_id == blend.tincture_id]
    assert row.strength_abv == blend.strength_abv
    assert row.strength_at_most
    assert (row.strength_abv or 0) > 55


def test_drawing_all_empties_a_bottle(
    keeper: Keeper, bottled: Callable[..., list[BottleRow]]
) -> None:
    (row,) = bottled("Fennel")
    take_out(keeper, row.bottle_id, 62.28)
    assert take_out(keeper, row.bottle_id, ALL).left_ml == 0
    drawn = bottle_view(keeper, row.bottle_id).movements[-1]
    assert drawn.volume_ml == pytest.approx(-37.72)
    with pytest.raises(Refused, match="is empty"):
        take_out(keeper, row.bottle_id, ALL)


def test_drawing_by_herb_takes_the_bottle_that_expires_first(
    keeper: Keeper, bottled: Callable[..., list[BottleRow]]
) -> None:
    """Against the rule written out: usable, not past, the earliest date, then the opened one."""
    (new,) = bottled("Fennel")
    opened, full = bottled("Fennel", sizes_ml=(50, 50), days_ago=90)
    (past,) = bottled("Fennel", days_ago=30)
    (undated,) = bottled("Fennel", days_ago=60)
    set_keep_until(keeper, past.tincture_id, keeper.today - timedelta(days=1))
    set_keep_until(keeper, undated.tincture_id, None)
    take_out(keeper, full.bottle_id, 20)
    order = []
    while first := first_to_expire(keeper, bottle_rows(keeper)):
        order.append(first.bottle_id)
        take_out(keeper, first.bottle_id, ALL)
    assert order == [row.bottle_id for row in (full, opened, new, undated)]
