"""A jar's picture shows its state in words and marks, and stays within its cells."""

import itertools
import re
from datetime import date, timedelta
from typing import cast

import pytest
from rich.cells import cell_len

from stillroom.keeping.cards import JarCard
from stillroom.reckoning.charge import Condition, Part
from stillroom.screens.drawing import jar_art
from stillroom.screens.drawing.letters import big
from stillroom.screens.drawing.look import INKS, Line, Look
from stillroom.screens.drawing.painter import GROUNDS
from stillroom.screens.kit.text import fit, safe

TODAY = date(2026, 11, 26)
CARD = JarCard(
    jar_id=1,
    code="26-001",
    herb="Calendula",
    more_herbs=0,
    part=Part.FLOWER,
    condition=Condition.DRIED,
    filled_on=TODAY - timedelta(days=9),
    strain_on=TODAY + timedelta(days=5),
    shakes_per_day=1,
    shaken=0,
    covered=True,
    shelf_id=1,
    place=1,
)
STRAINED = CARD._replace(to_bottle_ml=430.0)


def line_width(line: Line) -> int:
    """Cells a line takes."""
    return sum(cell_len(span.text) for span in line)


def due_in(days: int) -> JarCard:
    """A jar with so many days left."""
    return CARD._replace(strain_on=TODAY + timedelta(days=days))


def text_of(lines: list[Line]) -> str:
    """Lines as text."""
    return "\n".join("".join(span.text for span in line) for line in lines)


def small(card: JarCard, look: Look = Look(), *, is_chosen: bool = False) -> str:  # noqa: B008
    """The picture of a jar on its plank as text."""
    return text_of(jar_art.small(card, TODAY, look, is_chosen=is_chosen))


LOOKS = (
    Look(),
    Look(is_flat=True),
    Look(is_plain=True),
    Look(cell_width=26, scale=2),
    Look(cell_width=32, scale=2, is_plain=True),
    Look(label_lines=5, figure_room=7),
    Look(is_low=True),
    Look(is_low=True, is_plain=True),
)
AWKWARD = (
    "Calendula",
    "St [bold]John's[/] wort",
    "カモミールの花とハーブティー",
    "Tab\there\nand\x1b[31mthere",
    "Heart\u2764\ufe0fsease",
    "نعناع بري من الجبل العالي جدا",
    "Z\u0300\u0301\u0302\u0303\u0304algo\u0300\u0301\u0302",
    "e\u0301" * 40,
    "",
    "\u0301\u200f\u202e",
)


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("name", AWKWARD)
def test_every_line_has_exactly_its_number_of_cells(name: str, look: Look) -> None:
    cards = [
        CARD._replace(herb=name, part=cast("Part", name), code=name, more_herbs=12, covered=False),
        STRAINED._replace(herb=name, to_bottle_ml=12345.6),
        due_in(1234)._replace(herb=name),
        due_in(-250)._replace(herb=name),
        due_in(0)._replace(herb=name, shakes_per_day=2, shaken=1),
    ]
    for card, is_chosen in itertools.product(cards, (False, True)):
        lines = jar_art.small(card, TODAY, look, is_chosen=is_chosen)
        assert len(lines) == look.jar_height, (card, is_chosen)
        assert {line_width(line) for line in lines} == {look.cell_width}, (card, is_chosen)


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("name", AWKWARD)
def test_the_large_jar_fills_its_space_and_no_more(name: str, look: Look) -> None:
    cards = (CARD._replace(herb=name), STRAINED._replace(herb=name), due_in(0), due_in(-3))
    for card, room in itertools.product(cards, [(80, 20), (30, 9), (120, 38), (200, 46)]):
        lines = jar_art.large(card, TODAY, *room, look)
        assert len(lines) == room[1], (room, card)
        assert {line_width(line) for line in lines} == {room[0]}, (room, card)


def test_all_names_of_colours_are_known() -> None:
    for card in (CARD, STRAINED, due_in(0), due_in(-3), CARD._replace(covered=False)):
        drawn = jar_art.small(card, TODAY, Look(), is_chosen=True)
        drawn += jar_art.large(card, TODAY, 80, 20, Look())
        for span in (span for line in drawn for span in line):
            assert span.ink in ("", *INKS)
            assert span.ground in ("", *GROUNDS)


def test_a_jar_shows_herb_part_condition_and_code() -> None:
    lines = small(CARD._replace(more_herbs=2)).splitlines()
    assert lines[0].strip() == "26-001"
    assert "Calendula +2" in lines[2]
    assert "flower, dried" in lines[3]


def test_more_herbs_and_the_condition_are_shown_beside_long_names() -> None:
    card = CARD._replace(herb="Passionflower of the south", part=Part.AERIAL_PARTS, more_herbs=3)
    lines = small(card).splitlines()
    assert "… +3" in lines[2]
    assert "aerial, dried" in lines[3]


@pytest.mark.parametrize(
    ("days", "figure", "words"),
    [(5, "5", ["days"]), (1, "1", ["day"]), (42, "42", ["days"]), (-2, "+2", ["days", "late"])],
)
def test_the_countdown_is_three_rows_high_with_its_words(
    days: int, figure: str, words: list[str]
) -> None:
    rows = [line[2:-2].strip("▁▂▃▄▅▆▇│ ") for line in small(due_in(days)).splitlines()[4:7]]
    letters = big(figure)
    assert letters is not None
    for row, drawn in zip(rows, letters, strict=True):
        assert row.lstrip("▄ ").startswith(drawn.strip("▄ "))
    assert [row.split()[-1] for row in rows[-len(words) :]] == words


LOW = Look(is_low=True)


@pytest.mark.parametrize("look", [LOW, LOW._replace(is_plain=True), LOW._replace(is_flat=True)])
def test_a_low_jar_shows_code_name_part_condition_and_three_rows_of_figures(look: Look) -> None:
    for part, short in ((Part.AERIAL_PARTS, "aerial"), (Part.WHOLE_PLANT, "whole"),
                        (Part.FLOWER, "flower")):  # fmt: skip
        for days in (0, 1, 99, -1, -30):
            card = due_in(days)._replace(part=part)
            lines = small(card, look).splitlines()
            figure = big(str(abs(days)) if days else "DUE", is_plain=look.is_plain)
            assert figure is not None
            assert lines[0].strip().startswith("26-001")
            assert "Calendula" in lines[1]
            assert all(row in line for row, line in zip(figure, lines[2:], strict=True))
            assert (" |  " in lines[4] if look.is_plain else "▀█▀" in lines[3]) or days >= 0
            assert short in lines[2]
            assert "dried" in lines[3]


@pytest.mark.parametrize("look", [LOW, LOW._replace(is_plain=True), LOW._replace(cell_width=25)])
def test_the_words_beside_a_figure_do_not_touch_it(look: Look) -> None:
    """The figures of a jar 30 days late ran into the word "aerial"."""
    for days in range(-130, 131):
        for part in Part:
            card = due_in(days)._replace(part=part)
            for line in small(card, look).splitlines()[2:]:
                assert not re.search(r"[▀-▟|_][a-z○]", line[1:]), line


def test_the_background_of_a_low_due_jar_begins_before_its_letters() -> None:
    """Dark on light, their first stem ran into the dark of the board: it read UE."""
    for is_chosen in (False, True):
        for line in jar_art.small(due_in(0), TODAY, LOW, is_chosen=is_chosen)[2:]:
            drawn = [(letter, span.ground) for span in line for letter in span.text]
            assert [ground for _, ground in drawn[:2]] == ["due", "due"]
            assert drawn[0][0] in " ▶"


def test_a_low_jar_drops_the_unit_before_the_shake_still_due() -> None:
    card = CARD._replace(covered=False)
    assert "! uncovered" in small(card, LOW).splitlines()[0]
    assert "days ○" in small(card, LOW).splitlines()[4]
    assert "[ ]" in small(card, LOW._replace(is_plain=True)).splitlines()[4]


@pytest.mark.parametrize("is_plain", [False, True])
@pytest.mark.parametrize("width", [19, 25, 26, 32, 38, 52])
@pytest.mark.parametrize("scale", [1, 2, 3])
def test_due_is_never_smaller_than_a_count(scale: int, width: int, is_plain: bool) -> None:
    def rows_of_ink(days: int) -> int:
        look = Look(cell_width=width, scale=scale, is_plain=is_plain)
        lines = jar_art.small(due_in(days), TODAY, look)[4:-2]
        marks = set("▘▝▀▖▌▞▛▗▚▐▜▄▙▟█#_|")
        return sum(any(marks & set(span.text) for span in line[1:-1]
                       if span.ink not in ("glass", "surface")) for line in lines)  # fmt: skip

    due = rows_of_ink(0)
    assert due >= 3 * is_plain or due >= 3
    assert all(due >= rows_of_ink(days) for days in (1, 2, 8, 14, 42, 99, -1, -8, -30))


def test_no_word_touches_a_figure() -> None:
    """At 120 columns a jar that was due read DUEtoday."""
    touching = re.compile("[▘▝▀▖▌▞▛▗▚▐▜▄▙▟█][a-z]")
    for width, scale in itertools.product(range(15, 60), (1, 2, 3)):
        look = Look(cell_width=width, scale=scale)
        for days in (0, 1, 5, 42, 99, -1, -30):
            for line in jar_art.small(due_in(days), TODAY, look):
                drawn = "".join(span.text for span in line if "surface" not in span.ink)
                assert not touching.search(drawn), (width, scale, days, drawn)


@pytest.mark.parametrize("look", LOOKS)
def test_the_drawn_liquid_never_crosses_a_figure(look: Look) -> None:
    """Whatever the level, all of a figure is on one ground."""
    for gone in range(29):
        filled = TODAY - timedelta(days=gone)
        card = CARD._replace(filled_on=filled, strain_on=filled + timedelta(days=28))
        for drawn in (
            jar_art.small(card, TODAY, look), jar_art.large(card, TODAY, 60, 24, look),
        ):  # fmt: skip
            figure = [span for line in drawn for span in line if span.ink == "count" and
                      set(span.text) & set("▘▝▀▖▌▞▛▗▚▐▜▄▙▟█#_|")]  # fmt: skip
            assert figure or gone == 28
            assert len({span.ground for span in figure}) <= 1
            assert not any(set(span.text) & set("~▁▂▃▅▆▇") for span in figure)


def test_a_name_wraps_and_is_cut_only_when_no_line_is_left() -> None:
    card = CARD._replace(herb="Elderflower from the three old trees", part=Part.AERIAL_PARTS)
    inner = Look().cell_width - 4
    look = Look(label_lines=jar_art.label_lines(card, inner))
    words = " ".join(line.strip(" │") for line in small(card, look).splitlines()[2:-5])
    assert " ".join(words.split()) == "Elderflower from the three old trees aerial parts, dried"


def test_a_jar_one_day_late_shows_day_and_not_days() -> None:
    rows = small(due_in(-1)).splitlines()
    assert " day " in rows[5]
    assert "late" in rows[6]


def test_a_jar_due_today_shows_it_large_and_in_words() -> None:
    due = big("DUE")
    assert due is not None
    text = small(due_in(0))
    assert all(row in text for row in due)
    assert "due today" in text


def test_due_and_late_jars_have_backgrounds_of_their_own() -> None:
    grounds = {
        days: {span.ground for line in jar_art.small(due_in(days), TODAY, Look()) for span in line}
        for days in (5, 0, -1)
    }
    assert not grounds[5] & {"due", "over"}
    assert grounds[0] & {"due", "over"} == {"due"}
    assert grounds[-1] & {"due", "over"} == {"over"}


@pytest.mark.parametrize("look", [Look(), Look(is_flat=True), Look(is_plain=True)])
def test_no_two_states_look_the_same_without_colour(look: Look) -> None:
    """Words and marks alone tell every state from every other."""
    cards = [
        CARD,
        CARD._replace(shaken=1),
        CARD._replace(shakes_per_day=2),
        CARD._replace(shakes_per_day=2, shaken=1),
        CARD._replace(shakes_per_day=0),
        CARD._replace(covered=False),
        due_in(2),
        due_in(0),
        due_in(-2),
        STRAINED,
    ]
    pictures = [small(card, look) for card in cards]
    pictures.append(small(CARD, look, is_chosen=True))
    assert len(set(pictures)) == len(pictures)


@pytest.mark.parametrize(
    ("per_day", "shaken", "said"),
    [(1, 0, "○ to shake"), (1, 1, "✓ shaken"), (2, 0, "○ 0 of 2"), (2, 1, "◐ 1 of 2"),
     (2, 2, "✓ shaken"), (0, 0, "no shaking")],
)  # fmt: skip
def test_shakes_are_shown_with_a_mark_and_a_word(per_day: int, shaken: int, said: str) -> None:
    assert said in small(CARD._replace(shakes_per_day=per_day, shaken=shaken)).splitlines()[7]


def test_uncovered_herb_gets_a_warning() -> None:
    assert "! uncovered" in small(CARD._replace(covered=False))
    assert "! herb uncovered" in small(CARD._replace(covered=False), Look(26, 2))
    assert "uncovered" not in small(CARD)


def test_a_strained_jar_shows_what_to_bottle_and_nothing_to_shake() -> None:
    text = small(STRAINED._replace(covered=False))
    assert "to bottle" in text
    assert "430 mL" in text
    assert "strained" in text
    assert "shake" not in text
    assert "uncovered" not in text


def test_the_age_of_the_jar_is_in_words() -> None:
    assert "day 9 of 14" in small(CARD).splitlines()[-1]


def test_a_jar_dated_tomorrow_is_shown_as_still_to_fill() -> None:
    tomorrow = TODAY + timedelta(days=1)
    assert "not filled yet" in small(CARD._replace(filled_on=tomorrow)).splitlines()[-1]


def test_the_liquid_rises_as_the_jar_steeps() -> None:
    def wet(days_gone: int) -> int:
        filled = TODAY - timedelta(days=days_gone)
        card = CARD._replace(filled_on=filled, strain_on=filled + timedelta(days=28))
        lines = jar_art.small(card, TODAY, Look())
        return sum(any(span.ground == "liquid" for span in line) for line in lines)

    levels = [wet(days) for days in (0, 8, 16, 24, 27)]
    assert levels[0] == 0  # nothing yet
    assert levels == sorted(levels)
    assert levels[-1] > levels[1]


def test_without_colour_the_walls_show_the_level() -> None:
    full = CARD._replace(filled_on=TODAY - timedelta(days=40), strain_on=TODAY + timedelta(days=1))
    new = CARD._replace(filled_on=TODAY)
    assert small(full, Look(is_flat=True)).count("║") == 8
    assert small(new, Look(is_flat=True)).count("║") == 0
    assert small(full, Look(is_plain=True)).count("#") == 8


def test_plain_pictures_use_only_ascii_and_single_line_boxes() -> None:
    allowed = set("┌─┐│└┘┴")
    for card in (CARD, STRAINED, due_in(0), due_in(-12), CARD._replace(covered=False, shaken=1)):
        for is_chosen in (False, True):
            drawn = small(card, Look(is_plain=True), is_chosen=is_chosen)
            drawn += text_of(jar_art.large(card, TODAY, 80, 20, Look(is_plain=True)))
            assert {c for c in drawn if not c.isascii()} <= allowed


def test_the_selected_jar_has_a_frame_and_a_pointer() -> None:
    chosen = small(CARD, is_chosen=True)
    assert "▶┃" in chosen
    assert "┃◀" in chosen
    assert "┏" in chosen
    assert "┃" not in small(CARD)


def test_awkward_text_becomes_one_safe_line() -> None:
    assert safe("a\tb\nc\x1b[31m\x00d") == "a b c [31m d"
    assert safe("❤\ufe0f\u202eabc\u200d") == "❤abc"
    assert safe("\u0301abc") == "abc"
    assert safe("n\u0303") == "ñ"
    assert safe("x\u0300\u0301\u0302\u0303") == "x\u0300\u0301"


@pytest.mark.parametrize("name", AWKWARD)
def test_cut_text_never_exceeds_its_width(name: str) -> None:
    for width in range(12):
        cut = fit(name, width)
        assert cell_len(cut) <= width, width
        if cell_len(safe(name)) > width > 0:
            assert cut.endswith("…"), width


def test_markup_in_a_name_is_shown_as_text() -> None:
    assert "[b]Rue[/b]" in small(CARD._replace(herb="[b]Rue[/b]"))


def test_every_big_letter_has_the_same_height_and_its_own_shape() -> None:
    for alphabet in ("ABCDEFGHIJKLMNOPQRSTUVWXYZ-'/+", "0123456789"):
        drawn = [big(letter) for letter in alphabet]
        assert len(set(drawn)) == len(alphabet)
        for letter in drawn:
            assert letter is not None
            assert len(letter) == 3
            assert len({len(row) for row in letter}) == 1


def test_scaled_letters_grow_in_both_directions() -> None:
    small_a, large_a = big("8"), big("8", 3)
    assert small_a is not None
    assert large_a is not None
    assert len(large_a) == 3 * len(small_a)
    assert len(large_a[0]) == 3 * len(small_a[0])


def test_big_letters_drop_accents_and_leave_out_other_scripts() -> None:
    assert big("Échinacée") == big("ECHINACEE")
    assert big("ромашка") is None
    assert big("") is None


def test_the_large_jar_shows_name_and_shakes_in_big_letters() -> None:
    text = text_of(jar_art.large(CARD._replace(shaken=1), TODAY, 80, 20, Look()))
    for word in ("CALENDULA", "SHAKEN"):
        letters = big(word)
        assert letters is not None
        assert all(row.strip() in text for row in letters)
    assert "✓ shaken" in text


def test_a_name_without_big_letters_is_spaced_out() -> None:
    text = text_of(jar_art.large(CARD._replace(herb="Ромашка"), TODAY, 80, 20, Look()))
    assert "Р о м а ш к а" in text
