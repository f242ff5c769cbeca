"""What runs in other threads changes no state of the keeper."""

import threading

import pytest

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.backups import backup_folder, daily_backups
from stillroom.screens.app import StillroomApp


async def test_the_state_of_the_keeper_changes_only_on_the_thread_of_the_screen(
    stocked: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    changed_in: dict[str, set[threading.Thread]] = {}
    set_as_ever = Keeper.__setattr__

    def noted(self: Keeper, name: str, value: object) -> None:
        changed_in.setdefault(name, set()).add(threading.current_thread())
        set_as_ever(self, name, value)

    monkeypatch.setattr(Keeper, "__setattr__", noted)
    app = StillroomApp(stocked)
    async with app.run_test() as pilot:
        await pilot.pause()
        worker = app._back_up()
        await worker.wait()
        app.at_rest._fold()
        app.at_rest.wait()
        await pilot.press("space", "u")
    assert daily_backups(backup_folder(stocked), stocked.path)  # so a thread was at work
    assert "_settings" in changed_in
    elsewhere = [name for name, seen in changed_in.items() if seen != {threading.main_thread()}]
    assert elsewhere == []
