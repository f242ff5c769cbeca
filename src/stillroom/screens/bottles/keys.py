"""What can be done with a bottle, wherever one is chosen."""

from textual import work
from textual.binding import Binding

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.correcting.kinds import Start, Subject, SubjectKind
from stillroom.keeping.settings import settings_of
from stillroom.keeping.views import BottleRow
from stillroom.screens.bottles.dialogs import (
    BottleDialog,
    CountDialog,
    DiscardBottleDialog,
    DrawDialog,
    KeepUntilDialog,
    PlaceDialog,
    PourDialog,
    WeighDialog,
)
from stillroom.screens.bottles.returned import ReturnedDialog
from stillroom.screens.kit.list_page import ListPage


class BottleKeys(ListPage):
    """A page with a bottle to draw from, weigh, move and label."""

    BINDINGS = [
        Binding("d", "draw", "Draw", id="bottle.draw",
                tooltip="Draw, give or spill from this bottle"),
        Binding("w", "weigh", "Weigh in", id="bottle.weigh",
                tooltip="Correct the amount by weighing"),
        Binding("c", "count", "Count", id="bottle.count",
                tooltip="Correct the amount by what you see"),
        Binding("p", "pour_together", "Pour together", show=False, id="bottle.pour",
                tooltip="Pour it into another bottle of the same batch"),
        Binding("m", "move", "Move", id="bottle.move", tooltip="Move this bottle to another place"),
        Binding("k", "keep_until", "Keep until", show=False, id="bottle.keep_until",
                tooltip="Change the last day to use its batch"),
        Binding("x", "discard", "Discard", show=False, id="bottle.discard",
                tooltip="Discard what this bottle holds"),
        Binding("g", "returned", "Returned", show=False, id="bottle.returned",
                tooltip="Record liquid that came back after it was drawn or given"),
        Binding("R", "release", "Release or reject", show=False, id="bottle.release",
                tooltip="Release its batch for use, or reject it"),
        Binding("equals_sign", "calculate", "Calculate", show=False, id="bottle.calculate",
                key_display="=", tooltip="Calculate the alcohol and herb in an amount of it"),
        Binding("l", "label", "Label", id="bottle.label",
                tooltip="Show its label, and print labels on a sheet"),
        Binding("o", "person_label", "Label for a person", show=False, id="bottle.person_label",
                tooltip="Print a label for the person who gets this bottle"),
    ]  # fmt: skip

    NEED_CHOSEN = frozenset(
        {"draw", "weigh", "count", "pour_together", "move", "keep_until", "discard", "calculate",
         "label", "person_label", "release", "returned"}
    )  # fmt: skip

    CORRECTS = True

    def to_correct(self) -> Start | None:
        """The bottle that is chosen."""
        row = self.chosen_bottle()
        return (Subject(SubjectKind.BOTTLE, row.bottle_id), None) if row else None

    def chosen_bottle(self) -> BottleRow | None:
        """The bottle that the keys act on; complains where there is none."""
        raise NotImplementedError

    def chosen_bottles(self) -> list[BottleRow]:
        """The bottles that labels are printed for."""
        chosen = self.chosen_bottle()
        return [chosen] if chosen else []

    def action_draw(self) -> None:
        """Open the form for liquid taken out."""
        self._fill_in(DrawDialog)

    def action_weigh(self) -> None:
        """Open the form that weighs."""
        self._fill_in(WeighDialog)

    def action_count(self) -> None:
        """Open the form that counts by eye."""
        self._fill_in(CountDialog)

    def action_returned(self) -> None:
        """Open the form for what came back."""
        self._fill_in(ReturnedDialog)

    def action_move(self) -> None:
        """Open the form for its place."""
        self._fill_in(PlaceDialog)

    def action_calculate(self) -> None:
        """Open the calculator with this bottle."""
        if row := self.chosen_bottle():
            self.host.calculate(row)

    def action_keep_until(self) -> None:
        """Open the form for its keep-until date."""
        self._fill_in(KeepUntilDialog)

    def action_discard(self) -> None:
        """Open the form that discards it."""
        self._fill_in(DiscardBottleDialog)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer to release batches where the settings say that they wait for it."""
        if action == "release" and not settings_of(self.keeper).releases:
            return False
        return super().check_action(action, parameters)

    @work
    async def action_release(self) -> None:
        """Open the form that releases or rejects its batch."""
        from stillroom.screens.bottles.status_dialogs import StatusDialog

        row = self.chosen_bottle()
        if row and (said := await self.app.push_screen_wait(StatusDialog(self.keeper, row))):
            self.host.changed(said)

    @work
    async def _fill_in(self, form: type[BottleDialog]) -> None:
        row = self.chosen_bottle()
        if row and await self.app.push_screen_wait(form(self.keeper, row)):
            self.host.changed()

    @work
    async def action_pour_together(self) -> None:
        """Open the form that pours it into another bottle of its batch."""
        row = self.chosen_bottle()
        if row is None:
            return
        others = [
            other
            for other in bottle_rows(self.keeper, empties=True)
            if other.tincture_id == row.tincture_id and other.bottle_id != row.bottle_id
        ]
        if not others:
            self.host.complain(f"There is no other bottle of batch {row.batch}.")
        elif await self.app.push_screen_wait(PourDialog(self.keeper, row, others)):
            self.host.changed()

    @work
    async def action_label(self) -> None:
        """Print labels of the chosen bottles."""
        rows = self.chosen_bottles()
        if rows:
            await self.print_labels(rows)

    @work
    async def action_person_label(self) -> None:
        """Ask for whom the chosen bottles are, and print their labels."""
        from stillroom.screens.papers.person_dialog import PersonLabelDialog
        from stillroom.screens.papers.printing import print_labels

        rows = self.chosen_bottles()
        if not rows:
            return
        labels = await self.app.push_screen_wait(PersonLabelDialog(self.keeper, rows))
        if labels:
            await print_labels(self.host, self.keeper, labels)

    async def print_labels(self, rows: list[BottleRow]) -> None:
        """Print labels of these bottles."""
        from stillroom.keeping.bottles.labels import labels_for
        from stillroom.screens.papers.printing import print_labels

        labels = self.attempt(lambda: labels_for(self.keeper, [row.bottle_id for row in rows]))
        if labels:
            await print_labels(self.host, self.keeper, labels, rows)
