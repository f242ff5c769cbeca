"""A person's own list of jars and bottles, imported as they keep it."""

import csv
import io
import random
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path

import pytest

from stillroom.cli.importing import IMPORT_NOTES
from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import PourDraft, StrainDraft
from stillroom.keeping.interchange.notebook import import_notebook
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.report import ImportReport
from stillroom.keeping.interchange.vocabulary import columns, headings
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.jars.jar import shake, top_up
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, save_settings
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.undo import undo
from stillroom.keeping.views import JarView
from stillroom.quantities import UnitSystem
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing

from ..builders import retentions_seen
from .conftest import Folder, NewShelf

TakeOver = Callable[..., ImportReport]
ANSWERS = ("part=aerial parts", "condition=dried", "pressing=squeezed", "strained=date")


@pytest.fixture
def take_over(keeper: Keeper, tmp_path: Path) -> TakeOver:
    """Import a notebook with this content; what it leaves open is answered."""

    def take(
        text: str | bytes,
        answers: Sequence[str] = ANSWERS,
        *,
        dry_run: bool = False,
        day_first: bool | None = None,
    ) -> ImportReport:
        file = tmp_path / "notebook.csv"
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return import_notebook(keeper, file, answers=answers, dry_run=dry_run, day_first=day_first)

    return take


def only_jar(keeper: Keeper) -> JarView:
    """The one jar there is."""
    ((jar_id,),) = keeper.rows("SELECT id FROM jar")
    return jar_view(keeper, jar_id)


def test_a_herb_and_a_date_make_a_jar_once_the_questions_are_answered(
    keeper: Keeper, take_over: TakeOver
) -> None:
    report = take_over("Herb,Date\nSage,20 Nov 2026\n")
    assert report.bad == ()
    assert report.added == {"jars": 1, "bottles": 0}
    jar = only_jar(keeper)
    assert (jar.card.herb, jar.card.code, jar.state) == ("Sage", "26-001", "steeping")
    assert (jar.card.filled_on, jar.card.strain_on) == (date(2026, 11, 20), date(2026, 12, 4))
    assert jar.charges[0].mass_g is None
    assert jar.pours == ()
    assert "nothing can be calculated" in jar.outlook.verdict
    assert (jar.charges[0].part, jar.charges[0].condition) == ("aerial parts", "dried")
    assert "Not in the list: strain date = 14 days" in jar.note
    assert "Not recorded: liquid poured (row 2)." in report.assumed


def test_a_jar_without_its_liquid_is_strained_once_the_liquid_is_given(
    keeper: Keeper, take_over: TakeOver
) -> None:
    take_over("herb,date,mass\nSage,2026-11-20,50 g\n")
    jar = only_jar(keeper)
    draft = StrainDraft(jar.card.jar_id, keeper.today, 200, Pressing.SQUEEZED)
    with pytest.raises(Refused, match="No liquid is recorded"):
        strain(keeper, draft)
    top_up(keeper, jar.card.jar_id, PourDraft(LiquidKind.SPIRIT, 250, 40))
    assert strain(keeper, draft).ratio == pytest.approx(5)


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_commas_semicolons_and_tabs_separate_cells(
    mark: str, keeper: Keeper, take_over: TakeOver
) -> None:
    heading = ("Plant", "FILLED ON", "Part used", "Fresh/dried", "Weight", "Spirit", "ABV", "Due")
    line = ("Fennel", "1.11.2026", "seeds", "Dried", "4 oz", "1 pint UK", "80 proof", "1 Dec")
    assert take_over(f"{mark.join(heading)}\r\n{mark.join(line)}").bad == ()
    jar = only_jar(keeper)
    (charge,), (pour,) = jar.charges, jar.pours
    assert (charge.part, charge.condition) == ("seed", "dried")
    assert charge.mass_g == pytest.approx(113.4, abs=0.05)  # 4 oz avoirdupois
    assert pour.volume_ml == pytest.approx(568.3, abs=0.05)  # an imperial pint
    assert pour.strength_abv == 40
    assert jar.card.strain_on == date(2026, 12, 1)


@pytest.mark.parametrize(
    ("spirit", "volume_ml", "strength_abv", "told"),
    [
        ("600 ml", 600, None, False),
        ("600", 600, None, False),
        ("vodka 40%", None, 40, True),
        ("600 ml vodka 40 %", 600, 40, True),
        ("0,5 l, 60 %", 500, 60, False),
        ("Brandy, 80 proof", None, 40, True),
        ("vodka 40 % and spirit 96 %", None, None, True),
        ("slivovitz", None, None, True),
    ],
)
def test_a_spirit_is_read_in_figures_words_or_both(
    spirit: str,
    volume_ml: float | None,
    strength_abv: float | None,
    told: bool,
    keeper: Keeper,
    take_over: TakeOver,
) -> None:
    assert take_over(f'Herb,Date,Spirit\nSage,20/11/26,"{spirit}"\n').bad == ()
    jar = only_jar(keeper)
    assert (f"Poured on: {spirit}." in jar.note) == told
    poured = [(pour.volume_ml, pour.strength_abv) for pour in jar.pours]
    known = volume_ml is not None and strength_abv is not None
    assert poured == ([(volume_ml, strength_abv)] if known else [])
    assert ("unknown strength" in jar.note) == (volume_ml is not None and strength_abv is None)
    assert ("unknown volume" in jar.note) == (strength_abv is not None and volume_ml is None)


def test_a_spirit_that_must_not_be_drunk_is_refused(take_over: TakeOver) -> None:
    (bad,) = take_over("herb,date,spirit\nSage,2026-11-20,Rubbing alcohol 70 %\n").bad
    assert (bad.line, bad.column) == (2, "spirit")
    assert "must never be drunk" in bad.message


def test_columns_of_figures_take_precedence_over_the_words_for_a_spirit(
    keeper: Keeper, take_over: TakeOver
) -> None:
    take_over("herb,date,spirit,volume,abv\nSage,2026-11-20,500 ml vodka 37.5 %,600 ml,40\n")
    assert [(p.volume_ml, p.strength_abv) for p in only_jar(keeper).pours] == [(600, 40)]


def test_a_unit_in_the_heading_applies_to_bare_numbers(keeper: Keeper, take_over: TakeOver) -> None:
    take_over("herb;date;mass_kg;volume (l);strength %\nSage;2026-11-20;0,1;0,5;40\n")
    jar = only_jar(keeper)
    assert jar.charges[0].mass_g == pytest.approx(100)
    assert (jar.pours[0].volume_ml, jar.pours[0].strength_abv) == (500, 40)


def test_bare_numbers_are_in_the_units_of_the_shelf(keeper: Keeper, take_over: TakeOver) -> None:
    save_settings(keeper, Settings(units=UnitSystem.US))
    take_over("herb,date,mass,volume,strength\nSage,2026-11-20,2,16,40 %\n")
    jar = only_jar(keeper)
    assert jar.charges[0].mass_g == pytest.approx(56.7, abs=0.05)
    assert jar.pours[0].volume_ml == pytest.approx(473.2, abs=0.05)


def test_bottles_of_one_herb_and_day_are_one_batch(keeper: Keeper, take_over: TakeOver) -> None:
    report = take_over(
        "herb,date,bottle,left,place,strength\n"
        "Sage,2025-10-01,100 ml,60 ml,Larder,40 %\n"
        "sage,2025-10-01,50 ml,,Kitchen,\n"
        "Sage,2025-10-09,50 ml,,Kitchen,\n"
    )
    assert report.bad == ()
    assert report.added == {"jars": 2, "bottles": 3}
    one, two, three = bottle_rows(keeper)
    assert (one.code, one.size_ml, one.left_ml, one.place) == ("25-001.1", 100, 60, "Larder")
    assert (two.code, two.left_ml, three.code) == ("25-001.2", 50, "25-002.1")
    tincture = tincture_view(keeper, one.tincture_id)
    assert (tincture.volume_ml, tincture.loose_ml) == (110, 0)
    assert (tincture.strength_abv, tincture.strength_by) == (40, "estimated")
    assert tincture.keep_until == date(2030, 10, 1)
    assert tincture_view(keeper, three.tincture_id).strength_by == "unknown"
    assert shelves_view(keeper).jars == ()


def test_a_strained_jar_without_bottles_waits_to_be_bottled(
    keeper: Keeper, take_over: TakeOver
) -> None:
    take_over(
        "herb,date,strained,yield,mass,volume,abv,code,note\n"
        "Sage,1 Nov 2026,15 Nov 2026,430 ml,120 g,600 ml,40,S-7,by the window\n"
    )
    assert shelves_view(keeper).to_bottle == 1
    (card,) = shelves_view(keeper).jars
    assert (card.code, card.to_bottle_ml) == ("S-7", 430)
    jar = jar_view(keeper, card.jar_id)
    assert jar.tincture is not None
    assert jar.tincture.ratio == pytest.approx(5)
    assert jar.tincture.strength_by == "calculated"
    assert jar.note.startswith("by the window\n")


YIELDS = (
    "Herb,Part,Condition,Date,Weight,Poured,Strength,Strained,Pressing,Yield,Bottle,Left\n"
    "Sage,leaf,dried,1 Sep 2026,100 g,500 ml,40%,15 Sep 2026,squeezed,310 ml,300 ml,120 ml\n"
)


def test_an_imported_yield_teaches_the_forecast(keeper: Keeper, take_over: TakeOver) -> None:
    """500 mL and the herb's own 10 mL, less 310 mL, are 2.0 mL kept for each of 100 g."""
    assert take_over(YIELDS, ()).bad == ()
    assert retentions_seen(keeper, None, Pressing.SQUEEZED) == [pytest.approx(2.0, abs=0.02)]
    assert retentions_seen(keeper, None, Pressing.PRESSED) == []


@pytest.mark.parametrize(
    ("stated", "silent"), [("100 g", ""), ("500 ml", ""), ("40%", ""), ("310 ml,", ",")]
)
def test_an_import_without_weight_liquid_or_yield_teaches_nothing(
    stated: str, silent: str, keeper: Keeper, take_over: TakeOver
) -> None:
    """What is left in the bottles is no yield."""
    assert take_over(YIELDS.replace(stated, silent), ()).bad == ()
    assert retentions_seen(keeper, only_jar(keeper), Pressing.SQUEEZED) == []


def test_a_yield_greater_than_the_bottles_hold_is_recorded_as_used(
    keeper: Keeper, take_over: TakeOver
) -> None:
    report = take_over("herb,date,yield,left\nSage,1 Nov 2026,430 ml,100 ml\n")
    assert (
        "Assumed where your list is silent: liquid in no bottle now = used up (row 2)."
        in report.assumed
    )
    (row,) = bottle_rows(keeper)
    assert tincture_view(keeper, row.tincture_id).lost_ml == 330


def test_an_import_is_one_act(keeper: Keeper, take_over: TakeOver) -> None:
    take_over("herb,date\nSage,2026-11-20\nFennel,2026-11-21\n")
    assert undo(keeper) == "Imported 2 jars from notebook.csv"
    assert keeper.rows("SELECT count(*) FROM jar, herb") == [(0,)]


def test_a_dry_run_of_an_import_changes_nothing(keeper: Keeper, take_over: TakeOver) -> None:
    report = take_over("herb,date\nSage,2026-11-20\n", dry_run=True)
    assert report.is_clean
    assert not report.is_done
    assert report.added["jars"] == 1
    assert keeper.rows("SELECT count(*) FROM jar") == [(0,)]


BAD = [
    ("date", "soon", "That isn't a date"),
    ("date", "27 Nov 2026", "future"),
    ("mass", "500 ml", "write a weight"),
    ("mass", "0 g", "greater than zero"),
    ("volume", "5oo ml", "Not a volume"),
    ("strength", "400 %", "no more than 100 %"),
    ("strained", "1 Oct 2026", "before the filling date"),
    ("strain", "1 Oct 2026", "before the filling date"),
    ("bottle", "1O0 ml", "Not a volume"),
    ("left", "1O ml", "Not a volume"),
    ("shakes", "12", "from 0 to 9"),
    ("code", "x" * 41, "at most 40"),
    ("herb", "x" * 201, "at most 200"),
]


@pytest.mark.parametrize(("column", "cell", "said"), BAD)
def test_a_bad_cell_is_reported_and_nothing_is_imported(
    column: str, cell: str, said: str, keeper: Keeper, take_over: TakeOver
) -> None:
    cells = {"herb": "Sage", "date": "1 Nov 2026"} | {column: cell}
    report = take_over(f"{','.join(cells)}\nMint,1 Nov 2026\n{','.join(cells.values())}\n")
    (bad,) = report.bad
    assert (bad.file, bad.line, bad.column) == ("notebook.csv", 3, column)
    assert said in bad.message
    assert not report.is_done
    assert keeper.rows("SELECT count(*) FROM jar") == [(0,)]


def test_every_bad_line_is_reported(take_over: TakeOver) -> None:
    report = take_over("herb,date,mass\n,soon,5oo g\nSage,2026-11-20,\nMint,never,\n")
    assert [(bad.line, bad.column) for bad in report.bad] == [
        (2, "herb"), (2, "date"), (2, "mass"), (4, "date"),
    ]  # fmt: skip


CONTRADICTIONS = [
    ("herb,date,strained\nSage,1 Nov 2026,20 Nov 2026", 2, "enter the yield"),
    ("herb,date,bottle,left\nSage,1 Nov 2026,50 ml,60 ml", 2, "can't hold that much"),
    ("herb,date,yield,left\nSage,1 Nov 2026,50 ml,60 ml", 2, "more than the 50 mL strained"),
    ("herb,date,code\nSage,1 Nov 2026,A\nMint,1 Nov 2026,A", 3, "the code of row 2"),
    ("herb,date,code\nSage,1 Nov 2026,A\nSage,1 Nov 2026,A", 3, "the code of row 2"),
]


@pytest.mark.parametrize(("text", "line", "said"), CONTRADICTIONS)
def test_contradictory_lines_are_reported(
    text: str, line: int, said: str, take_over: TakeOver
) -> None:
    (bad,) = take_over(text).bad
    assert bad.line == line
    assert said in bad.message


def test_a_code_already_on_the_shelf_is_reported(keeper: Keeper, take_over: TakeOver) -> None:
    take_over("herb,date,code\nSage,1 Nov 2026,A\n")
    (bad,) = take_over("herb,date,code\nMint,1 Nov 2026,A\n").bad
    assert (bad.line, bad.column) == (2, "code")
    assert keeper.rows("SELECT count(*) FROM jar") == [(1,)]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "needs a column called herb and one called date"),
        (b"\xd0\xcf\x11\xe0 an old workbook", "old Excel file"),
        (b"PK\x03\x04 cut off", "damaged"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x08\x06", "not a spreadsheet"),
        (b"herb,date\n" + b"x" * 200_000 + b",2026-11-20\n", "not CSV"),
    ],
)
def test_a_file_that_is_not_a_list_of_jars_is_reported(
    content: bytes, said: str, take_over: TakeOver
) -> None:
    (bad,) = take_over(content).bad
    assert said in bad.message


def test_a_missing_file_is_reported(keeper: Keeper, tmp_path: Path) -> None:
    (bad,) = import_notebook(keeper, tmp_path / "none.csv").bad
    assert "No such file" in bad.message


def test_a_second_import_of_a_list_adds_only_what_is_new(
    keeper: Keeper, take_over: TakeOver
) -> None:
    old = "herb,date,code,bottle\nSage,2026-11-20,,\nSage,2026-11-20,,\nRue,2026-11-01,X7,100 ml\n"
    assert take_over(old).added == {"jars": 3, "bottles": 1}
    again = take_over(old)
    assert (again.added, again.unchanged) == ({"jars": 0, "bottles": 0}, {"jars": 3})
    more = take_over(old + "Sage,2026-11-20,,\nDill,2026-11-02,,\n")
    assert (more.added["jars"], more.unchanged) == (2, {"jars": 3})
    (bad,) = take_over("herb,date,code\nDill,2026-11-01,X7\n").bad
    assert bad.column == "code"
    undo(keeper)
    undo(keeper)
    assert keeper.rows("SELECT count(*) FROM jar") == [(0,)]


def test_columns_without_a_meaning_are_kept_in_the_note(
    keeper: Keeper, take_over: TakeOver
) -> None:
    report = take_over("herb,date,moon,note,who,bottle,place\nSage,2026-11-20,full,dim,,,Loft\n")
    assert report.is_done
    assert "Saved as notes: the columns moon, who." in report.assumed
    note = only_jar(keeper).note
    assert note.startswith("dim\nmoon: full\nFrom notebook.csv, row 2.\nPlace: Loft.")
    assert "who" not in note


def test_text_that_a_note_cannot_hold_is_reported_for_its_column(take_over: TakeOver) -> None:
    (bad,) = take_over(f"herb,date,moon\nSage,2026-11-20,{'x' * 3000}\n").bad
    assert (bad.column, bad.line) == ("moon", 2)
    assert "too long" in bad.message


def test_notes_too_long_for_a_jar_are_reported_for_their_row(
    keeper: Keeper, take_over: TakeOver
) -> None:
    headings = ",".join(f"Remark {number}" for number in range(11))
    remarks = ",".join("x" * 1900 for _ in range(11))
    report = take_over(f"Herb,Date,{headings}\nAngelica,2025-03-01,{remarks}\n")
    assert [(bad.line, bad.message) for bad in report.bad] == [
        (2, "The note is too long. Use at most 20000 characters.")
    ]
    assert shelves_view(keeper).jars == ()


def test_the_columns_named_in_the_help_are_understood() -> None:
    named = IMPORT_NOTES.partition("Known columns: ")[2].partition(", and most")[0]
    words = [" ".join(word.split()) for word in named.split(",")]
    assert set(words) <= set(headings())
    assert len(words) == len(columns())


def test_dates_with_slashes_are_read_as_the_user_answers(
    keeper: Keeper, take_over: TakeOver
) -> None:
    assert take_over("herb,date\nSage,3/4/2026\n", day_first=True).is_done
    assert only_jar(keeper).card.filled_on == date(2026, 4, 3)


def test_a_utf_16_file_with_several_lines_in_a_cell_is_read(
    keeper: Keeper, take_over: TakeOver
) -> None:
    text = 'herb\tdate\tnote\nΔίκταμο\t2026-11-20 00:00:00\t"one\ntwo"\n'
    assert take_over(text.encode("utf-16")).is_done
    jar = only_jar(keeper)
    assert jar.card.herb == "Δίκταμο"
    assert jar.note.startswith("one\ntwo\n")


def test_an_imported_list_is_exported_and_imported_unchanged(
    keeper: Keeper, take_over: TakeOver, new_shelf: NewShelf, tmp_path: Path
) -> None:
    take_over("herb,date,left\nSage,2026-11-20,\nFennel,2025-11-20,50 ml\n")
    export_folder(keeper, tmp_path / "a")
    other = new_shelf("other")
    assert import_folder(other, tmp_path / "a").bad == ()
    export_folder(other, tmp_path / "b")
    assert Folder(tmp_path / "a").bytes() == Folder(tmp_path / "b").bytes()


def counts(keeper: Keeper) -> list[tuple[int, int]]:
    """How many jars and herbs there are."""
    return keeper.rows("SELECT (SELECT count(*) FROM jar), (SELECT count(*) FROM herb)")


def test_every_missing_fact_is_asked_once_with_its_rows_and_the_option_to_add(
    keeper: Keeper, take_over: TakeOver
) -> None:
    report = take_over(
        "herb,date,part,condition,yield,mass\n"
        "Sage,1 Nov 2026,leaf,,,10 g\n"
        "Rue,2 Nov 2026,,dried,,10 g\n"
        "\n"
        'Mint,3 Nov 2026,stalk,frozen,200 ml,"10\n"\n'
        "Dill,soon,,,,10 g\n",
        answers=(),
    )
    assert [(q.key, q.rows, q.unread) for q in report.questions] == [
        ("part", (3, 5, 6), ("stalk",)),
        ("condition", (2, 5, 6), ("frozen",)),
        ("pressing", (5,), ()),
        ("strained", (5,), ()),
    ]
    assert [bad.line for bad in report.bad] == [6]
    said = [str(question) for question in report.questions]
    assert 'in rows 3, 5-6, where "stalk" is not clear. Add --set part=leaf (or' in said[0]
    assert '--set "part=aerial parts"' in said[0]
    assert "row 5. Add --set pressing=drained" in said[2]
    assert "--set strained=date" in said[3]
    assert counts(keeper) == [(0, 0)]


def test_an_answer_fills_only_cells_that_are_blank_or_not_understood(
    keeper: Keeper, take_over: TakeOver
) -> None:
    text = "herb,date,part\nSage,1 Nov 2026,root\nRue,2 Nov 2026,\nMint,3 Nov 2026,stalk\n"
    assert take_over(text, answers=("part=seed", "condition=fresh")).is_done
    found = keeper.rows("SELECT part, condition FROM charge_line ORDER BY id")
    assert found == [("root", "fresh"), ("seed", "fresh"), ("seed", "fresh")]
    ((note,),) = keeper.rows("SELECT note FROM jar ORDER BY id DESC LIMIT 1")
    assert note.startswith("part: stalk\n")


@pytest.mark.parametrize(
    ("cell", "part"), [("root and leaf", None), ("dried root", "root"), ("leaf/flower", None)]
)
def test_a_cell_that_names_two_parts_is_asked_about(
    cell: str, part: str | None, take_over: TakeOver
) -> None:
    report = take_over(f"herb,date,part,fresh\nSage,1 Nov 2026,{cell},dry\n", answers=())
    assert [q.unread for q in report.questions] == ([] if part else [(cell,)])


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        (("part",), "Write KEY=VALUE, such as part=leaf"),
        (("colour=red",), "KEY is part, condition, pressing, strained"),
        (("part=stalk",), "is not clear. Use leaf"),
        (("part=",), "is not clear. Use leaf"),
        (("condition=fresh or dried",), "Use fresh or dried"),
        (("strained=soon",), "is not clear"),
        (("strained=27 Nov 2026",), "future"),
        (("part=leaf", "part=root"), "twice"),
    ],
)
def test_an_answer_that_is_not_a_choice_is_refused(
    answers: tuple[str, ...], said: str, take_over: TakeOver
) -> None:
    with pytest.raises(Refused, match=said):
        take_over("herb,date\nSage,1 Nov 2026\n", answers=answers)


NAMES = [
    ("Valerian root", "Valerian", "root", None),
    ("Calendula flowers (dried)", "Calendula", "flower", "dried"),
    ("Marshmallow root (fresh)", "Marshmallow", "root", "fresh"),
    ("Sage, dried leaves", "Sage", "leaf", "dried"),
    ("Fresh ginger root", "ginger", "root", "fresh"),
    ("Juniper berries", "Juniper berries", "fruit", None),
    ("Cramp bark", "Cramp bark", None, None),
    ("Green tea", "Green tea", None, None),
    ("Thyme (own garden)", "Thyme (own garden)", None, None),
    ("Root", "Root", None, None),
]


@pytest.mark.parametrize(("cell", "herb", "part", "condition"), NAMES)
def test_the_name_of_a_herb_may_include_its_part_and_condition(
    cell: str,
    herb: str,
    part: str | None,
    condition: str | None,
    keeper: Keeper,
    take_over: TakeOver,
) -> None:
    text = f'herb,date\n"{cell}",1 Nov 2026\n'
    asked = [q.key for q in take_over(text, answers=()).questions]
    assert asked == [key for key, v in (("part", part), ("condition", condition)) if v is None]
    assert take_over(text, answers=("part=resin", "condition=fresh")).is_done
    (charge,) = only_jar(keeper).charges
    assert (charge.herb, charge.part) == (herb, part or "resin")
    assert charge.condition == (condition or "fresh")


def test_a_name_and_a_column_that_disagree_are_reported(take_over: TakeOver) -> None:
    (bad,) = take_over("herb,date,part\nValerian root,1 Nov 2026,leaf\n").bad
    assert (bad.line, bad.column) == (2, "part")
    assert "the herb's name has root" in bad.message


def test_rows_of_one_batch_that_disagree_are_reported(take_over: TakeOver) -> None:
    text = "herb,date,code,left,part\nSage,1 Nov 2026,A,9 ml,leaf\nSage,1 Nov 2026,A,9 ml,root\n"
    (bad,) = take_over(text).bad
    assert (bad.line, bad.column) == (3, "part")


def test_one_row_of_a_batch_can_state_what_applies_to_all(
    keeper: Keeper, take_over: TakeOver
) -> None:
    text = "herb,date,code,left,part\nSage,1 Nov 2026,A,9 ml,\nSage,1 Nov 2026,A,9 ml,root\n"
    assert take_over(text, answers=(*ANSWERS[1:], "part=leaf")).is_done
    assert only_jar(keeper).charges[0].part == "root"


@pytest.mark.parametrize(
    "heading", ["State", "Form", "Fresh/Dry", "Dry/Fresh", "Fresh or dry?", "CONDITION"]
)
def test_the_condition_column_is_known_under_many_headings(
    heading: str, keeper: Keeper, take_over: TakeOver
) -> None:
    text = f"Herb,Date,Part,{heading}\nSage,1 Nov 2026,leaf,Fresh\nRue,1 Nov 2026,leaf,dry\n"
    assert take_over(text, answers=()).is_done
    assert keeper.rows("SELECT condition FROM charge_line ORDER BY id") == [("fresh",), ("dried",)]


def test_one_straining_day_can_be_given_for_all_and_is_never_before_the_filling(
    keeper: Keeper, take_over: TakeOver
) -> None:
    text = "herb,date,yield\nSage,1 Nov 2026,200 ml\n"
    (bad,) = take_over(text, answers=(*ANSWERS[:3], "strained=1 Oct 2026")).bad
    assert "before the filling date" in bad.message
    assert take_over(text, answers=(*ANSWERS[:3], "strained=15 Nov 2026")).is_done
    straining = only_jar(keeper).straining
    assert straining is not None
    assert straining.strained_on == date(2026, 11, 15)


def test_days_before_the_first_recorded_shake_are_not_missed_shakes(
    keeper: Keeper, take_over: TakeOver
) -> None:
    take_over("herb,date,volume,abv\nSage,1 Nov 2026,300 ml,40\n")
    jar = only_jar(keeper)
    assert jar.shakes_recorded_from is None
    shake(keeper, jar.card.jar_id)
    jar = only_jar(keeper)
    assert jar.shakes_recorded_from == keeper.today
    draft = StrainDraft(jar.card.jar_id, keeper.today, 250, Pressing.SQUEEZED)
    history = batch_history(keeper, strain(keeper, draft).tincture_id)
    assert history.shakes is not None
    assert history.shakes.missed_on == ()
    assert history.shakes.not_recorded == 25  # from 1 to 25 November
    assert history.maker_of("filled") == ""


HERBS = ("Sage", "Rue", "Dill root", "Mint (dried)", "Thyme leaf")
CELLS = {
    "part": ("", "", "leaf", "root", "stalk", "?"),
    "condition": ("", "", "fresh", "dried", "frozen"),
    "pressing": ("", "pressed", "squeezed", "twice"),
    "mass": ("", "50 g"),
    "volume": ("", "300 ml"),
    "strength": ("", "40 %"),
    "strained": ("", "2026-11-10"),
    "yield": ("", "", "250 ml"),
    "shakes": ("", "2"),
    "jar size": ("", "1 l"),
    "code": ("",),
}


@pytest.mark.parametrize("seed", range(40))
def test_nothing_is_stored_that_neither_sheet_nor_answer_stated(
    seed: int, keeper: Keeper, take_over: TakeOver, tmp_path: Path
) -> None:
    """Compared as text: the cells typed here with the lines of the export, row by row."""
    chance = random.Random(seed)
    columns = chance.sample(list(CELLS), k=chance.randint(2, len(CELLS)))
    rows = []
    for number in range(chance.randint(1, 6)):
        row = {"herb": chance.choice(HERBS), "date": f"2026-11-0{number + 1}"}
        row |= {column: chance.choice(CELLS[column]) for column in columns}
        if row.get("strained") and not row.get("yield"):
            row["strained"] = ""
        if " " in row["herb"] and row.get("part") in ("leaf", "root"):
            row["part"] = ""
        if "(" in row["herb"] and row.get("condition") in ("fresh", "dried"):
            row["condition"] = ""
        rows.append(row)
    file = io.StringIO()
    writer = csv.DictWriter(file, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    said = {"part": "seed", "condition": "fresh", "pressing": "drained", "strained": "2026-11-12"}
    given = {key: said[key] for key in said if chance.random() < 0.6}

    def fact(row: dict[str, str], key: str) -> str | None:
        """What the row or the answer states, by looking for plain words."""
        known = {"part": "leaf root", "condition": "fresh dried", "pressing": "pressed squeezed"}
        place = f"{row['herb']} {row.get(key, '')}" if key != "pressing" else row.get(key, "")
        if key == "strained":
            return row.get(key) or given.get(key)
        found = [word for word in known[key].split() if word in place]
        return found[0] if found else given.get(key)

    report = take_over(file.getvalue(), answers=[f"{k}={v}" for k, v in given.items()])
    missing = {
        key: tuple(
            number
            for number, row in enumerate(rows, start=2)
            if (key in ("part", "condition") or row.get("yield")) and fact(row, key) is None
        )
        for key in said
    }
    assert {q.key: q.rows for q in report.questions} == {k: v for k, v in missing.items() if v}
    assert report.is_done == (not any(missing.values()))
    if not report.is_done:
        assert counts(keeper) == [(0, 0)]
        return
    export_folder(keeper, tmp_path / "out")

    def lines(name: str) -> list[dict[str, str]]:
        with (tmp_path / "out" / f"{name}.csv").open(encoding="utf-8-sig", newline="") as out:
            return list(csv.DictReader(out))

    def figure(text: str | None) -> float | None:
        return float(text.split()[0]) if text else None

    jars = {jar["filled_on"]: jar for jar in lines("jars")}
    for row in rows:
        jar = jars[row["date"]]
        (herb,) = (line for line in lines("herbs_in_jars") if line["jar"] == jar["code"])
        assert (herb["part"], herb["condition"]) == (fact(row, "part"), fact(row, "condition"))
        assert figure(herb["mass_g"]) == figure(row.get("mass"))
        assert figure(jar["capacity_ml"]) == (1000 if row.get("jar size") else None)
        poured = [line for line in lines("pours") if line["jar"] == jar["code"]]
        is_known = bool(row.get("volume") and row.get("strength"))
        assert [(p["volume_ml"], p["strength_abv"]) for p in poured] == (
            [("300", "40")] if is_known else []
        )
        strained = [line for line in lines("strainings") if line["jar"] == jar["code"]]
        assert [(s["strained_on"], s["pressing"], s["yield_ml"]) for s in strained] == (
            [(fact(row, "strained"), fact(row, "pressing"), "250")] if row.get("yield") else []
        )
        if not row.get("shakes"):
            assert "shakes" in jar["note"].partition("Not in the list:")[2]
        assert "strain date" in jar["note"].partition("Not in the list:")[2]
    assert lines("shakes") == []
