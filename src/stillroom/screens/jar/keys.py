"""What can be done with a jar, wherever one is chosen.

The forms are imported when they are opened: the first page of the program is one with these keys.
"""

from typing import TYPE_CHECKING

from textual import work
from textual.binding import Binding

from stillroom.keeping.cards import JarCard
from stillroom.reckoning.states import JarState
from stillroom.screens.kit.page import Page

if TYPE_CHECKING:
    from stillroom.keeping.correcting.kinds import Start
    from stillroom.screens.jar.dialogs import JarDialog
    from stillroom.screens.kit.dialog import R


class JarKeys(Page):
    """A page with a jar to shake, strain, top up and move."""

    BINDINGS = [
        Binding("space", "shake", "Shake", id="jar.shake",
                tooltip="Record a shake of this jar"),
        Binding("s", "strain", "Strain", id="jar.strain",
                tooltip="Strain this jar, or bottle what was strained"),
        Binding("t", "top_up", "Top up", id="jar.top_up", tooltip="Pour more liquid into this jar"),
        Binding("p", "pour_again", "Pour again", show=False, id="jar.pour_again",
                tooltip="Start a jar from the marc of this one, once it is strained"),
        Binding("m", "move", "Move", id="jar.move", tooltip="Move this jar to another shelf"),
        Binding("e", "dates", "Dates", id="jar.dates",
                tooltip="Change the filling date, strain date and shakes a day"),
        Binding("o", "covered", "Covered?", show=False, id="jar.covered",
                tooltip="Mark the herb as uncovered, or as covered again"),
        Binding("c", "correct", "Correct filling", show=False, id="jar.correct",
                tooltip="Correct what was entered at filling"),
        Binding("w", "note", "Note", show=False, id="jar.note",
                tooltip="Add a note to this jar's history"),
        Binding("equals_sign", "calculate", "Calculate", show=False, key_display="=",
                id="jar.calculate", tooltip="Try other strengths and top-ups in the calculator"),
        Binding("l", "label", "Label", show=False, id="jar.label",
                tooltip="Print a label for this jar"),
        Binding("x", "discard", "Discard", show=False, id="jar.discard",
                tooltip="Discard this jar unstrained"),
    ]  # fmt: skip

    NEED_CHOSEN = frozenset(
        {"shake", "strain", "top_up", "move", "dates", "covered", "correct", "note", "calculate",
         "discard", "pour_again", "label"}
    )  # fmt: skip

    CORRECTS = True

    def to_correct(self) -> "Start | None":
        """The jar that is chosen."""
        from stillroom.keeping.correcting.kinds import Subject, SubjectKind

        card = self.chosen_jar()
        return (Subject(SubjectKind.JAR, card.jar_id), None) if card else None

    def chosen_jar(self) -> JarCard | None:
        """The jar that the keys act on; complains where there is none."""
        raise NotImplementedError

    def jar_changed(self, card: JarCard) -> None:
        """Show a jar as it now is."""
        self.host.changed()

    def action_shake(self) -> None:
        """Tick off one shake of this jar."""
        from stillroom.keeping.jars.jar import shake

        if card := self.chosen_jar():
            after = self.attempt(lambda: shake(self.keeper, card.jar_id))
            if after:
                self.jar_changed(after)

    def action_covered(self) -> None:
        """Mark the herb as uncovered, or as covered again."""
        from stillroom.keeping.jars.jar import mark_covered

        if card := self.chosen_jar():
            after = self.attempt(lambda: mark_covered(self.keeper, card.jar_id, not card.covered))
            if after:
                self.jar_changed(after)

    @work
    async def action_strain(self) -> None:
        """Strain, or bottle what was strained."""
        from stillroom.screens.jar.strain import strain_or_bottle

        if card := self.chosen_jar():
            await strain_or_bottle(self.host, self.keeper, card)

    def action_calculate(self) -> None:
        """Open the calculator with this jar."""
        if card := self.chosen_jar():
            self.host.calculate(card)

    @work
    async def action_correct(self) -> None:
        """Correct what was entered at filling."""
        from stillroom.keeping.jars.jar_view import jar_view
        from stillroom.screens.jar.fill import CorrectDialog

        card = self.chosen_jar()
        jar = card and self.attempt(lambda: jar_view(self.keeper, card.jar_id))
        if not jar:
            return
        has_tincture = jar.marc_of or any(pour.source for pour in jar.pours)
        if jar.state != JarState.STEEPING or has_tincture:
            self.action_correct_entry()
        elif await self.app.push_screen_wait(CorrectDialog(self.keeper, jar=jar)):
            self.host.changed()

    @work
    async def action_label(self) -> None:
        """Print a label for this jar."""
        from stillroom.keeping.jars.labels import jar_labels
        from stillroom.screens.papers.printing import print_labels

        card = self.chosen_jar()
        labels = card and self.attempt(lambda: jar_labels(self.keeper, [card.jar_id]))
        if labels:
            await print_labels(self.host, self.keeper, labels)

    def action_top_up(self) -> None:
        """Open the form that tops up."""
        from stillroom.screens.jar.dialogs import TopUpDialog

        self._fill_in(TopUpDialog)

    @work
    async def action_pour_again(self) -> None:
        """Start a jar from the marc of this one."""
        from stillroom.keeping.jars.marc import refuse_pouring_again
        from stillroom.screens.jar.again import AgainDialog

        card = self.chosen_jar()
        if card is None:
            return
        if not self.attempt(lambda: refuse_pouring_again(self.keeper, card.jar_id)):
            return
        new = await self.app.push_screen_wait(AgainDialog(self.keeper, card))
        if new:
            self.host.changed(f"Poured again on {card.herb} {card.code}: {new.code}")

    def action_move(self) -> None:
        """Open the form that moves the jar."""
        from stillroom.screens.jar.dialogs import MoveDialog

        self._fill_in(MoveDialog)

    def action_dates(self) -> None:
        """Open the form for its dates."""
        from stillroom.screens.jar.dialogs import DatesDialog

        self._fill_in(DatesDialog)

    def action_note(self) -> None:
        """Open the form for a note."""
        from stillroom.screens.jar.dialogs import NoteDialog

        self._fill_in(NoteDialog)

    def action_discard(self) -> None:
        """Open the form that discards it."""
        from stillroom.screens.jar.dialogs import DiscardDialog

        self._fill_in(DiscardDialog)

    @work
    async def _fill_in(self, form: "type[JarDialog[R]]") -> None:
        card = self.chosen_jar()
        if card is None:
            return
        if await self.app.push_screen_wait(form(self.keeper, card)):
            self.host.changed()
