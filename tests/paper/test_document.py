"""Documents as plain text: columns that line up, and nothing lost."""

from hypothesis import given
from hypothesis import strategies as st

from stillroom.paper.document import BlankLines, Document, Facts, Grid, Prose, Section, as_text
from stillroom.paper.plain import cells, pad, wrap


def page(*blocks: Facts | Grid | BlankLines | Prose) -> Document:
    return Document("Title", "", (Section("Part", blocks),))


def test_wide_and_combining_characters_count_the_cells_they_fill() -> None:
    assert (cells("薬草"), cells("e\u0301"), cells("Ünü")) == (4, 1, 3)
    assert pad("薬", 4) == "薬  "
    assert pad("12", 4, right=True) == "  12"


def test_columns_line_up_under_wide_characters() -> None:
    grid = Grid(("Herb", "Left"), (("薬草", "5"), ("Fennel", "12")), (1, 1), frozenset({1}))
    assert as_text(page(grid)).splitlines()[-2:] == ["薬草       5", "Fennel    12"]


def test_open_values_and_lines_have_room_to_write_on() -> None:
    text = as_text(page(Facts((("Cleaned", ""), ("Vessel", "jar"))), BlankLines(2)), 20)
    assert text.splitlines()[-5:] == [
        "Cleaned  ____",
        "Vessel   jar",
        "",
        "_" * 20,
        "_" * 20,
    ]


def test_words_are_broken_only_where_there_is_no_room() -> None:
    grid = Grid(("A", "B"), (("one two three", "alpha beta gamma"),), (1, 1))
    body = as_text(page(grid), 16).splitlines()[6:]
    assert [line.split() for line in body] == [
        ["one", "two", "alpha"],
        ["three", "beta"],
        ["gamma"],
    ]


@given(st.text(), st.integers(2, 40))
def test_wrapping_respects_the_width_and_loses_no_letter(text: str, width: int) -> None:
    lines = wrap(text, width)
    assert all(cells(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


TEXT = st.text("abc dé薬 ", max_size=30)


@given(st.lists(st.tuples(TEXT, TEXT, TEXT), max_size=5), st.integers(20, 100))
def test_a_grid_respects_the_width_and_loses_no_letter(
    rows: list[tuple[str, str, str]], width: int
) -> None:
    text = as_text(page(Grid(("One", "Two", "Three"), tuple(rows), (1, 1, 1))), width)
    assert all(cells(line) <= width for line in text.split("\n"))
    kept = sorted("".join("".join(row) for row in rows).replace(" ", ""))
    body = text.split("─\n", 1)[1]
    assert sorted("".join(body.split())) == kept
