"""Pictures on paper, by reportlab's charts: marks differ in shape, so that grey prints read too."""

from collections.abc import Callable
from datetime import date
from typing import Any

from stillroom.dates import month_on_axis
from stillroom.keeping.year.pictures import Level, Picture, Series
from stillroom.paper.fonts import Face, pieces, printable
from stillroom.reckoning.months import next_month

HEIGHT = 132.0
"""Points, with the title and without the legend."""
_LEFT, _BELOW, _ABOVE = 42.0, 22.0, 18.0
_INK, _GREY, _PALE, _PALER = "#111111", "#777777", "#bbbbbb", "#e4e4e4"
_FULL = ("FilledCircle", "FilledTriangle", "FilledSquare", "FilledDiamond")
_HOLLOW = ("Circle", "Triangle", "Square", "Diamond")
_MOST_LEVELS = 6
"""Of more lines and bands none could be told from the others."""


def chart(picture: Picture, width: float) -> Any:
    """A drawing of a picture, so many points wide."""
    from reportlab.graphics.shapes import Drawing

    fonts = {"initialFontName": Face.PLAIN.value, "initialFontSize": 8}  # not one of the reader's
    drawing = Drawing(width, HEIGHT + 12 * _legend_rows(picture), **fonts)
    turned = 14.0 if picture.are_bars and len(_every_month(picture)) > 12 else 0.0
    base = 12 * _legend_rows(picture) + _BELOW + turned
    box = _PlotBox(_LEFT, base, width - _LEFT - 8, HEIGHT - _BELOW - _ABOVE - turned)
    if picture.are_bars:
        drawing.add(_bars(picture, box))
    else:
        scale = _scale(picture)
        for level in _levels(picture):
            _draw_level(drawing, level, box, scale)
        _draw_uprights(drawing, picture, box, scale)
        drawing.add(_plot(picture, box, scale))
    _draw_legend(drawing, picture, width)
    _write(drawing, 0, drawing.height - 9, picture.heading, Face.BOLD, 8)
    return drawing


def _write(drawing: Any, x: float, y: float, text: str, face: Face, size: float) -> None:
    """A row of text, each script of it in its font."""
    from reportlab.graphics.shapes import String
    from reportlab.pdfbase.pdfmetrics import stringWidth

    for part, font in pieces(printable(text), face):
        drawing.add(String(x, y, part, fontName=font, fontSize=size))
        x += stringWidth(part, font, size)


class _PlotBox:
    """Where the plot is, in points."""

    def __init__(self, x: float, y: float, width: float, height: float) -> None:
        self.x, self.y, self.width, self.height = x, y, width, height


class _PlotScale:
    """The range of both axes."""

    def __init__(self, left: float, right: float, low: float, high: float) -> None:
        self.left, self.right, self.low, self.high = left, right, low, high

    def y(self, value: float, box: _PlotBox) -> float:
        """A value in points."""
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return box.y + share * box.height

    def x(self, day: float, box: _PlotBox) -> float:
        """A day in points."""
        return box.x + (day - self.left) / (self.right - self.left) * box.width


def _levels(picture: Picture) -> list[Level]:
    """As many as can be told apart, bands first."""
    return sorted(picture.levels, key=lambda each: not each.is_band)[:_MOST_LEVELS]


def _scale(picture: Picture) -> _PlotScale:
    days = [p.day.toordinal() for p in picture.points]
    days += [day.toordinal() for _, day in picture.uprights]
    values = [p.value for p in picture.points]
    values += [v for level in _levels(picture) for v in (level.low, level.high)]
    pad_x = max(10.0, 0.04 * (max(days) - min(days))) if len(set(days)) > 1 else 180.0
    low, high = min(values), max(values)
    pad = 0.08 * (high - low) or 0.05 * abs(high) or 1.0
    is_held = any(series.is_line for series in picture.series)
    low = 0.0 if is_held or low - pad < 0 <= low else low - pad
    return _PlotScale(min(days) - pad_x, max(days) + pad_x, low, high + pad)


def _draw_level(drawing: Any, level: Level, box: _PlotBox, scale: _PlotScale) -> None:
    from reportlab.graphics.shapes import Line, Rect
    from reportlab.lib.colors import HexColor

    low, high = scale.y(level.low, box), scale.y(level.high, box)
    if level.is_band and not level.is_forecast:
        drawing.add(Rect(box.x, low, box.width, high - low, fillColor=HexColor(_PALER),
                         strokeColor=None))  # fmt: skip
        return
    dash = (3, 2) if level.is_forecast else None
    for y in {low, high}:
        drawing.add(Line(box.x, y, box.x + box.width, y, strokeColor=HexColor(_GREY),
                         strokeWidth=0.7, strokeDashArray=dash))  # fmt: skip


def _draw_uprights(drawing: Any, picture: Picture, box: _PlotBox, scale: _PlotScale) -> None:
    from reportlab.graphics.shapes import Line
    from reportlab.lib.colors import HexColor

    for _, day in picture.uprights:
        x = scale.x(day.toordinal(), box)
        drawing.add(Line(x, box.y, x, box.y + box.height, strokeColor=HexColor(_INK),
                         strokeWidth=0.8, strokeDashArray=(1, 2)))  # fmt: skip


def _plot(picture: Picture, box: _PlotBox, scale: _PlotScale) -> Any:
    from reportlab.graphics.charts.lineplots import LinePlot
    from reportlab.graphics.widgets.markers import makeMarker
    from reportlab.lib.colors import HexColor

    plot = LinePlot()
    plot.x, plot.y, plot.width, plot.height = box.x, box.y, box.width, box.height
    data, looks = [], []
    for place, series in enumerate(picture.series):
        if series.is_line:
            data.append(_steps(series))
            looks.append("")
            continue
        for hollow, shapes in ((False, _FULL), (True, _HOLLOW)):
            found = [
                (float(p.day.toordinal()), p.value) for p in series.points if p.is_hollow is hollow
            ]
            if found:
                data.append(found)
                looks.append(shapes[place % 4])
    plot.data = data
    for number, shape in enumerate(looks):
        line = plot.lines[number]
        line.strokeColor = HexColor(_INK) if not shape else None
        line.strokeWidth = 0.9
        if shape:
            line.symbol = makeMarker(shape, size=5, strokeColor=HexColor(_INK))
            line.symbol.fillColor = HexColor(_INK) if shape in _FULL else HexColor("#ffffff")
    x, y = plot.xValueAxis, plot.yValueAxis
    x.valueMin, x.valueMax, y.valueMin, y.valueMax = (
        scale.left, scale.right, scale.low, scale.high,
    )  # fmt: skip
    x.valueSteps = [scale.left + n * (scale.right - scale.left) / 6 for n in range(7)]
    x.labelTextFormat = month_on_axis
    y.labelTextFormat = _figures(picture)
    for axis in (x, y):
        axis.labels.fontName, axis.labels.fontSize = Face.PLAIN.value, 7
        axis.strokeWidth = 0.5
    return plot


def _steps(series: Series) -> list[tuple[float, float]]:
    """The value that holds from one day to the next."""
    found: list[tuple[float, float]] = []
    for point in series.points:
        if found:
            found.append((point.day.toordinal(), found[-1][1]))
        found.append((point.day.toordinal(), point.value))
    return found


def _figures(picture: Picture) -> Callable[[float], str]:
    mark = "," if picture.decimal_comma else "."
    return lambda value: f"{value:g}".replace(".", mark)


def _every_month(picture: Picture) -> list[date]:
    """From the first with a value to the last: one in which nothing happened has its place."""
    months = [min(p.day for p in picture.points)]
    last = max(p.day for p in picture.points)
    while months[-1] < last:
        months.append(next_month(months[-1]))
    return months


def _bars(picture: Picture, box: _PlotBox) -> Any:
    from reportlab.graphics.charts.barcharts import VerticalBarChart
    from reportlab.lib.colors import HexColor

    months = _every_month(picture)
    bars = VerticalBarChart()
    bars.x, bars.y, bars.width, bars.height = box.x, box.y, box.width, box.height
    by_day = [{p.day: p.value for p in series.points} for series in picture.series]
    bars.data = [[of.get(month, 0.0) for month in months] for of in by_day]
    bars.categoryAxis.categoryNames = [month_on_axis(month.toordinal()) for month in months]
    bars.categoryAxis.labels.angle = 90 if len(months) > 12 else 0
    bars.categoryAxis.labels.boxAnchor = "e" if len(months) > 12 else "n"
    bars.valueAxis.valueMin = 0
    bars.valueAxis.labelTextFormat = _figures(picture)
    for number, fill in enumerate((_INK, _PALE)):
        bars.bars[number].fillColor = HexColor(fill)
        bars.bars[number].strokeColor = HexColor(_INK)
        bars.bars[number].strokeWidth = 0.3
    for axis in (bars.categoryAxis, bars.valueAxis):
        axis.labels.fontName, axis.labels.fontSize = Face.PLAIN.value, 6.5
        axis.strokeWidth = 0.5
    return bars


def _entries(picture: Picture) -> list[tuple[str, str]]:
    """Each thing that is drawn, by its look and name."""
    found = []
    for place, series in enumerate(picture.series):
        if not series.points:
            continue
        if picture.are_bars:
            found.append(("dark" if place == 0 else "pale", series.name))
            continue
        found.append(("line" if series.is_line else _FULL[place % 4], series.name))
        if any(p.is_hollow for p in series.points):
            found.append((_HOLLOW[place % 4], f"{series.name}, set aside"))
    if picture.are_bars:
        return found
    for level in _levels(picture):
        look = "dashed" if level.is_forecast else "band" if level.is_band else "line"
        found.append((look, level.name))
    return found + [("dotted", name) for name, _ in picture.uprights]


_IN_A_ROW = 3


def _legend_rows(picture: Picture) -> int:
    return -(-len(_entries(picture)) // _IN_A_ROW)


def _draw_legend(drawing: Any, picture: Picture, width: float) -> None:
    from reportlab.graphics.shapes import Line, Rect
    from reportlab.graphics.widgets.markers import makeMarker
    from reportlab.lib.colors import HexColor

    rows = _legend_rows(picture)
    for number, (look, name) in enumerate(_entries(picture)):
        row, column = divmod(number, _IN_A_ROW)
        x, y = column * width / _IN_A_ROW + 4, 12 * (rows - row) - 8
        if look in ("dark", "pale", "band"):
            fill = {"dark": _INK, "pale": _PALE, "band": _PALER}[look]
            drawing.add(Rect(x, y, 9, 6, fillColor=HexColor(fill), strokeColor=HexColor(_GREY),
                             strokeWidth=0.3))  # fmt: skip
        elif look in ("line", "dashed", "dotted"):
            dash = {"line": None, "dashed": (3, 2), "dotted": (1, 2)}[look]
            drawing.add(Line(x, y + 3, x + 9, y + 3, strokeColor=HexColor(_INK), strokeWidth=0.8,
                             strokeDashArray=dash))  # fmt: skip
        else:
            mark = makeMarker(look, x=x + 4.5, y=y + 3, size=5, strokeColor=HexColor(_INK))
            mark.fillColor = HexColor(_INK if look in _FULL else "#ffffff")
            drawing.add(mark)
        _write(drawing, x + 14, y + 1, name, Face.PLAIN, 7)
