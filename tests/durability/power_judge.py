"""Opens what a power cut has left, and compares it with what had been acknowledged.

What must be there at an acknowledgement is what a reader would have found at that moment: the image
in which everything is on disk. Its shelf is opened by the program, and every row of the record and
of what undo knows goes into one digest. A later cut must leave the shelf of the last
acknowledgement or that of the next, and so must each other file that was there at either; an export
must be of one moment as long as it has a manifest.
"""

import hashlib
import shutil
from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from power_disk import Disk, Image
from power_log import Acknowledged, Act, Recording

from stillroom.clock import SetClock
from stillroom.errors import StillroomError
from stillroom.keeping.interchange.columns import MANIFEST
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.reckoning.states import LineKind
from stillroom.records.file_state import OWN_SETTINGS
from stillroom.records.store import Store

LOGS = "-wal", "-journal"
DATABASE = b"SQLite format 3\x00"
BEFORE_ALL = Act("nothing yet", changes=False)
CUT_OFF = Act("what the session ended in")

LOST, HALF, REFUSED = "lost", "half done", "refused"
TABLES = (
    "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite!_%' ESCAPE '!'"
)


@dataclass(frozen=True)
class Found:
    """A shelf file once it was opened."""

    digest: str = ""
    refused: str = ""
    """Why it could not be opened."""
    findings: str = ""
    """What `check` found."""


@dataclass(frozen=True)
class Failure:
    """What is wrong with an image."""

    kind: str
    """LOST, HALF or REFUSED."""
    what: str


@dataclass(frozen=True)
class Moment:
    """What was there when an act was acknowledged."""

    act: Act
    at: int
    files: dict[str, str]
    """Digests of all files but the shelf and logs."""
    shelf: Found
    databases: dict[str, Found]
    """All that are shelf files among `files`."""


class Judge:
    """Knows what was acknowledged in a recording, and judges images of it."""

    def __init__(self, recording: Recording, folder: Path) -> None:
        self._recording = recording
        self._folder = folder
        self._clock = SetClock(recording.until)
        self._found: dict[str, Found] = {}
        self._closed: dict[str, Found] = {}
        """What is found in shelves that were opened and closed, by their content."""
        self.opened = 0
        """How many different shelf files were opened."""
        self._empty = self._make_empty()
        self.moments = self._moments()

    def wrong_acknowledgements(self) -> list[str]:
        """What is wrong at the acknowledgements themselves, all being on disk."""
        wrong = []
        for before, after in zip(self.moments, self.moments[1:], strict=False):
            name = f"{after.act.name}, acknowledged after {after.at} records"
            if after.shelf.refused or after.shelf.findings:
                wrong.append(f"{name}: {after.shelf}")
            if after.act is not CUT_OFF and after.act.changes == (after.shelf == before.shelf):
                change = "did not change" if after.act.changes else "changed"
                wrong.append(f"{name}: the record {change}")
        return wrong

    def judge(self, image: Image, at: int) -> Failure | None:
        """What is wrong with an image of a cut after so many records."""
        number = bisect_right([moment.at for moment in self.moments], at) - 1
        before = self.moments[number]
        after = self.moments[min(number + 1, len(self.moments) - 1)]
        return (
            self._judge_shelf(image, before, after)
            or self._judge_files(image, before, after)
            or self._judge_exports(image, before, after)
        )

    def _judge_shelf(self, image: Image, before: Moment, after: Moment) -> Failure | None:
        name = self._recording.shelf
        if image.get(name) is None:
            return self._judge_absent(image, before)
        found = self._open(image, name)
        allowed = {before.shelf.digest, after.shelf.digest}
        if after.act.may_be_empty:
            allowed.add(self._empty.digest)
        if found.refused:
            return Failure(REFUSED, f"the shelf is refused: {found.refused}")
        if found.findings:
            return Failure(HALF, f"check finds: {found.findings}")
        if found.digest not in allowed:
            return Failure(*self._explain(found, before))
        if after.act.keeps_old and found == after.shelf != before.shelf:
            others = (self._open(image, path) for path in self._databases(image) if path != name)
            if before.shelf not in others:
                return Failure(LOST, "the shelf of before is in no file")
        return None

    def _judge_absent(self, image: Image, before: Moment) -> Failure | None:
        name = self._recording.shelf
        if before.shelf.digest:
            return Failure(LOST, "the shelf is not there")
        if any(f"{name}{log}" in image for log in LOGS):
            found = self._open(image, name, create=True)
            if found != self._empty:
                return Failure(HALF, f"a first start beside a log makes {found}")
        return None

    def _explain(self, found: Found, before: Moment) -> tuple[str, str]:
        lost: list[str] = []
        for moment in reversed(self.moments[: self.moments.index(before) + 1]):
            if moment.shelf == found:
                return LOST, f"the shelf is that of before: {', '.join(reversed(lost))}"
            lost.append(moment.act.name)
        return HALF, "the record is none that was acknowledged, nor the next"

    def _judge_files(self, image: Image, before: Moment, after: Moment) -> Failure | None:
        for path in sorted(before.files.keys() | after.files.keys()):
            content, allowed = image.get(path), {before.files.get(path), after.files.get(path)}
            if content is None:
                if None not in allowed and path != after.act.may_lack:
                    return Failure(LOST, f"{_like(path)} is not there")
            elif path in before.databases or path in after.databases:
                shelves = before.databases.get(path), after.databases.get(path)
                if self._open(image, path) not in shelves:
                    return Failure(HALF, f"{_like(path)} is neither as before nor as after")
            elif digest_of(content) not in allowed:
                return Failure(HALF, f"{_like(path)} is neither as before nor as after")
        return None

    def _judge_exports(self, image: Image, before: Moment, after: Moment) -> Failure | None:
        files = _files(image)
        for path in files:
            folder, _, name = path.rpartition("/")
            if name != MANIFEST:
                continue
            now = _below(folder, files)
            if now not in (_below(folder, before.files), _below(folder, after.files)):
                return Failure(HALF, f"{folder} has a manifest but files of two moments")
        return None

    def _moments(self) -> list[Moment]:
        recording, disk = self._recording, Disk(self._recording)
        end = Acknowledged(CUT_OFF, len(recording.records))
        moments = [self._moment(Acknowledged(BEFORE_ALL, 0), disk)]
        for acknowledged in [*recording.acknowledged, end]:
            disk.forward(recording.records[disk.done : acknowledged.at])
            moments.append(self._moment(acknowledged, disk))
        return moments

    def _moment(self, acknowledged: Acknowledged, disk: Disk) -> Moment:
        image, shelf = disk.live(), self._recording.shelf
        files = _files(image)
        files.pop(shelf, None)
        databases = {path: self._open(image, path) for path in self._databases(image)}
        found = databases.pop(shelf, Found())
        return Moment(acknowledged.act, acknowledged.at, files, found, databases)

    def _databases(self, image: Image) -> list[str]:
        return [
            path
            for path, content in image.items()
            if content and content.startswith(DATABASE) and not _is_aside(path)
        ]

    def _open(self, image: Image, path: str, *, create: bool = False) -> Found:
        parts = {suffix: image.get(f"{path}{suffix}") for suffix in ("", *LOGS)}
        key = "".join("-" if part is None else digest_of(part) for part in parts.values())
        if key not in self._found:
            self.opened += 1
            folder = self._folder / "opened"
            folder.mkdir()
            for suffix, content in parts.items():
                if content is not None:
                    (folder / f"shelf.stillroom{suffix}").write_bytes(content)
            self._found[key] = self._look_twice(folder / "shelf.stillroom", create=create)
            shutil.rmtree(folder)
        return self._found[key]

    def _look_twice(self, path: Path, *, create: bool) -> Found:
        """What is found, if it is found again once the shelf was closed, as one file."""
        found = self._look(path, create=create)
        if found.refused:
            return found
        again = self._look_again(path)
        names = _beside(path)
        if again != found or names != [path.name]:
            return Found(refused=f"opened and closed, then: {again}, {', '.join(names)}")
        return found

    def _look_again(self, path: Path) -> Found:
        """What is found in a shelf that was closed; looked at once where many come to the same."""
        if _beside(path) != [path.name]:
            return self._look(path)
        key = digest_of(path.read_bytes())
        if key not in self._closed:
            self._closed[key] = self._look(path)
        return self._closed[key]

    def _look(self, path: Path, *, create: bool = False) -> Found:
        try:
            store = Store.open(path, create=create)
        except StillroomError as error:
            return Found(refused=str(error).replace(str(path.parent), ""))
        except Exception as error:
            return Found(refused=f"a crash: {error!r}")
        try:
            keeper = Keeper(store, self._clock)
            findings = check(keeper)
            return Found(_content(keeper), "; ".join(f"{found.what}" for found in findings))
        except Exception as error:
            return Found(refused=f"opened, then: {error!r}")
        finally:
            store.close()

    def _make_empty(self) -> Found:
        folder = self._folder / "empty"
        folder.mkdir()
        found = self._look(folder / "shelf.stillroom", create=True)
        shutil.rmtree(folder)
        return found


def _beside(path: Path) -> list[str]:
    """The names in a shelf's folder, its own among them; not the copies put aside by an update."""
    return sorted(file.name for file in path.parent.iterdir() if ".before-" not in file.name)


def _content(keeper: Keeper) -> str:
    """A digest of every row of every table; not of what the file itself counts its acts by.

    Nor of the moment of a migration, which a shelf that was cut off before it goes through again.
    """
    total = hashlib.sha256()
    for (table,) in sorted(keeper.rows(TABLES)):
        rows = keeper.rows(f'SELECT * FROM "{table}" ORDER BY rowid')
        if table == "setting":
            rows = [row[1:] for row in rows if row[1] not in OWN_SETTINGS]
        if table == "journal":
            rows = [row for row in rows if LineKind.NEW_SCHEMA not in row]
        total.update(repr((table, rows)).encode())
    return total.hexdigest()


def _files(image: Image) -> dict[str, str]:
    """Digests of all files but logs and drafts."""
    return {
        path: digest_of(content)
        for path, content in image.items()
        if content is not None and not _is_aside(path)
    }


def _is_aside(path: str) -> bool:
    """Whether it is a log, or has a hidden name, as have drafts."""
    return path.endswith(LOGS) or any(name.startswith(".") for name in path.split("/"))


def _like(path: str) -> str:
    """A path as failures of its kind are counted under: files of one kind in a folder together."""
    file = Path(path)
    return path if ".stillroom" in file.name else str(file.with_name(f"*{file.suffix}"))


@lru_cache(200)
def digest_of(content: bytes) -> str:
    """A digest of a file, kept as most are in many images."""
    return hashlib.sha256(content).hexdigest()


def _below(folder: str, files: dict[str, str]) -> dict[str, str]:
    return {path: digest for path, digest in files.items() if path.startswith(f"{folder}/")}
