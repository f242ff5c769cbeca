"""Shelves as files: export and import, backup and restore, and the check."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stillroom.cli.call import (
    CONFIRM_FOLDER,
    Call,
    Command,
    json_option,
    named_path,
)
from stillroom.cli.exit_codes import ExitCode
from stillroom.cli.output import file_options, put, put_json, write_out
from stillroom.cli.streams import is_stream, readable, sent_to_output
from stillroom.dates import show_moment
from stillroom.errors import Planted, Refused
from stillroom.files import make_folder
from stillroom.printable import escaped
from stillroom.quantities import how_many

if TYPE_CHECKING:
    from stillroom.keeping.shelf_file.file_checks import Finding
    from stillroom.keeping.shelf_file.restoring import RestorePlan, ShelfSummary


def _export_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "folder",
        nargs="?",
        type=named_path,
        metavar="DIR",
        help="folder to write CSV files to",
    )
    parser.add_argument(
        "--json", metavar="FILE", help="write JSON to this file instead; - prints it"
    )
    parser.add_argument(
        "--for-spreadsheet",
        type=named_path,
        metavar="FILE",
        help="write an .xlsx workbook instead, to edit and bring back with import --edited",
    )
    file_options(parser)


def _export(call: Call) -> int:
    from stillroom.keeping.interchange.edited import export_workbook
    from stillroom.keeping.interchange.writing import export_folder, export_json

    asked = call.asked
    if sum(map(bool, (asked.folder, asked.json, asked.for_spreadsheet))) != 1:
        raise Refused("Give a folder to write to, or --json FILE, or --for-spreadsheet FILE.")
    if asked.for_spreadsheet:
        if asked.for_spreadsheet.suffix.lower() != ".xlsx":
            raise Refused("Give the workbook a name that ends in .xlsx.")
        write_out(call, asked.for_spreadsheet, export_workbook(call.keeper))
        return 0
    if asked.folder:
        counts = export_folder(
            call.keeper, asked.folder, overwrite=asked.overwrite, shared=asked.shared
        )
        call.is_done = True
        put(f"Wrote {how_many(sum(counts.values()), 'line')} to {asked.folder}.")
    elif asked.json == "-":
        sys.stdout.write(escaped(export_json(call.keeper)) + "\n")
    else:
        content = export_json(call.keeper).encode()
        write_out(call, Path(asked.json), content)
    return 0


BACKUP_NOTES = """\
The copy is read back and checked. An existing file is never replaced. For -, the copy goes to the
standard output."""


def _backup_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "file",
        nargs="?",
        type=named_path,
        metavar="FILE",
        help="name of the copy; there must be no such file yet",
    )
    parser.add_argument(
        "--confirm-folder",
        action="store_true",
        help="confirm the backup folder set in this shelf, and use it from now on",
    )
    json_option(parser)


def _backup(call: Call) -> int:
    from stillroom.keeping.shelf_file.backups import backup_to, word_about_folder
    from stillroom.keeping.trusted import folder_in_doubt, trust_folder

    if not (call.asked.file or call.asked.confirm_folder):
        raise Refused("Give a name for the copy: stillroom backup FILE.")
    to_output = call.asked.file and is_stream(call.asked.file)
    if to_output and call.asked.json:
        raise Refused("--json can't be combined with -.")
    folder = folder_in_doubt(call.keeper) if call.asked.confirm_folder else None
    if folder is not None:
        trust_folder(folder)
        call.is_done = True
    if call.asked.confirm_folder and not call.asked.json:
        put(
            f"The daily backups of this shelf go to {folder} from now on."
            if folder
            else "This shelf has no backup folder that is still to be confirmed."
        )
    if to_output:
        with sent_to_output(call, "The copy") as file:
            backup_to(call.keeper, file)
        return 0
    written = backup_to(call.keeper, call.asked.file) if call.asked.file else None
    call.is_done = call.is_done or written is not None
    if call.asked.json:
        told = {"file": written and str(written), "folder": folder and str(folder)}
        put_json(call, told, is_done=call.is_done)
        return 0
    if written:
        put(f"Wrote {written}.")
    if word := word_about_folder(call.keeper):
        put(f"{word} {CONFIRM_FOLDER}")
    return 0


RESTORE_NOTES = """\
If there is a shelf already, this shows what would be replaced, and replaces it only with --yes. The
old shelf is kept beside the new one under another name. Close the screen first. For -, the backup
comes from the standard input."""


def _restore_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("file", type=named_path, metavar="FILE", help="a backup or another shelf")
    parser.add_argument("--yes", action="store_true", help="replace the shelf")
    parser.add_argument(
        "--dry-run", action="store_true", help="change nothing; show what would be replaced"
    )
    json_option(parser)


def _restore(call: Call) -> int:
    if call.asked.sample:
        raise Refused("The sample shelf isn't saved. Give a --shelf to restore to.")
    shelf = call.shelf_file
    with readable(call.asked.file) as file:
        return _restore_from(call, file, shelf)


def _restore_from(call: Call, file: Path, shelf: Path) -> int:
    from stillroom.keeping.shelf_file.restoring import restore_from, restore_plan

    plan = restore_plan(file, shelf)
    if not call.asked.json:
        put(f"The backup {_at_a_glance(plan.backup)}")
        if plan.shelf:
            put(f"The shelf {_at_a_glance(plan.shelf)}")
    is_to_do = (call.asked.yes or plan.shelf is None) and not call.asked.dry_run
    kept = None
    if is_to_do:
        if plan.shelf is None:
            _make_folder(shelf.parent)
        kept = restore_from(file, shelf)
        call.is_done = True
    if call.asked.json:
        put_json(call, _plan_json(plan, kept), is_done=call.is_done)
    if call.asked.dry_run:
        return 0
    if not is_to_do:
        raise Refused("Nothing was changed. Add --yes to replace the shelf with the backup.")
    if call.asked.json:
        return 0
    source = "the standard input" if is_stream(call.asked.file) else call.asked.file
    put(f"Restored {shelf} from {source}.")
    if kept:
        put(f"The old shelf is kept in {kept}.")
    return 0


def _plan_json(plan: "RestorePlan", kept: Path | None) -> dict[str, Any]:
    return {
        "backup": _summary_json(plan.backup),
        "shelf": plan.shelf and _summary_json(plan.shelf),
        "old_shelf": kept and str(kept),
    }


def _summary_json(shelf: "ShelfSummary") -> dict[str, Any]:
    return {
        "file": str(shelf.path),
        "jars": shelf.jars,
        "steeping": shelf.steeping,
        "bottles": shelf.bottles,
        "last_at": shelf.last_at or None,
        "trouble": shelf.trouble,
    }


def _at_a_glance(shelf: "ShelfSummary") -> str:
    if shelf.trouble:
        return f"can't be read: {shelf.trouble}"
    last = "no entries yet"
    if shelf.last_at:
        last = f"last entry {show_moment(shelf.last_at)}"
    jars = f"{how_many(shelf.jars, 'jar')} ({shelf.steeping} steeping)"
    return f"{shelf.path}: {jars}, {how_many(shelf.bottles, 'bottle')}, {last}."


def _make_folder(folder: Path) -> None:
    try:
        make_folder(folder)
    except OSError as error:
        raise Refused(f"{folder} can't be created: {error.strerror}.") from error


CHECK_NOTES = "The exit code is 1 if a problem is found."


def _check_arguments(parser: ArgumentParser) -> None:
    json_option(parser)


def _check(call: Call) -> int:
    findings = _findings(call)
    if call.asked.json:
        put_json(call, [{"what": found.what, "remedy": found.remedy} for found in findings])
    elif not findings:
        put(f"No problems found in {_shelf_name(call)}.")
    else:
        put(f"{how_many(len(findings), 'problem')} found in {_shelf_name(call)}.")
        for found in findings:
            put(f"{found.what} {found.remedy}", 2)
    return ExitCode.PROBLEM if findings else ExitCode.DONE


def _findings(call: Call) -> "list[Finding]":
    from stillroom.keeping.shelf_file.check import check
    from stillroom.keeping.shelf_file.file_checks import PLANTED, Finding

    try:
        keeper = call.keeper
    except Planted as planted:  # it was not opened, so nothing in it can have been executed
        return [Finding(part, PLANTED) for part in planted.parts]
    findings = check(keeper)
    if findings:
        keeper.store.leave_as_is()
    return findings


def _shelf_name(call: Call) -> str:
    return "the sample shelf" if call.asked.sample else str(call.shelf_file)


COMMANDS = {
    "export": Command(_export_arguments, _export),
    "backup": Command(_backup_arguments, _backup, BACKUP_NOTES),
    "restore": Command(_restore_arguments, _restore, RESTORE_NOTES),
    "check": Command(_check_arguments, _check, CHECK_NOTES),
}
