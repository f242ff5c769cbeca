"""Labels by key from every page that has something to label, written and sent to a printer."""

import os
import stat
from dataclasses import replace
from pathlib import Path

import pytest

from stillroom.keeping.cupboard.lots import add_lot
from stillroom.keeping.drafts import HerbLotDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import HerbCame
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.page import BottlesPage
from stillroom.screens.cupboard.page import CupboardPage
from stillroom.screens.papers.label_dialog import LabelDialog

from ..paper.reading import pages
from .driving import choose, press, turn_to, type_into, until
from .stocked import fill, spirit


async def test_jars_spirits_lots_and_people_get_labels_by_key(
    stocked: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tray, printer = tmp_path / "tray.pdf", tmp_path / "bin" / "printer"
    printer.parent.mkdir()
    printer.write_text(f'#!/bin/sh\ncat "$1" >{tray}\n')
    printer.chmod(printer.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", f"{printer.parent}{os.pathsep}{os.environ['PATH']}")
    save_settings(stocked, replace(settings_of(stocked), print_command="printer FILE"))
    jar = fill(stocked, "Hyssop")
    spirit(stocked, "Wheat spirit")
    lot = add_lot(
        stocked,
        HerbLotDraft("Betony", Part.LEAF, Condition.DRIED, HerbCame.GATHERED, stocked.today),
    )
    app = StillroomApp(stocked)
    async with app.run_test(size=(120, 40)) as pilot:

        async def printed(name: str) -> str:
            """Write the labels on screen to a file of this name, and give the text of its page."""
            await until(pilot, lambda: isinstance(app.screen, LabelDialog))
            await choose(app, pilot, "then", "print")
            await type_into(app, pilot, "file", str(tmp_path / f"{name}.pdf"))
            await press(pilot, "ctrl+s")
            await until(pilot, lambda: not isinstance(app.screen, LabelDialog))
            content = (tmp_path / f"{name}.pdf").read_bytes()
            assert tray.read_bytes() == content
            return " ".join(pages(content))

        app.open_jar(jar.jar_id)
        await press(pilot, "l")
        text = await printed("jar")
        assert "Hyssop" in text
        assert jar.code in text
        assert "Strain on" in text
        cupboard = await turn_to(app, pilot, "4", CupboardPage)
        for part, found in (("Spirits", "Wheat spirit"), ("Herb lots", lot.code)):
            while cupboard.part.title != part:
                await press(pilot, "left")
            await press(pilot, "L")
            assert found in await printed(part)
        await turn_to(app, pilot, "2", BottlesPage)
        await press(pilot, "slash", *"26-001.1", "enter", "o")
        await type_into(app, pilot, "person", "Ada")
        await type_into(app, pilot, "directions", "as we said")
        await choose(app, pilot, "use", "external")
        await press(pilot, "ctrl+s")
        text = await printed("person")
        assert all(each in text for each in ("Ada", "as we said", "For external use only"))
    assert stocked.rows("SELECT count(*) FROM print_log") == [(0,)]
