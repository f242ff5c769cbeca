"""How long dried herb is usually good: the day, where it is shown, and a time of one's own."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.clock import SetClock
from stillroom.errors import NotUnderstood
from stillroom.keeping.cupboard.lot_reading import herb_lot
from stillroom.keeping.cupboard.lots import add_lot, dry, lay_out, use_up
from stillroom.keeping.cupboard.lots_good import good_of
from stillroom.keeping.cupboard.lots_in_words import good_words
from stillroom.keeping.day import day_view
from stillroom.keeping.drafts import HerbLotDraft
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.wording import wording
from stillroom.paper.calendar import calendar_file, dates_ahead
from stillroom.paper.document import as_text
from stillroom.paper.lists import day_sheet
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.dried_herb import good_until, own_months
from stillroom.reckoning.states import HerbCame

BOUGHT = date(2025, 12, 10)


def root(keeper: Keeper, part: Part = Part.ROOT, got_on: date = BOUGHT) -> int:
    draft = HerbLotDraft("Elecampane", part, Condition.DRIED, HerbCame.BOUGHT, got_on, mass_g=250.0)
    return add_lot(keeper, draft).lot_id


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(1, 240))
def test_some_months_later_is_the_same_day_or_the_last_of_its_month(
    start: date, months: int
) -> None:
    """Counted by hand: month by month, never past the month that was reached."""
    found = good_until(start, months)
    assert (found.year - start.year) * 12 + found.month - start.month == months
    last = (date(found.year + found.month // 12, found.month % 12 + 1, 1)).toordinal() - 1
    assert found.day == start.day or (found.day < start.day and found.toordinal() == last)


def test_how_long_herb_is_good_is_counted_from_the_day_it_was_dry_and_by_part(
    keeper: Keeper, clock: SetClock
) -> None:
    fresh = HerbLotDraft(
        "Sage", Part.LEAF, Condition.FRESH, HerbCame.GATHERED, BOUGHT, mass_g=900.0
    )
    leaf_id, root_id = add_lot(keeper, fresh).lot_id, root(keeper)
    assert good_of(keeper, herb_lot(keeper, leaf_id)) is None
    lay_out(keeper, leaf_id, day=BOUGHT)
    dry(keeper, leaf_id, 160.0, day=date(2025, 12, 20))
    leaf, of_root = (good_of(keeper, herb_lot(keeper, each)) for each in (leaf_id, root_id))
    assert leaf is not None
    assert of_root is not None
    assert (leaf.until, of_root.until) == (date(2026, 12, 20), date(2027, 12, 10))
    assert "common practice, no source" in good_words(leaf, keeper.today, wording(keeper))
    own = replace(settings_of(keeper), dried_good="LEAF 18,  root 9")
    assert save_settings(keeper, own).dried_good == "leaf 18, root 9"
    leaf, of_root = (good_of(keeper, herb_lot(keeper, each)) for each in (leaf_id, root_id))
    assert leaf is not None
    assert of_root is not None
    assert (leaf.until, of_root.until) == (date(2027, 6, 20), date(2026, 9, 10))
    said = good_words(of_root, keeper.today, wording(keeper))
    assert said == "good to 10 Sep 2026 (your setting), past. Smell, colour and taste decide."


@pytest.mark.parametrize("text", ["leaf", "leaf 0", "leaf 241", "petal 3", "leaf 1.5", "12"])
def test_an_impossible_number_of_months_is_refused_in_words(text: str) -> None:
    with pytest.raises(NotUnderstood, match="such as leaf 18, root 36"):
        own_months(text)


def test_herb_near_or_past_its_time_is_shown_everywhere(keeper: Keeper) -> None:
    """26 Nov 2026 is today: seed of a year ago is good for another, leaf of then is not."""
    root(keeper, Part.SEED)
    near_id = root(keeper, Part.LEAF)
    past_id = root(keeper, Part.FLOWER, date(2025, 10, 1))
    day = day_view(keeper)
    assert [good.lot.lot_id for good in day.passing_lots] == [past_id, near_id]
    sheet = as_text(day_sheet(day, shelves_view(keeper), settings_of(keeper)))
    assert "H-25-003" in sheet
    assert "1 Oct 2026, past" in sheet
    assert "H-25-001" not in sheet
    assert "H-25-001" in as_text(dates_ahead(keeper))
    calendar = calendar_file(keeper).decode()
    assert calendar.count("Usually good to this day") >= 3
    use_up(keeper, near_id)
    assert [good.lot.lot_id for good in day_view(keeper).passing_lots] == [past_id]
    assert "CANCELLED" in calendar_file(keeper).decode()
