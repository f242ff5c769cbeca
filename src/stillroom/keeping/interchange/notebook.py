"""From a person's own list of jars and bottles, however they keep it, onto the shelf."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Any

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.bottles.bottling import write_bottle
from stillroom.keeping.bottles.losses import write_loss
from stillroom.keeping.codes import bottle_code, next_batch_code
from stillroom.keeping.drafts import BottleDraft, JarDraft, StrainDraft
from stillroom.keeping.interchange.answers import (
    NOT_KNOWN,
    SAME_DAY,
    SheetWishes,
    column_name,
    given_answers,
    needed_columns,
)
from stillroom.keeping.interchange.entry import NotebookRow, Reader
from stillroom.keeping.interchange.notebook_drafts import (
    bottles_of,
    charge_of,
    in_words,
    left_open,
    note_on,
    pours_of,
    reckoned,
)
from stillroom.keeping.interchange.opening import open_sheet
from stillroom.keeping.interchange.reading import TakenBack
from stillroom.keeping.interchange.report import BadLine, ImportReport, row_ranges
from stillroom.keeping.interchange.rows import RowReader
from stillroom.keeping.jars.jar import shelf_named, write_jar
from stillroom.keeping.jars.straining import write_straining
from stillroom.keeping.keeper import Act, Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.tolerances import LOOSE_ML
from stillroom.keeping.wording import wording
from stillroom.quantities import how_many
from stillroom.reckoning.cautions import deadly_warning
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import DayBy, LossKind
from stillroom.reckoning.yields import Pressing
from stillroom.records.failures import plain_failures
from stillroom.records.tables import Tincture

_UNKNOWN: dict[str, Any] = {
    "part": Part.NOT_KNOWN,
    "condition": Condition.NOT_KNOWN,
    "pressing": Pressing.NOT_KNOWN,
    "strained": NOT_KNOWN,
}
_LEARNED_FROM = frozenset({"mass", "volume", "strength", "liquid", "yielded"})


def import_notebook(
    keeper: Keeper,
    file: Path,
    *,
    answers: Sequence[str] = (),
    day_first: bool | None = None,
    wishes: SheetWishes | None = None,
    dry_run: bool = False,
) -> ImportReport:
    """Import a spreadsheet of jars and bottles in one undoable act.

    A row with a bottle or a yield is a finished tincture, one without is a jar that steeps. What
    the spreadsheet does not say is a question: the part, the condition, and of a finished tincture
    the pressing and the straining day. An answer, `key=value`, counts for every row whose cell is
    blank or not understood, and never against a cell; it is marked as assumed, and "unknown" is
    one of the answers. With a bad row or an open question nothing is changed. Refused where an
    answer is no answer.
    """
    wishes = wishes or SheetWishes()
    wishes = replace(wishes, answers=(*wishes.answers, *answers))
    reader = Reader(keeper.today, wording(keeper), day_first)
    given = given_answers(wishes, reader)
    try:
        opened = open_sheet(file, wishes, given, reader)
    except Refused as error:
        return ImportReport(bad=(BadLine(file.name, None, "", str(error)),), dry_run=dry_run)
    notebook = _Notebook(keeper, file, RowReader(file.name, opened, given))
    batches = notebook.read()
    try:
        with keeper.act(f"Imported {file.name}") as act:
            for batch in batches:
                notebook.take_over(act, batch)
            if notebook.rows.bad or notebook.rows.questions() or dry_run:
                raise TakenBack
            count = notebook.added["jars"]
            act.title = f"Imported {how_many(count, 'jar')} from {file.name}"
    except TakenBack:
        pass
    return notebook.report(dry_run=dry_run)


@dataclass(frozen=True)
class _JarFacts:
    """What is known of a batch beside its rows, and what of it a person answered."""

    part: Part
    condition: Condition
    pressing: Pressing | None
    strained: Any
    assumed: frozenset[str]


class _Notebook:
    """One pass over a notebook."""

    def __init__(self, keeper: Keeper, file: Path, rows: RowReader) -> None:
        self.rows = rows
        self.added = {"jars": 0, "bottles": 0}
        self._there = 0
        """Jars that were taken over from this notebook before."""
        self._keeper = keeper
        self._file = file
        self._settings = settings_of(keeper)
        self._wording = wording(keeper)
        self._assumed: dict[str, list[int]] = defaultdict(list)
        self._preview: dict[int, str] = {}
        self._taken_before = self._find_taken_before()

    def read(self) -> list[list[NotebookRow]]:
        """The rows that can be understood, those of one batch together."""
        others = self.rows.opened.sheet.layout.others
        if others:
            self._assumed[f"Saved as notes: the columns {', '.join(others)}"] = []
        batches: dict[object, list[NotebookRow]] = defaultdict(list)
        for entry in self.rows:
            batches[entry.batch].append(entry)
        self._assumed.update(self.rows.kept)
        # Codes that the notebook gives are taken before new ones are made.
        return sorted(batches.values(), key=lambda batch: not batch[0].code)

    def report(self, *, dry_run: bool) -> ImportReport:
        """All that was found."""
        opened = self.rows.opened
        layout = opened.sheet.layout
        read = [f"{opened.read_as}", *opened.said]
        read += [f"Sheet not read: {name}" for name in opened.not_read]
        return ImportReport(
            bad=tuple(self.rows.bad),
            questions=self.rows.questions(),
            added=dict(self.added),
            unchanged={"jars": self._there} if self._there else {},
            assumed=tuple(
                f"{what} ({_row_numbers(lines)})." if lines else f"{what}."
                for what, lines in self._assumed.items()
            ),
            skipped=(
                *map(str, sorted(opened.sheet.skipped, key=lambda each: each.number)),
                *_blank(opened.sheet.blank),
            ),
            columns={layout.headings[c]: column_name(c) for c in layout.columns}
            | dict.fromkeys(layout.others, "note"),
            read=tuple(f"{said}." for said in read),
            preview=tuple(self._preview[row] for row in sorted(self._preview)),
            dry_run=dry_run,
        )

    def _settled(self, batch: list[NotebookRow], *, is_strained: bool) -> _JarFacts | None:
        """The facts of a batch that the shelf asks for; None where one of them is open."""
        facts: dict[str, Any] = {"pressing": None, "strained": None}
        assumed: set[str] = set()
        needed = needed_columns(is_strained)
        is_open = False
        for column in needed:
            stated = {getattr(e, column): e.line for e in batch if getattr(e, column) is not None}
            if len(stated) > 1:
                (one, _), (other, line), *_ = stated.items()
                self.rows.blame(
                    line, column, f"{other} here, but {one} in another row of its batch."
                )
                is_open = True
            elif stated:
                (facts[column],) = stated
            elif (answer := self.rows.answers.of(column, batch[0].herb)) is not None:
                facts[column] = answer
                assumed |= {column} if answer != _UNKNOWN[column] else set()
            elif self.rows.answers.accept_unknown:
                facts[column] = _UNKNOWN[column]
            else:
                is_open = True
                for entry in batch:
                    self.rows.ask(column, entry.line, entry.herb)
            if not is_open and facts[column] == _UNKNOWN[column]:
                self._assumed[f"Not known: {_ASKED_FOR[column]}"] += [e.line for e in batch]
            elif column in assumed:
                said = f"Assumed, to be confirmed: {_ASKED_FOR[column]} = {facts[column]}"
                self._assumed[said] += [e.line for e in batch]
        return None if is_open else _JarFacts(**facts, assumed=frozenset(assumed))

    def take_over(self, act: Act, batch: list[NotebookRow]) -> None:
        """Write one batch: its jar, and what it became."""
        first = batch[0]
        odd = next((e for e in batch if e.herb.casefold() != first.herb.casefold()), None)
        if odd is None:
            odd = next((e for e in batch[1:] if e.in_bottle_ml is None), None)
        if odd is not None:
            said = f"{odd.code} is already the code of row {first.line}."
            self.rows.blame(odd.line, "code", said)
            return
        if self._was_taken_before(first):
            self._there += 1
            return
        try:
            with plain_failures():
                self._write(act, batch)
        except NotUnderstood as error:
            self.rows.blame(first.line, "", str(error))
        except Refused as error:
            self.rows.blame(first.line, "code" if first.code else "", str(error))

    def _find_taken_before(self) -> Counter[tuple[str, ...]]:
        """Jars from a notebook of this name, by herb and day; and every jar by its code, too."""
        rows = self._keeper.rows(
            """SELECT j.code, h.name, j.filled_on, instr(j.note, ?) + instr(j.note, ?) > 0
               FROM jar j
               JOIN charge_line l ON l.id = (SELECT min(id) FROM charge_line WHERE jar_id = j.id)
               JOIN herb h ON h.id = l.herb_id""",
            f"From {self._file.name}, row ",
            f"From {self._file.name}, line ",  # as the first release wrote it
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
        is_strained = any(e.is_bottled or e.yielded is not None for e in batch)
        facts = self._settled(batch, is_strained=is_strained)
        if facts is None:
            return
        strained_on = first.day if facts.strained in (None, SAME_DAY, NOT_KNOWN) else facts.strained
        if strained_on < first.day:
            raise Refused("The straining date is before the filling date.")
        code = first.code or next_batch_code(self._keeper, first.day)
        planned_on = first.day + timedelta(self._settings.steep_days)
        draft = JarDraft(
            charges=(charge_of(first, facts.part, facts.condition, facts.assumed),),
            pours=pours_of(first),
            filled_on=first.day,
            strain_on=first.strain_on or (strained_on if is_strained else planned_on),
            shakes_per_day=(
                self._settings.shakes_per_day if first.shakes is None else first.shakes
            ),
            shelf_id=shelf_named(first.shelf),
            capacity_ml=first.capacity,
            note=self._note(batch, is_strained),
        )
        jar_id = write_jar(self._keeper, draft, code)
        act.note("imported", f"From {self._file.name}", jar_id=jar_id)
        self.added["jars"] += 1
        for entry in batch:
            self._preview[entry.line] = in_words(entry, draft, code, is_strained, self._wording)
        if is_strained:
            self._write_tincture(act, batch, jar_id, code, replace(facts, strained=strained_on),
                                 _day_by(facts))  # fmt: skip

    def _write_tincture(
        self,
        act: Act,
        batch: list[NotebookRow],
        jar_id: int,
        code: str,
        facts: _JarFacts,
        day_by: DayBy,
    ) -> None:
        first = batch[0]
        bottles = [(e, size, ml) for e in batch for size, ml in bottles_of(e)]
        bottled_ml = sum(ml for *_, ml in bottles)
        yield_ml = next((e.yielded for e in batch if e.yielded is not None), bottled_ml)
        if bottled_ml > yield_ml + LOOSE_ML:
            raise Refused(
                f"Its bottles hold {self._wording.volume(bottled_ml)}, "
                f"more than the {self._wording.volume(yield_ml)} strained."
            )
        is_gone = bool(bottles) or any(e.is_empty for e in batch)
        gone_ml = max(0.0, yield_ml - bottled_ml) if is_gone else 0.0
        if gone_ml > LOOSE_ML:
            said = "Assumed where your list is silent: liquid in no bottle now = used up"
            if any(e.bottles for e in batch):
                said = "Not recorded: what became of the liquid that is in no bottle"
            self._assumed[said].append(first.line)
        made = reckoned(first, facts.part, facts.condition)
        if all(e.yielded is None for e in batch):  # what is left in bottles teaches nothing
            made = replace(made, liquid_ml=None)
        inexact = frozenset().union(*(e.inexact for e in batch)) & _LEARNED_FROM
        pressing = facts.pressing or Pressing.NOT_KNOWN
        tincture_id = write_straining(
            StrainDraft(
                jar_id,
                facts.strained,
                yield_ml,
                pressing,
                pressing_assumed="pressing" in facts.assumed,
                day_by=day_by,
                teaches=not (facts.assumed or inexact or pressing is Pressing.NOT_KNOWN),
            ),
            code,
            made,
        )
        until = next((e.keep_until for e in batch if e.keep_until is not None), None)
        if until is not None:
            Tincture.update(keep_until=until, keep_until_by_hand=True).where(
                Tincture.id == tincture_id
            ).execute()
        if gone_ml > 0:
            write_loss(act, tincture_id, LossKind.NOT_STATED, gone_ml, facts.strained)
        for number, (entry, size_ml, volume_ml) in enumerate(bottles, start=1):
            write_bottle(
                act,
                tincture_id,
                bottle_code(code, number),
                BottleDraft(size_ml, volume_ml, entry.place),
                facts.strained,
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
        return note_on(row, unsaid, self._file.name, self._wording, is_strained=is_strained)


_ASKED_FOR = {
    "part": "part",
    "condition": "fresh or dried",
    "pressing": "pressing",
    "strained": "straining date",
}


def _day_by(facts: _JarFacts) -> DayBy:
    if facts.strained == NOT_KNOWN:
        return DayBy.NOT_KNOWN
    return DayBy.ASSUMED if "strained" in facts.assumed else DayBy.STATED


def _blank(rows: list[int]) -> Iterator[str]:
    if rows:
        yield f"{_row_numbers(rows)}, blank"


def _row_numbers(lines: list[int]) -> str:
    return f"row {lines[0]}" if len(set(lines)) == 1 else f"rows {row_ranges(lines)}"
