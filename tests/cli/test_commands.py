"""Every command has help, and refuses in one sentence."""

import re
import shlex
from argparse import ArgumentParser
from pathlib import Path

import pytest

from stillroom import __version__
from stillroom.cli.examples import EXAMPLES
from stillroom.cli.parser import COMMANDS, command_of, parse

from .answers import Say


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(say: Say, name: str) -> None:
    answer = say(name, "--help")
    assert answer.code == 0
    assert answer.out.startswith(f"usage: stillroom {name}")
    assert "--shelf FILE" in answer.out
    assert not answer.err


def test_help_names_every_command(say: Say) -> None:
    answer = say("--help")
    assert answer.code == 0
    for name, (_, summary) in COMMANDS.items():
        assert f"    {name} " in answer.out
        assert summary in answer.out
    for option in ("--shelf FILE", "--new", "--sample", "--version"):
        assert option in answer.out


def test_the_version_is_printed(say: Say) -> None:
    assert say("--version") == (0, f"Stillroom {__version__}\n", "")


@pytest.mark.parametrize(
    "words",
    [
        ("brew",),
        ("today", "--loud"),
        ("today", "extra"),
        ("draw",),
        ("--shelf",),
        ("--sample", "--new"),
        ("today", "--sample", "--shelf", "x"),
        ("tod",),
        ("today", "--js"),
    ],
)
def test_a_command_that_is_not_understood_gets_one_line_and_exit_code_2(
    say: Say, words: tuple[str, ...]
) -> None:
    answer = say(*words)
    assert answer.code == 2
    assert not answer.out
    assert answer.err.count("\n") == 1
    assert "--help" in answer.err


def test_a_mistyped_word_is_answered_with_the_one_that_was_probably_meant(say: Say) -> None:
    """Each command and each of its long options, with a letter too many."""
    for name, (module, _) in COMMANDS.items():
        assert f"there is no command {name}x; did you mean {name}?" in say(f"{name}x").err
        parser = ArgumentParser()
        command_of(name, module).arguments(parser)
        words = shlex.split(re.split("[>|]", EXAMPLES[name])[0])
        for option in set(re.findall(r"--[a-z][a-z-]+", parser.format_usage())):
            said = say(*words, f"{option}x").err
            assert f"there is no option {option}x; did you mean {option}?" in said, (name, said)


def test_a_wrong_choice_is_answered_with_the_list_of_choices(say: Say) -> None:
    assert say("signsheet", "cash").err == (
        "stillroom signsheet: SHEET can't be cash: choose from stock-take, losses, past, spirit. "
        "See stillroom signsheet --help.\n"
    )


README = Path(__file__).parents[2] / "README.md"


def commands_in_readme() -> list[list[str]]:
    blocks = re.findall(r"^```sh\n(.*?)^```", README.read_text(encoding="utf-8"), re.DOTALL | re.M)
    lines = [line for block in blocks for line in block.splitlines()]
    return [shlex.split(line)[1:] for line in lines if line.startswith("stillroom ")]


def test_every_command_shown_in_the_readme_is_understood() -> None:
    shown = commands_in_readme()
    assert shown
    for words in shown:
        asked = parse(words)
        assert asked.command == next(word for word in words if not word.startswith("-"))
        assert asked.work
