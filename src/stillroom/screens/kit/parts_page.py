"""A page of several lists, one part of it shown at a time."""

from collections.abc import Sequence
from typing import Any, ClassVar, Generic, TypeVar

from rich.text import Text
from textual import on
from textual.app import ComposeResult

from stillroom.keeping.keeper import Keeper
from stillroom.screens.kit.columns import Cell, Column
from stillroom.screens.kit.list_page import ListPage
from stillroom.screens.kit.part_line import PartLine
from stillroom.screens.kit.table import Table

T = TypeVar("T")


class PagePart(Generic[T]):
    """One part of such a page: a list, and words about a row."""

    title: ClassVar[str]
    columns: tuple[Column, ...]

    def __init__(self, page: ListPage) -> None:
        self.page = page
        self.keeper = page.keeper

    def key(self, row: T) -> object:
        """What a row is known by."""
        raise NotImplementedError

    def cells(self, row: T) -> tuple[Cell, ...]:
        """A row in its columns."""
        raise NotImplementedError

    def about(self, row: T) -> Text:
        """Details of the chosen row."""
        raise NotImplementedError


P = TypeVar("P", bound=PagePart[Any])


class PartsPage(ListPage, Generic[P]):
    """The frame of such a page. `read` shows the rows of `part`."""

    FIND_HINT = "words in this part"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__(keeper)
        self._parts = self.make_parts()
        self._chosen = 0

    def make_parts(self) -> Sequence[P]:
        """The parts in order."""
        raise NotImplementedError

    def compose_list(self) -> ComposeResult:
        """The parts, and the list of the one on show."""
        part = self.part
        yield PartLine([each.title for each in self._parts])
        yield Table[Any](
            part.columns, part.cells, part.key,
            is_plain=self.host.is_plain, id="rows", when_chosen=self.tell,
        )  # fmt: skip

    @property
    def rows(self) -> Table[Any]:
        """The table of the chosen part."""
        return self.query_one("#rows", Table)

    @property
    def part(self) -> P:
        """The part on show."""
        return self._parts[self._chosen]

    def show_rows(self) -> None:
        """Show what passes the words."""
        self.attempt(self.read)

    def tell(self) -> None:
        """Show details of the chosen row."""
        row = self.rows.selected
        self.about("" if row is None else self.part.about(row))

    def action_turn(self, step: int) -> None:
        """Go to the next part or the previous one, round and round."""
        self.turn_to((self._chosen + step) % len(self._parts))

    def turn_to(self, number: int) -> None:
        """Show a part, all of it."""
        self._chosen = number
        self.query_one(PartLine).chosen = number
        part = self.part
        self.rows.set_columns(part.columns, part.cells, part.key)
        self.action_stop_finding()

    @on(PartLine.Clicked)
    def _part_clicked(self, event: PartLine.Clicked) -> None:
        self.turn_to(event.number)
