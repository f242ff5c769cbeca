"""Pictures of what a shelf has recorded, whoever draws them: the screen does, and paper."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby
from operator import attrgetter
from statistics import fmean

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import in_a_row
from stillroom.keeping.year.ahead import batches_of, plan_view
from stillroom.keeping.year.costs import costs_of_batches
from stillroom.keeping.year.entries import entries
from stillroom.keeping.year.learning import Learning, learning
from stillroom.quantities import UnitSystem, in_units
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.year import DatedAmount, by_month

NEAR = timedelta(days=550)
"""Further ahead than this, a day is in the table alone: it would press the past together."""


@dataclass(frozen=True)
class Point:
    """One value of one day."""

    day: date
    value: float
    label: str = ""
    is_hollow: bool = False
    """Whether it was set aside."""
    jar_id: int | None = None
    """What it opens; None where it opens nothing."""


@dataclass(frozen=True)
class Series:
    """Values of one kind, drawn with one mark."""

    name: str
    points: tuple[Point, ...]
    is_line: bool = False
    """Whether the values hold from one to the next, as stock does."""


@dataclass(frozen=True)
class Level:
    """A line across the picture, or a band."""

    name: str
    low: float
    high: float
    series: str = ""
    """The series that it is about; blank for all of them."""
    is_forecast: bool = False
    """Whether it is what to expect next: drawn by its edges."""

    @property
    def is_band(self) -> bool:
        """Whether it has a width."""
        return self.high > self.low


@dataclass(frozen=True)
class Picture:
    """One picture, with a table of the same values."""

    title: str
    unit: str
    series: tuple[Series, ...]
    levels: tuple[Level, ...] = ()
    uprights: tuple[tuple[str, date], ...] = ()
    """Days with a name, such as the one on which it runs out."""
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    are_bars: bool = False
    """Whether each value is of a month, from zero up."""
    decimal_comma: bool = False
    """How the figures of its scale are written."""

    @property
    def heading(self) -> str:
        """The title with the unit."""
        return self.title if self.unit in ("", "%") else f"{self.title} ({self.unit})"

    def one_by_one(self) -> list["Picture"]:
        """One picture for each series that has levels of its own, which would hide each other."""
        if len(self.series) < 2 or not any(level.series for level in self.levels):
            return [self]
        return [
            replace(
                self,
                title=f"{self.title}: {of.name}",
                series=(of,),
                levels=tuple(each for each in self.levels if each.series in ("", of.name)),
            )
            for of in self.series
            if of.points
        ]

    @property
    def points(self) -> list[Point]:
        """Every point of it by day."""
        return sorted((p for s in self.series for p in s.points), key=attrgetter("day"))


def pictures(keeper: Keeper, herb: str, part: str) -> list[Picture]:
    """The pictures of one herb and part; those without a value left out."""
    said = wording(keeper)
    of_it = [each for each in learning(keeper) if (each.herb, each.part) == (herb, part)]
    codes = batches_of(keeper, (herb, part))
    of_batches = [entry for entry in entries(keeper) if entry.batch in codes]
    found = [
        _percents(of_it, said),
        _held_back(of_it, said),
        _shrinkage(keeper, herb, part, said),
        _stock(keeper, herb, part, of_batches, said),
        made_and_used(of_batches, keeper.today - timedelta(days=730), keeper.today, said),
        _cost(keeper, codes, said),
    ]
    return [each for each in found if each.points]


def _percents(of_it: Sequence[Learning], said: Wording) -> Picture:
    series = [
        Series(
            in_a_row(each.condition, each.pressing),
            tuple(
                Point(s.strained_on, s.percent, s.code, not s.teaches, s.jar_id)
                for s in each.strainings
                if s.percent is not None
            ),
        )
        for each in of_it
    ]
    levels = []
    for of in series:
        taught = [p.value for p in of.points if not p.is_hollow]
        if len(taught) > 1:
            levels.append(Level(f"own range, {of.name}", min(taught), max(taught), of.name))
        if taught:
            mean = fmean(taught)
            levels.append(Level(f"own mean, {of.name}", mean, mean, of.name))
    rows = [
        (said.day(p.day), p.label, s.name, said.percent(p.value), _aside(p))
        for s in series
        for p in s.points
    ]
    head = ("Day", "Jar", "Strained", "Of the liquid", "")
    return Picture("Yield, % of the liquid", "%", tuple(series), tuple(levels),
                   head=head, rows=tuple(rows),
                   decimal_comma=said.decimal_comma)  # fmt: skip


def _held_back(of_it: Sequence[Learning], said: Wording) -> Picture:
    series, levels, rows = [], [], []
    for each in of_it:
        name = in_a_row(each.condition, each.pressing)
        points = tuple(
            Point(s.strained_on, _shown(Kind.RETENTION, s.retention, said), s.code, not s.teaches,
                  s.jar_id)
            for s in each.strainings
            if s.retention is not None
        )  # fmt: skip
        if not points:
            continue
        series.append(Series(name, points))
        rows += [
            (said.day(p.day), p.label, name, f"{said.number(p.value)} {_unit(said)}", _aside(p))
            for p in points
        ]
        prior, learned = each.published, each.learned
        spread = prior.between_herbs
        levels.append(
            Level(
                f"published, {name}",
                _shown(Kind.RETENTION, max(0.0, prior.mean - spread), said),
                _shown(Kind.RETENTION, prior.mean + spread, said),
                name,
            )
        )
        if learned.own_mean is not None:
            mean = _shown(Kind.RETENTION, learned.own_mean, said)
            levels.append(Level(f"own mean, {name}", mean, mean, name))
        levels.append(
            Level(
                f"next, {name}",
                _shown(Kind.RETENTION, learned.low, said),
                _shown(Kind.RETENTION, learned.high, said),
                name,
                is_forecast=True,
            )
        )
    rows += [
        ("", "", level.name, f"{said.number(level.low)} to {said.number(level.high)}", "")
        for level in levels
    ]
    return Picture("Held back by a gram, dried", _unit(said), tuple(series), tuple(levels),
                   head=("Day", "Jar", "Strained", "Held back", ""), rows=tuple(rows),
                   decimal_comma=said.decimal_comma)  # fmt: skip


def _aside(point: Point) -> str:
    return "set aside" if point.is_hollow else ""


def _unit(said: Wording) -> str:
    return said.unit(Kind.RETENTION)


def _shown(kind: Kind, value: float, said: Wording) -> float:
    return in_units(kind, value, said.units)[0]


def _line(name: str, value: float) -> Level:
    return Level(name, value, value)


_DRYINGS = """
    SELECT l.dry_on, l.code, l.laid_out_g, l.dry_g FROM herb_lot l JOIN herb h ON h.id = l.herb_id
    WHERE h.name = ? AND l.part = ? AND l.dry_g IS NOT NULL AND l.laid_out_g IS NOT NULL
    ORDER BY l.dry_on, l.id
"""


def _shrinkage(keeper: Keeper, herb: str, part: str, said: Wording) -> Picture:
    lots = keeper.rows(_DRYINGS, herb, part)
    points = tuple(
        Point(date.fromisoformat(day), 100 * dry_g / fresh_g, code)
        for day, code, fresh_g, dry_g in lots
    )
    rows = tuple(
        (said.day(date.fromisoformat(day)), code, said.mass(fresh_g), said.mass(dry_g),
         said.share(dry_g, fresh_g))
        for day, code, fresh_g, dry_g in lots
    )  # fmt: skip
    levels = (_line("mean", fmean(p.value for p in points)),) if points else ()
    return Picture("Left when dried, % of the fresh weight", "%", (Series("lots", points),),
                   levels, head=("Day", "Lot", "Laid out", "Dry", "Left"), rows=rows,
                   decimal_comma=said.decimal_comma)  # fmt: skip


def _stock(
    keeper: Keeper, herb: str, part: str, of_batches: Iterable[DatedAmount], said: Wording
) -> Picture:
    held, points = 0.0, []
    changes = sorted((e for e in of_batches if e.change_ml), key=attrgetter("day"))
    for day, group in groupby(changes, key=attrgetter("day")):
        held += sum(entry.change_ml for entry in group)
        points.append(Point(day, _shown(Kind.VOLUME, max(0.0, held), said)))
    if points and points[-1].day < keeper.today:
        points.append(Point(keeper.today, points[-1].value))
    planned = next(
        (e for e in plan_view(keeper).herbs if (e.herb, e.part) == (herb, part) and e.plan), None
    )
    until = planned.plan.covered_until if planned and planned.plan else None
    uprights = (("runs out", until),) if until is not None else ()
    is_near = until is not None and until <= keeper.today + NEAR
    by_month_end: dict[date, Point] = {p.day.replace(day=1): p for p in points}
    rows = tuple(
        (said.month(month), f"{said.number(p.value)} {said.unit(Kind.VOLUME)}")
        for month, p in by_month_end.items()
    ) + tuple((said.day(day), name) for name, day in uprights)
    return Picture("In stock", said.unit(Kind.VOLUME),
                   (Series("in stock", tuple(points), is_line=True),),
                   uprights=uprights if is_near else (),
                   head=("At the end of", "In stock"), rows=rows,
                   decimal_comma=said.decimal_comma)  # fmt: skip


def made_and_used(every: Iterable[DatedAmount], since: date, until: date, said: Wording) -> Picture:
    """What was made and used in each month of a time."""
    months = by_month(every, since, until)
    series = tuple(
        Series(
            name,
            tuple(
                Point(month, _shown(Kind.VOLUME, max(0.0, amount), said))
                for month, figures in months.items()
                if (amount := of(figures))
            ),
        )
        for name, of in (("made", attrgetter("made_ml")), ("used", attrgetter("used_ml")))
    )
    rows = tuple(
        (said.month(month), said.volume(f.made_ml), said.volume(f.used_ml))
        for month, f in months.items()
    )
    return Picture("Made and used in each month", said.unit(Kind.VOLUME), series, are_bars=True,
                   head=("Month", "Made", "Used"), rows=rows,
                   decimal_comma=said.decimal_comma)  # fmt: skip


def _cost(keeper: Keeper, codes: Iterable[str], said: Wording) -> Picture:
    wanted = set(codes)
    every = [b for b in costs_of_batches(keeper) if b.code in wanted and b.cost.is_priced]
    is_metric = said.units is UnitSystem.METRIC
    name, unit = "Cost of 100 mL", said.currency
    if not is_metric:
        name, unit = "Cost by volume", said.unit(Kind.MONEY_PER_ML)
    found: dict[str, list[Point]] = defaultdict(list)
    rows = []
    for batch in every:
        cost = batch.cost
        shown = cost.per_100_ml if is_metric else _shown(Kind.MONEY_PER_ML, cost.per_ml, said)
        of = "part of it has no price" if cost.without else "all priced"
        found[of].append(Point(batch.made_on, shown, batch.code))
        price = said.money(shown) if is_metric else said.of(Kind.MONEY_PER_ML, cost.per_ml)
        rows.append((said.day(batch.made_on), batch.code, price, ", ".join(cost.without)))
    series = tuple(Series(of, tuple(points)) for of, points in sorted(found.items()))
    return Picture(
        name,
        unit,
        series,
        head=("Made", "Batch", name, "Without"),
        rows=tuple(rows),
        decimal_comma=said.decimal_comma,
    )
