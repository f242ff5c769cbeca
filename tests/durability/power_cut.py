"""Cuts the power after any write of a real session, and looks whether what was done is still there.

    python tests/durability/power_cut.py --images 20000 [--seed 1] [--session screen]
    python tests/durability/power_cut.py --recording FILE --image 1234

A session of the command line or of the screen is recorded: every write, truncation, sync and name
given or taken away, and when each act was acknowledged. Then the power fails after any of these,
again and again, by a model of a disk in `power_disk.py`. Each image it leaves is opened by the
program, checked, and compared with what had been acknowledged. Prints what was tried, and for each
failure the command that shows it again; ends with 1 where there is any.
"""

import argparse
import hashlib
import os
import pickle
import shutil
import sys
import tempfile
import time
import traceback
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from random import Random
from typing import TypeVar

sys.path.insert(0, str(Path(__file__).parent))

import power_sessions
from power_disk import IN_WORK, KINDS, NAMINGS, Disk, Image
from power_judge import HALF, LOST, REFUSED, Failure, Judge, digest_of
from power_log import CHANGES, Recording, why_not

T = TypeVar("T")

RELEASED = Path(__file__).parents[1] / "records/released/schema_1.stillroom.gz"
SESSIONS = {
    "cli": power_sessions.command_line,
    "screen": power_sessions.screen,
    "corrections": power_sessions.corrections,
    "older": partial(power_sessions.older, shelf=RELEASED),
}
PER_PROCESS = 400
"""Images that one process judges."""
MEMORY = Path("/dev/shm")
"""Where images are opened, if there is such a place: syncing costs nothing there."""


@dataclass(frozen=True)
class Cut:
    """One power cut: when, and what it left."""

    number: int
    at: int
    kind: str
    naming: str

    def image(self, disk: Disk, seed: int) -> Image:
        """What is left, of a disk that has seen what came before it."""
        return disk.image(self.kind, self.naming, Random(f"{seed}/{self.number}/image"))


@dataclass(frozen=True)
class Judged:
    """What came of a cut."""

    cut: Cut
    state: bytes
    """A digest of all that was left."""
    failure: Failure | None


class Plan:
    """Which cuts are made in a recording; each comes from the seed and its own number alone."""

    def __init__(self, recording: Recording, asked: argparse.Namespace) -> None:
        self._seed, self._kinds, self._namings = asked.seed, asked.kinds, asked.namings
        disk = Disk(recording)
        ends = [acknowledged.at for acknowledged in recording.acknowledged]
        self._by_act: list[list[int]] = [[] for _ in range(len(ends) + 1)]
        """Where the power may fail, act by act."""
        self._unsynced: list[int] = []
        """Where a write may be at work."""
        for at, record in enumerate(recording.records, 1):
            disk.forward([record])
            if record.operation in CHANGES:
                self._by_act[bisect_left(ends, at)].append(at)
                if disk.has_unsynced:
                    self._unsynced.append(at)
        self._by_act = [places for places in self._by_act if places]
        self._any = [at for places in self._by_act for at in places]

    def cut(self, number: int) -> Cut:
        """One of them: half by acts, as a backup writes more than most, and half by writes."""
        random = Random(f"{self._seed}/{number}")
        kind, naming = random.choice(self._kinds), random.choice(self._namings)
        places = random.choice((self._any, random.choice(self._by_act)))
        if kind in IN_WORK:
            places = self._unsynced
        return Cut(number, random.choice(places), kind, naming)


class Trial:
    """A recording whose power is cut again and again."""

    def __init__(self, recording: Recording, asked: argparse.Namespace, folder: Path) -> None:
        self.recording, self._asked = recording, asked
        self._judge = Judge(recording, folder)
        self._plan = Plan(recording, asked)
        self.wrong = self._judge.wrong_acknowledgements()

    def run(self, numbers: Sequence[int]) -> Iterator[Judged]:
        """Judge these cuts, in the order of the log, some hundreds in each process."""
        cuts = sorted(map(self._plan.cut, numbers), key=lambda cut: cut.at)
        for first in range(0, len(cuts), PER_PROCESS):
            yield from in_a_fork(partial(self._judge_all, cuts[first : first + PER_PROCESS]))

    def image(self, number: int) -> tuple[Cut, Image]:
        """One image."""
        cut, disk = self._plan.cut(number), Disk(self.recording)
        disk.forward(self.recording.records[: cut.at])
        return cut, cut.image(disk, self._asked.seed)

    def _judge_all(self, cuts: list[Cut]) -> list[Judged]:
        disk, judged = Disk(self.recording), []
        for cut in cuts:
            disk.forward(self.recording.records[disk.done : cut.at])
            image = cut.image(disk, self._asked.seed)
            judged.append(Judged(cut, state(image), self._judge.judge(image, cut.at)))
        return judged


def state(image: Image) -> bytes:
    """A digest of all that an image holds."""
    files = {path: content and digest_of(content) for path, content in image.items()}
    return hashlib.sha256(repr(sorted(files.items(), key=str)).encode()).digest()


def in_a_fork(work: Callable[[], T]) -> T:
    """What work comes to in a process of its own, which a damaged file may well end."""
    reading, writing = os.pipe()
    process = os.fork()
    if not process:
        try:
            os.close(reading)
            with os.fdopen(writing, "wb") as pipe:
                pickle.dump(work(), pipe)
            os._exit(0)
        except BaseException:
            traceback.print_exc()
        os._exit(1)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        answer = pipe.read()
    _, status = os.waitpid(process, 0)
    if status:
        raise RuntimeError(f"a process that judged images ended with status {status}")
    result: T = pickle.loads(answer)
    return result


class Report:
    """Counts what was tried, and shows what failed."""

    def __init__(
        self, recording: Recording, saved: Path, asked: argparse.Namespace, states: set[bytes]
    ) -> None:
        self._recording, self._saved, self._asked = recording, saved, asked
        self._states = states
        """Digests of all that was left, by cuts of earlier sessions too."""
        self._counts: dict[str, Counter[str]] = {}
        self._examples: dict[tuple[str, str], list[Cut]] = {}

    def add(self, judged: Judged) -> None:
        """One more image."""
        counts = self._counts.setdefault(f"{judged.cut.kind}, {judged.cut.naming}", Counter())
        counts["images"] += 1
        counts["states"] += judged.state not in self._states
        self._states.add(judged.state)
        if judged.failure:
            counts[judged.failure.kind] += 1
            what = judged.failure.kind, judged.failure.what
            self._examples.setdefault(what, []).append(judged.cut)

    @property
    def failed(self) -> int:
        """How many images failed."""
        return sum(len(cuts) for cuts in self._examples.values())

    def show(self) -> None:
        """Print it."""
        recording = self._recording
        changes = sum(record.operation in CHANGES for record in recording.records)
        print(f"{recording.session}: {len(recording.acknowledged)} acts, {changes} changes")
        columns = "images", "states", LOST, HALF, REFUSED
        print(f"  {'unsynced writes, names':24}" + "".join(f"{name:>10}" for name in columns))
        for name, counts in [*sorted(self._counts.items()), ("total", self._total())]:
            print(f"  {name:24}" + "".join(f"{counts[each]:10,}" for each in columns))
        for (kind, what), cuts in self._examples.items():
            numbers = ", ".join(str(cut.number) for cut in cuts[:5])
            kinds = ", ".join(sorted({f"{cut.kind} {cut.naming}" for cut in cuts}))
            print(f"  {kind}, {len(cuts)} times ({kinds}): {what}\n    images {numbers}, such as")
            print(f"    {self._again(cuts[0])}")

    def _total(self) -> Counter[str]:
        return sum(self._counts.values(), Counter())

    def _again(self, cut: Cut) -> str:
        asked = self._asked
        choices = [f"--{name} {','.join(chosen)}"
                   for name, chosen, all_ in (("kinds", asked.kinds, KINDS),
                                              ("namings", asked.namings, NAMINGS))
                   if chosen != all_]  # fmt: skip
        words = [f"python {sys.argv[0]} --recording {self._saved} --seed {asked.seed}"]
        return " ".join([*words, *choices, f"--image {cut.number}"])


def try_session(
    recording: Recording, saved: Path, asked: argparse.Namespace, states: set[bytes]
) -> int:
    """Cut the power of one recording; adds the states it leaves, returns how much was wrong."""
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as folder:
        trial = Trial(recording, asked, Path(folder))
        for wrong in trial.wrong:
            print(f"  {wrong}")
        if asked.image is not None:
            return len(trial.wrong) + show_one(trial, asked.image, asked.into)
        report = Report(recording, saved, asked, states)
        for judged in trial.run(range(asked.images)):
            report.add(judged)
        report.show()
        return len(trial.wrong) + report.failed


def show_one(trial: Trial, number: int, into: Path | None) -> int:
    """Judge one image again and write it to a folder to look at; 1 where it fails."""
    (judged,) = trial.run([number])
    cut, image = trial.image(number)
    print(cut, judged.failure or "nothing is wrong")
    last = [(at, trial.recording.records[at]) for at in range(max(0, cut.at - 8), cut.at)]
    for at, record in last:
        paths = " -> ".join(filter(None, (record.path, record.other)))
        print(f"  {at} {chr(record.operation)} inode {record.inode} at {record.offset}, "
              f"{len(record.data)} bytes {paths}")  # fmt: skip
    for path, content in sorted(image.items()) if into else ():
        assert into is not None
        target = into / path
        if content is None:
            target.mkdir(parents=True, exist_ok=True)
        else:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
    return int(judged.failure is not None)


def recordings(asked: argparse.Namespace, folder: Path) -> Iterator[tuple[Recording, Path]]:
    """The one that was named, or new ones, saved in a folder."""
    if asked.recording:
        yield Recording.load(asked.recording), asked.recording
        return
    for name in asked.session:
        workplace = folder / name
        workplace.mkdir(parents=True)
        recording = SESSIONS[name](workplace, Random(asked.seed), asked.acts)
        recording.save(saved := folder / f"{name}.recording")
        shutil.rmtree(workplace)
        yield recording, saved


def arguments() -> argparse.Namespace:
    """What was asked for."""

    def some_of(known: Sequence[str]) -> Callable[[str], tuple[str, ...]]:
        def read(text: str) -> tuple[str, ...]:
            chosen = tuple(text.split(","))
            if not set(chosen) <= set(known):
                raise argparse.ArgumentTypeError(f"choose from {', '.join(known)}")
            return chosen

        return read

    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--images", type=int, default=2000, help="of each session")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--acts", type=int, default=60, help="how long a session is")
    parser.add_argument("--session", type=some_of(list(SESSIONS)), default=("cli", "screen"),
                        help=f"some of {','.join(SESSIONS)}")  # fmt: skip
    parser.add_argument("--kinds", type=some_of(KINDS), default=KINDS,
                        help=f"some of {','.join(KINDS)}")  # fmt: skip
    parser.add_argument("--namings", type=some_of(NAMINGS), default=NAMINGS,
                        help=f"some of {','.join(NAMINGS)}")  # fmt: skip
    parser.add_argument("--recording", type=Path, help="a recording made before")
    parser.add_argument("--image", type=int, help="this image of it alone")
    parser.add_argument("--into", type=Path, help="a folder for what is in that image")
    parser.add_argument("--folder", type=Path, help="where recordings go; kept afterwards")
    return parser.parse_args()


def main() -> int:
    """Record and cut; the exit code is 1 where anything was lost."""
    asked = arguments()
    if reason := why_not():
        print(f"Nothing was tried: {reason}.")
        return 2
    began, wrong = time.monotonic(), 0
    states: set[bytes] = set()
    folder = asked.folder or Path(tempfile.mkdtemp(prefix="power-cut-"))
    for recording, saved in recordings(asked, folder):
        wrong += try_session(recording, saved, asked, states)
    print(f"{len(states):,} different states, {wrong} failures, {time.monotonic() - began:.0f} s")
    if not wrong and not asked.folder:
        shutil.rmtree(folder)
    return min(wrong, 1)


if __name__ == "__main__":
    sys.exit(main())
