"""Judge the shelf after a correction: what can't be true, with the way out."""

import json
from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date

from stillroom.keeping.correcting.judge_cupboard import judge_cupboard
from stillroom.keeping.correcting.kinds import Obstacle, Subject, SubjectKind
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.wording import Wording, wording
from stillroom.reckoning.states import CORRECTIONS, MovementKind, in_sql


def judge(
    keeper: Keeper, subject: Subject, jar_ids: Collection[int], tincture_ids: Collection[int]
) -> list[Obstacle]:
    """What can't be true of these jars and tinctures, of their bottles and of every spirit."""
    said = wording(keeper)
    judged = _Judge(keeper, said, subject)
    return [
        *judged.jars(jar_ids),
        *judged.tinctures(tincture_ids),
        *judged.bottles(tincture_ids),
        *judged.returns(tincture_ids),
        *judged.blends(tincture_ids),
        *judge_cupboard(keeper, said, subject),
    ]


@dataclass(frozen=True)
class _JudgedBottle:
    bottle_id: int
    code: str
    number: int
    """Its place among the bottles of its tincture, from 1."""
    owner: Subject
    size_ml: float
    filled_on: str


@dataclass(frozen=True)
class _Line:
    """A movement of a bottle."""

    kind: str
    day: str
    volume_ml: float
    blend: str
    """Code of the blend it went into, or blank."""


@dataclass(frozen=True)
class _Judge:
    keeper: Keeper
    said: Wording
    subject: Subject
    """What the form is about: its facts are named without its code."""

    def _day(self, day: str) -> str:
        return self.said.day(date.fromisoformat(day))

    def _named(self, code: str, jar_id: int | None, tincture_id: int, name: str) -> str:
        own = (
            Subject(SubjectKind.BLEND, tincture_id)
            if jar_id is None
            else Subject(SubjectKind.JAR, jar_id)
        )
        return name if own == self.subject else f"{code}:{name}"

    def _of_bottle(self, bottle: "_JudgedBottle", name: str) -> str:
        own = self.subject == Subject(SubjectKind.BOTTLE, bottle.bottle_id)
        return name if own else f"{bottle.code}:{name}"

    def _of_filling(self, bottle: "_JudgedBottle", name: str) -> str:
        """A fact of how it was filled, in the form of its tincture where that is open."""
        if self.subject == bottle.owner:
            return f"bottle-{bottle.number}.{name}"
        return self._of_bottle(bottle, name)

    def _of_jar(self, jar_id: int, code: str, name: str) -> str:
        own = self.subject == Subject(SubjectKind.JAR, jar_id)
        return name if own else f"{code}:{name}"

    def jars(self, jar_ids: Collection[int]) -> Iterator[Obstacle]:
        """Each jar has herb and liquid, and its days are in order."""
        today = self.keeper.today.isoformat()
        rows = self.keeper.rows(
            """SELECT j.id, j.code, j.state, j.ended_on,
                      (SELECT count(*) FROM charge_line WHERE jar_id = j.id),
                      (SELECT count(*) FROM pour WHERE jar_id = j.id)
               FROM jar j WHERE j.id IN (SELECT value FROM json_each(?))""",
            json.dumps(list(jar_ids)),
        )
        for jar_id, code, state, ended_on, herbs, pours in rows:
            if not herbs:
                yield Obstacle(f"Jar {code} needs a herb.")
            if not pours:
                name = self._of_jar(jar_id, code, "pour-1.volume")
                yield Obstacle(f"Jar {code} needs liquid: spirit, water or both.", (name,))
            yield from self._goes(jar_id, code)
            if ended_on is None:
                continue
            ended = self._of_jar(jar_id, code, state)
            if ended_on > today:
                yield Obstacle(f"Jar {code} would be {state} in the future.", (ended,))
            yield from self._pours(jar_id, code, state, ended_on)

    def _goes(self, jar_id: int, code: str) -> Iterator[Obstacle]:
        rows = self.keeper.rows(
            """SELECT g.strained_on, j.filled_on FROM straining_go g
               JOIN straining s ON s.id = g.straining_id JOIN jar j ON j.id = s.jar_id
               WHERE j.id = ? ORDER BY g.strained_on, g.id""",
            jar_id,
        )
        for number, (day, filled_on) in enumerate(rows, start=1):
            name = self._of_jar(jar_id, code, f"go-{number}.strained")
            if day < filled_on:
                yield Obstacle(
                    f"Go {number} would be on {self._day(day)}, before the jar was filled. "
                    f"Correct that day too: {name}=…",
                    (name,),
                )
            elif day > self.keeper.today.isoformat():
                yield Obstacle(f"Go {number} would be in the future.", (name,))

    def _pours(self, jar_id: int, code: str, state: str, ended_on: str) -> Iterator[Obstacle]:
        rows = self.keeper.rows("SELECT poured_on FROM pour WHERE jar_id = ? ORDER BY id", jar_id)
        for number, (day,) in enumerate(rows, start=1):
            if day > ended_on:
                name = self._of_jar(jar_id, code, f"pour-{number}.day")
                ended = self._of_jar(jar_id, code, state)
                yield Obstacle(
                    f"Liquid {number} of {code} would be poured on {self._day(day)}, but the jar "
                    f"was {state} on {self._day(ended_on)}. Correct one of these days too: "
                    f"{name}=… or {ended}=…",
                    (name, ended),
                )

    def tinctures(self, tincture_ids: Collection[int]) -> Iterator[Obstacle]:
        """No more is bottled and written off than there was."""
        rows = self.keeper.rows(
            """SELECT t.id, t.code, s.jar_id, t.volume_ml, t.lost_ml,
                      (SELECT t.volume_ml - t.lost_ml - left_ml FROM unbottled
                       WHERE tincture_id = t.id),
                      (SELECT count(*) FROM bottle WHERE tincture_id = t.id),
                      t.keep_until_by_hand AND t.keep_until < t.made_on
               FROM tincture t LEFT JOIN straining s ON s.id = t.straining_id
               WHERE t.id IN (SELECT value FROM json_each(?)) ORDER BY t.id""",
            json.dumps(list(tincture_ids)),
        )
        for tincture_id, code, jar_id, volume_ml, lost_ml, bottled_ml, bottles, early in rows:
            if early:
                name = self._named(code, jar_id, tincture_id, "keep-until")
                yield Obstacle(
                    f"The keep-until date of {code} would be before the day it was made. Correct "
                    f"that too: {name}=…",
                    (name,),
                )
            if bottled_ml + lost_ml <= volume_ml + EMPTY_ML:
                continue
            names = [
                self._named(code, jar_id, tincture_id, f"bottle-{number}.volume")
                for number in range(1, bottles + 1)
            ]
            lost = f" and {self.said.volume(lost_ml)} written off" if lost_ml > EMPTY_ML else ""
            if lost:
                names.append(self._named(code, jar_id, tincture_id, "lost"))
            used = self._used(tincture_id)
            names += used
            if not bottles and not used:
                did = f"{self.said.volume(lost_ml)} of {code} was written off"
            else:
                what = " or ".join(["bottled"] * bool(bottles) + ["used"] * bool(used))
                did = f"{self.said.volume(bottled_ml)} was {what}{lost} from {code}"
            way_out = "the bottling" if bottles or not used else "what it went into"
            yield Obstacle(
                f"{did}, but there would be only {self.said.volume(volume_ml)}. "
                f"Correct {way_out} too, such as {names[0]}=…",
                tuple(names),
            )

    def _used(self, tincture_id: int) -> list[str]:
        """Names of facts of other batches and jars: how much they took of it before bottling."""
        rows = self.keeper.rows(
            """SELECT t.id, t.code,
                      (SELECT count(*) FROM batch_input o WHERE o.tincture_id = t.id
                       AND o.movement_id IS NULL AND o.id <= i.id)
               FROM batch_input i JOIN tincture t ON t.id = i.tincture_id
               WHERE i.source_id = ? ORDER BY i.id""",
            tincture_id,
        )
        poured = self.keeper.rows(
            """SELECT j.id, j.code, (SELECT count(*) FROM pour o
                                     WHERE o.jar_id = p.jar_id AND o.id <= p.id)
               FROM pour p JOIN jar j ON j.id = p.jar_id
               WHERE p.source_id = ? ORDER BY p.id""",
            tincture_id,
        )
        return [
            self._named(code, None, batch_id, f"input-{number}.volume")
            for batch_id, code, number in rows
        ] + [self._of_jar(jar_id, code, f"pour-{number}.volume") for jar_id, code, number in poured]

    def bottles(self, tincture_ids: Collection[int]) -> Iterator[Obstacle]:
        """A bottle's content is never negative or more than its size, on any day."""
        ledgers: dict[int, list[_Line]] = defaultdict(list)
        wanted = json.dumps(list(tincture_ids))
        for bottle_id, *line in self.keeper.rows(
            """SELECT m.bottle_id, m.kind, m.day, m.volume_ml,
                      coalesce((SELECT t.code FROM batch_input p JOIN tincture t
                                ON t.id = p.tincture_id WHERE p.movement_id = m.id), '')
               FROM bottle b JOIN movement m ON m.bottle_id = b.id
               WHERE b.tincture_id IN (SELECT value FROM json_each(?)) ORDER BY m.id""",
            wanted,
        ):
            ledgers[bottle_id].append(_Line(*line))
        for (
            bottle_id,
            code,
            number,
            size_ml,
            filled_on,
            made_on,
            tincture_id,
            tincture,
            jar_id,
        ) in self.keeper.rows(
            """SELECT b.id, b.code, row_number() OVER (PARTITION BY t.id ORDER BY b.id),
                          b.size_ml, b.filled_on, t.made_on, t.id, t.code, s.jar_id
                   FROM bottle b JOIN tincture t ON t.id = b.tincture_id
                   LEFT JOIN straining s ON s.id = t.straining_id
                   WHERE b.tincture_id IN (SELECT value FROM json_each(?)) ORDER BY b.id""",
            wanted,
        ):
            owner = (
                Subject(SubjectKind.BLEND, tincture_id)
                if jar_id is None
                else Subject(SubjectKind.JAR, jar_id)
            )
            bottle = _JudgedBottle(bottle_id, code, number, owner, size_ml, filled_on)
            if filled_on < made_on:
                made = "strained" if jar_id is not None else "blended"
                name = self._of_filling(bottle, "day")
                yield Obstacle(
                    f"Bottle {code} was filled on {self._day(filled_on)}, before {tincture} would "
                    f"be {made}. Correct that day too: {name}=…",
                    (name,),
                )
            if filled_on > self.keeper.today.isoformat():
                yield Obstacle(f"Bottle {code} would be filled in the future.")
            yield from self._ledger(bottle, ledgers[bottle_id])

    def returns(self, tincture_ids: Collection[int]) -> Iterator[Obstacle]:
        """No more comes back than was drawn and given, and on no day before the filling."""
        rows = self.keeper.rows(
            f"""SELECT b.id, b.code, b.filled_on, r.number, r.day, r.back_ml, r.is_last,
                       coalesce((SELECT -sum(volume_ml) FROM movement WHERE bottle_id = b.id
                                 AND kind IN {in_sql((MovementKind.DRAW, MovementKind.GIVE))}), 0)
                FROM bottle b JOIN (
                    SELECT bottle_id, day, row_number() OVER w AS number,
                           sum(volume_ml) OVER (PARTITION BY bottle_id) AS back_ml,
                           lead(id) OVER w IS NULL AS is_last
                    FROM returned WINDOW w AS (PARTITION BY bottle_id ORDER BY id)
                ) r ON r.bottle_id = b.id
                WHERE b.tincture_id IN (SELECT value FROM json_each(?))""",
            json.dumps(list(tincture_ids)),
        )
        for bottle_id, code, filled_on, number, day, back_ml, is_last, out_ml in rows:
            own = self.subject == Subject(SubjectKind.BOTTLE, bottle_id)
            name = f"{'' if own else f'{code}:'}returned-{number}"
            if not filled_on <= day <= self.keeper.today.isoformat():
                yield Obstacle(
                    f"Liquid of {code} would come back on {self._day(day)}: it must be from the "
                    f"filling until today. Correct that day too: {name}.day=…",
                    (f"{name}.day",),
                )
            if is_last and back_ml > out_ml + EMPTY_ML:
                yield Obstacle(
                    f"{self.said.volume(back_ml)} of {code} came back, but only "
                    f"{self.said.volume(max(0.0, out_ml))} would be drawn or given. Correct that "
                    f"too: {name}.volume=…",
                    (f"{name}.volume",),
                )

    def _ledger(self, bottle: "_JudgedBottle", lines: list["_Line"]) -> Iterator[Obstacle]:
        code = bottle.code
        if not lines or lines[0].kind != MovementKind.FILL:
            yield Obstacle(f"Bottle {code} would be drawn from before it was filled.")
            return
        if lines[0].volume_ml > bottle.size_ml + EMPTY_ML:
            name = self._of_filling(bottle, "size")
            yield Obstacle(
                f"Bottle {code} of {self.said.volume(bottle.size_ml)} can't hold "
                f"{self.said.volume(lines[0].volume_ml)}. Correct its size too: {name}=…",
                (name,),
            )
            return
        held_ml = 0.0
        for number, line in enumerate(lines):
            held_ml += line.volume_ml
            if line.day < bottle.filled_on:
                name = self._day_of(bottle, number, line)
                yield Obstacle(
                    f"Bottle {code} would be filled on {self._day(bottle.filled_on)}, after the "
                    f"{line.kind} of {self._day(line.day)}. Correct that day too: {name}=…",
                    (name,),
                )
            if not -EMPTY_ML <= held_ml <= bottle.size_ml + EMPTY_ML:
                name = self._volume_of(bottle, number, line)
                yield Obstacle(
                    f"Bottle {code} would hold {self._volume(held_ml)} after the {line.kind} of "
                    f"{self.said.volume(abs(line.volume_ml))} on {self._day(line.day)}. Correct "
                    f"that too: {name}=…",
                    (name,),
                )
                return
        yield from self._day_by_day(bottle, lines)

    def _day_by_day(self, bottle: "_JudgedBottle", lines: list["_Line"]) -> Iterator[Obstacle]:
        of_days: dict[str, float] = defaultdict(float)
        for line in lines:
            of_days[line.day] += line.volume_ml
        held_ml = 0.0
        for day in sorted(of_days):
            held_ml += of_days[day]
            if held_ml < -EMPTY_ML:
                number, line = next(
                    (n, line)
                    for n, line in enumerate(lines)
                    if line.day == day and line.volume_ml < 0
                )
                name = self._day_of(bottle, number, line)
                yield Obstacle(
                    f"Bottle {bottle.code} would hold {self._volume(held_ml)} on "
                    f"{self._day(day)}. Correct that day or volume too: {name}=…",
                    (name,),
                )
                return

    def _day_of(self, bottle: "_JudgedBottle", number: int, line: "_Line") -> str:
        if line.blend:
            return "made" if self._is_open(line.blend) else f"{line.blend}:made"
        return self._of_bottle(bottle, f"movement-{number}.day")

    def _volume_of(self, bottle: "_JudgedBottle", number: int, line: "_Line") -> str:
        if line.blend:
            return "part-1.volume" if self._is_open(line.blend) else f"{line.blend}:part-1.volume"
        field = "seen" if line.kind in CORRECTIONS else "volume"
        return self._of_bottle(bottle, f"movement-{number}.{field}")

    def _is_open(self, blend: str) -> bool:
        ids = self.keeper.rows("SELECT id FROM tincture WHERE code = ?", blend)
        return self.subject.kind is SubjectKind.BLEND and ids == [(self.subject.row_id,)]

    def _volume(self, volume_ml: float) -> str:
        sign = "−" if volume_ml < 0 else ""
        return f"{sign}{self.said.volume(abs(volume_ml))}"

    def blends(self, tincture_ids: Collection[int]) -> Iterator[Obstacle]:
        """A batch has two tinctures at least, or one and an addition; each is older than it."""
        parts: dict[int, set[int]] = defaultdict(set)
        wanted = json.dumps(list(tincture_ids))
        for blend_id, code, made_on, from_id, from_code, from_made_on in self.keeper.rows(
            """SELECT t.id, t.code, t.made_on, s.id, s.code, s.made_on FROM batch_input p
               JOIN tincture t ON t.id = p.tincture_id
               LEFT JOIN movement m ON m.id = p.movement_id
               LEFT JOIN bottle b ON b.id = m.bottle_id
               JOIN tincture s ON s.id = coalesce(p.source_id, b.tincture_id)
               WHERE t.id IN (SELECT value FROM json_each(?)) ORDER BY p.id""",
            wanted,
        ):
            parts[blend_id].add(from_id)
            if from_made_on > made_on:
                name = self._named(code, None, blend_id, "made")
                yield Obstacle(
                    f"Blend {code} was made on {self._day(made_on)}, before {from_code} would "
                    f"exist. Correct that day too: {name}=…",
                    (name,),
                )
        for blend_id, code, made_on, added in self.keeper.rows(
            """SELECT id, code, made_on,
                      (SELECT count(*) FROM batch_input WHERE tincture_id = tincture.id
                       AND movement_id IS NULL AND source_id IS NULL)
               FROM tincture
               WHERE straining_id IS NULL AND id IN (SELECT value FROM json_each(?))""",
            wanted,
        ):
            if not parts[blend_id]:
                yield Obstacle(f"Batch {code} needs a tincture.")
            elif len(parts[blend_id]) < 2 and not added:
                yield Obstacle(f"Blend {code} needs two tinctures.")
            if made_on > self.keeper.today.isoformat():
                yield Obstacle("The blending date is in the future.")
