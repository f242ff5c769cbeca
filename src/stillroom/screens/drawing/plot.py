"""Pictures drawn in the characters of a terminal, by plotille: imported when one is drawn.

Every value is a character of its own in a cell, so that consoles without Braille show it; marks
differ in shape and not only in colour.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Any

from stillroom.dates import month_on_axis
from stillroom.keeping.year.pictures import Level, Picture, Point, Series

LEFT = 14
"""Columns that plotille takes for the scale."""
BELOW = 3
"""Rows that it takes for the scale of days and above it."""
LEAST = 16, 5
"""Columns and rows below which nothing can be read."""
_BRAILLE_BLANK = "\u2800"
_ROWS_BETWEEN = 4
_SLACK = 1e-9
"""Of a step: what arithmetic of floats may miss."""
_MONTH = re.compile(r"\S+ \d\d")


@dataclass(frozen=True)
class PlotMarks:
    """The characters of one kind of terminal."""

    full: str
    hollow: str
    chosen: str
    band: str
    line: str
    edge: str
    upright: str
    held: str
    bars: str


ROUND = PlotMarks("●▲■◆", "○△□◇", "◉", "·", "─", "~", "│", "•", "█░")
PLAIN = PlotMarks("OXAN", "oxan", "@", ".", "-", "~", "|", "*", "#:")
"""For consoles with few glyphs: capital letters count, small ones were set aside."""


def marks_for(*, is_plain: bool) -> PlotMarks:
    """The characters that a terminal can show."""
    return PLAIN if is_plain else ROUND


def plot(
    picture: Picture,
    width: int,
    height: int,
    chosen: Point | None,
    number: Callable[[float], str],
    *,
    is_plain: bool = False,
) -> str:
    """A picture in so many columns and rows; blank where there is no room or no value."""
    columns, rows = width - LEFT, height - BELOW
    points = picture.points
    if not points or columns < LEAST[0] or rows < LEAST[1]:
        return ""
    import plotille

    levels = levels_of(picture, chosen)
    days = [p.day.toordinal() for p in points] + [d.toordinal() for _, d in picture.uprights]
    values = [p.value for p in points] + [v for e in levels for v in (e.low, e.high)]
    left, right = _padded(min(days), max(days), 180.0)
    low, high = _padded(min(values), max(values), 0.05 * abs(max(values)) or 1.0)
    if picture.are_bars or any(s.is_line for s in picture.series) or low < 0 <= min(values):
        low = 0.0
    figure = plotille.Figure()
    figure.width, figure.height = columns, rows
    figure.with_colors, figure.origin = False, False
    figure.x_label = figure.y_label = ""
    figure.set_x_limits(left, right)
    figure.set_y_limits(low, high)
    figure.register_label_formatter(float, _scale(number))
    figure.register_label_formatter(int, _scale(number))
    figure.x_ticks_fkt = lambda day, _: month_on_axis(day)
    step = round_step((high - low) / rows)
    figure.y_ticks_fkt = lambda at, above: _tick(at, above, step, number)
    marks = marks_for(is_plain=is_plain)
    grid = _PlotCells(left, right, columns, low, high, rows)
    for xs, ys, mark in _strokes(picture, levels, grid, marks, chosen):
        figure.scatter(xs, ys, marker=mark)
    lines = str(figure.show(legend=False)).replace(_BRAILLE_BLANK, " ").split("\n")
    # Without the arrows and the names of the axes, which the title and the legend say.
    *drawn, days_line = [line.partition("->")[0].rstrip() for line in lines[1:]]
    return "\n".join([*(line[:width].rstrip() for line in drawn), _uncut(days_line, width)])


def round_step(row: float) -> float:
    """Returns how far apart the figures of a scale are, one row being this high: 1, 2 or 5 times a
    power of ten, and at least four rows.

    >>> round_step(0.94), round_step(74.6), round_step(0.02)
    (5.0, 500.0, 0.1)
    """
    least = _ROWS_BETWEEN * row
    power = 10.0 ** floor(log10(least))
    return next(n * power for n in (1.0, 2.0, 5.0, 10.0) if n * power >= least * (1 - _SLACK))


def _tick(at: float, above: float, step: float, number: Callable[[float], str]) -> str:
    """The round figure that a row holds, or a blank."""
    tick = ceil(at / step - _SLACK) * step
    return number(tick + 0.0) if tick < above - _SLACK * step else ""


def _uncut(line: str, width: int) -> str:
    """The line of months without the last one, where only a part of it fits."""
    ends = [found.end() for found in _MONTH.finditer(line) if found.end() <= width]
    return line[: ends[-1]] if ends else line[:width]


def legend(picture: Picture, chosen: Point | None, *, is_plain: bool = False) -> str:
    """What each character of a picture is, in one line."""
    marks = marks_for(is_plain=is_plain)
    words = []
    for place, series in enumerate(picture.series):
        if not series.points:
            continue
        if picture.are_bars:
            mark = marks.bars[place % 2]
        elif series.is_line:
            mark = marks.held
        else:
            mark = marks.full[place % 4]
            if any(p.is_hollow for p in series.points):
                mark += f" (set aside {marks.hollow[place % 4]})"
        words.append(f"{mark} {series.name}")
    for level in levels_of(picture, chosen):
        words.append(f"{_mark_of(level, marks)} {level.name}")
    words += [f"{marks.upright} {name}" for name, _ in picture.uprights]
    if chosen is not None:
        words.append(f"{marks.chosen} chosen")
    return "  ".join(words)


def levels_of(picture: Picture, chosen: Point | None) -> list[Level]:
    """The lines and bands to draw: those of the series that the chosen point is in."""
    name = next((s.name for s in picture.series if chosen in s.points), "")
    return [level for level in picture.levels if level.series in ("", name)]


def _mark_of(level: Level, marks: PlotMarks) -> str:
    if not level.is_band:
        return marks.line
    return marks.edge if level.is_forecast else marks.band


@dataclass(frozen=True)
class _PlotCells:
    """The cells of a picture, by their middles."""

    left: float
    right: float
    columns: int
    low: float
    high: float
    rows: int

    @property
    def xs(self) -> list[float]:
        step = (self.right - self.left) / self.columns
        return [self.left + (n + 0.5) * step for n in range(self.columns)]

    @property
    def ys(self) -> list[float]:
        step = (self.high - self.low) / self.rows
        return [self.low + (n + 0.5) * step for n in range(self.rows)]


Stroke = tuple[Sequence[float], Sequence[float], str]


def _strokes(
    picture: Picture,
    levels: Sequence[Level],
    grid: _PlotCells,
    marks: PlotMarks,
    chosen: Point | None,
) -> list[Stroke]:
    """What is drawn, what comes first lying below the rest."""
    strokes: list[Stroke] = []
    for level in sorted(levels, key=lambda each: (each.is_forecast, not each.is_band)):
        mark = _mark_of(level, marks)
        if level.is_band and not level.is_forecast:
            cells = [(x, y) for x in grid.xs for y in grid.ys if level.low <= y <= level.high]
            strokes.append(([x for x, _ in cells], [y for _, y in cells], mark))
        else:
            for value in {level.low, level.high}:
                strokes.append((grid.xs, [value] * grid.columns, mark))
    for _, day in picture.uprights:
        strokes.append(([float(day.toordinal())] * grid.rows, grid.ys, marks.upright))
    for place, series in enumerate(picture.series):
        if picture.are_bars:
            strokes.append(_bars(series, place, grid, marks))
        elif series.is_line:
            strokes.append(_steps(series, grid, marks))
        else:
            for points, shapes in (
                ([p for p in series.points if not p.is_hollow], marks.full),
                ([p for p in series.points if p.is_hollow], marks.hollow),
            ):
                xs, ys = [float(p.day.toordinal()) for p in points], [p.value for p in points]
                strokes.append((xs, ys, shapes[place % 4]))
    if chosen is not None:
        strokes.append(([float(chosen.day.toordinal())], [chosen.value], marks.chosen))
    return [stroke for stroke in strokes if len(stroke[0])]


def _bars(series: Series, place: int, grid: _PlotCells, marks: PlotMarks) -> Stroke:
    """A column of cells for each value; those of the second series stand beside the first."""
    step = (grid.right - grid.left) / grid.columns
    xs, ys = [], []
    for point in series.points:
        for y in grid.ys:
            if y <= point.value or y == grid.ys[0]:
                xs.append(point.day.toordinal() + place * step)
                ys.append(y)
    return xs, ys, marks.bars[place % 2]


def _steps(series: Series, grid: _PlotCells, marks: PlotMarks) -> Stroke:
    """The value that holds at the middle of each column."""
    xs, ys = [], []
    for x in grid.xs:
        held = [p.value for p in series.points if p.day.toordinal() <= x]
        if held and x <= series.points[-1].day.toordinal():
            xs.append(x)
            ys.append(held[-1])
    return xs, ys, marks.held


def _padded(low: float, high: float, least: float) -> tuple[float, float]:
    pad = max(0.04 * (high - low), least if high == low else 0.0)
    return low - pad, high + pad


def _scale(number: Callable[[float], str]) -> Any:
    def formatter(value: float, chars: int, delta: float, left: bool = False) -> str:
        text = number(value)[:chars]
        return text.ljust(chars) if left else text.rjust(chars)

    return formatter
