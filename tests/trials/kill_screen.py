"""Kills the real program right after the screen has shown something, and checks that it is saved.

    python tests/trials/kill_screen.py --times 500 [--seed 1] [--folder DIR]

Keys shake, fill, strain, bottle, draw and undo on the sample shelf in a terminal. As soon as an
effect shows, SIGKILL ends the program, or else while the next key is at work. Then all that was
shown and not undone must be on disk, nothing beyond it but that one key's work as a whole, `check`
must find nothing, and the program started again must show what it showed. Ends with 1 and a
sentence on the first failure.
"""

import argparse
import re
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from datetime import date
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
sys.path.insert(0, str(Path(__file__).parent))

from picture import Picture
from program import READY, Place
from terminal import Terminal

from stillroom.quantities import show
from stillroom.reckoning.kinds import Kind

KEEP, ESCAPE = b"\x13", b"\x1b[27u"
LEFT, RIGHT, UP, DOWN = b"\x1b[D", b"\x1b[C", b"\x1b[A", b"\x1b[B"
ALL_SHAKES = 9
HELP = "All commands"
"""On the key line of the help."""
FRESH_AFTER = 40
"""Kills after which another copy of the sample is begun, before its spirits run out."""
LONGEST_AFTER_KEY_S = 0.012
SHORT_TITLE = 30
"""Letters of an action's title that are sure to stand on the first line of a toast."""

Proof = Callable[[Place], bool]
"""Whether something that was shown is on disk."""


class Wrong(Exception):
    """What was shown isn't what is stored, or what was done wasn't shown."""


def squeezed(text: str) -> str:
    """Text without blanks and frames, as a toast may break a line anywhere."""
    return re.sub(r"[\s│▌▐]", "", text)


def head(picture: Picture) -> str:
    """What the line above the shelves says, blank on another page."""
    found = re.match(r" ((?:[○✓]|no jar to shake).*?)   ", picture.lines[0])
    return found[1] if found else ""


def chosen_jar(picture: Picture) -> tuple[str, int] | None:
    """Code of the jar at the cursor and how many of its shakes are ticked, if both can be seen."""
    code = next(
        filter(None, (re.match(r" (\d\d-\d{3}) ", line) for line in picture.lines[-5:])), None
    )
    top = next((y for y, row in enumerate(picture.cells) if "▶" in row), None)
    if code is None or top is None:
        return None
    row = picture.cells[top]
    left, right = row.index("▶"), row.index("◀") if "◀" in row else row.index("▶") + 19
    plank = (y for y, line in enumerate(picture.lines) if y > top and line.startswith("━━"))
    jar = picture.window(left, right, top, next(plank, len(picture.lines)))
    ticks = re.search(r"(✓) shaken|(○) to shake|◐ (\d) of", jar)
    if ticks is None:
        return None
    return code[1], int(ticks[3] or (ALL_SHAKES if ticks[1] else 0))


def is_on_trial_jar(picture: Picture) -> bool:
    """Whether the jar at the cursor was filled here."""
    return any(re.search(r"▶\S? *Trial ", line) for line in picture.lines)


def cursor(picture: Picture) -> list[tuple[int, str]]:
    """The lines with the cursor's marks, and where they are."""
    return [(at, line) for at, line in enumerate(picture.lines) if "▶" in line]


def chosen_bottle(picture: Picture) -> tuple[str, str] | None:
    """Code of the bottle at the cursor and what the list says is left in it."""
    for line in picture.lines:
        if found := re.match(r"▶.? +(\d\d-\d{3}\.\d+) .*? ([\d.,]+ m?L) ", line):
            return found[1], found[2]
    return None


class Hand:
    """Does things by keys, waits until their effect shows, and keeps how to prove each."""

    def __init__(self, place: Place, terminal: Terminal, proofs: list[Proof], random: Random):
        self.place, self.terminal, self.random = place, terminal, random
        self.proofs = proofs
        """Of all that was shown and not undone, oldest first."""
        self.seen: Counter[str] = Counter()
        self.last = ""
        """What was seen last."""

    @property
    def picture(self) -> Picture:
        """What the screen shows."""
        return self.terminal.picture

    def act(self) -> None:
        """Try one random thing after another until an effect has shown."""
        before = self.seen.total()
        deeds = (self.shake, self.shake_all, self.fill, self.strain, self.draw, self.undo)
        while self.seen.total() == before:
            (deed,) = self.random.choices(deeds, (7, 0.5, 3, 3, 3, 3))
            deed()

    def press(self, keys: bytes) -> None:
        """Press keys that change nothing in the shelf."""
        self.terminal.send(keys)
        self.terminal.calm()

    def wander(self, back: bytes, on: bytes) -> None:
        """Move the cursor a few times, and see that it has come to rest."""
        key = self.random.choice((back, on))
        for _ in range(self.random.randint(1, 6)):
            before = cursor(self.picture)
            self.press(key)
            if cursor(self.picture) == before:  # at either end
                key = back if key == on else on
        # Keys are taken in turn: once the help has come and gone, all of these have been.
        self.open(b"?", HELP)
        self.terminal.send(ESCAPE)
        self.terminal.wait_until(lambda picture: HELP not in picture.text)
        self.terminal.calm()

    def open(self, key: bytes, title: str) -> None:
        """Open a page or a form."""
        self.terminal.send(key)
        self.terminal.wait_until(lambda picture: title in picture.text)
        self.terminal.calm()

    def see(self, name: str, shows: Callable[[Picture], object]) -> None:
        """Wait until an effect shows."""
        try:
            self.terminal.wait_until(shows)
        except TimeoutError as error:
            raise Wrong(f"{name}: {error}") from error
        self.seen[name] += 1
        self.last = name

    def shake(self) -> None:
        """One jar, if it can be."""
        self.wander(LEFT, RIGHT)
        before = chosen_jar(self.picture)
        if before is None or before[1] == ALL_SHAKES:
            return
        self.terminal.send(b" ")
        code = before[0]
        more = range(before[1] + 1, ALL_SHAKES + 1)
        self.see("shake", lambda picture: chosen_jar(picture) in [(code, each) for each in more])
        _, ticked = chosen_jar(self.picture) or before
        today = str(date.today())
        self.proofs.append(
            lambda place: place.ask(
                """SELECT count(*) >= min(?, j.shakes_per_day)
                   FROM jar j JOIN shake s ON s.jar_id = j.id WHERE j.code = ? AND s.day = ?""",
                ticked, code, today,
            )
        )  # fmt: skip

    def shake_all(self) -> None:
        """All jars, if any is left."""
        told = re.compile(r"▌ +(\d+) shaken")
        if " to shake" not in head(self.picture) or told.search(self.picture.text):
            return
        self.terminal.send(b"a")
        self.see("shake all", lambda picture: told.search(picture.text))
        count = int(told.findall(self.picture.text)[0])
        today = str(date.today())
        self.proofs.append(
            lambda place: place.ask("SELECT count(*) FROM shake WHERE day = ?", today) >= count
        )

    def fill(self) -> None:
        """A jar of 10 g with 40 mL."""
        herb = f"Trial {self.random.randrange(10**6):06d}"
        self.open(b"n", "─ Fill a jar ─")
        self.terminal.send(f"{herb}\t\t\t\t10 g\t\t\t\t\t40 ml".encode() + KEEP)
        told = re.compile(squeezed(f"Filled {herb}") + r"(\d\d-\d{3})")
        self.see("fill", lambda picture: told.search(squeezed(picture.text)))
        code = told.findall(squeezed(self.picture.text))[0]
        self.proofs.append(
            lambda place: place.ask(
                """SELECT count(*) = 1 AND sum(c.mass_g) = 10 AND sum(p.volume_ml) = 40
                   FROM jar j JOIN charge_line c ON c.jar_id = j.id JOIN pour p ON p.jar_id = j.id
                   JOIN herb h ON h.id = c.herb_id WHERE j.code = ? AND h.name = ?""",
                code, herb,
            )
        )  # fmt: skip

    def strain(self) -> None:
        """A jar that was filled here, found by its herb; mostly bottled at once."""
        self.terminal.send(b"/trial\r")
        # The words show a moment before the jars that match them do.
        self.terminal.wait_until(
            lambda picture: (
                READY in picture.text
                and ("No jar matches “trial”" in picture.text or is_on_trial_jar(picture))
            )
        )
        self.terminal.calm()
        if jar := chosen_jar(self.picture):
            code = jar[0]
            self.open(b"s", "─ Strain ─")
            self.terminal.send(b"30 ml" + KEEP)
            self.see("strain", lambda picture: "30 mL to bottle." in picture.flat)
            self.proofs.append(
                lambda place: place.ask(
                    """SELECT j.state = 'strained' AND s.yield_ml = 30 AND t.volume_ml = 30
                       FROM jar j JOIN straining s ON s.jar_id = j.id
                       JOIN tincture t ON t.straining_id = s.id WHERE j.code = ?""",
                    code,
                )
            )
            if self.random.random() < 0.7:
                self.bottle(code)
            else:
                self.press(ESCAPE)
        self.press(ESCAPE)
        self.terminal.calm()

    def bottle(self, code: str) -> None:
        """What the open form proposes."""
        self.terminal.send(KEEP)
        told = re.compile(rf"▌ +Bottled Trial \d+ {code}")
        self.see("bottle", lambda picture: told.search(picture.text))
        self.proofs.append(
            lambda place: place.ask(
                """SELECT sum(m.volume_ml) = 30 FROM tincture t
                   JOIN bottle b ON b.tincture_id = t.id JOIN movement m ON m.bottle_id = b.id
                   WHERE t.code = ? AND m.kind = 'fill'""",
                code,
            )
        )

    def draw(self) -> None:
        """A millilitre of some bottle."""
        self.open(b"2", "Left Strength")
        self.wander(UP, DOWN)
        before = chosen_bottle(self.picture)
        if before is not None and before[1] != "1 mL":  # what is emptied leaves the list
            code, number = before[0], 1 + self.place.ask(_DRAWS, before[0])
            self.open(b"d", "─ Draw ─")
            self.press(b"1 ml" + KEEP)
            if "ctrl+s again" in self.picture.flat:  # what is past its date is asked about
                self.terminal.send(KEEP)
            self.see(
                "draw",
                lambda picture: (
                    "─ Draw ─" not in picture.text
                    and (now := chosen_bottle(picture))
                    and (now[0] == code and now[1] != before[1])
                ),
            )
            _, left = chosen_bottle(self.picture) or before
            self.proofs.append(
                lambda place: show(Kind.VOLUME, place.ask(_LEFT, code, number) or 0.0) == left
            )
        self.open(b"1", "r Round")

    def undo(self) -> None:
        """The last thing done, in this run or before."""
        # Beside the second line of a toast stand jars, so what breaks cannot be looked for whole.
        told = squeezed(f"Undone: {self.place.last_action[:SHORT_TITLE]}")
        if not self.proofs or told in squeezed(self.picture.text):  # a toast of before
            return
        self.terminal.send(b"u")
        self.see("undo", lambda picture: told in squeezed(picture.text))
        self.proofs.pop()


_DRAWS = """SELECT count(*) FROM movement m JOIN bottle b ON b.id = m.bottle_id
            WHERE b.code = ? AND m.kind = 'draw'"""
_LEFT = """SELECT left_ml FROM (
             SELECT m.kind, sum(m.volume_ml) OVER (ORDER BY m.id) AS left_ml,
                    sum(m.kind = 'draw') OVER (ORDER BY m.id) AS draws
             FROM movement m JOIN bottle b ON b.id = m.bottle_id WHERE b.code = ?)
           WHERE kind = 'draw' AND draws = ?"""


class Trial:
    """A shelf that is worked at, killed and judged again and again."""

    def __init__(self, folder: Path, random: Random, sample: Place) -> None:
        self.folder, self.random = folder, random
        self._sample = sample
        self.counts: Counter[str] = Counter()
        """What was seen, and how the kills fell."""
        self.last = ""
        """What was seen last."""
        self._fresh()

    def _fresh(self) -> None:
        self.place = self._sample.copy(self.folder / str(self.counts["kills"]))
        self.before_all = self._standing()
        self.proofs: list[Proof] = []

    def _standing(self) -> int:
        return int(self.place.ask("SELECT count(*) FROM action WHERE NOT undone"))

    def run(self, times: int) -> None:
        """So many kills; raises Wrong."""
        for _ in range(times):
            if self.counts["kills"] and not self.counts["kills"] % FRESH_AFTER:
                self._fresh()
            self.one()

    def hand(self, terminal: Terminal) -> Hand:
        """Somebody to work at the shelf."""
        return Hand(self.place, terminal, self.proofs, self.random)

    def one(self) -> None:
        """Work a while, be killed, and be judged."""
        with self.place.started() as terminal:
            terminal.calm()
            hand = self.hand(terminal)
            for _ in range(self.random.randint(1, 5)):
                hand.act()
            in_flight = self.random.choice((0, 0, 1, 1, -1)) if self.proofs else 0
            if in_flight:
                terminal.send(self.random.choice((b" ", b"a")) if in_flight > 0 else b"u")
                time.sleep(self.random.uniform(0, LONGEST_AFTER_KEY_S))
            terminal.kill(signal.SIGKILL)
            terminal.wait_end()
            self.last = hand.last
            shown = "" if in_flight else head(terminal.picture)
        self.counts += hand.seen
        self.counts["kills"] += 1
        self.judge(in_flight)
        if shown:
            self._shows_again(shown)

    def judge(self, in_flight: int) -> None:
        """Compare what is on disk with what was shown."""
        if wrong := self.place.wrong():
            raise Wrong(f"check finds: {wrong}")
        extra = self._standing() - self.before_all - len(self.proofs)
        if extra not in (0, in_flight):
            raise Wrong(
                f"{len(self.proofs)} things were shown, on disk are {extra:+d}, the last of them "
                f"“{self.place.last_action}”, seen last is: {self.last}"
            )
        if in_flight:
            self.counts["next key whole" if extra else "next key not at all"] += 1
        if extra > 0:
            self.proofs.append(lambda place: True)
        elif extra < 0:
            self.proofs.pop()
        for number, proof in enumerate(self.proofs, 1):
            if not proof(self.place):
                raise Wrong(
                    f"Of {len(self.proofs)} things that were shown number {number} is not on disk; "
                    f"seen last: {self.last}; the last on disk: “{self.place.last_action}”"
                )

    def _shows_again(self, shown: str) -> None:
        with self.place.started() as terminal:
            terminal.calm()
            if head(terminal.picture) != shown:
                raise Wrong(f"It showed {shown!r} and shows {head(terminal.picture)!r}")
        self.counts["shown again"] += 1


def main() -> int:
    """Kill it so many times; the exit code is 1 where something was lost."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--times", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where to work, and to leave what is there")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        sample = Place.with_sample(Path(temporary) / "sample")
        trial = Trial(asked.folder or Path(temporary), Random(asked.seed), sample)
        began = time.perf_counter()
        try:
            trial.run(asked.times)
        except Wrong as wrong:
            print(f"Kill {trial.counts['kills']}, seed {asked.seed}, {trial.place.shelf}: {wrong}")
            return 1
    for name, count in trial.counts.most_common():
        print(f"{name:20} {count:6d}")
    print(f"nothing lost, nothing half there, {time.perf_counter() - began:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
