"""Where a bottle came from: its tincture, jar or blend parts, down to each herb and spirit."""

from collections import defaultdict
from dataclasses import dataclass, field, replace
from typing import Any

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.graph import upstream
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.lineage import (
    Drawn,
    FilledJar,
    PutIn,
    blend_draws,
    charge_node,
    ending_words,
    filled_jars,
    marc_words,
    pour_node,
    put_in,
    put_in_node,
    tincture_node,
)
from stillroom.keeping.trace.views import Found, Node
from stillroom.keeping.views import PourView, TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import in_a_row
from stillroom.reckoning.states import LiquidKind

_CODES = """
    SELECT 'bottle', code, NULL, tincture_id, id FROM bottle
    UNION ALL
    SELECT 'tincture', t.code, s.jar_id, t.id, NULL
    FROM tincture t LEFT JOIN straining s ON s.id = t.straining_id
    UNION ALL
    SELECT 'jar', j.code, j.id, NULL, NULL FROM jar j
    WHERE NOT EXISTS (SELECT 1 FROM straining s JOIN tincture t ON t.straining_id = s.id
                      WHERE s.jar_id = j.id AND t.code = j.code)
"""


def find_code(keeper: Keeper, text: str) -> Found:
    """What a code refers to, in any case, alone or at the start of a label's QR text.

    A strained jar and its tincture share a code: then it is the tincture. Refused where there is
    no such code.
    """
    wanted = text.strip().casefold()
    codes = keeper.rows(_CODES)
    heads = [row for row in codes if row[1] and _is_head(row[1].casefold(), wanted)]
    now = max(heads, key=lambda row: len(row[1]), default=None)
    if old := _old_codes(keeper, wanted, at_least=len(now[1]) if now else 0):
        by_code = {row[1]: row for row in codes}
        if now and len(now[1]) == len(old[0][0]):
            old.append((now[1], now[1], "now"))
        heads = [by_code[new] for _, new, _ in old if new in by_code]
        if len(heads) > 1:
            raise AmbiguousCode(_choices(keeper, old, heads))
    if not heads:
        shown = " ".join(text.split())[:40]
        raise Refused(f"No jar, batch or bottle has the code {shown}.")
    kind, code, jar_id, tincture_id, bottle_id = max(heads, key=lambda row: len(row[1]))
    return Found(kind, code, jar_id, tincture_id, bottle_id)


class AmbiguousCode(Refused):
    """A code that two shelves had, each for something else, when they were joined."""


def _old_codes(keeper: Keeper, wanted: str, at_least: int) -> list[tuple[str, str, str]]:
    """What a text is the old code of: old code, new code and shelf, where it is that rather."""
    rows = keeper.rows("SELECT code, new_code, shelf FROM code_alias ORDER BY id")
    found = [row for row in rows if _is_head(row[0].casefold(), wanted)]
    longest = max((len(row[0]) for row in found), default=0)
    return [row for row in found if len(row[0]) == longest >= at_least]


def _choices(keeper: Keeper, old: list[tuple[str, str, str]], heads: list[tuple[Any, ...]]) -> str:
    """The things that an old code may be, each with its shelf and its new code."""
    names = {}
    for _, code, jar_id, tincture_id, _ in heads:
        rows = keeper.rows(
            """SELECT h.name FROM charge_line l JOIN herb h ON h.id = l.herb_id
               WHERE l.jar_id = coalesce(?, (SELECT s.jar_id FROM tincture t JOIN straining s
                     ON s.id = t.straining_id WHERE t.id = ?)) ORDER BY l.id LIMIT 1""",
            jar_id,
            tincture_id,
        )
        names[code] = f" {rows[0][0]}" if rows else ""
    said = " or ".join(f"{new}{names[new]} ({shelf})" for _, new, shelf in old if new in names)
    count = {2: "two", 3: "three"}.get(len(names), str(len(names)))
    return f"{old[0][0]} was the code of {count} things: {said}. Use the new code."


def _is_head(code: str, text: str) -> bool:
    """Whether the text is the code, or goes on after it with something that is not code."""
    rest = text[len(code) :]
    ends = not rest or not (rest[0].isalnum() or (rest[0] in "-." and rest[1:2].isalnum()))
    return text.startswith(code) and ends


def trace(keeper: Keeper, text: str) -> Node:
    """Where whatever has this code came from."""
    found = find_code(keeper, text)
    if found.bottle_id is not None:
        return trace_bottle(keeper, found.bottle_id)
    if found.tincture_id is not None:
        return trace_tincture(keeper, found.tincture_id)
    assert found.jar_id is not None
    return _Past.of_jars(keeper, [found.jar_id]).jar(found.jar_id)


def trace_bottle(keeper: Keeper, bottle_id: int) -> Node:
    """Where a bottle's liquid came from, down to each gathering and each spirit."""
    row = bottle_row(keeper, bottle_id)
    said = wording(keeper)
    detail = f"holds {said.volume(row.left_ml)} of {said.volume(row.size_ml)}"
    return Node(
        "bottle",
        row.code,
        in_a_row(detail, row.place),
        left_ml=row.left_ml,
        tincture_id=row.tincture_id,
        bottle_id=bottle_id,
        children=(trace_tincture(keeper, row.tincture_id),),
    )


def trace_tincture(keeper: Keeper, tincture_id: int) -> Node:
    """Where a tincture came from, through blends of any depth."""
    return _Past.of_tincture(keeper, tincture_id).tincture(tincture_id)


@dataclass
class _Past:
    """What is behind some tinctures, and which of it the tree has shown."""

    said: Wording
    tinctures: dict[int, TinctureView]
    jars: dict[int, FilledJar]
    parts: dict[int, list[Drawn]]
    inputs: dict[int, list[PutIn]]
    shown: set[int] = field(default_factory=set)

    @classmethod
    def of_tincture(cls, keeper: Keeper, tincture_id: int) -> "_Past":
        past = cls._behind(keeper, [tincture_id], [])
        if tincture_id not in past.tinctures:
            raise Refused("That tincture no longer exists.")
        return past

    @classmethod
    def of_jars(cls, keeper: Keeper, jar_ids: list[int]) -> "_Past":
        jars = filled_jars(keeper, jar_ids).values()
        poured = {pour.source_id for jar in jars for pour in jar.pours if pour.source_id}
        return cls._behind(keeper, sorted(poured), jar_ids)

    @classmethod
    def _behind(cls, keeper: Keeper, tincture_ids: list[int], jar_ids: list[int]) -> "_Past":
        within = upstream(keeper, tincture_ids)
        tinctures = tincture_views(keeper, within)
        parts: dict[int, list[Drawn]] = defaultdict(list)
        for drawn in blend_draws(keeper):
            parts[drawn.blend_id].append(drawn)
        inputs: dict[int, list[PutIn]] = defaultdict(list)
        for each in put_in(keeper):
            inputs[each.batch_id].append(each)
        of_tinctures = [t.jar_id for t in tinctures.values() if t.jar_id is not None]
        jars = filled_jars(keeper, [*of_tinctures, *jar_ids])
        return cls(wording(keeper), tinctures, jars, parts, inputs)

    def tincture(self, tincture_id: int) -> Node:
        view = self.tinctures[tincture_id]
        node = tincture_node(view, self.jars.get(view.jar_id or 0), self.said)
        if tincture_id in self.shown:
            return replace(node, is_repeat=True)
        self.shown.add(tincture_id)
        children = []
        if view.jar_id is not None:
            children.append(self.jar(view.jar_id))
        for drawn in self.parts.get(tincture_id, ()):
            children.append(self.part(drawn))
        for each in self.inputs.get(tincture_id, ()):
            children.append(self.put_in(each))
        return replace(node, children=tuple(children))

    def put_in(self, each: PutIn) -> Node:
        if each.source_id is None:
            return put_in_node(each, self.said)
        node = self.tincture(each.source_id)
        taken = f"{self.said.volume(each.volume_ml)} taken {self.said.day(each.day)}"
        return replace(node, detail=f"{taken}; {node.detail}", volume_ml=each.volume_ml)

    def part(self, drawn: Drawn) -> Node:
        return Node(
            "bottle",
            drawn.code,
            f"{self.said.volume(drawn.volume_ml)} drawn {self.said.day(drawn.day)}",
            volume_ml=drawn.volume_ml,
            tincture_id=drawn.from_id,
            bottle_id=drawn.bottle_id,
            children=(self.tincture(drawn.from_id),),
        )

    def pour(self, pour: PourView) -> Node:
        if pour.source_id not in self.tinctures:
            return pour_node(pour, self.said)
        node = self.tincture(pour.source_id)
        how = "held back by the marc"
        if pour.kind is LiquidKind.TINCTURE:
            how = f"poured on {self.said.day(pour.poured_on)} from {pour.source}"
        detail = f"{self.said.volume(pour.volume_ml)} {how}; {node.detail}"
        return replace(node, detail=detail, volume_ml=pour.volume_ml)

    def jar(self, jar_id: int) -> Node:
        jar = self.jars[jar_id]
        went_in = [charge_node(charge, self.said) for charge in jar.charges]
        went_in += [self.pour(pour) for pour in jar.pours]
        return Node(
            "jar",
            f"Jar {jar.code}",
            in_a_row(
                marc_words(jar),
                f"filled {self.said.day(jar.filled_on)}",
                ending_words(jar, self.said),
            ),
            left_ml=jar.steeping_ml,
            jar_id=jar_id,
            children=tuple(went_in),
        )
