"""Completion in shells and the man page are made from the parser; every example is understood."""

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from stillroom.cli.examples import EXAMPLES
from stillroom.cli.manual import SHELLS
from stillroom.cli.parser import COMMANDS, GROUP_EXAMPLES, GROUPS, parse

from .answers import Say


@pytest.mark.parametrize("shell", SHELLS)
def test_the_completion_script_for_each_shell_has_every_command(say: Say, shell: str) -> None:
    answer = say("completion", shell)
    assert (answer.code, answer.err) == (0, "")
    for name in COMMANDS:
        assert name in answer.out


@pytest.mark.parametrize(
    ("typed", "offered"),
    [(["stock"], {"stock-take", "stocklist"}), (["fill", "--dry"], {"--dry-run"})],
)
def test_bash_completes_commands_and_options(
    say: Say, tmp_path: Path, typed: list[str], offered: set[str]
) -> None:
    script = tmp_path / "completion"
    script.write_text(say("completion", "bash").out, encoding="utf-8")
    words = " ".join(["stillroom", *typed])
    asked = (
        f"source {script}; COMP_WORDS=({words}); COMP_CWORD={len(typed)}; COMP_LINE='{words}'; "
        "_shtab_stillroom stillroom; printf '%s\\n' \"${COMPREPLY[@]}\""
    )
    done = subprocess.run(["bash", "-c", asked], capture_output=True, text=True, check=True)
    assert set(done.stdout.split()) == offered


def asked_in(shell: str, *words: str) -> str:
    """What a shell prints; the test is skipped where the shell isn't installed."""
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} isn't installed")
    done = subprocess.run([shell, *words], capture_output=True, text=True, check=True)
    assert done.stderr == ""
    return done.stdout


def test_fish_completes_commands_and_options(say: Say, tmp_path: Path) -> None:
    script = tmp_path / "stillroom.fish"
    script.write_text(say("completion", "fish").out, encoding="utf-8")
    typed = f"source {script}; complete -C 'stillroom stock'; complete -C 'stillroom fill --dry'"
    offered = [line.split("\t")[0] for line in asked_in("fish", "-c", typed).splitlines()]
    assert sorted(offered) == ["--dry-run", "stock-take", "stocklist"]


def test_zsh_loads_the_completion_for_its_command(say: Say, tmp_path: Path) -> None:
    (tmp_path / "_stillroom").write_text(say("completion", "zsh").out, encoding="utf-8")
    typed = (
        f"fpath=({tmp_path} $fpath); autoload -Uz compinit; compinit -u -D;"
        " autoload +X _stillroom; print $_comps[stillroom] $+functions[_stillroom]"
    )
    assert asked_in("zsh", "-f", "-c", typed) == "_stillroom 1\n"
    checked = asked_in("zsh", "-n", str(tmp_path / "_stillroom"))
    assert checked == ""


def test_the_man_page_describes_every_command(say: Say) -> None:
    answer = say("manual")
    assert (answer.code, answer.err) == (0, "")
    assert answer.out.startswith('.TH STILLROOM "1" "2026\\-11\\-26" "Stillroom ')
    for name, (_, summary) in COMMANDS.items():
        page = answer.out.replace("\\", "")  # before what means something else in such a page
        assert f"stillroom {name}" in page
        assert summary in page


def test_no_other_command_loads_the_libraries_for_completion_and_manual() -> None:
    loaded = "import sys; from stillroom.cli import parse; parse(['today']); print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", loaded], capture_output=True, text=True, check=True
    )
    assert not {"shtab", "argparse_manpage"} & set(done.stdout.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_the_example_in_the_help_of_each_command_is_understood_and_the_lines_fit(
    say: Say, name: str
) -> None:
    words = shlex.split(EXAMPLES[name].split(" > ")[0].split(" | ")[0])
    asked = parse(words)
    assert (words[0], asked.command) == (name, name)
    out = say(name, "--help").out
    assert f"stillroom {EXAMPLES[name]}" in out
    for line in out.partition("which shelf:")[2].splitlines():
        # A field's words to choose from, the sheets and a command are never wrapped.
        assert len(line) <= 100 or re.match(r" +[\w-]+=|Sheets by|  stillroom", line), line


def test_the_main_help_shows_an_example_of_each_group(say: Say) -> None:
    assert set(GROUP_EXAMPLES) == set(GROUPS)
    out = say("--help").out
    for title, group in GROUPS.items():
        assert f"\n{title}:\n" in out
        assert GROUP_EXAMPLES[title] in group
        assert f"  example: stillroom {EXAMPLES[GROUP_EXAMPLES[title]]}\n" in out


@pytest.mark.parametrize("name", ["fill", "bottle", "blend"])
def test_help_explains_each_column_of_a_field_that_has_several(say: Say, name: str) -> None:
    out = say(name, "--help").out
    heads = re.findall(r'^  [\w-]+="([\w;]+)"', out, re.MULTILINE)
    assert heads
    for column in ";".join(heads).split(";"):
        assert re.search(rf"^      {column}=", out, re.MULTILINE), column
