"""`labels`: of bottles, jars, lots of herb, spirits and liquids, and for the person served."""

import sys
from argparse import ArgumentParser
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stillroom.cli.call import Call, Command, json_option, named_path
from stillroom.cli.output import (
    file_options,
    print_content,
    print_option,
    put,
    put_json,
    send_to_printer,
    write,
    write_out,
)
from stillroom.cli.papers import TEXT_HELP, pdf_facts, refuse_other_than_pdf, refuse_text_as_other
from stillroom.cli.streams import is_stream, refuse_terminal
from stillroom.dates import parse_day
from stillroom.errors import Refused
from stillroom.quantities import how_many
from stillroom.reckoning.states import JarState

if TYPE_CHECKING:
    from stillroom.keeping.bottles.person_label import Served
    from stillroom.keeping.label_text import AnyLabel
    from stillroom.keeping.settings import Settings

MOST_COPIES = 500

NOTES = """\
Give --to FILE.pdf for a sheet to print, or --text to read the labels here or write them to a .txt.
The code of a batch prints a label for each of its bottles that isn't empty; the code of a jar that
is still steeping, or of a lot of herb, prints one label. A code given twice is printed twice.

Stillroom records which bottle labels were printed, so that --changed can find those whose text has
changed since. Text on the terminal and JSON aren't recorded, nor is a label for a person (--for),
which shows what you type and nothing else about its use.

--sheet takes one of the names below, or the size of a label on a roll in mm, such as 62x29, or all
measurements of a sheet in mm:
  --sheet "page 210x297 grid 3x7 label 63.5x38.1 margin 7.25x15.15 gap 2.5x0"
(page width x height, columns x rows, label width x height, left x top margin, gaps).

If a label has no room even in 6-point type, these are left out, in this order: the boxes for
shakes, the maker, origin, solvent, volume, ratio, botanical name, product, herb, liquid and QR
code. The rest is always printed.

Sheets by page and label size: {sheets}."""


def _arguments(parser: ArgumentParser) -> None:
    from stillroom.keeping.label_words import languages
    from stillroom.paper.sheets import DEFAULT_SHEET, LETTER_SHEET, SHEETS

    add = parser.add_argument
    add("code", nargs="*", metavar="CODE", help="code of a bottle, batch, jar or lot of herb")
    add(
        "--spirit",
        action="append",
        default=[],
        metavar="NAME",
        help="label of a spirit or other liquid",
    )
    add("--copies", type=int, default=1, metavar="N", help="copies of each label")
    add("--for", dest="person", metavar="NAME", help="a label for the person who gets the bottle")
    add("--directions", default="", metavar="TEXT", help="with --for: your own directions")
    add("--external", action="store_true", help="with --for: “For external use only.”")
    add("--on", metavar="DAY", help="with --for: the day it is given; today if left out")
    add("--changed", action="store_true",
        help="print the labels whose text has changed since they were printed")  # fmt: skip
    add("--dismiss", action="store_true",
        help="print nothing; accept the labels as they are until their text changes")  # fmt: skip
    add("--language", metavar="CODE",
        help=f"words of the label: {', '.join(languages())}; if left out, as in the settings",
        )  # fmt: skip
    add("--sheet",
        help="label sheet; if left out, the last one used, or at first "
        f"{DEFAULT_SHEET}, or {LETTER_SHEET} with US units")  # fmt: skip
    add("--start", type=int, metavar="N",
        help="position of the first label (1 = top left); if left out, the first one still unused "
        "after the last print")  # fmt: skip
    add("--outlines", action="store_true", help="draw cutting lines")
    add("--text", action="store_true", help=TEXT_HELP)
    add("--dry-run", action="store_true", help="write and record nothing; show the labels")
    json_option(parser)
    add("--to", metavar="FILE", type=named_path,
        help="write to this file, ending in .pdf, or in .txt with --text; - for standard output",
        )  # fmt: skip
    file_options(parser)
    print_option(parser)
    parser.epilog = NOTES.format(sheets=", ".join(SHEETS))


def _labels(call: Call) -> int:
    asked = call.asked
    if asked.dismiss:
        return _dismiss(call)
    if not (asked.text or asked.to or asked.print or asked.json or asked.dry_run):
        raise Refused("Give --to FILE.pdf, --print, or --text to print plain text here.")
    if asked.json and (asked.text or asked.print or (asked.to and is_stream(asked.to))):
        raise Refused("--json can't be combined with --text, --print or --to -.")
    if asked.text:
        refuse_text_as_other(call, None if asked.to and is_stream(asked.to) else asked.to)
    elif asked.to and not is_stream(asked.to):
        refuse_other_than_pdf(asked.to, ".pdf")
    if not 1 <= asked.copies <= MOST_COPIES:
        raise Refused(f"Copies must be a number from 1 to {MOST_COPIES}.")
    each = list(_meant(call))
    if not each:
        raise Refused("No label has changed since it was printed.")
    labels = [label for label in each for _ in range(asked.copies)]
    if asked.dry_run or (asked.json and not asked.to):
        return _show(call, labels)
    return _as_text(call, labels) if asked.text else _as_pdf(call, labels)


def _show(call: Call, labels: Sequence["AnyLabel"]) -> int:
    """What would be printed: nothing is written or recorded."""
    if call.asked.json:
        put_json(call, _json(labels), is_done=False)
        return 0
    put(f"Dry run: nothing was printed. {how_many(len(labels), 'label')}:")
    for label in labels:
        put()
        for line in label.lines:
            put(line.text)
    return 0


def _json(labels: Sequence["AnyLabel"], written: Path | None = None) -> dict[str, Any]:
    return {
        "labels": [
            {"code": label.code, "lines": [line.text for line in label.lines]} for label in labels
        ],
        "file": written and str(written),
    }


def _as_text(call: Call, labels: Sequence["AnyLabel"]) -> int:
    from stillroom.paper.label import plain_text_label

    text = "\n\n".join(plain_text_label(label) for label in labels)
    if call.asked.to and not is_stream(call.asked.to):
        write_out(call, call.asked.to, f"{text}\n".encode())
        _record(call, labels)
        return 0
    print(text)
    if not sys.stdout.isatty():  # on a terminal they are only read; this may be a printer
        call.after_report = lambda: _record(call, labels)
    return 0


def _as_pdf(call: Call, labels: Sequence["AnyLabel"]) -> int:
    from stillroom.paper.sheets import (
        label_sheets_pdf,
        last_sheet,
        left_out,
        next_label,
        remember_sheet,
        sheet_from,
    )

    asked = call.asked
    named = asked.sheet or last_sheet(call.keeper)
    sheet = sheet_from(named)
    start = next_label(call.keeper, named) if asked.start is None else asked.start
    facts = pdf_facts(call, _settings(call).label_language)
    content = label_sheets_pdf(labels, sheet, start=start, outlines=asked.outlines, facts=facts)

    def record() -> None:
        _record(call, labels)
        if not call.warning:
            remember_sheet(call.keeper, named, len(labels), start)

    if asked.to is None:
        said = print_content(call, content)
        record()
        put(said)
        return 0
    if is_stream(asked.to):
        refuse_terminal("The PDF")
        call.content = content
        call.after_report = record
        return 0
    written = write(call, asked.to, content)
    if asked.json:
        record()
        put_json(call, _json(labels, written), is_done=True)
        return 0
    put(f"Wrote {written}.")
    if asked.print:
        put(send_to_printer(call, written))
    if start > 1 and asked.start is None:
        put(f"Starts at label {start}, where the last print ended. --start 1 begins a new sheet.")
    if missing := left_out(labels, sheet, start):
        put(missing)
    record()
    return 0


def _record(call: Call, labels: Sequence["AnyLabel"]) -> None:
    """Record what was printed of bottles."""
    from stillroom.keeping.bottles.labels import Label
    from stillroom.keeping.bottles.print_log import record_printed

    bottles = [label for label in labels if isinstance(label, Label)]
    copies = {label: bottles.count(label) for label in bottles}
    for count in sorted(set(copies.values())):
        some = [label for label in copies if copies[label] == count]
        call.warning = record_printed(call.keeper, some, count) or call.warning


def _settings(call: Call) -> "Settings":
    """The settings of the shelf, with what was asked for this print alone."""
    from stillroom.keeping.label_words import language_from

    language = call.asked.language
    if language is None:
        return call.settings
    return replace(call.settings, label_language=language_from(language))


def _dismiss(call: Call) -> int:
    from stillroom.keeping.bottles.labels import labels_for
    from stillroom.keeping.bottles.print_log import dismiss_labels

    meant = _changed(call)
    if not meant:
        raise Refused("No label has changed since it was printed.")
    labels = labels_for(call.keeper, meant)
    if not call.asked.dry_run:
        dismiss_labels(call.keeper_to_change(), meant)
        call.is_done = True
    if call.asked.json:
        put_json(call, _json(labels), is_done=call.is_done)
    elif call.asked.dry_run:
        put(f"Dry run: {how_many(len(labels), 'label')} would be dismissed.")
    else:
        put(f"{how_many(len(labels), 'label')} dismissed until the text changes again.")
    return 0


def _changed(call: Call) -> list[int]:
    """Bottles whose labels have changed, among those asked for."""
    from stillroom.keeping.bottles.print_log import old_labels

    asked = call.asked
    _refuse_nothing(call)
    old = [each.bottle.bottle_id for each in old_labels(call.keeper)]
    meant = [bottle_id for code in asked.code for bottle_id in _bottles(call, code)]
    return [bottle_id for bottle_id in old if not asked.code or bottle_id in meant]


def _refuse_nothing(call: Call) -> None:
    if not (call.asked.code or call.asked.changed or call.asked.spirit):
        raise Refused("Give the code of a bottle, batch, jar or lot of herb, or --changed.")


def _meant(call: Call) -> Iterator["AnyLabel"]:
    """The labels asked for, in the order of the codes, each as often as it was named."""
    from stillroom.keeping.bottles.labels import labels_for
    from stillroom.keeping.cupboard.labels import label_of_spirit

    asked, settings = call.asked, _settings(call)
    _refuse_nothing(call)
    served = _served(call)
    if asked.changed:
        yield from labels_for(call.keeper, _changed(call), settings)
        return
    for code in asked.code:
        yield from _labels_of(call, code, settings, served)
    for name in asked.spirit:
        yield label_of_spirit(call.keeper, name, settings)


def _served(call: Call) -> "Served | None":
    from stillroom.keeping.bottles.person_label import Served

    asked = call.asked
    if asked.person is None:
        if asked.directions or asked.external or asked.on:
            raise Refused("--directions, --external and --on go with --for NAME.")
        return None
    if asked.changed or asked.spirit:
        raise Refused("--for NAME goes with the codes of bottles.")
    day = parse_day(asked.on, call.keeper.today) if asked.on else call.keeper.today
    return Served(asked.person, day, asked.directions, asked.external)


def _labels_of(
    call: Call, code: str, settings: "Settings", served: "Served | None"
) -> Sequence["AnyLabel"]:
    """The labels that one code asks for."""
    from stillroom.keeping.bottles.labels import labels_for
    from stillroom.keeping.bottles.person_label import person_labels
    from stillroom.keeping.cupboard.labels import label_of_lot
    from stillroom.keeping.jars.labels import jar_labels

    keeper = call.keeper
    lot = label_of_lot(keeper, code, settings)
    jar_id = None if lot else _jar(call, code)
    if served:
        if lot or jar_id is not None:
            raise Refused(f"{code} isn't a bottle: --for NAME goes with the codes of bottles.")
        return person_labels(keeper, _bottles(call, code), served, settings)
    if lot:
        return [lot]
    if jar_id is not None:
        return jar_labels(keeper, [jar_id], settings)
    return labels_for(keeper, _bottles(call, code), settings)


def _jar(call: Call, code: str) -> int | None:
    """The jar that a code is of, while its herb is still in it; None for anything else."""
    from stillroom.keeping.jars.jar_view import jar_view
    from stillroom.keeping.trace.ancestry import find_code

    found = find_code(call.keeper, code)
    if found.jar_id is None or found.bottle_id is not None:
        return None
    if found.tincture_id is None:
        return found.jar_id
    is_drained = jar_view(call.keeper, found.jar_id).state is JarState.DRAINED
    return found.jar_id if is_drained else None


def _bottles(call: Call, code: str) -> list[int]:
    """The bottle that a code names, or the bottles of a batch that aren't empty."""
    from stillroom.keeping.bottles.bottle_views import bottle_rows
    from stillroom.keeping.trace.ancestry import find_code

    meant = find_code(call.keeper, code)
    if meant.bottle_id is not None:
        return [meant.bottle_id]
    rows = bottle_rows(call.keeper)
    batch = [row.bottle_id for row in rows if row.tincture_id == meant.tincture_id]
    if not batch:
        raise Refused(f"Every bottle of {meant.code} is empty.")
    return sorted(batch)


COMMANDS = {"labels": Command(_arguments, _labels)}
