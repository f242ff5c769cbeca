"""Shelf files spoiled at random: opened, checked, exported and looked at on screen.

    python tests/durability/file_fuzz.py --shelves 1000 --seed 1

Each shelf is spoiled in one way, drawn by its seed, and then four programs look at it: `today`,
`check`, `export --json -` and the screen, its first page and one more. None of them may end in a
traceback or hang, and none may change a byte of the file or of the log and journal beside it. Only
a log or journal that is the shelf's may be folded in, if SQLite alone makes the same of the files.
Each shelf has a process of its own with a time limit. The exit code is 1 where anything failed.
"""

import argparse
import asyncio
import contextlib
import gc
import importlib
import io
import json
import os
import pkgutil
import re
import resource
import select
import signal
import sqlite3
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parents[1]))

import stillroom
from spoiling import rules_off
from stillroom.__main__ import run
from stillroom.clock import SetClock
from stillroom.errors import StillroomError
from stillroom.keeping.jars.jar import shake_all
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.records.shelf_file import tables_with_broken_rules
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.pages import PAGES

NOW = datetime(2026, 11, 26, 9, 15, tzinfo=UTC)
LIMIT_CPU_S = 60
"""How long the processor may work on one shelf; what is slow because the machine is busy is not."""
LIMIT_S = 900
"""How long one shelf may take on the clock, should it wait for something that never comes."""
PAGE = 4096
CRASHED = 70
CONTROLS = re.compile(r"[^\n -~\xa0-\U0010ffff]")
KEYS = [entry.key for entry in PAGES[1:]]

Files = dict[str, bytes]
"""What lies at the shelf's path and beside it, by ending; the shelf's own is blank."""
Spoil = Callable[[bytes, Random, Path], Files]


# The ways to spoil a shelf. Each gets its bytes, and a folder to work in.


def flip_bits(data: bytes, random: Random, _: Path) -> Files:
    """One bit or a few, anywhere."""
    spoiled = bytearray(data)
    for _time in range(random.choice([1, 1, 2, 8])):
        spoiled[random.randrange(len(data))] ^= 1 << random.randrange(8)
    return {"": bytes(spoiled)}


def overwrite_run(data: bytes, random: Random, _: Path) -> Files:
    """A run of random bytes."""
    at, length = random.randrange(len(data)), random.randint(1, 200)
    return {"": (data[:at] + random.randbytes(length) + data[at + length :])[: len(data)]}


def swap_pages(data: bytes, random: Random, _: Path) -> Files:
    """Two pages in each other's place."""
    pages = _pages(data)
    one, other = random.sample(range(len(pages)), 2)
    pages[one], pages[other] = pages[other], pages[one]
    return {"": b"".join(pages)}


def spoil_page(data: bytes, random: Random, _: Path) -> Files:
    """A page of zeros, of noise, or of another one's bytes."""
    pages = _pages(data)
    number = random.randrange(len(pages))
    pages[number] = random.choice([bytes(PAGE), random.randbytes(PAGE), random.choice(pages)])
    return {"": b"".join(pages)}


def cut_or_grow(data: bytes, random: Random, _: Path) -> Files:
    """The end missing, or something after it."""
    if random.random() < 0.7:
        cut = random.randrange(len(data))
        return {"": data[: random.choice([cut, cut - cut % PAGE])]}
    return {"": data + random.randbytes(random.choice([1, 100, PAGE]))}


def spoil_header(data: bytes, random: Random, _: Path) -> Files:
    """Bytes of the file's header: https://www.sqlite.org/fileformat2.html, 1.3."""
    spoiled = bytearray(data)
    for _time in range(random.choice([1, 1, 2])):
        spoiled[random.randrange(100)] = random.choice([0, 1, 2, 3, 64, 255, random.randrange(256)])
    return {"": bytes(spoiled)}


def spoil_rules(data: bytes, random: Random, _: Path) -> Files:
    """A letter of the SQL that made a table, an index or a trigger."""
    spoiled = bytearray(data)
    found = [create.start() for create in re.finditer(b"CREATE ", data)]
    at = random.choice(found) + random.randrange(300)
    spoiled[min(at, len(data) - 1)] = random.choice(b" (),;'\"-=<>0aZ\x00\x1b\xb1\xff")
    return {"": bytes(spoiled)}


PLANTS = (
    "CREATE TRIGGER steal AFTER INSERT ON event BEGIN DELETE FROM event; END",
    "CREATE TRIGGER loop AFTER UPDATE ON setting BEGIN UPDATE setting SET value = value; END",
    "CREATE VIEW lure AS WITH RECURSIVE n(i) AS (SELECT 1 UNION SELECT i + 1 FROM n) SELECT 1",
    "CREATE TABLE theirs (id INTEGER)",
    "CREATE VIRTUAL TABLE words USING fts5(text)",
    "CREATE INDEX slow ON jar (abs(id))",
    "CREATE INDEX never ON event (text) WHERE text LIKE '%a%'",
    "ALTER TABLE herb ADD COLUMN big BLOB AS (zeroblob(900000000)) VIRTUAL",
    "ALTER TABLE jar ADD COLUMN taste TEXT",
    "ALTER TABLE jar RENAME TO jars",
    "ALTER TABLE herb RENAME COLUMN note TO notes",
    "DROP TRIGGER event_stays",
    "DROP TABLE shake",
    "DROP INDEX jar_by_shelf",
    "PRAGMA user_version = 0",
    "PRAGMA user_version = 99",
    "PRAGMA application_id = 7",
    "PRAGMA journal_mode = delete",
    "ANALYZE",
    "UPDATE undo_step SET sql = 'COMMIT'",
    "UPDATE action SET title = title || char(27) || '[2J' || char(10)",
    "UPDATE undo_state SET action_id = (SELECT max(id) FROM action), rewinding = 1",
    "DELETE FROM setting WHERE name <> 'cautions_read'",  # or enter is the act of reading them
)  # fmt: skip


def plant(data: bytes, random: Random, folder: Path) -> Files:
    """Something that another program did to the tables or their rules."""
    with _opened(data, folder) as db:
        for statement in random.sample(PLANTS, random.choice([1, 1, 2])):
            with contextlib.suppress(sqlite3.Error):
                db.execute(statement)
    return _closed(folder)


def weaken_rules(data: bytes, random: Random, folder: Path) -> Files:
    """A CHECK that lets everything pass, and values that it would have refused."""
    with _opened(data, folder) as db:
        db.execute("PRAGMA writable_schema = 1")
        table = random.choice(_tables(db))
        db.execute(
            "UPDATE sqlite_schema SET sql = replace(sql, 'CHECK (', 'CHECK (1 OR ') WHERE name = ?",
            (table,),
        )
        db.execute("PRAGMA writable_schema = 0")
        _put_odd_values(db, random, [table])
    return _closed(folder)


def odd_values(data: bytes, random: Random, folder: Path) -> Files:
    """Values outside the rules, in tables whose rules are as they were."""
    with _opened(data, folder) as db:
        _put_odd_values(db, random, random.sample(_tables(db), random.choice([1, 1, 3])))
    return _closed(folder)


ODD_VALUES = (
    0, -1, 2**62, -(2**63), 0.0, -0.5, 1e-300, 1e300, float("inf"), "", " ", "x" * 3000, "furlong",
    "0001-01-01", "9999-12-31", "2026-02-30", "2026-11-26T09:15:00.000000+00:00", "nan", "null",
    "\x1b]0;pwn\x07\x1b[2J", "\x9b2J", "a\nb", "\u202eevil", "[bold]", "http://127.0.0.1/x", "\0",
    None,
)  # fmt: skip


def _put_odd_values(db: sqlite3.Connection, random: Random, tables: list[str]) -> None:
    db.execute("PRAGMA foreign_keys = 0")
    with rules_off(db):
        _put_values(db, random, tables)


def _put_values(db: sqlite3.Connection, random: Random, tables: list[str]) -> None:
    for table in tables:
        columns = [row[1] for row in db.execute(f"PRAGMA table_info({table})") if row[1] != "id"]
        ids = [row_id for (row_id,) in db.execute(f"SELECT rowid FROM {table}")]
        for _time in range(random.choice([1, 1, 4])):
            column, value = random.choice(columns), random.choice(ODD_VALUES)
            with contextlib.suppress(sqlite3.Error, IndexError):  # of the wrong kind, or kept
                db.execute(
                    f"UPDATE {table} SET {column} = ? WHERE rowid = ?", (value, random.choice(ids))
                )


def strange_log(data: bytes, random: Random, folder: Path) -> Files:
    """A log beside the shelf: noise, empty, of another shelf, or cut."""
    kind = random.randrange(4)
    if kind == 0:
        return {"": data, "-wal": random.randbytes(random.choice([1, 32, 5000, 50_000]))}
    if kind == 1:
        return {"": data, "-wal": b""}
    log = _log_of(data, folder)
    if kind == 2:
        return {"": data, "-wal": b"\x37\x7f\x06\x82" + random.randbytes(20_000)}
    spoiled = bytearray(log)
    spoiled[random.randrange(len(spoiled))] ^= 1 << random.randrange(8)
    return {"": data, "-wal": bytes(spoiled)[: random.randrange(len(spoiled))]}


def strange_journal(data: bytes, random: Random, _: Path) -> Files:
    """A rollback journal beside the shelf: noise, or with a journal's first bytes."""
    magic = random.choice([b"", b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7", bytes(8)])
    return {"": data, "-journal": magic + random.randbytes(random.choice([0, 20, 600, 9000]))}


WAYS: dict[str, Spoil] = {
    "bits": flip_bits,
    "run of bytes": overwrite_run,
    "pages swapped": swap_pages,
    "page spoiled": spoil_page,
    "end": cut_or_grow,
    "header": spoil_header,
    "rules": spoil_rules,
    "planted": plant,
    "rules weakened": weaken_rules,
    "odd values": odd_values,
    "log": strange_log,
    "journal": strange_journal,
}


def _pages(data: bytes) -> list[bytes]:
    return [data[at : at + PAGE] for at in range(0, len(data), PAGE)]


@contextlib.contextmanager
def _opened(data: bytes, folder: Path) -> Iterator[sqlite3.Connection]:
    (folder / "work").write_bytes(data)
    with closing(sqlite3.connect(folder / "work", isolation_level=None)) as db:
        yield db


def _closed(folder: Path) -> Files:
    data = (folder / "work").read_bytes()
    (folder / "work").unlink()
    return {"": data}


def _tables(db: sqlite3.Connection) -> list[str]:
    return [
        name
        for (name,) in db.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite!_%' "
            "ESCAPE '!' ORDER BY name"
        )
    ]


def _log_of(data: bytes, folder: Path) -> bytes:
    """A log as a program leaves it that is killed."""
    with _opened(data, folder) as db:
        db.execute("UPDATE setting SET value = value || 'x'")
        log = Path(f"{folder / 'work'}-wal").read_bytes()
    _closed(folder)
    return log


# What looks at a spoiled shelf.


def _command(shelf: Path, *words: str) -> str:
    """What a command came to: blank where it may, or what is wrong."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run(["--shelf", str(shelf), *words], SetClock(NOW))
    if code == CRASHED:
        return f"{' '.join(words)}: exit code {code}: {_last_crash()}"
    said = out.getvalue() + err.getvalue()
    strange = set(CONTROLS.findall(said))
    return f"{' '.join(words)}: printed {strange!r}" if strange else ""


def _last_crash() -> str:
    logs = sorted(Path(os.environ["XDG_STATE_HOME"]).rglob("crash-*.log"))
    return " / ".join(logs[-1].read_text().strip().splitlines()[-3:]) if logs else "no log"


async def _look_at_every_page(shelf: Path) -> None:
    store = Store.open(shelf)
    try:
        app = StillroomApp(Keeper(store, SetClock(NOW)))
        async with app.run_test(size=(80, 24)) as pilot:
            # All of them would take most of the time: each shelf has the first page and one more.
            page = KEYS[sum(shelf.parent.name.encode()) % len(KEYS)]
            await pilot.press("enter", "escape", page, "down", "enter")
            await pilot.pause()
            await pilot.press("escape", "escape")
    finally:
        store.close()


def _screen(shelf: Path) -> str:
    try:
        asyncio.run(_look_at_every_page(shelf))
    except StillroomError:
        return ""  # it was refused before there was a screen
    except Exception:
        if not _is_met_with_a_sentence(shelf):
            raise
    return ""


def _is_met_with_a_sentence(shelf: Path) -> bool:
    """Whether the program ends with one: see test_values_outside_the_rules.py."""
    try:
        return bool(tables_with_broken_rules(shelf))
    except sqlite3.DatabaseError:  # which it words as well
        return True


LOOKS: dict[str, Callable[[Path], str]] = {
    "today": lambda shelf: _command(shelf, "today"),
    "check": lambda shelf: _command(shelf, "check"),
    "export": lambda shelf: _command(shelf, "export", "--json", "-"),
    "screen": _screen,
}


def _snapshot(shelf: Path) -> Files:
    """The shelf and its log or journal.

    The log's index is no part of the data, nor is the note on a backup that failed.
    """
    beside = (Path(f"{shelf}{ending}") for ending in ("", "-wal", "-journal"))
    return {
        path.name.removeprefix(shelf.name): path.read_bytes() for path in beside if path.is_file()
    }


def _was_folded_in(before: Files, after: Files) -> bool:
    """Whether a log or journal went, and the content is what SQLite alone makes of the files."""
    if not before.keys() & {"-wal", "-journal"}:
        return False
    content = _content(before)
    return content is not None and content == _content(after)


def _content(files: Files) -> list[str] | None:
    with tempfile.TemporaryDirectory() as folder:
        for ending, data in files.items():
            Path(folder, f"copy{ending}").write_bytes(data)
        try:
            with closing(sqlite3.connect(Path(folder, "copy"))) as db:
                return list(db.iterdump())
        except (sqlite3.Error, UnicodeDecodeError):
            return None


def look(shelf: Path, programs: Iterable[str]) -> list[str]:
    """Let programs look at a shelf; returns what went wrong."""
    wrong = []
    for name in programs:
        program = LOOKS[name]
        before = _snapshot(shelf)
        try:
            problem = program(shelf)
        except BaseException:
            problem = f"{name}: {' / '.join(traceback.format_exc().strip().splitlines()[-3:])}"
        if problem:
            wrong.append(problem)
        after = _snapshot(shelf)
        changed = [
            f"shelf{ending}"
            for ending in sorted(before.keys() | after.keys())
            if before.get(ending) != after.get(ending)
        ]
        if changed and not _was_folded_in(before, after):
            wrong.append(f"{name}: changed {', '.join(changed)}")
    return wrong


def _in_a_process(shelf: Path, programs: Iterable[str], limit_s: float) -> list[str]:
    """The same in a process of its own, which is ended when it takes too long."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_CPU_S, LIMIT_CPU_S))
        found = look(shelf, programs)
        os.write(writing, json.dumps(found).encode()[:60_000])
        os._exit(0)
    os.close(writing)
    said, ends = b"", time.monotonic() + limit_s
    while select.select([reading], [], [], max(0, ends - time.monotonic()))[0]:
        got = os.read(reading, 65_536)
        if not got:
            break
        said += got
    else:
        os.kill(child, signal.SIGKILL)
        said = b'["hung"]'
    os.close(reading)
    status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if not said:
        return [f"ended with {status}"]
    return list(json.loads(said))


@dataclass
class Outcome:
    """What came of a run."""

    shelves: int = 0
    by_way: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)


def sound_shelf(folder: Path) -> bytes:
    """The sample shelf with an undo log, as one file."""
    keeper = open_sample(SetClock(NOW), folder)
    remember(keeper, "cautions_read", "2026-11-26")
    with contextlib.suppress(StillroomError):
        shake_all(keeper)
    keeper.store.close()
    data = keeper.store.path.read_bytes()
    keeper.store.path.unlink()
    return data


def fuzz(
    shelves: int,
    seed: int,
    folder: Path,
    *,
    first: int = 0,
    screen_every: int = 1,
    limit_s: float = LIMIT_S,
    told: Callable[[str], None] = lambda _: None,
) -> Outcome:
    """Spoil shelves and look at each of them."""
    home = folder / "home"
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME", "HOME"):
        os.environ[name] = str(home)
    for module in pkgutil.walk_packages(stillroom.__path__, "stillroom."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)  # once, rather than in each process
    (folder / "sample").mkdir()
    (folder / "work").mkdir()
    sound = sound_shelf(folder / "sample")
    gc.collect()
    gc.freeze()  # or each process would look through all that is imported
    outcome = Outcome()
    ways = list(WAYS.items())
    for number in range(first, first + shelves):
        way, spoil = ways[number % len(ways)]
        random = Random(f"{seed} {number}")
        place = folder / f"shelf{number}"
        place.mkdir()
        for ending, data in spoil(sound, random, folder / "work").items():
            (place / f"s.stillroom{ending}").write_bytes(data)
        programs = [each for each in LOOKS if each != "screen" or number % screen_every == 0]
        wrong = _in_a_process(place / "s.stillroom", programs, limit_s)
        outcome.shelves += 1
        outcome.by_way[way] += 1
        for problem in wrong:
            outcome.failures.append(f"{number} {way}: {problem}")
            told(f"FAILED {outcome.failures[-1]}")
        if not wrong:
            _remove(place)
    return outcome


def _remove(folder: Path) -> None:
    for path in sorted(folder.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    folder.rmdir()


def main() -> int:
    """Run it and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--shelves", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first shelf")
    parser.add_argument("--screen-every", type=int, default=1, help="only every nth on screen")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="file-fuzz-") as folder:
        outcome = fuzz(
            asked.shelves,
            asked.seed,
            Path(folder),
            first=asked.first,
            screen_every=asked.screen_every,
            told=partial(print, flush=True),
        )
    for way, count in outcome.by_way.items():
        print(f"{way}: {count}")
    print(f"{outcome.shelves} shelves, {len(outcome.failures)} failures")
    return 1 if outcome.failures else 0


if __name__ == "__main__":
    sys.exit(main())
