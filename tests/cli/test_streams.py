"""A minus sign in place of a file is the standard input or output."""

import io
from pathlib import Path

import pytest

from .answers import Say

LIST = """\
herb,part,condition,date,weight,volume,strength
Thyme,leaf,dried,20 Nov 2026,100 g,500 ml,40%
"""


def test_a_list_of_jars_is_imported_from_the_standard_input(
    say: Say, stocked: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = io.TextIOWrapper(io.BytesIO(LIST.encode()), encoding="utf-8")
    monkeypatch.setattr("sys.stdin", typed)
    answer = say("import", "--jars", "-", "--shelf", stocked)
    assert (answer.code, answer.err) == (0, "")
    assert [jar["code"] for jar in say("jars", "--json", "--shelf", stocked).json][-1] == "26-004"


@pytest.mark.parametrize("words", [("calendar",), ("stocklist",), ("record", "26-001")])
def test_paper_goes_to_the_standard_output(say: Say, stocked: Path, words: tuple[str, ...]) -> None:
    to_output = say(*words, "--to", "-", "--shelf", stocked)
    assert (to_output.code, to_output.err) == (0, "")
    assert to_output == say(*words, "--shelf", stocked)
