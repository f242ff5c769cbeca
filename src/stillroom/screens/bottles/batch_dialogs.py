"""Forms that make a batch of others: join, thin or strengthen; and one for what was lost."""

from dataclasses import dataclass, replace

from textual import work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from stillroom.errors import StillroomError
from stillroom.keeping.bottles.blend_views import BlendPlan
from stillroom.keeping.bottles.blends import make_blend, plan_blend
from stillroom.keeping.bottles.joining import Taken, Thinning, all_of, joined, thinned
from stillroom.keeping.bottles.losses import lose
from stillroom.keeping.bottles.stock import volume_or_all
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.twins import spirit_words
from stillroom.keeping.drafts import BlendDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import LOSS_KINDS, LossKind
from stillroom.screens.buying.spirit import SpiritDialog
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, amount, example, words
from stillroom.screens.kit.lines import show

WATER = "water"
LOSSES_TO_CHOOSE = tuple((str(kind), str(kind)) for kind in LOSS_KINDS)
_YES, _NO = "yes", "no"


@dataclass(frozen=True)
class Offered:
    """A bottle, or a batch that waits to be bottled, as a form offers it."""

    taken: Taken
    code: str
    name: str
    left_ml: float

    @classmethod
    def of(cls, line: BottleRow | TinctureView) -> "Offered":
        """All that there is of it."""
        if isinstance(line, BottleRow):
            return cls(all_of(line.bottle_id, None), line.code, line.name, line.left_ml)
        return cls(all_of(None, line.tincture_id), line.code, line.name, line.loose_ml)


def plan_words(plan: BlendPlan, said: Wording) -> str:
    """What a batch would come to, and why not."""
    if plan.obstacles:
        return f"! {plan.obstacles[0]}"
    added = [f"{said.volume(each.volume_ml)} of {each.name}" for each in plan.inputs]
    strength = said.finished_strength(plan) or "strength unknown"
    lines = [f"{said.volume(plan.poured_ml)} makes {said.volume(plan.volume_ml)}, {strength}."]
    if added:
        lines.insert(0, f"Takes {', '.join(added)}.")
    return "\n".join([*lines, *(f"! {each}" for each in plan.warnings)])


class BatchDialog(Dialog[TinctureView]):
    """A form that makes a new batch, and shows what it comes to."""

    ACT = "Make"

    def __init__(self, keeper: Keeper) -> None:
        super().__init__()
        self.keeper = keeper
        self.wording = wording(keeper)

    def compose_end(self) -> ComposeResult:
        """Name, day, note, outcome."""
        yield Entry("Name", words, id="name", required=False, classes="-wide",
                    hint="blank: the name of the first")  # fmt: skip
        yield DayEntry("Day", self.keeper.today, self.keeper.today, wording=self.wording, id="day")
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)
        yield Static("", id="outcome", classes="quiet", markup=False)

    def draft(self) -> BlendDraft:
        """What is typed, as a batch to make."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Show what it comes to."""
        self._say_outcome()

    def on_input_changed(self) -> None:
        """Show what it comes to."""
        self._say_outcome()

    def on_choice_changed(self) -> None:
        """Show what it comes to."""
        self._say_outcome()

    def _say_outcome(self) -> None:
        for line in self.query("#outcome").results(Static):
            try:
                said = plan_words(plan_blend(self.keeper, self.draft()), self.wording)
            except StillroomError as error:
                said = str(error)
            show(line, said)

    def day_name_note(self) -> tuple[object, str, str]:
        """The last three fields."""
        return (
            self.query_one("#day", DayEntry).needed(),
            str(self.query_one("#name", Entry).read() or ""),
            str(self.query_one("#note", Entry).read() or ""),
        )

    def keep(self) -> TinctureView:
        """Make the batch."""
        return make_blend(self.keeper, self.draft(), confirmed=self.confirmed)


class JoinDialog(BatchDialog):
    """Batches that wait, and what is left in bottles, as one batch."""

    TITLE_TEXT = "Join"
    ACT = "Join"
    DEFAULT_CSS = """
    JoinDialog NamedField.join--source > .taker { width: 1fr; margin-left: 22; }
    """

    def __init__(self, keeper: Keeper, chosen: list[Offered], others: list[Offered]) -> None:
        super().__init__(keeper)
        self._sources = [*chosen, *others]
        self._chosen = len(chosen)

    def compose_form(self) -> ComposeResult:
        """Each source with yes or no."""
        yield Static("What is left of each goes into one new batch.", markup=False)
        for number, source in enumerate(self._sources):
            label = f"{source.code} {self.wording.volume(source.left_ml)}"
            start = _YES if number < self._chosen else _NO
            yield Pick(label, [(_YES, f"yes: {source.name}"), (_NO, f"no: {source.name}")], start,
                       id=f"source-{number}", classes="join--source")  # fmt: skip
        yield from self.compose_end()

    def draft(self) -> BlendDraft:
        """The sources that were answered with yes, as a batch."""
        taken = tuple(
            source.taken
            for number, source in enumerate(self._sources)
            if self.query_one(f"#source-{number}", Pick).value == _YES
        )
        if len(taken) < 2:
            raise StillroomError("Choose at least two.")
        day = self.query_one("#day", DayEntry).needed()
        _, name, note = self.day_name_note()
        return joined(self.keeper, taken, day, name, note)


class ThinDialog(BatchDialog):
    """A batch or bottle brought to a strength with water or a spirit."""

    TITLE_TEXT = "Thin or strengthen"
    ACT = "Make"
    BINDINGS = [
        Binding("ctrl+b", "buy", "New spirit", id="thin.buy",
                tooltip="Add a spirit you bought, without closing this form"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    ThinDialog #with > .taker { width: 1fr; }
    """

    def __init__(self, keeper: Keeper, source: Offered) -> None:
        super().__init__(keeper)
        self._source = source
        self.TITLE_TEXT = f"Thin or strengthen {source.name} {source.code}"

    def compose_form(self) -> ComposeResult:
        """The strength to reach, what is added, and how much is taken."""
        yield Entry("To reach", amount(Kind.STRENGTH, self.wording), id="target", hint="e.g. 30 %")
        yield Pick("Add", self._options(), WATER, id="with")
        yield Entry(
            "Take",
            lambda text: volume_or_all(self.wording, text),
            "all",
            id="take",
            hint=example("30 ml, or all", "1 fl oz, or all", self.wording),
        )
        yield from self.compose_end()

    def _options(self) -> list[tuple[str, str]]:
        kept = [each for each in spirits(self.keeper) if each.left_ml is None or each.left_ml > 0]
        said = [(str(each.spirit_id), spirit_words(each, kept, self.wording)) for each in kept]
        return [(WATER, WATER), *said]

    @work
    async def action_buy(self) -> None:
        """Add a spirit that was bought, and choose it."""
        spirit_id = await self.app.push_screen_wait(SpiritDialog(self.keeper))
        if spirit_id is not None:
            self.query_one("#with", Pick).choice.offer(self._options(), str(spirit_id))
            self.host.changed()

    def draft(self) -> BlendDraft:
        """The batch as typed."""
        chosen = self.query_one("#with", Pick).value
        day = self.query_one("#day", DayEntry).needed()
        _, name, note = self.day_name_note()
        taken = replace(self._source.taken, volume_ml=self.query_one("#take", Entry).needed())
        return thinned(
            self.keeper,
            Thinning(
                taken,
                self.query_one("#target", Entry).needed(),
                day,
                None if chosen == WATER else int(chosen),
                name,
                note,
            ),
        )


class LossDialog(Dialog[TinctureView]):
    """Liquid lost of a batch that waits to be bottled."""

    TITLE_TEXT = "Loss"
    ACT = "Write off"

    def __init__(self, keeper: Keeper, tincture: TinctureView) -> None:
        super().__init__()
        self.keeper = keeper
        self.tincture = tincture
        self.wording = wording(keeper)
        self.TITLE_TEXT = f"Loss of {tincture.name} {tincture.code}"

    def compose_form(self) -> ComposeResult:
        """How much, how, when."""
        waits = self.wording.volume(self.tincture.loose_ml)
        yield Static(f"{waits} to bottle.", classes="quiet", markup=False)
        yield Entry(
            "Volume",
            lambda text: volume_or_all(self.wording, text),
            id="volume",
            hint=example("10 ml, or all", "1 fl oz, or all", self.wording),
        )
        yield Pick("Kind", LOSSES_TO_CHOOSE, id="kind")
        yield DayEntry("Day", self.keeper.today, self.keeper.today, wording=self.wording, id="day")
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)

    def keep(self) -> TinctureView:
        """Record the loss."""
        return lose(
            self.keeper,
            self.tincture.tincture_id,
            LossKind(self.query_one("#kind", Pick).value),
            self.query_one("#volume", Entry).needed(),
            day=self.query_one("#day", DayEntry).needed(),
            note=str(self.query_one("#note", Entry).read() or ""),
        )
