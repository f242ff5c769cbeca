"""Lists to carry to the shelf: the day sheet, the shelf list and the stock list."""

from collections.abc import Iterable, Sequence
from itertools import groupby, pairwise

from stillroom.dates import countdown
from stillroom.keeping.cards import JarCard, ShelvesView
from stillroom.keeping.cupboard.lots_in_words import left_words
from stillroom.keeping.day import DayView
from stillroom.keeping.settings import Settings
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.keeping.wording import Wording
from stillroom.keeping.words import listed
from stillroom.keeping.year import plan_words
from stillroom.keeping.year.plan_views import Ahead
from stillroom.paper.document import (
    TICKED,
    TO_TICK,
    BlankLines,
    Block,
    Document,
    Grid,
    Prose,
    Section,
)
from stillroom.quantities import how_many


def day_sheet(day: DayView, shelves: ShelvesView, settings: Settings) -> Document:
    """Today's work with boxes to tick: shakes, jars due, what is to be bottled or looked at."""
    said = Wording.of_shelf(settings)
    places = {shelf.shelf_id: shelf.name for shelf in shelves.shelves}
    sections = [Section("Shake", (_to_shake(shelves, places),))]
    due = (*day.over, *day.due)
    strain = _to_strain(due, shelves, places) if due else Prose("No jars are due.")
    sections.append(Section("Strain", (strain,)))
    if day.to_bottle:
        sections.append(Section("Bottle", (_to_bottle(day.to_bottle, said),)))
    if day.uncovered:
        sections.append(Section("Herb not under the liquid", (_uncovered(day, places),)))
    if day.passing:
        passing = _passing(day.passing, day, said)
        sections.append(Section("Keep-until dates, past or coming up", (passing,)))
    if day.passing_lots:
        lots = _passing_lots(day, said)
        sections.append(Section("Dried herb, past its usual time or near it", (lots,)))
    if day.to_start:
        sections.append(Section("Start this month", (_to_start(day.to_start, said),)))
    sections.append(Section("Notes", (BlankLines(6),)))
    return Document(
        is_list=True,
        title=f"Day sheet, {said.day_short(day.day)} {day.day.year}",
        subtitle=_in_brief(day),
        sections=tuple(sections),
        closing=f"Day sheet for {said.day(day.day)}. Tick here, then in the program.",
    )


def _in_brief(day: DayView) -> str:
    shakes = sum(jar.shakes_left for jar in day.to_shake)
    parts = [f"{how_many(shakes, 'shake')} to do", f"{how_many(len(day.due), 'jar')} due today"]
    if day.over:
        parts.append(f"{len(day.over)} late")
    return " · ".join(parts)


def _to_shake(shelves: ShelvesView, places: dict[int, str]) -> Block:
    rows = [
        (
            TICKED * min(jar.shaken, jar.shakes_per_day) + TO_TICK * jar.shakes_left,
            jar.code,
            _herb(jar),
            places[jar.shelf_id],
            jar.steep(shelves.today),
        )
        for jar in shelves.jars
        if jar.is_steeping and jar.shakes_per_day
    ]
    if not rows:
        return Prose("No jars to shake.")
    head = ("", "Jar", "Herb", "Shelf", "Steep")
    return Grid(head, tuple(rows), (1.4, 1.6, 6, 3.5, 2.6), ticks=frozenset({0}))


def _herb(jar: JarCard) -> str:
    return f"{listed((jar.herb, *jar.others))}, {jar.part}, {jar.condition}"


def _to_strain(due: Sequence[JarCard], shelves: ShelvesView, places: dict[int, str]) -> Grid:
    rows = [
        (
            TO_TICK,
            jar.code,
            _herb(jar),
            places[jar.shelf_id],
            countdown(jar.days_left(shelves.today)),
            "",
            "",
        )
        for jar in due
    ]
    return Grid(
        ("", "Jar", "Herb", "Shelf", "Due", "Yield", "How pressed"),
        tuple(rows),
        (0.8, 1.6, 4.6, 2.6, 1.9, 1.8, 1.8),
        ticks=frozenset({0}),
        to_write=frozenset({5, 6}),
    )


def _to_bottle(tinctures: Iterable[TinctureView], said: Wording) -> Grid:
    rows = [
        (
            TO_TICK,
            each.code,
            _made_of(each),
            said.day_known(each.made_on, each.made_by),
            said.volume(each.loose_ml),
        )
        for each in tinctures
    ]
    return Grid(
        ("", "Batch", "Tincture", "Made", "To bottle"),
        tuple(rows),
        (0.8, 1.6, 6, 3.5, 2.2),
        right=frozenset({4}),
        ticks=frozenset({0}),
    )


def _passing_lots(day: DayView, said: Wording) -> Grid:
    rows = [
        (
            TO_TICK,
            good.lot.code,
            f"{good.lot.herb}, {good.lot.part}",
            left_words(good.lot, said),
            f"{said.day(good.until)}{', past' if good.is_past(day.day) else ''}",
        )
        for good in day.passing_lots
    ]
    return Grid(
        ("", "Lot", "Herb", "Left", "Usually good to"),
        tuple(rows),
        (0.8, 2, 5, 3, 3.6),
        ticks=frozenset({0}),
    )


def _to_start(herbs: Iterable[Ahead], said: Wording) -> Grid:
    rows = [
        (
            TO_TICK,
            plan_words.heading(each),
            plan_words.to_get(each, said),
            plan_words.gather(each, said),
            plan_words.fill_by(each, said),
        )
        for each in herbs
    ]
    return Grid(
        ("", "Tincture", "Herb to get", "Gather", "Fill by"),
        tuple(rows),
        (0.8, 3.4, 4.6, 3.6, 2.6),
        ticks=frozenset({0}),
    )


def _made_of(tincture: TinctureView) -> str:
    if tincture.is_blend:
        return f"{tincture.name}, blend"
    parts = listed(herb.part for herb in tincture.herbs)
    conditions = listed(herb.condition for herb in tincture.herbs)
    return f"{tincture.name}, {parts}, {conditions}"


def _uncovered(day: DayView, places: dict[int, str]) -> Grid:
    rows = [(TO_TICK, jar.code, _herb(jar), places[jar.shelf_id], "") for jar in day.uncovered]
    return Grid(
        ("", "Jar", "Herb", "Shelf", "Topped up with"),
        tuple(rows),
        (0.8, 1.6, 6, 3.5, 2.8),
        ticks=frozenset({0}),
        to_write=frozenset({4}),
    )


def _passing(bottles: Iterable[BottleRow], day: DayView, said: Wording) -> Grid:
    rows = [
        (
            TO_TICK,
            bottle.code,
            bottle.name,
            bottle.place,
            said.volume(bottle.left_ml),
            _keep_until(bottle, said, past=bottle.is_past(day.day)),
        )
        for bottle in bottles
    ]
    return Grid(
        ("", "Bottle", "Tincture", "Place", "Left", "Keep until"),
        tuple(rows),
        (0.8, 1.8, 4.6, 3.2, 1.8, 2.9),
        right=frozenset({4}),
        ticks=frozenset({0}),
    )


def _keep_until(bottle: BottleRow, said: Wording, *, past: bool) -> str:
    return said.day(bottle.keep_until) + (", past" if past else "")


def shelf_list(shelves: ShelvesView, settings: Settings) -> Document:
    """Every shelf and its jars, in order."""
    said = Wording.of_shelf(settings)
    sections = []
    for shelf in shelves.shelves:
        blocks: list[Block] = [Prose(shelf.note)] if shelf.note else []
        if shelf.jars:
            rows = tuple(_on_shelf(jar, shelves, said) for jar in shelf.jars)
            head = ("Jar", "Herb", "Filled", "Strain", "Due")
            blocks.append(Grid(head, rows, (1.6, 5.4, 2.4, 2.4, 3)))
        else:
            blocks.append(Prose("Empty."))
        sections.append(Section(shelf.name, tuple(blocks)))
    return Document(
        is_list=True,
        title="Shelf list",
        subtitle=f"{how_many(len(shelves.jars), 'jar')}, {said.day(shelves.today)}",
        sections=tuple(sections) or (Section("No shelves yet", (Prose("Fill a jar first."),)),),
        closing=f"Shelf list of {said.day(shelves.today)}",
    )


def _on_shelf(jar: JarCard, shelves: ShelvesView, said: Wording) -> tuple[str, ...]:
    if jar.is_steeping:
        state = countdown(jar.days_left(shelves.today))
        state += "" if jar.covered else ", herb not covered"
    elif jar.drained_ml is not None:
        state = f"{said.volume(jar.drained_ml)} drained, to press"
        state += f": expect {said.volume(jar.press_ml)}" if jar.press_ml is not None else ""
    else:
        state = f"strained, {said.volume(jar.to_bottle_ml)} to bottle"
    return jar.code, _herb(jar), said.day(jar.filled_on), said.day(jar.strain_on), state


def stock_list(bottles: Sequence[BottleRow], day: DayView, settings: Settings) -> Document:
    """The bottles grouped by herb, with room to write what is seen; then the total."""
    said = Wording.of_shelf(settings)
    groups = [(herb, list(group)) for herb, group in groupby(bottles, key=lambda b: b.herb)]
    if not groups:
        sections = [Section("Bottles", (Prose("All bottles are empty."),))]
    else:
        rows = [
            _in_stock(bottle, day, said, is_named=before is None or before.name != bottle.name)
            for before, bottle in pairwise([None, *bottles])
            if bottle is not None
        ]
        head = ("Herb", "Bottle", "Strength", "Ratio poured", "Keep until", "Left", "Of",
                "Place", "Seen")  # fmt: skip
        shares = (4, 2, 2.1, 1.5, 2.7, 1.6, 1.6, 3.2, 1.8)
        right = frozenset({5, 6})
        grid = Grid(head, tuple(rows), shares, right, to_write=frozenset({8}))
        sections = [Section("Bottles", (grid,)), Section("Total", (_in_all(groups, said),))]
    return Document(
        is_list=True,
        title="Stock list",
        subtitle=f"{how_many(len(bottles), 'bottle')}, {said.day(day.day)}",
        sections=tuple(sections),
        closing=f"Stock list of {said.day(day.day)}",
    )


def _in_stock(bottle: BottleRow, day: DayView, said: Wording, *, is_named: bool) -> tuple[str, ...]:
    return (
        bottle.name if is_named else "",
        bottle.code,
        said.finished_strength(bottle).replace(" v/v", ""),
        said.ratio(bottle.ratio),
        _keep_until(bottle, said, past=bottle.is_past(day.day)),
        said.volume(bottle.left_ml),
        said.volume(bottle.size_ml),
        bottle.place,
        "",
    )


def _in_all(groups: Sequence[tuple[str, list[BottleRow]]], said: Wording) -> Grid:
    rows = [
        (herb, str(len(group)), said.volume(sum(bottle.left_ml for bottle in group)))
        for herb, group in groups
    ]
    total = sum(bottle.left_ml for _, group in groups for bottle in group)
    bottles = sum(len(group) for _, group in groups)
    rows.append(("Together", str(bottles), said.volume(total)))
    return Grid(("Herb", "Bottles", "Left"), tuple(rows), (6, 2, 2), frozenset({1, 2}))
