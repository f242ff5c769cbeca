"""Importing a person's own sheet: the file, then what was found in it and what must be answered."""

from dataclasses import dataclass, replace
from pathlib import Path

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.errors import NeedsConfirmation, NotUnderstood
from stillroom.keeping.interchange.answers import SheetWishes, column_name
from stillroom.keeping.interchange.mapping import saved_mapping, write_mapping
from stillroom.keeping.interchange.merging import merge_folder
from stillroom.keeping.interchange.notebook import import_notebook
from stillroom.keeping.interchange.report import ImportReport, Question
from stillroom.keeping.interchange.vocabulary import columns
from stillroom.keeping.keeper import Keeper
from stillroom.paths import typed_path
from stillroom.quantities import how_many
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, words
from stillroom.screens.kit.text import safe

_OPEN = ("", "choose")
_EACH = "each"
"""The answer that each herb has its own."""
_TO_NOTE = (("note", "note"), ("nothing", "leave out"))
_MOST_SHOWN = 40
"""Rows that are listed one by one."""


class SheetFileDialog(Dialog[tuple[Path, SheetWishes]]):
    """Which sheet, and how it is read where a mapping was saved for one like it."""

    TITLE_TEXT = "Import your own list"
    ACT = "Open"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    def compose_form(self) -> ComposeResult:
        """The file, and a mapping."""
        yield Static(
            "A spreadsheet of jars and bottles as it is: .xlsx, .ods or CSV. Nothing is imported "
            "before you have seen what was found in it.",
            markup=False,
        )
        yield Entry("File", words, "", id="file", classes="-wide")
        yield Entry("Mapping", words, "", id="mapping", classes="-wide", required=False,
                    hint="a file saved at an earlier import; may be blank")  # fmt: skip

    def keep(self) -> tuple[Path, SheetWishes]:
        """The file and the mapping to read it with."""
        path = self._file("#file")
        assert path is not None
        mapping = self._file("#mapping")
        return path, SheetWishes() if mapping is None else saved_mapping(mapping)

    def _file(self, field: str) -> Path | None:
        typed: str | None = self.query_one(field, Entry).read()
        if not typed:
            return None
        path = typed_path(typed)
        if not path.is_file():
            raise NotUnderstood(f"There is no file {path}.")
        return path


@dataclass(frozen=True)
class SheetAnswered:
    """What came of a round of questions about a sheet."""

    report: ImportReport
    wishes: SheetWishes
    by_herb: frozenset[str] = frozenset()
    """Questions that are to be answered for each herb."""
    mapping: str = ""
    """Where the mapping is saved, as typed."""


class SheetDialog(Dialog[SheetAnswered]):
    """What was found in a sheet, and its questions; one act once all are answered."""

    TITLE_TEXT = "Import your own list"
    ACT = "Import"

    def __init__(
        self,
        keeper: Keeper,
        path: Path,
        wishes: SheetWishes,
        by_herb: frozenset[str] = frozenset(),
        mapping: str = "",
    ) -> None:
        super().__init__()
        self.keeper = keeper
        self.path = path
        self.wishes = wishes
        self.by_herb = by_herb
        self.mapping = mapping
        self.report = import_notebook(keeper, path, wishes=wishes, dry_run=True)
        as_unknown = replace(wishes, accept_unknown=True)
        # With what is open taken as not known, so that each row can be seen before it is answered.
        self.preview = import_notebook(keeper, path, wishes=as_unknown, dry_run=True).preview

    def compose_form(self) -> ComposeResult:
        """Faults, questions, columns, and each row as it would be."""
        report = self.report
        for bad in report.bad:
            yield Static(f"! {safe(str(bad))}", classes="problem", markup=False)
        for number, question in enumerate(report.questions):
            about = f" ({', '.join(question.herbs)})" if question.herbs else ""
            yield Static(safe(f"{question.asks}{about}"), classes="heading", markup=False)
            if self._is_by_herb(question):
                for place, herb in enumerate(question.herbs):
                    yield Pick(safe(herb)[:14], _answers(question), id=f"question-{number}-{place}")
                continue
            options = _answers(question)
            if _can_be_by_herb(question):
                options.append((_EACH, "ask for each herb"))
            yield Pick(_label(question), options, id=f"question-{number}")
        notes = [heading for heading, column in report.columns.items() if column == "note"]
        meanings = [(column_name(each), column_name(each)) for each in sorted(columns())]
        for number, heading in enumerate(notes):
            options = [*_TO_NOTE, *(each for each in meanings if each[0] != "note")]
            yield Pick(safe(heading)[:14], options, "note", id=f"column-{number}")
        yield Entry("Save mapping", words, self.mapping, id="mapping", classes="-wide",
                    required=False, hint="a file for the next sheet like this; may be blank",
                    )  # fmt: skip
        for title, lines in (
            ("Read as", report.read),
            ("It would be", self.preview),
            ("Not in the sheet", report.assumed),
            ("Rows skipped", report.skipped),
        ):
            if lines:
                yield Static(title, classes="heading", markup=False)
            for line in lines[:_MOST_SHOWN]:
                yield Static(safe(line), markup=False)
            if len(lines) > _MOST_SHOWN:
                yield Static(f"and {len(lines) - _MOST_SHOWN} more", markup=False)

    def keep(self) -> SheetAnswered:
        """Save the mapping if that is asked, and import the sheet, or find what is still open."""
        wishes, by_herb = self._with_answers()
        mapping: str = self.query_one("#mapping", Entry).read() or ""
        if mapping:
            write_mapping(typed_path(mapping), wishes)
        report = import_notebook(self.keeper, self.path, wishes=wishes)
        if report.bad:
            mistakes = how_many(len(report.bad), "mistake")
            raise NotUnderstood(f"{mistakes} to correct in the sheet. First: {report.bad[0]}")
        return SheetAnswered(report, wishes, by_herb, mapping)

    def _is_by_herb(self, question: Question) -> bool:
        return question.key in self.by_herb and _can_be_by_herb(question)

    def _with_answers(self) -> tuple[SheetWishes, frozenset[str]]:
        """All that was said of the sheet, and what is to be answered for each herb."""
        answers, named, sheet, by_herb = [], [], "", set()
        for number, question in enumerate(self.report.questions):
            if self._is_by_herb(question):
                for place, herb in enumerate(question.herbs):
                    chosen = self._chosen(question, f"#question-{number}-{place}")
                    answers.append(f"{question.key}:{herb}={chosen}")
                continue
            chosen = self._chosen(question, f"#question-{number}")
            if chosen == _EACH:
                by_herb.add(question.key)
            elif question.key == "sheet":
                sheet = chosen
            elif question.key in ("column", "meaning"):
                named.append(chosen)
            else:
                answers.append(f"{question.key}={chosen}")
        notes = [heading for heading, column in self.report.columns.items() if column == "note"]
        for number, heading in enumerate(notes):
            column = str(self.query_one(f"#column-{number}", Pick).value)
            if column != "note":
                named.append(f"{heading}={column}")
        more = SheetWishes(tuple(answers), tuple(named), sheet)
        wishes = replace(self.wishes.with_more(more), left_out=self.wishes.left_out)
        return wishes, frozenset(by_herb)

    def _chosen(self, question: Question, field: str) -> str:
        chosen = str(self.query_one(field, Pick).value)
        if not chosen:
            raise NotUnderstood(f"{question.asks}: choose an answer.")
        return chosen


class MergeDialog(Dialog[str]):
    """Another person's shelf, made one with this."""

    TITLE_TEXT = "Merge another shelf"
    ACT = "Merge"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper

    def compose_form(self) -> ComposeResult:
        """The field for the folder."""
        yield Static(
            "A folder that stillroom export wrote from the other shelf. Codes that both shelves "
            "use get new ones, and the old ones still find the bottle.",
            markup=False,
        )
        yield Entry("Folder", words, "", id="folder", classes="-wide")

    def keep(self) -> str:
        """Show what would come and which codes change; do it when asked again."""
        typed: str = self.query_one("#folder", Entry).needed()
        folder = typed_path(typed)
        if not folder.is_dir():
            raise NotUnderstood(f"There is no folder {folder}.")
        found = merge_folder(self.keeper, folder, renumber=True, dry_run=not self.confirmed)
        if found.bad:
            raise NotUnderstood(f"{how_many(len(found.bad), 'mistake')}. First: {found.bad[0]}")
        brought = how_many(found.total_added, "line")
        if not self.confirmed:
            said = " ".join(found.assumed)
            raise NeedsConfirmation(f"{brought} would come from {folder.name}. {said} Merge?")
        return f"Merged {brought} from {folder.name}. u undoes it."


def _label(question: Question) -> str:
    return {"sheet": "Sheet", "dates": "Dates", "decimal": "Decimal"}.get(question.key, "Answer")


def _can_be_by_herb(question: Question) -> bool:
    """Whether its herbs can have different answers."""
    return question.key in ("part", "condition", "pressing", "strained", "ranges") and (
        len(question.herbs) > 1
    )


def _answers(question: Question) -> list[tuple[str, str]]:
    """What may be chosen; nothing is until somebody does, but for what isn't known."""
    choices = [str(choice) for choice in question.choices if not str(choice).isupper()]
    shown = {"dmy": "day first", "mdy": "month first", "above": "as above", "unknown": "not known"}
    options = [(choice, shown.get(choice, choice)) for choice in choices]
    if "unknown" in choices:
        return sorted(options, key=lambda option: option[0] != "unknown")
    return [_OPEN, *options]
