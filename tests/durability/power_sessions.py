"""The sessions that power cuts are tried on: the command line, the screen, an older shelf opened.

Each works in a folder of its own through the real program and notes when an act was acknowledged:
on the command line when it ended with 0, on screen when the terminal's bytes first showed it.
"""

import gzip
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1] / "trials"))

from kill_screen import ESCAPE, KEEP, Hand, Proof, squeezed
from power_log import Act, Recorder, Recording, Shows
from program import READY, STILLROOM, Place
from terminal import Terminal

PALETTE = b"\x10"
COLUMNS, ROWS = 120, 40

NOTEBOOK = """\
herb,date,part,state,pressed,weight g,volume ml,abv,spirit,strain on,strained,yield ml,bottle,left
Calendula,2026-10-01,flower,dried,,100,500,50,Vodka,2026-11-12,,,,
Elecampane,2026-09-01,root,dried,pressed,80,400,60,Grain spirit,,2026-10-10,350,100 ml,80 ml
Fennel,2026-11-01,seed,dried,,50,250,45,Vodka,2026-12-15,,,,
Yarrow,2026-11-05,herb,dried,,60,300,40,Vodka,2026-12-19,,,,
"""
MORE_NOTEBOOK = """\
herb,date,part,state,pressed,weight g,volume ml,strength,spirit,strain on
Angelica,2026-11-10,root,dried,,70,350,60,Grain spirit,2026-12-22
Sage,2026-11-12,leaf,dried,,40,200,45,Vodka,2026-12-24
"""
JAR, OF_BOTTLE, BOTTLE = "26-001", "26-002", "26-002.1"
"""Codes in the notebook."""
PERSON = "Ada Vale"

FIRST_START = Act("first start", may_be_empty=True)
NOTHING = Act("nothing", changes=False)
OVERWRITE = Act("export --overwrite", changes=False, may_lack="home/out/manifest.json")
RESTORE = Act("restore", keeps_old=True)


def place_in(workplace: Path) -> Place:
    """Where a session works: the shelf is where the program looks for it unasked."""
    disk = workplace / "disk"
    disk.mkdir(parents=True)
    place = Place(disk.resolve(), disk.resolve() / "home/data/stillroom/shelf.stillroom")
    assert place.home.is_dir()
    return place


class CommandLine:
    """Gives commands one after another; each that ends well is acknowledged."""

    def __init__(self, place: Place, recorder: Recorder) -> None:
        self.place, self.recorder = place, recorder
        self.days = 0
        """By how many days the clock is ahead."""

    def give(self, *arguments: str, act: Act | None = None) -> None:
        """Run a command that must end with 0."""
        environment = os.environ | self.place.environment | self.recorder.environment(self.days)
        ran = subprocess.run(
            [*STILLROOM, *arguments],
            env=environment,
            cwd=self.place.home,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
        )
        if ran.returncode:
            raise RuntimeError(f"{arguments} ended with {ran.returncode}: {ran.stdout}{ran.stderr}")
        self.recorder.said(act or Act(arguments[0]))


def command_line(workplace: Path, random: Random, acts: int) -> Recording:
    """First start by an import, then about so many commands, backups of 10 days among them."""
    place = place_in(workplace)
    for name, text in (("a.csv", NOTEBOOK), ("b.csv", MORE_NOTEBOOK)):
        (place.home / name).write_text(text)
    recorder = Recorder(place.folder, workplace, "cli", place.shelf)
    line = CommandLine(place, recorder)
    line.give("import", "--jars", "a.csv", act=FIRST_START)
    for command in _commands(line, random):
        if len(recorder.recorded) >= acts:
            break
        command()
    return recorder.finish()


def _commands(line: CommandLine, random: Random) -> Iterator[partial[None]]:
    give = partial(partial, line.give)
    yield give("draw", BOTTLE, "5 ml")
    yield give("export", "out", act=Act("export", changes=False))
    yield give("undo")
    yield give("redo")
    yield give("backup", "by-hand.stillroom", act=Act("backup", changes=False))
    yield give("shake", "--all")
    yield give("export", "out", "--overwrite", act=OVERWRITE)
    yield give("restore", "by-hand.stillroom", "--yes", act=RESTORE)
    yield give("import", "--jars", "b.csv")
    papers: tuple[tuple[str, ...], ...] = (
        ("labels", BOTTLE, "--to", "labels.pdf"),
        ("calendar", "--to", "dates.ics"),
        ("stocklist", "--to", "stock.pdf"),
        ("export", "--json", "all.json"),
    )
    for paper in papers:  # labels are noted in the print log
        yield give(*paper, act=Act(paper[0], changes=paper[0] == "labels"))
    yield give("shake", JAR)
    for paper in papers:
        act = Act(f"{paper[0]} --overwrite", changes=paper[0] == "labels")
        yield give(*paper, "--overwrite", act=act)
    for _ in range(9):  # as many daily backups as are kept and two more, which are cleared away
        line.days += 1
        yield give("shake", "--all")
        if random.random() < 0.5:
            yield give("draw", BOTTLE, "1 ml")
    yield give("restore", "by-hand.stillroom", "--yes", act=RESTORE)
    yield give("today", act=NOTHING)
    while True:
        yield give("draw", BOTTLE, "1 ml")
        yield give("undo")
        yield give(*random.choice((("redo",), ("shake", "--all"))))
        yield give("undo")


def corrections(workplace: Path, random: Random, acts: int) -> Recording:
    """Corrections that reach a blend, closing, withdrawing, releasing, a name removed."""
    place = place_in(workplace)
    (place.home / "a.csv").write_text(NOTEBOOK)
    recorder = Recorder(place.folder, workplace, "corrections", place.shelf)
    line = CommandLine(place, recorder)
    line.give("import", "--jars", "a.csv", act=FIRST_START)
    for words in _corrected(random):
        if len(recorder.recorded) >= acts:
            break
        line.give(*words)
    return recorder.finish()


def _another(random: Random, value: int, values: range) -> int:
    """One of the values other than this one, as a correction to the same is refused."""
    return random.choice([each for each in values if each != value])


def _corrected(random: Random) -> Iterator[tuple[str, ...]]:
    yield "settings", "maker=AL"
    yield "draw", BOTTLE, "5 ml", "--for", PERSON
    yield "strain", JAR, "yield=410 ml", "method=pressed"
    yield "bottle", JAR, "bottle=250 ml"
    yield "blend", "name=Root drops", f"part={JAR}.1;40 ml", f"part={BOTTLE};20 ml"
    yield "correct", OF_BOTTLE, "yield=345 ml", "--why", "misread jug"
    yield ("undo",)
    yield ("redo",)
    yield "correct", OF_BOTTLE, "pour-1.strength=58 %", "weight=85 g", "--why", "another bottle"
    yield "close", OF_BOTTLE
    weight_g, yield_ml = 85, 410
    while True:
        weight_g = _another(random, weight_g, range(70, 91))
        yield "correct", OF_BOTTLE, f"weight={weight_g} g", "--why", "weighed again"
        yield_ml = _another(random, yield_ml, range(405, 431))
        yield "correct", JAR, f"yield={yield_ml} ml"
        yield "withdraw", JAR, "--why", "seal broken"
        yield ("undo",)
        yield "forget", PERSON, "--yes"
        yield "draw", BOTTLE, "1 ml", "--for", PERSON
        yield "correct", BOTTLE, f"place=Box {random.randrange(1000)}"


class RecordedTerminal(Terminal):
    """A terminal that notes in the log when keys are pressed."""

    recorder: Recorder

    def send(self, keys: bytes) -> None:
        """Press keys."""
        if hasattr(self, "recorder"):
            self.recorder.asks()
        super().send(keys)


class RecordedHand(Hand):
    """Does things by keys, and notes in the recording what was seen to be done."""

    def __init__(self, *arguments: Any, recorder: Recorder) -> None:
        super().__init__(*arguments)
        self.recorder = recorder

    def see(self, name: str, shows: Shows, act: Act | None = None) -> None:
        """Wait until an effect shows."""
        super().see(name, shows)
        self.recorder.said(act or Act(name), shows)

    def fill(self) -> None:
        """A jar with a spirit whose strength is typed, as the cupboard has none."""
        herb = f"Trial {self.random.randrange(10**6):06d}"
        self.open(b"n", "─ Fill a jar ─")
        keys = f"{herb}\t\t\t\t10 g\t\t\t\t\t40 ml\t40 %"
        self.terminal.send(keys.encode() + KEEP)
        told = squeezed(f"Filled {herb}")
        self.see("fill", lambda picture: told in squeezed(picture.text))

    def redo(self) -> None:
        """What was undone just before."""
        self.terminal.settle(0.1)
        self.terminal.send(b"U")
        self.see("redo", lambda picture: "Redone" in picture.text or "again" in picture.text)

    def set_days_to_steep(self, days: int = 21) -> None:
        """Another number of days that a new jar begins with."""
        self.open(b"4", "Bottle sizes")
        self.press(b"\t" * 6)
        self.press(b"\x1b[B" * 7)
        self.open(b"e", "─ Settings ─")
        self.press(b"\x7f" * 3)
        self.terminal.send(str(days).encode() + KEEP)
        row = re.compile(rf"Days to steep +{days} ")
        self.see(
            "settings",
            lambda picture: "─ Settings ─" not in picture.text and row.search(picture.text),
        )
        self.open(b"1", "r Round")

    def from_palette(self, command: bytes, title: str) -> None:
        """Open a form by its command."""
        self.press(PALETTE)
        self.press(command)
        self.open(b"\r", title)

    def back_up(self) -> None:
        """To the file that is proposed, in the user's folder."""
        self.from_palette(b"back up", "─ Back up ─")
        self.terminal.send(KEEP)
        self.see("backup", lambda picture: "Backed up" in picture.text, Act("backup", False))

    def restore(self) -> None:
        """The backup that is proposed."""
        self.from_palette(b"restore", "─ Restore a backup ─")
        self.press(KEEP)
        self.terminal.wait_until(lambda picture: "ctrl+s again" in picture.flat)
        self.terminal.send(KEEP)
        self.see("restore", lambda picture: "Restored" in picture.text, RESTORE)
        self.proofs.clear()


class Screen:
    """Starts the program on screen again and again, and has it worked at."""

    def __init__(self, place: Place, recorder: Recorder, random: Random) -> None:
        self.place, self.recorder, self.random = place, recorder, random
        self.proofs: list[Proof] = []
        self.days = 0

    @contextmanager
    def started(self, *options: str) -> Iterator[RecordedHand]:
        """The program in a terminal, and somebody at its keys."""
        self.recorder.terminal_starts(COLUMNS, ROWS)
        terminal = RecordedTerminal(
            [*STILLROOM, *options, "--shelf", str(self.place.shelf)],
            columns=COLUMNS,
            rows=ROWS,
            environment=self.place.environment | self.recorder.environment(self.days),
            folder=self.place.home,
        )
        terminal.recorder = self.recorder
        with terminal:
            terminal.wait_until(lambda picture: READY in picture.text)
            terminal.calm()
            yield RecordedHand(
                self.place, terminal, self.proofs, self.random, recorder=self.recorder
            )

    def first_start(self) -> None:
        """Make the shelf, close the cautions, leave; jars come from a notebook."""
        with self.started("--new") as hand:
            self.recorder.said(FIRST_START, lambda picture: READY in picture.text)
            hand.terminal.send(ESCAPE)
            hand.see("cautions", lambda picture: "Before you begin" not in picture.text)
            self.quit(hand)
        (self.place.home / "a.csv").write_text(NOTEBOOK)
        CommandLine(self.place, self.recorder).give("import", "--jars", "a.csv")

    def first_day(self, acts: int) -> None:
        """Each thing at least once, as far as there are so many acts."""
        with self.started() as hand:
            fills = (hand.fill, hand.draw, *(hand.strain, hand.fill) * 2, hand.strain)
            deeds = (hand.set_days_to_steep, *fills, hand.shake_all, hand.undo, hand.redo)
            for deed in deeds[:acts]:
                deed()
            self.quit(hand)

    def day(self, acts: int, *, ends: str) -> None:
        """Another day: about so many acts, the backup of the day, an end."""
        self.days += 1
        with self.started() as hand:
            before = hand.seen.total()
            while hand.seen.total() < before + acts:
                hand.act()
                if hand.last == "undo" and self.random.random() < 0.5:
                    hand.redo()
            backups = self.place.shelf.parent / "backups"
            hand.terminal.settle(4, 8)
            hand.terminal.wait_until(lambda _: len(list(backups.glob("*.stillroom"))) >= self.days)
            if ends == "restore":
                hand.back_up()
                hand.shake_all() if self.random.random() < 0.5 else hand.fill()
                hand.restore()
                hand.fill()
            if ends == "kill":
                hand.terminal.kill(signal.SIGKILL)
                hand.terminal.wait_end()
            else:
                self.quit(hand)

    def quit(self, hand: RecordedHand) -> None:
        """Leave by q."""
        hand.terminal.send(b"q")
        hand.terminal.wait_end(20)
        self.recorder.said(Act("quit", changes=False))


def screen(workplace: Path, random: Random, acts: int) -> Recording:
    """First start on screen and so many acts, on days that end with q, SIGKILL or a restore."""
    place = place_in(workplace)
    recorder = Recorder(place.folder, workplace, "screen", place.shelf)
    work = Screen(place, recorder, random)
    work.first_start()
    work.first_day(acts - len(recorder.recorded) - 1)
    ends = ("restore", "kill", "quit")
    while (left := acts - len(recorder.recorded)) > 0:
        work.day(min(left, 12), ends=ends[work.days % 3])
    return recorder.finish()


def older(workplace: Path, random: Random, acts: int, *, shelf: Path) -> Recording:
    """A shelf that exists, of any schema, gzipped or not: opened and so brought up to date.

    The files in `tests/records/released` are meant. Where one is of an older schema than the
    program's, the migration is what is cut; the copy made before it is judged like any file.
    """
    place = place_in(workplace)
    content = shelf.read_bytes()
    place.shelf.parent.mkdir(parents=True)
    place.shelf.write_bytes(gzip.decompress(content) if shelf.suffix == ".gz" else content)
    recorder = Recorder(place.folder, workplace, "older", place.shelf)
    line = CommandLine(place, recorder)
    line.give("today", act=NOTHING)
    while len(recorder.recorded) < acts:
        line.days += 1
        line.give("shake", "--all")  # a migration leaves nothing to undo
        line.give("undo")
        line.give(*random.choice((("redo",), ("shake", "--all"))))
    return recorder.finish()
