"""Sheets to sign: the year's stock-take, losses, bottles past their date, the spirit account."""

from collections.abc import Iterable, Sequence
from datetime import date

from stillroom.keeping.settings import Settings
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import Wording
from stillroom.keeping.year.accounts import LossSeen, SpiritAccount, SpiritPeriod
from stillroom.paper.document import (
    TO_TICK,
    BlankLines,
    Block,
    Document,
    Facts,
    Grid,
    Prose,
    Section,
)
from stillroom.quantities import how_many

_SIGNED = Section(
    "Signed", (Facts((("Day", ""), ("Name", ""), ("Signature", ""), ("Witness", ""))),)
)


def _sheet(
    title: str, subtitle: str, sections: Iterable[Section], said: Wording, today: date
) -> Document:
    maker = f"Printed {said.day(today)} by Stillroom."
    return Document(title, subtitle, (*sections, _SIGNED), closing=maker, is_list=True)


def _none(text: str) -> Block:
    return Prose(text)


def stock_take_sheet(bottles: Sequence[BottleRow], settings: Settings, today: date) -> Document:
    """Every bottle that isn't empty by its place, with what it should hold, to count and sign."""
    said = Wording.of_shelf(settings)
    places: dict[str, list[BottleRow]] = {}
    for bottle in sorted(bottles, key=lambda b: (b.place.casefold(), b.code)):
        places.setdefault(bottle.place or "No place given", []).append(bottle)
    sections = [
        Section(
            place,
            (
                Grid(
                    ("", "Bottle", "Tincture", "Recorded", "Counted", "Why it differs"),
                    tuple((TO_TICK, b.code, b.name, said.volume(b.left_ml), "", "") for b in rows),
                    (0.8, 1.8, 4.6, 1.8, 1.8, 4.0),
                    right=frozenset({3}),
                    ticks=frozenset({0}),
                    to_write=frozenset({4, 5}),
                ),
            ),
        )
        for place, rows in places.items()
    ]
    total = said.volume(sum(b.left_ml for b in bottles))
    subtitle = f"as of {said.day(today)}: {how_many(len(bottles), 'bottle')}, {total} recorded"
    nothing = [Section("Bottles", (_none("No bottle has anything in it."),))]
    return _sheet("Stock-take", subtitle, sections or nothing, said, today)


def losses_sheet(
    losses: Sequence[LossSeen], since: date, until: date, settings: Settings, today: date
) -> Document:
    """What was lost in a period, and the sums by kind."""
    said = Wording.of_shelf(settings)
    rows = tuple(
        (said.day(each.day), each.code, each.kind, said.volume(each.volume_ml), each.maker,
         each.note)
        for each in losses
    )  # fmt: skip
    sums: dict[str, float] = {}
    for each in losses:
        sums[each.kind] = sums.get(each.kind, 0.0) + each.volume_ml
    block: Block = _none("Nothing was lost.")
    blocks: list[Block] = [block]
    if rows:
        head = ("Day", "Code", "Kind", "Amount", "By", "Note")
        blocks = [Grid(head, rows, (2, 1.8, 2, 1.6, 1, 5), right=frozenset({3}))]
    sections = [Section("Losses", tuple(blocks))]
    if sums:
        facts = [(kind, said.volume(ml)) for kind, ml in sums.items()]
        facts.append(("All", said.volume(sum(sums.values()))))
        sections.append(Section("By kind", (Facts(tuple(facts)),)))
    return _sheet("Losses", _period(since, until, said), sections, said, today)


def past_sheet(bottles: Sequence[BottleRow], settings: Settings, today: date) -> Document:
    """Bottles past their keep-until date, and what is done with each."""
    said = Wording.of_shelf(settings)
    past = sorted(
        (b for b in bottles if b.is_past(today)), key=lambda b: (b.keep_until or today, b.code)
    )
    rows = tuple(
        (TO_TICK, b.code, b.name, said.day(b.keep_until), said.volume(b.left_ml), b.place, "")
        for b in past
    )
    block: Block = _none("No bottle is past its date.")
    if rows:
        block = Grid(
            ("", "Bottle", "Tincture", "Keep until", "Holds", "Place", "What is done with it"),
            rows,
            (0.8, 1.8, 3.6, 2, 1.6, 2, 3.4),
            right=frozenset({4}),
            ticks=frozenset({0}),
            to_write=frozenset({6}),
        )
    note = Prose("A keep-until date is a convention, not a proof of quality.")
    sections = [Section("Past the keep-until date", (block, note, BlankLines(2)))]
    return _sheet("Bottles past their date", f"as of {said.day(today)}", sections, said, today)


def spirit_sheet(account: SpiritPeriod, settings: Settings, today: date) -> Document:
    """Spirit bought, used, lost and left in a period, and the pure ethanol in it."""
    said = Wording.of_shelf(settings)
    head = ("Spirit", "Strength", "Before", "Bought", "Used", "Given", "Lost", "Counted", "Left")
    rows = tuple(_spirit_row(line, said) for line in account.lines)
    blocks: list[Block] = [_none("There was no spirit.")]
    if rows:
        numbers = frozenset(range(1, 9))
        blocks = [Grid(head, rows, (3.4, 1.6, *[1.6] * 7), right=numbers)]
    sections = [Section("By purchase", tuple(blocks))]
    if rows:
        sections.append(Section("Pure ethanol", (_ethanol(account.lines, said),)))
    notes = [
        "“Used” is what was poured on herb and into batches. Volumes are at 20 °C, strengths % "
        "v/v. What the authorities ask for differs by country."
    ]
    if account.without_day:
        names = ", ".join(account.without_day)
        notes.append(
            f"Day of purchase not known, so counted as bought before the first day: {names}."
        )
    if any(not line.is_counted for line in account.lines):
        notes.append("Not counted: the volume bought was not entered.")
    sections.append(Section("Notes", tuple(Prose(note) for note in notes)))
    period = _period(account.since, account.until, said)
    return _sheet("Spirit account", period, sections, said, today)


def _spirit_row(line: SpiritAccount, said: Wording) -> tuple[str, ...]:
    counted = ("", "") if line.is_counted else ("not counted", "not counted")
    return (
        line.name,
        said.strength(line.strength_abv).removesuffix(" v/v"),
        counted[0] or said.volume(line.before_ml),
        counted[0] or said.volume(line.bought_ml),
        said.volume(line.used_ml),
        said.volume(line.given_ml),
        said.volume(line.lost_ml),
        said.volume(line.counted_ml),
        counted[1] or said.volume(max(0.0, line.left_ml)),
    )


def _ethanol(lines: Sequence[SpiritAccount], said: Wording) -> Facts:
    """Sums of those that are counted; what was used of the others is in used alone."""
    counted = [line for line in lines if line.is_counted]
    names = ("before_ml", "bought_ml", "given_ml", "lost_ml", "left_ml")
    sums = {name: sum(line.ethanol_ml(getattr(line, name)) for line in counted) for name in names}
    used = sum(line.ethanol_ml(line.used_ml) for line in lines)
    return Facts((
        ("Before", said.volume(sums["before_ml"])),
        ("Bought", said.volume(sums["bought_ml"])),
        ("Used", said.volume(used)),
        ("Given", said.volume(sums["given_ml"])),
        ("Lost", said.volume(sums["lost_ml"])),
        ("Left", said.volume(max(0.0, sums["left_ml"]))),
    ))  # fmt: skip


def _period(since: date, until: date, said: Wording) -> str:
    return f"{said.day(since)} to {said.day(until)}"
