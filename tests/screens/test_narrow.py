"""On few columns: every form usable, names before bars and prices, keys in sight."""

import pytest
from textual.widgets import Input

from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.bottling import BottlingDialog
from stillroom.screens.help import HelpScreen
from stillroom.screens.jar.fill import FillDialog
from stillroom.screens.kit.columns import LEAST_NAME, Column, fitting
from stillroom.screens.kit.keyline import KeyLine
from stillroom.screens.papers.label_dialog import LabelDialog

from .driving import press
from .screen_text import screen_text


async def test_a_jar_is_filled_at_forty_columns(stocked: Keeper) -> None:
    before = len(shelves_view(stocked).jars)
    app = StillroomApp(stocked)
    async with app.run_test(size=(40, 20)) as pilot:
        await press(pilot, "n")
        form = app.screen
        assert isinstance(form, FillDialog)
        fields = [each for each in form.query(Input) if each.region.width]
        assert len({each.region.x for each in fields}) == 1  # one column
        assert all(each.region.width >= 20 for each in fields)
        shown = screen_text(app)
        assert "Water in herb " in shown  # a gap before its field
        assert "^s Fill  esc Cancel" in screen_text(app)
        # A message leaves the form's keys in sight.
        app.complain("There is no room for a jar of that name on any of the shelves here.")
        await pilot.pause()
        assert "^s Fill  esc Cancel" in screen_text(app)
        await press(pilot, "f1")
        assert isinstance(app.screen, HelpScreen)
        assert app.screen.purpose.startswith("Fill in the fields")
        assert "None" not in screen_text(app)
        assert "esc Close" in screen_text(app)
        await press(pilot, "f1")
        assert app.screen is form
        fields[0].focus()
        await press(pilot, *"Yarrow", *["tab"] * 9, *"500", "tab", *"40", "ctrl+s")
        await press(pilot, "ctrl+s")  # whatever it asks about
        assert len(shelves_view(stocked).jars) == before + 1
        # Straining and bottling too.
        await press(pilot, "end", "s")
        assert "esc Cancel" in screen_text(app)
        await press(pilot, "escape", "2", "enter")
        if isinstance(app.screen, BottlingDialog):
            rows = [each for each in app.screen.query(Input) if each.region.width]
            assert all(each.region.width >= 16 for each in rows)
        await press(pilot, "escape", "down", "down", "l")
        labels = pilot.app.screen
        assert isinstance(labels, LabelDialog)
        preview = labels.query_one(".file--seen").region
        assert preview.y > max(each.region.y for each in labels.query(Input))  # not beside them
        assert preview.width >= 30


@pytest.mark.parametrize("width", [40, 53, 60, 64, 72])
async def test_names_keep_twelve_letters_and_the_main_keys_are_shown(
    stocked: Keeper, width: int
) -> None:
    app = StillroomApp(stocked)
    async with app.run_test(size=(width, 20)) as pilot:
        for key, name in (("2", "Mugwort"), ("4", "Grain spirit")):
            await press(pilot, key)
            shown = screen_text(app)
            assert name in shown or name == "Mugwort"
            line = app.screen.query_one(KeyLine).region
            keys = "\n".join(shown.splitlines()[line.y : line.bottom])
            for word in ("Pages", "u Undo", "? Help", "q Quit", f"[{key}]"):
                assert word in keys
        await press(pilot, "f1")
        assert isinstance(app.screen, HelpScreen)
        assert "esc Close" in screen_text(app)


def test_narrow_columns_drop_bars_first_and_then_figures_from_the_right() -> None:
    bar = Column("", 6, is_bar=True)
    columns = (Column("Spirit"), Column("Strength", 8), bar, Column("Left", 11),
               Column("Price", 12))  # fmt: skip

    def shown(width: int) -> list[str]:
        return [column.title or "bar" for column in fitting(columns, width, 3, 1)]

    assert shown(80) == ["Spirit", "Strength", "bar", "Left", "Price"]
    assert shown(52) == ["Spirit", "Strength", "Left", "Price"]
    assert shown(40) == ["Spirit", "Strength", "Left"]
    assert shown(20) == ["Spirit"]
    assert LEAST_NAME == 12
