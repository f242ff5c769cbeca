"""A second pour on the marc of a strained jar."""

from dataclasses import replace

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Static

from stillroom.errors import NotUnderstood
from stillroom.keeping.cards import JarCard
from stillroom.keeping.drafts import AgainDraft
from stillroom.keeping.jars.jar_sum import comes_to
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.marc import HeldBack, held_back, pour_again
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.cautions import FOOD_GRADE
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.marc import SIMMER_MARC
from stillroom.reckoning.mixing import Liquid
from stillroom.screens.jar.dialogs import jar_name
from stillroom.screens.jar.fill import FillDialog, JarStart
from stillroom.screens.jar.liquid_fields import LiquidFields
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.fields import Entry, amount
from stillroom.screens.kit.inside import inside


class AgainDialog(FillDialog):
    """A new jar from the marc of another, what it holds back being part of the liquid."""

    TITLE_TEXT = "Pour again on the marc"
    ACT = "Pour again"

    def __init__(self, keeper: Keeper, card: JarCard) -> None:
        self.first = jar_view(keeper, card.jar_id)
        super().__init__(keeper, start=JarStart(herbs=(), capacity_ml=self.first.capacity_ml))

    def compose_form(self) -> ComposeResult:
        """What the marc holds, liquids, jar and plan."""
        heading = f"Marc of {jar_name(self.first.card)}"
        yield Static(heading, classes="heading", markup=False)
        if held_back(self.first).volume_ml is None:
            yield Entry("Held back", amount(Kind.VOLUME, self.wording), id="held", required=False,
                        hint="what the marc may hold; blank: not known")  # fmt: skip
        else:
            yield Entry("Marc weighs", amount(Kind.MASS, self.wording), id="marc", required=False,
                        hint="blank: by what came out")  # fmt: skip
        with Vertical(id="liquids"):
            yield LiquidFields(None, self.cupboard, self.wording)
        with Vertical(id="jar"):
            yield from self._compose_jar(self.keeper.today)

    def on_mount(self) -> None:
        """Begin on the shelf where the first jar was."""
        shelf = self.query_one("#shelf", Pick)
        shelf.choice.value = str(self.first.card.shelf_id)
        super().on_mount()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """The herb is that of the first jar: no other is added."""
        return action != "add_herb" and super().check_action(action, parameters)

    def _of(self, selector: str) -> float | None:
        return self.query_one(selector, Entry).read() if self.query(selector) else None

    def _held(self) -> HeldBack:
        """What the marc holds, as far as is typed."""
        marc = self.query_one("#marc", Entry).peek() if self.query("#marc") else None
        found = held_back(self.first, marc)
        if found.volume_ml is None and self.query("#held"):
            found = replace(found, volume_ml=self.query_one("#held", Entry).peek())
        return found

    def sum_lines(self) -> list[str]:
        """What the marc and what is typed come to."""
        simmered = self.query_one("#simmered", Pick).value == "yes"
        held = self._held()
        has_held = bool(held.volume_ml) and not simmered
        pours = [p for f in inside(self, LiquidFields) if (p := f.pour())]
        lines = []
        if has_held and held.volume_ml:
            strength = held.strength_abv
            said = self.wording.volume(held.volume_ml)
            at = f" at {self.wording.of(Kind.STRENGTH, strength)}" if strength is not None else ""
            lines.append(f"The marc holds back {said}{at}; this counts as liquid in the jar")
            pours = [Liquid(held.volume_ml, strength or 0.0), *pours] if pours else []
        charges = [
            replace(c.charge, mass_g=None, is_simmered=simmered, is_marc=has_held)
            for c in self.first.charges
        ]
        capacity_ml = self._entry("#capacity").peek()
        found = comes_to(charges, pours, capacity_ml, self.wording)
        if found:  # the ratio of a second pour isn't known: the herb is counted with the first
            lines.append(f"Second pour · {found[0].partition(' · ')[2]}")
            lines += found[1:]
        lines.append(SIMMER_MARC if simmered else FOOD_GRADE)
        return lines

    def keep(self) -> JarCard:
        """Start the jar."""
        pours = [p for f in inside(self, LiquidFields) if (p := f.draft())]
        if not pours:
            inside(self, LiquidFields)[0].volume.mark_wrong("How much liquid goes on?")
            raise NotUnderstood("A jar needs liquid: spirit, water or both.")
        return pour_again(
            self.keeper,
            AgainDraft(
                jar_id=self.first.jar_id,
                pours=tuple(pours),
                **self.jar_and_plan(),
                marc_g=self._of("#marc"),
                held_ml=self._of("#held"),
            ),
        )
