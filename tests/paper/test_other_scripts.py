"""Chinese, Japanese, Korean, Hebrew and Arabic print with a font of the computer, or as a mark.

The fonts here are a few letters of two free ones (`fonts/LICENSES`), so that what is drawn doesn't
depend on the computer.
"""

import shutil
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pypdfium2
import pytest

from stillroom.paper import scripts, system_fonts
from stillroom.paper.document import Document, Grid, Prose, Section
from stillroom.paper.fonts import UNDRAWN, Face, make_ready, missing, omission, pieces, printable
from stillroom.paper.label_face import LabelTooSmall, lay_out
from stillroom.paper.pdf import as_pdf
from stillroom.paper.scripts import Script, as_seen, runs, shaped
from stillroom.paper.sheets import SHEETS, label_sheets_pdf, left_out, sheet_from
from stillroom.paper.system_fonts import FontFile, font_for, fonts_with, listed

from .reading import pages
from .test_sheets import LABEL, label_with

FONTS = Path(__file__).parent / "fonts"
OWN_LABELS = sheet_from("60x33")
"""A size of label that no other test sets these names on: settings of labels are remembered."""


@pytest.fixture
def some_fonts(monkeypatch: pytest.MonkeyPatch) -> None:
    """A computer with two fonts, of which neither has every letter."""
    files = tuple(FontFile(str(FONTS / name)) for name in ("east.ttf", "leftward.ttf"))
    monkeypatch.setattr(system_fonts, "fonts_with", lambda letter: files)


@pytest.fixture
def shaping() -> None:
    """A computer with the extra `scripts`; without it there is nothing to see here."""
    pytest.importorskip("bidi")
    pytest.importorskip("arabic_reshaper")


@pytest.fixture
def no_shaping(monkeypatch: pytest.MonkeyPatch) -> None:
    """A computer without the extra `scripts`."""
    monkeypatch.setattr(scripts, "shapers", lambda: None)


@pytest.mark.usefixtures("shaping")
def test_arabic_letters_are_joined() -> None:
    # Unicode names, UnicodeData.txt: alef isolated, lam initial, sheen and meem medial, reh final.
    assert shaped("الشمر", Script.ARABIC) == "\ufe8d\ufedf\ufeb8\ufee4\ufeae"
    # Lam and alef, which are always written as one: beh initial, lam with alef final, beh isolated.
    assert shaped("بلاب", Script.ARABIC) == "\ufe91\ufefc\ufe8f"


@pytest.mark.usefixtures("shaping")
def test_right_to_left_text_is_turned_and_numbers_in_it_are_not() -> None:
    # Unicode Standard Annex 9: figures keep their order, and the row that begins in Hebrew
    # runs from the right as one.
    assert as_seen("אב 12") == "12 בא"
    assert as_seen("Tea (אב) 12") == "Tea (בא) 12"
    assert as_seen("אָב") == "בא"
    assert as_seen("Tea 薬草") == "Tea 薬草"


def test_a_text_is_split_into_runs_of_one_script() -> None:
    assert list(runs("Tea 薬草 カの葉 약초 אב الم")) == [
        ("Tea ", Script.OWN), ("薬草", Script.HAN), (" ", Script.OWN), ("カの葉", Script.KANA),
        (" ", Script.OWN), ("약초", Script.HANGUL), (" ", Script.OWN), ("אב", Script.HEBREW),
        (" ", Script.OWN), ("الم", Script.ARABIC),
    ]  # fmt: skip


@pytest.mark.usefixtures("some_fonts", "shaping")
@pytest.mark.parametrize("name", ["薬草", "カモミールの花", "שומר", "الشمر"])
def test_a_name_is_printed_with_a_font_of_the_computer(name: str) -> None:
    label = label_with(name)
    pdf = label_sheets_pdf([label], OWN_LABELS)
    (page,) = pypdfium2.PdfDocument(BytesIO(pdf))
    text = page.get_textpage().get_text_range()
    assert name in text.replace("\ufffe", "")
    assert UNDRAWN not in text
    assert "(?)" not in left_out([label], OWN_LABELS)


@pytest.mark.usefixtures("some_fonts", "shaping")
def test_each_letter_in_a_row_of_several_scripts_has_a_font() -> None:
    make_ready()
    own = Face.PLAIN.value
    fonts = [font == own for _, font in pieces("Tea 薬草 12", Face.PLAIN)]
    assert fonts == [True, False, True]
    assert missing("薬草 שומר") == []
    assert printable("薬金 x") == "(?) x"


@pytest.mark.usefixtures("some_fonts")
def test_letters_without_a_font_are_marked_and_named() -> None:
    label = label_with("金盏花")
    (page,) = pages(label_sheets_pdf([label], OWN_LABELS))
    assert "Calendula officinalis L. (?)" in page
    assert left_out([label], OWN_LABELS).endswith(
        "Printed as (?): 金盏花. This computer has no font for these letters that can be embedded."
    )


@pytest.mark.usefixtures("some_fonts", "no_shaping")
def test_without_the_extra_package_nothing_is_printed_the_wrong_way_round() -> None:
    assert printable("שומר, 薬草") == "(?), 薬草"
    assert omission(["שומר"]) == (
        "Printed as (?): שומר. For Hebrew and Arabic, install the extra “scripts”, "
        "in the folder of Stillroom: pipx install --force '.[scripts]'."
    )


@pytest.mark.usefixtures("some_fonts", "shaping")
def test_lists_print_other_scripts_too() -> None:
    grid = Grid(("Herb", "Left"), (("薬草", "5 mL"), ("שומר ראש", "6 mL")), (3, 1))
    section = Section("黄芩", (Prose("Root of 薬草 & <b>"), grid))
    pdf = as_pdf(Document("薬草", "", (section,), closing="List of 薬草"))
    text = pypdfium2.PdfDocument(BytesIO(pdf))[0].get_textpage().get_text_range()
    for expected in ("黄芩", "Root of 薬草 & <b>", "List of 薬草"):
        assert expected in text
    assert UNDRAWN not in text


@pytest.mark.usefixtures("some_fonts", "shaping")
def test_a_font_with_deep_descenders_touches_no_other_row(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A Naskh such as Amiri's goes 0.634 of its size below the row, and capitals 0.73 above."""
    name = "ראש שומר"
    font = font_for("ראש", Script.HEBREW)
    assert font
    monkeypatch.setattr(font.face, "ascent", 1124)
    monkeypatch.setattr(font.face, "descent", -634)
    make_ready()
    label = replace(LABEL, name=name, code="26-777.1")
    sheet = SHEETS["a4-63x38"]
    inside = sheet.inside(sheet.place(1))
    layout = lay_out(label, inside, (sheet.label_width_mm, sheet.label_height_mm))
    first, second, *_ = layout.texts
    assert first.text == name
    assert first.baseline - 1.124 * first.size_mm >= inside.top - 1e-9
    assert first.baseline + 0.634 * first.size_mm <= second.baseline - 0.73 * second.size_mm


def test_a_long_name_of_another_script_is_broken_or_refused() -> None:
    with pytest.MonkeyPatch.context() as patch:
        files = (FontFile(str(FONTS / "east.ttf")),)
        patch.setattr(system_fonts, "fonts_with", lambda letter: files)
        label_sheets_pdf([label_with("薬草" * 12)], SHEETS["a4-99x57"])
        with pytest.raises(LabelTooSmall):
            label_sheets_pdf([replace(LABEL, name="薬草" * 400)], SHEETS["a4-63x38"])


def test_fonts_are_listed_in_a_fixed_order_and_those_that_cannot_be_embedded_are_left_out(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    broken, good = tmp_path / "Broken.ttf", FONTS / "east.ttf"
    broken.write_bytes(b"OTTO" + bytes(200))
    lines = [
        f"{good}\t0\tBold\n", f"{good}\t65537\tRegular\n", f"{broken}\t0\tRegular,Normal\n",
        "/nowhere/Mono.ttf\t0\tRegular\n", "/nowhere/a.ttc\t2\tBook\n", "garbled\n",
    ]  # fmt: skip
    expected = [
        FontFile("/nowhere/a.ttc", 2), FontFile(str(broken)),
        FontFile("/nowhere/Mono.ttf"), FontFile(str(good)),
    ]  # fmt: skip
    for text in ("".join(lines), "".join(reversed(lines))):
        order = [file for _, file in sorted(listed(text), key=lambda each: each[0])]
        assert sorted(order[:2], key=str) == sorted(expected[:2], key=str)
        assert order[2:] == expected[2:]
    monkeypatch.setattr(system_fonts, "fonts_with", lambda letter: tuple(expected))
    font = font_for("薬", Script.HAN)
    assert font is not None
    assert "east" in font.fontName


def test_a_computer_that_cannot_list_its_fonts_has_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: sys.executable)
    assert fonts_with("薬") == ()
