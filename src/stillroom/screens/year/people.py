"""Who was given what: a list of people, and a page for each."""

from collections.abc import Callable, Sequence

from rich.text import Text
from textual import on
from textual.app import ComposeResult

from stillroom.keeping.keeper import Keeper
from stillroom.keeping.words import folded, for_whom, listed
from stillroom.keeping.year.people import Person, Taken, batch_called, people, who_got
from stillroom.quantities import how_many
from stillroom.screens.kit.columns import Cell, Column, Heading
from stillroom.screens.kit.list_page import OverPage
from stillroom.screens.kit.table import Table
from stillroom.screens.kit.text import safe
from stillroom.screens.year.parts import YearPart


class PeoplePart(YearPart):
    """Everybody for whom something was taken."""

    title = "People"
    columns = (
        Column("Name", share=2),
        Column("Got", 9, is_right=True),
        Column("Times", 6, is_right=True),
        Column("Last", 12, is_right=True),
        Column("What", share=3),
    )
    none = (
        "Nobody is named yet.\n\nIf you fill in For when you draw or give something, the name is "
        "listed here, with what that person got. It stays on this computer."
    )

    def lines(self, matches: Callable[..., bool]) -> Sequence[Person | Heading]:
        sought = self.page.sought
        tincture_id = batch_called(self.keeper, sought) if sought else None
        if tincture_id is not None:
            found = who_got(self.keeper, tincture_id)
            heading = f"Got any of {sought}, or of what was made with it"
            return [Heading(heading, how_many(len(found), "name")), *found]
        return [
            each
            for each in people(self.keeper)
            if matches(each.name, *(word for t in each.taken for word in (t.name, t.code)))
        ]

    def key(self, row: Person) -> object:
        return row.name

    def cells(self, row: Person) -> tuple[Cell, ...]:
        said = self.page.wording
        return (
            Cell(row.name, "strong"),
            Cell(said.volume(row.volume_ml)),
            Cell(str(len(row.taken))),
            Cell(said.day(row.last_on)),
            Cell(listed(taken.name for taken in reversed(row.taken))),
        )

    def about(self, row: Person) -> Text:
        said = self.page.wording
        latest = [
            (said.day(t.day), f"{said.volume(t.volume_ml)} {t.name}, {t.code}, {t.how}")
            for t in reversed(row.taken[-4:])
        ]
        return self.facts(row.name, latest)


class PersonPage(OverPage):
    """What one person got."""

    HELP = (
        "What this person got: how much, when, and from which bottle and batch. It judges nobody's "
        "use, recommends no dose, and stays on this computer. Press enter to open the "
        "bottle. The name can be removed for good: on Ledger, press F."
    )
    FIND_HINT = "tincture, code, day or note"

    def __init__(self, keeper: Keeper, name: str) -> None:
        super().__init__(keeper)
        self.person = name

    def compose_list(self) -> ComposeResult:
        """Everything that was taken for them."""
        columns = (
            Column("Day", 11),
            Column("What", share=3),
            Column("Bottle", 12),
            Column("Amount", 10, is_right=True),
            Column("Kind", 8),
            Column("Note", share=2),
        )
        yield Table[Taken](
            columns, self._cells, _key,
            is_plain=self.host.is_plain, id="rows", when_chosen=self._tell,
        )  # fmt: skip

    @property
    def rows(self) -> Table[Taken]:
        """The table of what this person got."""
        return self.query_one("#rows", Table)

    def read(self) -> None:
        """Read what they got; where the name is gone, go back."""
        wanted = self.person.casefold()
        found = next((p for p in people(self.keeper) if p.name.casefold() == wanted), None)
        if found is None:
            self.action_back()
            return
        said = self.wording
        rows = [
            each
            for each in reversed(found.taken)
            if self.matches(each.name, each.code, each.note, each.kind, said.day(each.day))
        ]
        lines: list[Taken | Heading] = []
        by_name: dict[str, float] = {}
        for each in rows:
            by_name[each.name] = by_name.get(each.name, 0.0) + each.volume_ml
        if rows:
            sums = ", ".join(f"{name} {said.volume(ml)}" for name, ml in by_name.items())
            lines = [Heading(sums), *rows]
        self.head(Text(safe(found.name), style="bold"), said.volume(found.volume_ml))
        self.rows.show(lines, "Nothing matches. Press esc to show all.")

    def show_rows(self) -> None:
        """Show what passes the words."""
        self.attempt(self.read)

    def _cells(self, row: Taken) -> tuple[Cell, ...]:
        said = self.wording
        return (
            Cell(said.day(row.day)),
            Cell(row.name, "strong"),
            Cell(row.code),
            Cell(said.volume(row.volume_ml)),
            Cell(row.how),
            Cell(for_whom("", row.note)),
        )

    def _tell(self) -> None:
        row = self.rows.selected
        self.about("" if row is None else f"{row.name}, batch {row.batch}. {safe(row.note)}")

    @on(Table.Opened)
    def _open(self) -> None:
        row = self.rows.selected
        if row is not None:
            self.host.open_bottle(row.bottle_id)


def _key(row: Taken) -> object:
    return row.day, row.code, row.volume_ml, folded(row.note)
