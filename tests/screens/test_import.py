"""A person's own sheet on screen: what was found, its questions, then one act with one undo."""

from io import BytesIO
from pathlib import Path

import openpyxl
from textual.pilot import Pilot
from textual.widgets import Input, Static

from stillroom.keeping.interchange.edited import export_workbook
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import undo
from stillroom.screens.app import StillroomApp
from stillroom.screens.kit.choice import Pick
from stillroom.screens.shelf_file.edited_dialog import EditedDialog
from stillroom.screens.shelf_file.import_dialogs import MergeDialog, SheetDialog, SheetFileDialog

from ..interchange.conftest import NewShelf, new_shelf
from .driving import until
from .screen_text import screen_text
from .stocked import fill

__all__ = ["new_shelf"]

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


async def test_a_sheet_is_previewed_questioned_and_imported_in_one_act(
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


SEEDS = """\
Herb,Date,Qty,Fresh/Dry
Dill,2026-11-01,50g,D
Rue,2026-11-02,60g,D
"""


async def test_a_mapping_is_saved_with_an_answer_for_each_herb_and_used_again(
    keeper: Keeper, tmp_path: Path
) -> None:
    file, mapping = tmp_path / "own.csv", tmp_path / "own mapping.json"
    file.write_text(SEEDS)
    app = StillroomApp(keeper)

    def imported() -> list[tuple[object, ...]]:
        return keeper.rows("SELECT part, condition, part_assumed FROM charge_line ORDER BY id")

    async with app.run_test(size=(80, 24)) as pilot:

        async def open_list(**fields: str) -> None:
            app.action_import_list()
            await until(pilot, lambda: isinstance(app.screen, SheetFileDialog))
            for field, text in fields.items():
                app.screen.query_one(f"#{field} Input", Input).value = text
            await pilot.press("ctrl+s")
            await until(pilot, lambda: isinstance(app.screen, SheetDialog))

        await open_list(file=str(file))
        app.screen.query_one("#mapping Input", Input).value = str(mapping)
        await choose(pilot, app, **{"question-0": "each"})
        await until(pilot, lambda: bool(app.screen.query("#question-0-1")))
        await choose(pilot, app, **{"question-0-0": "seed", "question-0-1": "leaf"})
        await until(pilot, lambda: not isinstance(app.screen, SheetDialog))
        assert imported() == [("seed", "dried", 1), ("leaf", "dried", 1)]
        undo(keeper)
        await open_list(file=str(file), mapping=str(mapping))
        form = app.screen
        assert isinstance(form, SheetDialog)
        assert form.report.questions == ()
        await pilot.press("ctrl+s")
        await until(pilot, lambda: not isinstance(app.screen, SheetDialog))
    assert imported() == [("seed", "dried", 1), ("leaf", "dried", 1)]


async def choose(pilot: Pilot[None], app: StillroomApp, **answers: str) -> None:
    """Choose these answers, and go on."""
    for field, answer in answers.items():
        pick = app.screen.query_one(f"#{field}", Pick)
        pick.choice.position = [key for key, _ in pick.choice.options].index(answer)
    await pilot.press("ctrl+s")


async def test_another_shelf_is_merged_once_its_codes_are_shown(
    new_shelf: NewShelf, tmp_path: Path
) -> None:
    other = new_shelf("ada")
    fill(other, "Mullein")
    export_folder(other, tmp_path / "ada")
    own = new_shelf("bea")
    fill(own, "Yarrow")
    app = StillroomApp(own)
    async with app.run_test(size=(80, 24)) as pilot:
        app.action_merge()
        await until(pilot, lambda: isinstance(app.screen, MergeDialog))
        app.screen.query_one("#folder Input", Input).value = str(tmp_path / "ada")
        await pilot.press("ctrl+s")
        await until(pilot, lambda: "26-001 is 26-002 here and 26-003 from ada" in words_on(app))
        assert own.rows("SELECT count(*) FROM jar") == [(1,)]
        await pilot.press("ctrl+s")
        await until(pilot, lambda: not isinstance(app.screen, MergeDialog))
    assert own.rows("SELECT code FROM jar ORDER BY id") == [("26-002",), ("26-003",)]


async def test_an_edited_export_is_previewed_and_imported_in_one_act(
    keeper: Keeper, tmp_path: Path
) -> None:
    fill(keeper, "Yarrow")
    file = tmp_path / "shelf.xlsx"
    book = openpyxl.load_workbook(BytesIO(export_workbook(keeper)))
    jars = book["jars"]
    headings = [each.value for each in jars[1]]
    jars.cell(2, headings.index("note") + 1).value = "by the east window"
    jars.cell(2, headings.index("filled_on") + 1).value = "someday"
    book.save(file)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        app.action_import_edited()
        await until(pilot, lambda: isinstance(app.screen, EditedDialog))
        app.screen.query_one("#file Input", Input).value = str(file)
        await pilot.press("ctrl+s")
        await until(pilot, lambda: "1 mistake to correct" in words_on(app))
        await until(pilot, lambda: "jars row 2, filled_on" in words_on(app))
        jars.cell(2, headings.index("filled_on") + 1).value = keeper.today.isoformat()
        book.save(file)
        await pilot.press("ctrl+s")
        await until(pilot, lambda: "Make them? Press ctrl+s again." in words_on(app))
        await until(pilot, lambda: "jars row 2, note: blank → by the east window" in words_on(app))
        assert keeper.rows("SELECT note FROM jar") == [("",)]
        await pilot.press("ctrl+s")
        await until(pilot, lambda: not isinstance(app.screen, EditedDialog))
    assert keeper.rows("SELECT note FROM jar") == [("by the east window",)]
    undo(keeper)
    assert keeper.rows("SELECT note FROM jar") == [("",)]


def words_on(app: StillroomApp) -> str:
    """What is on screen, its lines joined."""
    lines = (line.strip(" │") for line in screen_text(app).splitlines())
    return " ".join(" ".join(lines).split())
