"""The batch record of a tincture, after 21 CFR 111.260; left blank where nothing is recorded."""

from collections.abc import Sequence
from datetime import date, datetime
from itertools import groupby

from stillroom.dates import show_moment
from stillroom.keeping.bottles.labels import label_lines, ratio_in_words
from stillroom.keeping.drafts import BottleDraft
from stillroom.keeping.keeper import stamp
from stillroom.keeping.settings import Settings
from stillroom.keeping.trace.batch_history import BatchHistory, ShakeRecord
from stillroom.keeping.views import (
    BottleRow,
    ChargeView,
    JarView,
    PourView,
    StrainingView,
    TinctureView,
)
from stillroom.keeping.wording import Wording
from stillroom.paper import batch_open_lines as open_lines
from stillroom.paper.batch_deviations import corrections, deviations
from stillroom.paper.document import Block, Document, Facts, Grid, Prose, Section
from stillroom.quantities import how_many
from stillroom.reckoning.states import DayBy, InputKind, LiquidKind, LossKind, PrintKind

_LOST = {LossKind.NOT_STATED: "written off"}
"""Words for a loss of which nobody said how."""

STEPS = {"filled", "topped up", "drained", "strained", "blended", "bottled", "corrected"}
"""Events that are printed elsewhere, as steps or corrections; the others are notes."""

_FIELDS = "The fields follow 21 CFR 111.260. Fill in blank lines by hand."
BY_EYE, MARC = "by eye", "marc"
NOT_RECORDED = "not recorded"


def batch_record(history: BatchHistory, settings: Settings, printed_at: datetime) -> Document:
    """What the shelf knows of a batch; what it does not record is left blank for a pen."""
    said = Wording.of_shelf(settings)
    tincture = history.tincture
    components = _components(history, said)
    printed = show_moment(stamp(printed_at), settings.day_form)
    return Document(
        title=f"Batch record {tincture.code}",
        subtitle=tincture.name + (", blend" if tincture.is_blend else ""),
        sections=(
            Section("Batch", (Facts(_batch(history, said)), Prose(_FIELDS))),
            open_lines.equipment(),
            Section("Components", (components,)),
            open_lines.handling(components.rows),
            Section("Steps", (_steps(history, said),)),
            *_monitoring(history, said),
            Section("Yield", tuple(_yield(history, said))),
            open_lines.tests(),
            Section("Bottles and label", tuple(_bottles(history, said, settings))),
            Section("Deviations noted by the program", tuple(deviations(history, said))),
            Section("Notes", tuple(_notes(history, said))),
            *_corrections(history, settings),
            open_lines.review(history, said),
        ),
        closing=f"Batch {tincture.code}, revision {history.revision}, printed {printed}",
    )


def _corrections(history: BatchHistory, settings: Settings) -> tuple[Section, ...]:
    if not history.corrections:
        return ()
    return (Section("Corrections", (corrections(history, settings),)),)


def _batch(history: BatchHistory, said: Wording) -> tuple[tuple[str, str], ...]:
    tincture, jar = history.tincture, history.jar
    strength = said.finished_strength(tincture)
    known = f"{strength}, {tincture.strength_by}" if strength else ""
    return (
        ("Batch code", tincture.code),
        ("Made on", said.day_known(tincture.made_on, tincture.made_by)),
        ("Keep until", said.day(tincture.keep_until)),
        ("Strength", known),
        ("Ratio", ratio_in_words(tincture, said)),
        ("Jar size", said.volume(jar.capacity_ml) if jar else ""),
        ("Shelf", jar.shelf if jar else ""),
        ("Steep", _steep(jar, tincture) if jar else "none: blended"),
        ("Revision", str(history.revision)),
    )


def _steep(jar: JarView, tincture: TinctureView) -> str:
    if tincture.made_by is DayBy.NOT_KNOWN:
        return str(DayBy.NOT_KNOWN)
    days = (tincture.made_on - jar.card.filled_on).days
    planned = (jar.card.strain_on - jar.card.filled_on).days
    if jar.is_imported and planned == days:  # so it is stored where no plan was stated
        return how_many(days, "day")
    return f"{how_many(days, 'day')}, planned {how_many(planned, 'day')}"


def _past(bottle: BottleRow, blended_on: date, said: Wording) -> str:
    if bottle.keep_until is None or not bottle.is_past(blended_on):
        return ""
    return f", past its keep-until date of {said.day(bottle.keep_until)}"


def _components(history: BatchHistory, said: Wording) -> Grid:
    poured_ml = sum(each.volume_ml for each in history.parts)
    poured_ml += sum(each.volume_ml for each in history.inputs)
    rows = [
        (
            f"{part.bottle.name}, {said.finished_strength(part.bottle)}".rstrip(", "),
            f"Bottle {part.bottle.code}{_past(part.bottle, history.tincture.made_on, said)}",
            f"{said.volume(part.volume_ml)} ({said.share(part.volume_ml, poured_ml)})",
        )
        for part in history.parts
    ]
    rows += [
        (
            f"{each.name}, {said.strength(each.strength_abv)}" if each.strength_abv else each.name,
            f"Batch {each.name}" if each.kind is InputKind.BATCH else each.bought_from,
            f"{said.volume(each.volume_ml)} ({said.share(each.volume_ml, poured_ml)})",
        )
        for each in history.inputs
    ]
    if history.jar:
        rows += [_herb(charge, said) for charge in history.jar.charges]
        rows += [_liquid(pour, said) for pour in history.jar.pours]
    open_lots = frozenset({1})
    return Grid(
        ("Component", "Lot and origin", "Measure"), tuple(rows), (5, 5, 2), frozenset({2}),
        to_write=open_lots,
    )  # fmt: skip


def _herb(charge: ChargeView, said: Wording) -> tuple[str, str, str]:
    botanical = f" ({charge.botanical})" if charge.botanical else ""
    water = ""
    if charge.water_is_measured:
        water = f", {said.share(charge.water_fraction, 1)} water as measured"
    gathered = f"gathered {said.day(charge.gathered_on)}" if charge.gathered_on else ""
    return (
        f"{charge.herb}{botanical}, {charge.as_put_in}{water}",
        "; ".join(text for text in (charge.lot, charge.origin, gathered) if text),
        said.mass(charge.mass_g) or (MARC if charge.is_second_pour else BY_EYE),
    )


def _liquid(pour: PourView, said: Wording) -> tuple[str, str, str]:
    name = str(pour.kind)
    if pour.kind == LiquidKind.SPIRIT:
        name = f"{pour.spirit or 'spirit'}, {said.strength(pour.strength_abv)}"
    elif pour.liquid_id is not None:
        name = pour.spirit
    return name, pour.lot, said.volume(pour.volume_ml)


def _steps(history: BatchHistory, said: Wording) -> Grid:
    rows = []
    if history.jar:
        jar = history.jar
        filled = "herb and liquid into the jar"
        if jar.simmered:
            filled = f"herb simmered first; {filled}"
        rows.append((said.day(jar.card.filled_on), "Filled", filled, history.maker_of("filled")))
        rows += _top_ups(history, jar.pours, said)
        if jar.straining:
            rows += _goes(jar.straining, said)
            rows.append(_strained(history, jar.straining, said))
    else:
        made = f"{how_many(len(history.parts) + len(history.inputs), 'part')} combined"
        day = said.day(history.tincture.made_on)
        rows.append((day, "Blended", made, history.maker_of("blended")))
    for (day_filled, maker), group in groupby(history.bottles, lambda b: (b.filled_on, b.maker)):
        bottles = list(group)
        volume = said.volume(sum(bottle.filled_ml for bottle in bottles))
        text = f"{how_many(len(bottles), 'bottle')}, {volume}"
        rows.append((said.day(day_filled), "Bottled", text, maker))
    return Grid(
        ("Date", "Step", "What was done", "By", "Checked by"),
        tuple((*row, "") for row in rows),
        (2.2, 1.8, 6, 1.2, 1.6),
        to_write=frozenset({3, 4}),
    )


def _top_ups(
    history: BatchHistory, pours: Sequence[PourView], said: Wording
) -> list[tuple[str, str, str, str]]:
    """Each top-up in the units of the day it is printed, not of the day it was written down."""
    told = [event for event in history.events if event.kind == "topped up" and not event.mark]
    last = pours[len(pours) - len(told) :] if told else ()
    rows = []
    for place, event in enumerate(told):
        text = event.text
        if len(last) == len(told) and last[place].poured_on == event.day:
            name, _, volume = _liquid(last[place], said)
            text = f"{volume} {name}"
        rows.append((said.day(event.day), "Topped up", text, event.maker))
    return rows


def _goes(straining: StrainingView, said: Wording) -> list[tuple[str, str, str, str]]:
    """What came before the last go."""
    return [
        (said.day(go.strained_on), go.pressing.capitalize(), said.volume(go.yield_ml), go.maker)
        for go in straining.goes[:-1]
    ]


def _strained(
    history: BatchHistory, straining: StrainingView, said: Wording
) -> tuple[str, str, str, str]:
    text = f"{straining.how_pressed}, {said.volume(straining.yield_ml)}"
    if straining.goes:
        last = straining.goes[-1]
        text = f"{last.pressing}, {said.volume(last.yield_ml)}"
        text += f"; {said.volume(straining.yield_ml)} in all"
    if straining.marc_g is not None:
        text += f", marc {said.mass(straining.marc_g)}"
    if straining.measured_abv is not None:
        text += f", strength measured {said.strength(straining.measured_abv)}"
    day = said.day_known(straining.strained_on, straining.day_by)
    return day, "Strained", text, history.maker_of("strained")


def _monitoring(history: BatchHistory, said: Wording) -> tuple[Section, ...]:
    if history.shakes is None:
        return ()
    return (Section("Monitoring: daily shake", (Facts(_shakes(history.shakes, said)),)),)


def _shakes(shakes: ShakeRecord, said: Wording) -> tuple[tuple[str, str], ...]:
    if shakes.recorded_from is None:
        return (("Ticked off", NOT_RECORDED),)
    if not shakes.per_day:
        return (("Planned", "none"), ("Ticked off", str(shakes.done)))
    return (
        *_before(shakes, said),
        ("Planned", f"{shakes.planned}, {shakes.per_day} a day"),
        ("Ticked off", str(shakes.done)),
        ("Days missed", said.days_in_ranges(shakes.missed_on) or "none"),
        ("By", ", ".join(shakes.makers)),
    )


def _before(shakes: ShakeRecord, said: Wording) -> tuple[tuple[str, str], ...]:
    if not shakes.not_recorded or shakes.recorded_from is None:
        return ()
    return ((f"Before {said.day(shakes.recorded_from)}", NOT_RECORDED),)


def _yield(history: BatchHistory, said: Wording) -> list[Block]:
    tincture = history.tincture
    straining = history.jar.straining if history.jar else None
    rows = []
    if straining:
        rows.append(
            ("Straining", said.volume(straining.liquid_ml),
             said.volume(straining.expected_ml),
             said.volume(straining.yield_ml),
             said.share(straining.yield_ml, straining.liquid_ml))
        )  # fmt: skip
    bottled_ml = history.bottled_ml if history.bottles else None
    rows.append(
        ("Bottling", said.volume(tincture.volume_ml), "", said.volume(bottled_ml),
         said.share(bottled_ml, tincture.volume_ml))
    )  # fmt: skip
    head = ("Stage", "Theoretical", "Expected", "Actual", "Of theoretical")
    figures = frozenset({1, 2, 3, 4})
    blocks: list[Block] = [Grid(head, tuple(rows), (3, 2, 2, 2, 2), figures, to_write=figures)]
    rest = []
    if tincture.lost_ml:
        liquid_ml = straining.liquid_ml if straining else tincture.volume_ml
        lost = ", ".join(
            f"{said.volume(ml)} {_LOST.get(kind, kind)} ({said.share(ml, liquid_ml)})"
            if liquid_ml
            else f"{said.volume(ml)} {_LOST.get(kind, kind)}"
            for kind, ml in history.losses.items()
        )
        rest.append(f"Lost before bottling: {lost}.")
    if tincture.is_to_bottle:
        rest.append(f"Not yet bottled: {said.volume(tincture.loose_ml)}.")
    if straining:
        rest.append(
            "Theoretical at straining is all the liquid in the jar, including the plant's own "
            "water; expected allows for what the spent herb (marc) holds back."
        )
    return [*blocks, Prose(" ".join(rest))] if rest else blocks


def _bottles(history: BatchHistory, said: Wording, settings: Settings) -> list[Block]:
    used = open_lines.packaging(history, said)
    if not history.bottles:
        return [Prose("Not bottled yet."), *used]
    grid = Grid(
        ("Bottle", "Size", "Filled", "On", "Place"),
        tuple(
            (b.code, said.volume(b.size_ml), said.volume(b.filled_ml), said.day(b.filled_on),
             b.place)
            for b in history.bottles
        ),
        (2, 1.5, 1.5, 2, 4),
        frozenset({1, 2}),
        to_write=frozenset({4}),
    )  # fmt: skip
    return [grid, Prose(_label(history, said, settings)), *used]


def _label(history: BatchHistory, said: Wording, settings: Settings) -> str:
    """The label as it was printed last; where none is on record, as it would be now."""
    printed = [line for line in history.labels if line.kind is PrintKind.PRINTED]
    if printed:
        last = printed[-1]
        text = " · ".join(last.text.split("\n"))
        day = f"{said.day(last.day)}{_by(last.maker)}"
        return f"Label of {last.bottle}, as printed {day}: {text}"
    first = history.bottles[0]
    draft = BottleDraft(first.size_ml, first.filled_ml)
    label = label_lines(draft, history.tincture, settings, code=first.code)
    text = " · ".join(line.text for line in label.lines)
    return f"Label of {first.code}, no printing on record: {text}"


def _notes(history: BatchHistory, said: Wording) -> list[Block]:
    """What was written down, and struck through what was undone or corrected since."""
    jar = history.jar
    notes = []
    if jar and jar.note:
        notes.append(Prose(f"Jar: {jar.note}"))
    for event in history.events:
        text = f"{said.day(event.day)}{_by(event.maker)}, {event.kind}: {event.text}".rstrip(": ")
        if event.mark or event.kind not in STEPS:
            notes.append(Prose(text, said.later(event)))
    for go in jar.straining.goes if jar and jar.straining else ():
        if go.note:
            notes.append(Prose(f"{go.pressing.capitalize()} {said.day(go.strained_on)}: {go.note}"))
    if jar and jar.straining and jar.straining.note:
        notes.append(Prose(f"Straining: {jar.straining.note}"))
    if history.tincture.note:
        notes.append(Prose(f"Tincture: {history.tincture.note}"))
    return [*notes] or [Prose("None recorded.")]


def _by(maker: str) -> str:
    return f", {maker}" if maker else ""
