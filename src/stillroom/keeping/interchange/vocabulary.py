"""The words of people's own sheets in several languages, from `sheet_words.csv`.

Anyone can extend that file: a line has the kind of word, what it means here, its language, and
the words themselves, parted by bars. Case, accents and signs do not matter.
"""

import csv
import re
import unicodedata
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

_FILE = "sheet_words.csv"


def fold(text: str) -> str:
    """A text without case, accents or runs of space.

    >>> fold("  Größe des  GEFÄSSES ")
    'grosse des gefasses'
    """
    plain = text.casefold()
    if not plain.isascii():
        plain = unicodedata.normalize("NFKD", plain)
        plain = "".join(c for c in plain if not unicodedata.combining(c))
    return " ".join(plain.split())


def plain_words(text: str) -> str:
    """A folded text of words alone, without signs.

    >>> plain_words("Fresh/Dry?"), plain_words("n° de lot")
    ('fresh dry', 'n de lot')
    """
    return " ".join(re.sub(r"[\W_]+", " ", fold(text)).split())


@cache
def _lines() -> tuple[tuple[str, str, str], ...]:
    """Kind, meaning and one folded word or phrase, each."""
    with files(__package__).joinpath(_FILE).open(encoding="utf-8") as file:
        return tuple(
            (line["kind"], line["meaning"], fold(word))
            for line in csv.DictReader(file)
            for word in line["words"].split("|")
        )


@cache
def meanings(kind: str) -> dict[str, tuple[str, ...]]:
    """What each word of a kind may mean."""
    found: dict[str, dict[str, None]] = {}
    for its_kind, meaning, word in _lines():
        if its_kind == kind:
            found.setdefault(word, {})[meaning] = None
    return {word: tuple(all_meanings) for word, all_meanings in found.items()}


def meanings_within(kind: str, text: str) -> tuple[str, ...]:
    """Everything of a kind that the words of a text name, each once.

    >>> meanings_within("part", "getrocknete Blätter"), meanings_within("part", "leaf or root")
    (('leaf',), ('leaf', 'root'))
    """
    padded = f" {plain_words(text)} "
    found: dict[str, None] = {}
    for word, all_meanings in meanings(kind).items():
        if f" {word} " in padded:
            found |= dict.fromkeys(all_meanings)
    return tuple(found)


@cache
def headings() -> dict[str, tuple[str, ...]]:
    """What a heading, in plain words, may stand for: columns in the order of preference."""
    found: dict[str, dict[str, None]] = {}
    for kind, meaning, word in _lines():
        if kind == "heading":
            found.setdefault(plain_words(word), {}).update(dict.fromkeys(meaning.split()))
    return {word: tuple(columns) for word, columns in found.items()}


def columns() -> tuple[str, ...]:
    """Every column that a sheet may have."""
    return tuple(dict.fromkeys(column for names in headings().values() for column in names))


@cache
def pattern(kind: str) -> str:
    """A regular expression for any word of a kind in a folded text, the longest first."""
    words = sorted(meanings(kind), key=len, reverse=True)
    return "|".join(re.escape(word) for word in words)


def in_our_units(text: str) -> str:
    """A figure with the words of its unit in the form that figures are read in.

    >>> in_our_units("50 Gramm"), in_our_units("40 Vol.-%"), in_our_units("1/2 litro")
    ('50 g', '40 %', '1/2 l')
    """
    return re.sub(
        rf"(?<=[\d½¼¾.]) ?(?P<unit>{pattern('unit')})(?![\w%])",
        lambda found: f" {meanings('unit')[found['unit']][0]}",
        fold_signs(text),
    )


def fold_signs(text: str) -> str:
    """A folded text in which fractions and degrees are still signs."""
    kept = {"½": "\ue000", "¼": "\ue001", "¾": "\ue002", "º": "\ue003"}
    back = {mark: sign for sign, mark in kept.items()} | {"\ue003": "°"}
    for sign, mark in kept.items():
        text = text.replace(sign, mark)
    text = fold(text)
    for mark, sign in back.items():
        text = text.replace(mark, sign)
    return text


def english_month(text: str) -> str:
    """A date with its month in English.

    >>> english_month("3. März 2026"), english_month("le 14 juillet 2026")
    ('3. March 2026', '14 July 2026')
    """
    words = list(_with_english_months(fold(text)))
    return "".join(words).strip() if words else text


def _with_english_months(text: str) -> Iterator[str]:
    found = re.search(rf"(?<![a-z])(?P<month>{pattern('month')})(?![a-z])", text)
    if found is None:
        return
    before = re.sub(r"^\D*(?=\d)", "", text[: found.start()])  # a weekday or an article
    before = re.sub(r" (de|di|van)\b", "", before)
    yield re.sub(r"(?<=\d)o\b", "", before)
    yield meanings("month")[found["month"]][0]
    yield re.sub(r"^\.?,?( (de|del|di|van)\b)?", "", text[found.end() :])
