"""A minus sign in place of a file is the standard input or output."""

import io
import sqlite3
from pathlib import Path

import pytest

from .answers import Say

PDF = b"%PDF-"
SHELF = b"SQLite format 3\0"
LIST = """\
herb,part,condition,date,weight,volume,strength
Thyme,leaf,dried,20 Nov 2026,100 g,500 ml,40%
"""


def test_a_list_of_jars_is_imported_from_standard_input(
    say: Say, stocked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = io.TextIOWrapper(io.BytesIO(LIST.encode()), encoding="utf-8")
    monkeypatch.setattr("sys.stdin", typed)
    answer = say("import", "--jars", "-", "--shelf", stocked)
    assert (answer.code, answer.err) == (0, "")
    assert [jar["code"] for jar in say("jars", "--json", "--shelf", stocked).json][-1] == "26-004"


@pytest.mark.parametrize("words", [("calendar",), ("stocklist",), ("record", "26-001")])
def test_a_paper_is_written_to_standard_output(
    say: Say, stocked: Path, words: tuple[str, ...]
) -> None:
    to_output = say(*words, "--to", "-", "--shelf", stocked)
    assert (to_output.code, to_output.err) == (0, "")
    assert to_output == say(*words, "--shelf", stocked)


def output_of(monkeypatch: pytest.MonkeyPatch) -> io.BytesIO:
    """What goes to the standard output from now on, byte by byte."""
    written = io.BytesIO()
    monkeypatch.setattr("sys.stdout", io.TextIOWrapper(written, encoding="utf-8"))
    return written


def test_labels_go_to_standard_output_as_pdf_and_count_as_printed(
    say: Say, stocked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    output = output_of(monkeypatch)
    answer = say("labels", "26-001", "--to", "-", "--shelf", stocked)
    assert (answer.code, answer.err) == (0, "")
    assert output.getvalue().startswith(PDF)
    with sqlite3.connect(stocked) as shelf:
        assert shelf.execute("SELECT count(*) FROM print_log").fetchall() == [(2,)]
    shelf.close()


def test_a_backup_goes_to_standard_output_and_is_restored_from_standard_input(
    say: Say, stocked: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    output = output_of(monkeypatch)
    assert say("backup", "-", "--shelf", stocked).code == 0
    assert output.getvalue().startswith(SHELF)
    piped = io.TextIOWrapper(io.BytesIO(output.getvalue()), encoding="utf-8")
    monkeypatch.setattr("sys.stdin", piped)
    assert say("restore", "-", "--shelf", tmp_path / "new.stillroom").code == 0
    assert say("check", "--shelf", tmp_path / "new.stillroom").code == 0
    assert list(tmp_path.glob("new.stillroom*")) == [tmp_path / "new.stillroom"]


@pytest.mark.parametrize("words", [("labels", "26-001", "--to"), ("backup",)])
def test_binary_output_never_goes_to_a_terminal(
    say: Say, stocked: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    answer = say(*words, "-", "--shelf", stocked)
    assert answer.code == 2
    assert "would go to the terminal" in answer.err
