"""Sharing a tincture out into bottles."""

from collections.abc import Sequence

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.widgets import Input, Static

from stillroom.errors import NotUnderstood
from stillroom.keeping.bottles.bottling import (
    as_they_read,
    bottle_up,
    not_enough_for,
    not_to_bottle,
    propose_bottles,
)
from stillroom.keeping.bottles.labels import label_lines
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.codes import bottle_code
from stillroom.keeping.drafts import BottleDraft, BottlingDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.paper.label import plain_text_label
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import LOSS_KINDS, LossKind
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, amount, example, prefilled, words
from stillroom.screens.kit.inside import inside
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.placed_once import PlacedOnce


class BottleFields(Horizontal, PlacedOnce):
    """One bottle to fill, on one line: size, what goes in, place."""

    DEFAULT_CSS = """
    BottleFields { height: auto; }
    BottleFields > Static { width: 4; color: $text-muted; }
    BottleFields > Entry { width: 1fr; margin-right: 1; }
    BottleFields > Entry > .taker { margin-left: 6; }
    .-slim BottleFields > Entry { width: 100%; }
    .-slim BottleFields { margin-bottom: 1; }
    .-slim #label { margin: 1 0 0 0; width: 100%; }
    """

    def __init__(self, number: int, start: BottleDraft | None, wording: Wording) -> None:
        super().__init__()
        self.number = number
        reader = amount(Kind.VOLUME, wording)
        size = prefilled(Kind.VOLUME, start.size_ml if start else None, wording)
        holds = prefilled(Kind.VOLUME, start.volume_ml if start else None, wording)
        place = start.place if start else ""
        self.bottle_size = Entry(
            "Size",
            reader,
            size,
            hint=example("250 ml", "8 fl oz", wording),
            required=False,
            classes="-half",
        )
        self.holds = Entry("Holds", reader, holds, hint="full", required=False, classes="-half")
        self.place = Entry("Place", words, place, hint="box", required=False, classes="-half")

    def compose(self) -> ComposeResult:
        """Number, size, volume, place."""
        yield Static(f".{self.number}")
        yield self.bottle_size
        yield self.holds
        yield self.place

    def draft(self) -> BottleDraft | None:
        """The bottle as read; None where no size was typed."""
        size = self.bottle_size.read()
        holds = self.holds.read()
        if size is None:
            if holds is None:
                return None
            self.bottle_size.mark_wrong("Which size?")
            raise NotUnderstood("Each bottle needs a size.")
        return BottleDraft(size, size if holds is None else holds, self.place.read() or "")

    def peek(self) -> BottleDraft | None:
        """The bottle, or what of it can be read; no message."""
        size = self.bottle_size.peek()
        if size is None:
            return None
        return BottleDraft(size, self.holds.peek() or size, self.place.typed.strip())


class BottlingDialog(Dialog[TinctureView]):
    """Which bottles, what is left over, and the label."""

    TITLE_TEXT = "Bottle"
    ACT = "Bottle"
    DISMISS = "Later"
    BINDINGS = [
        Binding("ctrl+n", "add_bottle", "Another bottle", id="bottling.add",
                tooltip="Add another bottle"),
    ]  # fmt: skip
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (100, "-wide")]
    DEFAULT_CSS = """
    BottlingDialog > .dialog--box { width: 120; }
    BottlingDialog .bottling--sides { height: auto; }
    BottlingDialog .bottling--form { width: 1fr; height: auto; }
    BottlingDialog #bottles { height: auto; margin: 1 0; }
    BottlingDialog #label { width: 44; height: auto; padding: 0 1; border: solid $secondary; }
    BottlingDialog .bottling--narrow { display: none; }
    BottlingDialog.-narrow .bottling--narrow { display: block; }
    BottlingDialog.-narrow .bottling--sides { layout: vertical; }
    BottlingDialog.-narrow #label { margin: 1 0 0 15; }
    BottlingDialog #over { height: auto; margin-top: 1; }
    """

    def __init__(self, keeper: Keeper, tincture_id: int) -> None:
        super().__init__()
        self.keeper = keeper
        self.wording = wording(keeper)
        self._printed = settings_of(keeper)
        self.tincture = tincture_view(keeper, tincture_id)
        self.TITLE_TEXT = f"Bottle {self.tincture.name} {self.tincture.code}"
        self._first_number = self.tincture.bottles + 1

    def compose_form(self) -> ComposeResult:
        """A proposal to change at will, and the label."""
        with Horizontal(classes="bottling--sides"):
            with Vertical(classes="bottling--form"):
                loose = self.wording.volume(self.tincture.loose_ml)
                yield Static(
                    f"{loose} to bottle. Label each bottle as you fill it.",
                    markup=False,
                )
                if warning := not_to_bottle(self.tincture):
                    yield Static(f"! {warning}", id="not-to-bottle", markup=False)
                yield Static("Page down for the label.", classes="bottling--narrow")
                with Vertical(id="bottles"):
                    proposal = (
                        ()
                        if not_to_bottle(self.tincture)
                        else propose_bottles(self.keeper, self.tincture.loose_ml)
                    )
                    for place, bottle in enumerate(proposal):
                        yield BottleFields(self._first_number + place, bottle, self.wording)
                yield DayEntry(
                    "Bottled on",
                    self.keeper.today,
                    self.keeper.today,
                    wording=self.wording,
                    id="day",
                )
                yield Pick(
                    "Left over",
                    [
                        ("stay", "keep for later"),
                        ("lost", "write off"),
                        *((str(kind), f"lost: {kind}") for kind in LOSS_KINDS),
                    ],
                    id="rest",
                )
                for name, label in (("bottle-lot", "Lot of bottles"), ("cap-lot", "Lot of caps")):
                    yield Entry(label, words, hint="for the batch record", required=False, id=name)
            yield Static("", id="label", markup=False)

    def compose_below(self) -> ComposeResult:
        """What is left over, always in sight."""
        yield Static("", id="over", markup=False)

    @on(Input.Changed)
    @on(Choice.Changed)
    def _follow(self) -> None:
        typed = [d for f in inside(self, BottleFields) if (d := f.peek())]
        drafts = as_they_read(typed, self.tincture.loose_ml, self.wording)
        over = self.tincture.loose_ml - sum(d.volume_ml for d in drafts)
        count = how_many(len(drafts), "bottle")
        if over < -0.005:
            loose = self.tincture.loose_ml
            said = f"! {not_enough_for(loose - over, loose, self.wording)}"
        else:
            said = f"{count}; {self.wording.volume(max(0.0, over))} left over"
        show(self.query_one("#over", Static), said)
        self._show_label(drafts)

    def _show_label(self, drafts: Sequence[BottleDraft]) -> None:
        label = self.query_one("#label", Static)
        if not drafts:
            show(label, "No label yet: enter a bottle size.")
            return
        code = bottle_code(self.tincture.code, self._first_number)
        lines = label_lines(drafts[0], self.tincture, self._printed, code=code)
        label.border_title = "Label"
        show(label, plain_text_label(lines, 40))

    async def action_add_bottle(self) -> None:
        """Add the line of another bottle."""
        count = len(inside(self, BottleFields))
        fields = BottleFields(self._first_number + count, None, self.wording)
        await self.query_one("#bottles").mount(fields)
        fields.bottle_size.field.focus()

    def keep(self) -> TinctureView:
        """Fill the bottles."""
        drafts = [d for f in inside(self, BottleFields) if (d := f.draft())]
        rest = str(self.query_one("#rest", Pick).value)
        return bottle_up(
            self.keeper,
            BottlingDraft(
                tincture_id=self.tincture.tincture_id,
                bottles=tuple(drafts),
                filled_on=self.query_one("#day", Entry).needed(),
                write_off_rest=rest != "stay",
                lost_as=LossKind(rest) if rest in LOSS_KINDS else LossKind.NOT_STATED,
                bottle_lot=self.query_one("#bottle-lot", Entry).read() or "",
                cap_lot=self.query_one("#cap-lot", Entry).read() or "",
            ),
        )
