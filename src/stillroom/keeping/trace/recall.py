"""Where a herb or a spirit went: every jar, tincture and bottle, and what is left of it where.

Liquid is taken as evenly mixed: what is drawn from a tincture holds its sources in proportion, and
so does what the marc kept.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from types import MappingProxyType

from stillroom.dates import day_or_none
from stillroom.errors import Refused
from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.contents import through_blends
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.liquids import LiquidView, liquid_view, liquids
from stillroom.keeping.cupboard.lot_reading import GONE, entries_of, herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView, LotEntry
from stillroom.keeping.cupboard.lots_in_words import drying_words, left_words, some
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.trace.lineage import (
    Drawn,
    FedJar,
    FilledJar,
    PutIn,
    blend_draws,
    ending_words,
    fed_jars,
    filled_jars,
    gathering_words,
    purchase_words,
    put_in,
    tincture_node,
)
from stillroom.keeping.trace.views import Gathering, Node
from stillroom.keeping.views import SpiritView, TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import folded, in_a_row
from stillroom.reckoning.doses import in_each_ml
from stillroom.reckoning.states import CORRECTIONS, LOSSES, HerbMovementKind, MovementKind

_GATHERINGS = """
    SELECT h.id, h.name, l.gathered_on, l.origin, count(DISTINCT l.jar_id)
    FROM charge_line l JOIN herb h ON h.id = l.herb_id
    GROUP BY h.id, l.gathered_on, l.origin
    ORDER BY h.name, l.gathered_on IS NULL, l.gathered_on DESC, l.origin
"""

_BOTTLES = """
    SELECT b.id, b.code, b.tincture_id, b.place, m.kind, sum(m.volume_ml)
    FROM bottle b JOIN movement m ON m.bottle_id = b.id
    WHERE b.tincture_id IN (SELECT value FROM json_each(?))
    GROUP BY b.id, m.kind ORDER BY b.id, min(m.id)
"""

_WENT = {
    MovementKind.DRAW: "drawn",
    MovementKind.SPILL: "spilled",
    MovementKind.DISCARD: "discarded",
    **{kind: str(kind) for kind in LOSSES},
}
_GIVEN = """
    SELECT bottle_id, kind, -volume_ml, person, note, day FROM movement
    WHERE (kind = 'give' OR person <> '') AND bottle_id IN (SELECT value FROM json_each(?))
    ORDER BY id
"""


def gatherings(keeper: Keeper) -> list[Gathering]:
    """Every gathering or purchase of a herb that went into a jar: by herb, newest first."""
    return [
        Gathering(herb_id, herb, day_or_none(day), origin, jars)
        for herb_id, herb, day, origin, jars in keeper.rows(_GATHERINGS)
    ]


def recall_words(keeper: Keeper, text: str) -> list[Node]:
    """The way of every purchase and gathering meant by a name, or by words of it.

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
    is_name = any(wanted == name.casefold() for name in _names(kept, others, herbs))

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
        if is_meant(liquid.name, liquid.origin, liquid.lot, liquid.code)
    ]
    found += [
        recall_gathering(keeper, each.herb_id, each.gathered_on, each.origin)
        for each in herbs
        if is_meant(each.herb, *gathering_words(each.gathered_on, each.origin, said))
    ]
    if not found:
        raise Refused(f"Nothing found for {text}.")
    return found


def _names(
    kept: Iterable[SpiritView], others: Iterable[LiquidView], herbs: Iterable[Gathering]
) -> Iterator[str]:
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
    poured = keeper.rows(
        "SELECT jar_id, sum(volume_ml) FROM pour WHERE spirit_id = ? GROUP BY jar_id", spirit_id
    )
    uses = {jar_id: _Use(f"{said.volume(ml)} poured", ml) for jar_id, ml in poured}
    added = keeper.rows(
        """SELECT tincture_id, sum(volume_ml) FROM batch_input WHERE spirit_id = ?
           GROUP BY tincture_id""",
        spirit_id,
    )
    return _Future.of(keeper, uses, dict(added)).tree(root)


def recall_liquid(keeper: Keeper, liquid_id: int) -> Node:
    """Every jar, batch and bottle a liquid of the cupboard went into, and what is left where."""
    liquid = liquid_view(keeper, liquid_id)
    said = wording(keeper)
    root = Node(
        "liquid",
        liquid.name,
        in_a_row(
            str(liquid.kind),
            liquid.origin,
            liquid.lot,
            f"bought {said.day(liquid.bought_on)}" if liquid.bought_on else "",
            "" if liquid.left_ml is None else f"{said.volume(liquid.left_ml)} left",
        ),
        volume_ml=liquid.bought_ml,
        left_ml=liquid.left_ml,
        contains_ml=liquid.left_ml,
    )
    poured = keeper.rows(
        "SELECT jar_id, sum(volume_ml) FROM pour WHERE liquid_id = ? GROUP BY jar_id", liquid_id
    )
    uses = {jar_id: _Use(f"{said.volume(ml)} poured", ml) for jar_id, ml in poured}
    added = keeper.rows(
        """SELECT tincture_id, sum(volume_ml) FROM batch_input WHERE liquid_id = ?
           GROUP BY tincture_id""",
        liquid_id,
    )
    return _Future.of(keeper, uses, dict(added)).tree(root)


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
        """SELECT l.jar_id, h.name, l.part, l.condition, sum(l.mass_g), count(*) - count(l.mass_g)
           FROM charge_line l JOIN herb h ON h.id = l.herb_id
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
    for jar_id, _, part, condition, mass_g, by_eye in used:
        words[jar_id].append(f"{said.herb_mass(None if by_eye else mass_g)} {part}, {condition}")
    root = Node(
        "herb",
        used[0][1],
        in_a_row(*gathering_words(gathered_on, origin, said)),
        herb_id=herb_id,
        gathered_on=gathered_on,
        origin=origin,
    )
    uses = {jar_id: _Use(" and ".join(each)) for jar_id, each in words.items()}
    return _Future.of(keeper, uses).tree(root)


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
    for jar_id, of_id, part, condition, mass_g in keeper.rows(
        """SELECT jar_id, lot_id, part, condition, mass_g FROM charge_line
           WHERE lot_id IN (SELECT value FROM json_each(?)) ORDER BY jar_id, id""",
        json.dumps(meant),
    ):
        of = f" of {lots[of_id].code}" if of_id != lot_id else ""
        words[jar_id].append(f"{said.herb_mass(mass_g)} {part}, {condition}{of}")
    ledgers = entries_of(keeper, meant)
    parts = tuple(_lot_node(lots[each], ledgers[each], said) for each in meant[1:])
    uses = {jar_id: _Use(" and ".join(each)) for jar_id, each in words.items()}
    tree = _Future.of(keeper, uses).tree(_lot_node(lots[lot_id], ledgers[lot_id], said))
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
        gathered_on=lot.gathered_on,
        origin=lot.where_from,
    )


_LEFT_STORE: dict[str, str] = {
    HerbMovementKind.GIVE: "given",
    HerbMovementKind.DISCARD: "discarded",
    HerbMovementKind.SPOILED: "spoiled",
}


@dataclass(frozen=True)
class _Use:
    """What a jar took of the source."""

    detail: str
    poured_ml: float | None = None
    """mL of a spirit; None for a herb, because all of its jar counts."""

    def per_ml(self, jar: FilledJar) -> float | None:
        """What of it is in a millilitre of the jar's tincture; the marc kept its share."""
        if self.poured_ml is None:
            return 1.0
        if jar.liquid_ml is None or jar.yield_ml is None:
            return None
        return in_each_ml(self.poured_ml, jar.liquid_ml, jar.yield_ml)

    def in_jar_ml(self, jar: FilledJar) -> float | None:
        """What of it is still on the herb."""
        if not jar.is_to_strain:
            return 0.0
        return jar.steeping_ml if self.poured_ml is None else self.poured_ml


@dataclass(frozen=True)
class _TakenFor:
    """Liquid given away, or taken for a person who is named."""

    kind: MovementKind
    volume_ml: float
    who: str
    """Who got it, and the note on it."""
    day: date


@dataclass(frozen=True)
class _TracedBottle:
    """A bottle with the sums of its movements by kind."""

    bottle_id: int
    code: str
    tincture_id: int
    place: str
    sums_ml: dict[str, float]
    given: "list[_TakenFor]"

    @property
    def left_ml(self) -> float:
        return max(0.0, sum(self.sums_ml.values()))

    def detail(self, said: Wording) -> str:
        """What is left of it, where, and what became of the rest."""
        left = f"{said.volume(self.left_ml)} left" if self.left_ml > EMPTY_ML else "empty"
        out = [
            f"{said.volume(-self.sums_ml[kind])} {word}{self._for_whom(kind, said)}"
            for kind, word in _WENT.items()
            if self.sums_ml.get(kind)
        ]
        for each in self.given:
            if each.kind == MovementKind.GIVE:
                to = f" ({each.who})" if each.who else ""
                out.append(f"{said.volume(each.volume_ml)} given {said.day(each.day)}{to}")
        moved_ml = self.sums_ml.get(MovementKind.POUR_TOGETHER, 0.0)
        if abs(moved_ml) > EMPTY_ML:
            way = "in from" if moved_ml > 0 else "out to"
            out.append(f"{said.volume(abs(moved_ml))} poured {way} another bottle")
        counted_ml = sum(self.sums_ml.get(kind, 0.0) for kind in CORRECTIONS)
        if abs(counted_ml) > EMPTY_ML:
            more = "more" if counted_ml > 0 else "less"
            out.append(f"{said.volume(abs(counted_ml))} {more} by count")
        return in_a_row(left, self.place, *out)

    def _for_whom(self, kind: MovementKind, said: Wording) -> str:
        named = [
            f"{said.volume(each.volume_ml)} {said.day(each.day)} for {each.who}"
            for each in self.given
            if each.kind == kind
        ]
        return f" ({'; '.join(named)})" if named else ""


@dataclass
class _Future:
    """What was made with a source, and which of it the tree has shown."""

    said: Wording
    uses: dict[int, _Use]
    jars: dict[int, FilledJar]
    per_ml: dict[int, float | None]
    """mL of the source in a millilitre of each tincture it went into."""
    tinctures: dict[int, TinctureView]
    bottles: dict[int, list[_TracedBottle]]
    """By tincture."""
    drawn: dict[int, list[Drawn]]
    """By bottle."""
    added: Mapping[int, float]
    """mL of the source that went straight into batches, by batch."""
    taken: dict[int, list[PutIn]]
    """By the batch that it waited in."""
    fed: list[FedJar]
    """Jars that a tincture with some of it went on."""
    fed_jars: dict[int, FilledJar]
    shown: set[int] = field(default_factory=set)

    @classmethod
    def of(
        cls,
        keeper: Keeper,
        uses: dict[int, _Use],
        added: Mapping[int, float] = MappingProxyType({}),
    ) -> "_Future":
        jars = filled_jars(keeper, uses)
        of_jars = {
            jar.tincture_id: {"source": uses[jar.jar_id].per_ml(jar)}
            for jar in jars.values()
            if jar.tincture_id is not None
        }
        contents = through_blends(
            keeper, of_jars, {each: {"source": ml} for each, ml in added.items()}
        )
        taken: dict[int, list[PutIn]] = defaultdict(list)
        for one in put_in(keeper):
            if one.source_id is not None:
                taken[one.source_id].append(one)
        per_ml = {found: content["source"] for found, content in contents.items() if content}
        herbs = {jars[each].tincture_id for each, use in uses.items() if use.poured_ml is None}
        for tincture_id in per_ml:  # all of it is, whatever else was poured on
            if tincture_id in herbs:
                per_ml[tincture_id] = 1.0
        fed = [one for one in fed_jars(keeper) if one.from_id in per_ml]
        bottles: dict[int, list[_TracedBottle]] = defaultdict(list)
        for bottle in _bottles(keeper, per_ml):
            bottles[bottle.tincture_id].append(bottle)
        drawn: dict[int, list[Drawn]] = defaultdict(list)
        for each in blend_draws(keeper):
            drawn[each.bottle_id].append(each)
        tinctures = tincture_views(keeper, per_ml)
        return cls(wording(keeper), uses, jars, per_ml, tinctures, bottles, drawn, added, taken,
                   fed, filled_jars(keeper, {each.jar_id for each in fed}))  # fmt: skip

    def tree(self, root: Node) -> Node:
        children = [self.jar(jar) for jar in self.jars.values()]
        children += [self.tincture(each, ml) for each, ml in self.added.items()]
        return replace(root, children=tuple(children))

    def jar(self, jar: FilledJar) -> Node:
        use = self.uses[jar.jar_id]
        return Node(
            "jar",
            f"Jar {jar.code}",
            in_a_row(
                use.detail, f"filled {self.said.day(jar.filled_on)}", ending_words(jar, self.said)
            ),
            volume_ml=use.poured_ml,
            left_ml=jar.steeping_ml,
            contains_ml=use.in_jar_ml(jar),
            jar_id=jar.jar_id,
            children=() if jar.tincture_id is None else (self.tincture(jar.tincture_id),),
        )

    def tincture(self, tincture_id: int, drawn_ml: float | None = None) -> Node:
        """A tincture, or a blend that `drawn_ml` went into."""
        view = self.tinctures[tincture_id]
        jar = None if view.jar_id is None else self.jars.get(view.jar_id)
        node = tincture_node(view, jar, self.said)
        if drawn_ml is not None:
            node = replace(
                node,
                detail=f"{self.said.volume(drawn_ml)} blended in; {node.detail}",
                volume_ml=drawn_ml,
            )
        if tincture_id in self.shown:
            return replace(node, is_repeat=True)
        self.shown.add(tincture_id)
        bottles = []
        for bottle in self.bottles.get(tincture_id, ()):
            bottles.append(self.bottle(bottle))
        for each in self.taken.get(tincture_id, ()):
            bottles.append(self.tincture(each.batch_id, each.volume_ml))
        bottles += [
            self.poured_on(one)
            for one in self.fed
            if one.from_id == tincture_id and one.bottle_id is None
        ]
        return replace(
            node,
            left_ml=view.loose_ml,
            contains_ml=self._contained(tincture_id, view.loose_ml),
            children=tuple(bottles),
        )

    def poured_on(self, fed: FedJar) -> Node:
        """A jar on whose herb a tincture went, or whose marc held it."""
        jar = self.fed_jars[fed.jar_id]
        how = "held back in the marc" if fed.is_held_back else "poured on new herb"
        return Node(
            "jar",
            f"Jar {jar.code}",
            in_a_row(
                f"{self.said.volume(fed.volume_ml)} {how}",
                f"filled {self.said.day(jar.filled_on)}",
                ending_words(jar, self.said),
            ),
            volume_ml=fed.volume_ml,
            left_ml=jar.steeping_ml,
            contains_ml=self._contained(fed.from_id, fed.volume_ml) if jar.is_to_strain else 0.0,
            jar_id=jar.jar_id,
            children=() if jar.tincture_id is None else (self.tincture(jar.tincture_id),),
        )

    def bottle(self, bottle: _TracedBottle) -> Node:
        blends = []
        for drawn in self.drawn.get(bottle.bottle_id, ()):
            blends.append(self.tincture(drawn.blend_id, drawn.volume_ml))
        blends += [self.poured_on(one) for one in self.fed if one.bottle_id == bottle.bottle_id]
        return Node(
            "bottle",
            bottle.code,
            bottle.detail(self.said),
            volume_ml=bottle.sums_ml.get(MovementKind.FILL),
            left_ml=bottle.left_ml,
            contains_ml=self._contained(bottle.tincture_id, bottle.left_ml),
            tincture_id=bottle.tincture_id,
            bottle_id=bottle.bottle_id,
            children=tuple(blends),
        )

    def _contained(self, tincture_id: int, volume_ml: float) -> float | None:
        per_ml = self.per_ml[tincture_id]
        return None if per_ml is None else per_ml * volume_ml


def _bottles(keeper: Keeper, tincture_ids: Iterable[int]) -> list[_TracedBottle]:
    found: dict[int, _TracedBottle] = {}
    rows = keeper.rows(_BOTTLES, json.dumps(list(tincture_ids)))
    for bottle_id, code, tincture_id, place, kind, sum_ml in rows:
        bottle = found.setdefault(
            bottle_id, _TracedBottle(bottle_id, code, tincture_id, place, {}, [])
        )
        bottle.sums_ml[kind] = sum_ml
    for bottle_id, kind, volume_ml, *who, day in keeper.rows(_GIVEN, json.dumps(list(found))):
        given = _TakenFor(
            MovementKind(kind), volume_ml, " · ".join(filter(None, who)), date.fromisoformat(day)
        )
        found[bottle_id].given.append(given)
    return list(found.values())
