"""The rows of a person's own sheet: what each states, and what it leaves open."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from stillroom.errors import NotUnderstood
from stillroom.keeping.interchange.answers import (
    ABOVE,
    CHOICES,
    UNKNOWN_HERB,
    Answers,
    needed_columns,
)
from stillroom.keeping.interchange.books import NO_RESULT
from stillroom.keeping.interchange.entry import (
    NEEDED,
    Count,
    NotebookRow,
    Poured,
    Rounded,
    Share,
    contradiction,
)
from stillroom.keeping.interchange.herb_cells import NamedHerb, hint
from stillroom.keeping.interchange.layout import SheetRow, Skipped
from stillroom.keeping.interchange.loose import Written
from stillroom.keeping.interchange.opening import Opened, is_ditto
from stillroom.keeping.interchange.report import BadLine, Question
from stillroom.keeping.interchange.spans import HowLong
from stillroom.keeping.words import clean_note
from stillroom.reckoning.charge import Condition, Part

_SAME_AS_ABOVE = ("herb", "day")
"""Columns that people leave blank where they are the same as in the row above."""
_NO_RESULT = "The result of its formula isn't in the file. Save it in a spreadsheet first."
_OF_STRAINED = {"yielded", "size", "left", "bottles"}


@dataclass
class RowReader:
    """One pass over the rows of a sheet; what must be asked and what is bad gathers here."""

    file: str
    opened: Opened
    answers: Answers
    bad: list[BadLine] = field(default_factory=list)
    kept: dict[str, list[int]] = field(default_factory=dict)
    """What was done with cells that are no figures, with the rows."""
    _asked: dict[str, dict[int, str]] = field(default_factory=dict)
    """What is not known, with the rows it concerns and their herbs."""
    _unread: dict[tuple[str, int], str] = field(default_factory=dict)
    """Cells that are not understood, by column and row."""
    _above: dict[str, str] = field(default_factory=dict)
    """The cells of the last row, filled in."""

    def __iter__(self) -> Iterator[NotebookRow]:
        """Every row that can be understood.

        While it isn't known which column has the herb or the date there is none, but what the rows
        leave open, and their faults, are found in the same round.
        """
        for row in self.opened.sheet.rows:
            entry = self._understand(row)
            if entry is not None:
                yield entry

    def blame(self, row: int | None, column: str, message: str) -> None:
        """Note a mistake in the row."""
        heading = self.heading(column) if column else ""
        self.bad.append(BadLine(self.file, row, heading, message, is_row=True))

    def heading(self, column: str) -> str:
        """What a column is called in the sheet."""
        return self.opened.sheet.layout.headings.get(column, column)

    def ask(self, key: str, row: int, herb: str = "") -> None:
        """Note what must be asked about."""
        self._asked.setdefault(key, {}).setdefault(row, herb)

    def questions(self) -> tuple[Question, ...]:
        """What must be answered, each once for its column."""
        keys = ("herb", "day", "ranges", *needed_columns(is_strained=True))
        return (
            *self.opened.questions,
            *(self._question(key, self._asked[key]) for key in keys if key in self._asked),
        )

    def _question(self, key: str, rows: dict[int, str]) -> Question:
        unread = (self._unread[key, row] for row in sorted(rows) if (key, row) in self._unread)
        herbs = tuple(dict.fromkeys(rows[row] for row in sorted(rows) if rows[row]))
        choices = tuple("unknown" if choice.endswith("not known") else choice
                        for choice in CHOICES[key])  # fmt: skip
        if key in ("strained", "pressing", "ranges") and "unknown" not in choices:
            choices = (*choices, "unknown")
        return Question(key, tuple(sorted(rows)), tuple(dict.fromkeys(unread)), choices, herbs)

    def _understand(self, row: SheetRow) -> NotebookRow | None:
        values: dict[str, Any] = {}
        notes = [f"{heading}: {text}" for heading, text in row.others.items()]
        inexact: set[str] = set()
        cells, good = self._filled_in(row)
        for column, text in cells.items():
            if column in NEEDED and not text:
                continue  # asked about
            try:
                if text == NO_RESULT:
                    raise NotUnderstood(_NO_RESULT)
                value = self.opened.reader.value(column, text)
            except NotUnderstood as error:
                if column not in ("part", "condition", "pressing"):
                    self.blame(row.number, column, str(error))
                    good = False
                else:  # asked about
                    self._unread[column, row.number] = text
                    notes.append(f"{self.heading(column)}: {text}")
                continue
            self._take(row, column, text, value, values, notes, inexact)
        herb = values.get("herb")
        if isinstance(herb, NamedHerb):
            values["herb"] = herb.name
            good &= self._agrees(row.number, values, "part", herb.part)
            good &= self._agrees(row.number, values, "condition", herb.condition)
        if values.get("part") is None and ("part", row.number) not in self._unread:
            values["part"] = hint(Part, row.cells.get("condition", "").split())
        if values.get("condition") is None and ("condition", row.number) not in self._unread:
            values["condition"] = hint(Condition, row.cells.get("part", "").split())
        self._counted(row, values, notes)
        remarks = self._notes(row, values.pop("note", ""), notes)
        if not good or remarks is None or not NEEDED.keys() <= values.keys():
            self._ask_of(row.number, values)
            return None
        values = _poured(values)
        self._steeped(row, values)
        if self._is_used_up(row, values):
            return None
        entry = NotebookRow(
            row.number, note="\n".join(remarks), inexact=frozenset(inexact), **values
        )
        if not entry.shelf and row.shelf:
            entry = replace(entry, shelf=row.shelf)
        wrong = contradiction(entry)
        if wrong is not None:
            self.blame(row.number, *wrong)
            return None
        return entry

    def _take(
        self,
        row: SheetRow,
        column: str,
        text: str,
        value: Any,
        values: dict[str, Any],
        notes: list[str],
        inexact: set[str],
    ) -> None:
        """Put the meaning of a cell among those of its row, and its words into the note."""
        if isinstance(value, Written):
            within = self.answers.of("ranges", row.cells.get("herb", ""))
            if value.is_range and within is None and not self.answers.accept_unknown:
                self.ask("ranges", row.number, row.cells.get("herb", ""))
                self._unread["ranges", row.number] = text
            figure = value.taken(within)
            if not value.is_exact:
                inexact.add(column)
                notes.append(f"{self.heading(column)}: {text}")
                how = "Taken as about the figure" if figure is not None else "Kept as words"
                self.kept.setdefault(f"{how}: {self.heading(column)}", []).append(row.number)
            value = figure
        if isinstance(value, Rounded):
            self._keep("Taken as the end of the month or year", row, column, text, notes)
            value = value.day
        if isinstance(value, Share) and value.of_size not in (0.0, 1.0):
            inexact.add(column)
            self._keep("Taken as a share of the bottle", row, column, text, notes)
        if isinstance(value, HowLong):
            self._keep("Counted from the filling date", row, column, text, notes)
        if isinstance(value, Poured):
            if not value.is_exact:
                inexact.add("volume")
            values.setdefault("poured", []).append((column, value))
            return
        if value is not None:
            values[column] = value

    def _keep(self, how: str, row: SheetRow, column: str, text: str, notes: list[str]) -> None:
        """Put the words of a cell into the note, and list how they were taken."""
        notes.append(f"{self.heading(column)}: {text}")
        self.kept.setdefault(f"{how}: {self.heading(column)}", []).append(row.number)

    def _counted(self, row: SheetRow, values: dict[str, Any], notes: list[str]) -> None:
        """Put the size of a row's bottle as often as there are of them; without one it is words."""
        count = values.get("bottles")
        if isinstance(count, Count):
            del values["bottles"]
            if "size" in values and count.bottles == 1:
                return
            if "size" in values:
                values["bottles"] = (values.pop("size"),) * count.bottles
            else:
                self._keep("Kept as words", row, "bottles", row.cells["bottles"], notes)

    def _steeped(self, row: SheetRow, values: dict[str, Any]) -> None:
        """Count the strain date of a row that says how long, where it has none of its own."""
        steep = values.pop("steep", None)
        if isinstance(values.get("strain_on"), HowLong):
            steep = values.pop("strain_on")
        if not isinstance(steep, HowLong) or "strain_on" in values:
            return
        within = self.answers.of("ranges", row.cells.get("herb", ""))
        if steep.is_range and within is None and not self.answers.accept_unknown:
            self.ask("ranges", row.number, row.cells.get("herb", ""))
            self._unread["ranges", row.number] = next(
                row.cells[c] for c in ("steep", "strain_on") if row.cells.get(c)
            )
        day = steep.after(values["day"], within)
        if day is not None:
            values |= {"strain_on": day, "steeped": True}

    def _is_used_up(self, row: SheetRow, values: dict[str, Any]) -> bool:
        """Work out what a bottle holds from a share of it; whether the row is nothing but an
        empty bottle, which is listed as skipped."""
        left = values.get("left")
        if not isinstance(left, Share):
            return False
        del values["left"]
        room = sum(values.get("bottles", ())) or values.get("size")
        if left.of_size and room and not (left.of_size == 1 and "bottles" in values):
            values["left"] = left.of_size * room
        if left.of_size:
            return False
        values["is_empty"] = True
        values.pop("size", None)
        values.pop("bottles", None)
        if "yielded" in values:
            return False
        text = " · ".join(filter(None, (*row.cells.values(), *row.others.values())))
        self.opened.sheet.skipped.append(Skipped(row.number, "an empty bottle", text))
        return True

    def _filled_in(self, row: SheetRow) -> tuple[dict[str, str], bool]:
        """The cells of a row, those that repeat the row above filled in; whether none is missing.

        What may be the same as above is taken to be, so that nothing else is asked needlessly.
        """
        cells = dict(row.cells)
        is_complete = True
        for column, text in cells.items():
            is_same = column in row.merged or is_ditto(text)
            if is_same and self._above.get(column):
                cells[column] = self._above[column]
        for column in _SAME_AS_ABOVE:
            if cells.get(column) or column not in self.opened.sheet.layout.columns:
                continue
            answer = self.answers.of(column)
            above = self._above.get(column, "")
            if answer is not None and (answer != ABOVE or above):
                cells[column] = above if answer == ABOVE else str(answer)
            elif column == "herb" and self.answers.accept_unknown:
                cells[column] = UNKNOWN_HERB
            elif above:
                self.ask(column, row.number, self._above.get("herb", ""))
                cells[column] = above
                is_complete = False
            else:
                self.blame(row.number, column, "Needed.")
                is_complete = False
        self._above = {**self._above, **{c: text for c, text in cells.items() if text}}
        return cells, is_complete

    def _notes(self, row: SheetRow, own: str, others: list[str]) -> list[str] | None:
        """The note of a row with all that has no place of its own; None if one is too long."""
        notes = [own] if own else []
        for text in others:
            heading = text.partition(":")[0]
            try:
                notes.append(clean_note(text, f"The text under {heading}", limit=2000))
            except NotUnderstood as error:
                self.bad.append(BadLine(self.file, row.number, heading, str(error), is_row=True))
                return None
        return notes

    def _agrees(self, row: int, values: dict[str, Any], column: str, named: Any) -> bool:
        """Take a fact that the herb's name ends in; a column that contradicts it is reported."""
        stated = values.setdefault(column, named)
        if named is None or stated == named:
            return True
        if stated is None:
            values[column] = named
            return True
        self.blame(row, column, f"The cell has {stated}, but the herb's name has {named}.")
        return False

    def _ask_of(self, row: int, values: dict[str, Any]) -> None:
        """Ask what a row with a mistake leaves open, so that all comes in one round."""
        herb = str(values.get("herb", ""))
        for column in needed_columns(bool(set(values) & _OF_STRAINED)):
            is_answered = self.answers.accept_unknown or self.answers.of(column, herb) is not None
            if values.get(column) is None and not is_answered:
                self.ask(column, row, herb)


def _poured(values: dict[str, Any]) -> dict[str, Any]:
    """The facts of a row with those of its liquid: columns of figures go before words."""
    for _, poured in values.pop("poured", []):
        figures = {"volume": poured.volume, "strength": poured.strength}
        values = {name: value for name, value in figures.items() if value is not None} | values
        if poured.words:
            values["liquid"] = "; ".join(filter(None, (values.get("liquid", ""), poured.words)))
    return values
