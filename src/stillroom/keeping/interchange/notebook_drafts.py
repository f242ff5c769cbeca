"""What a row of a person's own list comes to on a shelf, and what it leaves open."""

from collections.abc import Sequence

from stillroom.keeping.drafts import ChargeDraft, PourDraft
from stillroom.keeping.interchange.entry import NotebookRow
from stillroom.keeping.jars.straining import Strained
from stillroom.keeping.settings import Settings
from stillroom.keeping.wording import Wording
from stillroom.reckoning.charge import (
    Charge,
    Condition,
    Part,
    default_water_fraction,
    liquid_in_jar,
    ratio_n,
    will_it_keep,
)
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.states import LiquidKind, StrengthBy


def charge_of(entry: NotebookRow, part: Part, condition: Condition) -> ChargeDraft:
    """The herb in its jar."""
    return ChargeDraft(
        entry.herb,
        part,
        condition,
        entry.mass,
        botanical=entry.botanical,
        gathered_on=entry.gathered,
        origin=entry.origin,
    )


def pours_of(entry: NotebookRow) -> tuple[PourDraft, ...]:
    """What was poured on, where both its volume and its strength are known."""
    if entry.volume is None or entry.strength is None:
        return ()
    kind = LiquidKind.SPIRIT if entry.strength else LiquidKind.WATER
    return (PourDraft(kind, entry.volume, entry.strength),)


def reckoned(entry: NotebookRow, part: Part, condition: Condition) -> Strained:
    """The figures of its tincture that can be calculated from the row."""
    if entry.strength is None:
        return Strained(None, StrengthBy.UNKNOWN, None, None)
    if entry.volume is None:
        return Strained(entry.strength, StrengthBy.ESTIMATED, None, will_it_keep(entry.strength))
    water = default_water_fraction(part, condition)
    charge = Charge(entry.mass, water)
    jar = liquid_in_jar([charge], [Liquid(entry.volume, entry.strength)])
    strength_by = StrengthBy.ESTIMATED if jar.is_partial else StrengthBy.CALCULATED
    return Strained(
        jar.strength_abv,
        strength_by,
        ratio_n([charge], entry.volume),
        jar.keeping,
        liquid_ml=None if jar.is_partial else jar.volume_ml,
    )


def left_open(batch: Sequence[NotebookRow], is_strained: bool, settings: Settings) -> list[str]:
    """What the list leaves out about a batch: as assumed (`a = b`), or unknown."""
    row = batch[0]
    is_bottled = any(each.in_bottle_ml is not None for each in batch)
    facts = (
        (
            f"strain date = {settings.steep_days} days after filling (Settings)",
            not is_strained and row.strain_on is None,
        ),
        ("planned strain date", is_strained and row.strain_on is None),
        (
            f"shakes = {settings.shakes_per_day} a day (Settings)",
            not is_strained and row.shakes is None,
        ),
        ("shakes", is_strained and row.shakes is None),
        ("liquid poured", row.volume is None or row.strength is None),
        (
            "yield = what is in the bottles",
            is_bottled and all(each.yielded is None for each in batch),
        ),
        ("bottling date = straining date", is_bottled),
        (
            "bottle size = what the bottle holds",
            any(each.size is None and each.left is not None for each in batch),
        ),
        (
            "left in the bottle = all of it",
            any(each.left is None and each.size is not None for each in batch),
        ),
    )
    return [said for said, is_unsaid in facts if is_unsaid]


def note_on(row: NotebookRow, unsaid: Sequence[str], file: str, words: Wording) -> str:
    """The note of a jar: the row's own, where it came from, and what has no field or is unsaid."""
    lines = [row.note, f"From {file}, line {row.line}."]
    if row.place and row.in_bottle_ml is None:
        lines.append(f"Place: {row.place}.")
    if row.liquid:
        lines.append(f"Poured on: {row.liquid}.")
    if row.volume is not None and row.strength is None:
        lines.append(f"Liquid of unknown strength: {words.volume(row.volume)}.")
    if row.strength is not None and row.volume is None:
        lines.append(f"Liquid of unknown volume: {words.of(Kind.STRENGTH, row.strength)}.")
    if unsaid:
        lines.append(f"Not in the list: {'; '.join(unsaid)}.")
    return "\n".join(line for line in lines if line)
