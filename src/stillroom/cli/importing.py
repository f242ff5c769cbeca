"""Taking in: a folder that export wrote, or a person's own sheet."""

from argparse import ArgumentParser, Namespace
from typing import TYPE_CHECKING

from stillroom.cli.call import Call, Command, json_option, named_path, why_option, yes_option
from stillroom.cli.output import put, put_json, put_list
from stillroom.cli.streams import readable
from stillroom.errors import Refused
from stillroom.quantities import how_many

if TYPE_CHECKING:
    from stillroom.keeping.interchange.answers import SheetWishes
    from stillroom.keeping.interchange.report import ImportReport

IMPORT_NOTES = """\
--merge adds another person's shelf to your own. If both use the same code for different things,
--renumber gives each a new code. The old code still finds both. Herbs, shelves and settings that
both have stay as they are here.

--edited brings back what you edited in a spreadsheet. A changed cell becomes a correction and an
added row a new entry. A missing row stays on the shelf, unless you add --delete-missing; a missing
sheet never deletes anything. The changes are shown first, and made only with --yes.

An import is all or nothing: if one line is wrong, nothing changes. Entries that the shelf already
has are left alone. One undo removes everything imported.

Your own list of jars is read as it is: .xlsx, .ods, or CSV with any separator, encoding and decimal
mark. It needs columns for herb and date. Titles, blank rows, repeated headings, totals
and notes are skipped and listed. Cells may hold "c. 100g", "handful", "to cover", "4x100 + 30",
"vodka 37.5%"; words that aren't a figure go into the note. Headings and words are known in
English, German, French, Spanish, Italian and Dutch.

Stillroom asks once for what the list leaves out. Answer with --set, for a column or for one herb:
  --set part=root --set part:Sage=leaf --set condition=dried --set pressing=squeezed
  --set strained=date (the date of each row)
You can always answer "unknown", and --yes does so for you. Any other answer is marked as assumed
until you correct it, and the forecast doesn't learn from it.
Answers fill only cells that are blank or not understood. Nothing is imported until everything is
answered. "Valerian root" and "Calendula flowers (dried)" are read as herb, part and condition.

Known columns: herb, date, botanical name, part, fresh or dried, pressing, weight, volume, strength,
spirit, strain on, steeping time, strained, yield, bottle, left, place, shelf, code, jar size,
shakes, gathered, origin, bottles, keep until, note, and most other names for these. A unit may
follow, as in "weight g". All other columns go into the note; --map "Qty=mass" gives one a meaning.
The known words are in sheet_words.csv in the program's folder, which you can extend."""


def _import_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "folder",
        nargs="?",
        type=named_path,
        metavar="PATH",
        help="a folder that export wrote, or your own list of jars (.xlsx, .ods, CSV)",
    )
    parser.add_argument(
        "--edited",
        type=named_path,
        metavar="PATH",
        help="bring back a workbook (export --for-spreadsheet) or folder that you edited",
    )
    parser.add_argument(
        "--delete-missing",
        action="store_true",
        help="with --edited: delete from the shelf the rows that you deleted in the spreadsheet",
    )
    parser.add_argument(
        "--merge",
        type=named_path,
        metavar="DIR",
        help="add another shelf, from a folder that export wrote, to this one",
    )
    parser.add_argument(
        "--renumber",
        action="store_true",
        help="with --merge: give new codes where both shelves use the same one",
    )
    parser.add_argument(
        "--jars",
        type=named_path,
        metavar="FILE",
        help="your own list of jars; - for standard input",
    )
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="KEY=VALUE",
        help="with a list: what to enter in blank cells of a column, such as part=root",
    )
    parser.add_argument(
        "--map",
        action="append",
        default=[],
        metavar="HEADING=COLUMN",
        help="with a list: what a column holds; note puts it in the note, nothing leaves it out",
    )
    parser.add_argument("--sheet-name", default="", metavar="NAME", help="which sheet of the file")
    parser.add_argument("--dates", choices=("dmy", "mdy"), help="the order of day and month")
    parser.add_argument("--decimal", choices=("comma", "point"), help="the decimal mark")
    parser.add_argument(
        "--skip", default="", metavar="ROWS", help="rows to leave out, such as 4,9-12"
    )
    parser.add_argument(
        "--mapping", type=named_path, metavar="FILE", help="use a mapping that was saved"
    )
    parser.add_argument(
        "--save-mapping",
        type=named_path,
        metavar="FILE",
        help="save --map, --set, --dates and the like to use again",
    )
    parser.add_argument(
        "--dry-run", action="store_true", help="change nothing; show what would be imported"
    )
    why_option(parser)
    yes_option(parser, "take unanswered questions as not known; go ahead if the date is in doubt")
    json_option(parser)


_OF_SHEETS = ("set", "map", "sheet_name", "dates", "decimal", "skip", "mapping", "save_mapping")


def _wishes(asked: Namespace) -> "SheetWishes":
    """All that was said of a sheet, with what was saved of it; saved again where that is asked."""
    from stillroom.keeping.interchange.answers import SheetWishes
    from stillroom.keeping.interchange.mapping import saved_mapping, write_mapping
    from stillroom.keeping.interchange.report import rows_listed

    answers = [*asked.set]
    answers += [f"dates={asked.dates}"] if asked.dates else []
    answers += [f"decimal={asked.decimal}"] if asked.decimal else []
    wishes = SheetWishes(
        tuple(answers), tuple(asked.map), asked.sheet_name, rows_listed(asked.skip), asked.yes
    )
    if asked.mapping:
        wishes = saved_mapping(asked.mapping).with_more(wishes)
    if asked.save_mapping:
        write_mapping(asked.save_mapping, wishes)
    return wishes


def _import(call: Call) -> int:
    from stillroom.keeping.interchange.edited import import_edited
    from stillroom.keeping.interchange.merging import merge_folder
    from stillroom.keeping.interchange.notebook import import_notebook
    from stillroom.keeping.interchange.reading import import_folder

    asked = call.asked
    if asked.folder and asked.folder.is_file():
        asked.jars, asked.folder = asked.folder, None
    if sum(map(bool, (asked.folder, asked.jars, asked.merge, asked.edited))) != 1:
        raise Refused("Give a folder or a list of jars, or --merge DIR or --edited PATH.")
    if asked.renumber and not asked.merge:
        raise Refused("--renumber works only with --merge DIR.")
    if asked.delete_missing and not asked.edited:
        raise Refused("--delete-missing works only with --edited PATH.")
    for name in _OF_SHEETS:
        if not asked.jars and getattr(asked, name):
            raise Refused(f"--{name.replace('_', '-')} works only with a list of jars.")
    keeper = call.keeper_to_change(create=True, backup=not asked.dry_run)
    is_done = False
    try:
        if asked.edited:
            report = import_edited(
                keeper,
                asked.edited,
                delete_missing=asked.delete_missing,
                dry_run=asked.dry_run,
                confirmed=asked.yes,
            )
        elif asked.merge:
            report = merge_folder(
                keeper, asked.merge, renumber=asked.renumber, dry_run=asked.dry_run
            )
        elif asked.folder:
            report = import_folder(keeper, asked.folder, dry_run=asked.dry_run)
        else:
            with readable(asked.jars) as file:
                wishes = _wishes(asked)
                report = import_notebook(keeper, file, wishes=wishes, dry_run=asked.dry_run)
        is_done = call.is_done = report.is_done
    finally:
        if keeper.store.is_new and not is_done:
            keeper.store.take_away()  # created only for the import that failed
    if asked.json:
        put_json(call, _report_json(report), is_done=report.is_done)
    else:
        _put_report(report)
    if not report.is_clean:
        raise Refused(f"Nothing was imported: {_to_do(report)}.")
    if asked.edited and report.preview and not (report.is_done or asked.dry_run):
        raise Refused("Nothing was changed. Add --yes to make these changes.")
    return 0


def _to_do(report: "ImportReport") -> str:
    mistakes = f"{how_many(len(report.bad), 'mistake')} to correct" if report.bad else ""
    asked = how_many(len(report.questions), "question") if report.questions else ""
    return " and ".join(filter(None, (mistakes, f"{asked} to answer" if asked else "")))


def _put_report(report: "ImportReport") -> None:
    if not report.is_clean:
        put_list("To correct:", (str(bad) for bad in report.bad))
        put_list("Needed, but not in the sheet:", (str(each) for each in report.questions))
        put_list("Rows skipped:", report.skipped)
        return
    would = "would be imported; nothing was changed" if report.dry_run else "imported"
    put(f"{how_many(report.total_added, 'line')} {would}.")
    kinds = dict.fromkeys([*report.added, *report.unchanged])
    for kind in kinds:
        added, same = report.added.get(kind, 0), report.unchanged.get(kind, 0)
        if added or same:
            there = f", {same} already here" if same else ""
            put(f"{kind.replace('_', ' ')}: {added} new{there}", 2)
    put_list("Read as:", report.read)
    put_list("Rows skipped:", report.skipped)
    put_list("On the shelf:" if report.is_done else "It would be:", report.preview)
    put_list("Not in the sheet:", report.assumed)


def _report_json(report: "ImportReport") -> dict[str, object]:
    return {
        "added": report.added,
        "unchanged": report.unchanged,
        "assumed": list(report.assumed),
        "skipped": list(report.skipped),
        "columns": report.columns,
        "read": list(report.read),
        "preview": list(report.preview),
        "questions": [
            {
                "set": asked.key,
                "rows": list(asked.rows),
                "not_understood": list(asked.unread),
                "choices": list(asked.choices),
                "options": [asked.option(choice) for choice in asked.choices],
                "herbs": list(asked.herbs),
            }
            for asked in report.questions
        ],
        "bad": [
            {"file": bad.file, "line": bad.line, "column": bad.column, "message": bad.message}
            for bad in report.bad
        ],
    }


COMMANDS = {"import": Command(_import_arguments, _import, IMPORT_NOTES)}
