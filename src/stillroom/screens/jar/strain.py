"""Straining a jar and sharing what came of it into bottles."""

from datetime import date

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.widgets import Input, Static

from stillroom.dates import countdown
from stillroom.errors import NotUnderstood
from stillroom.keeping.bottles.bottling import bottle_up, propose_bottles
from stillroom.keeping.bottles.tinctures import tincture_of_jar, tincture_view
from stillroom.keeping.cards import JarCard
from stillroom.keeping.codes import bottle_code
from stillroom.keeping.drafts import BottleDraft, BottlingDraft, StrainDraft
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.straining import strain, yield_outlook
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.preferences import Preferences, preferences
from stillroom.keeping.views import JarView, TinctureView, YieldOutlook
from stillroom.paper.label import label_lines, plain_text_label
from stillroom.quantities import how_many, parse_volume_or_mass, show
from stillroom.reckoning.cautions import NO_HYDROMETER
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.weighing import contents_ml
from stillroom.reckoning.yields import Pressing, share_of_theoretical
from stillroom.screens.app import StillroomApp
from stillroom.screens.jar.dialogs import jar_name
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import Choice, DayEntry, Entry, Pick, amount, prefilled, words

PRESSINGS = (
    (Pressing.SQUEEZED.value, "squeezed by hand"),
    (Pressing.PRESSED.value, "pressed"),
    (Pressing.DRAINED.value, "drained only"),
)


async def strain_or_bottle(host: StillroomApp, keeper: Keeper, card: JarCard) -> None:
    """Strain a jar and go on to its bottles; or, where it was strained before, to its bottles."""
    tincture = tincture_of_jar(keeper, card.jar_id)
    if card.is_steeping:
        tincture = await host.push_screen_wait(StrainDialog(keeper, card))
        if tincture:
            host.changed()
    if tincture:
        bottled = await host.push_screen_wait(BottlingDialog(keeper, tincture.tincture_id))
        if bottled:
            host.changed(f"Bottled {bottled.name} {bottled.code}")


class StrainDialog(Dialog[TinctureView]):
    """What came out, beside what was to be expected."""

    TITLE_TEXT = "Strain"
    DEFAULT_CSS = """
    StrainDialog > .dialog--box { width: 80; }
    StrainDialog #outlook { height: auto; min-height: 4; margin-top: 1; }
    """

    def __init__(self, keeper: Keeper, card: JarCard) -> None:
        super().__init__()
        self.keeper = keeper
        self.jar: JarView = jar_view(keeper, card.jar_id)
        self.wanted = preferences(keeper)
        self.outlooks = {p: yield_outlook(keeper, self.jar, p) for p in Pressing}

    def compose_form(self) -> ComposeResult:
        """Yield, pressing, marc, strength, day, note."""
        wanted, today = self.wanted, self.keeper.today
        yield Static(jar_name(self.jar.card), classes="heading", markup=False)
        yield Entry(
            "Yield", lambda text: parse_volume_or_mass(text, wanted.units), id="yield",
            hint="430 ml, or weighed: 410 g",
        )  # fmt: skip
        yield Entry(
            "Empty vessel", amount(Kind.MASS, wanted), id="tare", required=False,
            hint="weight, if weighed in it",
        )  # fmt: skip
        yield Pick("How", PRESSINGS, id="pressing")
        yield Entry(
            "Marc", amount(Kind.MASS, wanted), id="marc", required=False,
            hint="weight of the spent herb",
        )  # fmt: skip
        yield Entry(
            "Strength", amount(Kind.STRENGTH, wanted), id="strength", required=False,
            hint="only if a laboratory measured",
        )  # fmt: skip
        yield DayEntry("Strained on", today, today, id="day")
        yield Entry(
            "Note", words, id="note", required=False, classes="-wide", hint="colour, smell, cloth"
        )

    def compose_below(self) -> ComposeResult:
        """Expected and share of theoretical."""
        yield Static("", id="outlook", markup=False)

    @on(Input.Changed)
    @on(Choice.Changed)
    def _show_outlook(self) -> None:
        lines = [self._due(), *self._expected(), *self._so_far()]
        if self._entry("#strength").typed:
            lines.append(NO_HYDROMETER)
        self.query_one("#outlook", Static).update("\n".join(line for line in lines if line))

    def _due(self) -> str:
        left = self.jar.card.days_left(self.keeper.today)
        return f"Not due yet: {countdown(left)} to go." if left > 0 else ""

    def _expected(self) -> list[str]:
        expected = self.outlooks[self._pressing]
        if expected.expected_ml is None:
            return ["Filled by eye: no yield can be foretold."]
        return [
            f"Expect {self._ml(expected.expected_ml)} "
            f"({self._ml(expected.low_ml)} to {self._ml(expected.high_ml)}): {rests_on(expected)}."
        ]

    def _so_far(self) -> list[str]:
        volume = self._yield_ml(quiet=True)
        liquid = self.outlooks[self._pressing].liquid_ml
        if volume is None:
            return []
        weighed = self._yield_figure()
        said = f"{self._ml(volume)} by weight. " if weighed and weighed.kind is Kind.MASS else ""
        if liquid:
            share = share_of_theoretical(volume, liquid)
            said += f"That is {share:.0f} % of the {self._ml(liquid)} in the jar."
        return [said]

    @property
    def _pressing(self) -> Pressing:
        return Pressing(self.query_one("#pressing", Pick).value)

    def _entry(self, selector: str) -> Entry[float]:
        return self.query_one(selector, Entry)

    def _ml(self, value: float | None) -> str:
        return "—" if value is None else _shown(Kind.VOLUME, value, self.wanted)

    def _yield_figure(self) -> Figure | None:
        figure = self.query_one("#yield", Entry).peek()
        return figure if isinstance(figure, Figure) else None

    def _yield_ml(self, *, quiet: bool = False) -> float | None:
        """The yield in mL; a weight is turned into volume by the density of its strength."""
        entry: Entry[Figure] = self.query_one("#yield", Entry)
        figure = entry.peek() if quiet else entry.needed()
        tare = self._entry("#tare")
        tare_g = (tare.peek() if quiet else tare.read()) or 0.0
        if figure is None or figure.kind is Kind.VOLUME:
            if tare_g and not quiet:
                problem = "Only a yield that was weighed has an empty vessel: leave it blank."
                tare.complain(problem)
                raise NotUnderstood(problem)
            return figure.value if figure else None
        strength = self._entry("#strength").peek() or self.jar.outlook.strength_abv
        try:
            return contents_ml(figure.value, tare_g, strength)
        except ValueError as error:
            if quiet:
                return None
            entry.complain(str(error))
            raise NotUnderstood(str(error)) from error

    def keep(self) -> TinctureView:
        """Write the straining down."""
        volume = self._yield_ml()
        if volume is None:
            raise NotUnderstood("Yield is needed.")
        strained_on: date = self.query_one("#day", Entry).needed()
        return strain(
            self.keeper,
            StrainDraft(
                jar_id=self.jar.card.jar_id,
                strained_on=strained_on,
                yield_ml=volume,
                pressing=self._pressing,
                marc_g=self._entry("#marc").read(),
                measured_abv=self._entry("#strength").read(),
                note=self.query_one("#note", Entry).read() or "",
                confirmed=self.confirmed,
            ),
        )


def rests_on(outlook: YieldOutlook) -> str:
    """What stands behind an expected yield."""
    if not outlook.rests_on:
        return "published figures, none of your own strainings yet"
    return f"published figures and {how_many(outlook.rests_on, 'straining')} of your own"


def _shown(kind: Kind, value: float, wanted: Preferences) -> str:
    return show(kind, value, wanted.units, decimal_comma=wanted.decimal_comma)


class BottleFields(Horizontal):
    """One bottle to fill, on one line: size, what goes in, where it will stand."""

    DEFAULT_CSS = """
    BottleFields { height: auto; }
    BottleFields > Static { width: 4; color: $text-muted; }
    BottleFields > Entry { width: 1fr; margin-right: 1; }
    BottleFields .entry--name { width: 6; }
    """

    def __init__(self, number: int, start: BottleDraft | None, wanted: Preferences) -> None:
        super().__init__()
        self.number = number
        reader = amount(Kind.VOLUME, wanted)
        size = prefilled(Kind.VOLUME, start.size_ml if start else None, wanted)
        holds = prefilled(Kind.VOLUME, start.volume_ml if start else None, wanted)
        place = start.place if start else ""
        self.bottle_size = Entry(
            "Size", reader, size, hint="250 ml", required=False, classes="-half"
        )
        self.holds = Entry("Holds", reader, holds, hint="as size", required=False, classes="-half")
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
            self.bottle_size.complain("Which size?")
            raise NotUnderstood("A bottle needs its size.")
        return BottleDraft(size, size if holds is None else holds, self.place.read() or "")

    def peek(self) -> BottleDraft | None:
        """The bottle as far as it can be read, without a word."""
        size = self.bottle_size.peek()
        if size is None:
            return None
        return BottleDraft(size, self.holds.peek() or size, self.place.typed.strip())


class BottlingDialog(Dialog[TinctureView]):
    """Which bottles, what stays over, and what the label will say."""

    TITLE_TEXT = "Bottle"
    BINDINGS = [
        Binding("ctrl+n", "add_bottle", "Another bottle", id="bottling.add",
                tooltip="Another bottle"),
    ]  # fmt: skip
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
        self.wanted = preferences(keeper)
        self.tincture = tincture_view(keeper, tincture_id)
        self.TITLE_TEXT = f"Bottle {self.tincture.name} {self.tincture.code}"
        self._first_number = self.tincture.bottles + 1

    def compose_form(self) -> ComposeResult:
        """A proposal to change at will, and the label."""
        with Horizontal(classes="bottling--sides"):
            with Vertical(classes="bottling--form"):
                loose = _shown(Kind.VOLUME, self.tincture.loose_ml, self.wanted)
                yield Static(
                    f"{loose} to bottle. Label every bottle at once: by eye they are all alike.",
                    markup=False,
                )
                yield Static("The label stands below (page down).", classes="bottling--narrow")
                with Vertical(id="bottles"):
                    proposal = propose_bottles(self.keeper, self.tincture.loose_ml)
                    for place, bottle in enumerate(proposal):
                        yield BottleFields(self._first_number + place, bottle, self.wanted)
                yield DayEntry("Bottled on", self.keeper.today, self.keeper.today, id="day")
                yield Pick(
                    "What is over",
                    [("stay", "stays for another day"), ("lost", "is written off")],
                    id="rest",
                )
            yield Static("", id="label", markup=False)

    def compose_below(self) -> ComposeResult:
        """What is over, always in sight."""
        yield Static("", id="over", markup=False)

    @on(Input.Changed)
    @on(Choice.Changed)
    def _follow(self) -> None:
        drafts = [d for f in self.query(BottleFields) if (d := f.peek())]
        over = self.tincture.loose_ml - sum(d.volume_ml for d in drafts)
        count = how_many(len(drafts), "bottle")
        if over < -0.005:
            said = f"! {count} take {_shown(Kind.VOLUME, -over, self.wanted)} more than there is"
        else:
            said = f"{count}; {_shown(Kind.VOLUME, max(0.0, over), self.wanted)} over"
        self.query_one("#over", Static).update(said)
        self._show_label(drafts)

    def _show_label(self, drafts: list[BottleDraft]) -> None:
        label = self.query_one("#label", Static)
        if not drafts:
            label.update("No bottle, no label.")
            return
        code = bottle_code(self.tincture.code, self._first_number)
        lines = label_lines(drafts[0], self.tincture, self.wanted, code=code)
        label.border_title = "Label"
        label.update(plain_text_label(lines, 40))

    async def action_add_bottle(self) -> None:
        """Another line."""
        count = len(self.query(BottleFields))
        fields = BottleFields(self._first_number + count, None, self.wanted)
        await self.query_one("#bottles").mount(fields)
        fields.bottle_size.field.focus()

    def keep(self) -> TinctureView:
        """Fill them."""
        drafts = [d for f in self.query(BottleFields) if (d := f.draft())]
        return bottle_up(
            self.keeper,
            BottlingDraft(
                tincture_id=self.tincture.tincture_id,
                bottles=tuple(drafts),
                filled_on=self.query_one("#day", Entry).needed(),
                write_off_rest=self.query_one("#rest", Pick).value == "lost",
            ),
        )
