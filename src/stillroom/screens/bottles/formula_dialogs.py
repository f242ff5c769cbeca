"""Formulas: choosing one to make again, and saving a blend as one."""

from dataclasses import replace

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Input, Static

from stillroom.errors import DateInDoubt, StillroomError
from stillroom.keeping.bottles.blend_views import FormulaProposal, FormulaView
from stillroom.keeping.bottles.formulas import (
    drop_formula,
    formulas,
    keep_formula,
    parts_from_formula,
)
from stillroom.keeping.drafts import FormulaDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.reckoning.charge import KNOWN_CONDITIONS, Condition
from stillroom.reckoning.kinds import Kind
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Entry, amount, example, words
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe

HOW = "Mark two or more bottles with space, then press b to blend them."


class FormulaDialog(Dialog[FormulaProposal]):
    """Which formula, and how much of it."""

    TITLE_TEXT = "Make up a formula"
    ACT = "Next"
    BINDINGS = [
        Binding("ctrl+d", "drop", "Delete formula", id="formula.drop", priority=True,
                tooltip="Delete this formula; what was made by it stays"),
    ]  # fmt: skip

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper
        self.wording = wording(keeper)
        self._drop_asked_of: int | None = None
        self.known = {str(formula.formula_id): formula for formula in formulas(keeper)}

    def compose_form(self) -> ComposeResult:
        """Which formula, and the volume to make."""
        yield Pick("Formula", [(key, f.name) for key, f in self.known.items()], id="formula")
        yield Entry(
            "Total",
            amount(Kind.VOLUME, self.wording),
            id="volume",
            hint=f"volume to make, {example('200 ml', '8 fl oz', self.wording)}",
        )
        yield Static("", id="parts", markup=False)
        yield Static(HOW, classes="quiet", markup=False)

    @on(Input.Changed)
    @on(Choice.Changed)
    def _follow(self) -> None:
        formula = self.known[self.query_one("#formula", Pick).value]
        volume = self.query_one("#volume", Entry).peek()
        lines = []
        for part in formula.parts:
            share = self.wording.percent(part.share_percent)
            each = self.wording.volume(volume * part.share_percent / 100) if volume else ""
            lines.append(f"{share:>8}  {safe(part.in_words)} {each}".rstrip())
        show(self.query_one("#parts", Static), "\n".join(lines))

    def on_mount(self) -> None:
        """Show the first one's parts."""
        self._follow()

    @property
    def _chosen(self) -> int:
        return int(self.query_one("#formula", Pick).value)

    def action_drop(self) -> None:
        """Delete the chosen formula, once asked twice."""
        if self._drop_asked_of != self._chosen:
            self._drop_asked_of = self._chosen
            name = self.known[str(self._chosen)].name
            self.say(f"The formula {name} will be deleted. Press ctrl+d again.")
            return
        try:
            drop_formula(self.keeper, self._chosen)
        except DateInDoubt as question:
            self.host.refuse(question)
        except StillroomError as error:
            self.say(str(error))
        else:
            self.host.say("Formula deleted. Press u to undo.")
            self.dismiss(None)

    def keep(self) -> FormulaProposal:
        """Find bottles for it."""
        formula_id = int(self.query_one("#formula", Pick).value)
        return parts_from_formula(
            self.keeper, formula_id, self.query_one("#volume", Entry).needed()
        )


class SaveFormulaDialog(Dialog[FormulaView]):
    """A blend saved as a formula: its name, and whether each herb has to be fresh or dried."""

    TITLE_TEXT = "Save formula"
    ACT = "Save formula"
    EITHER = "either"

    def __init__(self, keeper: Keeper, draft: FormulaDraft) -> None:
        super().__init__()
        self.keeper = keeper
        self.draft = draft

    def compose_form(self) -> ComposeResult:
        """Name, and a choice for each herb."""
        yield Entry("Name", words, self.draft.name, id="formula-name", classes="-wide",
                    max_length=200)  # fmt: skip
        choices = [self.EITHER, *KNOWN_CONDITIONS]
        for number, part in enumerate(self.draft.parts):
            share = wording(self.keeper).percent(part.share)
            yield Static(f"{share} {safe(part.name)} {part.part or ''}".rstrip(), markup=False)
            if part.part:
                yield Pick("Condition", [(each, each) for each in choices], id=f"part-{number}")

    def _condition(self, number: int) -> Condition | None:
        chosen = [pick.value for pick in self.query(f"#part-{number}").results(Pick)]
        return Condition(chosen[0]) if chosen and chosen[0] != self.EITHER else None

    def keep(self) -> FormulaView:
        """Save the formula."""
        parts = tuple(
            replace(part, condition=self._condition(number))
            for number, part in enumerate(self.draft.parts)
        )
        name = self.query_one("#formula-name", Entry).needed()
        return keep_formula(self.keeper, replace(self.draft, name=name, parts=parts))
