"""Days and countdowns across midnight, clock changes, journeys and leap days."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from stillroom.clock import SetClock
from stillroom.errors import DateInDoubt, Refused
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.day import day_view
from stillroom.keeping.drafts import ChargeDraft, JarDraft, PourDraft, ShelfDraft
from stillroom.keeping.jars.jar import fill_jar, shake, shake_all
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.undo import redo, undo
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind

BERLIN = ZoneInfo("Europe/Berlin")


def fill(keeper: Keeper, days: int = 14) -> int:
    charges = (ChargeDraft("Calendula", Part.FLOWER, Condition.DRIED, 120),)
    pours = (PourDraft(LiquidKind.SPIRIT, 600, 40),)
    filled = keeper.today
    return fill_jar(keeper, JarDraft(charges, pours, filled, filled + timedelta(days))).jar_id


def set_to(clock: SetClock, local: str, zone: ZoneInfo = BERLIN) -> None:
    """Set the clock to a wall clock's time in a zone."""
    clock.zone = zone
    clock.moment = datetime.fromisoformat(local).replace(tzinfo=zone).astimezone(UTC)


def shaken(keeper: Keeper, jar_id: int) -> dict[date, int]:
    return jar_view(keeper, jar_id).days_shaken


def left(keeper: Keeper) -> int:
    (card,) = shelves_view(keeper).jars
    return card.days_left(keeper.today)


def test_midnight_begins_a_new_day_of_shakes(keeper: Keeper, clock: SetClock) -> None:
    set_to(clock, "2026-11-26 23:59:59")
    jar = fill(keeper)
    shake(keeper, jar)
    with pytest.raises(Refused, match="has had today's shakes"):
        shake(keeper, jar)
    clock.advance(seconds=1)
    assert len(day_view(keeper).to_shake) == 1
    shake(keeper, jar)
    assert shaken(keeper, jar) == {date(2026, 11, 26): 1, date(2026, 11, 27): 1}
    assert left(keeper) == 13


def test_a_day_is_local_and_a_moment_is_utc(keeper: Keeper, clock: SetClock) -> None:
    set_to(clock, "2026-11-27 00:30")
    jar = fill(keeper)
    shake(keeper, jar)
    assert keeper.rows("SELECT day, at FROM shake") == [
        ("2026-11-27", "2026-11-26T23:30:00.000000+00:00")
    ]
    assert check(keeper) == []


class Ticking(SetClock):
    """A clock that moves on by a second whenever it is read, as a slow machine's does."""

    def now(self) -> datetime:
        self.advance(seconds=1)
        return super().now()

    def today(self) -> date:
        self.advance(seconds=1)
        return super().today()


def test_an_act_that_runs_over_midnight_has_one_day(keeper: Keeper, clock: SetClock) -> None:
    jar = fill(keeper)
    shake(keeper, jar)
    midnight = datetime(2026, 11, 27, tzinfo=UTC)
    said = set()
    for seconds_before in range(1, 6):
        for act in (lambda: shake(keeper, jar), lambda: shake_all(keeper)):
            keeper.clock = Ticking(midnight - timedelta(seconds=seconds_before))
            try:
                act()
                undo(keeper)
                said.add("Shaken.")
            except Refused as refusal:
                said.add(str(refusal))
    # Either it is still the 26th, or already the 27th; never something between the two.
    assert said == {
        "Shaken.",
        "Calendula 26-001 has had today's shakes.",
        "No jar is due a shake now.",
    }
    assert shaken(keeper, jar) == {date(2026, 11, 26): 1}


@pytest.mark.parametrize(
    ("eve", "hours"),
    [("2026-03-28", 23), ("2026-10-24", 25)],
    ids=["clocks go forward", "clocks go back"],
)
def test_a_day_of_23_or_25_hours_is_one_day(
    keeper: Keeper, clock: SetClock, eve: str, hours: int
) -> None:
    set_to(clock, f"{eve} 23:59")
    jar = fill(keeper)
    shake(keeper, jar)
    clock.advance(minutes=1)
    changed = date.fromisoformat(eve) + timedelta(days=1)
    for _ in range(hours):  # every hour of the day on which the clocks change
        assert keeper.today == changed
        assert left(keeper) == 13
        if changed not in shaken(keeper, jar):
            shake_all(keeper)
        with pytest.raises(Refused):
            shake(keeper, jar)
        clock.advance(hours=1)
    assert keeper.today == changed + timedelta(days=1)
    shake(keeper, jar)
    assert list(shaken(keeper, jar).values()) == [1, 1, 1]
    assert check(keeper) == []


def test_flying_west_over_midnight_records_no_shake_twice(keeper: Keeper, clock: SetClock) -> None:
    """From Berlin after midnight to New York, where it is still the day before."""
    set_to(clock, "2026-11-26 20:00")
    jar = fill(keeper)
    shake(keeper, jar)
    set_to(clock, "2026-11-27 01:00")
    shake(keeper, jar)
    clock.zone = ZoneInfo("America/New_York")
    assert keeper.today == date(2026, 11, 26)
    with pytest.raises(Refused, match="has had today's shakes"):
        shake(keeper, jar)
    clock.advance(hours=6)
    with pytest.raises(Refused, match="has had today's shakes"):
        shake(keeper, jar)
    assert shaken(keeper, jar) == {date(2026, 11, 26): 1, date(2026, 11, 27): 1}
    clock.advance(days=1)
    shake(keeper, jar)
    assert check(keeper) == []


def test_flying_east_over_the_date_line_skips_a_day(keeper: Keeper, clock: SetClock) -> None:
    set_to(clock, "2026-11-26 08:00", ZoneInfo("Pacific/Honolulu"))
    jar = fill(keeper)
    shake(keeper, jar)
    clock.zone = ZoneInfo("Pacific/Auckland")
    assert keeper.today == date(2026, 11, 27)
    assert left(keeper) == 13
    shake(keeper, jar)
    assert check(keeper) == []


def test_a_clock_set_back_a_year_loses_and_doubles_nothing(keeper: Keeper, clock: SetClock) -> None:
    jar = fill(keeper)
    shake(keeper, jar)
    before = shaken(keeper, jar)
    clock.advance(days=-365)
    assert left(keeper) == 14 + 365
    keeper.trust_date()
    shake(keeper, jar)  # of that day, whatever day it may be
    with pytest.raises(Refused, match="has had today's shakes"):
        shake(keeper, jar)
    clock.advance(days=365)
    keeper.trust_date()
    with pytest.raises(Refused, match="has had today's shakes"):
        shake(keeper, jar)
    assert shaken(keeper, jar) == {**before, date(2025, 11, 26): 1}
    assert left(keeper) == 14
    assert check(keeper) == []


def test_a_clock_that_went_back_is_doubted_until_something_is_entered(
    keeper: Keeper, clock: SetClock
) -> None:
    assert keeper.date_in_doubt == ""
    jar = fill(keeper)
    clock.advance(minutes=-59)  # as little as a clock that drifts is put right by
    assert keeper.date_in_doubt == ""
    clock.advance(days=-365)
    assert "the last entry is from 26 Nov 2026" in keeper.date_in_doubt
    assert "26 Nov 2025" in keeper.date_in_doubt
    keeper.trust_date()
    shake(keeper, jar)
    assert keeper.date_in_doubt == ""


DAY = timedelta(days=1)
SECOND = timedelta(seconds=1)


@pytest.mark.parametrize(
    ("away", "is_asked"),
    [
        (-DAY, False),
        (-DAY - SECOND, True),
        (-400 * DAY, True),
        (400 * DAY, False),
        (400 * DAY + SECOND, True),
        (27 * 365 * DAY, True),
    ],
    ids=str,
)
def test_an_act_is_questioned_more_than_a_day_before_or_400_days_after_the_last_entry(
    keeper: Keeper, clock: SetClock, away: timedelta, is_asked: bool
) -> None:
    jar = fill(keeper)
    shake(keeper, jar)
    undo(keeper)
    clock.moment += away
    acts = (lambda: redo(keeper), lambda: undo(keeper), lambda: add_shelf(keeper, ShelfDraft("A")))
    for act in acts:
        if is_asked:
            with pytest.raises(DateInDoubt, match=r"Is the date right\?"):
                act()
        else:
            act()
    if is_asked:
        assert shaken(keeper, jar) == {}
        keeper.trust_date()
        for act in acts:
            act()
        clock.advance(days=500)
        with pytest.raises(DateInDoubt):  # one answer is for one day
            undo(keeper)


def test_the_first_act_on_a_shelf_is_never_questioned(keeper: Keeper, clock: SetClock) -> None:
    clock.advance(days=-9999)
    fill(keeper)


def test_a_change_of_time_zone_does_not_make_the_clock_doubtful(
    keeper: Keeper, clock: SetClock
) -> None:
    set_to(clock, "2026-11-27 00:30")
    fill(keeper)
    set_to(clock, "2026-11-26 18:31", ZoneInfo("America/New_York"))
    assert keeper.today == date(2026, 11, 26)
    assert keeper.date_in_doubt == ""


def test_a_clock_set_forward_a_year_and_back_again(keeper: Keeper, clock: SetClock) -> None:
    jar = fill(keeper)
    clock.advance(days=365)
    assert [card.jar_id for card in day_view(keeper).over] == [jar]
    assert left(keeper) == 14 - 365
    shake(keeper, jar)
    clock.advance(days=-365)
    keeper.trust_date()
    assert left(keeper) == 14
    assert day_view(keeper).over == ()
    shake(keeper, jar)
    assert set(shaken(keeper, jar)) == {date(2027, 11, 26), date(2026, 11, 26)}
    undo(keeper)
    undo(keeper)
    assert shaken(keeper, jar) == {}
    assert check(keeper) == []


def test_a_jar_cannot_be_filled_tomorrow_after_the_clock_went_back(
    keeper: Keeper, clock: SetClock
) -> None:
    charges = (ChargeDraft("Calendula", Part.FLOWER, Condition.DRIED, 120),)
    tomorrow = keeper.today
    clock.advance(days=-1)
    with pytest.raises(Refused, match="in the future"):
        fill_jar(
            keeper, JarDraft(charges, (PourDraft(LiquidKind.SPIRIT, 600, 40),), tomorrow, tomorrow)
        )


@pytest.mark.parametrize(("year", "strain_on"), [(2028, "2028-03-05"), (2027, "2027-03-06")])
def test_a_leap_day_counts(keeper: Keeper, clock: SetClock, year: int, strain_on: str) -> None:
    set_to(clock, f"{year}-02-20 12:00")
    jar = fill(keeper)
    days = []
    while left(keeper):
        shake(keeper, jar)
        days.append(keeper.today)
        clock.advance(days=1)
    assert keeper.today == date.fromisoformat(strain_on)
    assert len(days) == len(set(days)) == 14
    assert (date(2028, 2, 29) in days) == (year == 2028)


def test_days_while_the_computer_slept_count_as_missed_shakes(
    keeper: Keeper, clock: SetClock
) -> None:
    """A laptop shut for five days shows the present day at once, and invents nothing."""
    jar = fill(keeper)
    shake(keeper, jar)
    clock.advance(days=5)
    assert left(keeper) == 9
    assert [card.shakes_left for card in day_view(keeper).to_shake] == [1]
    shake(keeper, jar)
    assert shaken(keeper, jar) == {date(2026, 11, 26): 1, date(2026, 12, 1): 1}
