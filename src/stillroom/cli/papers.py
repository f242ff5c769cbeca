"""Paper without the screen: labels, the batch record, lists, and the calendar file."""

import shutil
import sys
from argparse import ArgumentParser
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stillroom.cli.call import Call, Command, json_option, named_path
from stillroom.cli.output import file_options, put, put_json, write, write_out
from stillroom.cli.streams import is_stream, refuse_terminal
from stillroom.errors import Refused
from stillroom.quantities import how_many

if TYPE_CHECKING:
    from stillroom.keeping.bottles.labels import Label
    from stillroom.paper.document import Document

WIDTH, WIDEST = 80, 132
"""Columns of a document as text: usually, and at most on a wide terminal."""

LABEL_NOTES = """\
Give --to FILE.pdf for a sheet to print, or --text to read the labels here.
A batch code prints a label for each of its bottles that isn't empty. What is printed is recorded,
so that --changed can find the labels whose text has changed since. Text on a terminal and JSON are
only read and aren't recorded.
--sheet takes one of the names below, or measurements in mm:
  --sheet "page 210x297 grid 3x7 label 63.5x38.1 margin 7.25x15.15 gap 2.5x0"
(page width x height, columns x rows, label width x height, left x top margin, gaps).
Sheets by page and label size: {sheets}."""


def _to_arguments(parser: ArgumentParser, what: str) -> None:
    parser.add_argument(
        "--to",
        metavar="FILE",
        type=_file_or_output,
        help=f"{what}; if left out, or for -, prints to the terminal",
    )
    file_options(parser)


def _file_or_output(text: str) -> Path | None:
    """The file that is named; None for -, the standard output."""
    return None if text == "-" else named_path(text)


def document_arguments(parser: ArgumentParser) -> None:
    """Where a document goes."""
    _to_arguments(parser, "write to this file, ending in .pdf or .txt")


def deliver(call: Call, document: "Document") -> int:
    """Put a document where it was asked for."""
    from stillroom.paper.document import as_text
    from stillroom.paper.pdf import as_pdf, page_for

    path: Path | None = call.asked.to
    if path is None:
        sys.stdout.write(as_text(document, _width()))
        return 0
    if path.suffix.lower() == ".txt":
        content = as_text(document, WIDTH).encode()
    else:
        _refuse_other_than_pdf(path, ".pdf or .txt")
        content = as_pdf(document, page_for(call.settings))
    write_out(call, path, content)
    return 0


def _width() -> int:
    return min(WIDEST, shutil.get_terminal_size().columns) if sys.stdout.isatty() else WIDTH


def _refuse_other_than_pdf(path: Path, endings: str) -> None:
    if path.suffix.lower() != ".pdf":
        raise Refused(f"Use a name that ends in {endings}, not {path.name}.")


def _labels_arguments(parser: ArgumentParser) -> None:
    from stillroom.paper.sheets import DEFAULT_SHEET, SHEETS

    parser.add_argument("code", nargs="*", metavar="CODE", help="code of a bottle or a batch")
    parser.add_argument(
        "--changed",
        action="store_true",
        help="labels whose text has changed since they were printed",
    )
    parser.add_argument(
        "--dismiss",
        action="store_true",
        help="print nothing; keep the labels there are, until their text changes again",
    )
    parser.add_argument(
        "--sheet",
        help=f"label sheet; if left out, the last one used, at first {DEFAULT_SHEET}",
    )
    parser.add_argument(
        "--start",
        type=int,
        default=1,
        metavar="N",
        help="place of the first label (1 = top left)",
    )
    parser.add_argument("--outlines", action="store_true", help="draw cutting lines")
    parser.add_argument(
        "--text", action="store_true", help="print plain text to the terminal instead"
    )
    parser.add_argument(
        "--dry-run", action="store_true", help="write and record nothing; show the labels"
    )
    json_option(parser)
    parser.add_argument(
        "--to",
        metavar="FILE",
        type=named_path,
        help="write to this file, ending in .pdf; for -, to the standard output",
    )
    file_options(parser)
    parser.epilog = LABEL_NOTES.format(sheets=", ".join(SHEETS))


def _labels(call: Call) -> int:
    from stillroom.keeping.bottles.labels import labels_for
    from stillroom.keeping.bottles.print_log import record_printed
    from stillroom.paper.label import plain_text_label
    from stillroom.paper.sheets import label_sheets_pdf, last_sheet, sheet_from

    asked = call.asked
    if asked.dismiss:
        return _dismiss(call)
    if (asked.text and asked.to) or not (asked.text or asked.to or asked.json or asked.dry_run):
        raise Refused("Give --to FILE.pdf, or --text to print plain text here.")
    if asked.json and (asked.text or (asked.to and is_stream(asked.to))):
        raise Refused("--json can't be combined with --text or --to -.")
    if asked.to and not is_stream(asked.to):
        _refuse_other_than_pdf(asked.to, ".pdf")
    labels = labels_for(call.keeper, _labels_meant(call))
    if asked.dry_run or (asked.json and not asked.to):
        return _show_labels(call, labels)

    def record() -> None:
        call.warning = record_printed(call.keeper, labels)

    if asked.text:
        print("\n\n".join(plain_text_label(label) for label in labels))
        # On a terminal they are only read; anything else may be a printer.
        call.after_report = None if sys.stdout.isatty() else record
        return 0
    sheet = sheet_from(asked.sheet or last_sheet(call.keeper))
    content = label_sheets_pdf(labels, sheet, start=asked.start, outlines=asked.outlines)
    if is_stream(asked.to):
        refuse_terminal("The PDF")
        call.content = content
        call.after_report = record
        return 0
    written = write(call, asked.to, content)
    record()
    if asked.json:
        put_json(call, _labels_json(labels, written), is_done=True)
    else:
        put(f"Wrote {written}.")
    return 0


def _show_labels(call: Call, labels: "Sequence[Label]") -> int:
    """What would be printed: nothing is written or recorded."""
    if call.asked.json:
        put_json(call, _labels_json(labels), is_done=False)
        return 0
    put(f"Dry run: nothing was printed. {how_many(len(labels), 'label')}:")
    for label in labels:
        put()
        for line in label.lines:
            put(line.text)
    return 0


def _labels_json(labels: "Sequence[Label]", written: Path | None = None) -> dict[str, Any]:
    return {
        "labels": [
            {"code": label.code, "lines": [line.text for line in label.lines]} for label in labels
        ],
        "file": written and str(written),
    }


def _dismiss(call: Call) -> int:
    from stillroom.keeping.bottles.labels import labels_for
    from stillroom.keeping.bottles.print_log import dismiss_labels

    meant = _labels_meant(call, changed_only=True)
    if not meant:
        raise Refused("No label has changed since it was printed.")
    labels = labels_for(call.keeper, meant)
    if not call.asked.dry_run:
        dismiss_labels(call.keeper_to_change(), meant)
        call.is_done = True
    if call.asked.json:
        put_json(call, _labels_json(labels), is_done=call.is_done)
    elif call.asked.dry_run:
        put(f"Dry run: {how_many(len(labels), 'label')} would be dismissed.")
    else:
        put(f"{how_many(len(labels), 'label')} dismissed until the text changes again.")
    return 0


def _labels_meant(call: Call, *, changed_only: bool = False) -> list[int]:
    """The bottles whose labels are asked for."""
    from stillroom.keeping.bottles.print_log import old_labels

    asked = call.asked
    if not (asked.code or asked.changed):
        raise Refused("Give the code of a bottle or a batch, or --changed.")
    meant = _bottles_with(call, asked.code)
    if asked.changed or changed_only:
        old = [each.bottle.bottle_id for each in old_labels(call.keeper)]
        meant = [bottle_id for bottle_id in old if not asked.code or bottle_id in meant]
    if not (meant or changed_only):
        raise Refused("No label has changed since it was printed.")
    return meant


def _bottles_with(call: Call, codes: Iterable[str]) -> list[int]:
    """The bottles that codes name, each once, in the order of the codes."""
    from stillroom.keeping.bottles.bottle_views import bottle_rows
    from stillroom.keeping.trace.ancestry import find_code

    rows = bottle_rows(call.keeper)
    found: dict[int, None] = {}
    for code in codes:
        meant = find_code(call.keeper, code)
        if meant.bottle_id is not None:
            found[meant.bottle_id] = None
            continue
        batch = [row.bottle_id for row in rows if row.tincture_id == meant.tincture_id]
        if not batch:
            raise Refused(f"Every bottle of {meant.code} is empty.")
        found |= dict.fromkeys(sorted(batch))
    return list(found)


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


def _calendar(call: Call) -> int:
    from stillroom.paper.calendar import calendar_file

    path: Path | None = call.asked.to
    if path and path.suffix.lower() != ".ics":
        raise Refused(f"Use a name that ends in .ics, not {path.name}.")
    content = calendar_file(call.keeper)
    if path is None:
        sys.stdout.write(content.decode())
    else:
        write_out(call, path, content)
    return 0


COMMANDS = {
    "labels": Command(_labels_arguments, _labels),
    "record": Command(_record_arguments, _record),
    "daysheet": Command(document_arguments, _daysheet),
    "shelflist": Command(document_arguments, _shelflist),
    "stocklist": Command(document_arguments, _stocklist),
    "calendar": Command(_calendar_arguments, _calendar),
}
