"""What was made with a source, from its jars to bottles and blends, as a tree.

Liquid is taken as evenly mixed: what is drawn from a tincture holds its sources in proportion, and
so does what the marc kept.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from types import MappingProxyType

from stillroom.keeping.bottles.losses import how_lost, losses_of_each
from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.contents import through_blends
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
    put_in,
    tincture_node,
)
from stillroom.keeping.trace.views import Node
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import in_a_row
from stillroom.reckoning.doses import in_each_ml
from stillroom.reckoning.states import CORRECTIONS, LOSSES, LossKind, MovementKind

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


@dataclass(frozen=True)
class Use:
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
class Future:
    """What was made with a source, and which of it the tree has shown."""

    said: Wording
    uses: dict[int, Use]
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
    lost: Mapping[int, Mapping[LossKind, float]]
    """mL lost before bottling by kind, by tincture."""
    shown: set[int] = field(default_factory=set)

    @classmethod
    def of(
        cls,
        keeper: Keeper,
        uses: dict[int, Use],
        added: Mapping[int, float] = MappingProxyType({}),
    ) -> "Future":
        """What was made with jars that used a source, and with batches that it was `added` to."""
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
                   fed, filled_jars(keeper, {each.jar_id for each in fed}),
                   losses_of_each(keeper, per_ml))  # fmt: skip

    def tree(self, root: Node) -> Node:
        """The source with everything below it."""
        children = [self.jar(jar) for jar in self.jars.values()]
        children += [self.tincture(each, ml) for each, ml in self.added.items()]
        return replace(root, children=tuple(children))

    def jar(self, jar: FilledJar) -> Node:
        """A jar that used it."""
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
        lost = [
            f"{self.said.volume(ml)} {how_lost(kind)}"
            for kind, ml in self.lost.get(tincture_id, {}).items()
        ]
        node = replace(node, detail=in_a_row(node.detail, *lost))
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
        """A bottle of a tincture with some of it."""
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
