"""What a person answers where a list is silent, column by column."""

from collections.abc import Sequence
from typing import Any

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.interchange.cells import one_of
from stillroom.keeping.interchange.entry import Reader, answer


def given_answers(pairs: Sequence[str], reader: Reader) -> dict[str, Any]:
    """A person's answer for a column, from `key=value`; Refused if it isn't one."""
    answers: dict[str, Any] = {}
    for pair in pairs:
        key, equals, text = (piece.strip() for piece in pair.partition("="))
        key = key.casefold()
        if not equals or key not in needed_columns(is_strained=True):
            raise Refused(
                f'There is no --set "{pair}". Write KEY=VALUE, such as part=leaf; '
                f"KEY is {one_of(needed_columns(is_strained=True))}."
            )
        try:
            value = answer(key, text, reader)
        except NotUnderstood as error:
            raise Refused(f'--set "{pair}" is not clear. {error}') from error
        if answers.setdefault(key, value) != value:
            raise Refused(f"--set {key} appears twice with different values. Leave one out.")
    return answers


def needed_columns(is_strained: bool) -> tuple[str, ...]:
    """The facts that no jar can do without on a shelf, of which none is ever made up."""
    return ("part", "condition", *(("pressing", "strained") if is_strained else ()))
