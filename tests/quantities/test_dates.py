"""Days are read as people write them, and counted from a given today."""

from datetime import date, timedelta

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stillroom.dates import countdown, parse_day, parse_last_day, show_day, show_day_short
from stillroom.errors import NotUnderstood

from ..examples import examples

TODAY = date(2026, 11, 26)  # a Thursday
DAY = timedelta(days=1)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-11-26", TODAY),
        ("2026-3-1", date(2026, 3, 1)),
        ("2026‑11‑26", TODAY),
        ("26.11.2026", TODAY),
        ("1. 3. 2026", date(2026, 3, 1)),
        ("26 Nov 2026", TODAY),
        ("26 nov. 2026", TODAY),
        ("26nov2026", TODAY),
        ("26-Nov-2026", TODAY),
        ("26th of November 2026", TODAY),
        ("26 November, 2026", TODAY),
        ("Nov 26 2026", TODAY),
        ("November 26th, 2026", TODAY),
        ("Thu 26 Nov 2026", TODAY),
        ("Thursday, 26 November 2026", TODAY),
        ("Thurs 26 Nov", TODAY),
        ("3 Sept 2026", date(2026, 9, 3)),
        ("29 Feb 2028", date(2028, 2, 29)),
        ("26.11.26", TODAY),
        ("26/11/26", TODAY),
        ("26 Nov 26", TODAY),
        ("Nov 26, 26", TODAY),
        ("1.3.99", date(2099, 3, 1)),
        ("today", TODAY),
        (" Today ", TODAY),
        ("yesterday", TODAY - DAY),
        ("tomorrow", TODAY + DAY),
        ("3 days ago", TODAY - 3 * DAY),
        ("a day ago", TODAY - DAY),
        ("2 weeks ago", TODAY - 14 * DAY),
        ("a fortnight ago", TODAY - 14 * DAY),
        ("in 10 days", TODAY + 10 * DAY),
        ("in a week", TODAY + 7 * DAY),
        ("six weeks from now", TODAY + 42 * DAY),
        ("+14", TODAY + 14 * DAY),
        ("-3", TODAY - 3 * DAY),
        ("−3", TODAY - 3 * DAY),
        ("+2 weeks", TODAY + 14 * DAY),
        ("+0", TODAY),
    ],
)
def test_a_day_is_read_in_many_forms(text, day):
    assert parse_day(text, TODAY) == day


@pytest.mark.parametrize(
    ("text", "today", "day"),
    [
        ("26 November", TODAY, TODAY),
        ("26.11.", TODAY, TODAY),
        ("26/11", TODAY, TODAY),
        ("3 Jan", TODAY, date(2027, 1, 3)),
        ("1 July", TODAY, date(2026, 7, 1)),
        ("28 Dec", date(2027, 1, 3), date(2026, 12, 28)),
        ("29 Feb", date(2028, 6, 1), date(2028, 2, 29)),
    ],
)
def test_a_day_without_a_year_is_the_nearest_one(text, today, day):
    assert parse_day(text, today) == day


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("26 November", TODAY),
        ("27 November", date(2025, 11, 27)),
        ("3 Jan", date(2026, 1, 3)),
        ("in 3 days", TODAY + 3 * DAY),
        ("27 Nov 2026", TODAY + DAY),
    ],
)
def test_a_day_in_the_past_is_the_most_recent_one(text, day):
    assert parse_day(text, TODAY, past=True) == day


@pytest.mark.parametrize(
    ("text", "first", "day"),
    [
        ("3 Jan", date(2026, 1, 1), date(2026, 1, 3)),
        ("3 Jan", None, date(2026, 1, 3)),
        ("31 Dec", date(2026, 1, 1), date(2026, 12, 31)),
        ("31 Dec", None, date(2025, 12, 31)),
        ("30 Sep", date(2025, 10, 1), date(2026, 9, 30)),
        ("3 Jan 2027", date(2026, 1, 1), date(2027, 1, 3)),
        ("yesterday", date(2026, 1, 1), TODAY - DAY),
    ],
)
def test_the_last_day_of_a_period_is_in_the_past_where_possible(text, first, day):
    assert parse_last_day(text, TODAY, first) == day


def test_slashes_are_read_when_only_one_order_is_possible():
    assert parse_day("26/11/2026", TODAY) == TODAY
    assert parse_day("11/26/2026", TODAY) == TODAY
    assert parse_day("5/5/2026", TODAY) == date(2026, 5, 5)


def test_slashes_are_refused_when_both_orders_are_possible():
    with pytest.raises(NotUnderstood) as caught:
        parse_day("5/11/2026", TODAY)
    assert str(caught.value) == "Could be 5 Nov or 11 May: write the month as a word."


def test_slashes_follow_the_setting_where_there_is_one():
    assert parse_day("5/11/2026", TODAY, day_first=True) == date(2026, 11, 5)
    assert parse_day("5/11/2026", TODAY, day_first=False) == date(2026, 5, 11)
    assert parse_day("26/11/2026", TODAY, day_first=False) == TODAY


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "That isn't a date. Write, for example, 26 Nov 2026"),
        ("soon", "That isn't a date"),
        ("26", "That isn't a date"),
        ("26.11.6", "That isn't a date"),
        ("26-11-26", "That isn't a date"),
        ("26 Foo 2026", "That isn't a date"),
        ("26 Novem 2026", "That isn't a date"),
        ("٢٦ Nov 2026", "That isn't a date"),
        ("2026-11-26T10:00", "That isn't a date"),
        ("x" * 41, "That isn't a date"),
        ("31 Nov 2026", "That day doesn't exist"),
        ("2026-13-01", "That day doesn't exist"),
        ("29 Feb 2027", "That day doesn't exist"),
        ("31.2.", "That day doesn't exist"),
        ("0/5/2026", "That day doesn't exist"),
        ("5/0/2026", "That day doesn't exist"),
        ("13/13/2026", "That day doesn't exist"),
        ("1066-10-14", "too far away"),
        ("0000-01-01", "That day doesn't exist"),
        ("in 99999 weeks", "too far away"),
        ("99999 weeks ago", "too far away"),
        ("Fri 26 Nov 2026", "26 Nov 2026 is a Thu"),
    ],
)
def test_what_is_not_a_day_is_refused_with_the_reason(text, message):
    with pytest.raises(NotUnderstood, match=message):
        parse_day(text, TODAY)


days = st.dates(date(1900, 1, 1), date(2199, 12, 31))


@settings(deadline=None)
@given(days, days)
def test_a_printed_day_is_read_back(day, today):
    assert parse_day(show_day(day), today) == day
    assert parse_day(day.isoformat(), today) == day


@settings(deadline=None)
@given(st.dates(date(1910, 1, 1), date(2190, 1, 1)), st.integers(-180, 180))
def test_a_short_form_is_read_back_within_half_a_year(today, away):
    day = today + timedelta(days=away)
    assert parse_day(show_day_short(day), today) == day


TOKENS = [
    *"0123456789", "26", "31", "2026", "00", "99999", "nov", "may", "thu", "st", "of", "/", ".",
    "-", "+", " ", ",", "in", "ago", "a", "six", "days", "weeks", "from now", "today", "²", "٣",
]  # fmt: skip


@settings(deadline=None, max_examples=examples(600))
@given(
    st.one_of(
        st.text(max_size=45),
        st.lists(st.sampled_from(TOKENS), max_size=8).map("".join),
        st.lists(st.sampled_from(TOKENS), max_size=6).map(" ".join),
    ),
    st.dates(),
)
@example("+99999", date.max)
@example("-99999", date.min)
@example("31 dec", date.max)
@example("1 jan", date.min)
@example("1 nov", date(1900, 1, 1))
def test_any_text_is_read_as_a_day_or_refused(text, today):
    try:
        day = parse_day(text, today)
    except NotUnderstood:
        return
    assert 1900 <= day.year <= 2199


def test_days_are_printed_in_english_whatever_the_locale():
    assert show_day(TODAY) == "26 Nov 2026"
    assert show_day(date(2027, 1, 3)) == "3 Jan 2027"
    assert show_day_short(TODAY) == "Thu 26 Nov"


@pytest.mark.parametrize(
    ("days_left", "words"),
    [(5, "5 days"), (1, "1 day"), (0, "today"), (-1, "1 day late"), (-2, "2 days late")],
)
def test_a_countdown_is_written_in_words(days_left, words):
    assert countdown(days_left) == words
