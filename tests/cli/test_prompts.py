"""Commands without values ask on a terminal, one plain line each."""

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from .answers import Answer, Say
from .terminal import in_terminal

Typing = Callable[..., Answer]


class Typed(io.StringIO):
    """What somebody types on a terminal; its end is Ctrl-D, again and again."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def typing(say: Say, stocked: Path, monkeypatch: pytest.MonkeyPatch) -> Typing:
    """Give a command and type lines at its questions."""

    def give(words: str, *lines: str) -> Answer:
        monkeypatch.setattr("sys.stdin", Typed("".join(f"{line}\n" for line in lines)))
        return say(*words.split(), "--shelf", stocked)

    return give


THYME = ("Thyme", "leaf", "dried", "", "", "", "", "", "")
VODKA = ("600 ml", "Vodka", "")


def test_a_jar_is_filled_line_by_line(typing: Typing) -> None:
    answer = typing("fill", *THYME, *VODKA, "", "North larder", "", "21")
    assert answer.code == 0
    assert answer.out.startswith("Filled 26-004 Thyme, leaf, dried, on North larder.\n")
    assert "Strain on 17 Dec 2026." in answer.out
    assert answer.err.startswith("One question per line.")
    for question in (
        "Herb 1, name (or the code of a lot in store): ", "Herb 1, part (leaf, aerial parts, ",
        "Herb 2, name (or the code of a lot in store; blank: no more): ",
        "Liquid 1, volume: ", "Liquid 2, volume (blank: no more): ", "Days to steep (blank: as in",
    ):  # fmt: skip
        assert question in answer.err
    assert "Liquid 1, strength" not in answer.err
    assert "\x1b" not in answer.err


def test_an_answer_that_cannot_be_read_is_asked_for_again(typing: Typing) -> None:
    answer = typing(
        "fill", "", "Thyme", "tree", "leaf", "dried", "much", "120 g", "", "", "", "", "",
        "1 pint", "600 ml", "gin", "spirit", "400%", "45%", "",
    )  # fmt: skip
    assert (answer.code, answer.out[:13]) == (0, "Filled 26-004")
    for said in ("Name is needed.", "Choose from leaf, aerial", "There is no gin in the cupboard"):
        assert said in answer.err
    assert answer.err.count("Herb 1, weight") == 2
    assert answer.err.count("Liquid 1, volume") == 2
    assert answer.err.count("Liquid 1, strength") == 2


def test_ctrl_d_skips_an_optional_question_and_stops_at_a_required_one(
    typing: Typing, stocked: Path
) -> None:
    assert typing("fill", *THYME, "600 ml", "Vodka").code == 0
    before = stocked.read_bytes()
    answer = typing("fill", "Thyme", "leaf")
    assert (answer.code, answer.out) == (2, "")
    assert answer.err.endswith("Stopped. Nothing was saved.\n")
    assert stocked.read_bytes() == before


def test_the_command_asks_where_the_form_asks(typing: Typing) -> None:
    foxglove = ("Foxglove", *THYME[1:], *VODKA, "", "", "", "", "", "", "")
    refused = typing("fill", *foxglove, "perhaps", "no")
    assert refused.code == 2
    assert "Never use it in a tincture made at home. yes or no: Answer yes or no." in refused.err
    assert typing("fill", *foxglove, "yes").code == 0
    too_much = ("5 l", "", "pressed", "", "", "", "")
    assert "is more than the" in typing("strain 26-003", *too_much, "no").err
    assert typing("strain 26-003", *too_much, "yes").code == 0


def test_a_jar_is_strained_and_bottled_line_by_line(typing: Typing) -> None:
    strained = typing("strain 26-003", "480 ml", "", "squeezed", "", "", "", "")
    assert strained.out.startswith("Strained 26-003 Thyme: 480 mL")
    assert "squeezed: expect" in strained.err
    bottled = typing("bottle 26-003", "no", "250 ml", "", "Door", "200 ml", "180 ml", "", "")
    assert "Proposed: a bottle of 500 mL, holding 480 mL." in bottled.err
    assert "26-003.1 Thyme: 250 mL of 250 mL" in bottled.out
    assert "26-003.2 Thyme: 180 mL of 200 mL" in bottled.out
    assert "50 mL left to bottle." in bottled.out
    assert typing("bottle 26-003", "yes").out.startswith("Bottled Thyme 26-003.\n26-003.3")


def test_a_stock_take_goes_from_bottle_to_bottle(typing: Typing) -> None:
    answer = typing("stock-take", "roof", "door", "300 ml", "240 ml")
    assert "There is no place called roof. Choose from Box, Door." in answer.err
    assert "26-001.1 Elecampane, 250 mL recorded: " in answer.err
    assert "holds at most 250 mL" in answer.err
    assert answer.out == (
        "Door: 1 bottle counted; 1 corrected, 10 mL less than recorded.\n"
        "  26-001.1: 250 mL recorded, 240 mL seen\n"
    )


def test_the_round_goes_from_jar_to_jar(typing: Typing) -> None:
    answer = typing("round", "x", "u", "o", "", "u", "", "n")
    assert answer.code == 0
    asked = [line for line in answer.err.splitlines() if "Shaken?" in line]
    assert len(asked) == 7
    assert "herb not covered" in answer.err
    assert "There is nothing to undo in this round." in answer.err
    assert answer.out == "Shook 1 jar. 1 jar still to shake.\n"
    again = typing("round")  # Ctrl-D at the first
    assert again.out == "Shook 0 jars. 1 jar still to shake.\n"
    done = typing("round", "")
    assert done.out == "Shook 1 jar. 0 jars still to shake.\n"
    assert typing("round").out == "To shake: 0 jars.\n"


def test_without_a_terminal_the_round_lists_the_jars(say: Say, stocked: Path) -> None:
    lines = say("round", "--shelf", stocked).out.splitlines()
    assert lines[0] == "To shake: 2 jars."
    assert len(lines) == 3
    assert [jar["code"] for jar in say("round", "--json", "--shelf", stocked).json] == [
        "26-002", "26-003",
    ]  # fmt: skip


def test_on_a_real_terminal_each_question_is_a_plain_line(stocked: Path) -> None:
    seen = in_terminal(
        "cover", "26-002", "--shelf", str(stocked), keys=b"no\n", once="Herb covered"
    )
    assert (seen.code, seen.is_restored) == (0, True)
    assert "the herb is not covered" in seen.out
    assert "\x1b" not in seen.out
