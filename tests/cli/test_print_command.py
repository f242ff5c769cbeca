"""Papers sent to the printer by the shelf's own command: a real program, which copies the file."""

import os
import stat
from pathlib import Path

import pytest

from .answers import Say


@pytest.fixture
def printer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A program `printer FILE` on the path; gives where it puts what it is sent."""
    tray, program = tmp_path / "tray", tmp_path / "bin" / "printer"
    program.parent.mkdir()
    program.write_text(
        f'#!/bin/sh\ncase $1 in jam) echo "out of $2" >&2; exit 3;; esac\ncat "$1" >{tray}\n'
    )
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", f"{program.parent}{os.pathsep}{os.environ['PATH']}")
    return tray


@pytest.mark.parametrize(
    "paper",
    [("daysheet",), ("stocklist",), ("plan",), ("year",), ("people",), ("learning",),
     ("signsheet", "past"), ("record", "26-001"), ("labels", "26-001.1"), ("withdrawn",)],
    ids=lambda words: words[0],
)  # fmt: skip
def test_every_paper_is_printed(
    say: Say, stocked: Path, printer: Path, paper: tuple[str, ...]
) -> None:
    say("settings", "print_command=printer FILE", "--shelf", stocked)
    assert "Sent to printer." in say(*paper, "--print", "--shelf", stocked).out
    assert printer.read_bytes().startswith(b"%PDF")


def test_a_paper_is_written_to_a_file_and_printed_at_once(
    say: Say, stocked: Path, printer: Path, tmp_path: Path
) -> None:
    say("settings", "print_command=printer FILE", "--shelf", stocked)
    file = tmp_path / "a day; and a night.pdf"  # no shell reads the name
    said = say("daysheet", "--to", file, "--print", "--shelf", stocked).out
    assert "Wrote" in said
    assert printer.read_bytes() == file.read_bytes()


def test_without_a_print_command_the_message_names_the_setting(say: Say, stocked: Path) -> None:
    assert "Set one in Settings" in say("daysheet", "--print", "--shelf", stocked).err


def test_the_error_of_the_printer_is_repeated(say: Say, stocked: Path, printer: Path) -> None:
    say("settings", "print_command=printer jam paper FILE", "--shelf", stocked)
    assert "printer failed: out of paper" in say("daysheet", "--print", "--shelf", stocked).err
    say("settings", "print_command=no-such-printer FILE", "--shelf", stocked)
    assert "no-such-printer can't be run" in say("daysheet", "--print", "--shelf", stocked).err


@pytest.mark.parametrize(
    ("command", "said"), [("lp -d labels", "write FILE"), ('lp "FILE', "quotation mark")]
)
def test_a_command_that_cannot_print_is_refused(
    say: Say, stocked: Path, command: str, said: str
) -> None:
    assert said in say("settings", f"print_command={command}", "--shelf", stocked).err


def test_a_print_command_that_came_with_the_shelf_needs_confirmation(
    say: Say, stocked: Path, printer: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    say("settings", "print_command=printer FILE", "--shelf", stocked)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "another computer"))
    refused = say("daysheet", "--print", "--shelf", stocked).err
    assert "never confirmed on this computer" in refused
    assert "--yes" in refused
    assert not printer.exists()
    say("daysheet", "--print", "--yes", "--shelf", stocked)
    printer.unlink()
    say("daysheet", "--print", "--shelf", stocked)
    assert printer.exists()
