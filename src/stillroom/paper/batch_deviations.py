"""What a batch record lists as deviations: those the program knows of, and corrections."""

from collections.abc import Iterator

from stillroom.dates import show_moment
from stillroom.keeping.settings import Settings
from stillroom.keeping.trace.batch_history import BatchHistory
from stillroom.keeping.views import JarView, StrainingView
from stillroom.keeping.wording import Wording
from stillroom.keeping.words import listed
from stillroom.paper.document import Block, Grid, Prose
from stillroom.reckoning.charge import Keeping, will_it_keep
from stillroom.reckoning.states import BatchStatus

NONE_NOTED = "None noted by the program."


def deviations(history: BatchHistory, said: Wording) -> list[Block]:
    """What the program knows of; that it knows of none is no finding of a person."""
    return [Prose(text) for text in _deviations(history, said)] or [Prose(NONE_NOTED)]


def _deviations(history: BatchHistory, said: Wording) -> Iterator[str]:
    tincture, jar = history.tincture, history.jar
    if history.shakes and history.shakes.recorded_from and history.shakes.missed_on:
        yield f"Shakes missed: {said.days_in_ranges(history.shakes.missed_on)}."
    for part in history.parts:
        if part.bottle.keep_until and part.bottle.is_past(tincture.made_on):
            day = said.day(part.bottle.keep_until)
            yield f"Bottle {part.bottle.code} was past its keep-until date of {day} when blended."
    if jar and jar.straining:
        yield from _odd_yield(jar.straining, said)
    strength = tincture.strength_abv
    if strength is not None and will_it_keep(strength) is Keeping.WILL_NOT:
        yield f"The strength, {said.finished_strength(tincture)}, is under 20 %."
    if tincture.keep_until and tincture.keep_until < tincture.made_on:
        yield "The keep-until date is before the day it was made."
    if jar:
        yield from _not_stated(jar)
    if tincture.status in (BatchStatus.REJECTED, BatchStatus.WITHDRAWN):
        yield f"The batch was {tincture.status}."


def _odd_yield(straining: StrainingView, said: Wording) -> Iterator[str]:
    got, liquid_ml = said.volume(straining.yield_ml), straining.liquid_ml
    if liquid_ml is not None and straining.yield_ml > liquid_ml:
        yield f"The yield, {got}, is more than the {said.volume(liquid_ml)} in the jar."
    elif straining.confirmed:
        expected = said.volume(straining.expected_ml)
        beside = f" of {expected}" if expected else ""
        yield f"The yield, {got}, is outside the expected{beside}; confirmed as measured."


def _not_stated(jar: JarView) -> Iterator[str]:
    if jar.is_imported:
        yield ("Imported from a list: what it left out is assumed or not recorded; see the notes.")
    by_eye = listed(charge.herb for charge in jar.charges if charge.mass_g is None)
    if by_eye:
        yield f"Not weighed: {by_eye}."


def corrections(history: BatchHistory, settings: Settings) -> Grid:
    """Each correction with the words of the day it was made."""
    return Grid(
        ("When", "What", "By", "Reason"),
        tuple(
            (
                show_moment(each.at, settings.day_form),
                each.text if each.kind == "corrected" else f"{each.kind}: {each.text}",
                each.maker,
                each.why,
            )
            for each in history.corrections
        ),
        (2.6, 6, 1, 4),
        to_write=frozenset({2, 3}),
    )
