"""The cupboard: spirits, herbs, shelves, bottle sizes and settings, one part at a time."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, NamedTuple

from rich.text import Text
from textual import on, work
from textual.app import ComposeResult, RenderResult
from textual.binding import Binding
from textual.events import Click
from textual.message import Message
from textual.reactive import reactive
from textual.widget import Widget

from ..dates import show_day
from ..errors import StillroomError
from ..keeping.cupboard import (
    bottle_sizes,
    drop_bottle_size,
    herbs,
    remove_herb,
    remove_shelf,
    remove_spirit,
    shelf_rows,
    shift_shelf,
    spirits,
)
from ..keeping.herb_history import HerbStraining, herb_strainings
from ..keeping.keeper import Keeper
from ..keeping.views import HerbView, ShelfRow, SizeView, SpiritView
from ..quantities import UnitSystem
from ..reckoning.kinds import Kind
from .cupboard_dialogs import (
    HerbDialog,
    SettingsDialog,
    ShelfDialog,
    SizeDialog,
    SpiritDialog,
)
from .dialog import Dialog
from .jar_art import safe
from .list_page import ListPage
from .table import Cell, Column, Table, bar

_BAR = 8
_SPARKS = "▁▂▃▄▅▆▇█"
_UNITS = {
    UnitSystem.METRIC: "metric: mL and g",
    UnitSystem.US: "US: fl oz and oz",
    UnitSystem.IMPERIAL: "imperial: fl oz and oz",
}


class SettingRow(NamedTuple):
    """One setting as the list shows it."""

    field: str
    """Its name in Preferences."""
    label: str
    value: str
    about: str


class Parts(Widget):
    """The parts of a page on one line; the one on show stands out."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"parts--part", "parts--chosen"}
    DEFAULT_CSS = """
    Parts {
        height: 1; padding: 0 1; background: $panel;
        & > .parts--part { color: $text-muted; background: $panel; }
        & > .parts--chosen { color: $accent; background: $background; text-style: bold; }
    }
    """

    chosen: reactive[int] = reactive(0)

    class Clicked(Message):
        """A part was clicked on."""

        def __init__(self, number: int) -> None:
            super().__init__()
            self.number = number

    def __init__(self, titles: Sequence[str]) -> None:
        super().__init__()
        self.titles = titles

    def render(self) -> RenderResult:
        """The titles, the chosen one in brackets, so that colour is not needed to see it."""
        text = Text(no_wrap=True, overflow="ellipsis")
        for number, title in enumerate(self.titles):
            is_chosen = number == self.chosen
            start = len(text)
            style = self.get_component_rich_style(f"parts--{'chosen' if is_chosen else 'part'}")
            text.append(f"[{title}]" if is_chosen else f" {title} ", style)
            text.apply_meta({"part": number}, start)
            text.append(" ")
        return text

    def on_click(self, event: Click) -> None:
        """Say which was meant."""
        number = event.style.meta.get("part")
        if number is not None:
            self.post_message(self.Clicked(number))


@dataclass(frozen=True)
class Part:
    """One part of the cupboard: what it lists and what can be done there."""

    title: str
    columns: tuple[Column, ...]
    cells: Callable[[Any], Sequence[Cell]]
    key: Callable[[Any], object]
    rows: Callable[[], Sequence[Any]]
    words: Callable[[Any], Sequence[str]]
    """What of a row can be found."""
    about: Callable[[Any], Text]
    """What is said of the chosen row."""
    form: Callable[[Any], Dialog[Any]]
    """The form for a row, or for a new one."""
    remove: Callable[[Any], None] | None
    hint: str
    """What is said while it is empty."""


class CupboardPage(ListPage):
    """What is kept besides jars and bottles."""

    HELP = (
        "Spirits with what is left of them, herbs with your own cautions, notes and yields, the "
        "shelves in their order, the bottle sizes you fill with how many stand empty, and the "
        "settings of this shelf. tab or the arrows turn to the next part. Whatever has gone into a "
        "jar cannot be removed, so that every record keeps its sources."
    )
    FIND_HINT = "words in this part"
    BINDINGS = [
        Binding("tab,right", "turn(1)", "Next part", id="cupboard.next", key_display="tab",
                tooltip="Spirits, herbs, shelves, bottle sizes, settings"),
        Binding("shift+tab,left", "turn(-1)", "Part before", show=False, id="cupboard.before",
                tooltip="The part before"),
        Binding("n", "add", "New", id="cupboard.add", tooltip="Add one to this part"),
        Binding("e", "change", "Change", id="cupboard.change", tooltip="Change the chosen one"),
        Binding("x", "remove", "Remove", id="cupboard.remove",
                tooltip="Remove the chosen one, where nothing was made with it"),
        Binding("minus", "shift(-1)", "Higher", id="cupboard.higher", key_display="-",
                tooltip="This shelf one place up"),
        Binding("plus", "shift(1)", "Lower", id="cupboard.lower", key_display="+",
                tooltip="This shelf one place down"),
    ]  # fmt: skip

    def __init__(self, keeper: Keeper) -> None:
        super().__init__(keeper)
        self._parts = self._make_parts()
        self._chosen = 0

    def compose_list(self) -> ComposeResult:
        """The parts, and the list of the one on show."""
        part = self._parts[0]
        yield Parts([each.title for each in self._parts])
        yield Table[Any](part.columns, part.cells, part.key, is_plain=self.host.is_plain, id="rows")

    @property
    def rows(self) -> Table[Any]:
        """The list."""
        return self.query_one("#rows", Table)

    @property
    def part(self) -> Part:
        """The part on show."""
        return self._parts[self._chosen]

    def read(self) -> None:
        """Read the part on show."""
        part = self.part
        rows = [row for row in part.rows() if self.matches(*part.words(row))]
        hint = "Nothing here has these words. esc shows all." if self.sought else part.hint
        self.rows.show(rows, hint)
        self.head(Text(f"Cupboard · {part.title}", style="bold"))
        self.refresh_bindings()

    def show_rows(self) -> None:
        """Show what passes the words."""
        self.attempt(self.read)

    @on(Table.Highlighted)
    def _tell(self) -> None:
        row = self.rows.selected
        self.about("" if row is None else self.part.about(row))

    # --- Turning ---

    def action_turn(self, step: int) -> None:
        """The next part or the one before, round and round."""
        self.turn_to((self._chosen + step) % len(self._parts))

    def turn_to(self, number: int) -> None:
        """Show a part."""
        self._chosen = number
        self.query_one(Parts).chosen = number
        part = self.part
        self.rows.set_columns(part.columns, part.cells, part.key)
        self.action_stop_finding()
        self.show_rows()

    @on(Parts.Clicked)
    def _part_clicked(self, event: Parts.Clicked) -> None:
        self.turn_to(event.number)

    # --- Keys ---

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Settings are neither added nor removed; only shelves have an order."""
        if action == "shift":
            return self.part.title == "Shelves"
        if action in ("add", "remove"):
            return self.part.remove is not None
        return True

    @work
    async def action_add(self) -> None:
        """A new one."""
        key = await self.app.push_screen_wait(self.part.form(None))
        if key is not None:
            self.host.changed()
            self.rows.select(key)
            self._tell()

    @work
    async def action_change(self) -> None:
        """Change the chosen one."""
        row = self.rows.selected
        if row is None:
            self.host.complain("There is nothing to change yet.")
        elif await self.app.push_screen_wait(self.part.form(row)) is not None:
            self.host.changed()

    @on(Table.Opened)
    def _open(self) -> None:
        row = self.rows.selected
        if isinstance(row, HerbView):
            from .trace import herb_page

            self.app.push_screen(herb_page(self.keeper, row))
        elif isinstance(row, SpiritView):
            from .trace import spirit_page

            self.app.push_screen(spirit_page(self.keeper, row))
        else:
            self.action_change()

    def action_remove(self) -> None:
        """Remove the chosen one."""
        row, remove = self.rows.selected, self.part.remove
        if row is None or remove is None:
            return
        try:
            remove(row)
        except StillroomError as error:
            self.host.complain(str(error))
        else:
            self.host.changed("Removed. u brings it back.")

    def action_shift(self, step: int) -> None:
        """Move the chosen shelf within the order."""
        row = self.rows.selected
        if isinstance(row, ShelfRow):
            self.attempt(lambda: shift_shelf(self.keeper, row.shelf_id, step))
            self.host.changed()

    # --- The parts ---

    def _make_parts(self) -> tuple[Part, ...]:
        keeper = self.keeper
        return (
            Part(
                title="Spirits",
                columns=(
                    Column("Spirit"),
                    Column("Strength", 8, is_right=True),
                    Column("Left", _BAR + 1),
                    Column("of bought", 20, is_right=True),
                    Column("Price", 12, is_right=True),
                    Column("Bought on", 11, is_right=True),
                ),
                cells=self._spirit_cells,
                key=lambda spirit: spirit.spirit_id,
                rows=lambda: spirits(keeper),
                words=lambda spirit: (spirit.name, spirit.origin, spirit.note),
                about=self._about_spirit,
                form=lambda spirit: SpiritDialog(keeper, spirit),
                remove=lambda spirit: remove_spirit(keeper, spirit.spirit_id),
                hint=(
                    "No spirits yet.\n\nPress n to write down a spirit you bought: its strength "
                    "goes into every jar it fills, and what is left is counted for you."
                ),
            ),
            Part(
                title="Herbs",
                columns=(
                    Column("Herb", share=3),
                    Column("Botanical name", share=3),
                    Column("Jars", 5, is_right=True),
                    Column("In bottles", 11, is_right=True),
                    Column("Cautions", 8),
                ),
                cells=self._herb_cells,
                key=lambda herb: herb.herb_id,
                rows=lambda: herbs(keeper),
                words=lambda herb: (herb.name, herb.botanical, herb.note, herb.cautions),
                about=self._about_herb,
                form=lambda herb: HerbDialog(keeper, herb),
                remove=lambda herb: remove_herb(keeper, herb.herb_id),
                hint=(
                    "No herbs yet.\n\nA herb is written down by itself when you fill a jar with "
                    "it. Press n to write one down now, with its botanical name and your own "
                    "cautions, which are printed on its labels."
                ),
            ),
            Part(
                title="Shelves",
                columns=(
                    Column("Shelf", share=2),
                    Column("Note", share=3),
                    Column("Jars", 5, is_right=True),
                ),
                cells=lambda shelf: (
                    Cell(shelf.name, "strong"),
                    Cell(shelf.note),
                    Cell(str(shelf.jars or "none")),
                ),
                key=lambda shelf: shelf.shelf_id,
                rows=lambda: shelf_rows(keeper),
                words=lambda shelf: (shelf.name, shelf.note),
                about=_about_shelf,
                form=lambda shelf: ShelfDialog(keeper, shelf),
                remove=lambda shelf: remove_shelf(keeper, shelf.shelf_id),
                hint=(
                    "No shelves yet.\n\nThe first jar puts one up by itself. Press n to put up "
                    "shelves by the names you know them by."
                ),
            ),
            Part(
                title="Bottle sizes",
                columns=(
                    Column("Size", 12, is_right=True),
                    Column("Empty ones", 14, is_right=True),
                    Column(""),
                ),
                cells=self._size_cells,
                key=lambda size: size.size_ml,
                rows=lambda: bottle_sizes(keeper),
                words=lambda size: (self.shown(Kind.VOLUME, size.size_ml),),
                about=_about_size,
                form=lambda size: SizeDialog(keeper, size),
                remove=lambda size: drop_bottle_size(keeper, size.size_id),
                hint=(
                    "No bottle sizes yet.\n\nPress n to name the sizes you fill. Straining then "
                    "proposes bottles of these sizes, as far as the empty ones go."
                ),
            ),
            Part(
                title="Settings",
                columns=(Column("", 14), Column("", 24), Column("")),
                cells=lambda row: (Cell(row.label), Cell(row.value, "strong"), Cell(row.about, "quiet")),
                key=lambda row: row.field,
                rows=self._settings,
                words=lambda row: (row.label, row.value, row.about),
                about=lambda row: Text(f"{row.label}: {safe(row.value)}\n{row.about}. e changes it."),
                form=lambda row: SettingsDialog(keeper, row.field if row else ""),
                remove=None,
                hint="",
            ),
        )  # fmt: skip

    def _spirit_cells(self, spirit: SpiritView) -> tuple[Cell, ...]:
        if spirit.left_ml is not None and spirit.bought_ml:
            share = max(0.0, spirit.left_ml) / spirit.bought_ml
            left = Cell("", lead=bar(share, _BAR))
            held = self.shown(Kind.VOLUME, max(0.0, spirit.left_ml))
            of = Cell(f"{held} of {self.shown(Kind.VOLUME, spirit.bought_ml)}")
        else:
            left, of = Cell(""), Cell("not counted", "quiet")
        return (
            Cell(spirit.name, "strong"),
            Cell(self.shown(Kind.STRENGTH, spirit.strength_abv)),
            left,
            of,
            Cell(self.shown(Kind.MONEY_PER_ML, spirit.price_per_ml)),
            Cell(show_day(spirit.bought_on) if spirit.bought_on else ""),
        )

    def _about_spirit(self, spirit: SpiritView) -> Text:
        facts = [self.shown(Kind.STRENGTH, spirit.strength_abv)]
        if spirit.price is not None:
            facts.append(f"paid {self.shown(Kind.MONEY, spirit.price)}")
        if spirit.origin:
            facts.append(f"from {safe(spirit.origin)}")
        note = safe(spirit.note) if spirit.note else "enter: every jar and bottle it went into."
        return _told(spirit.name, " · ".join(facts), note)

    def _herb_cells(self, herb: HerbView) -> tuple[Cell, ...]:
        return (
            Cell(herb.name, "strong"),
            Cell(herb.botanical),
            Cell(str(herb.jars)),
            Cell(self.shown(Kind.VOLUME, herb.in_stock_ml) if herb.in_stock_ml > 0 else "none"),
            Cell("own" if herb.cautions else ""),
        )

    def _about_herb(self, herb: HerbView) -> Text:
        text = _told(herb.name, safe(herb.botanical), self._yields(herb.herb_id))
        for label, words in (("Cautions", herb.cautions), ("Note", herb.note)):
            if words:
                text.append(f"\n{label}: {safe(words)}")
        return text

    def _yields(self, herb_id: int) -> str:
        """The herb's yields over the years on one line, drawn as a little plot."""
        known = [
            straining.percent
            for straining in herb_strainings(self.keeper, herb_id)
            if straining.percent is not None
        ]
        if not known:
            return "No yields yet: they stand here once a weighed jar of it is strained."
        mean = self.shown(Kind.PERCENT, sum(known) / len(known))
        first, last = (self.shown(Kind.PERCENT, value) for value in (known[0], known[-1]))
        count = f"{len(known)} straining{'s' if len(known) > 1 else ''}"
        return f"Yield {spark(known)} first {first}, last {last}, mean {mean} of {count}"

    def _size_cells(self, size: SizeView) -> tuple[Cell, ...]:
        empties = "not counted" if size.empties is None else str(size.empties)
        ink = "warning" if size.empties == 0 else ""
        return (Cell(self.shown(Kind.VOLUME, size.size_ml), "strong"), Cell(empties, ink), Cell(""))

    def _settings(self) -> list[SettingRow]:
        wanted = self.wanted
        drops = self.shown(Kind.NUMBER, wanted.drops_per_ml, "not counted")
        return [
            SettingRow("units", "Units", _UNITS[wanted.units], "how amounts are shown and read"),
            SettingRow("decimal_comma", "Decimal mark",
                       "comma, 1,5" if wanted.decimal_comma else "point, 1.5", "in every figure"),
            SettingRow("maker", "Initials", wanted.maker or "none", "who did it, in the ledger"),
            SettingRow("maker_name", "Maker", wanted.maker_name or "none", "printed on labels"),
            SettingRow("steep_days", "Days to steep", str(wanted.steep_days),
                       "what a new jar begins with"),
            SettingRow("shakes_per_day", "Shakes a day", str(wanted.shakes_per_day),
                       "what a new jar begins with"),
            SettingRow("drops_per_ml", "Drops per mL", drops,
                       "counted with your own dropper"),
            SettingRow("label_caution", "Label caution", wanted.label_caution or "none",
                       "printed on every label"),
        ]  # fmt: skip


def _about_shelf(shelf: ShelfRow) -> Text:
    jars = {0: "no jar steeps here", 1: "1 jar steeps here"}.get(
        shelf.jars, f"{shelf.jars} jars steep here"
    )
    return _told(shelf.name, jars, safe(shelf.note) or "- and + move it up and down.")


def _about_size(size: SizeView) -> Text:
    return Text("Bottling takes the filled ones off the count by itself. e counts anew.")


def _told(name: str, facts: str, rest: str) -> Text:
    """A name, facts beside it, and a line below."""
    return Text.assemble(
        (safe(name), "bold"), f" · {facts}" if facts else "", "\n" if rest else "", rest
    )


def spark(values: Sequence[float]) -> str:
    """Shares in percent as columns on a scale from nothing to all; the last twenty of them.

    >>> spark([0, 50, 100])
    '▁▅█'
    """
    top = len(_SPARKS) - 1
    return "".join(_SPARKS[round(min(100.0, max(0.0, v)) / 100 * top)] for v in values[-20:])


def straining_cells(straining: HerbStraining, shown: Callable[..., str]) -> tuple[Cell, ...]:
    """One straining of a herb, with its share of what could be there as a bar."""
    percent = straining.percent
    return (
        Cell(show_day(straining.strained_on)),
        Cell(straining.code, "strong"),
        Cell(f"{straining.part} {straining.condition}"),
        Cell(shown(Kind.VOLUME, straining.yield_ml)),
        Cell("", lead=bar(percent / 100, 20) if percent is not None else ""),
        Cell(shown(Kind.PERCENT, percent, "not weighed")),
        Cell(straining.pressing),
        Cell(f"with {straining.other_herbs} more" if straining.other_herbs else "", "quiet"),
    )
