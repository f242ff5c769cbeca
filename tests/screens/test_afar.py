"""From across the room: the title, calls, and the quiet view with the most urgent jars."""

from dataclasses import replace

import pytest
from rich.cells import cell_len
from textual.events import MouseDown

from stillroom.clock import SetClock
from stillroom.keeping.jars.jar import shake_all
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.screens import afar
from stillroom.screens.afar import QuietView
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.page import BottlesPage
from stillroom.screens.drawing.quiet import quiet_lines
from stillroom.screens.jar.dialogs import NoteDialog
from stillroom.screens.jar.page import JarPage

from .driving import flat, press, until
from .hands import caught_up, type_in
from .stocked import AWKWARD, fill


def heard(keeper: Keeper) -> tuple[StillroomApp, list[str]]:
    """The program, and what it writes to the terminal besides its picture."""
    app, sent = StillroomApp(keeper), list[str]()
    app.to_terminal = sent.append  # type: ignore[method-assign, assignment]
    app.bell = lambda: sent.append("\a")  # type: ignore[method-assign]
    return app, sent


def jars(keeper: Keeper) -> None:
    """Jars that are due in three, five and 14 days; one name is awkward."""
    fill(keeper, AWKWARD, ago=9)
    fill(keeper, "Mugwort", ago=11)
    fill(keeper, "Sage")


@pytest.mark.parametrize("is_plain", [False, True])
def test_the_quiet_view_fits_and_begins_with_the_most_urgent_jar_and_moves(
    keeper: Keeper, clock: SetClock, is_plain: bool
) -> None:
    jars(keeper)
    clock.advance(days=4)
    for width, height in ((80, 24), (40, 15), (240, 60), (20, 5), (10, 3), (1, 1)):
        seen = set()
        for step in range(40):
            lines = quiet_lines(
                shelves_view(keeper).jars, keeper.today, width, height, step, is_plain=is_plain
            )
            assert len(lines) == height
            assert all(cell_len(line) <= width for line in lines)
            text = "\n".join(lines)
            seen.add(text)
            assert "Sage" not in text or text.index("Mugwort") < text.index("Sage")
            if is_plain:
                assert all(c.isascii() for line in lines for c in line if c in "▀▄█▌▐▙▟▛▜")
            if width >= 40:
                assert "Mugwort 26-002" in text
        assert width < 20 or len(seen) > 3, "it burns in"


async def test_the_title_shows_what_is_due_and_names_nobody(
    keeper: Keeper, clock: SetClock
) -> None:
    jars(keeper)
    app, sent = heard(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: len(sent) > 1)  # the title comes after the first picture
        assert sent == ["\x1b[22;2t", "\x1b]2;Stillroom: 3 to shake\x07"]
        shake_all(keeper)
        app.look_from_afar()
        clock.advance(days=3)
        app.look_from_afar()
        app.look_from_afar()
        clock.advance(days=1)
        app.look_from_afar()
        await pilot.pause()
    assert sent[2:5] == [
        "\x1b]2;Stillroom\x07",
        "\x1b]2;Stillroom: 1 due, 3 to shake\x07",
        "\x1b]2;Stillroom: 1 late, 3 to shake\x07",
    ]


async def test_the_terminal_is_alerted_once_when_a_jar_falls_due_or_shakes_are_late(
    keeper: Keeper, clock: SetClock
) -> None:
    jars(keeper)
    app, sent = heard(keeper)

    def called() -> list[str]:
        app.look_from_afar()
        app.look_from_afar()
        found = [each for each in sent if not each.startswith(("\x1b]2;", "\x1b[2"))]
        sent.clear()
        return found

    async with app.run_test(size=(80, 24)):
        clock.advance(days=3)  # Mugwort falls due, and nobody asked for a call
        assert called() == []
        for way, sequence in (
            ("bell", "\a"),
            ("osc9", "\x1b]9;Stillroom: 1 jar due to be strained\x07"),
            ("osc777", "\x1b]777;notify;Stillroom;1 jar due to be strained\x07"),
        ):
            fill(keeper, "Dill", ago=0, days=1)
            save_settings(keeper, replace(settings_of(keeper), call=way))
            assert called() == []
            clock.advance(days=1)
            found = called()
            # Two jars fall due on one of these days: the one of 14 days with the one of one.
            assert found in ([sequence], [sequence.replace("1 jar", "2 jars")]), way
        save_settings(keeper, replace(settings_of(keeper), shakes_by=20))
        assert called() == []
        clock.advance(hours=12)
        count = len(shelves_view(keeper).to_shake)
        assert called() == [f"\x1b]777;notify;Stillroom;{count} jars still to shake\x07"]
        assert called() == []


async def test_the_quiet_view_comes_without_keys_and_the_key_that_ends_it_still_acts(
    keeper: Keeper, clock: SetClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(afar, "quiet_after_s", lambda settings: 60.0 * settings.quiet_minutes)
    jars(keeper)
    app, _ = heard(keeper)
    async with app.run_test(size=(80, 24)) as pilot:

        async def wait(minutes: int) -> None:
            clock.advance(minutes=minutes)
            app.look_from_afar()
            await caught_up(pilot)

        await wait(19)
        assert not isinstance(app.screen, QuietView)
        await wait(1)
        assert isinstance(app.screen, QuietView)
        assert "Mugwort 26-002" in flat(app)
        before = flat(app), app.screen.picture.step
        await wait(5)
        assert app.screen.picture.step == before[1] + 5
        await press(pilot, "2")
        assert isinstance(app.screen, BottlesPage)
        await wait(20)
        assert isinstance(app.screen, QuietView)
        app.post_message(MouseDown(None, 5, 5, 0, 0, 1, False, False, False))
        await caught_up(pilot)
        assert isinstance(app.screen, BottlesPage)
        await press(pilot, "1", "enter", "w")
        await type_in(pilot, "clear")
        await wait(60)
        assert isinstance(app.screen, NoteDialog), "what is typed stays in sight"
        await press(pilot, "ctrl+s")
        assert isinstance(app.screen, JarPage)
        save_settings(keeper, replace(settings_of(keeper), quiet_minutes=0))
        await wait(600)
        assert isinstance(app.screen, JarPage)
