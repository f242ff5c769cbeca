"""The sheet of a recall: what was given, destroyed and is still here, bottle by bottle."""

from collections.abc import Iterable, Sequence
from datetime import date

from stillroom.keeping.settings import Settings
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.trace.withdrawals import Out, Withdrawal, WithdrawnBatch, WithdrawnBottle
from stillroom.keeping.wording import Wording
from stillroom.paper.document import Block, Document, Grid, Prose, Section

_HEAD = ("Bottle", "Filled", "Given", "Used", "In blends", "Destroyed", "Still here", "Returned")
_SHARES = (1.6, 1.2, 3.4, 1.1, 1.2, 2.2, 1.9, 1.6)


def withdrawal_sheet(
    withdrawn: Sequence[Withdrawal], settings: Settings, printed_on: date
) -> Document:
    """A section for each tree that was withdrawn, with room to write in what comes back."""
    said = Wording.of_shelf(settings)
    return Document(
        title="Withdrawn batches",
        subtitle="" if withdrawn else "No batch is withdrawn.",
        sections=tuple(_section(each, said) for each in withdrawn),
        closing=f"Printed {said.day(printed_on)}. Write in what comes back later, and from whom.",
        is_list=True,
    )


def _section(withdrawal: Withdrawal, said: Wording) -> Section:
    by = f", {withdrawal.maker}" if withdrawal.maker else ""
    head = f"{withdrawal.title}\n{said.day(withdrawal.day)}{by}"
    blocks: list[Block] = [Prose(f"{head}: {withdrawal.why}" if withdrawal.why else head)]
    for batch in withdrawal.batches:
        blocks.append(Prose(_batch(batch, said)))
        if batch.bottles:
            rows = tuple(_row(bottle, said) for bottle in batch.bottles)
            blocks.append(Grid(_HEAD, rows, _SHARES, frozenset({1, 3, 4}), to_write=frozenset({7})))
    codes = ", ".join(batch.tincture.code for batch in withdrawal.batches)
    return Section(f"Withdrawn: {codes}", tuple(blocks))


def _batch(batch: WithdrawnBatch, said: Wording) -> str:
    tincture = batch.tincture
    loose = f", {said.volume(tincture.loose_ml)} not bottled" if tincture.is_to_bottle else ""
    made = said.day_known(tincture.made_on, tincture.made_by)
    return f"Batch {tincture.code} {tincture.name}, made {made}{loose}"


def _row(bottle: WithdrawnBottle, said: Wording) -> tuple[str, ...]:
    here = ""
    if bottle.left_ml > EMPTY_ML:
        here = ", ".join(filter(None, (said.volume(bottle.left_ml), bottle.place)))
    return (
        bottle.code,
        said.volume(bottle.filled_ml),
        _outs(bottle.given, said),
        _volume(bottle.used_ml, said),
        _volume(bottle.blended_ml, said),
        _outs(bottle.destroyed, said),
        here or "empty",
        _outs(bottle.returned, said),
    )


def _volume(volume_ml: float, said: Wording) -> str:
    return said.volume(volume_ml) if volume_ml > EMPTY_ML else ""


def _outs(outs: Iterable[Out], said: Wording) -> str:
    return "\n".join(
        ", ".join(filter(None, (said.volume(out.volume_ml), said.day(out.day), out.note)))
        for out in outs
    )
