"""Paper without the screen: the batch record, lists, and the calendar file."""

import shutil
import sys
from argparse import ArgumentParser, BooleanOptionalAction
from pathlib import Path
from typing import TYPE_CHECKING

from stillroom.cli.call import Call, Command, json_option, named_path
from stillroom.cli.output import file_options, print_content, print_option, put, write_out
from stillroom.cli.paper_json import put_paper, refuse_json_beside_text
from stillroom.errors import Refused

if TYPE_CHECKING:
    from stillroom.paper.document import Document
    from stillroom.paper.pdf_facts import PdfFacts

WIDTH, WIDEST = 80, 132
"""Columns of a document as text: usually, and at most on a wide terminal."""
TEXT_HELP = "as plain text, for a screen reader: to the terminal, or to a file ending in .txt"


def _to_arguments(parser: ArgumentParser, what: str) -> None:
    parser.add_argument(
        "--to",
        metavar="FILE",
        type=_file_or_output,
        help=f"{what}; if left out, or for -, prints to the terminal",
    )
    file_options(parser)
    json_option(parser)


def _file_or_output(text: str) -> Path | None:
    """The file that is named; None for -, the standard output."""
    return None if text == "-" else named_path(text)


def document_arguments(parser: ArgumentParser) -> None:
    """Where a document goes."""
    _to_arguments(parser, "write to this file, ending in .pdf or .txt")
    parser.add_argument("--text", action="store_true", help=TEXT_HELP)
    print_option(parser)


def deliver(call: Call, document: "Document") -> int:
    """Put a document where it was asked for."""
    from stillroom.paper.document import as_text

    path: Path | None = call.asked.to
    refuse_text_as_other(call, path)
    refuse_json_beside_text(call)
    if call.asked.json:
        return put_paper(call, document, path, _content(call, document, path) if path else b"")
    if path is None and getattr(call.asked, "print", False):
        put(print_content(call, pdf_of(call, document)))
        return 0
    if path is None:
        sys.stdout.write(as_text(document, text_width()))
        return 0
    write_out(call, path, _content(call, document, path))
    return 0


def _content(call: Call, document: "Document", path: Path) -> bytes:
    """A document as its file's ending asks for it."""
    from stillroom.paper.document import as_text

    if path.suffix.lower() == ".txt":
        return as_text(document, WIDTH).encode()
    refuse_other_than_pdf(path, ".pdf or .txt")
    return pdf_of(call, document)


def pdf_of(call: Call, document: "Document") -> bytes:
    """A document as a PDF, on the paper and with the maker that the settings name."""
    from stillroom.paper.pdf import as_pdf, page_for

    return as_pdf(document, page_for(call.settings), pdf_facts(call))


def pdf_facts(call: Call, language: str = "en") -> "PdfFacts":
    """Who made a PDF, in which language, and when."""
    from stillroom.paper.pdf_facts import PdfFacts

    return PdfFacts(call.settings.maker_name, language, call.clock.now())


def refuse_text_as_other(call: Call, path: Path | None) -> None:
    """Refuse to print plain text, or to write it under another paper's ending."""
    if call.asked.text and getattr(call.asked, "print", False):
        raise Refused("--print prints the PDF. Leave out --text or --print.")
    if call.asked.text and path and path.suffix.lower() != ".txt":
        raise Refused(f"With --text, use a name that ends in .txt, not {path.name}.")


def text_width() -> int:
    """Columns of a document on this terminal."""
    return min(WIDEST, shutil.get_terminal_size().columns) if sys.stdout.isatty() else WIDTH


def refuse_other_than_pdf(path: Path, endings: str) -> None:
    if path.suffix.lower() != ".pdf":
        raise Refused(f"Use a name that ends in {endings}, not {path.name}.")


def _record_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("code", metavar="CODE", help="code of the batch, or of one of its bottles")
    document_arguments(parser)


def _record(call: Call) -> int:
    from stillroom.keeping.trace.ancestry import find_code
    from stillroom.keeping.trace.batch_history import batch_history
    from stillroom.paper.batch_record import batch_record

    found = find_code(call.keeper, call.asked.code)
    if found.tincture_id is None:
        raise Refused(f"Jar {found.code} hasn't been strained, so it has no batch yet.")
    history = batch_history(call.keeper, found.tincture_id)
    return deliver(call, batch_record(history, call.settings, call.clock.now()))


def _daysheet(call: Call) -> int:
    from stillroom.keeping.day import day_view
    from stillroom.keeping.jars.shelves import shelves_view
    from stillroom.paper.lists import day_sheet

    keeper = call.keeper
    return deliver(call, day_sheet(day_view(keeper), shelves_view(keeper), call.settings))


def _shelflist(call: Call) -> int:
    from stillroom.keeping.jars.shelves import shelves_view
    from stillroom.paper.lists import shelf_list

    return deliver(call, shelf_list(shelves_view(call.keeper), call.settings))


def _stocklist(call: Call) -> int:
    from stillroom.keeping.bottles.bottle_views import bottle_rows
    from stillroom.keeping.day import day_view
    from stillroom.paper.lists import stock_list

    keeper = call.keeper
    return deliver(call, stock_list(bottle_rows(keeper), day_view(keeper), call.settings))


def _calendar_arguments(parser: ArgumentParser) -> None:
    _to_arguments(parser, "write to this file, ending in .ics")
    parser.add_argument("--text", action="store_true", help=TEXT_HELP)
    parser.add_argument(
        "--shakes",
        action=BooleanOptionalAction,
        help="a daily reminder to shake the jars, in this file and later ones",
    )


def _calendar(call: Call) -> int:
    from stillroom.keeping.coming_dates import ask_for_shakes
    from stillroom.paper.calendar import calendar_file, dates_ahead

    path: Path | None = call.asked.to
    refuse_text_as_other(call, path)
    refuse_json_beside_text(call)
    if path and not call.asked.text and path.suffix.lower() != ".ics":
        raise Refused(f"Use a name that ends in .ics, not {path.name}.")
    if call.asked.shakes is not None:
        ask_for_shakes(call.keeper, call.asked.shakes)
    if call.asked.text:
        return deliver(call, dates_ahead(call.keeper))
    content = calendar_file(call.keeper)
    if call.asked.json:
        return put_paper(call, dates_ahead(call.keeper), path, content)
    if path is None:
        sys.stdout.write(content.decode())
    else:
        write_out(call, path, content)
    return 0


COMMANDS = {
    "record": Command(_record_arguments, _record),
    "daysheet": Command(document_arguments, _daysheet),
    "shelflist": Command(document_arguments, _shelflist),
    "stocklist": Command(document_arguments, _stocklist),
    "calendar": Command(_calendar_arguments, _calendar),
}
