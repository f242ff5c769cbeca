"""From a person's own list of jars and bottles, however they keep it, onto the shelf."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.bottles.bottling import write_bottle
from stillroom.keeping.bottles.losses import write_loss
from stillroom.keeping.codes import bottle_code, next_batch_code
from stillroom.keeping.drafts import BottleDraft, JarDraft, StrainDraft
from stillroom.keeping.interchange.answers import given_answers, needed_columns
from stillroom.keeping.interchange.entry import (
    CHOICES,
    HEADINGS,
    NEEDED,
    SAME_DAY,
    NamedHerb,
    NotebookRow,
    Reader,
    contradiction,
    part_within,
)
from stillroom.keeping.interchange.notebook_drafts import (
    charge_of,
    left_open,
    note_on,
    pours_of,
    reckoned,
)
from stillroom.keeping.interchange.reading import TakenBack
from stillroom.keeping.interchange.report import BadLine, ImportReport, Question, row_ranges
from stillroom.keeping.interchange.sheet import Spreadsheet
from stillroom.keeping.jars.jar import shelf_named, write_jar
from stillroom.keeping.jars.straining import write_straining
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.tolerances import LOOSE_ML
from stillroom.keeping.wording import wording
from stillroom.keeping.words import clean_note
from stillroom.quantities import how_many
from stillroom.reckoning.cautions import deadly_warning
from stillroom.reckoning.states import LossKind
from stillroom.records.failures import plain_failures


def import_notebook(
    keeper: Keeper,
    file: Path,
    *,
    answers: Sequence[str] = (),
    day_first: bool | None = None,
    dry_run: bool = False,
) -> ImportReport:
    """Import a spreadsheet of jars and bottles in one undoable act.

    A row with a bottle or a yield is a finished tincture, one without is a jar that steeps. What
    the spreadsheet does not say and the shelf must know is a question: the part, the condition,
    and of a finished tincture the pressing and the straining day. `answers` are `key=value`; each
    counts for every row whose cell is blank or not understood, and never against a cell. With a
    bad line or an open question nothing is changed. Refused where an answer is no answer.
    """
    notebook = _Notebook(keeper, file, answers, day_first)
    batches = notebook.read()
    try:
        with keeper.act(f"Imported {file.name}") as act:
            for batch in batches:
                notebook.take_over(act, batch)
            if notebook.bad or notebook.asked or dry_run:
                raise TakenBack
            count = notebook.added["jars"]
            act.title = f"Imported {how_many(count, 'jar')} from {file.name}"
    except TakenBack:
        pass
    return ImportReport(
        bad=tuple(notebook.bad),
        questions=notebook.questions(),
        added=dict(notebook.added),
        unchanged={"jars": notebook.there} if notebook.there else {},
        assumed=notebook.assumptions(),
        dry_run=dry_run,
    )


class _Notebook:
    """One pass over a notebook."""

    def __init__(
        self, keeper: Keeper, file: Path, answers: Sequence[str], day_first: bool | None
    ) -> None:
        self.bad: list[BadLine] = []
        self.added = {"jars": 0, "bottles": 0}
        self.there = 0
        """Jars that were taken over from this notebook before."""
        self._keeper = keeper
        self._file = file
        self._settings = settings_of(keeper)
        self._wording = wording(keeper)
        self._reader = Reader(keeper.today, self._wording, day_first)
        self._sheet = Spreadsheet(file, HEADINGS)
        self._assumed: dict[str, list[int]] = defaultdict(list)
        self._taken_before = self._find_taken_before()
        self._answers = given_answers(answers, self._reader)
        self.asked: dict[str, list[int]] = defaultdict(list)
        """What is not known and must be, with the rows it concerns."""
        self._unread: dict[tuple[str, int], str] = {}
        """Cells that are not understood, by column and row."""

    def read(self) -> list[list[NotebookRow]]:
        """The lines that can be understood, those of one batch together."""
        sheet = self._sheet
        missing = [name for column, name in NEEDED.items() if column not in sheet.columns]
        if sheet.problem or missing:
            said = (
                sheet.problem
                or f"The list needs a column called {' and one called '.join(missing)}."
            )
            self._blame(1 if missing else None, "", said)
            return []
        if sheet.others:
            said = f"Saved as notes: the columns {', '.join(sheet.others)}"
            self._assumed[said] = []
        batches: dict[object, list[NotebookRow]] = defaultdict(list)
        for line, cells, others in sheet:
            entry = self._understand(line, cells, others)
            if entry is not None:
                batches[entry.batch].append(entry)
        if sheet.problem:
            self._blame(None, "", sheet.problem)
        # Codes that the notebook gives are taken before new ones are made.
        return sorted(batches.values(), key=lambda batch: not batch[0].code)

    def assumptions(self) -> tuple[str, ...]:
        """What was assumed, with the lines it concerns."""
        return tuple(
            f"{what} ({_line_numbers(lines)})." if lines else f"{what}."
            for what, lines in self._assumed.items()
        )

    def _blame(self, line: int | None, column: str, message: str) -> None:
        self.bad.append(BadLine(self._file.name, line, column, message))

    def _understand(
        self, line: int, cells: dict[str, str], others: dict[str, str]
    ) -> NotebookRow | None:
        values: dict[str, Any] = {}
        is_good = True
        for column, text in cells.items():
            try:
                value = self._reader.value(column, text)
            except NotUnderstood as error:
                if column in CHOICES:  # asked about
                    self._unread[column, line] = text
                    others = others | {self._sheet.headings[column]: text}
                    continue
                self._blame(line, self._sheet.headings[column], str(error))
                is_good = False
            else:
                if value is not None:
                    values[column] = value
        for heading, text in others.items():
            try:
                remark = clean_note(f"{heading}: {text}", f"The text under {heading}", limit=2000)
            except NotUnderstood as error:
                self._blame(line, heading, str(error))
                is_good = False
            else:
                if text:
                    values["note"] = "\n".join(filter(None, (values.get("note"), remark)))
        named = values.get("herb")
        if isinstance(named, NamedHerb):
            values["herb"] = named.name
            is_good &= self._agrees(line, values, "part", named.part)
            is_good &= self._agrees(line, values, "condition", named.condition)
        if "part" not in values and ("part", line) not in self._unread:
            values["part"] = part_within(cells.get("condition", ""))
        if not is_good:
            self._ask_of(line, values, is_strained=bool(set(values) & {"yielded", "size", "left"}))
            return None
        if poured := values.pop("liquid", None):
            figures = {"volume": poured.volume, "strength": poured.strength}
            values = {name: value for name, value in figures.items() if value is not None} | values
            values["liquid"] = poured.words
        entry = NotebookRow(line, **values)
        if not entry.code:  # otherwise another row of its batch may give it
            for column in ("part", "condition"):
                if getattr(entry, column) is None and column in self._answers:
                    entry = replace(entry, **{column: self._answers[column]})
        wrong = contradiction(entry)
        if wrong is not None:
            column, said = wrong
            self._blame(line, self._sheet.headings.get(column, "yield"), said)
            return None
        return entry

    def _agrees(self, line: int, values: dict[str, Any], column: str, named: Any) -> bool:
        """Take a fact that the herb's name ends in; a column that contradicts it is reported."""
        stated = values.setdefault(column, named)
        if named is None or stated == named:
            return True
        heading = self._sheet.headings[column]
        self._blame(line, heading, f"The cell has {stated}, but the herb's name has {named}.")
        return False

    def _ask_of(self, line: int, values: dict[str, Any], *, is_strained: bool) -> None:
        """Ask what a row with a mistake leaves open, so that all comes in one round."""
        for column in needed_columns(is_strained):
            if values.get(column) is None and column not in self._answers:
                self.asked[column].append(line)

    def questions(self) -> tuple[Question, ...]:
        """What must be answered, each once for its column."""
        return tuple(
            Question(
                key,
                tuple(sorted(set(rows))),
                tuple(dict.fromkeys(
                    self._unread[key, row] for row in sorted(rows) if (key, row) in self._unread
                )),
                CHOICES.get(key, (SAME_DAY, "DAY")),
            )
            for key in needed_columns(is_strained=True)
            if (rows := self.asked.get(key))
        )  # fmt: skip

    def _settled(self, batch: list[NotebookRow], *, is_strained: bool) -> dict[str, Any] | None:
        """The facts of a batch that the shelf must know; None where one of them is missing."""
        facts: dict[str, Any] = {}
        for column in needed_columns(is_strained):
            stated = {getattr(e, column): e.line for e in batch if getattr(e, column) is not None}
            if len(stated) > 1:
                (one, _), (other, line), *_ = stated.items()
                heading = self._sheet.headings.get(column, column)
                self._blame(line, heading, f"{other} here, but {one} in another row of its batch.")
            elif stated:
                (facts[column],) = stated
            elif column in self._answers:
                facts[column] = self._answers[column]
            else:
                self.asked[column] += [entry.line for entry in batch]
        if facts.get("strained") == SAME_DAY:
            facts["strained"] = batch[0].day
        return facts if len(facts) == len(needed_columns(is_strained)) else None

    def take_over(self, act: Act, batch: list[NotebookRow]) -> None:
        """Write down one batch: its jar, and what it became."""
        first = batch[0]
        odd = next((e for e in batch if e.herb.casefold() != first.herb.casefold()), None)
        if odd is None:
            odd = next((e for e in batch[1:] if e.in_bottle_ml is None), None)
        if odd is not None:
            self._blame(odd.line, "code", f"{odd.code} is already the code of line {first.line}.")
            return
        if self._was_taken_before(first):
            self.there += 1
            return
        try:
            with plain_failures():
                self._write(act, batch)
        except NotUnderstood as error:
            self._blame(first.line, "", str(error))
        except Refused as error:
            self._blame(first.line, "code" if first.code else "", str(error))

    def _find_taken_before(self) -> Counter[tuple[str, ...]]:
        """Jars from a notebook of this name, by herb and day; and every jar by its code, too."""
        rows = self._keeper.rows(
            """SELECT j.code, h.name, j.filled_on, instr(j.note, ?) > 0
               FROM jar j
               JOIN charge_line l ON l.id = (SELECT min(id) FROM charge_line WHERE jar_id = j.id)
               JOIN herb h ON h.id = l.herb_id""",
            f"From {self._file.name}, line ",
        )
        found: Counter[tuple[str, ...]] = Counter()
        for code, herb, day, is_from_here in rows:
            found[code, herb.casefold(), day] = 1
            found[herb.casefold(), day] += is_from_here
        return found

    def _was_taken_before(self, entry: NotebookRow) -> bool:
        """Whether the shelf has it already; of several alike, as many as it has."""
        herb_and_day = entry.herb.casefold(), entry.day.isoformat()
        key = (entry.code, *herb_and_day) if entry.code else herb_and_day
        is_there = self._taken_before[key] > 0
        self._taken_before[key] -= is_there
        return is_there

    def _write(self, act: Act, batch: list[NotebookRow]) -> None:
        first = batch[0]
        is_strained = any(e.in_bottle_ml is not None or e.yielded is not None for e in batch)
        facts = self._settled(batch, is_strained=is_strained)
        if facts is None:
            return
        strained_on = facts.get("strained", first.day)
        if strained_on < first.day:
            raise Refused("The straining date is before the filling date.")
        code = first.code or next_batch_code(self._keeper, first.day)
        planned_on = first.day + timedelta(self._settings.steep_days)
        jar_id = write_jar(
            self._keeper,
            JarDraft(
                charges=(charge_of(first, facts["part"], facts["condition"]),),
                pours=pours_of(first),
                filled_on=first.day,
                strain_on=first.strain_on or (strained_on if is_strained else planned_on),
                shakes_per_day=(
                    self._settings.shakes_per_day if first.shakes is None else first.shakes
                ),
                shelf_id=shelf_named(first.shelf),
                capacity_ml=first.capacity,
                note=self._note(batch, is_strained),
            ),
            code,
        )
        act.note("imported", f"From {self._file.name}", jar_id=jar_id)
        self.added["jars"] += 1
        if is_strained:
            self._write_tincture(act, batch, jar_id, code, facts)

    def _write_tincture(
        self, act: Act, batch: list[NotebookRow], jar_id: int, code: str, facts: dict[str, Any]
    ) -> None:
        first = batch[0]
        strained_on: date = facts["strained"]
        bottles = [(e, e.in_bottle_ml) for e in batch if e.in_bottle_ml is not None]
        bottled_ml = sum(ml for _, ml in bottles)
        yield_ml = next((e.yielded for e in batch if e.yielded is not None), bottled_ml)
        if bottled_ml > yield_ml:
            raise Refused(
                f"Its bottles hold {self._wording.volume(bottled_ml)}, "
                f"more than the {self._wording.volume(yield_ml)} strained."
            )
        gone_ml = yield_ml - bottled_ml if bottles else 0.0
        if gone_ml > LOOSE_ML:
            self._assumed[
                "Assumed where your list is silent: liquid in no bottle now = used up"
            ].append(first.line)
        made = reckoned(first, facts["part"], facts["condition"])
        if all(e.yielded is None for e in batch):  # what is left in bottles teaches nothing
            made = replace(made, liquid_ml=None)
        tincture_id = write_straining(
            StrainDraft(jar_id, strained_on, yield_ml, facts["pressing"]),
            code,
            made,
        )
        if gone_ml > 0:
            write_loss(act, tincture_id, LossKind.NOT_STATED, gone_ml, strained_on)
        for number, (entry, volume_ml) in enumerate(bottles, start=1):
            write_bottle(
                act,
                tincture_id,
                bottle_code(code, number),
                BottleDraft(entry.size or volume_ml, volume_ml, entry.place),
                strained_on,
                maker="",  # who imports it need not have filled it
                note=entry.note if entry is not first else "",
            )
        self.added["bottles"] += len(bottles)

    def _note(self, batch: list[NotebookRow], is_strained: bool) -> str:
        """Its note, with what the spreadsheet leaves open; the report lists that as well."""
        row = batch[0]
        unsaid = left_open(batch, is_strained, self._settings)
        if warning := deadly_warning(row.herb, row.botanical):
            self._assumed[warning.rstrip(".")].append(row.line)
        for said in unsaid:
            silent = "Assumed where your list is silent" if " = " in said else "Not recorded"
            self._assumed[f"{silent}: {said}"].append(row.line)
        return note_on(row, unsaid, self._file.name, self._wording)


def _line_numbers(lines: list[int]) -> str:
    return f"row {lines[0]}" if len(set(lines)) == 1 else f"rows {row_ranges(lines)}"
