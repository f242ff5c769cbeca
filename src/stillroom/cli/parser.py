"""Which commands there are, and what was asked for."""

import argparse
import re
from collections.abc import Iterable, Mapping, Sequence
from importlib import import_module
from typing import NoReturn, cast

from stillroom import __version__
from stillroom.cli.call import Command, named_path
from stillroom.cli.examples import EXAMPLES
from stillroom.cli.exit_codes import MEANINGS
from stillroom.errors import closest
from stillroom.printable import printable

ABOUT = "Stillroom keeps the records of a shelf of herbal tinctures, from the jar to the last drop."
_CODES = "\n".join(f"{code:>5} {meaning.replace('`', '')}" for code, meaning in MEANINGS.items())
NOTES = f"""\
Without a command, Stillroom opens the screen. Every command has its own --help.
Exit codes:
{_CODES}

Stillroom keeps records and does the arithmetic. It recommends no dose and gives no medical
advice."""

GROUPS: dict[str, dict[str, tuple[str, str]]] = {
    "every day": {
        "today": ("today", "what needs doing today"),
        "round": ("round", "go from jar to jar and shake each"),
        "shake": ("jars", "record shakes"),
        "jars": ("jars", "list the jars by shelf"),
        "undo": ("undo", "undo the last act"),
        "redo": ("undo", "redo the last act undone"),
    },
    "jars": {
        "fill": ("fill", "fill a jar"),
        "pour-again": ("fill", "start a jar from the marc of a strained one"),
        "top-up": ("fill", "pour more liquid into a jar"),
        "dates": ("care", "change a jar's filling date, strain date and shakes a day"),
        "cover": ("care", "record whether the herb is under the liquid"),
        "note": ("care", "add a note to a jar's history"),
        "move": ("care", "move a jar to another shelf, or a bottle to another place"),
        "discard": ("care", "discard a jar unstrained, or what a bottle holds"),
        "strain": ("strain", "strain a jar"),
        "bottle": ("strain", "fill bottles from what was strained or blended"),
    },
    "bottles": {
        "bottles": ("bottles", "list the bottles and what is left in them"),
        "draw": ("bottles", "draw liquid from a bottle"),
        "returned": ("stock", "record liquid that came back after it was drawn or given"),
        "weigh-in": ("stock", "correct what a bottle holds by weighing it"),
        "count": ("stock", "correct what a bottle holds by what you see"),
        "stock-take": ("stock", "count the bottles of a place"),
        "join": ("join", "make one batch of several, or pour a bottle into another"),
        "loss": ("join", "record what was lost of a batch or bottle"),
        "thin": ("join", "bring a batch or bottle to a strength with water or spirit"),
        "keep-until": ("stock", "change the last day to use a batch"),
        "blend": ("blend", "blend bottles, or make up a formula"),
        "formula": ("blend", "list, add, change and delete formulas"),
        "release": ("status", "release a batch for use"),
        "reject": ("status", "reject a batch"),
        "withdraw": ("status", "withdraw every batch made with a herb, spirit or batch"),
        "withdrawn": ("status", "list where the withdrawn bottles are"),
    },
    "cupboard": {
        "spirits": ("cupboard", "list, add, change and delete spirits"),
        "liquids": ("liquids", "list, add, change and delete glycerine, honey and the like"),
        "herbs": ("cupboard", "list, add, change and delete herbs"),
        "cupboard": ("cupboard_stock", "count a spirit or liquid, or record what was taken"),
        "lots": ("lots", "list herbs in store; gather, buy, dry, weigh, give and discard them"),
        "shelves": ("cupboard", "list, add, change, order and delete shelves"),
        "sizes": ("cupboard", "list, add, change and delete bottle sizes"),
        "settings": ("settings", "list and change the settings"),
    },
    "looking up": {
        "calculate": ("calculate", "run a calculator"),
        "trace": ("trace", "show where the liquid behind a code came from"),
        "recall": ("trace", "show where a herb or spirit went and what is left of it"),
        "ledger": ("ledger", "list everything that was done, undone and corrected"),
        "correct": ("correct", "correct an entry of any day and all that follows from it"),
        "year": ("year", "show what was made, used and lost, and what it cost"),
        "plan": ("plan", "show how long tinctures will last, and what to gather and fill"),
        "learning": ("year_papers", "show what each straining yielded, and what to expect next"),
        "season": ("season", "list and set when each herb is gathered, and its months in hand"),
        "people": ("year", "show who was given what, and when"),
        "close": ("status", "close a month or the record of a batch"),
        "forget": ("forget", "remove a person's name from the shelf for good"),
    },
    "paper": {
        "labels": ("labels", "print labels of bottles, jars, herb and spirits"),
        "record": ("papers", "print the batch record of a tincture"),
        "daysheet": ("papers", "print today's work, to tick off by hand"),
        "shelflist": ("papers", "print every shelf and its jars"),
        "stocklist": ("papers", "print every bottle"),
        "calendar": ("papers", "write strain and keep-until dates as a calendar file"),
        "signsheet": ("year_papers", "print the year's stock-take, losses or spirit, to sign"),
    },
    "the shelf file": {
        "export": ("files", "write the shelf as CSV files or JSON"),
        "import": ("importing", "import an exported folder or your own list of jars"),
        "backup": ("files", "save a copy of the shelf in one file"),
        "restore": ("files", "replace the shelf with a backup"),
        "check": ("files", "check the shelf for problems"),
    },
    "the program": {
        "completion": ("manual", "print a completion script for a shell"),
        "manual": ("manual", "print the man page"),
        "reference": ("reference", "print what programs can rely on: exit codes, JSON, columns"),
    },
}
"""The commands by the day's work: each one's module and what it does.

A module is imported when its command is used.
"""
COMMANDS = {name: each for group in GROUPS.values() for name, each in group.items()}
GROUP_EXAMPLES = {
    "every day": "shake",
    "jars": "fill",
    "bottles": "draw",
    "cupboard": "spirits",
    "looking up": "ledger",
    "paper": "labels",
    "the shelf file": "backup",
    "the program": "completion",
}
"""Whose example is shown for each group."""
OLD_NAMES = {"reckon": "calculate"}
"""Names that still work and are no longer listed."""


NAME_WIDTH = 12
"""Columns of the longest name, and a space or two."""


def _listed_groups() -> str:
    """Every command by group, each group with an example."""
    lines: list[str] = []
    for title, group in GROUPS.items():
        lines += ["", f"{title}:"]
        lines += [f"    {name:{NAME_WIDTH}}{summary}" for name, (_, summary) in group.items()]
        lines.append(f"  example: stillroom {EXAMPLES[GROUP_EXAMPLES[title]]}")
    return "\n".join(lines).strip()


_UNKNOWN_COMMAND = re.compile(r"argument COMMAND: invalid choice: '(.*?)'")
_UNKNOWN_CHOICE = re.compile(
    r"argument (?P<of>\S+): invalid choice: '(?P<typed>.*)' \(choose from (?P<known>.*)\)",
    re.DOTALL,
)


class _Parser(argparse.ArgumentParser):
    """Reports what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        if unknown := _UNKNOWN_COMMAND.match(message):
            message = f"there is no command {unknown[1]}{_perhaps(unknown[1], COMMANDS)}"
        elif unknown := _UNKNOWN_CHOICE.match(message):
            known = unknown["known"].replace("'", "")
            message = f"{unknown['of']} can't be {unknown['typed']}: choose from {known}"
        end = "" if message.endswith("?") else "."
        self.exit(2, f"{self.prog}: {printable(message)}{end} See {self.prog} --help.\n")


def _perhaps(typed: str, known: Iterable[str]) -> str:
    """What was probably meant, to go on with a sentence; blank where it is like none."""
    meant = closest(typed, known)
    return f"; did you mean {meant}?" if meant else ""


def whole_parser() -> argparse.ArgumentParser:
    """The program with all its commands set out, for completion and the man page."""
    parser = _program()
    parser.epilog = NOTES
    words = parser.add_subparsers(title="commands", metavar="COMMAND", prog="stillroom")
    for name, (module, summary) in COMMANDS.items():
        word = words.add_parser(name, help=summary, add_help=False)
        _set_out(word, name, module, summary)
    return parser


def _program() -> _Parser:
    """The program without its commands."""
    parser = _Parser(
        "stillroom",
        usage="%(prog)s [-h] [--version] [--shelf FILE] [--new] [--sample]\n"
        "                 [--initials TEXT] COMMAND ...",
        description=ABOUT,
        epilog=f"{_listed_groups()}\n\n{NOTES}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
        add_help=False,
    )
    parser.add_argument("-h", "--help", action="help", help="show this help and exit")
    parser.add_argument(
        "--version",
        action="version",
        version=f"Stillroom {__version__}",
        help="show the version and exit",
    )
    defaults = {"shelf": None, "new": False, "sample": False, "initials": None}
    _add_shelf_options(parser, defaults)
    parser.set_defaults(command="", work=None)
    return parser


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """What was asked for; `command` is its name, blank for the screen, and `work` what to do.

    Help, the version and what cannot be understood end the program, as argparse has it.
    """
    parser = _program()
    known: dict[str, argparse.ArgumentParser] = {}
    # Only what may be meant: making a parser for every command takes longer than most commands.
    if not _is_for_the_screen(arguments):
        words = parser.add_subparsers(metavar="COMMAND", help=argparse.SUPPRESS, prog="stillroom")
        for word in dict.fromkeys(arguments):
            if name := OLD_NAMES.get(word, word if word in COMMANDS else ""):
                known[name] = words.add_parser(word, add_help=False)
                _set_out(known[name], name, *COMMANDS[name])
    asked, over = parser.parse_known_args(arguments)
    are_values = all("=" in word and not word.startswith("-") for word in over)
    if over and are_values and hasattr(asked, "values"):
        asked.values += over  # argparse doesn't count what follows an option
    elif over:
        _refuse_what_is_over(known.get(asked.command, parser), over)
    if asked.sample and (asked.shelf or asked.new):
        parser.error("--sample can't be combined with --shelf or --new")
    return asked


def _refuse_what_is_over(parser: argparse.ArgumentParser, over: Sequence[str]) -> NoReturn:
    """Name the option that there isn't, or the words that the command doesn't take."""
    option = next((word.partition("=")[0] for word in over if word.startswith("-")), "")
    if not option:
        parser.error(f"nothing more is expected, but there is {' '.join(over)}")
    options = re.findall(r"--[a-z][a-z-]+", parser.format_usage())
    parser.error(f"there is no option {option}{_perhaps(option, options)}")


def _is_for_the_screen(arguments: Sequence[str]) -> bool:
    """Whether there are options alone, and none that asks for help."""
    before = ("", *arguments)
    takes_a_word = ("--shelf", "--initials")
    words = [a for a, last in zip(arguments, before, strict=False) if last not in takes_a_word]
    return all(word.startswith("-") and word not in {"-h", "--help"} for word in words)


def _add_shelf_options(parser: argparse.ArgumentParser, defaults: Mapping[str, object]) -> None:
    """The options that say which shelf; a command takes them as well as the program."""

    def default(name: str) -> object:
        # If a command has no default of its own, an option given before it keeps its value.
        return defaults.get(name, argparse.SUPPRESS)

    which = parser.add_argument_group("which shelf")
    which.add_argument(
        "--shelf",
        metavar="FILE",
        type=named_path,
        default=default("shelf"),
        help="use the shelf in this file",
    )
    which.add_argument(
        "--new", action="store_true", default=default("new"), help="create the shelf first"
    )
    which.add_argument(
        "--sample",
        action="store_true",
        default=default("sample"),
        help="use a sample shelf; changes to it are not saved",
    )
    which.add_argument(
        "--initials",
        metavar="TEXT",
        default=default("initials"),
        help="who is at the shelf; if left out, the initials in the settings",
    )


def _set_out(word: argparse.ArgumentParser, name: str, module: str, summary: str) -> None:
    command = command_of(name, module)
    word.description = f"{summary[0].upper()}{summary[1:]}."
    word.epilog = command.notes
    word.formatter_class = argparse.RawDescriptionHelpFormatter
    word.allow_abbrev = False
    if command.help:
        word.add_argument("-h", "--help", action=command.help, help="show this help and exit")
    else:
        word.add_argument("-h", "--help", action="help", help="show this help and exit")
    command.arguments(word)
    word.epilog = f"{word.epilog}\n\nexample:\n  stillroom {EXAMPLES[name]}".strip()
    _add_shelf_options(word, {})
    word.set_defaults(command=name, work=command.run)


def command_of(name: str, module: str) -> Command:
    """A command, its module imported now."""
    return cast("Command", import_module(f"{__package__}.{module}").COMMANDS[name])
