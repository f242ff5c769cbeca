"""Labels by command: of jars, herb and spirits, for a person, in copies, and on a sheet in use."""

from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from .answers import Say

SERVED = ("--for", "J. A.", "--directions", "One spoon at night.\nShake first.", "--on", "25 Nov")


def pages(pdf: Path) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(pdf.read_bytes())).pages]


def test_a_jar_has_a_label_with_a_box_for_each_shake(say: Say, stocked: Path) -> None:
    lines = say("labels", "26-002", "--text", "--shelf", stocked).out.splitlines()
    assert lines[:5] == [
        "Calendula",
        "flower, dried, 120 g",
        "600 mL Vodka 40 % v/v",
        "Filled 21 Nov 2026",
        "Strain on 5 Dec 2026",
    ]
    text = " ".join(lines)
    assert text.count("[ ]") == 14  # a fortnight, once a day
    assert "26-002 Contains alcohol. Keep away from light, flame and children." in text


def test_a_strained_jar_and_an_empty_batch_have_no_label(say: Say, stocked: Path) -> None:
    shelf = ("--shelf", stocked)
    assert say("strain", "26-002", "yield=500 ml", "method=drained", *shelf).code == 0
    assert "Every bottle of 26-002 is empty" in say("labels", "26-002", "--text", *shelf).err


def test_things_in_the_cupboard_have_labels(say: Say, stocked: Path) -> None:
    shelf = ("--shelf", stocked)
    lot = ("herb=Foxglove", "part=leaf", "condition=dried", "weight=90 g", "origin=South bed")
    assert say("lots", "add", *lot, *shelf).code == 0
    said = say("labels", "--spirit", "vodka", "h-26-001", "--text", *shelf).out.split("\n\n")
    assert said[0].splitlines()[:6] == [
        "Foxglove", "leaf, dried", "90 g", "Gathered 26 Nov 2026", "H-26-001", "From South bed",
    ]  # fmt: skip
    assert "Foxglove is poisonous: deadly even in small amounts." in " ".join(said[0].split())
    assert said[1].splitlines()[:3] == ["Vodka", "Alcohol 40 % v/v", "5 L"]
    missing = say("labels", "--spirit", "Rum", "--text", *shelf)
    assert (missing.code, missing.err.count("no spirit called Rum")) == (2, 1)
    blank = say("labels", "--spirit", "", "--text", *shelf)  # no code is no name either
    assert (blank.code, blank.out) == (2, "")


def test_a_label_for_a_person_shows_what_was_typed_and_is_not_recorded(
    say: Say, stocked: Path
) -> None:
    shelf = ("--shelf", stocked)
    said = say("labels", "26-001.2", *SERVED, "--external", "--text", *shelf).out
    assert said.splitlines()[:9] == [
        "Elecampane",
        "Tincture",
        "root, dried",
        "Alcohol 39.2 % v/v, calculated",
        "Made 16 Nov 2026",
        "Keep until 16 Nov 2031",
        "For J. A.",
        "Given 25 Nov 2026",
        "One spoon at night.",
    ]
    text = " ".join(said.split())
    assert "Shake first. 26-001.2 For external use only. Contains alcohol." in text
    assert say("labels", "26-001.2", "--text", *shelf).out.count("external") == 0
    assert say("forget", "J. A.", "--dry-run", *shelf).out.count("printed label") == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("26-001.2", "--directions", "x"), "go with --for NAME"),
        (("26-002", "--for", "J."), "26-002 isn't a bottle"),
        (("26-001.2", "--for", " "), "The person is needed"),
        (("26-001.2", "--for", "J.", "--changed"), "the codes of bottles"),
        (("26-001.2", "--copies", "0"), "from 1 to 500"),
        (("26-001.2", "--language", "tlh"), "Choose one of en, de, fr, es, it, nl"),
    ],
)
def test_a_label_that_cannot_be_made_is_refused(
    say: Say, stocked: Path, words: tuple[str, ...], said: str
) -> None:
    answer = say("labels", *words, "--text", "--shelf", stocked)
    assert answer.code == 2
    assert said in answer.err


def test_copies_and_repeats_are_all_printed_and_recorded(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    pdf = tmp_path / "labels.pdf"
    words = ("labels", "26-001.1", "26-001.2", "26-001.1", "--copies", "2", "--to", pdf)
    assert say(*words, "--shelf", stocked).code == 0
    text = "".join(pages(pdf))
    assert (text.count("26-001.1"), text.count("26-001.2")) == (4, 2)
    folder = tmp_path / "out"
    assert say("export", folder, "--shelf", stocked).code == 0
    log = (folder / "print_log.csv").read_text(encoding="utf-8")
    assert log.count("26-001.1,") == 1
    assert log.count(",4,") == 1


def test_a_half_used_sheet_is_continued(say: Say, stocked: Path, tmp_path: Path) -> None:
    shelf = ("--overwrite", "--shelf", stocked)
    pdf = tmp_path / "labels.pdf"
    first = say("labels", "26-001", "--sheet", "a4-70x37", "--start", "23", "--to", pdf, *shelf)
    assert "Starts at" not in first.out  # and it ended with the last label of the sheet
    again = say("labels", "26-001", "--to", pdf, *shelf)
    assert "Starts at" not in again.out
    third = say("labels", "26-001", "--to", pdf, *shelf)
    assert "Starts at label 3, where the last print ended." in third.out
    other = say("labels", "26-001", "--sheet", "62x29", "--to", pdf, *shelf)
    assert "Starts at" not in other.out
    assert len(pages(pdf)) == 2  # a roll: a page for each label
    width = PdfReader(BytesIO(pdf.read_bytes())).pages[0].mediabox.width
    assert float(width) == pytest.approx(62 / 25.4 * 72, abs=0.01)


def test_a_shelf_with_us_units_starts_with_letter_paper(
    say: Say, stocked: Path, tmp_path: Path
) -> None:
    pdf = tmp_path / "labels.pdf"
    assert say("settings", "units=us", "--shelf", stocked).code == 0
    assert say("labels", "26-001", "--to", pdf, "--shelf", stocked).code == 0
    box = PdfReader(BytesIO(pdf.read_bytes())).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx((612, 792), abs=0.01)


def test_what_a_label_leaves_out_is_reported(say: Say, stocked: Path, tmp_path: Path) -> None:
    pdf = tmp_path / "labels.pdf"
    words = ("labels", "26-001.1", "26-002", "--sheet", "50x30", "--to", pdf)
    said = say(*words, "--shelf", stocked).out
    assert "Left out, because it doesn't fit: " in said
    too_small = say("labels", "26-001.1", "--sheet", "25x15", "--text", "--shelf", stocked)
    assert too_small.code == 0  # text has no size
    refused = say("labels", "26-001.1", "--sheet", "25x15", "--to", tmp_path / "x.pdf",
                  "--shelf", stocked)  # fmt: skip
    assert "does not fit on 25 × 15 mm in type of 6 points" in refused.err


def test_a_jar_label_names_an_unnamed_spirit_in_the_language_of_the_label(
    say: Say, tmp_path: Path
) -> None:
    sheet = tmp_path / "list.csv"
    sheet.write_text("Herb,Date,Part,Cond,Volume,ABV\nDill,2026-11-01,seed,dried,250 ml,40\n")
    shelf = ("--shelf", tmp_path / "own.stillroom")
    assert say("import", "--jars", sheet, *shelf, "--new").code == 0
    said = say("labels", "26-001", "--language", "fr", "--text", *shelf).out
    assert "250 mL alcool 40 % vol" in said


def test_a_print_and_a_shelf_can_each_have_a_language_and_a_word_for_tincture(
    say: Say, stocked: Path
) -> None:
    shelf = ("--shelf", stocked)
    lines = say("labels", "26-001.2", "--language", "français", "--text", *shelf).out.splitlines()
    assert lines[1:3] == ["Teinture", "racine, sec"]
    assert say("settings", "label_language=de", *shelf).code == 0
    # What was printed in French is compared in French; another word is another label.
    assert say("today", "--json", *shelf).json["labels_to_print"] == []
    assert say("settings", "label_word=Auszug", *shelf).code == 0
    assert say("today", "--json", *shelf).json["labels_to_print"] == ["26-001.2"]
    lines = say("labels", "26-001.2", "--text", *shelf).out.splitlines()
    assert lines[1:3] == ["Auszug", "Wurzel, getrocknet"]


def test_the_label_of_a_withdrawn_bottle_shows_it_and_is_made_for_nobody(
    say: Say, stocked: Path
) -> None:
    shelf = ("--shelf", stocked)
    assert say("settings", "maker=AB", *shelf).code == 0
    assert say("withdraw", "26-001", "--why", "seal broken", "--yes", *shelf).code == 0
    assert say("labels", "26-001.1", "--text", *shelf).out.startswith("WITHDRAWN: do not use\n")
    refused = say("labels", "26-001.1", "--for", "J.", "--text", *shelf)
    assert "Its bottles can't be given to anyone" in refused.err
