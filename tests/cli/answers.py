"""What a command answers."""

import json
from collections.abc import Callable
from typing import Any, NamedTuple


class Answer(NamedTuple):
    """What came of a command."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """What was printed, read as JSON."""
        return json.loads(self.out)


Say = Callable[..., Answer]
