"""The README's main job, from an empty cupboard to a labelled bottle, without the screen."""

import re
import shlex
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from stillroom.clock import SetClock

from .answers import Answer, Say
from .test_commands import README
from .test_prompts import Typed

JOB = "This is the job from an empty cupboard"


def commands() -> list[list[str]]:
    text = README.read_text(encoding="utf-8")
    block = re.search(r"```sh\n(.*?)```", text[text.index(JOB) :], re.DOTALL)
    assert block
    return [shlex.split(line)[1:] for line in block[1].splitlines()]


@pytest.fixture
def at(
    say: Say, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clock: SetClock
) -> Callable[..., Answer]:
    """Give a command as it is in the README, in a new home; the jar is strained when due."""
    monkeypatch.chdir(tmp_path)

    def give(*words: str) -> Answer:
        if words[0] == "strain":
            clock.moment += timedelta(days=14)
        answer = say(*words)
        assert (answer.code, words[0]) == (0, words[0]), answer.err
        return answer

    return give


def check_outcome(at: Callable[..., Answer], tmp_path: Path) -> None:
    first, second = at("bottles", "--json").json
    assert (first["code"], first["left_ml"], first["place"]) == ("26-001.1", 220, "Door")
    assert (second["code"], second["left_ml"], second["size_ml"]) == ("26-001.2", 230, 250)
    # 120 g in 600 mL is 1:5; dried root brings 10 % water, 12 g, so that 240 mL of ethanol are in
    # about 611 mL.
    assert first["ratio"] == pytest.approx(5)
    assert first["strength_abv"] == pytest.approx(100 * 240 / 611, abs=0.3)
    (spirit,) = at("spirits", "--json").json
    assert spirit["left_ml"] == 1400
    assert "for J." in at("ledger", "--kind", "draw").out
    assert (tmp_path / "labels.pdf").read_bytes().startswith(b"%PDF")
    assert at("today", "--json").json["to_bottle"] == []
    assert at("check").code == 0


def test_the_main_job_is_done_with_the_commands_of_the_readme(
    at: Callable[..., Answer], tmp_path: Path
) -> None:
    asked = commands()
    assert [words[0] for words in asked] == [
        "spirits", "fill", "shake", "strain", "bottle", "labels", "draw",
    ]  # fmt: skip
    for words in asked:
        at(*words)
    check_outcome(at, tmp_path)


def test_the_main_job_is_done_by_answering_questions_line_by_line(
    at: Callable[..., Answer], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def typing(words: str, *lines: str) -> None:
        monkeypatch.setattr("sys.stdin", Typed("".join(f"{line}\n" for line in lines)))
        at(*words.split())

    typing("spirits add", "Vodka", "40%", "2 l", "30")
    herb = ("Marshmallow", "root", "dried", "120 g", "", "", "", "", "")
    typing("fill", *herb, "600 ml", "vodka", "", "1 l")
    typing("round", "")
    typing("strain 26-001", "480 ml", "", "pressed")
    typing("bottle 26-001", "no", "250 ml", "", "Door", "250 ml", "230 ml", "Door", "")
    typing("labels 26-001.1 26-001.2 --to labels.pdf")
    typing("draw 26-001.1 30 ml --for J.")
    check_outcome(at, tmp_path)
