"""What a command answers."""

import json
from collections.abc import Callable
from functools import cache
from typing import Any, NamedTuple

from jsonschema import Draft202012Validator

from stillroom.cli.schema import strict
from stillroom.cli.shapes import schema_of


class Answer(NamedTuple):
    """What came of a command."""

    code: int
    out: str
    err: str

    @property
    def told(self) -> dict[str, Any]:
        """What was printed as JSON; it must have the shape of its command."""
        told: dict[str, Any] = json.loads(self.out)
        found = validator(told["command"]).iter_errors(told)
        errors = [f"{each.json_path}: {each.message[:200]}" for each in found]
        assert not errors, errors
        return told

    @property
    def json(self) -> Any:
        """The result in it."""
        return self.told["result"]


@cache
def validator(command: str) -> Draft202012Validator:
    """Finds what isn't in the shape of a command, and fields that it doesn't name."""
    schema = strict(schema_of(command))
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema, format_checker=Draft202012Validator.FORMAT_CHECKER)


Say = Callable[..., Answer]
