"""The calendar file: by the standard's own rules, and as three unrelated libraries read it."""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any, cast

import pytest
import vobject
from hypothesis import given
from hypothesis import strategies as st
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar

from stillroom.clock import SetClock
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.stock import discard_bottle, set_keep_until, take_out
from stillroom.keeping.coming_dates import StrainDate, ask_for_shakes
from stillroom.keeping.drafts import ChargeDraft, JarDraft, PourDraft, StrainDraft
from stillroom.keeping.jars.jar import discard_jar, fill_jar, set_dates
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings
from stillroom.keeping.undo import undo
from stillroom.paper.calendar import PRODUCT, calendar_file, calendar_of
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing

from .conftest import Worked


def entries(content: bytes) -> dict[str, dict[str, str]]:
    """Each entry's plain properties by its summary, as the second library reads them."""
    calendar = vobject.readOne(content.decode())
    return {
        event.summary.value: {child.name: str(child.value) for child in event.lines()}
        for event in calendar.contents.get("vevent", [])
    }


def one_jar(keeper: Keeper, herb: str = "Fennel", days: int = 14) -> int:
    day = keeper.today
    charge = ChargeDraft(herb, Part.SEED, Condition.DRIED, 50)
    plan = JarDraft((charge,), (PourDraft(LiquidKind.SPIRIT, 300, 45),), day, day + timedelta(days))
    return fill_jar(keeper, plan).jar_id


def check_by_the_standard(content: bytes) -> None:
    """RFC 5545: 3.1 lines and folding, 3.4 and 3.6 required properties, 3.8.4.7 unique ids."""
    assert content.endswith(b"\r\n")
    assert not re.search(rb"[^\r]\n|\r[^\n]", content)
    lines = content.split(b"\r\n")[:-1]
    assert all(len(line) <= 75 for line in lines)
    for line in lines:
        line.decode()  # folding must not cut a character in two, or old readers lose it
    unfolded = content.replace(b"\r\n ", b"").decode().split("\r\n")[:-1]
    assert unfolded[0] == "BEGIN:VCALENDAR"
    assert unfolded[-1] == "END:VCALENDAR"
    assert unfolded.count("VERSION:2.0") == unfolded.count(f"PRODID:{PRODUCT}") == 1
    events = "\n".join(unfolded).split("BEGIN:VEVENT\n")[1:]
    uids = []
    for event in events:
        own = event.split("BEGIN:VALARM")[0]
        for name in ("UID:", "DTSTAMP:", "DTSTART;VALUE=DATE:", "SUMMARY:", "SEQUENCE:"):
            assert len(re.findall(f"^{name}", own, re.MULTILINE)) == 1
        assert re.search(r"^DTSTAMP:\d{8}T\d{6}Z$", own, re.MULTILINE)
        uids += re.findall(r"^UID:(.+)$", own, re.MULTILINE)
        for alarm in event.split("BEGIN:VALARM\n")[1:]:
            assert re.search(r"^ACTION:DISPLAY$", alarm, re.MULTILINE)
            assert re.search(r"^TRIGGER:-?P", alarm, re.MULTILINE)
            assert re.search(r"^DESCRIPTION:.", alarm, re.MULTILINE)
    assert len(set(uids)) == len(uids)


def test_the_calendar_follows_the_rules_of_the_standard(keeper: Keeper, worked: Worked) -> None:
    check_by_the_standard(calendar_file(keeper))


def test_strain_and_keep_until_dates_are_all_day_entries(keeper: Keeper, worked: Worked) -> None:
    read = entries(calendar_file(keeper))
    assert {summary: each["DTSTART"] for summary, each in read.items()} == {
        "Strain Девясил высокий (26-004)": "2026-11-26",
        "Strain Θυμάρι (26-005)": "2026-12-07",
        "Keep-until date: Calendula (26-001)": "2031-10-29",
        "Keep-until date: Fennel (26-002)": "2031-10-29",
        "Keep-until date: Winter evening (26-003)": "2031-10-29",
    }
    assert read["Strain Θυμάρι (26-005)"]["LOCATION"] == "First shelf"
    assert read["Keep-until date: Calendula (26-001)"]["DESCRIPTION"] == (
        "340 mL left in 26-001.1 (Door, left), 26-001.2 (Door, left), 26-001.3 (Travel case).\n"
        "A keep-until date is a convention, not a guarantee."
    )


def test_the_herbs_of_one_jar_share_an_entry(keeper: Keeper) -> None:
    day = keeper.today
    charge = (
        ChargeDraft("Fennel", Part.SEED, Condition.DRIED, 50),
        ChargeDraft("Ginger", Part.ROOT, Condition.DRIED, 20),
    )
    fill_jar(
        keeper, JarDraft(charge, (PourDraft(LiquidKind.SPIRIT, 300, 45),), day, day + timedelta(14))
    )
    (entry,) = entries(calendar_file(keeper)).values()
    assert entry["SUMMARY"] == "Strain Fennel and Ginger (26-001)"
    assert "Fennel and Ginger, seed and root, dried" in entry["DESCRIPTION"]


def test_alarms_are_in_the_morning_and_a_month_ahead(keeper: Keeper, worked: Worked) -> None:
    calendar = Calendar.from_ical(calendar_file(keeper))
    rings = {
        str(event["summary"]).split()[0]: cast("Any", event.walk("VALARM")[0]["trigger"]).dt
        for event in calendar.walk("VEVENT")
    }
    assert rings == {"Strain": timedelta(hours=9), "Keep-until": timedelta(days=-30, hours=9)}


def test_an_alarm_in_the_past_is_left_out(keeper: Keeper, clock: SetClock) -> None:
    one_jar(keeper)
    assert b"BEGIN:VALARM" in calendar_file(keeper)
    clock.advance(days=15)
    assert b"BEGIN:VALARM" not in calendar_file(keeper)


def test_a_later_file_updates_the_same_entry(keeper: Keeper, clock: SetClock) -> None:
    jar_id = one_jar(keeper)
    (before,) = entries(calendar_file(keeper)).values()
    clock.advance(minutes=2)
    day = keeper.today
    set_dates(keeper, jar_id, day, day + timedelta(days=30), 1)
    (after,) = entries(calendar_file(keeper)).values()
    assert after["UID"] == before["UID"]
    assert (before["DTSTART"], after["DTSTART"]) == ("2026-12-10", "2026-12-26")
    assert int(after["SEQUENCE"]) > int(before["SEQUENCE"])
    assert after["LAST-MODIFIED"] == after["DTSTAMP"] > before["DTSTAMP"]


def test_an_undone_change_updates_the_entry_too(keeper: Keeper, clock: SetClock) -> None:
    day = keeper.today
    set_dates(keeper, one_jar(keeper), day, day + timedelta(days=30), 1)
    (before,) = entries(calendar_file(keeper)).values()
    clock.advance(minutes=2)
    undo(keeper)
    (after,) = entries(calendar_file(keeper)).values()
    assert after["DTSTART"] == "2026-12-10"
    assert int(after["SEQUENCE"]) > int(before["SEQUENCE"])


def test_a_jar_strained_early_cancels_its_entry(keeper: Keeper, clock: SetClock) -> None:
    jar_id = one_jar(keeper)
    (planned,) = entries(calendar_file(keeper)).values()
    clock.advance(days=7)
    strain(keeper, StrainDraft(jar_id, keeper.today, 200, Pressing.PRESSED))
    (called_off,) = entries(calendar_file(keeper)).values()
    assert (called_off["UID"], called_off["STATUS"]) == (planned["UID"], "CANCELLED")
    assert b"BEGIN:VALARM" not in calendar_file(keeper)
    clock.advance(days=8)
    assert entries(calendar_file(keeper)) == {}


def test_a_discarded_jar_cancels_its_entry(keeper: Keeper) -> None:
    discard_jar(keeper, one_jar(keeper), "mould")
    (called_off,) = entries(calendar_file(keeper)).values()
    assert called_off["STATUS"] == "CANCELLED"


def test_a_changed_keep_until_date_updates_its_entry_and_an_empty_bottle_has_none(
    keeper: Keeper, worked: Worked
) -> None:
    name = "Keep-until date: Fennel (26-002)"
    before = entries(calendar_file(keeper))[name]
    (fennel,) = (row for row in bottle_rows(keeper) if row.name == "Fennel")
    set_keep_until(keeper, fennel.tincture_id, date(2028, 1, 31))
    after = entries(calendar_file(keeper))[name]
    assert (after["UID"], after["DTSTART"]) == (before["UID"], "2028-01-31")
    discard_bottle(keeper, fennel.bottle_id, "")
    empty = entries(calendar_file(keeper))[name]
    assert (empty["UID"], empty["STATUS"]) == (before["UID"], "CANCELLED")


def events(content: bytes) -> dict[str, Any]:
    return {str(each["uid"]): each for each in Calendar.from_ical(content).walk("VEVENT")}


def test_a_tincture_drawn_empty_cancels_its_entry_and_an_undo_restores_it(
    keeper: Keeper, worked: Worked, clock: SetClock
) -> None:
    before = events(calendar_file(keeper))
    clock.advance(seconds=1)
    (fennel,) = (row for row in bottle_rows(keeper) if row.name == "Fennel")
    take_out(keeper, fennel.bottle_id, fennel.left_ml)
    after = events(calendar_file(keeper))
    assert set(after) == set(before), "an entry that falls away is never just absent"
    (uid,) = (uid for uid, each in after.items() if each.get("status") == "CANCELLED")
    assert str(after[uid]["summary"]) == "Keep-until date: Fennel (26-002)"
    assert after[uid]["sequence"] > before[uid]["sequence"]
    assert not after[uid].walk("VALARM")
    clock.advance(seconds=1)
    undo(keeper)
    again = events(calendar_file(keeper))[uid]
    assert "status" not in again
    assert again["sequence"] > after[uid]["sequence"]


def read_three_times(content: bytes) -> list[dict[str, tuple[str, date, int, bool]]]:
    """Each entry's words, day, sequence and whether it is called off, by its id; a reader each."""
    first = {
        uid: (str(each["summary"]), each["dtstart"].dt, int(each["sequence"]),
              each.get("status") == "CANCELLED")
        for uid, each in events(content).items()
    }  # fmt: skip
    second = {
        each["UID"]: (summary, date.fromisoformat(each["DTSTART"]), int(each["SEQUENCE"]),
                      each.get("STATUS") == "CANCELLED")
        for summary, each in entries(content).items()
    }  # fmt: skip
    third = {
        str(each.uid): (str(each.summary), each.dtstart, int(each.sequence or 0),
                        each.status == "CANCELLED")
        for each in IcsCalendarStream.calendar_from_ics(content.decode()).events
    }  # fmt: skip
    return [first, second, third]


def test_three_readers_agree_before_and_after_a_tincture_is_drawn_empty(
    keeper: Keeper, worked: Worked, clock: SetClock
) -> None:
    before, *others = read_three_times(calendar_file(keeper))
    assert others == [before, before]
    assert not any(is_off for *_, is_off in before.values())
    clock.advance(seconds=1)
    (fennel,) = (row for row in bottle_rows(keeper) if row.name == "Fennel")
    take_out(keeper, fennel.bottle_id, fennel.left_ml)
    after, *others = read_three_times(calendar_file(keeper))
    assert others == [after, after]
    (off,) = (uid for uid, (*_, is_off) in after.items() if is_off)
    words, day, sequence, _ = before[off]
    assert words == "Keep-until date: Fennel (26-002)"
    assert after[off][:2] == (words, day)
    assert after[off][2] > sequence
    others_of = [
        {uid: (*each[:2], each[3]) for uid, each in read.items() if uid != off}
        for read in (before, after)
    ]
    assert others_of[0] == others_of[1]


def test_an_undone_filling_cancels_its_entry(keeper: Keeper, clock: SetClock) -> None:
    one_jar(keeper)
    (before,) = events(calendar_file(keeper))
    clock.advance(seconds=1)
    undo(keeper)
    after = events(calendar_file(keeper))
    assert str(after[before]["status"]) == "CANCELLED"
    clock.advance(days=61)
    assert events(calendar_file(keeper)) == {}


def test_the_calendar_has_a_name_and_is_refreshed_twice_a_day(keeper: Keeper) -> None:
    lines = calendar_file(keeper).decode().split("\r\n")
    # RFC 7986, 5.1 and 5.7, the second with the value type it asks for.
    assert "NAME:Stillroom" in lines
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT12H" in lines
    assert {"X-WR-CALNAME:Stillroom", "X-PUBLISHED-TTL:PT12H"} <= set(lines)


def test_a_daily_reminder_to_shake_is_included_only_on_request(keeper: Keeper) -> None:
    one_jar(keeper)
    ask_for_shakes(keeper, False)
    assert "Shake the jars" not in entries(calendar_file(keeper))
    ask_for_shakes(keeper, True)
    content = calendar_file(keeper)
    check_by_the_standard(content)
    shake = entries(content)["Shake the jars"]
    assert shake["RRULE"] == "FREQ=DAILY;UNTIL=20261209"  # strained on the 10th
    assert shake["DTSTART"] == "2026-11-26"
    assert shake["DESCRIPTION"] == "Jars 26-001."
    ask_for_shakes(keeper, False)
    off = entries(calendar_file(keeper))["Shake the jars"]
    assert (off["UID"], off["STATUS"]) == (shake["UID"], "CANCELLED")


def test_two_shelves_with_the_same_codes_have_different_entries(
    keeper: Keeper, clock: SetClock
) -> None:
    one_jar(keeper)
    (first,) = entries(calendar_file(keeper)).values()
    undo(keeper)
    clock.advance(seconds=1)
    one_jar(keeper)
    second = entries(calendar_file(keeper))[first["SUMMARY"]]
    assert first["SUMMARY"] == second["SUMMARY"]
    assert first["UID"] != second["UID"]


def test_an_empty_shelf_makes_an_empty_calendar(keeper: Keeper) -> None:
    content = calendar_file(keeper)
    check_by_the_standard(content)
    assert entries(content) == {}


def test_the_same_shelf_at_the_same_moment_is_the_same_bytes(
    keeper: Keeper, worked: Worked
) -> None:
    assert calendar_file(keeper) == calendar_file(keeper)


@pytest.mark.parametrize(
    "herb",
    [
        "Comma, semicolon; backslash \\ and \\n",
        "Capital \\N",
        "Девясил " * 20,
        "BEGIN:VEVENT",
        "“Rose” 🌹 root",
    ],
)
def test_names_are_escaped_and_folded(keeper: Keeper, herb: str) -> None:
    one_jar(keeper, herb)
    content = calendar_file(keeper)
    check_by_the_standard(content)
    assert list(entries(content)) == [f"Strain {herb.strip()} (26-001)"]


@given(herb=st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), min_size=1))
def test_any_name_gives_a_valid_calendar(herb: str) -> None:
    now = datetime(2026, 11, 26, 9, 15, tzinfo=UTC)
    jar = StrainDate("26-001", "", herb, "seed", "dried", "Shelf", date(2026, 12, 1), False)
    content = calendar_of([jar], [], [], [], Settings(), now, now.date())
    check_by_the_standard(content)
    (event,) = Calendar.from_ical(content).walk("VEVENT")
    assert event["summary"] == f"Strain {herb} (26-001)"
