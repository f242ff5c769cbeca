"""The short form of the power-cut script, and what its model of a disk and its judge rest on."""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from power_disk import KINDS, NAMINGS, Disk, Image
from power_judge import HALF, LOST, REFUSED, Judge
from power_log import (
    CREATE,
    LINK,
    MAKE_FOLDER,
    REMOVE,
    RENAME,
    SYNC,
    TRUNCATE,
    WRITE,
    Record,
    Recording,
    why_not,
)
from power_sessions import command_line

from ..examples import examples

SCRIPT = Path(__file__).with_name("power_cut.py")

needs_recorder = pytest.mark.skipif(bool(why_not()), reason=why_not() or "it can be recorded")


COMMANDS = 8
"""Acts of the session on the command line."""


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    return command_line(tmp_path_factory.mktemp("work"), Random(1), COMMANDS)


def cut_power(images: int, *asked: str) -> str:
    """What the script says that so many cuts came to; none may have lost anything."""
    command = [sys.executable, str(SCRIPT), "--images", str(images), *asked]
    ran = subprocess.run(command, capture_output=True, text=True)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    return ran.stdout


@needs_recorder
@pytest.mark.parametrize(("session", "acts", "images"), [("screen", 7, 150), ("older", 4, 100)])
def test_a_power_cut_loses_nothing_that_was_acknowledged(
    tmp_path: Path, session: str, acts: int, images: int
) -> None:
    asked = "--session", session, "--acts", str(acts), "--folder", str(tmp_path)
    assert f"{session}: {acts} acts" in cut_power(examples(images), *asked)


@needs_recorder
def test_a_power_cut_loses_nothing_that_a_command_acknowledged(
    recording: Recording, tmp_path: Path
) -> None:
    saved = tmp_path / "cli.recording"
    recording.save(saved)
    assert f"cli: {COMMANDS} acts" in cut_power(examples(150), "--recording", str(saved))


def disk(*records: Record, **before: bytes) -> Disk:
    contents: dict[str, bytes | None] = {"": None, **before}
    recording = Recording("test", "shelf", contents, {path: n for n, path in enumerate(contents)})
    made = Disk(recording)
    made.forward(records)
    return made


def images(of: Disk, kind: str, naming: str = "ordered") -> list[Image]:
    return [of.image(kind, naming, Random(seed)) for seed in range(300)]


def contents(of: Disk, kind: str, path: str = "a") -> set[bytes | None]:
    return {image.get(path) for image in images(of, kind)}


def write(offset: int, data: bytes, inode: int = 1) -> Record:
    return Record(WRITE, inode, offset, data=data)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("naming", NAMINGS)
def test_synced_data_is_in_every_image(kind: str, naming: str) -> None:
    synced = disk(
        *(Record(MAKE_FOLDER, 7, path="d"), Record(SYNC, 0), Record(CREATE, 8, path="d/b")),
        *(write(0, b"new", 8), Record(SYNC, 8), Record(SYNC, 7)),
        *(write(1, b"xyz"), Record(TRUNCATE, 1, 3), Record(SYNC, 1)),
        a=b"before",
    )
    assert images(synced, kind, naming)[:50] == [{"a": b"bxy", "d": None, "d/b": b"new"}] * 50


def test_unsynced_writes_may_or_may_not_be_in_an_image() -> None:
    unsynced = disk(write(0, b"1"), write(1, b"2"), write(0, b"3"), a=b"..")
    assert contents(unsynced, "none") == {b".."}
    assert contents(unsynced, "all") == {b"32"}
    assert contents(unsynced, "prefix") == {b"..", b"1.", b"12", b"32"}
    assert contents(unsynced, "subset") == {b"..", b"1.", b".2", b"12", b"3.", b"32"}
    assert contents(unsynced, "reordered") == contents(unsynced, "subset")


def test_a_write_may_be_torn_between_sectors() -> None:
    torn = disk(write(256, b"x" * 768), a=b"." * 1024)
    parts = b"." * 256, b"x" * 256, b"." * 256, b"x" * 512, b"." * 512
    begin, first, no_first, second, no_second = parts
    assert contents(torn, "torn") == {
        begin + one + two for one in (first, no_first) for two in (second, no_second)
    }


def test_a_sector_of_a_write_may_be_garbled_but_nothing_beside_it() -> None:
    garbled = contents(disk(write(256, b"x" * 512), a=b"." * 1024), "garbled")
    assert all(found and found[:256] + found[768:] == b"." * 512 for found in garbled)
    assert all(found and (found[256:512] == b"x" * 256) != (found[512:768] == b"x" * 256)
               for found in garbled)  # fmt: skip


def test_the_rest_of_its_sectors_may_be_spoiled_but_nothing_further() -> None:
    before = b"." * 10_000
    for found in contents(disk(write(5_000, b"x" * 200), a=before), "spoiled"):
        assert found is not None
        assert len(found) == 10_000
        assert found[:4096] + found[8192:] == b"." * (4096 + 10_000 - 8192)
        assert found[5_000:5_200] in (b"x" * 200, b"." * 200)
        assert found[4_990:5_000] != b"." * 10
        assert found[5_200:5_210] != b"." * 10


def names(of: Disk, naming: str) -> set[tuple[str, ...]]:
    return {tuple(sorted(image)) for image in images(of, "prefix", naming)}


def test_file_names_reach_the_disk_in_order_or_in_any_order() -> None:
    named = disk(Record(LINK, path="a", other="b"), Record(RENAME, path="a", other="c"), a=b"")
    assert names(named, "ordered") == {("a",), ("a", "b"), ("b", "c")}
    assert names(named, "strict") == {("a",), ("a", "b"), ("b", "c"), ("c",)}
    removed = disk(Record(REMOVE, path="a"), Record(SYNC, 0), a=b"")
    assert names(removed, "strict") == names(removed, "ordered") == {()}


def test_a_synced_folder_may_itself_be_missing() -> None:
    named = disk(Record(MAKE_FOLDER, 7, path="d"), Record(CREATE, 8, path="d/b"), Record(SYNC, 7))
    assert names(named, "strict") == {(), ("d", "d/b")}
    assert names(named, "ordered") == {("d", "d/b")}


def test_a_reused_inode_is_another_file() -> None:
    again = disk(
        *(Record(REMOVE, path="a"), Record(CREATE, 1, path="b"), write(0, b"new")),
        a=b"old",
    )
    assert contents(again, "none") | contents(again, "all") == {b"old", None}
    assert contents(again, "all", "b") == {b"new"}


@needs_recorder
def test_the_judge_notices_what_is_lost_or_half_done(recording: Recording, tmp_path: Path) -> None:
    judge = Judge(recording, tmp_path)
    assert judge.wrong_acknowledgements() == []
    moments = {acknowledged.act.name: acknowledged.at for acknowledged in recording.acknowledged}

    def live(name: str) -> Image:
        then = Disk(recording)
        then.forward(recording.records[: moments[name]])
        return then.live()

    shelf, at = recording.shelf, moments["shake"]
    assert judge.judge(live("shake"), at) is None
    assert judge.judge(live("export --overwrite"), at) is None

    def failure(image: Image) -> tuple[str, str]:
        found = judge.judge(image, at)
        assert found is not None
        return found.kind, found.what

    now = live("shake")
    assert failure(now | {shelf: live("backup")[shelf]})[0] == LOST
    assert failure({path: now[path] for path in now if path != shelf}) == (
        LOST, "the shelf is not there",
    )  # fmt: skip
    content = now[shelf]
    assert content
    assert failure(now | {shelf: content[:4096]})[0] == REFUSED
    assert failure(now | {"home/by-hand.stillroom": content})[0] == HALF
    assert failure({path: now[path] for path in now if path != "home/out/jars.csv"})[0] == LOST
    assert failure(now | {"home/out/jars.csv": b""})[0] == HALF
    assert failure(now | {"home/out/manifest.json": b"{}"})[0] == HALF


@needs_recorder
def test_an_act_shown_before_it_is_written_is_noticed(recording: Recording, tmp_path: Path) -> None:
    acts = recording.acknowledged
    draw = next(n for n, acknowledged in enumerate(acts) if acknowledged.act.name == "draw")
    early = [*acts[:draw], replace(acts[draw], at=acts[draw - 1].at)]
    until_then = recording.records[: acts[draw].at]
    shown_early = replace(recording, acknowledged=early, records=until_then)
    wrong = Judge(shown_early, tmp_path).wrong_acknowledgements()
    assert any(line.startswith("draw") and "did not change" in line for line in wrong)
