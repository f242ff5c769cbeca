"""The words of labels in other languages: a column of `label_words.csv` is a language.

To add a language, add a column headed by its ISO 639-1 code and fill every row; what stands in
braces is filled in by the program.
"""

from dataclasses import dataclass
from datetime import date
from functools import cache

from stillroom.dates import DayForm
from stillroom.errors import NotUnderstood

ENGLISH = "en"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@cache
def _table() -> dict[str, dict[str, str]]:
    """Words by language; read when a label is, not at every start."""
    import csv
    from importlib import resources

    file = resources.files(__package__) / "label_words.csv"
    rows = list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))
    codes = [code for code in rows[0] if code != "word"]
    return {code: {row["word"]: row[code] for row in rows} for code in codes}


def languages() -> dict[str, str]:
    """The languages of labels: their codes, and what each calls itself."""
    return {code: words["language"] for code, words in _table().items()}


def language_from(text: str) -> str:
    """The code of a language of labels, given by code or name; NotUnderstood if there is none.

    >>> language_from("Deutsch"), language_from("FR")
    ('de', 'fr')
    """
    wanted = text.strip().casefold()
    for code, name in languages().items():
        if wanted in {code.casefold(), name.casefold()}:
            return code
    known = ", ".join(languages())
    raise NotUnderstood(f"Labels can't be printed in “{text.strip()[:20]}”. Choose one of {known}.")


@dataclass(frozen=True)
class LabelWords:
    """The words of labels in one language."""

    language: str = ENGLISH

    def __call__(self, word: str, **fill: str) -> str:
        """A word or phrase, its gaps filled.

        >>> LabelWords("de")("made", day="3. Nov. 2026")
        'Hergestellt 3. Nov. 2026'
        """
        phrase = _table()[self.language][word]
        for name, text in fill.items():
            phrase = phrase.replace(f"{{{name}}}", text)
        return phrase

    def day(self, day: date | None, form: DayForm) -> str:
        """A day, its month in this language; blank for none.

        >>> LabelWords("fr").day(date(2026, 8, 3), DayForm.DAY_MONTH_YEAR)
        '3 août 2026'
        """
        if day is None:
            return ""
        if form is DayForm.ISO:
            return day.isoformat()
        month = self(_MONTHS[day.month - 1])
        if form is DayForm.MONTH_DAY_YEAR:
            return f"{month} {day.day}, {day.year:04d}"
        dot = "." if self.language == "de" else ""
        return f"{day.day}{dot} {month} {day.year:04d}"

    def part_and_condition(self, part: str, condition: str) -> str:
        """Such as `flower, dried`; each may be marked as assumed.

        >>> LabelWords("de").part_and_condition("root (assumed)", "dried")
        'Wurzel (angenommen), getrocknet'
        """
        return f"{self._fact(part)}, {self._fact(condition)}"

    def _fact(self, text: str) -> str:
        word, mark, _ = text.partition(" (assumed)")
        return f"{self(word)} ({self('assumed')})" if mark else self(word)
