"""The cupboard: spirits, herbs, shelves, bottle sizes, liquids and settings, one part at a time."""

from collections.abc import Sequence
from typing import Any

from rich.text import Text
from textual import on, work
from textual.binding import Binding

from stillroom.errors import Refused
from stillroom.keeping.correcting.kinds import Start, Subject, SubjectKind
from stillroom.keeping.cupboard.counting import InCupboard, in_cupboard
from stillroom.keeping.cupboard.cupboard import shift_shelf
from stillroom.keeping.cupboard.liquids import LiquidView
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import use_up
from stillroom.keeping.cupboard_views import HerbView, ShelfRow, SpiritView
from stillroom.keeping.trace.views import ScannedThing
from stillroom.reckoning.states import CupboardMovementKind, InputKind
from stillroom.screens.cupboard.liquids_part import LiquidsPart
from stillroom.screens.cupboard.part import CupboardTab, DeleteDialog
from stillroom.screens.cupboard.parts import PARTS, SpiritsPart
from stillroom.screens.cupboard.stock_dialogs import CountCupboardDialog, TakeCupboardDialog
from stillroom.screens.cupboard.store_part import (
    DiscardHerbDialog,
    DryDialog,
    GiveHerbDialog,
    LayOutDialog,
    StorePart,
)
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.parts_page import PartsPage
from stillroom.screens.kit.table import Table

OF_LOTS = frozenset({"lay_out", "use_up"})
"""Acts on a lot of herb."""
OF_LIQUIDS = frozenset({"count"})
"""Acts on a spirit or another liquid."""
OF_BOTH = frozenset({"give", "discard"})


class CupboardPage(PartsPage[CupboardTab[Any]]):
    """Spirits, herbs, shelves, bottle sizes, other liquids and settings."""

    HELP = (
        "Your spirits and other liquids, with what is left of them; herbs with your own cautions, "
        "notes and yields; lots of herb; the shelves in order; the bottle sizes you fill, and how "
        "many empty bottles you have; and the settings. Press tab or an arrow key for the next "
        "part. Press enter on a spirit, liquid, herb or lot of herb to see what it went into. What "
        "has gone into a jar can't be deleted, so every record keeps its sources."
    )
    BINDINGS = [
        Binding("tab,right", "turn(1)", "Next part", id="cupboard.next", key_display="tab",
                tooltip="Go to the next part: spirits, herbs, shelves, sizes, liquids, settings"),
        Binding("shift+tab,left", "turn(-1)", "Previous part", show=False, id="cupboard.before",
                key_display="shift+tab",
                tooltip="Go back to the previous part"),
        Binding("n", "add", "New", id="cupboard.add", tooltip="Add an entry to this part"),
        Binding("e", "change", "Change", id="cupboard.change",
                tooltip="Change the chosen entry"),
        Binding("x", "remove", "Delete", id="cupboard.remove",
                tooltip="Delete the chosen entry, if nothing was made with it"),
        Binding("plus", "shift(-1)", "Higher", id="cupboard.higher", key_display="+",
                tooltip="Move this shelf one place up"),
        Binding("minus", "shift(1)", "Lower", id="cupboard.lower", key_display="-",
                tooltip="Move this shelf one place down"),
        Binding("l", "lay_out", "Lay out, dry", id="cupboard.lay_out",
                tooltip="Lay this herb out to dry, or enter its weight when it is dry"),
        Binding("c", "count", "Count", id="cupboard.count",
                tooltip="Enter what is left of this spirit or liquid"),
        Binding("g", "give", "Give", id="cupboard.give", tooltip="Give some of it away"),
        Binding("d", "discard", "Discard", id="cupboard.discard",
                tooltip="Discard some of it, or all: spilled, spoiled"),
        Binding("z", "use_up", "Used up", id="cupboard.use_up",
                tooltip="Nothing is left of this herb"),
        Binding("L", "label", "Label", show=False, id="cupboard.label",
                tooltip="Print a label for this spirit, liquid or herb in store"),
    ]  # fmt: skip

    NEED_CHOSEN = frozenset({"change", "remove", "shift", "label", *OF_LOTS, *OF_LIQUIDS, *OF_BOTH})

    def make_parts(self) -> Sequence[CupboardTab[Any]]:
        """The parts of the cupboard, in the order of their tabs."""
        return [make(self) for make in PARTS]

    def read(self) -> None:
        """Read the part on show."""
        part = self.part
        rows = [row for row in part.rows() if self.matches(*part.words(row))]
        hint = "Nothing matches. Press esc to show all." if self.sought else part.hint
        self.rows.show(rows, hint)
        self.offer(has_chosen=self.rows.selected is not None)
        self.head(Text(f"Cupboard · {part.title}", style="bold"))
        self.refresh_bindings()

    CORRECTS = True

    def to_correct(self) -> Start | None:
        """The spirit, liquid, herb or lot at the cursor."""
        row = self.rows.selected
        if isinstance(row, SpiritView):
            return Subject(SubjectKind.SPIRIT, row.spirit_id), None
        if isinstance(row, HerbView):
            return Subject(SubjectKind.HERB, row.herb_id), None
        if isinstance(row, HerbLotView):
            return Subject(SubjectKind.LOT, row.lot_id), None
        if isinstance(row, LiquidView):
            return Subject(SubjectKind.LIQUID, row.liquid_id), None
        raise Refused(
            "Nothing was made with this yet, so there is nothing to correct. Press e to change it."
        )

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Settings are neither added nor removed; only shelves have an order."""
        if action == "shift":
            return self.part.title == "Shelves" and super().check_action(action, parameters)
        if action in OF_LOTS:
            return isinstance(self.part, StorePart) and super().check_action(action, parameters)
        if action in OF_LIQUIDS | OF_BOTH:
            parts = (SpiritsPart, LiquidsPart, *((StorePart,) if action in OF_BOTH else ()))
            return isinstance(self.part, parts) and super().check_action(action, parameters)
        if action == "label":
            has_labels = isinstance(self.part, (StorePart, SpiritsPart, LiquidsPart))
            return has_labels and super().check_action(action, parameters)
        if action in ("add", "remove") and self.part.is_fixed:
            return False
        return super().check_action(action, parameters)

    def show_lot(self, thing: ScannedThing) -> None:
        """Show the lot of herb, the liquid or the spirit that was scanned."""
        title, key = next(
            (part.title, row_id)
            for part, row_id in (
                (StorePart, thing.herb_lot_id),
                (LiquidsPart, thing.liquid_id),
                (SpiritsPart, thing.spirit_id),
            )
            if row_id is not None
        )
        self.turn_to([part.title for part in self._parts].index(title))
        if not self.rows.select(key):
            self.host.complain(f"{thing.code} is used up.")
        self.tell()

    @work
    async def action_add(self) -> None:
        """Add an entry."""
        key = await self.app.push_screen_wait(self.part.form(None))
        if key is not None:
            self.host.changed()
            self.read()
            self.rows.select(key)
            self.tell()

    @work
    async def action_change(self) -> None:
        """Change the chosen entry."""
        row = self.rows.selected
        if row is None:
            self.host.complain("There is nothing to change yet. Press n to add an entry.")
        elif await self.app.push_screen_wait(self.part.form(row)) is not None:
            self.host.changed()

    def action_lay_out(self) -> None:
        """Lay the chosen lot out to dry; one that dries is dry."""
        row = self.rows.selected
        if isinstance(row, HerbLotView):
            self._handle((DryDialog if row.is_drying else LayOutDialog)(self.keeper, row))

    def _chosen_liquid(self) -> InCupboard | None:
        """The spirit or other liquid at the cursor."""
        row = self.rows.selected
        if isinstance(row, SpiritView):
            return in_cupboard(self.keeper, InputKind.SPIRIT, row.spirit_id)
        if isinstance(row, LiquidView):
            return in_cupboard(self.keeper, InputKind.LIQUID, row.liquid_id)
        return None

    def action_count(self) -> None:
        """Enter what is left of the chosen spirit or liquid."""
        if one := self._chosen_liquid():
            self._handle(CountCupboardDialog(self.keeper, one))

    def action_give(self) -> None:
        """Give some of the chosen lot, spirit or liquid away."""
        row = self.rows.selected
        if isinstance(row, HerbLotView):
            self._handle(GiveHerbDialog(self.keeper, row))
        elif one := self._chosen_liquid():
            self._handle(TakeCupboardDialog(self.keeper, one, CupboardMovementKind.GIVE))

    def action_discard(self) -> None:
        """Discard some of the chosen lot, spirit or liquid, or all of it."""
        row = self.rows.selected
        if isinstance(row, HerbLotView):
            self._handle(DiscardHerbDialog(self.keeper, row))
        elif one := self._chosen_liquid():
            self._handle(TakeCupboardDialog(self.keeper, one, CupboardMovementKind.SPILL))

    def action_use_up(self) -> None:
        """End the chosen lot."""
        row = self.rows.selected
        if isinstance(row, HerbLotView):
            self.attempt(lambda: use_up(self.keeper, row.lot_id))
            self.host.changed(f"{row.code} is used up. Press u to undo.")

    @work
    async def action_label(self) -> None:
        """Print a label for the chosen spirit, liquid or lot."""
        from stillroom.keeping.cupboard.labels import label_of_lot, liquid_label, spirit_label
        from stillroom.keeping.settings import settings_of
        from stillroom.screens.papers.printing import print_labels

        row = self.rows.selected
        label = None
        if isinstance(row, SpiritView):
            label = spirit_label(row, settings_of(self.keeper))
        elif isinstance(row, LiquidView):
            label = liquid_label(row, settings_of(self.keeper))
        elif isinstance(row, HerbLotView):
            label = self.attempt(lambda: label_of_lot(self.keeper, row.code))
        if label:
            await print_labels(self.host, self.keeper, [label])

    @work
    async def _handle(self, form: Dialog[int]) -> None:
        row_id = await self.app.push_screen_wait(form)
        if row_id is not None:
            self.host.changed()
            self.read()
            self.rows.select(row_id)
            self.tell()

    @on(Table.Opened)
    def _open(self) -> None:
        from stillroom.screens.trace.page import HerbPage, liquid_page, lot_page, spirit_page

        row = self.rows.selected
        if isinstance(row, HerbView):
            self.open_over(HerbPage(self.keeper, row.herb_id))
        elif isinstance(row, SpiritView):
            self.open_over(spirit_page(self.keeper, row))
        elif isinstance(row, HerbLotView):
            self.open_over(lot_page(self.keeper, f"{row.code} {row.herb}", row.lot_id))
        elif isinstance(row, LiquidView):
            self.open_over(liquid_page(self.keeper, row.name, row.liquid_id))
        else:
            self.action_change()

    @work
    async def action_remove(self) -> None:
        """Ask, and delete the chosen entry."""
        row = self.rows.selected
        if row is None:
            return
        is_deleted = await self.app.push_screen_wait(DeleteDialog(self.part, row))
        if is_deleted:
            self.host.changed("Deleted. Press u to undo.")

    def action_shift(self, step: int) -> None:
        """Move the chosen shelf within the order."""
        row = self.rows.selected
        if isinstance(row, ShelfRow):
            self.attempt(lambda: shift_shelf(self.keeper, row.shelf_id, step))
            self.host.changed()
