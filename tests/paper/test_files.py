"""Files go where the user says, whole or not at all, and never over another unasked."""

import os
from pathlib import Path

import pytest

from stillroom.errors import NeedsConfirmation, StillroomError
from stillroom.paper.files import write_file


def names_in(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


def test_a_new_file_holds_what_was_given(tmp_path: Path) -> None:
    path = write_file(tmp_path / "labels.pdf", b"content")
    assert path.read_bytes() == b"content"
    assert names_in(tmp_path) == ["labels.pdf"]


def test_a_tilde_is_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    assert write_file("~/day.pdf", b"1") == tmp_path / "day.pdf"


def test_a_file_that_is_there_is_asked_about(tmp_path: Path) -> None:
    path = write_file(tmp_path / "day.pdf", b"old")
    with pytest.raises(NeedsConfirmation, match=r"day\.pdf is there already"):
        write_file(path, b"new")
    assert path.read_bytes() == b"old"
    assert write_file(path, b"new", overwrite=True).read_bytes() == b"new"
    assert names_in(tmp_path) == ["day.pdf"]


def test_a_file_made_in_the_meantime_is_not_replaced(
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


def test_a_file_system_without_links_will_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
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
    with pytest.raises(StillroomError, match=r"day\.pdf cannot be written: No space left"):
        write_file(path, b"new", overwrite=True)
    assert path.read_bytes() == b"old"
    assert names_in(tmp_path) == ["day.pdf"]


def test_a_link_still_points_to_its_file(tmp_path: Path) -> None:
    path = write_file(tmp_path / "day.pdf", b"old")
    link = tmp_path / "link.pdf"
    link.symlink_to(path)
    assert write_file(link, b"new", overwrite=True) == path
    assert link.is_symlink()
    assert path.read_bytes() == b"new"


def test_a_private_file_stays_private(tmp_path: Path) -> None:
    path = write_file(tmp_path / "day.pdf", b"old")
    path.chmod(0o600)
    write_file(path, b"new", overwrite=True)
    assert path.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("", "is a folder: add a name"),
        ("none/day.pdf", "There is no folder"),
        ("x" * 300, "cannot be"),
        ("day\0.pdf", "cannot be the name of a file"),
    ],
)
def test_a_place_that_will_not_do_is_refused_in_words(tmp_path: Path, name: str, said: str) -> None:
    with pytest.raises(StillroomError, match=said):
        write_file(f"{tmp_path}/{name}", b"1")
    assert names_in(tmp_path) == []


def test_what_is_not_an_ordinary_file_is_left_alone(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(StillroomError, match="not an ordinary file"):
        write_file(tmp_path / "pipe", b"1", overwrite=True)
