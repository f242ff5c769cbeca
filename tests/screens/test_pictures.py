"""Pictures of a herb: what they show, in characters that any console has, with their tables."""

import re
import subprocess
import sys
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stillroom.clock import SetClock
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.kinds import Subject, SubjectKind
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.year.pictures import Level, Picture, Point, Series, pictures
from stillroom.screens.app import StillroomApp
from stillroom.screens.drawing.plot import PLAIN, ROUND, legend, plot
from stillroom.screens.jar.page import JarPage
from stillroom.screens.year.page import YearPage
from stillroom.screens.year.picture import PicturePage

from .driving import flat, press, turn_to
from .stocked import stock

DAY = date(2026, 3, 1)
YIELDS = Picture(
    "Yield", "%",
    (
        Series("dried, pressed", (Point(DAY, 80.0, "26-001", jar_id=1),
                                  Point(DAY + timedelta(200), 60.0, "26-002", True, 2))),
        Series("fresh, drained", (Point(DAY + timedelta(100), 70.0, "26-003", jar_id=3),)),
    ),
    (Level("range", 62.0, 78.0), Level("mean", 75.0, 75.0)),
    (("runs out", DAY + timedelta(300)),),
)  # fmt: skip


def drawn(picture: Picture, chosen: Point | None = None, *, is_plain: bool = False) -> str:
    return plot(picture, 80, 24, chosen, "{:.4g}".format, is_plain=is_plain)


def cell_of(text: str, mark: str) -> tuple[int, int]:
    """Column and row of the only cell with a mark."""
    *rows, _scale = text.split("\n")
    cells = [(x, y) for y, row in enumerate(rows) for x, c in enumerate(row) if c == mark]
    assert len(cells) == 1, (mark, cells)
    return cells[0]


@pytest.mark.parametrize("is_plain", [False, True])
def test_each_straining_has_its_mark_and_those_set_aside_are_hollow(
    is_plain: bool,
) -> None:
    marks = PLAIN if is_plain else ROUND
    text = drawn(YIELDS, is_plain=is_plain)
    first, aside, other = (
        cell_of(text, mark) for mark in (marks.full[0], marks.hollow[0], marks.full[1])
    )
    assert first[0] < other[0] < aside[0]  # by their days
    assert first[1] < other[1] < aside[1]  # by their values, from above
    assert (other[0] - first[0]) / (aside[0] - first[0]) == pytest.approx(0.5, abs=0.05)
    for mark in (marks.line, marks.band, marks.upright):
        assert mark in text
    assert not re.search("[\u2800-\u28ff]", text)  # Braille
    assert text.isascii() or not is_plain
    assert max(map(len, text.split("\n"))) <= 80
    words = legend(YIELDS, None, is_plain=is_plain)
    assert f"{marks.full[0]} (set aside {marks.hollow[0]}) dried, pressed" in words
    assert f"{marks.full[1]} fresh, drained" in words


def test_the_selected_mark_is_shown_with_the_levels_of_its_own_straining() -> None:
    levels = (
        Level("one", 61.0, 61.0, "dried, pressed"),
        Level("two", 65.0, 65.0, "fresh, drained"),
    )
    picture = Picture("Yield", "%", YIELDS.series, levels)
    chosen = picture.series[1].points[0]
    assert cell_of(drawn(picture, chosen), ROUND.chosen)
    words = legend(picture, chosen)
    assert "two" in words
    assert "one" not in words


@given(low=st.floats(0, 900), span=st.floats(0.2, 5000), rows=st.integers(5, 60))
def test_the_scale_has_round_figures_at_the_right_heights(
    low: float, span: float, rows: int
) -> None:
    """Each is a multiple of 1, 2 or 5 times a power of ten, four rows or more from the next."""
    points = (Point(DAY, low), Point(DAY + timedelta(90), low + span))
    text = plot(Picture("", "", (Series("a", points),)), 80, rows + 3, None, "{:.10g}".format)
    shown = [
        (y, float(t)) for y, row in enumerate(text.split("\n")[:-2]) if (t := row[:10].strip())
    ]
    gaps = {round(b - a, 9) for (_, b), (_, a) in pairwise(shown)}
    assert all(f"{gap:.0e}"[0] in "125" for gap in gaps)
    assert all(b - a >= 4 for (a, _), (b, _) in pairwise(shown))
    marks = [y for y, row in enumerate(text.split("\n")) if "●" in row]
    top, bottom = marks[0], marks[-1]
    for y, value in shown:
        if top < bottom:
            at = top + (low + span - value) / span * (bottom - top)
            assert abs(at - y) <= 1.5, (value, at, y)


def test_the_last_month_is_left_out_where_it_does_not_fit() -> None:
    for width in range(40, 120):
        months = plot(YIELDS, width, 12, None, "{:.4g}".format).split("\n")[-1]
        assert re.fullmatch(r"[ |]*([A-Z][a-z]{2} \d\d[ |]*)+", months), months
        assert len(months) <= width


def test_bars_and_lines_reach_their_values() -> None:
    months = [Point(date(2026, m, 1), 10.0 * m) for m in range(1, 7)]
    bars = drawn(Picture("", "", (Series("made", tuple(months)),), are_bars=True))
    heights = [sum(row[x : x + 1] == "█" for row in bars.split("\n")) for x in range(80)]
    found = [height for height in heights if height]
    assert found == sorted(found)
    assert len(found) == 6
    held = drawn(Picture("", "", (Series("stock", tuple(months), is_line=True),)))
    assert held.count(ROUND.held) > 40


def test_a_chart_without_room_or_values_is_blank() -> None:
    assert plot(YIELDS, 20, 24, None, str) == plot(YIELDS, 80, 6, None, str) == ""
    assert drawn(Picture("", "", ())) == ""


def test_the_chart_library_is_loaded_only_when_a_chart_is_drawn() -> None:
    code = (
        "import sys, stillroom.screens.app, stillroom.screens.year.page, "
        "stillroom.screens.year.picture; print('plotille' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_a_chart_shows_the_values_of_its_table(keeper: Keeper) -> None:
    stock(keeper)
    (jar_id,) = keeper.rows("SELECT jar_id FROM straining ORDER BY id LIMIT 1")[0]
    herb, part = keeper.rows(
        "SELECT h.name, l.part FROM charge_line l JOIN herb h ON h.id = l.herb_id WHERE jar_id = ?",
        jar_id,
    )[0]
    percents, *_ = pictures(keeper, herb, part)
    points = percents.points
    assert points
    assert len(percents.rows) == len(points)
    assert not any(p.is_hollow for p in points)
    correct(keeper, Subject(SubjectKind.JAR, jar_id), {"teaches": "no"})
    percents, *_ = pictures(keeper, herb, part)
    assert [p.is_hollow for p in percents.points if p.jar_id == jar_id] == [True]
    assert [row[-1] for row in percents.rows if row[-1]] == ["set aside"]


async def test_charts_open_from_the_year_and_each_mark_opens_its_jar(
    keeper: Keeper, clock: SetClock
) -> None:
    stock(keeper)
    clock.advance(days=1)
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        page = await turn_to(app, pilot, "6", YearPage)
        await press(pilot, "tab", "tab", "v")
        assert page.part.title == "Learning"
        opened = app.screen
        assert isinstance(opened, PicturePage)
        assert "Yield, % of the liquid" in flat(app)
        assert ROUND.chosen in flat(app)
        assert "squeezed" in flat(app) or "pressed" in flat(app) or "drained" in flat(app)
        await press(pilot, "t")
        assert "Of the liquid" in flat(app)
        await press(pilot, "t", "tab")
        assert "Held back by a gram, dried" in flat(app)
        assert "published" in flat(app)
        await press(pilot, "enter")
        assert isinstance(app.screen, JarPage)
