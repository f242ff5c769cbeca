"""Sheets as different people keep them, each with what the person who owns it would expect."""

import csv
import io
import random
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from xml.sax.saxutils import escape

import openpyxl
import pytest

from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.interchange.answers import SheetWishes
from stillroom.keeping.interchange.mapping import saved_mapping, write_mapping
from stillroom.keeping.interchange.notebook import import_notebook
from stillroom.keeping.interchange.report import ImportReport
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import Role
from stillroom.keeping.settings import Settings, save_settings, settings_of
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.undo import undo
from stillroom.paper.batch_record import batch_record
from stillroom.paper.document import Document, Facts
from stillroom.paper.label_face import lay_out
from stillroom.paper.label_square import Box
from stillroom.quantities import UnitSystem
from stillroom.reckoning.yields import Pressing

from ..builders import retentions_seen

TakeIn = Callable[..., ImportReport]


@pytest.fixture
def take_in(keeper: Keeper, tmp_path: Path) -> TakeIn:
    """Import a sheet of this content, with what is said of it."""

    def take(content: str | bytes, *answers: str, name: str = "list.csv", **wishes) -> ImportReport:
        file = tmp_path / name
        file.write_bytes(content if isinstance(content, bytes) else content.encode())
        return import_notebook(keeper, file, wishes=SheetWishes(tuple(answers), **wishes))

    return take


def jars(keeper: Keeper) -> list[tuple]:
    """Herb, part, condition and weight of each jar, and what was poured."""
    return keeper.rows(
        """SELECT h.name, l.part, l.condition, l.mass_g, p.volume_ml, p.strength_abv
           FROM charge_line l JOIN herb h ON h.id = l.herb_id
           LEFT JOIN pour p ON p.jar_id = l.jar_id ORDER BY l.id"""
    )


def notes(keeper: Keeper) -> list[str]:
    """The note of each jar."""
    return [note for (note,) in keeper.rows("SELECT note FROM jar ORDER BY id")]


KITCHEN = """\
Tinctures of this autumn,,,,,,
,,,,,,
Plant,Started,How much,Fresh or dry?,Alcohol,Amount,Remarks
Mullein,14/10/2026,c. 80g,dried leaves,vodka 37.5%,450ml,smells of hay
Rowan,20/10/2026,1/2 jar,fresh berries,vodka 37.5%,to cover,
,,,,,,
Burdock,25/10/2026,handful,fresh root,brandy 40%,about 300 ml,shake!
Dill,3/11/2026,50-60g,dried seeds,vodka 40%,350ml,
TOTAL,,210g,,,1150ml,
Buy more jars!,,,,,,
"""


def test_cells_as_people_write_them_are_read_without_loss_or_invention(
    keeper: Keeper, take_in: TakeIn
) -> None:
    asked = take_in(KITCHEN)
    assert [(q.key, q.rows, q.unread) for q in asked.questions] == [("ranges", (8,), ("50-60g",))]
    assert asked.bad == ()
    report = take_in(KITCHEN, "ranges=middle")
    assert report.is_done
    assert [line.partition(":")[0] for line in report.skipped] == [
        "row 1, a title", "row 9, a total", "row 10, a note", "rows 2, 6, blank",
    ]  # fmt: skip
    assert jars(keeper) == [
        ("Mullein", "leaf", "dried", 80, 450, 37.5),
        ("Rowan", "fruit", "fresh", None, None, None),
        ("Burdock", "root", "fresh", None, 300, 40),
        ("Dill", "seed", "dried", 55, 350, 40),
    ]
    for note, words in zip(
        notes(keeper),
        (("How much: c. 80g", "vodka 37.5%", "smells of hay"), ("1/2 jar", "to cover", "37.5 %"),
         ("handful", "about 300 ml", "brandy 40%"), ("How much: 50-60g",)),
        strict=True,
    ):  # fmt: skip
        assert all(each in note for each in words)
    assert undo(keeper).startswith("Imported 4 jars")
    assert jars(keeper) == []


@pytest.mark.parametrize(
    ("answer", "grams"),
    [("low", 50), ("high", 60), ("middle", 55), ("unknown", None), ("ranges:Dill", 50)],
)
def test_a_range_is_read_as_the_answer_says(
    answer: str, grams: float | None, keeper: Keeper, take_in: TakeIn
) -> None:
    said = "ranges:Dill=low" if ":" in answer else f"ranges={answer}"
    assert take_in(KITCHEN, said).is_done
    assert jars(keeper)[-1][3] == grams


AMERICAN = """\
Herb Name,Date Started,Weight (oz),Menstruum,Menstruum Volume (fl oz),Ready Date,Location
Arnica flowers (dried),10/14/2026,4 oz,grain spirit 190 proof,16 fl oz,11/25/2026,pantry
Ginseng root (fresh),10/20/2026,8,190 proof,16,12/1/2026,pantry
Skullcap,11/03/2026,2.5,100 proof vodka,12.5,12/15/2026,basement
"""


@pytest.mark.parametrize("units", [UnitSystem.METRIC, UnitSystem.US])
def test_ounces_proof_and_american_dates_are_read(
    units: UnitSystem, keeper: Keeper, take_in: TakeIn
) -> None:
    """An avoirdupois ounce is 28.349523125 g and a US fluid ounce 29.5735295625 mL (NIST HB 44)."""
    save_settings(keeper, Settings(units=units))
    asked = take_in(AMERICAN)
    assert [(q.key, q.rows, q.herbs) for q in asked.questions] == [
        ("part", (4,), ("Skullcap",)), ("condition", (4,), ("Skullcap",)),
    ]  # fmt: skip
    assert take_in(AMERICAN, accept_unknown=True).is_done
    ounce, fluid_ounce = 28.349523125, 29.5735295625
    assert [row[:3] for row in jars(keeper)] == [
        ("Arnica", "flower", "dried"),
        ("Ginseng", "root", "fresh"),
        ("Skullcap", "part not known", "condition not known"),
    ]
    assert [row[3] for row in jars(keeper)] == pytest.approx([4 * ounce, 8 * ounce, 2.5 * ounce])
    volumes = [16 * fluid_ounce, 16 * fluid_ounce, 12.5 * fluid_ounce]
    assert [row[4] for row in jars(keeper)] == pytest.approx(volumes)
    assert [row[5] for row in jars(keeper)] == [95, 95, 50]
    assert keeper.rows("SELECT strain_on FROM jar ORDER BY id") == [
        ("2026-11-25",), ("2026-12-01",), ("2026-12-15",),
    ]  # fmt: skip


STRAINED = """\
Herb,Part,State,Started,Grams,ML,Alcohol %,Strained,Yield ml,Bottles,Best before
Hyssop,aerial parts,dried,2026-05-02,100,500,50,2026-06-13,430,4x100 + 30,2031-06-01
Borage,leaf,dried,2026-06-01,60,300,40,2026-07-12,260,2 x 100ml; 50ml,
Sloe,fruit,dried,2026-08-01,150,750,40,2026-09-12,610,500 + 100,
Galangal,root,fresh,2026-10-01,200,400,60,,,,
"""


def test_facts_not_known_of_strained_jars_are_shown_as_not_known_and_teach_nothing(
    keeper: Keeper, take_in: TakeIn
) -> None:
    assert [q.key for q in take_in(STRAINED).questions] == ["pressing"]
    assert take_in(STRAINED, accept_unknown=True).is_done
    sizes = keeper.rows(
        """SELECT group_concat(round(size_ml)) FROM
           (SELECT tincture_id, size_ml FROM bottle ORDER BY id) GROUP BY tincture_id"""
    )
    assert sizes == [
        ("100.0,100.0,100.0,100.0,30.0",), ("100.0,100.0,50.0",), ("500.0,100.0",),
    ]  # fmt: skip
    assert jars(keeper)[-1] == ("Galangal", "root", "fresh", 200, 400, 60)
    first = jar_view(keeper, 1)
    assert first.straining is not None
    assert first.straining.how_pressed == "pressing not known"
    assert first.shakes_recorded_from is None
    assert keeper.rows("SELECT keep_until, keep_until_by_hand FROM tincture WHERE id = 1") == [
        ("2031-06-01", 1)
    ]
    for pressing in Pressing:
        assert retentions_seen(keeper, None, pressing) == []


def test_an_answer_is_marked_as_assumed_until_it_is_confirmed(
    keeper: Keeper, take_in: TakeIn
) -> None:
    text = "Herb,Date,Yield,Bottle,Weight,Volume,ABV\nDill,2026-09-01,260 ml,250 ml,60,300,40\n"
    answers = ("part=seed", "condition=dried", "pressing=pressed", "strained=15 Sep 2026")
    assert take_in(text, *answers).is_done
    jar = jar_view(keeper, 1)
    assert jar.charges[0].as_put_in == "seed (assumed), dried (assumed)"
    assert jar.straining is not None
    assert (jar.straining.how_pressed, jar.straining.day_by) == ("pressed (assumed)", "assumed")
    ((bottle_id,),) = keeper.rows("SELECT id FROM bottle")
    (label,) = labels_for(keeper, [bottle_id])
    assert label.herbs[0].part_and_condition == "seed (assumed), dried (assumed)"
    assert label.made.endswith("2026 (assumed)")
    assert retentions_seen(keeper, None, Pressing.PRESSED) == []
    changes = {"part-assumed": "no", "condition-assumed": "no", "pressing-assumed": "no"}
    correct(
        keeper, Subject(SubjectKind.JAR, 1), {**changes, "day-known": "stated", "teaches": "yes"}
    )
    assert jar_view(keeper, 1).charges[0].as_put_in == "seed, dried"
    assert len(retentions_seen(keeper, None, Pressing.PRESSED)) == 1


def test_a_day_that_is_not_known_is_never_printed(keeper: Keeper, take_in: TakeIn) -> None:
    """The only day that is known, of filling, is stored in its place."""
    text = "Herb,Date,Yield,Bottle,Weight,Volume,ABV\nDill,2026-09-01,260 ml,250 ml,60,300,40\n"
    assert take_in(text, accept_unknown=True).is_done
    ((bottle_id,),) = keeper.rows("SELECT id FROM bottle")
    (label,) = labels_for(keeper, [bottle_id])
    dates = [line.text for line in label.lines if line.role is Role.DATE]
    assert dates == ["Day made not known", "Keep until 1 Sep 2027"]
    assert "day made not known" in label.scan_text
    assert "1 Sep 2026" not in label.scan_text
    german = replace(settings_of(keeper), label_language="de")
    (label,) = labels_for(keeper, [bottle_id], german)
    assert "Herstellungstag nicht bekannt" in [line.text for line in label.lines]
    for width, height in ((50, 30), (63.5, 38.1)):
        found = lay_out(label, Box(0, 0, width, height), (width, height))
        assert "Herstellungstag nicht bekannt" in " ".join(each.text for each in found.texts)
    history = batch_history(keeper, 1)
    record = dict(_facts(batch_record(history, settings_of(keeper), keeper.clock.now())))
    assert (record["Made on"], record["Steep"]) == ("not known", "not known")
    assert "strained not known" in trace(keeper, "26-001").detail


def _facts(paper: Document) -> list[tuple[str, str]]:
    (batch, *_) = (b for s in paper.sections for b in s.blocks if isinstance(b, Facts))
    return list(batch.rows)


def test_a_condition_that_is_not_known_leaves_the_plant_water_out_and_shows_it(
    keeper: Keeper, take_in: TakeIn
) -> None:
    text = "Herb,Date,Weight,Volume,ABV\nDill,2026-11-01,60,300,40\n"
    assert take_in(text, accept_unknown=True).is_done
    outlook = jar_view(keeper, 1).outlook
    assert outlook.strength_at_most
    assert outlook.strength_abv == pytest.approx(40)
    assert "not known" in outlook.verdict.lower()


MERGED = """\
SHELF A,,,,,
Herb,Fresh/Dry,Date,Qty,Liquid,Done?
Betony root,F,2026-10-01,200g,400ml 60%,no
,D,2026-10-15,100g,500ml 50%,no
SHELF B,,,,,
Herb,Fresh/Dry,Date,Qty,Liquid,Done?
Avens leaf,D,2026-11-01,50g,250ml 40%,no
,,,,,
"""


def test_shelf_rows_repeated_headings_and_merged_herb_cells_are_read(
    keeper: Keeper, take_in: TakeIn
) -> None:
    asked = take_in(MERGED)
    assert [(q.key, q.rows, q.choices[0]) for q in asked.questions] == [("herb", (4,), "above")]
    assert take_in(MERGED, "herb=above").is_done
    assert jars(keeper) == [
        ("Betony", "root", "fresh", 200, 400, 60),
        ("Betony", "root", "dried", 100, 500, 50),
        ("Avens", "leaf", "dried", 50, 250, 40),
    ]
    shelves = keeper.rows(
        "SELECT s.name FROM jar j JOIN shelf s ON s.id = j.shelf_id ORDER BY j.id"
    )
    assert shelves == [("Shelf A",), ("Shelf A",), ("Shelf B",)]
    assert all("Done?: no" in note for note in notes(keeper))


AMBIGUOUS = "Herb,Date,Part,State\nDill,03/04/2026,seed,dried\nRue,04/05/2026,leaf,dried\n"


@pytest.mark.parametrize(("order", "first"), [("dmy", "2026-04-03"), ("mdy", "2026-03-04")])
def test_the_order_of_day_and_month_is_asked_once_for_each_column(
    order: str, first: str, keeper: Keeper, take_in: TakeIn
) -> None:
    (question,) = take_in(AMBIGUOUS).questions
    assert str(question).endswith("Add --dates dmy (or --dates mdy).")
    assert take_in(AMBIGUOUS, f"dates={order}").is_done
    assert keeper.rows("SELECT filled_on FROM jar ORDER BY id LIMIT 1") == [(first,)]


def test_one_unambiguous_date_decides_the_order_for_its_column(
    keeper: Keeper, take_in: TakeIn
) -> None:
    text = AMBIGUOUS + "Sage,25/05/2026,leaf,dried\n"
    report = take_in(text)
    assert "Dates are read as day before month, as 25/05/2026 shows." in report.read
    assert keeper.rows("SELECT filled_on FROM jar ORDER BY id LIMIT 1") == [("2026-04-03",)]


def workbook(tmp_path: Path) -> bytes:
    """Two sheets with typed cells, a percentage, merged cells and a formula with no result."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Jars"
    sheet.append(["Herb", "Date", "Part", "Fresh or dried", "Weight g", "Volume ml", "Strength"])
    sheet.append(["Dill", date(2026, 11, 1), "seed", "dried", 50.125, 250, 0.4])
    sheet.append([None, 46327, "leaf", "dried", 60, 300, 0.5])
    sheet.merge_cells("A2:A3")
    for row in (2, 3):
        sheet.cell(row, 7).number_format = "0%"
    book.create_sheet("Bottles").append(["Herb", "Left"])
    book["Bottles"].append(["Rue", "30 ml"])
    book.save(tmp_path / "book.xlsx")
    return (tmp_path / "book.xlsx").read_bytes()


def test_a_workbook_with_typed_cells_is_read(
    keeper: Keeper, take_in: TakeIn, tmp_path: Path
) -> None:
    """46327 is 1 November 2026 by the serial numbers of ECMA-376: 46327 days after 30 Dec 1899."""
    content = workbook(tmp_path)
    (question,) = take_in(content, name="book.xlsx").questions
    assert (question.key, question.choices) == ("sheet", ("Jars", "Bottles"))
    assert take_in(content, name="book.xlsx", sheet="jars").is_done
    assert jars(keeper) == [
        ("Dill", "seed", "dried", 50.125, 250, 40), ("Dill", "leaf", "dried", 60, 300, 50),
    ]  # fmt: skip
    assert keeper.rows("SELECT DISTINCT filled_on FROM jar") == [("2026-11-01",)]


def test_a_formula_without_a_stored_result_is_reported(take_in: TakeIn, tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Herb", "Date", "Part", "State", "Weight g"])
    book.active.append(["Dill", date(2026, 11, 1), "seed", "dried", "=2*25"])
    book.save(tmp_path / "formula.xlsx")
    (bad,) = take_in((tmp_path / "formula.xlsx").read_bytes(), name="f.xlsx").bad
    assert (bad.line, bad.column) == (2, "Weight g")
    assert "formula" in bad.message


def test_unknown_columns_can_be_given_a_meaning_and_the_answers_are_saved(
    keeper: Keeper, take_in: TakeIn, tmp_path: Path
) -> None:
    text = "Thing,Begins,Qty,Part,State\nDill,2026-11-01,50,seed,dried\n"
    (bad,) = take_in(text).bad
    assert "--map" in bad.message
    named = ("Thing=herb", "Begins=date")
    (question,) = take_in(text, columns=named).questions
    assert question.key == "meaning"
    assert "--map Qty=weight" in str(question)
    wishes = SheetWishes(columns=(*named, "Qty=mass"), answers=("condition=dried",))
    write_mapping(tmp_path / "mine.json", wishes)
    assert saved_mapping(tmp_path / "mine.json") == wishes
    later = saved_mapping(tmp_path / "mine.json").with_more(SheetWishes(("condition=fresh",)))
    assert later.answers == ("condition=fresh",)
    (tmp_path / "list.csv").write_text(text)
    assert import_notebook(keeper, tmp_path / "list.csv", wishes=later).is_done
    assert jars(keeper)[0][:4] == ("Dill", "seed", "dried", 50)


def test_rows_are_left_out_on_request(keeper: Keeper, take_in: TakeIn) -> None:
    text = "Herb,Date,Part,State\nDill,soon,seed,dried\nRue,1 Nov 2026,leaf,dried\n"
    report = take_in(text, left_out=frozenset({2}))
    assert report.is_done
    assert "row 2, left out as you asked" in report.skipped[0]


WORDS = {
    "en": (("Herb", "Started on", "Part used", "Fresh or dried", "Weight (g)", "Volume (ml)",
            "Strength (%)", "Notes"), ("leaf", "root", "flower"), ("fresh", "dried"), "Total"),
    "de": (("Pflanze", "Angesetzt am", "Pflanzenteil", "Zustand", "Gewicht (g)", "Alkohol (ml)",
            "Stärke (%)", "Bemerkung"), ("Blätter", "Wurzel", "Blüten"), ("frisch", "getrocknet"),
           "Summe"),
    "fr": (("Plante", "Date de début", "Partie utilisée", "Frais ou sec", "Poids (g)",
            "Volume (ml)", "Degré (%)", "Remarques"),
           ("feuilles", "racine", "fleurs"), ("fraîche", "séchée"),
           "Total"),
    "es": (("Planta", "Fecha de inicio", "Parte usada", "Fresco o seco", "Peso (g)", "Volumen (ml)",
            "Graduación (%)", "Observaciones"), ("hojas", "raíz", "flores"), ("fresca", "seca"),
           "Suma"),
    "it": (("Pianta", "Data di inizio", "Parte usata", "Fresco o secco", "Peso (g)", "Volume (ml)",
            "Gradazione (%)", "Osservazioni"), ("foglie", "radice", "fiori"), ("fresca", "secca"),
           "Totale"),
    "nl": (("Kruid", "Begonnen op", "Gebruikt deel", "Vers of gedroogd", "Gewicht (g)",
            "Volume (ml)", "Sterkte (%)", "Opmerking"), ("blad", "wortel", "bloemen"),
           ("vers", "gedroogd"), "Totaal"),
}  # fmt: skip
MONTHS = {
    "en": "January May August October", "de": "Januar Mai August Oktober",
    "fr": "janvier mai août octobre", "es": "enero mayo agosto octubre",
    "it": "gennaio maggio agosto ottobre", "nl": "januari mei augustus oktober",
}  # fmt: skip
"""The words of this writer: its own, from the dictionaries of the languages."""


def ods(rows: list[list[str]], days: list[date | None]) -> bytes:
    """A spreadsheet in OpenDocument, written here by hand from the standard."""

    def cell(text: str, day: date | None) -> str:
        if day is not None:
            return f'<table:table-cell office:value-type="date" office:date-value="{day}"/>'
        return (
            '<table:table-cell office:value-type="string"><text:p>'
            f"{escape(text)}</text:p></table:table-cell>"
        )

    lines = "".join(
        "<table:table-row>"
        + "".join(cell(text, day if place == 1 else None) for place, text in enumerate(row))
        + "</table:table-row>"
        for row, day in zip(rows, days, strict=True)
    )
    names = "".join(
        f' xmlns:{short}="urn:oasis:names:tc:opendocument:xmlns:{short}:1.0"'
        for short in ("office", "table", "text")
    )
    content = (
        f"<office:document-content{names}><office:body><office:spreadsheet>"
        f'<table:table table:name="A">{lines}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
    return file.getvalue()


@pytest.mark.parametrize("seed", range(60))
def test_random_sheets_are_imported_as_meant(seed: int, keeper: Keeper, take_in: TakeIn) -> None:
    """The writer knows what it means; what is on the shelf is compared with that."""
    chance = random.Random(seed)
    language = chance.choice(list(WORDS))
    headings, parts, conditions, total = WORDS[language]
    comma = language != "en" and chance.random() < 0.7
    mark = "," if comma else "."
    order = chance.sample(range(8), k=8)
    form = chance.choice(["iso", "dots", "slashes", "months", "serial"])
    day_first = form != "slashes" or chance.random() < 0.5
    meant, rows, days = [], [], []
    for number in range(chance.randint(2, 6)):
        day = date(2026, chance.choice((1, 5, 8, 10)), chance.randint(1, 27))
        if form == "slashes" and not number:
            day = day.replace(day=27)  # a list has some day that shows its order
        mass, volume = chance.randint(20, 4000) / 4, chance.randint(100, 3000) / 2
        strength = chance.randint(60, 190) / 2
        part, condition = chance.randrange(3), chance.randrange(2)
        herb = f"Herb {'äéîòñß'[number]}{number}"
        meant.append(
            (herb, ("leaf", "root", "flower")[part], ("fresh", "dried")[condition], mass, volume,
             strength, day.isoformat())
        )  # fmt: skip
        month = MONTHS[language].split()[(1, 5, 8, 10).index(day.month)]
        written_day = {
            "iso": day.isoformat(),
            "dots": f"{day:%d.%m.%Y}",
            "slashes": f"{day:%d/%m/%Y}" if day_first else f"{day:%m/%d/%Y}",
            "months": f"{day.day} {month} {day.year}",
            "serial": str((day - date(1899, 12, 30)).days),
        }[form]
        figures = [f"{value:g}".replace(".", mark) for value in (mass, volume, strength)]
        rows.append([herb, written_day, parts[part], conditions[condition], *figures, "été, ö; ok"])
        days.append(day)
    table = [[f"My list {seed}", *[""] * 7], [""] * 8, [headings[place] for place in order]]
    table += [[row[place] for place in order] for row in rows]
    table.append([total if not at else "" for at in range(8)])
    kind = chance.choice(["ods", "csv", "csv", "csv"])
    if kind == "ods":
        table = [table[0], table[1], list(headings), *rows, [total, *[""] * 7]]
        content = ods(table, [None, None, None, *days, None])
    else:
        encodings = ["utf-8", "utf-8-sig", "utf-16", "cp1252", "mac_roman"]
        encoding = chance.choice(encodings)
        separator = chance.choice([";", "\t", "|"] if comma else [",", ";", "\t", "|"])
        file = io.StringIO()
        end = chance.choice(["\r\n", "\n"])
        csv.writer(file, delimiter=separator, lineterminator=end).writerows(table)
        content = file.getvalue().encode(encoding)
    report = take_in(content, name=f"list.{kind}")
    assert report.bad == ()
    assert report.questions == ()
    assert report.is_done
    found = keeper.rows(
        """SELECT h.name, l.part, l.condition, l.mass_g, p.volume_ml, p.strength_abv, j.filled_on
           FROM jar j JOIN charge_line l ON l.jar_id = j.id JOIN herb h ON h.id = l.herb_id
           JOIN pour p ON p.jar_id = j.id ORDER BY j.id"""
    )
    assert sorted(found) == sorted(meant)
    assert all("été, ö; ok" in note for note in notes(keeper))
    assert len(report.skipped) == 3
    assert report.skipped[-1] == "row 2, blank"


def test_a_date_that_would_be_in_the_future_decides_the_order(
    keeper: Keeper, take_in: TakeIn
) -> None:
    ahead = keeper.today + timedelta(days=9)
    text = (
        f"Herb,Date,Part,State\nDill,05/{ahead.month:02}/2026,seed,dried\nRue,05/12/2026,leaf,dry\n"
    )
    assert take_in(text).is_done
    assert keeper.rows("SELECT filled_on FROM jar ORDER BY id DESC LIMIT 1") == [("2026-05-12",)]


def test_a_sheet_without_a_date_column_prompts_a_question(take_in: TakeIn) -> None:
    asked = take_in("Herb,Part,Begins,Cond\nDill,seed,2026-11-01,dried\nRue,leaf,2026-11-02,\n")
    assert [(q.key, q.rows) for q in asked.questions] == [("column", ()), ("condition", (3,))]
    assert asked.bad == ()


@pytest.mark.parametrize(
    ("cell", "poured"),
    [
        ("½ l brandy 40%", (500, 40)),
        ("Korn 38%, ca. 1/4 l", (250, 38)),
        ("1 ½ l 40 %", (1500, 40)),
        ("vodka 37.5% 2,5 dl", (250, 37.5)),
        ("190 proof, 30 cl", (300, 95)),
    ],
)
def test_a_liquid_in_fractions_is_read_as_pours(
    cell: str, poured: tuple[float, float], keeper: Keeper, take_in: TakeIn
) -> None:
    sheet = f'Herb,Date,Part,Cond,Spirit\nDill,2026-11-01,seed,dried,"{cell}"\n'
    assert take_in(sheet).is_done
    assert jars(keeper)[0][4:] == poured


@pytest.mark.parametrize("day", ["1er août 2026", "le 1er août 2026", "Aug 1 '26", "1.8.26"])
def test_days_are_read_as_people_write_them(day: str, keeper: Keeper, take_in: TakeIn) -> None:
    assert take_in(f"Herb,Date,Part,Cond\nDill,{day},seed,dried\n").is_done
    assert keeper.rows("SELECT filled_on FROM jar") == [("2026-08-01",)]


STEEPED = """\
Heilpflanze;Teil;Ansatz am;Menge;Alkohol;Ziehzeit;Haltbar bis
Dill;Samen, getrocknet;3.5.2026;50 g;Wodka 40 % 200 ml;6 Wochen;06/2029
Mohn;Blüten frisch;31.01.2026;30 + 20 g;Wodka 40 % 200 ml;nach 1 Monat;Juni 2029
Fenchel;Samen getrocknet;12.06.2026;50 g;Wodka 40 % 200 ml;4-6 Wochen;
Hopfen;Blüten getrocknet;12.06.2026;50 g;Wodka 40 % 200 ml;bis sie braun ist;2029
"""


def test_a_steeping_time_gives_the_strain_date_and_a_month_means_its_last_day(
    keeper: Keeper, take_in: TakeIn
) -> None:
    """The days are counted on a printed calendar; 2026 has a February of 28 days."""
    asked = take_in(STEEPED)
    assert [(q.key, q.rows, q.unread) for q in asked.questions] == [
        ("ranges", (4,), ("4-6 Wochen",))
    ]
    report = take_in(STEEPED, "ranges=low")
    assert report.is_done
    assert keeper.rows("SELECT strain_on FROM jar ORDER BY id") == [
        ("2026-06-14",), ("2026-02-28",), ("2026-07-10",), ("2026-06-26",),
    ]  # fmt: skip
    assert "Counted from the filling date: Ziehzeit (rows 2-4)." in report.assumed
    assert "Kept as words: Ziehzeit (row 5)." in report.assumed
    assert "Taken as the end of the month or year: Haltbar bis (rows 2-3, 5)." in report.assumed
    assert [each[:4] for each in jars(keeper)][1] == ("Mohn", "flower", "fresh", 50)
    for note, words in zip(
        notes(keeper),
        ("Keep until: 30 Jun 2029", "Ziehzeit: nach 1 Monat", "Ziehzeit: 4-6 Wochen",
         "Keep until: 31 Dec 2029"),
        strict=True,
    ):  # fmt: skip
        assert words in note


def test_a_half_full_or_empty_bottle_is_never_counted_as_full(
    keeper: Keeper, take_in: TakeIn
) -> None:
    report = take_in(
        "Tincture,Made on,Bottle size,Left,Yield,Part,Cond\n"
        "Dill,12/06/2026,100ml,full,,seed,dried\n"
        "Rue,25/06/2026,50 ml,half,,leaf,dried\n"
        "Thyme,30/06/2026,100 ml,about 30ml,,tops,dried\n"
        "Fennel,30/06/2026,30ml,empty,,seed,dried\n"
        "Hop,30/06/2026,200ml,0 ml,180 ml,flower,dried\n",
        "pressing=unknown", "strained=date",
    )  # fmt: skip
    assert report.is_done
    assert "row 5, an empty bottle: Fennel · 30/06/2026 · 30ml · empty · seed · dried" in (
        report.skipped
    )
    assert keeper.rows(
        """SELECT b.size_ml, sum(m.volume_ml) FROM bottle b
           JOIN movement m ON m.bottle_id = b.id GROUP BY b.id"""
    ) == [(100, 100), (50, 25), (100, 30)]
    assert "Taken as a share of the bottle: Left (row 3)." in report.assumed
    lost = keeper.rows("SELECT volume_ml FROM loss")
    assert lost == [(180,)], "what was strained of the hop is used up, not waiting for a bottle"


def test_a_count_of_bottles_of_one_size_makes_that_many(keeper: Keeper, take_in: TakeIn) -> None:
    report = take_in(
        "Tinktur;Hergestellt am;Flaschengröße;Stück;Inhalt;Teil;Zustand\n"
        "Dill;12.06.2026;100 ml;2;voll;Samen;getrocknet\n"
        "Raute;12.06.2026;50 ml;3;;Blatt;getrocknet\n"
        "Fenchel;12.06.2026;;4;120 ml;Samen;getrocknet\n",
        "pressing=unknown", "strained=date",
    )  # fmt: skip
    assert report.is_done
    assert keeper.rows("SELECT size_ml, count(*) FROM bottle GROUP BY size_ml ORDER BY 1") == [
        (50, 3), (100, 2), (120, 1),
    ]  # fmt: skip
    assert "Kept as words: Stück (row 4)." in report.assumed


def test_what_is_left_of_several_bottles_is_in_the_first_ones(
    keeper: Keeper, take_in: TakeIn
) -> None:
    report = take_in(
        "Herb,Date,Part,Cond,Pressed,Yield,Bottles,Left\n"
        "Dill,2026-05-01,seed,dried,2026-06-01,430 ml,4x100 + 30,130 ml\n",
        "pressing=unknown",
    )
    assert report.is_done
    assert keeper.rows("SELECT size_ml FROM bottle ORDER BY id") == [(100,), (100,)]
    assert keeper.rows("SELECT strained_on FROM straining") == [("2026-06-01",)]
    assert keeper.rows("SELECT volume_ml FROM loss") == [(300,)]
    assert any("what is left = in the first of the bottles" in said for said in report.assumed)


def test_bottles_without_a_unit_have_that_of_the_yield(keeper: Keeper, take_in: TakeIn) -> None:
    save_settings(keeper, Settings(units=UnitSystem.US))
    sheet = "Herb,Date,Part,Cond,Yield,Bottles\nDill,2026-05-01,seed,dried,200 ml,2x100\n"
    assert take_in(sheet, "pressing=unknown", "strained=date").is_done
    assert keeper.rows("SELECT size_ml FROM bottle") == [(100,), (100,)]


def test_a_remark_after_a_figure_goes_into_the_note(keeper: Keeper, take_in: TakeIn) -> None:
    assert take_in("Herb,Date,Part,Cond,Weight\nDill,2026-11-01,seed,dried,60g (dry wt)\n").is_done
    assert jars(keeper)[0][3] == 60
    assert "Weight: 60g (dry wt)" in notes(keeper)[0]


def test_ounces_of_a_liquid_are_fluid_ounces(keeper: Keeper, take_in: TakeIn) -> None:
    """A US fluid ounce is 29.5735295625 mL (NIST Handbook 44)."""
    sheet = "Herb,Date,Part,Cond,Volume,ABV\nDill,2026-11-01,seed,dried,8 oz,40\n"
    save_settings(keeper, Settings(units=UnitSystem.US))
    assert take_in(sheet).is_done
    assert jars(keeper)[0][4] == pytest.approx(8 * 29.5735295625)


@pytest.mark.parametrize(
    ("bottled", "held"),
    [("11/13/2025", []), ("13 Nov 2025", []), ("2x100", [(100,), (100,)]), ("4 oz; 2 oz", None)],
)
def test_the_bottled_column_is_read_as_a_day_or_as_volumes(
    bottled: str, held: list[tuple[int]] | None, keeper: Keeper, take_in: TakeIn
) -> None:
    sheet = (
        f"Herb,Date,Part,Cond,Qty bottled,Bottled\nDill,10/01/2025,seed,dried,240 ml,{bottled}\n"
    )
    report = take_in(sheet, "pressing=unknown", "strained=date", "dates=mdy")
    assert report.is_done, report.bad
    if held is not None:
        assert keeper.rows("SELECT size_ml FROM bottle ORDER BY id") == held
    day = "2025-10-01" if held != [] else "2025-11-13"
    assert keeper.rows("SELECT strained_on, yield_ml FROM straining") == [(day, 240)]


TWO_TABLES = """\
Kitchen,,,,,
Herb,Started,Part,State,Weight,Volume
,dd/mm/yyyy,,,g,(ml)
Dill,01/10/2026,seed,dried,50,400
,,,,,
Cellar,,,,,
Herb,Part,Started,Weight,Volume,State
Fennel,seed,13/10/2026,"0,750",200,dried
"""


def test_titles_between_tables_and_a_row_of_units_are_not_jars(
    keeper: Keeper, take_in: TakeIn
) -> None:
    report = take_in(TWO_TABLES)
    assert report.is_done, (report.bad, report.questions)
    assert [line.partition(":")[0] for line in report.skipped] == [
        "row 1, a title", "row 3, units", "row 6, a title", "row 7, headings again", "row 5, blank",
    ]  # fmt: skip
    assert [each[:4] for each in jars(keeper)] == [
        ("Dill", "seed", "dried", 50),
        ("Fennel", "seed", "dried", 0.75),
    ]
