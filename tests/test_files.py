"""Files go where the user says, complete or not at all, and never over another unasked."""

import errno
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random

import pytest

from stillroom.errors import NeedsConfirmation, StillroomError
from stillroom.files import free_name, make_folder, sync_folder, write_file


def names_in(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


def test_a_new_file_has_the_contents_given(tmp_path: Path) -> None:
    path = write_file(tmp_path / "labels.pdf", b"content")
    assert path.read_bytes() == b"content"
    assert names_in(tmp_path) == ["labels.pdf"]


def test_a_tilde_means_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    assert write_file("~/day.pdf", b"1") == tmp_path / "day.pdf"


def test_an_existing_file_is_asked_about(tmp_path: Path) -> None:
    path = write_file(tmp_path / "day.pdf", b"old")
    with pytest.raises(NeedsConfirmation, match=r"day\.pdf already exists"):
        write_file(path, b"new")
    assert path.read_bytes() == b"old"
    assert write_file(path, b"new", overwrite=True).read_bytes() == b"new"
    assert names_in(tmp_path) == ["day.pdf"]


def test_a_file_created_in_the_meantime_is_not_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "day.pdf"
    link = os.link

    def too_late(*names: Path) -> None:
        path.write_bytes(b"theirs")
        link(*names)

    monkeypatch.setattr("os.link", too_late)
    with pytest.raises(NeedsConfirmation):
        write_file(path, b"ours")
    assert path.read_bytes() == b"theirs"
    assert names_in(tmp_path) == ["day.pdf"]


def test_a_file_system_without_links_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*names: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", no_links)
    assert write_file(tmp_path / "day.pdf", b"1").read_bytes() == b"1"
    with pytest.raises(NeedsConfirmation):
        write_file(tmp_path / "day.pdf", b"2")


def test_the_old_file_stays_when_the_new_one_cannot_be_finished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_file(tmp_path / "day.pdf", b"old")

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(StillroomError, match=r"day\.pdf can't be written: No space left"):
        write_file(path, b"new", overwrite=True)
    assert path.read_bytes() == b"old"
    assert names_in(tmp_path) == ["day.pdf"]


def test_a_link_still_points_to_its_file_afterwards(tmp_path: Path) -> None:
    path = write_file(tmp_path / "day.pdf", b"old")
    link = tmp_path / "link.pdf"
    link.symlink_to(path)
    assert write_file(link, b"new", overwrite=True) == path
    assert link.is_symlink()
    assert path.read_bytes() == b"new"


@contextmanager
def umask(mask: int) -> Iterator[None]:
    before = os.umask(mask)
    try:
        yield
    finally:
        os.umask(before)


@pytest.mark.parametrize("old", [None, 0o600, 0o644, 0o666])
@pytest.mark.parametrize(("shared", "mode"), [(False, 0o600), (True, 0o644)])
def test_a_file_is_private_unless_shared_is_set(
    tmp_path: Path, old: int | None, shared: bool, mode: int
) -> None:
    path = tmp_path / "day.pdf"
    if old:
        path.write_bytes(b"old")
        path.chmod(old)
    with umask(0o022):
        write_file(path, b"new", overwrite=True, shared=shared)
    assert path.stat().st_mode & 0o777 == mode


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("", "is a folder. Add a file name."),
        ("none/day.pdf", "There is no folder "),
        ("x" * 300, "xxx can't be used: File name too long."),
        ("day\0.pdf", r"day\x00.pdf' is not a valid file name."),
        ("circle/day.pdf", "/circle"),  # Python 3.13 finds no folder, others a circle of links
    ],
)
def test_an_impossible_place_is_refused_in_words(tmp_path: Path, name: str, said: str) -> None:
    (tmp_path / "circle").symlink_to("circle")
    with pytest.raises(StillroomError) as refused:
        write_file(f"{tmp_path}/{name}", b"1")
    assert said in str(refused.value)
    assert "Errno" not in str(refused.value)
    assert names_in(tmp_path) == ["circle"]


def test_what_is_not_an_ordinary_file_is_not_changed(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(StillroomError, match="not an ordinary file"):
        write_file(tmp_path / "pipe", b"1", overwrite=True)


KILLED = """
import os, sys
from pathlib import Path
from stillroom.files import draft_folder
with draft_folder(Path(sys.argv[1])) as draft:
    (draft / "draft").write_text("half")
    print(draft, flush=True)
    if sys.argv[2] == "dies":
        os._exit(9)
    sys.stdin.read()
"""


def test_a_draft_left_by_a_killed_program_is_deleted(tmp_path: Path) -> None:
    ran = [sys.executable, "-c", KILLED, str(tmp_path), "dies"]
    left = Path(subprocess.run(ran, stdout=subprocess.PIPE, text=True).stdout.strip())
    assert (left / "draft").read_text() == "half"
    write_file(tmp_path / "day.pdf", b"1")
    assert names_in(tmp_path) == ["day.pdf"]


def test_a_draft_that_another_program_is_writing_is_kept(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", KILLED, str(tmp_path), "waits"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        draft = Path(other.stdout.readline().strip())
        write_file(tmp_path / "day.pdf", b"1")
        assert (draft / "draft").read_text() == "half"
        other.communicate("")
    assert names_in(tmp_path) == ["day.pdf"]


def test_a_file_that_only_looks_like_a_draft_is_kept(tmp_path: Path) -> None:
    (tmp_path / ".stillroom-mine.part").write_text("mine")
    (tmp_path / "stillroom-mine.part").mkdir()
    write_file(tmp_path / "day.pdf", b"1")
    assert len(names_in(tmp_path)) == 3


@pytest.mark.parametrize("code", [errno.EINVAL, errno.ENOTSUP, errno.EIO])
def test_only_a_folder_that_can_never_be_synced_is_accepted_unsynced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int
) -> None:
    def answer(descriptor: int) -> None:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr("os.fsync", answer)
    if code == errno.EIO:
        with pytest.raises(OSError, match="Input/output"):
            sync_folder(tmp_path)
    else:
        sync_folder(tmp_path)


def test_each_folder_made_is_synced_in_the_one_above_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []
    monkeypatch.setattr("os.fsync", lambda handle: synced.append(os.fstat(handle).st_ino))
    make_folder(tmp_path / "a" / "b" / "c")
    above = (tmp_path, tmp_path / "a", tmp_path / "a" / "b")
    assert synced == [folder.stat().st_ino for folder in above]


def test_a_free_name_always_fits_the_file_system(tmp_path: Path) -> None:
    """NAME_MAX of Linux and macOS, 255 bytes, with room for the logs of what gets the name."""
    random = Random(5)
    for letters in ("x", "ö", "薬", "🌿"):
        for length in (1, 40, 60, 63, 80, 127, 200, 250):
            name = letters * length
            if len(name.encode()) > 255:
                continue
            for _ in range(random.randint(1, 12)):
                found = free_name(tmp_path / name, ".before-restore")
                Path(f"{found}-journal").touch()
                Path(f"{found}-journal").unlink()
                found.touch()
