"""FIELD=VALUE words, and rows of columns between semicolons."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Protocol, TypeVar

from stillroom.errors import Refused, choose_from


class Keyed(Protocol):
    """A field that is called by its key."""

    @property
    def key(self) -> str:
        """Its name in FIELD=VALUE."""
        ...


F = TypeVar("F", bound=Keyed)


def pairs(words: Iterable[str], fields: Mapping[str, F], where: str) -> Iterator[tuple[F, str]]:
    """Each word as its field and the text behind the equals sign; Refused where it isn't one."""
    for word in words:
        key, sign, text = word.partition("=")
        found = field_called(key.strip(), fields, where)
        if not sign:
            raise Refused(f"{key}: write {key}=VALUE.")
        yield found, text


def field_called(key: str, fields: Mapping[str, F], where: str) -> F:
    """The field of that name; Refused with the names there are."""
    if key not in fields:
        raise Refused(f"{where} has no field {key}. {choose_from(key, fields)}")
    return fields[key]


def cells(text: str, columns: Sequence[F], where: str) -> Iterator[tuple[F, str]]:
    """The columns of a row that are given, in order or by name, each with its text."""
    known = {column.key: column for column in columns}
    parts = text.split(";")
    if len(parts) > len(columns):
        raise Refused(f"{where}: a row has {len(columns)} columns, {';'.join(known)}.")
    seen: set[str] = set()
    for place, part in enumerate(parts):
        key, sign, value = part.partition("=")
        if sign:
            column = field_called(key.strip(), known, where)
        elif not part.strip():
            continue
        else:
            column, value = columns[place], part
        if column.key in seen:
            raise Refused(f"{where}: {column.key} is given twice in a row.")
        seen.add(column.key)
        yield column, value
