"""Small forms about one jar: top up, move, dates, a note, discarding."""

from datetime import timedelta

from textual import on
from textual.app import ComposeResult
from textual.widgets import Input, Static

from stillroom.dates import countdown
from stillroom.errors import NotUnderstood
from stillroom.keeping.cards import JarCard
from stillroom.keeping.cupboard.cupboard import shelf_rows, spirits
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.jars.jar import discard_jar, move_jar, note_jar, set_dates, top_up
from stillroom.keeping.jars.jar_sum import comes_to
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.quantities import parse_shakes
from stillroom.reckoning.cautions import COOL_FIRST, FOOD_GRADE
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.states import LiquidKind
from stillroom.screens.jar.liquid_fields import LiquidFields
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.dialog import Dialog, R
from stillroom.screens.kit.fields import DayEntry, Entry, example, whole_number, words
from stillroom.screens.kit.lines import show


def jar_name(card: JarCard) -> str:
    """A jar's name in a dialog: herb, part, condition and code."""
    more = f" +{card.more_herbs}" if card.more_herbs else ""
    return f"{card.herb}{more}, {card.part}, {card.condition} · {card.code}"


class JarDialog(Dialog[R]):
    """A form about one jar, which it names at its head."""

    def __init__(self, keeper: Keeper, card: JarCard) -> None:
        super().__init__()
        self.keeper = keeper
        self.card = card

    def compose_form(self) -> ComposeResult:
        """The jar, and the fields about it."""
        yield Static(jar_name(self.card), classes="heading", markup=False)
        yield from self.compose_fields()

    def compose_fields(self) -> ComposeResult:
        """The fields of this form alone."""
        raise NotImplementedError


class TopUpDialog(JarDialog[JarCard]):
    """More liquid on a jar."""

    TITLE_TEXT = "Top up"
    ACT = "Top up"
    DEFAULT_CSS = "TopUpDialog #comes-to { height: auto; margin-top: 1; }"

    def __init__(self, keeper: Keeper, card: JarCard) -> None:
        super().__init__(keeper, card)
        self.liquid = LiquidFields(None, spirits(keeper), wording(keeper), others=liquids(keeper))
        self.jar = jar_view(keeper, card.jar_id)

    def compose_fields(self) -> ComposeResult:
        """Which liquid, how much, how strong."""
        yield self.liquid
        yield Pick("Herb", [("yes", "now covered"), ("no", "still uncovered")], id="covers")

    def compose_below(self) -> ComposeResult:
        """What the jar comes to with it, always in sight."""
        yield Static("", id="comes-to", markup=False)

    @on(Input.Changed)
    @on(Choice.Changed)
    def _comes_to(self) -> None:
        pours = [Liquid(p.volume_ml, p.strength_abv) for p in self.jar.pours]
        more = self.liquid.pour()
        lines = comes_to(
            [charge.charge for charge in self.jar.charges],
            [*pours, more] if more else pours,
            self.jar.capacity_ml,
            self.liquid.wording,
        )
        lines.append(COOL_FIRST if self.liquid.liquid.value == LiquidKind.DECOCTION else FOOD_GRADE)
        show(self.query_one("#comes-to", Static), "\n".join(lines))

    def keep(self) -> JarCard:
        """Pour the liquid on."""
        pour = self.liquid.draft()
        if pour is None:
            self.liquid.volume.mark_wrong(
                "How much? " + example("50 ml", "2 fl oz", self.liquid.wording)
            )
            raise NotUnderstood("Volume is needed.")
        covers = self.query_one("#covers", Pick).value == "yes"
        return top_up(self.keeper, self.card.jar_id, pour, covers=covers)


class MoveDialog(JarDialog[JarCard]):
    """Another shelf for a jar."""

    TITLE_TEXT = "Move"
    ACT = "Move"
    corrects = True

    def compose_fields(self) -> ComposeResult:
        """The shelf to move to."""
        planks = [(str(s.shelf_id), s.name) for s in shelf_rows(self.keeper)]
        yield Pick("To shelf", planks, str(self.card.shelf_id), id="shelf")
        yield Static("Add shelves in the cupboard (key 4).", classes="quiet")

    def keep(self) -> JarCard:
        """Move the jar."""
        return move_jar(self.keeper, self.card.jar_id, int(self.query_one("#shelf", Pick).value))


class DatesDialog(JarDialog[JarCard]):
    """When it was filled, when it is due, how often it is shaken."""

    TITLE_TEXT = "Dates"
    corrects = True

    def __init__(self, keeper: Keeper, card: JarCard) -> None:
        super().__init__(keeper, card)
        self.wording = wording(keeper)
        self.steep_days = (card.strain_on - card.filled_on).days
        self.began_with = _dates(card)

    def written(self) -> object:
        """The dates as they are now."""
        return _dates(jar_view(self.keeper, self.card.jar_id).card)

    def compose_fields(self) -> ComposeResult:
        """Day of filling, strain date, shakes."""
        today = self.keeper.today
        yield DayEntry(
            "Filled on", today, self.card.filled_on, wording=self.wording, id="filled",
            hint="12 Nov 2026, or 15 days ago",
        )  # fmt: skip
        yield Entry(
            "Days to steep", whole_number(Kind.DAYS, self.wording), str(self.steep_days),
            id="days", hint="from the filling date",
        )  # fmt: skip
        yield DayEntry(
            "Strain on", today, past=False, wording=self.wording, id="strain", required=False,
            hint="blank: filling date + days",
        )  # fmt: skip
        yield Entry(
            "Shakes a day", parse_shakes, str(self.card.shakes_per_day), id="shakes", hint="0 to 9",
        )  # fmt: skip
        yield Static("", id="outlook", classes="quiet", markup=False)

    def on_input_changed(self) -> None:
        """Show what these dates come to."""
        filled = self.query_one("#filled", Entry).peek()
        days = self.query_one("#days", Entry).peek()
        strain = self.query_one("#strain", Entry).peek()
        if strain is None and filled is not None and days is not None:
            strain = filled + timedelta(days=days)
        said = ""
        if strain is not None:
            left = countdown((strain - self.keeper.today).days)
            said = f"Strain on {self.wording.day(strain)}: {left}."
        show(self.query_one("#outlook", Static), said)

    def keep(self) -> JarCard:
        """Save the dates and the shakes a day."""
        filled = self.query_one("#filled", Entry).needed()
        days = self.query_one("#days", Entry).needed()
        strain = self.query_one("#strain", Entry).read() or filled + timedelta(days=days)
        shakes = self.query_one("#shakes", Entry).needed()
        return set_dates(self.keeper, self.card.jar_id, filled, strain, shakes)


class NoteDialog(JarDialog[bool]):
    """A line for a jar's history."""

    TITLE_TEXT = "Note"

    def compose_fields(self) -> ComposeResult:
        """The note."""
        yield Entry("Note", words, classes="-wide", id="note", max_length=2000)

    def keep(self) -> bool:
        """Save the note."""
        note_jar(self.keeper, self.card.jar_id, self.query_one("#note", Entry).needed())
        return True


class DiscardDialog(JarDialog[bool]):
    """Discarding a jar unstrained."""

    TITLE_TEXT = "Discard jar"
    ACT = "Discard"

    def compose_fields(self) -> ComposeResult:
        """A note on why."""
        yield Static(
            "The jar comes off its shelf. Its history stays, and u undoes it.", markup=False
        )
        yield Entry("Note", words, classes="-wide", id="why", required=False, max_length=2000)

    def keep(self) -> bool:
        """Take it off the shelf."""
        discard_jar(self.keeper, self.card.jar_id, self.query_one("#why", Entry).read() or "")
        return True


def _dates(card: JarCard) -> tuple[object, ...]:
    return card.filled_on, card.strain_on, card.shakes_per_day
