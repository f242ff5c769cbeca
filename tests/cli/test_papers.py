"""Labels, records, lists and the calendar by command, and exports that come back the same."""

import argparse
import csv
import json
import re
from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any, cast

import pytest
from icalendar import Calendar
from pypdf import PdfReader

from stillroom.cli.parser import whole_parser
from stillroom.clock import SetClock
from stillroom.keeping.bottles.stock import set_keep_until
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.paper import document
from stillroom.paper.document import Chart, Document, Grid
from stillroom.records import store as store_module
from stillroom.records.store import Store

from ..conftest import NOW
from .answers import Say

DOCUMENTS = {
    ("daysheet",): "Day sheet, Thu 26 Nov 2026",
    ("shelflist",): "Shelf list",
    ("stocklist",): "Stock list",
    ("record", "26-001"): "Batch record 26-001",
    ("record", "26-001.2"): "Batch record 26-001",
}


def text_of(pdf: Path) -> str:
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf.read_bytes())).pages)


@pytest.mark.parametrize(("words", "title"), DOCUMENTS.items())
def test_documents_are_written_as_text_and_as_pdf(
    say: Say, stocked: Path, tmp_path: Path, words: tuple[str, ...], title: str
) -> None:
    answer = say(*words, "--shelf", stocked)
    assert answer.code == 0
    assert answer.out.startswith(f"{title}\n")
    assert all(len(line) <= 80 for line in answer.out.splitlines())
    pdf, text = tmp_path / "paper.pdf", tmp_path / "paper.txt"
    assert say(*words, "--to", pdf, "--shelf", stocked) == (0, f"Wrote {pdf}.\n", "")
    assert title in text_of(pdf)
    assert say(*words, "--to", text, "--shelf", stocked).code == 0
    assert text.read_text() == answer.out


def test_a_file_is_replaced_only_on_request(say: Say, stocked: Path, tmp_path: Path) -> None:
    there = tmp_path / "there.pdf"
    there.write_text("mine")
    ics = tmp_path / "there.ics"
    ics.write_text("mine")
    for words in (
        ("stocklist", "--to", there),
        ("labels", "26-001", "--to", there),
        ("calendar", "--to", ics),
        ("export", "--json", there),
    ):
        answer = say(*words, "--shelf", stocked)
        assert answer.code == 2
        assert "--overwrite" in answer.err
        assert (there.read_text(), ics.read_text()) == ("mine", "mine")
    assert say("stocklist", "--to", there, "--overwrite", "--shelf", stocked).code == 0
    assert "Elecampane" in text_of(there)


def test_a_file_ending_other_than_pdf_or_txt_is_refused(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    for name in ("paper", "paper.docx"):
        answer = say("daysheet", "--to", tmp_path / name, "--shelf", stocked)
        assert answer.code == 2
        assert ".pdf or .txt" in answer.err
    assert say("labels", "26-001", "--to", tmp_path / "labels.txt", "--shelf", stocked).code == 2
    assert say("daysheet", "--to", tmp_path / "no" / "a.pdf", "--shelf", stocked).code == 2


TITLES: dict[tuple[str, ...], str] = {
    **DOCUMENTS,
    ("withdrawn",): "Withdrawn batches",
    ("signsheet", "stock-take"): "Stock-take",
    ("signsheet", "losses"): "Losses",
    ("signsheet", "past"): "Bottles past their date",
    ("signsheet", "spirit"): "Spirit account",
    ("plan",): "Plan",
    ("year",): "The year in figures",
    ("learning",): "What strainings teach",
    ("people",): "Who got what",
    ("calendar",): "Dates ahead",
}
"""Every paper that can be read as text, and its title."""
OUT = ("plan", "year", "learning", "people")
"""Commands whose paper goes to --out."""
ENDINGS: dict[tuple[str, ...], set[str]] = {
    **{words: {".pdf", ".txt"} for words in TITLES},
    **{(name,): {".pdf", ".txt", ".csv"} for name in OUT},
    ("calendar",): {".ics"},
    ("labels", "26-001"): {".pdf"},
}


def option(words: tuple[str, ...]) -> str:
    """What names the file of a paper."""
    return "--out" if words[0] in OUT else "--to"


def test_every_command_that_writes_a_paper_is_in_this_list() -> None:
    (commands,) = (
        action.choices
        for action in whole_parser()._actions
        if isinstance(action, argparse._SubParsersAction)
    )
    has_text = {name for name, parser in commands.items() if "--text" in parser.format_help()}
    assert has_text == {words[0] for words in ENDINGS}


def test_each_paper_refuses_the_file_ending_of_another(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    for words, own in ENDINGS.items():
        for ending in {".pdf", ".ics", ".csv", ".txt", ".html"} - own:
            path = tmp_path / f"paper{ending}"
            answer = say(*words, option(words), path, "--shelf", stocked)
            assert answer.code == 2, (words, ending)
            assert all(each in answer.err for each in own)
            assert not path.exists()


def test_every_paper_has_a_text_form_for_screen_readers(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    path, pdf = tmp_path / "list.txt", tmp_path / "list.pdf"
    for words in (*TITLES, ("labels", "26-001")):
        to = (option(words), path)
        shown = say(*words, "--text", "--shelf", stocked)
        assert (shown.code, shown.err) == (0, "")
        assert shown.out.startswith(TITLES.get(words, "Elecampane")), words
        assert say(*words, "--text", *to, "--overwrite", "--shelf", stocked).code == 0
        assert path.read_text(encoding="utf-8") == shown.out
        refused = say(*words, "--text", option(words), pdf, "--shelf", stocked)
        assert (refused.code, "ends in .txt" in refused.err) == (2, True)
        assert not pdf.exists()
    for words in (("stocklist",), ("plan",), ("labels", "26-001")):
        refused = say(*words, "--text", "--print", "--shelf", stocked)
        assert (refused.code, "--print prints the PDF" in refused.err) == (2, True)


def test_every_paper_and_every_list_in_it_has_a_title(
    say: Say, stocked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The documents are caught on their way to plain text."""
    made: list[Document] = []
    as_text = document.as_text

    def catch(paper: Document, *width: int) -> str:
        made.append(paper)
        return as_text(paper, *width)

    monkeypatch.setattr(document, "as_text", catch)
    for words in TITLES:
        assert say(*words, "--text", "--shelf", stocked).code == 0
    assert len(made) == len(TITLES)
    for paper in made:
        assert paper.title.strip()
        for section in paper.sections:
            assert section.heading.strip(), paper.title
            for block in section.blocks:
                if isinstance(block, Grid):
                    bare = {n for n, head in enumerate(block.head) if not head.strip()}
                    assert bare <= block.ticks, (paper.title, block.head)
                if isinstance(block, Chart):
                    assert block.picture.heading.strip()


def test_labels_of_a_batch_start_on_a_half_used_sheet(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    pdf = tmp_path / "labels.pdf"
    words = ("labels", "26-001", "--sheet", "a4-70x37", "--start", "24", "--to", pdf)
    assert say(*words, "--shelf", stocked).code == 0
    pages = [page.extract_text() for page in PdfReader(BytesIO(pdf.read_bytes())).pages]
    assert ["26-001.1" in page for page in pages] == [True, False]
    assert ["26-001.2" in page for page in pages] == [False, True]


def test_labels_have_a_text_form(say: Say, stocked: Path) -> None:
    answer = say("labels", "26-001.2", "--text", "--shelf", stocked)
    lines = answer.out.splitlines()
    assert lines[0] == "Elecampane"
    assert "100 mL" in lines
    assert "26-001.2" in lines


def change_the_date(shelf: Path, day: str) -> None:
    """As `k` on the bottles page does."""
    keeper = Keeper(Store.open(shelf), SetClock(NOW + timedelta(minutes=1)))
    set_keep_until(keeper, find_code(keeper, "26-001").tincture_id or 0, date.fromisoformat(day))
    keeper.store.close()


def test_labels_to_print_again_are_listed_then_printed_or_dismissed(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    pdf, shelf = tmp_path / "labels.pdf", ("--shelf", stocked)
    assert say("labels", "26-001", "--to", pdf, *shelf).code == 0
    assert "print again" not in say("today", *shelf).out
    change_the_date(stocked, "2030-01-31")
    lines = say("today", *shelf).out.splitlines()
    at = lines.index("Labels to print again: 2 bottles")
    changed = "Elecampane: Keep until 16 Nov 2031 → Keep until 31 Jan 2030"
    assert lines[at + 1 : at + 3] == [f"  26-001.1 {changed}", f"  26-001.2 {changed}"]
    assert say("today", "--json", *shelf).json["labels_to_print"] == ["26-001.1", "26-001.2"]
    said = say("labels", "26-001.1", "--dismiss", *shelf).out
    assert said == "1 label dismissed until the text changes again.\n"
    printed = say("labels", "--changed", "--text", *shelf).out  # not a terminal: a printer, say
    assert [code in printed for code in ("26-001.1", "26-001.2")] == [False, True]
    assert say("today", "--json", *shelf).json["labels_to_print"] == []
    for words in (("--changed", "--to", tmp_path / "more.pdf"), ("26-001", "--dismiss")):
        assert "No label has changed" in say("labels", *words, *shelf).err


def test_labels_are_printed_even_from_a_read_only_shelf(
    say: Say, stocked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store_module, "can_write", lambda path: False)
    answer = say("labels", "26-001", "--to", tmp_path / "labels.pdf", "--shelf", stocked)
    assert answer.code == 0
    assert "The printing wasn't recorded. This shelf is read-only" in answer.err
    assert "26-001.2" in text_of(tmp_path / "labels.pdf")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--text",), "Give the code of a bottle, batch, jar or lot of herb, or --changed."),
        (("26-001",), "--to FILE.pdf, --print, or --text"),
        (("26-009", "--text"), "26-009"),
        (("26-001", "--to", "x.pdf", "--start", "22"), "Start at 1 to 21"),
        (("26-001", "--to", "x.pdf", "--sheet", "a3"), "Not a sheet"),
    ],
)
def test_labels_that_cannot_be_made_are_refused(
    say: Say, stocked: Path, words: tuple[str, ...], said: str
) -> None:
    answer = say("labels", *words, "--shelf", stocked)
    assert answer.code == 2
    assert said in answer.err


def test_an_unstrained_jar_has_no_batch_record(say: Say, stocked: Path) -> None:
    assert "hasn't been strained" in say("record", "26-002", "--shelf", stocked).err


def test_the_calendar_is_written_as_a_file(say: Say, stocked: Path, tmp_path: Path) -> None:
    ics = tmp_path / "shelf.ics"
    assert say("calendar", "--to", ics, "--shelf", stocked).code == 0
    summaries = [str(e["summary"]) for e in Calendar.from_ical(ics.read_bytes()).walk("VEVENT")]
    assert "Strain Calendula (26-002)" in summaries
    printed = say("calendar", "--shelf", stocked)
    assert printed.out.encode().replace(b"\r\n", b"\n") == ics.read_bytes().replace(b"\r\n", b"\n")


def test_an_exported_shelf_is_imported_unchanged(say: Say, stocked: Path, tmp_path: Path) -> None:
    folder, other = tmp_path / "out", tmp_path / "other.stillroom"
    assert say("export", folder, "--shelf", stocked).code == 0
    with (folder / "jars.csv").open(newline="", encoding="utf-8") as file:
        assert [line["code"] for line in csv.DictReader(file)] == ["26-001", "26-002", "26-003"]
    assert say("export", folder, "--shelf", stocked).code == 2
    assert say("export", folder, "--overwrite", "--shelf", stocked).code == 0

    assert say("import", folder, "--dry-run", "--new", "--shelf", other).code == 0
    assert not other.exists()
    report = say("import", folder, "--json", "--new", "--shelf", other)
    assert report.told["is_done"]
    assert report.json["added"]["jars"] == 3
    first = json.loads(say("export", "--json", "-", "--shelf", stocked).out)
    assert json.loads(say("export", "--json", "-", "--shelf", other).out) == first
    assert say("undo", "--shelf", other).code == 0
    assert say("jars", "--json", "--shelf", other).json == []


def test_a_shelf_is_exported_to_one_json_file(say: Say, stocked: Path, tmp_path: Path) -> None:
    file = tmp_path / "shelf.json"
    assert say("export", "--json", file, "--shelf", stocked).code == 0
    printed = say("export", "--json", "-", "--shelf", stocked)
    assert file.read_text(encoding="utf-8").strip() == printed.out.strip()


def test_an_import_with_a_bad_line_changes_nothing(say: Say, stocked: Path, tmp_path: Path) -> None:
    folder, other = tmp_path / "out", tmp_path / "other.stillroom"
    assert say("export", folder, "--shelf", stocked).code == 0
    jars = folder / "jars.csv"
    jars.write_text(jars.read_text().replace("2026-11-21", "2026-13-21", 1))
    answer = say("import", folder, "--new", "--shelf", other)
    assert answer.code == 2
    assert "jars.csv line 3, filled_on:" in answer.out
    assert answer.err.startswith("Nothing was imported: ")
    assert not other.exists()
    answer = say("import", folder, "--json", "--new", "--shelf", other)
    assert answer.code == 2
    assert answer.json["bad"][0]["line"] == 3


def test_a_list_of_jars_is_imported(say: Say, tmp_path: Path, shelf_file: Path) -> None:
    notebook = tmp_path / "mine.csv"
    notebook.write_text("herb,date,part\nYarrow,2026-11-20,flower\nSage,2026-11-21,\n")
    asked = say("import", "--jars", notebook, "--new", "--shelf", shelf_file)
    assert asked.code == 2
    assert asked.err == "Nothing was imported: 2 questions to answer.\n"
    assert "Fresh or dried in rows 2-3. Add --set condition=fresh" in asked.out
    assert not shelf_file.exists()
    answers = ("--set", "part=leaf", "--set", "condition=dried")
    asked = say("import", "--jars", notebook, "--json", "--new", "--shelf", shelf_file)
    assert [(each["set"], each["rows"]) for each in asked.json["questions"]] == [
        ("part", [3]), ("condition", [2, 3]),
    ]  # fmt: skip
    trial = say("import", "--jars", notebook, *answers, "--dry-run", "--new", "--shelf", shelf_file)
    assert trial.code == 0
    assert "nothing was changed" in trial.out
    answer = say("import", "--jars", notebook, *answers, "--new", "--shelf", shelf_file)
    assert answer.code == 0
    assert "Not in the sheet:" in answer.out
    herbs = [jar["herb"] for jar in say("jars", "--json", "--shelf", shelf_file).json]
    assert herbs == ["Yarrow", "Sage"]


def test_import_creates_the_default_shelf_if_there_is_none(say: Say, tmp_path: Path) -> None:
    notebook = tmp_path / "mine.csv"
    notebook.write_text("herb,date,part,state\nYarrow,2026-11-20,leaf,dried\n")
    assert say("import", "--jars", notebook).code == 0
    assert [jar["herb"] for jar in say("jars", "--json").json] == ["Yarrow"]


@pytest.mark.parametrize("words", [("export",), ("import",), ("import", "nowhere")])
def test_a_command_without_its_source_or_target_is_refused_in_one_line(
    say: Say, stocked: Path, words: tuple[str, ...]
) -> None:
    answer = say(*words, "--shelf", stocked)
    assert answer.code == 2
    assert answer.err.count("\n") == 1


PDFS = tuple(words for words, endings in ENDINGS.items() if ".pdf" in endings)


@pytest.mark.parametrize("words", PDFS)
def test_a_pdf_has_title_language_author_date_and_all_its_fonts(
    say: Say, stocked: Path, tmp_path: Path, words: tuple[str, ...]
) -> None:
    assert say("settings", "maker_name=Hill Dispensary", "--shelf", stocked).code == 0
    pdf = tmp_path / "paper.pdf"
    assert say(*words, option(words), pdf, "--shelf", stocked).code == 0
    reader = PdfReader(BytesIO(pdf.read_bytes()))
    about = reader.metadata
    assert about is not None
    assert (about.title or "").startswith(TITLES.get(words, "Labels"))
    assert about.author == "Hill Dispensary"
    assert about.creation_date == NOW
    assert str(reader.root_object["/Lang"]).startswith("en")
    pages = cast("Any", reader.pages)
    fonts = [font for page in pages for font in page["/Resources"]["/Font"].values()]
    assert fonts
    for font in (each.get_object() for each in fonts):
        described = font["/FontDescriptor"].get_object()
        assert {"/FontFile2", "/FontFile3", "/FontFile"} & set(described), font["/BaseFont"]


def test_a_cell_to_be_filled_in_by_hand_is_printed_as_a_line(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    pdf = tmp_path / "stock.pdf"
    assert say("stocklist", "--to", pdf, "--shelf", stocked).code == 0
    assert text_of(pdf).count("____") >= 2  # one for each bottle


@pytest.mark.parametrize("words", ["record 26-005", "daysheet", "stocklist", "calendar"])
def test_the_json_of_a_paper_has_every_word_of_its_text(
    say: Say, sample_file: Path, words: str
) -> None:
    paper = say("--shelf", sample_file, *words.split(), "--json").json
    text = say("--shelf", sample_file, *words.split(), "--text").out
    text = text.casefold()  # its headings are in capitals

    def texts(value: object) -> Iterator[str]:
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict | list):
            for each in value.values() if isinstance(value, dict) else value:
                yield from texts(each)

    known = {word for each in texts(paper) for word in each.casefold().split()}
    ours = re.compile(r"_+|\[struck|out:|.*\]|[-=─]+|[\[\]x]+")
    lacking = {w for w in text.split() if w not in known and not ours.fullmatch(w)}
    assert lacking == set()


def test_json_cannot_be_combined_with_text_or_print(say: Say, stocked: Path) -> None:
    for other in ("--text", "--print"):
        answer = say("--shelf", stocked, "daysheet", "--json", other)
        assert (answer.code, answer.out) == (2, "")
        assert answer.err == "--json can't be combined with --text or --print.\n"
