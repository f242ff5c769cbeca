"""What every part of the cupboard has: a list, words about a row, a form."""

from collections.abc import Sequence
from typing import Any, ClassVar, TypeVar

from rich.text import Text
from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.errors import Refused
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.parts_page import PagePart
from stillroom.screens.kit.text import safe

T = TypeVar("T")


BAR = 8


class CupboardTab(PagePart[T]):
    """One part of the cupboard."""

    hint: ClassVar[str] = ""
    """What is shown while it is empty."""
    is_fixed: ClassVar[bool] = False
    """Whether nothing can be added or deleted."""

    def rows(self) -> Sequence[T]:
        """The rows that the part lists."""
        raise NotImplementedError

    def words(self, row: T) -> tuple[str, ...]:
        """What of a row can be found."""
        raise NotImplementedError

    def form(self, row: T | None) -> Dialog[Any]:
        """The form for a row, or for a new one; it gives back the key of the row."""
        raise NotImplementedError

    def remove(self, row: T) -> None:
        """Delete a row."""
        raise Refused("Nothing can be deleted here.")


def words_about(name: str, facts: str, rest: str) -> Text:
    """A name, facts beside it, and a line below."""
    text = Text.assemble((safe(name), "bold"))
    if facts:
        text.append(f" · {facts}")
    if rest:
        text.append(f"\n{rest}")
    return text


class DeleteDialog(Dialog[bool]):
    """Asks before an entry is deleted."""

    ACT = "Delete"
    TITLE_TEXT = "Delete"

    def __init__(self, part: CupboardTab[T], row: T) -> None:
        super().__init__()
        self.part = part
        self.row: Any = row

    def compose_form(self) -> ComposeResult:
        """What will be deleted."""
        yield Static(f"{safe(self.part.words(self.row)[0])} will be deleted.", markup=False)

    def keep(self) -> bool:
        """Delete it, if nothing was made with it."""
        self.part.remove(self.row)
        return True
