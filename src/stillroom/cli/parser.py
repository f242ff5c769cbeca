"""Which commands there are, and what was asked for."""

import argparse
from collections.abc import Mapping, Sequence
from importlib import import_module
from typing import NoReturn, cast

from stillroom import __version__
from stillroom.cli.call import Command, named_path

ABOUT = "Stillroom keeps a shelf of herbal tinctures: jars, shakes, strainings, bottles, records."
NOTES = """\
Without a command it opens the screen. Every command has its own --help.
Exit codes: 0 done; 1 where a command's help says so; 2 it cannot be done, and why is on
standard error; 3 it is done, but the report could not be written; 70 a fault in Stillroom, with
a traceback in a log.

Stillroom reckons and records. It knows no doses and gives no medical advice."""

COMMANDS: dict[str, tuple[str, str]] = {
    "today": ("today", "what today asks for"),
    "shake": ("jars", "tick off shakes"),
    "jars": ("jars", "the jars, shelf by shelf"),
    "bottles": ("bottles", "the bottles and what they hold"),
    "draw": ("bottles", "take liquid out of a bottle"),
    "undo": ("undo", "take the last action back"),
    "redo": ("undo", "do again what was taken back"),
    "trace": ("trace", "where the liquid behind a code came from"),
    "recall": ("trace", "where a spirit or a herb went, and what is left of it"),
    "reckon": ("reckon", "the calculators"),
    "labels": ("papers", "labels for bottles"),
    "record": ("papers", "the batch record of a tincture"),
    "daysheet": ("papers", "today's work, to tick with a pencil"),
    "shelflist": ("papers", "every shelf and its jars, to print"),
    "stocklist": ("papers", "every bottle, to print"),
    "calendar": ("papers", "strain and keep-until dates for a calendar"),
    "export": ("files", "the whole shelf as CSV files or JSON"),
    "import": ("files", "take in an exported folder or a notebook"),
    "backup": ("files", "a whole copy of the shelf in one file"),
    "restore": ("files", "put a backup in the shelf's place"),
    "check": ("files", "look for problems in the record"),
}
"""Each command's module and what it is for; the modules are imported when they are asked for."""


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"{self.prog}: {message}. See {self.prog} --help.\n")


def parse(arguments: Sequence[str]) -> argparse.Namespace:
    """What was asked for; `command` is its name, blank for the screen, and `work` what to do.

    Help, the version and what cannot be understood end the program, as argparse has it.
    """
    parser = _Parser(
        "stillroom",
        description=ABOUT,
        epilog=NOTES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"Stillroom {__version__}")
    _add_shelf_options(parser, {"shelf": None, "new": False, "sample": False})
    parser.set_defaults(command="", work=None)
    # Only what may be meant: to take in every command would slow down the way to the screen.
    if not _is_for_the_screen(arguments):
        words = parser.add_subparsers(title="commands", metavar="COMMAND", prog="stillroom")
        for name, (module, summary) in COMMANDS.items():
            word = words.add_parser(name, help=summary, add_help=False)
            if name in arguments:
                _set_out(word, name, module, summary)
    asked, over = parser.parse_known_args(arguments)
    are_values = all("=" in word and not word.startswith("-") for word in over)
    if over and are_values and hasattr(asked, "values"):
        asked.values += over  # argparse does not count what stands behind an option to them
    elif over:
        parser.error(f"unrecognized arguments: {' '.join(over)}")
    if asked.sample and (asked.shelf or asked.new):
        parser.error("--sample is a shelf of its own; leave out --shelf and --new")
    return asked


def _is_for_the_screen(arguments: Sequence[str]) -> bool:
    """Whether there are options alone, and none that asks for help."""
    before = ("", *arguments)
    words = [a for a, last in zip(arguments, before, strict=False) if last != "--shelf"]
    return all(word.startswith("-") and word not in {"-h", "--help"} for word in words)


def _add_shelf_options(parser: argparse.ArgumentParser, defaults: Mapping[str, object]) -> None:
    """The options that say which shelf; a command takes them as well as the program."""

    def default(name: str) -> object:
        # Where a command has no default of its own, what stood before it is left as it is.
        return defaults.get(name, argparse.SUPPRESS)

    which = parser.add_argument_group("which shelf")
    which.add_argument(
        "--shelf",
        metavar="FILE",
        type=named_path,
        default=default("shelf"),
        help="the shelf in this file",
    )
    which.add_argument(
        "--new", action="store_true", default=default("new"), help="make the shelf first"
    )
    which.add_argument(
        "--sample",
        action="store_true",
        default=default("sample"),
        help="a throw-away sample shelf, gone afterwards",
    )


def _set_out(word: argparse.ArgumentParser, name: str, module: str, summary: str) -> None:
    command = command_of(name, module)
    word.description = f"{summary[0].upper()}{summary[1:]}."
    word.epilog = command.notes
    word.formatter_class = argparse.RawDescriptionHelpFormatter
    word.allow_abbrev = False
    if command.help:
        word.add_argument("-h", "--help", action=command.help, help="show this and exit")
    else:
        word.add_argument("-h", "--help", action="help", help="show this and exit")
    command.arguments(word)
    _add_shelf_options(word, {})
    word.set_defaults(command=name, work=command.run)


def command_of(name: str, module: str) -> Command:
    """A command, its module imported now."""
    return cast("Command", import_module(f"{__package__}.{module}").COMMANDS[name])
