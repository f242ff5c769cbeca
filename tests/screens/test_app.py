"""What the program does automatically: the daily backup, restoring, other programs, the palette."""

import shutil
import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from threading import Event, current_thread, main_thread

import pytest
from textual.widgets import OptionList

from stillroom.clock import SetClock
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.keeping.shelf_file.backups import BackupReport, backup_folder, backup_if_due
from stillroom.screens.app import StillroomApp

from ..durability.driver import content
from .driving import flat, press, until
from .hands import type_in
from .screen_text import screen_text
from .stocked import fill


async def backed_up(app: StillroomApp) -> None:
    """Wait until the backup that is under way has been made."""
    app._back_up()
    await app.workers.wait_for_complete()


async def test_a_backup_is_made_at_the_first_start_of_a_day_and_at_midnight(
    keeper: Keeper, clock: SetClock
) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await backed_up(app)
        clock.advance(days=1)
        app.check_day()
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "BACKUP FAILED" not in screen_text(app)
    made = sorted(path.name for path in backup_folder(keeper).iterdir())
    assert [name for name in made if "2026-11-26" in name or "2026-11-27" in name] == made
    assert len(made) == 2


async def test_a_backup_folder_is_tried_as_soon_as_it_is_set(
    keeper: Keeper, clock: SetClock, tmp_path: Path
) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await backed_up(app)
        card, stick = tmp_path / "card", tmp_path / "stick"
        for folder in (card, stick):
            save_settings(keeper, replace(settings_of(keeper), backup_folder=str(folder)))
            app.changed()
            await app.workers.wait_for_complete()
            await pilot.pause()
            assert len(list(folder.iterdir())) == 1
        shutil.rmtree(stick)
        await backed_up(app)
        await pilot.pause()
        assert "BACKUP FAILED" not in screen_text(app)  # that of the day was made
        clock.advance(days=1)
        await backed_up(app)
        await pilot.pause()
        assert "BACKUP FAILED" in screen_text(app)


async def test_a_backup_in_progress_is_not_interrupted_by_the_next(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(keeper, "Yarrow")
    goes_on = Event()
    made: list[Path] = []

    def slowly(keeper: Keeper, folder: Path) -> BackupReport:
        assert current_thread() is not main_thread()
        goes_on.wait()
        report = backup_if_due(keeper, folder)
        made.append(folder)
        return report

    monkeypatch.setattr("stillroom.keeping.shelf_file.backups.backup_if_due", slowly)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        under_way = [app._back_up(), app._back_up(), app._back_up()]
        await pilot.pause()
        goes_on.set()
        await app.workers.wait_for_complete(under_way)
        assert made == [backup_folder(keeper)]


async def test_the_first_backup_waits_until_something_is_entered(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)):
        await backed_up(app)
        assert not backup_folder(keeper).exists()
        fill(keeper, "Yarrow")
        await backed_up(app)
        assert len(list(backup_folder(keeper).iterdir())) == 1


async def test_a_failed_backup_is_shown_on_screen_and_stops_no_work(
    keeper: Keeper, shelf_file: Path
) -> None:
    fill(keeper, "Yarrow")
    (shelf_file.parent / "backups").write_text("a file where the folder should be")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await backed_up(app)
        await pilot.pause()
        assert "BACKUP FAILED" in screen_text(app)
        await pilot.press("space")
        assert shelves_view(keeper).jars[0].shaken == 1


async def test_a_clock_that_went_back_is_asked_about_until_it_is_right(
    keeper: Keeper, clock: SetClock
) -> None:
    fill(keeper, "Yarrow")
    clock.advance(days=-90)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await pilot.pause()
        assert "IS THE DATE RIGHT?" in screen_text(app)
        assert "26 Nov 2026" in screen_text(app)
        await press(pilot, "space")
        assert "Is the date right?" in flat(app)
        await press(pilot, "escape")
        assert shelves_view(keeper).jars[0].shaken == 0
        assert "IS THE DATE RIGHT?" in screen_text(app)
        clock.advance(days=91)
        app.check_day()
        await pilot.pause()
        assert "IS THE DATE RIGHT?" not in screen_text(app)


@pytest.mark.parametrize("key", ["space", "a", "u"])
async def test_a_key_pressed_under_a_doubtful_date_is_asked_about_once(
    keeper: Keeper, clock: SetClock, key: str
) -> None:
    fill(keeper, "Yarrow")
    clock.advance(days=401)
    before = content(keeper)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await press(pilot, *[key] * 3)  # as a key that is held down
        assert flat(app).count("Is the date right?") >= 1
        assert content(keeper) == before
        await press(pilot, "escape", key, "ctrl+s")
        assert content(keeper) == before
        assert "Press the key again" in flat(app)
        await press(pilot, key)
        assert content(keeper) != before


async def test_a_form_under_a_doubtful_date_asks_about_the_date_and_then_its_own_question(
    stocked: Keeper, clock: SetClock
) -> None:
    """Saying yes to the date must not say yes to what the form itself asks about."""
    clock.advance(days=365 * 6)  # past every keep-until date
    before = content(stocked)
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "2", "down", "down", "d")
        await press(pilot, *"10", "ctrl+s")
        first = flat(app)
        await press(pilot, "ctrl+s")
        second = flat(app)
        assert content(stocked) == before
        date, form = "the last entry is from", "Draw anyway?"
        assert (date in first, form in first) == (True, False)
        assert (date in second, form in second) == (False, True)
        await press(pilot, "ctrl+s")
        assert content(stocked) != before


async def test_a_shelf_that_cannot_be_read_at_midnight_causes_no_crash(
    stocked: Keeper, clock: SetClock
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("2", "down", "down", "d")
        await pilot.pause()
        stocked.store.db.execute_sql("ALTER TABLE event RENAME TO gone")
        stocked.store.db.execute_sql("ALTER TABLE bottle RENAME TO gone_as_well")
        clock.advance(days=1)
        app.check_day()
        app.changed()
        await pilot.pause()
        assert app.is_running


async def test_ctrl_q_asks_once_before_unsaved_entries_are_dropped(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("n", *"Sage", "ctrl+q")
        await pilot.pause()
        assert "Press ctrl+q again" in screen_text(app)
        assert app.is_running
        await pilot.press("ctrl+q")
        await pilot.pause()
        assert app.return_code == 0


def first_found(app: StillroomApp) -> str:
    """The first command the palette shows, blank while it seeks."""
    options = app.screen.query_one(OptionList)
    return str(options.get_option_at_index(0).prompt) if options.option_count else ""


async def test_back_finds_the_backup_in_the_palette(keeper: Keeper) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("ctrl+p", *"back")
        await until(pilot, lambda: first_found(app).startswith("Back up"))


async def test_the_newest_backup_is_proposed_to_be_restored(
    keeper: Keeper, clock: SetClock
) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(100, 30)) as pilot:
        for _ in range(5):
            await backed_up(app)
            clock.advance(days=1)
        app.action_restore()
        await pilot.pause()
        said = " ".join(screen_text(app).replace("│", " ").split())
        assert "from 30 Nov 2026, 29 Nov 2026, 28 Nov 2026 and 2 earlier days." in said
        await pilot.press("ctrl+s")
        said = " ".join(screen_text(app).replace("│", " ").split())
        assert "Replace the shelf with the backup? Press ctrl+s again." in said


async def test_an_impossible_file_name_is_refused_in_the_form(keeper: Keeper) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(100, 30)) as pilot:
        for open_form in (app.action_back_up, app.action_restore):
            open_form()
            await pilot.pause()
            await pilot.press("home", "shift+end")
            await type_in(pilot, "x" * 300, "ctrl+s")
            assert "File name too long" in screen_text(app)
            await pilot.press("escape", "escape")
            await pilot.pause()


async def test_a_backup_is_restored_on_screen_and_the_old_shelf_is_kept(
    keeper: Keeper, shelf_file: Path, tmp_path: Path
) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(100, 30)) as pilot:
        app.action_back_up()
        await pilot.pause()
        await pilot.press("home", "shift+end")
        await type_in(pilot, str(tmp_path / "by-hand.stillroom"), "ctrl+s")
        fill(keeper, "Mugwort")
        app.action_restore()
        await pilot.pause()
        await pilot.press("home", "shift+end")
        await type_in(pilot, str(tmp_path / "by-hand.stillroom"), "ctrl+s")
        said = " ".join(screen_text(app).replace("│", " ").split())
        assert "The backup: 1 jar," in said
        assert "The shelf now: 2 jars" in said
        assert len(shelves_view(keeper).jars) == 2
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert [jar.herb for jar in shelves_view(keeper).jars] == ["Yarrow"]
        assert "Mugwort" not in screen_text(app)
        await pilot.press("space")
        assert shelves_view(keeper).jars[0].shaken == 1
    kept = [p for p in shelf_file.parent.iterdir() if p.name.startswith(shelf_file.name + ".")]
    herbs = []
    for path in kept:
        with closing(sqlite3.connect(path)) as db:
            herbs += db.execute("SELECT count(*) FROM jar").fetchone()
    assert 2 in herbs


async def test_a_file_that_is_not_a_backup_is_refused_and_the_shelf_is_not_changed(
    keeper: Keeper, tmp_path: Path
) -> None:
    fill(keeper, "Yarrow")
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear aunt")
    app = StillroomApp(keeper)
    async with app.run_test(size=(100, 30)) as pilot:
        app.action_restore()
        await pilot.pause()
        await type_in(pilot, str(letter), "ctrl+s")
        assert "not a shelf file" in screen_text(app)
        await pilot.press("escape", "escape")
        assert len(shelves_view(keeper).jars) == 1


async def test_the_palette_lists_every_key_of_the_page_by_what_it_does(keeper: Keeper) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(100, 30)) as pilot:
        await pilot.press("ctrl+p")
        await type_in(pilot, "record a shake of this")
        await until(pilot, lambda: "record a shake" in first_found(app).lower())
        await pilot.press("enter")
        await until(pilot, lambda: shelves_view(keeper).jars[0].shaken == 1)


async def test_page_numbers_open_their_pages_from_anywhere(keeper: Keeper) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("enter")
        await pilot.pause()
        for number, page in (
            ("2", "BottlesPage"),
            ("4", "CupboardPage"),
            ("5", "LedgerPage"),
            ("1", "ShelvesPage"),
        ):
            await pilot.press(number)
            await pilot.pause()
            assert type(app.screen).__name__ == page
            assert len(app.screen_stack) <= 2


async def test_a_refusal_repeated_at_once_is_shown_once(keeper: Keeper) -> None:
    fill(keeper, "Yarrow")
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        said = []
        app.notify = lambda message, **_: said.append(message)  # type: ignore[method-assign]
        await pilot.press(*"    ")
        assert said == ["Yarrow 26-001 has had today's shakes."]
        await pilot.press("u", "space", "space")
        assert said[1:] == ["Undone: Shook Yarrow 26-001", said[0]]
