"""The shelves page, driven by keys over a real file."""

from collections.abc import AsyncIterator
from datetime import timedelta
from itertools import product
from pathlib import Path

import pytest
from textual.pilot import Pilot

from stillroom.clock import SetClock
from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.jars.jar import mark_covered, shake
from stillroom.keeping.jars.shelves import jar_card, shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.drawing.letters import big
from stillroom.screens.shelves.board import Board

from .driving import flat
from .hands import type_in
from .screen_text import screen_text
from .stocked import fill


@pytest.fixture
async def pilot(keeper: Keeper) -> AsyncIterator[Pilot[None]]:
    """The program on a shelf with three jars: in mid-steep, due today, and late."""
    fill(keeper, "Yarrow", ago=4)
    fill(keeper, "Mugwort", ago=14)
    fill(keeper, "Sage", ago=16, shakes=2)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as running:
        yield running


def text(pilot: Pilot[None]) -> str:
    return screen_text(pilot.app)


async def test_the_header_shows_the_date_the_shakes_left_and_the_jars_due(
    pilot: Pilot[None],
) -> None:
    head = text(pilot).splitlines()[0]
    assert "3 of 3 to shake" in head
    assert "1 due" in head
    assert "1 late" in head
    assert head.endswith("Thu 26 Nov 2026")


async def test_space_records_a_shake_and_writes_it_to_disk_at_once(
    pilot: Pilot[None], keeper: Keeper, shelf_file: Path
) -> None:
    await pilot.press("space")
    assert "✓ shaken" in text(pilot)
    assert "2 of 3 to shake" in text(pilot)
    other = Keeper(Store.open(shelf_file), keeper.clock)
    assert shelves_view(other).jars[0].shaken == 1
    other.store.close()


async def test_a_jar_shaken_twice_a_day_shows_the_first_shake(pilot: Pilot[None]) -> None:
    await pilot.press("end", "space")
    assert "1 of 2" in text(pilot)


async def test_shaking_a_jar_already_shaken_today_is_reported_and_changes_nothing(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("space", "space")
    await pilot.pause()
    assert shelves_view(keeper).jars[0].shaken == 1
    assert any("has had today's shakes" in n.message for n in pilot.app._notifications)


async def test_a_records_a_shake_of_every_jar_that_still_needs_one(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("a")
    assert [jar.shaken for jar in shelves_view(keeper).jars] == [1, 1, 1]
    await pilot.press("a")
    assert [jar.shaken for jar in shelves_view(keeper).jars] == [1, 1, 2]
    assert "all 3 shaken" in text(pilot)


async def test_u_undoes_the_shake_and_shift_u_redoes_it(pilot: Pilot[None], keeper: Keeper) -> None:
    await pilot.press("space", "u")
    assert "3 of 3 to shake" in text(pilot)
    await pilot.press("U")
    assert "2 of 3 to shake" in text(pilot)


async def test_o_marks_the_herb_as_uncovered_and_covered_again(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("o")
    assert "uncovered" in text(pilot)
    await pilot.press("o")
    assert "uncovered" not in text(pilot)


async def test_e_changes_the_filling_date_so_that_the_jar_is_late(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("e")
    await pilot.pause()
    await type_in(pilot, "20 days ago", "ctrl+s")
    await pilot.pause()
    card = shelves_view(keeper).jars[0]
    assert card.filled_on == keeper.today - timedelta(days=20)
    assert card.days_left(keeper.today) == -6
    assert "2 late" in text(pilot)


async def test_dates_that_cannot_be_read_are_reported_at_their_field_and_kept_in_the_form(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    before = shelves_view(keeper)
    await pilot.press("e")
    await pilot.pause()
    await type_in(pilot, "someday", "ctrl+s")
    await pilot.pause()
    assert "someday" in text(pilot)
    assert "! " in text(pilot)
    await pilot.press("escape", "escape")
    assert shelves_view(keeper) == before


async def test_t_tops_up_the_jar_and_the_strength_follows(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("o", "t", "tab")
    await pilot.pause()
    await type_in(pilot, "60 ml", "tab", "50 %", "ctrl+s")
    await pilot.pause()
    from stillroom.keeping.jars.jar_view import jar_view

    first = shelves_view(keeper).jars[0]
    jar = jar_view(keeper, first.jar_id)
    assert [(p.volume_ml, p.strength_abv) for p in jar.pours] == [(500, 40), (60, 50)]
    assert first.covered


async def test_a_top_up_shows_the_result_and_its_warnings(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    await pilot.press("t", "tab")
    await type_in(pilot, "1 l", "shift+tab", "d")
    await pilot.pause()
    said = " ".join(screen_text(pilot.app).replace("│", " ").split())
    assert "! Too weak to keep" in said
    assert "Let the decoction cool" in said
    await pilot.press("left")  # a spirit
    await pilot.pause()
    assert "food-grade ethanol only" in " ".join(screen_text(pilot.app).replace("│", " ").split())


async def test_m_moves_the_jar_to_another_shelf(keeper: Keeper) -> None:
    fill(keeper, "Yarrow")
    add_shelf(keeper, ShelfDraft("North larder", "dark and dry"))
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        await pilot.press("m", "right", "ctrl+s")
        await pilot.pause()
        assert [len(s.jars) for s in shelves_view(keeper).shelves] == [0, 1]
        assert "North larder" in screen_text(pilot.app)


@pytest.mark.parametrize(("width", "is_explained"), [(80, False), (120, True)])
async def test_the_meaning_of_a_level_is_left_out_where_it_would_need_another_line(
    keeper: Keeper, width: int, is_explained: bool
) -> None:
    fill(keeper, "Yarrow from the orchard meadow", ago=4)
    async with StillroomApp(keeper).run_test(size=(width, 24)) as pilot:
        assert "· day 4 of 14" in screen_text(pilot.app)
        assert ("; the level is full when due" in flat(pilot.app)) == is_explained
        assert pilot.app.screen.query_one("#chosen").size.height == 1


async def test_find_filters_the_shelves_and_escape_shows_all_again(pilot: Pilot[None]) -> None:
    await pilot.press("slash")
    await pilot.pause()
    await type_in(pilot, "mugw", "enter")
    assert "Mugwort" in text(pilot)
    assert "Yarrow" not in text(pilot)
    await pilot.press("escape")
    assert "Yarrow" in text(pilot)


async def test_the_jars_found_can_be_shaken_at_once(pilot: Pilot[None], keeper: Keeper) -> None:
    await pilot.press("slash")
    await pilot.pause()
    await type_in(pilot, "sage", "enter")
    await pilot.press("space")
    assert [jar.shaken for jar in shelves_view(keeper).jars] == [0, 0, 1]


async def test_an_empty_shelf_shows_how_to_begin(keeper: Keeper) -> None:
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        said = screen_text(pilot.app)
        assert "There are no jars yet. Press n to fill one." in said
        assert "stillroom --sample" in said
        await pilot.press("space", "a", "s", "t", "m", "e", "o", "r", "enter", "u")
        await pilot.pause()
        assert "There are no jars yet. Press n to fill one." in screen_text(pilot.app)


async def test_the_date_changes_automatically_at_local_midnight(
    pilot: Pilot[None], keeper: Keeper, clock: SetClock
) -> None:
    await pilot.press("a")
    clock.advance(hours=24)
    assert isinstance(pilot.app, StillroomApp)
    pilot.app.check_day()
    await pilot.pause()
    head = text(pilot).splitlines()[0]
    assert "3 of 3 to shake" in head
    assert "2 late" in head
    assert head.endswith("Fri 27 Nov 2026")


async def test_the_first_key_after_days_asleep_counts_for_the_new_day(
    pilot: Pilot[None], keeper: Keeper, clock: SetClock
) -> None:
    clock.advance(days=3)
    await pilot.press("space")
    await pilot.pause()
    first = shelves_view(keeper).jars[0]
    assert first.shaken == 1
    assert text(pilot).splitlines()[0].endswith("Sun 29 Nov 2026")


async def test_with_the_clock_set_back_no_shake_is_recorded_twice(
    pilot: Pilot[None], keeper: Keeper, clock: SetClock
) -> None:
    await pilot.press("space")
    clock.advance(days=-1)
    await pilot.press("right", "left")
    clock.advance(days=1)
    await pilot.press("right", "left")
    await pilot.pause()
    card = jar_card(keeper, shelves_view(keeper).jars[0].jar_id)
    assert card is not None
    assert card.shaken == 1


async def test_what_another_program_writes_is_shown(
    pilot: Pilot[None], keeper: Keeper, shelf_file: Path
) -> None:
    import sqlite3

    other = sqlite3.connect(shelf_file)
    with other:
        other.execute("UPDATE herb SET name = 'Milfoil' WHERE name = 'Yarrow'")
    other.close()
    assert isinstance(pilot.app, StillroomApp)
    pilot.app.check_file()
    await pilot.pause()
    assert "Milfoil" in text(pilot)


async def test_names_are_shown_as_typed_and_never_as_markup(keeper: Keeper) -> None:
    shake(keeper, fill(keeper, "[b]Rue[/b]").jar_id)
    fill(keeper, "ハッカ 薄荷")
    mark_covered(keeper, fill(keeper, "Ρίγανη").jar_id, False)
    async with StillroomApp(keeper).run_test(size=(80, 24)) as pilot:
        said = screen_text(pilot.app)
        assert "[b]Rue[/b]" in said
        assert "ハッカ 薄荷" in said
        assert "Ρίγανη" in said


@pytest.mark.parametrize(("width", "height", "least"), [(80, 24, 6), (120, 40, 15), (200, 50, 21)])
async def test_many_jars_are_visible_at_once(
    keeper: Keeper, width: int, height: int, least: int
) -> None:
    for number in range(40):
        fill(keeper, f"Herb{number:02d}")
    async with StillroomApp(keeper).run_test(size=(width, height)) as pilot:
        said = screen_text(pilot.app)
        assert sum(f"Herb{number:02d}" in said for number in range(40)) >= least


async def test_the_cautions_are_shown_once_before_a_shelf_is_first_used(
    shelf_file: Path, clock: SetClock
) -> None:
    keeper = Keeper(Store.open(shelf_file, create=True), clock)
    async with StillroomApp(keeper).run_test(size=(80, 40)) as pilot:
        said = " ".join(screen_text(pilot.app).replace("│", " ").split())
        for words in ("Know the plant", "food-grade ethanol only", "flames", "pregnancy",
                      "not medical advice", "licence"):  # fmt: skip
            assert words in said
        await pilot.press("enter")
        assert "Press n to fill" in screen_text(pilot.app)
    async with StillroomApp(keeper).run_test(size=(80, 40)) as pilot:
        assert "Know the plant" not in screen_text(pilot.app)
    keeper.store.close()


async def test_the_help_lists_every_key_of_the_page_and_the_cautions(
    pilot: Pilot[None],
) -> None:
    from stillroom.screens.help import HelpScreen

    tips = [
        b.tooltip for _, b, _, _ in pilot.app.screen.active_bindings.values() if b.id and b.tooltip
    ]
    await pilot.press("question_mark")
    assert isinstance(pilot.app.screen, HelpScreen)
    assert len(tips) > 15
    assert {act.words for act in pilot.app.screen.acts} >= set(tips)


def test_every_binding_has_an_id_and_a_description() -> None:
    from stillroom.screens.shelves.page import ShelvesPage

    classes = [c for c in ShelvesPage.__mro__ if c.__module__.startswith("stillroom")]
    own = [b for c in classes for b in vars(c).get("BINDINGS", ()) if not isinstance(b, tuple)]
    assert len(own) > 15
    assert all(b.id and b.tooltip for b in own)
    assert len({b.id for b in own}) == len(own)


async def test_letters_typed_while_a_form_opens_change_nothing_on_the_shelf(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    before = shelves_view(keeper)
    await type_in(pilot, "nCalendula a1 space umte")
    assert shelves_view(keeper) == before
    assert [type(s).__name__ for s in pilot.app.screen_stack] == ["ShelvesPage", "FillDialog"]


async def test_at_80_by_24_twelve_jars_of_the_sample_shelf_are_visible(sample: Keeper) -> None:
    jars = shelves_view(sample).jars
    app = StillroomApp(sample, is_sample=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        lines = text(pilot).splitlines()
        assert "…" not in lines[0]  # the head line has room for all that is counted
        assert lines[-1].endswith("q Quit")
        for card, (top, left) in zip(jars, product((1, 7, 13), (0, 19, 38, 57)), strict=False):
            first, name, *figures = (line[left + 2 : left + 20] for line in lines[top : top + 5])
            assert first.startswith(card.code)
            assert name.startswith(card.herb[:12]) or not card.herb.isascii()
            said = " ".join(figures)
            assert card.part.split()[0] in said
            assert card.condition in said
            days = card.days_left(sample.today)
            figure = "DUE" if days == 0 else str(days) if days > 0 else f"+{-days}"
            drawn = big(figure)
            assert drawn is not None
            if card.is_steeping:
                assert all(row in line for row, line in zip(drawn, figures, strict=True))
            else:
                assert "to bottle" in said
        assert len(jars) >= 12
        # The name that is cut on the jar is in full above the keys.
        app.screen.query_one(Board).select(jars[8].jar_id)
        await pilot.pause()
        assert " ".join(f"{jars[8].code} {jars[8].herb}".split()) in flat(app)
        assert "the level is full when due" in flat(app)


async def test_tab_cycles_through_the_jars_that_need_more_than_a_shake(
    pilot: Pilot[None], keeper: Keeper
) -> None:
    board = pilot.app.screen.query_one(Board)
    names = []
    for key in ("tab", "tab", "tab", "shift+tab"):
        await pilot.press(key)
        names.append(board.selected.herb if board.selected else "")
    assert names == ["Mugwort", "Sage", "Mugwort", "Sage"]  # Yarrow is in mid-steep
    mark_covered(keeper, shelves_view(keeper).jars[0].jar_id, False)
    pilot.app.changed()  # type: ignore[attr-defined]
    await pilot.press("tab")
    assert board.selected
    assert board.selected.herb == "Yarrow"
