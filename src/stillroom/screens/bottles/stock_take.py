"""The stock-take on screen: one bottle after another, then the record corrected in one act."""

from collections.abc import Mapping

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.errors import NotUnderstood, StillroomError
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.stock import weighed_ml
from stillroom.keeping.bottles.stock_views import StocktakeSummary
from stillroom.keeping.bottles.stocktake import (
    places,
    refuse_impossible,
    settle_stocktake,
    stocktake_rows,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.views import ScannedThing
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import Wording, wording
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind
from stillroom.screens.host import Host
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.columns import Cell, Column
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, amount
from stillroom.screens.kit.inside import inside
from stillroom.screens.kit.report import Report
from stillroom.screens.kit.table import Table

NO_PLACE = "no place given"


async def take_stock(host: Host, keeper: Keeper, start: str | None = None) -> None:
    """Choose a place, check its bottles and report the result; `start` is proposed."""
    if not places(keeper):
        host.say("There are no bottles to count yet.")
        return
    place = await host.push_screen_wait(StockPlaceDialog(keeper, start))
    if place is None:
        return
    summary = await host.push_screen_wait(StockTakeDialog(keeper, place, is_plain=host.is_plain))
    if summary is not None:
        host.changed()
        await host.push_screen_wait(
            Report(f"Stock-take: {place or NO_PLACE}", summary_words(summary, wording(keeper)))
        )


def summary_words(summary: StocktakeSummary, wording: Wording) -> str:
    """What a stock-take came to, with each bottle whose recorded amount was corrected."""
    lines = [f"{summary.text}."]
    for each in summary.differences:
        recorded, seen = wording.volume(each.recorded_ml), wording.volume(each.seen_ml)
        lines.append(f"  {each.code}: {recorded} recorded, {seen} seen")
    if summary.not_counted:
        lines.append(f"Not counted: {', '.join(summary.not_counted)}.")
    return "\n".join(lines)


class StockPlaceDialog(Dialog[str]):
    """Which place to check."""

    TITLE_TEXT = "Stock-take"
    ACT = "Next"

    def __init__(self, keeper: Keeper, start: str | None = None) -> None:
        super().__init__()
        self.keeper = keeper
        self.start = start

    def compose_form(self) -> ComposeResult:
        """The places that hold bottles."""
        known = list(enumerate(places(self.keeper)))
        options = [
            (str(at), f"{place.name or NO_PLACE}: {how_many(place.bottles, 'bottle')}")
            for at, place in known
        ]
        start = next((str(at) for at, place in known if place.name == self.start), None)
        yield Static("Which place are you counting?", markup=False)
        yield Pick("Place", options, start, id="place", classes="-half")

    def keep(self) -> str:
        """The chosen place."""
        return places(self.keeper)[int(self.query_one("#place", Pick).value)].name


class StockTakeDialog(Dialog[StocktakeSummary]):
    """What each bottle of a place is seen to hold."""

    BINDINGS = [
        Binding("down", "step(1)", "Next bottle", id="stock_take.next", priority=True,
                tooltip="Go to the next bottle, leaving this one as it is"),
        Binding("up", "step(-1)", "Previous bottle", show=False, id="stock_take.before",
                priority=True, tooltip="Go back to the previous bottle"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    StockTakeDialog > .dialog--box { width: 78; }
    StockTakeDialog Table { height: 9; }
    """

    def __init__(self, keeper: Keeper, place: str, *, is_plain: bool = False) -> None:
        super().__init__()
        self.keeper = keeper
        self.place = place
        self.wording = wording(keeper)
        self.rows = stocktake_rows(keeper, place)
        self.seen: dict[int, float] = {}
        self._typed_of: dict[int, tuple[str, ...]] = {}
        """What was typed for each bottle, to be looked at and corrected again."""
        self.is_plain = is_plain
        self.TITLE_TEXT = f"Stock-take: {place or NO_PLACE}"

    def compose_form(self) -> ComposeResult:
        """The bottles, and what the one at the pointer holds."""
        columns = (
            Column("Bottle", 10),
            Column("", share=1),
            Column("Recorded", 13, is_right=True),
            Column("Seen", 12, is_right=True),
        )
        table = Table[BottleRow](
            columns, self._cells, lambda row: row.bottle_id, is_plain=self.is_plain, id="bottles"
        )
        table.can_focus = False
        yield table
        yield Entry("Seen", amount(Kind.VOLUME, self.wording), id="volume", required=False,
                    hint="blank: not counted")  # fmt: skip
        yield Entry("or full weight", amount(Kind.MASS, self.wording), id="gross", required=False,
                    hint="the bottle as it is")  # fmt: skip
        yield Entry("and empty", amount(Kind.MASS, self.wording), id="tare", required=False,
                    hint="the same bottle empty")  # fmt: skip

    def on_mount(self) -> None:
        """Begin with the first bottle."""
        self.table.show(self.rows)
        self.query_one("#volume", Entry).field.focus()

    @property
    def table(self) -> Table[BottleRow]:
        """The bottles of this place."""
        return self.query_one("#bottles", Table)

    def _cells(self, row: BottleRow) -> tuple[Cell, ...]:
        seen = self.seen.get(row.bottle_id)
        return (
            Cell(row.code, "strong"),
            Cell(f"{row.name}, {row.part}, {row.condition}"),
            Cell(self.wording.volume(row.left_ml)),
            Cell("" if seen is None else self.wording.volume(seen), "strong"),
        )

    def _typed(self) -> tuple[str, ...]:
        return (*super()._typed(), *map(str, self.seen.values()))

    def action_enter(self) -> None:
        """Take what is typed and go on to the next bottle; from a full weight to the empty one."""
        if self.query_one("#gross", Entry).field.has_focus:
            self.focus_next()
        else:
            self.action_step(1)

    def take_scan(self, thing: ScannedThing) -> None:
        """Take what is typed and go to the bottle that was scanned."""
        if all(row.bottle_id != thing.bottle_id for row in self.rows):
            self.say(self._why_not_here(thing))
        elif self._take():
            self.table.select(thing.bottle_id)
            self._show_typed()

    def _why_not_here(self, thing: ScannedThing) -> str:
        if thing.bottle_id is None:
            return f"{thing.code} isn't a bottle."
        place = bottle_row(self.keeper, thing.bottle_id).place or NO_PLACE
        if place == (self.place or NO_PLACE):
            return f"{thing.code} is recorded as empty."
        return f"{thing.code} is recorded elsewhere: {place}."

    def action_step(self, step: int) -> None:
        """Take what is typed and go to another bottle."""
        if self._take():
            self.table.action_go(step)
            self._show_typed()

    def _take(self) -> bool:
        """Remember what is typed of this bottle; False where it cannot be."""
        try:
            self._read_seen()
        except StillroomError as error:
            self.say(str(error))
            return False
        self.table.refresh()
        return True

    def _read_seen(self) -> None:
        row = self.table.selected
        if row is None:
            return
        seen = self._seen_of(row)
        if seen is None:
            self.seen.pop(row.bottle_id, None)
        else:
            refuse_impossible(row, seen, wording(self.keeper))
            self.seen[row.bottle_id] = seen
        self._typed_of[row.bottle_id] = tuple(field.typed for field in inside(self, Entry))

    def _seen_of(self, row: BottleRow) -> float | None:
        """What a bottle holds by the fields; None where they are blank."""
        volume = self.query_one("#volume", Entry).read()
        gross, tare = self.query_one("#gross", Entry).read(), self.query_one("#tare", Entry).read()
        if volume is not None:
            return float(volume)
        if gross is not None and tare is not None:
            return weighed_ml(self.keeper, row.bottle_id, gross, tare)
        if gross is not None or tare is not None:
            raise NotUnderstood("Enter both weights, full and empty.")
        return None

    def _show_typed(self) -> None:
        """Show what was typed of the bottle at the pointer, the keys in the first field."""
        row, fields = self.table.selected, inside(self, Entry)
        blank = ("",) * len(fields)
        texts = self._typed_of.get(row.bottle_id, blank) if row else blank
        for field, text in zip(fields, texts, strict=True):
            field.typed = text
        self.query_one("#volume", Entry).field.focus()

    def keep(self) -> StocktakeSummary:
        """Correct the recorded amounts."""
        self._read_seen()
        recorded = {row.bottle_id: row.left_ml for row in self.rows}
        try:
            return settle_stocktake(self.keeper, self.place, self.seen, recorded)
        except StillroomError:
            self._catch_up(recorded)
            raise

    def _catch_up(self, recorded: Mapping[int, float]) -> None:
        """Show what another window has changed, to be looked at again."""
        self.rows = stocktake_rows(self.keeper, self.place)
        for row in self.rows:
            if recorded.get(row.bottle_id) != row.left_ml:
                self.seen.pop(row.bottle_id, None)
                self._typed_of.pop(row.bottle_id, None)
        self.table.show(self.rows)
        self._show_typed()
