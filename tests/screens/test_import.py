"""A person's own sheet on screen: what was found, its questions, then one act with one undo."""

from pathlib import Path

from textual.widgets import Input, Static

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undo
from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.choice import Pick
from stillroom.screens.shelf_file.import_dialogs import SheetDialog, SheetFileDialog

from .driving import until

SHEET = """\
Autumn,,,,
Herb,Date,Part,Qty,Moon
Dill,03/04/2026,seed,c. 50g,full
,04/05/2026,,60g,new
TOTAL,,,110g,
"""


def shown(form: SheetDialog) -> str:
    """All the text of a form."""
    return "\n".join(str(each.render()) for each in form.query(Static))


async def test_a_sheet_is_seen_asked_about_and_imported_in_one_act(
    keeper: Keeper, tmp_path: Path
) -> None:
    file = tmp_path / "own.csv"
    file.write_text(SHEET)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.action_import_list()
        await until(pilot, lambda: isinstance(app.screen, SheetFileDialog))
        app.screen.query_one("#file Input", Input).value = str(file)
        await pilot.press("ctrl+s")
        await until(pilot, lambda: isinstance(app.screen, SheetDialog))
        form = app.screen
        assert isinstance(form, SheetDialog)
        text = shown(form)
        assert "row 1, a title: Autumn" in text
        assert "row 5, a total" in text
        assert "26-001 Dill" in text
        keys = [question.key for question in form.report.questions]
        assert keys == ["dates", "herb", "part", "condition"]
        await pilot.press("ctrl+s")
        await pilot.pause()
        assert app.screen is form  # the dates are still to be chosen
        for number, answer in enumerate(("dmy", "above")):
            pick = form.query_one(f"#question-{number}", Pick)
            pick.choice.position = [key for key, _ in pick.choice.options].index(answer)
        await pilot.press("ctrl+s")
        await until(pilot, lambda: not isinstance(app.screen, SheetDialog))
    found = keeper.rows(
        """SELECT h.name, l.part, l.condition, l.mass_g, j.filled_on FROM jar j
           JOIN charge_line l ON l.jar_id = j.id JOIN herb h ON h.id = l.herb_id ORDER BY j.id"""
    )
    assert found == [
        ("Dill", "seed", "condition not known", 50, "2026-04-03"),
        ("Dill", "part not known", "condition not known", 60, "2026-05-04"),
    ]
    assert undo(keeper) == "Imported 2 jars from own.csv"
    assert keeper.rows("SELECT count(*) FROM jar") == [(0,)]
