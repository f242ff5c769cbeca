"""Label sheets: nothing leaves its label, nothing is cut, and a camera reads the code."""

import re
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom.errors import NotUnderstood, Refused, StillroomError
from stillroom.keeping.bottles.labels import Label, LabelHerb
from stillroom.keeping.label_text import Role
from stillroom.paper.fonts import CannotDraw
from stillroom.paper.label_face import (
    LEAST_SIZE_MM,
    LEFT_OUT,
    LabelTooSmall,
    Layout,
    lay_out,
)
from stillroom.paper.label_square import QUIET_CELLS, Box
from stillroom.paper.sheets import (
    PADDING_MM,
    SHEETS,
    LabelSheet,
    label_sheets_pdf,
    left_out,
    pages_needed,
    sheet_from,
    sheet_in_words,
)

from ..examples import examples
from .reading import codes, pages, readings

LABEL = Label(
    name="Calendula",
    herbs=(LabelHerb("Calendula", "Calendula officinalis L.", "flower", "dried"),),
    is_blend=False,
    ratio="1:5 w/v, herb to liquid poured",
    strength="38.2 % v/v",
    strength_by="calculated",
    volume="100 mL",
    made="26 Nov 2026",
    keep_until="26 Nov 2031",
    code="26-041.1",
    maker="Made by Anna Lind, North Larder",
    cautions=("Contains alcohol.", "Keep away from light, flame and children."),
)
LONG = replace(LABEL, name="Řebříček obecný z horských luk nad údolím, sbíraný za rosy")
every_sheet = pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)


def set_on(sheet: LabelSheet, label: Label, position: int = 1) -> tuple[Layout, Box]:
    inside = sheet.inside(sheet.place(position))
    return lay_out(label, inside, (sheet.label_width_mm, sheet.label_height_mm)), inside


def is_within(inner: Box, outer: Box) -> bool:
    slack = 0.01
    return (
        inner.left >= outer.left - slack
        and inner.top >= outer.top - slack
        and inner.right <= outer.right + slack
        and inner.bottom <= outer.bottom + slack
    )


def overlap(one: Box, other: Box) -> bool:
    slack = 0.01
    return (
        one.left < other.right - slack
        and other.left < one.right - slack
        and one.top < other.bottom - slack
        and other.top < one.bottom - slack
    )


def words(label: Label) -> str:
    return " ".join(line.text for line in label.lines)


@every_sheet
def test_the_labels_of_every_preset_fit_its_page_without_overlap(sheet: LabelSheet) -> None:
    page = Box(0, 0, sheet.page_width_mm, sheet.page_height_mm)
    places = [sheet.place(position) for position in range(1, sheet.per_page + 1)]
    assert all(is_within(place, page) for place in places)
    assert not any(overlap(*pair) for pair in combinations(places, 2))


@given(
    columns=st.integers(1, 8),
    rows=st.integers(1, 20),
    size=st.tuples(st.floats(20, 120), st.floats(12, 120)),
    margin=st.tuples(st.floats(0, 30), st.floats(0, 30)),
    gap=st.tuples(st.floats(0, 10), st.floats(0, 10)),
)
def test_a_custom_sheet_is_correct_or_refused(
    columns: int,
    rows: int,
    size: tuple[float, float],
    margin: tuple[float, float],
    gap: tuple[float, float],
) -> None:
    try:
        sheet = LabelSheet(210, 297, columns, rows, *size, *margin, *gap)
    except NotUnderstood:
        return
    test_the_labels_of_every_preset_fit_its_page_without_overlap(sheet)


@every_sheet
@pytest.mark.parametrize("label", [LABEL, LONG], ids=["usual", "long"])
def test_all_text_stays_on_its_label_and_clear_of_the_code(sheet: LabelSheet, label: Label) -> None:
    layout, inside = set_on(sheet, label, sheet.per_page)
    boxes = [text.box for text in layout.texts]
    assert all(is_within(box, inside) for box in (*boxes, *layout.cells))
    quiet = QUIET_CELLS * layout.cells[0].height
    square = layout.square
    white = Box(square.left - quiet, square.top, square.width + quiet, square.height + quiet)
    assert quiet <= PADDING_MM
    assert not any(overlap(text.ink, white) for text in layout.texts)
    assert not any(overlap(*pair) for pair in combinations(boxes, 2))
    assert all(text.size_mm >= LEAST_SIZE_MM for text in layout.texts)


@given(
    name=st.text("абвгд αβγδ abcdefgh ŘŠŽ", min_size=1, max_size=200).filter(str.strip),
    cautions=st.lists(st.text("take care, ", min_size=1, max_size=150), max_size=3),
)
@settings(max_examples=examples(100))
def test_no_text_is_ever_cut_off(name: str, cautions: list[str]) -> None:
    label = replace(LABEL, name=name, cautions=tuple(cautions))
    try:
        layout, inside = set_on(SHEETS["a4-63x38"], label)
    except LabelTooSmall:
        return
    assert all(is_within(text.box, inside) for text in layout.texts)
    printed = "".join("".join(text.text.split()) for text in layout.texts).replace("·", "")
    kept = [line.text for line in label.lines if line.role not in layout.left_out]
    assert sorted(printed) == sorted("".join(" ".join(kept).split()))
    assert set(layout.left_out) <= {*LEFT_OUT, "QR code"}


@given(name=st.text("abc ", min_size=1, max_size=60).filter(str.strip))
@settings(max_examples=examples(50))
def test_no_row_starts_or_ends_with_the_dot_between_facts(name: str) -> None:
    dots = 0
    for preset in SHEETS.values():
        layout, _ = set_on(preset, replace(LABEL, name=name))
        for text in layout.texts:
            assert text.text == text.text.strip(" ·")
            dots += text.text.count(" · ")
    assert dots


def test_a_long_name_wraps_and_shrinks() -> None:
    sheet = SHEETS["a4-63x38"]
    usual, long = (
        [text for text in set_on(sheet, label)[0].texts if text.role.value == "name"]
        for label in (LABEL, LONG)
    )
    assert len(usual) == 1
    assert len(long) > 1
    assert long[0].size_mm < usual[0].size_mm


def test_a_word_wider_than_the_label_is_broken_and_not_cut_off() -> None:
    label = replace(LABEL, name="Donaudampfschifffahrtsgesellschaftskapitänswitwe" * 2)
    layout, inside = set_on(SHEETS["letter-67x25"], label)
    name = [text for text in layout.texts if text.role.value == "name"]
    assert "".join(text.text for text in name) == label.name
    assert all(is_within(text.box, inside) for text in name)


def test_text_that_cannot_fit_is_refused_with_the_label_it_is_for() -> None:
    label = replace(LABEL, cautions=("Take care. " * 100,))
    with pytest.raises(LabelTooSmall, match=r"Label 26-041\.1, Calendula,.*its cautions take"):
        label_sheets_pdf([LABEL, label], SHEETS["letter-67x25"])


@every_sheet
def test_the_pdf_has_the_text_of_the_labels(sheet: LabelSheet) -> None:
    (page,) = pages(label_sheets_pdf([LABEL], sheet))
    layout, _ = set_on(sheet, LABEL)
    kept = [line.text for line in LABEL.lines if line.role not in layout.left_out]
    assert sorted(page.replace("·", " ").split()) == sorted(" ".join(kept).split())


ON_LABEL = " Calendula, 38.2 %, made 26 Nov 2026, keep until 26 Nov 2031"


def read_on(sheet: LabelSheet, code: str) -> str:
    """What is to be read on a label: a small one has its code alone."""
    return code + ON_LABEL if sheet.label_height_mm >= 50 else code


@every_sheet
def test_cameras_read_the_code_and_on_larger_labels_a_line_of_text(sheet: LabelSheet) -> None:
    labels = [replace(LABEL, code=f"26-041.{number}") for number in range(1, 4)]
    expected = [read_on(sheet, label.code) for label in labels]
    found = readings(label_sheets_pdf(labels, sheet))
    assert {how: sorted(read) for how, read in found.items()} == dict.fromkeys(found, expected)
    assert len(found) == 8


@pytest.mark.parametrize("code", ["26-041.1", "Партия-7.12", "B" * 48, "lower case & signs%"])
@pytest.mark.parametrize("sheet", ["a4-99x57", "a4-63x38"])
def test_codes_of_every_kind_are_read_back(code: str, sheet: str) -> None:
    pdf = label_sheets_pdf([replace(LABEL, code=code)], SHEETS[sheet])
    assert codes(pdf) == [read_on(SHEETS[sheet], code)]
    assert code.replace(" ", "") in pages(pdf)[0].replace(" ", "")


@given(
    name=st.text(max_size=120),
    strength=st.sampled_from(["", "38.2 % v/v", "at most 40 % v/v", "76.4 proof"]),
    until=st.sampled_from(["", "26 Nov 2031", "2031-11-26, cold"]),
)
def test_a_scanner_types_one_line_that_every_keyboard_layout_has(
    name: str, strength: str, until: str
) -> None:
    label = replace(LABEL, name=name, strength=strength, keep_until=until)
    code, _, rest = label.scan_text.partition(" ")
    assert code == LABEL.code
    assert len(rest) <= 80
    assert re.fullmatch(r"[A-Za-z0-9 ,.%-]*", rest)
    assert not re.search(r"\.(?!\d)|(?<!\d)\.", rest), "a dot beside a letter may be a link"
    assert "made 26 Nov 2026" in rest
    assert until in rest


def test_a_label_with_room_for_the_code_alone_has_no_text_in_it() -> None:
    sheet = SHEETS["a4-70x50"]
    fits, tight = (
        replace(LABEL, cautions=(caution,)) for caution in ("Take care.", "Take care. " * 60)
    )
    assert codes(label_sheets_pdf([fits], sheet)) == [LABEL.code + ON_LABEL]
    assert codes(label_sheets_pdf([tight], sheet)) == [LABEL.code]


def test_latin_greek_and_cyrillic_names_are_printed() -> None:
    names = ["Řebříček žluťoučký", "Θυμάρι του βουνού", "Девясил высокий", "Ülane õis, þistill"]
    labels = [replace(LABEL, name=name) for name in names]
    (page,) = pages(label_sheets_pdf(labels, SHEETS["a4-99x57"]))
    assert all(name in page for name in names)


@pytest.mark.parametrize("name", ["薬草", "약초", "שומר", "الشمر"])
def test_a_name_without_a_font_is_replaced_by_the_botanical_name(name: str) -> None:
    label = label_with(name)
    (page,) = pages(label_sheets_pdf([label], SHEETS["a4-99x57"]))
    assert "Calendula officinalis L. (?)" in page
    assert page.count("Calendula officinalis") == 1
    mixed = label_with(f"{name} Gold")
    assert "(?) Gold" in pages(label_sheets_pdf([mixed], SHEETS["a4-99x57"]))[0]


def label_with(name: str) -> Label:
    return replace(LABEL, name=name, herbs=(replace(LABEL.herbs[0], herb=name),))


def test_a_code_that_cannot_be_printed_is_refused_with_its_characters() -> None:
    with pytest.raises(CannotDraw, match=r"薬 \(U\+85AC\)"):
        label_sheets_pdf([replace(LABEL, code="薬-1")], SHEETS["a4-99x57"])


def test_a_half_used_sheet_continues_at_its_next_label() -> None:
    sheet = SHEETS["a4-63x38"]
    assert pages_needed(3, sheet, 20) == 2
    pdf = label_sheets_pdf([LABEL] * 3, sheet, start=20)
    assert [page.count("26-041.1") for page in pages(pdf)] == [2, 1]
    first = set_on(sheet, LABEL, 20)[0].texts[0]
    assert is_within(first.box, sheet.place(20))
    assert sheet.place(20).left == pytest.approx(7.25 + 66)


@pytest.mark.parametrize("start", [0, 22, -1])
def test_a_start_that_is_not_on_the_sheet_is_refused(start: int) -> None:
    with pytest.raises(Refused, match="Start at 1 to 21"):
        label_sheets_pdf([LABEL], SHEETS["a4-63x38"], start=start)


def test_printing_without_labels_is_refused() -> None:
    with pytest.raises(Refused, match="no labels to print"):
        label_sheets_pdf([], SHEETS["a4-63x38"])


def test_the_same_labels_are_the_same_bytes() -> None:
    once, again = (label_sheets_pdf([LABEL, LONG], SHEETS["a4-70x37"]) for _ in range(2))
    assert once == again


def test_outlines_are_drawn_only_on_request() -> None:
    plain = label_sheets_pdf([LABEL], SHEETS["a4-70x37"])
    assert len(label_sheets_pdf([LABEL], SHEETS["a4-70x37"], outlines=True)) > len(plain)


@every_sheet
def test_a_sheet_written_as_text_is_read_back_the_same(sheet: LabelSheet) -> None:
    assert sheet_from(sheet_in_words(sheet)) == sheet


@pytest.mark.parametrize("text", ["62x29", "roll 62x29", "Roll-62×29", "62,0*29"])
def test_the_size_of_a_label_without_a_page_is_a_roll(text: str) -> None:
    sheet = sheet_from(text)
    assert sheet == SHEETS["roll-62x29"]
    assert sheet.is_roll
    assert sheet.inside(sheet.place(1)) == Box(2, 2, 58, 25)


def needed(label: Label) -> str:
    """What must be on every label of it."""
    roles = {Role.NAME, Role.STRENGTH, Role.CODE, Role.DATE, Role.CAUTION}
    return " ".join(line.text for line in label.lines if line.role in roles)


@given(
    width=st.floats(20, 110),
    height=st.floats(12, 70),
    name=st.text("abcdefgh ij", min_size=1, max_size=80).filter(str.strip),
)
@settings(max_examples=examples(60))
def test_every_roll_has_the_required_text_in_six_points_or_is_refused(
    width: float, height: float, name: str
) -> None:
    sheet, label = LabelSheet(width, height, 1, 1, width, height, 0, 0), replace(LABEL, name=name)
    try:
        layout, inside = set_on(sheet, label)
    except LabelTooSmall:
        assert width * height < 63 * 38  # the default sheet takes any of these
        return
    printed = "".join(text.text for text in layout.texts).replace(" ", "").replace("·", "")
    assert all(word in printed for word in needed(label).split())
    assert all(text.size_mm * 72 / 25.4 >= 6 - 1e-9 for text in layout.texts)
    assert all(is_within(text.box, inside) for text in layout.texts)


def test_what_does_not_fit_is_left_out_in_the_documented_order() -> None:
    heights = [20 + step / 2 for step in range(80)]
    seen: list[tuple[str, ...]] = []
    for height in heights:
        try:
            layout, _ = set_on(LabelSheet(50, height, 1, 1, 50, height, 0, 0), LABEL)
        except LabelTooSmall:
            assert not seen, "a taller label is never refused where a lower one was not"
            continue
        seen.append(layout.left_out)
    order = [str(role) for role in LEFT_OUT if role in {line.role for line in LABEL.lines}]
    assert all(list(left) == [*order, "QR code"][: len(left)] for left in seen)
    assert [len(left) for left in seen] == sorted((len(left) for left in seen), reverse=True)
    assert len(seen[0]) > 3
    assert seen[-1] == ()


def test_the_screen_reports_what_is_left_out() -> None:
    assert left_out([LABEL, LABEL], SHEETS["a4-99x68"]) == ""
    said = left_out([LABEL, LABEL], SHEETS["roll-50x30"])
    assert said.startswith("Left out, because it doesn't fit: maker (2 labels)")


def test_a_sheet_is_found_by_name() -> None:
    assert sheet_from(" A4-63x38 ") is SHEETS["a4-63x38"]
    own = sheet_from("page 210x297 grid 2x2 label 90,5×60 margin 10x10")
    assert (own.label_width_mm, own.column_gap_mm, own.per_page) == (90.5, 0, 4)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "one of a4-99x68"),
        ("5x5", "at least 20 mm wide"),
        ("page 210x297 grid 3x7 label 80x38 margin 5x5", "need 245 mm, and the page is 210 mm"),
        ("page 210x297 grid 3.5x7 label 50x38 margin 5x5", "whole numbers"),
        ("page 210x297 grid 0x7 label 50x38 margin 5x5", "at least one row"),
        ("page 210x297 grid 3x7 label 5x5 margin 5x5", "at least 20 mm wide"),
        ("page 210x297 grid 3x7 label big margin 5x5", "not two numbers"),
        ("page 9999x9999 grid 3x7 label 50x38 margin 5x5", "A page"),
    ],
)
def test_an_impossible_sheet_is_refused_in_words(text: str, said: str) -> None:
    with pytest.raises(StillroomError, match=said):
        sheet_from(text)


@given(st.text(max_size=60))
def test_any_text_is_read_as_a_sheet_or_refused_in_words(text: str) -> None:
    try:
        sheet = sheet_from(text)
    except NotUnderstood:
        return
    assert sheet.per_page >= 1


@every_sheet
def test_a_code_that_could_be_a_link_is_printed_as_letters_only(sheet: LabelSheet) -> None:
    links = ["http://127.0.0.1/evil?x=1", "example.org", "www.example.org/a"]
    pdf = label_sheets_pdf([*(replace(LABEL, code=code) for code in links), LABEL], sheet)
    text = "".join("".join(pages(pdf)).split())
    assert [code for code in links if code not in text] == []
    assert text.count("example.org") == 2
    assert codes(pdf) == [read_on(sheet, LABEL.code)]
