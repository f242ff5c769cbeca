"""What a command prints: plain lines for people and screen readers, JSON for programs."""

import json
import shutil
import sys
import tempfile
from argparse import ArgumentParser
from collections.abc import Iterable
from pathlib import Path

from stillroom.cli.call import Call
from stillroom.cli.schema import SHAPES_VERSION
from stillroom.errors import NeedsConfirmation, Refused
from stillroom.printable import escaped

NARROW = 40
"""Narrower terminals break lines themselves."""


def put(text: str = "", indent: int = 0) -> None:
    """Print a text, broken between words where a terminal would break inside them."""
    for line in text.split("\n"):
        for row in _rows(line, indent):
            print(f"{' ' * indent}{row}".rstrip())


def _rows(line: str, indent: int) -> Iterable[str]:
    if not sys.stdout.isatty():
        return [line]
    width = shutil.get_terminal_size().columns - indent
    if width < NARROW:
        return [line]
    from stillroom.paper.plain import wrap

    return wrap(line, width)


def put_as_it_is(text: str) -> None:
    """Print text for a program that reads lines, however wide the terminal is."""
    sys.stdout.write(text)


def put_list(heading: str, lines: Iterable[str]) -> None:
    """Print lines under a heading, or nothing where there are none."""
    found = list(lines)
    if not found:
        return
    put()
    put(heading)
    for line in found:
        put(line, 2)


def put_json(call: Call, result: object, *, is_done: bool | None = None) -> None:
    """Print a result as JSON that any program reads, whatever characters the terminal knows.

    `is_done` is whether a command that writes has done so.
    """
    named = {"command": call.asked.command, "version": SHAPES_VERSION}
    done = {} if is_done is None else {"is_done": is_done}
    is_ascii = (sys.stdout.encoding or "").lower() != "utf-8"
    print(json_text({**named, **done, "result": result}, ascii_only=is_ascii))


def json_text(value: object, *, ascii_only: bool = False) -> str:
    """A value as JSON; days are written as 2026-11-26."""
    return escaped(json.dumps(value, ensure_ascii=ascii_only, indent=1, default=str))


def write_out(call: Call, path: Path, content: bytes) -> None:
    """Write a file and report it; Refused if it exists and may not be replaced."""
    written = write(call, path, content)
    put(f"Wrote {written}.")
    if getattr(call.asked, "print", False):
        put(send_to_printer(call, written))


def print_content(call: Call, content: bytes) -> str:
    """Print a PDF that is kept in no file, and return what to report."""
    with tempfile.TemporaryDirectory(prefix="stillroom-") as folder:
        file = Path(folder) / "paper.pdf"
        file.write_bytes(content)
        return send_to_printer(call, file)


def send_to_printer(call: Call, file: Path) -> str:
    """Print a written file by the shelf's print command, and return what to report."""
    from stillroom.keeping.print_command import print_file

    try:
        return print_file(call.keeper, file, confirmed=call.asked.yes)
    except NeedsConfirmation as question:
        raise Refused(f"{question} Add --yes to run it from now on.") from question


def write(call: Call, path: Path, content: bytes) -> Path:
    """Write a file and return its path; Refused if it exists and may not be replaced."""
    from stillroom.files import write_file

    try:
        written = write_file(
            path, content, overwrite=call.asked.overwrite, shared=call.asked.shared
        )
    except NeedsConfirmation as question:
        raise Refused(f"{path} already exists. Add --overwrite to replace it.") from question
    call.is_done = True
    return written


def print_option(parser: ArgumentParser) -> None:
    """Whether a file is printed once it is written."""
    parser.add_argument(
        "--print",
        action="store_true",
        help="also print it, with the print command in the settings",
    )
    parser.add_argument(
        "--yes",
        action="store_true",
        help="run a print command that came with this shelf, and trust it from now on",
    )


def file_options(parser: ArgumentParser) -> None:
    """How a file is written."""
    parser.add_argument("--overwrite", action="store_true", help="replace an existing file")
    parser.add_argument(
        "--shared",
        action="store_true",
        help="let other users of this computer read it; if left out, only you can",
    )
