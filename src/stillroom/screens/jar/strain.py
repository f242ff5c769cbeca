"""Straining a jar and sharing what came of it into bottles."""

from collections.abc import Callable
from datetime import date

from textual import on
from textual.app import ComposeResult
from textual.widgets import Input, Static

from stillroom.dates import countdown
from stillroom.errors import NotUnderstood
from stillroom.keeping.bottles.tinctures import tincture_of_jar
from stillroom.keeping.cards import JarCard
from stillroom.keeping.drafts import StrainDraft
from stillroom.keeping.jars.expecting import press_outlook, unpredictable, yield_outlook
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.straining import drain, strain, strained_ml
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import JarView, TinctureView, YieldOutlook
from stillroom.keeping.wording import wording
from stillroom.quantities import how_many
from stillroom.reckoning.cautions import NO_HYDROMETER
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.yields import KNOWN_PRESSINGS, Pressing, share_of_theoretical
from stillroom.screens.bottles.bottling import BottlingDialog
from stillroom.screens.host import Host
from stillroom.screens.jar.dialogs import jar_name
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, amount, example, words
from stillroom.screens.kit.lines import show

PRESSINGS = (
    (Pressing.SQUEEZED.value, "squeezed by hand"),
    (Pressing.PRESSED.value, "pressed"),
    (Pressing.DRAINED.value, "drained only"),
)


MORE = (("no", "no, this is all"), ("yes", "yes, press it later"))


async def strain_or_bottle(host: Host, keeper: Keeper, card: JarCard) -> None:
    """Strain a jar and go on to its bottles; or, where it was strained before, to its bottles."""
    tincture = tincture_of_jar(keeper, card.jar_id)
    if card.is_steeping or card.is_drained:
        done = await host.push_screen_wait(StrainDialog(keeper, card))
        if isinstance(done, JarCard):
            host.changed(f"Drained {done.herb} {done.code}: still to be pressed")
        elif done:
            host.changed()
        tincture = None if isinstance(done, JarCard) else done
    if tincture and not tincture.is_to_bottle:
        host.say(f"{tincture.name} {tincture.code} is strained, and nothing is left to bottle.")
    elif tincture:
        bottled = await host.push_screen_wait(BottlingDialog(keeper, tincture.tincture_id))
        if bottled:
            host.changed(f"Bottled {bottled.name} {bottled.code}")


class StrainDialog(Dialog[TinctureView | JarCard]):
    """What came out, beside what was expected."""

    TITLE_TEXT = "Strain"
    ACT = "Strain"
    LAST_FIELD = "note"
    DEFAULT_CSS = """
    StrainDialog > .dialog--box { width: 80; }
    StrainDialog #outlook { height: auto; min-height: 4; margin-top: 1; }
    """

    def __init__(self, keeper: Keeper, card: JarCard) -> None:
        super().__init__()
        self.keeper = keeper
        self.jar: JarView = jar_view(keeper, card.jar_id)
        self.wording = wording(keeper)
        self.outlooks = {p: yield_outlook(keeper, self.jar, p) for p in KNOWN_PRESSINGS}
        self.got_ml = card.drained_ml or 0.0

    def compose_form(self) -> ComposeResult:
        """Yield, pressing, marc, strength, day, note."""
        wording, today = self.wording, self.keeper.today
        card = self.jar.card
        heading = jar_name(card)
        if card.is_drained:
            heading += f" · {wording.volume(card.drained_ml)} so far"
        yield Static(heading, classes="heading", markup=False)
        yield Entry(
            "Yield", wording.read_volume_or_mass, id="yield",
            hint=("what came out now; 0 ends the straining" if card.is_drained else
                  example("430 ml, or weighed: 410 g", "15 fl oz, or weighed: 14 oz", wording)),
        )  # fmt: skip
        yield Entry(
            "Empty container", amount(Kind.MASS, wording), id="tare", required=False,
            hint="weight, if yield was weighed in it",
        )  # fmt: skip
        usual = Pressing.PRESSED if card.is_drained else Pressing.SQUEEZED
        yield Pick("Method", PRESSINGS, usual.value, id="pressing")
        yield Entry(
            "Spent herb", amount(Kind.MASS, wording), id="marc", required=False,
            hint="weight of the marc",
        )  # fmt: skip
        yield Entry(
            "Strength", amount(Kind.STRENGTH, wording), id="strength", required=False,
            hint="only if lab-measured",
        )  # fmt: skip
        yield DayEntry("Strained on", today, today, wording=self.wording, id="day")
        yield Entry(
            "Note", words, id="note", required=False, classes="-wide", hint="anything unusual"
        )
        yield Pick("More to come", MORE, id="more")

    def compose_below(self) -> ComposeResult:
        """The yield to expect, and the share got so far."""
        yield Static("", id="outlook", markup=False)

    @on(Input.Changed)
    @on(Choice.Changed)
    def _show_outlook(self) -> None:
        lines = [self._due(), *self._expected(), *self._so_far()]
        if self._entry("#strength").typed:
            lines.append(NO_HYDROMETER)
        show(self.query_one("#outlook", Static), "\n".join(line for line in lines if line))

    def _due(self) -> str:
        left = self.jar.card.days_left(self.keeper.today)
        if self.jar.card.is_drained:
            return ""
        return f"Not due yet: {countdown(left)} to go." if left > 0 else ""

    def _expected(self) -> list[str]:
        expected = press_outlook(self.outlooks[self._pressing], self.got_ml)
        if expected.expected_ml is None:
            return [unpredictable(self.jar)]
        return [
            f"Expect{' more:' if self.got_ml else ''} {self._ml(expected.expected_ml)} "
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
            share = share_of_theoretical(self.got_ml + volume, liquid)
            what = f"With the {self._ml(self.got_ml)} before, that is" if self.got_ml else "That is"
            percent = self.wording.percent(round(share))
            said += f"{what} {percent} of the {self._ml(liquid)} in the jar."
        return [said]

    @property
    def _pressing(self) -> Pressing:
        return Pressing(self.query_one("#pressing", Pick).value)

    def _entry(self, selector: str) -> Entry[float]:
        return self.query_one(selector, Entry)

    def _ml(self, value: float | None) -> str:
        return "—" if value is None else self.wording.volume(value)

    def _yield_figure(self) -> Figure | None:
        figure = self.query_one("#yield", Entry).peek()
        return figure if isinstance(figure, Figure) else None

    def _yield_ml(self, *, quiet: bool = False) -> float | None:
        """The yield in mL; a weight is turned into volume by the density of its strength."""
        entry: Entry[Figure] = self.query_one("#yield", Entry)
        figure = entry.peek() if quiet else entry.needed()
        tare = self._entry("#tare")
        tare_g = (tare.peek() if quiet else tare.read()) or 0.0
        if figure is None:
            return None
        abv = self._entry("#strength").peek()
        try:
            return strained_ml(self.jar, figure, tare_g, abv, self.wording)
        except NotUnderstood as error:
            if quiet:
                return figure.value if figure.kind is Kind.VOLUME else None
            wrong = tare if figure.kind is Kind.VOLUME else entry
            wrong.mark_wrong(str(error))
            raise

    def keep(self) -> TinctureView | JarCard:
        """Record the straining, or the part of it that is done."""
        volume = self._yield_ml()
        if volume is None:
            raise NotUnderstood("Yield is needed.")
        strained_on: date = self.query_one("#day", Entry).needed()
        has_more = self.query_one("#more", Pick).value == "yes"
        act: Callable[[Keeper, StrainDraft], TinctureView | JarCard] = drain if has_more else strain
        return act(
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
    """What an expected yield rests on."""
    if not outlook.rests_on:
        return "from published figures; none of your own strainings yet"
    return f"from published figures and {how_many(outlook.rests_on, 'straining')} of your own"
