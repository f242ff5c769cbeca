"""Where a herb or a spirit went: every jar, tincture and bottle, and what is left of it where."""

import json
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from datetime import date

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.liquids import LiquidView, liquid_view, liquids
from stillroom.keeping.cupboard.lot_reading import GONE, entries_of, herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView, LotEntry, origin_words
from stillroom.keeping.cupboard.lots_in_words import drying_words, left_words, some
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.future import Future, Use
from stillroom.keeping.trace.lineage import gathering_words, purchase_words
from stillroom.keeping.trace.views import Gathering, Node
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import folded, in_a_row
from stillroom.reckoning.states import HerbMovementKind

_GATHERINGS = """
    SELECT h.id, h.name, l.gathered_on, l.origin, count(DISTINCT l.jar_id)
    FROM charge_line l JOIN herb h ON h.id = l.herb_id
    GROUP BY h.id, l.gathered_on, l.origin
    ORDER BY h.name, l.gathered_on IS NULL, l.gathered_on DESC, l.origin
"""


def gatherings(keeper: Keeper) -> list[Gathering]:
    """Every gathering or purchase of a herb that went into a jar: by herb, newest first."""
    return [
        Gathering(herb_id, herb, day_or_none(day), origin, jars)
        for herb_id, herb, day, origin, jars in keeper.rows(_GATHERINGS)
    ]


def recall_words(keeper: Keeper, text: str) -> list[Node]:
    """The way of every purchase, lot and gathering meant by a name, or by words of it.

    What is called just so is meant alone; else all whose name, day and origin (seller, place or
    lot) have every word.
    """
    said = wording(keeper)
    kept, others = spirits(keeper), liquids(keeper)
    herbs = gatherings(keeper)
    wanted = " ".join(text.split()).casefold()
    lots = herb_lots(keeper)
    for lot in lots:
        if wanted == lot.code.casefold():
            return [recall_lot(keeper, lot.lot_id)]
    is_name = any(wanted == name.casefold() for name in _names(kept, others, herbs, lots))

    def is_meant(name: str, *words: str) -> bool:
        if is_name:
            return name.casefold() == wanted
        told = folded("\n".join((name, *words)))
        return bool(wanted) and all(word in told for word in folded(wanted).split())

    found = [
        recall_spirit(keeper, spirit.spirit_id)
        for spirit in kept
        if is_meant(spirit.name, *purchase_words(spirit, said))
    ]
    found += [
        recall_liquid(keeper, liquid.liquid_id)
        for liquid in others
        if is_meant(liquid.name, *purchase_words(liquid, said))
    ]
    meant = [
        lot for lot in lots
        if is_meant(lot.herb, f"{lot.came} {said.day(lot.got_on)}", lot.where_from)
    ]  # fmt: skip
    lot_ids = {lot.lot_id for lot in meant}
    # What was laid out of a lot is recalled with it.
    found += [recall_lot(keeper, e.lot_id) for e in meant if e.from_lot_id not in lot_ids]
    found += [
        recall_gathering(keeper, each.herb_id, each.gathered_on, each.origin)
        for each in herbs
        if is_meant(each.herb, *gathering_words(each.gathered_on, each.origin, said))
        and not _is_of_lots(keeper, each, lot_ids)
    ]
    if not found:
        raise Refused(f"Nothing found for {text}.")
    return found


def _is_of_lots(keeper: Keeper, gathering: Gathering, lot_ids: Collection[int]) -> bool:
    """Whether every jar had it out of one of these lots."""
    others = keeper.rows(
        """SELECT 1 FROM charge_line WHERE herb_id = ? AND gathered_on IS ? AND origin = ?
           AND (lot_id IS NULL OR lot_id NOT IN (SELECT value FROM json_each(?))) LIMIT 1""",
        gathering.herb_id,
        gathering.gathered_on.isoformat() if gathering.gathered_on else None,
        gathering.origin,
        json.dumps(list(lot_ids)),
    )
    return not others


def _names(
    kept: Iterable[SpiritView],
    others: Iterable[LiquidView],
    herbs: Iterable[Gathering],
    lots: Iterable[HerbLotView],
) -> Iterator[str]:
    yield from (lot.herb for lot in lots)
    yield from (spirit.name for spirit in kept)
    yield from (liquid.name for liquid in others)
    yield from (each.herb for each in herbs)


def recall_spirit(keeper: Keeper, spirit_id: int) -> Node:
    """Every jar, tincture and bottle a spirit went into, and how much of it is left where."""
    spirit = next((s for s in spirits(keeper) if s.spirit_id == spirit_id), None)
    if spirit is None:
        raise Refused("That spirit is no longer in the cupboard.")
    said = wording(keeper)
    root = Node(
        "spirit",
        spirit.name,
        in_a_row(
            said.strength(spirit.strength_abv),
            *purchase_words(spirit, said),
            "" if spirit.left_ml is None else f"{said.volume(spirit.left_ml)} left",
        ),
        volume_ml=spirit.bought_ml,
        left_ml=spirit.left_ml,
        contains_ml=spirit.left_ml,
        spirit_id=spirit_id,
    )
    return _future_of_purchase(keeper, "spirit_id", spirit_id).tree(root)


def recall_liquid(keeper: Keeper, liquid_id: int) -> Node:
    """Every jar, batch and bottle a liquid of the cupboard went into, and what is left where."""
    liquid = liquid_view(keeper, liquid_id)
    said = wording(keeper)
    root = Node(
        "liquid",
        liquid.name,
        in_a_row(
            str(liquid.kind),
            *purchase_words(liquid, said),
            "" if liquid.left_ml is None else f"{said.volume(liquid.left_ml)} left",
        ),
        volume_ml=liquid.bought_ml,
        left_ml=liquid.left_ml,
        contains_ml=liquid.left_ml,
        liquid_id=liquid_id,
        origin=origin_words(liquid.origin, liquid.lot),
    )
    return _future_of_purchase(keeper, "liquid_id", liquid_id).tree(root)


def _future_of_purchase(keeper: Keeper, column: str, row_id: int) -> Future:
    """What a spirit or liquid, named by its column, was poured on and added to."""
    said = wording(keeper)
    poured = keeper.rows(
        f"SELECT jar_id, sum(volume_ml) FROM pour WHERE {column} = ? GROUP BY jar_id", row_id
    )
    uses = {jar_id: Use(f"{said.volume(ml)} poured", ml) for jar_id, ml in poured}
    added = keeper.rows(
        f"SELECT tincture_id, sum(volume_ml) FROM batch_input WHERE {column} = ? "
        "GROUP BY tincture_id",
        row_id,
    )
    return Future.of(keeper, uses, dict(added))


def source_name(keeper: Keeper, root: Node) -> str:
    """What a tree begins with, with its origin and lot, and without what changes later."""
    origin = root.origin
    for spirit in spirits(keeper):
        if spirit.spirit_id == root.spirit_id:
            origin = spirit.origin
    return in_a_row(root.label, origin)


def recall_gathering(
    keeper: Keeper, herb_id: int, gathered_on: date | None, origin: str = ""
) -> Node:
    """Every jar, tincture and bottle one gathering of a herb went into.

    What is contained is given in mL of the tinctures made with it.
    """
    used = keeper.rows(
        """SELECT l.jar_id, h.name, l.part, l.condition, sum(l.mass_g), count(*) - count(l.mass_g),
                  j.marc_of_id IS NOT NULL
           FROM charge_line l JOIN herb h ON h.id = l.herb_id JOIN jar j ON j.id = l.jar_id
           WHERE l.herb_id = ? AND l.gathered_on IS ? AND l.origin = ?
           GROUP BY l.jar_id, l.part, l.condition ORDER BY l.jar_id, min(l.id)""",
        herb_id,
        gathered_on.isoformat() if gathered_on else None,
        origin,
    )
    if not used:
        raise Refused("No jar was filled with that herb, gathered on that day.")
    said = wording(keeper)
    words: dict[int, list[str]] = defaultdict(list)
    for jar_id, _, part, condition, mass_g, by_eye, is_marc in used:
        known_g, plant = None if by_eye else mass_g, f"{part}, {condition}"
        words[jar_id].append(said.herb_put_in(known_g, plant, is_marc=is_marc))
    root = Node(
        "herb",
        used[0][1],
        in_a_row(*gathering_words(gathered_on, origin, said)),
        herb_id=herb_id,
        gathered_on=gathered_on,
        origin=origin,
    )
    uses = {jar_id: Use(" and ".join(each)) for jar_id, each in words.items()}
    return Future.of(keeper, uses).tree(root)


def recall_lot(keeper: Keeper, lot_id: int) -> Node:
    """Where a lot of herb went: what was laid out of it, given away and discarded, every jar,
    tincture and bottle.

    What is contained is given in mL of the tinctures made with it.
    """
    lots = {lot.lot_id: lot for lot in herb_lots(keeper)}
    if lot_id not in lots:
        raise Refused(GONE)
    meant = [lot_id]
    for each in meant:  # grows while it is read: what was laid out, and laid out of that
        meant += sorted(found for found, lot in lots.items() if lot.from_lot_id == each)
    said = wording(keeper)
    words: dict[int, list[str]] = defaultdict(list)
    for jar_id, of_id, part, condition, mass_g, is_marc in keeper.rows(
        """SELECT l.jar_id, l.lot_id, l.part, l.condition, l.mass_g, j.marc_of_id IS NOT NULL
           FROM charge_line l JOIN jar j ON j.id = l.jar_id
           WHERE l.lot_id IN (SELECT value FROM json_each(?)) ORDER BY l.jar_id, l.id""",
        json.dumps(meant),
    ):
        of = f" of {lots[of_id].code}" if of_id != lot_id else ""
        plant = f"{part}, {condition}{of}"
        words[jar_id].append(said.herb_put_in(mass_g, plant, is_marc=is_marc))
    ledgers = entries_of(keeper, meant)
    parts = tuple(_lot_node(lots[each], ledgers[each], said) for each in meant[1:])
    uses = {jar_id: Use(" and ".join(each)) for jar_id, each in words.items()}
    tree = Future.of(keeper, uses).tree(_lot_node(lots[lot_id], ledgers[lot_id], said))
    return replace(tree, children=(*parts, *tree.children))


def _lot_node(lot: HerbLotView, entries: Iterable[LotEntry], said: Wording) -> Node:
    out = [
        f"{some(None if entry.mass_g is None else -entry.mass_g, said)} {_LEFT_STORE[entry.kind]} "
        f"{said.day(entry.day)}" + (f" (for {entry.person})" if entry.person else "")
        for entry in entries
        if entry.kind in _LEFT_STORE
    ]
    weight = drying_words(lot, said) if lot.dry_on else some(lot.mass_g, said)
    return Node(
        "herb",
        f"{lot.code} {lot.herb}",
        in_a_row(
            f"{weight} {lot.part}, {lot.condition}",
            f"{lot.came} {said.day(lot.got_on)}",
            lot.where_from,
            left_words(lot, said),
            *out,
        ),
        herb_id=lot.herb_id,
        lot_id=lot.lot_id,
        gathered_on=lot.gathered_on,
        origin=lot.where_from,
    )


_LEFT_STORE: dict[str, str] = {
    HerbMovementKind.GIVE: "given",
    HerbMovementKind.DISCARD: "discarded",
    HerbMovementKind.SPOILED: "spoiled",
}
