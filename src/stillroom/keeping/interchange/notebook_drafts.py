"""What a row of a person's own list comes to on a shelf, and what it leaves open."""

from collections.abc import Collection, Sequence

from stillroom.keeping.drafts import ChargeDraft, JarDraft, PourDraft
from stillroom.keeping.interchange.entry import NotebookRow
from stillroom.keeping.jars.straining import Strained
from stillroom.keeping.settings import Settings
from stillroom.keeping.views import assumed
from stillroom.keeping.wording import Wording
from stillroom.quantities import how_many
from stillroom.reckoning.charge import (
    Condition,
    Part,
    charge_as_recorded,
    liquid_in_jar,
    ratio_n,
    will_it_keep,
)
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.states import LiquidKind, StrengthBy


def charge_of(
    entry: NotebookRow, part: Part, condition: Condition, assumed: Collection[str]
) -> ChargeDraft:
    """The herb in its jar."""
    return ChargeDraft(
        entry.herb,
        part,
        condition,
        entry.mass,
        botanical=entry.botanical,
        gathered_on=entry.gathered,
        origin=entry.origin,
        part_assumed="part" in assumed,
        condition_assumed="condition" in assumed,
    )


def pours_of(entry: NotebookRow) -> tuple[PourDraft, ...]:
    """What was poured on, where both its volume and its strength are known."""
    if entry.volume is None or entry.strength is None:
        return ()
    kind = LiquidKind.SPIRIT if entry.strength else LiquidKind.WATER
    return (PourDraft(kind, entry.volume, entry.strength),)


def bottles_of(entry: NotebookRow) -> list[tuple[float, float]]:
    """Size and content of each bottle of a row that isn't empty, mL.

    Of several bottles the first ones hold what is left.
    """
    if not entry.bottles:
        held = entry.in_bottle_ml
        return [] if held is None else [(entry.size or held, held)]
    rest = sum(entry.bottles) if entry.left is None else entry.left
    found = []
    for size in entry.bottles:
        found.append((size, min(size, rest)))
        rest -= min(size, rest)
    return [(size, held) for size, held in found if held > 0]


def reckoned(entry: NotebookRow, part: Part, condition: Condition) -> Strained:
    """The figures of its tincture that can be calculated from the row."""
    if entry.strength is None:
        return Strained(None, StrengthBy.UNKNOWN, None, None)
    if entry.volume is None:
        return Strained(entry.strength, StrengthBy.ESTIMATED, None, will_it_keep(entry.strength))
    charge = charge_as_recorded(entry.mass, part, condition, None)
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
    is_bottled = any(each.is_bottled for each in batch)
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
            any(each.left is None and (each.size or each.bottles) for each in batch),
        ),
        (
            "what is left = in the first of the bottles",
            any(each.left is not None and each.bottles for each in batch),
        ),
    )
    return [said for said, is_unsaid in facts if is_unsaid]


def in_words(
    row: NotebookRow, draft: JarDraft, code: str, is_strained: bool, words: Wording
) -> str:
    """A row as it comes onto the shelf, on one line for a preview."""
    (charge,) = draft.charges
    about = "about " if "mass" in row.inexact and row.mass is not None else ""
    roughly = "about " if "volume" in row.inexact else ""
    poured = ", ".join(
        f"{roughly}{words.volume(pour.volume_ml)} at {words.of(Kind.STRENGTH, pour.strength_abv)}"
        for pour in draft.pours
    )
    facts = [
        f"row {row.line}: {code} {charge.herb}",
        assumed(charge.part, charge.part_assumed),
        assumed(charge.condition, charge.condition_assumed),
        about + words.herb_mass(charge.mass_g),
        poured or _liquid_in_words(row, words),
        f"filled {words.day(draft.filled_on)}",
        "" if is_strained else f"strain on {words.day(draft.strain_on)}",
        f"yield {words.volume(row.yielded)}" if row.yielded is not None else "",
        _bottles_in_words(row, words) if row.is_bottled else "",
        row.shelf,
        row.place,
    ]
    return " · ".join(filter(None, facts))


def _bottles_in_words(row: NotebookRow, words: Wording) -> str:
    """How many bottles, and what is in them."""
    held = [ml for _, ml in bottles_of(row)]
    return f"{how_many(len(held), 'bottle')} holding {words.volume(sum(held))}"


def _liquid_in_words(row: NotebookRow, words: Wording) -> str:
    """What is known of a liquid that is no pour."""
    if row.volume is not None:
        return f"{words.volume(row.volume)} of {row.liquid or 'liquid'}, strength not known"
    if row.strength is not None:
        named = row.liquid or f"liquid at {words.of(Kind.STRENGTH, row.strength)}"
        return f"{named}, volume not known"
    return row.liquid or "liquid not recorded"


def note_on(
    row: NotebookRow, unsaid: Sequence[str], file: str, words: Wording, *, is_strained: bool
) -> str:
    """The note of a jar: the row's own, where it came from, and what has no field or is unsaid."""
    lines = [row.note, f"From {file}, row {row.line}."]
    if row.keep_until is not None and not is_strained:
        lines.append(f"Keep until: {words.day(row.keep_until)}.")
    if row.bottles and row.left is not None:
        lines.append(f"Left: {words.volume(row.left)}.")
    if row.place and not row.is_bottled:
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
