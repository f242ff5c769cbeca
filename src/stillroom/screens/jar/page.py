"""One jar in full: what is in it, what it comes to, what was done with it."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from typing import NamedTuple

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Static

from stillroom.dates import countdown
from stillroom.keeping.cards import JarCard
from stillroom.keeping.jars.expecting import yield_outlook
from stillroom.keeping.jars.jar_sum import verdict_line
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger_views import EventView
from stillroom.keeping.views import ChargeView, JarView, Outlook, PourView
from stillroom.paper.plain import wrap
from stillroom.quantities import how_many
from stillroom.reckoning.alcoholometry import WATER_G_PER_ML
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import JarState
from stillroom.reckoning.yields import Pressing, share_of_theoretical
from stillroom.screens.drawing.big_jar import BigJar
from stillroom.screens.jar.keys import JarKeys
from stillroom.screens.jar.strain import rests_on
from stillroom.screens.kit.text import safe

_STANDS, _HANGS = 2, 4
"""How far in a line begins, and how far it runs on."""


class Entered(NamedTuple):
    """A line of a history: when and by whom, what, and what became of it later."""

    before: str
    text: str
    later: str = ""
    """That it was undone or corrected: the text is struck through then."""

    def drawn(self, width: int) -> Iterator[Text]:
        """In as many lines as it needs."""
        before, text = (" ".join(part.split()) for part in (self.before, self.text))
        line = " ".join(f"{before} {text} {self.later and '· '}{self.later}".split())
        first = len(before) + 1
        end = first + len(text) if self.later else first
        at = 0
        for part in wrap(line, width):
            drawn = Text(part)
            drawn.stylize("strike", max(0, first - at), max(0, end - at))
            at += len(part)
            at += line.startswith(" ", at)
            yield drawn


class Listed:
    """A heading and lines below it, each further in where it runs on."""

    def __init__(self, heading: str, lines: Sequence[str | Entered]) -> None:
        self.heading = Text(heading, style="bold")
        self.lines = lines

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """As wide as there is room."""
        yield self.heading
        for line in self.lines:
            room = max(1, options.max_width - _HANGS)
            parts = map(Text, wrap(line, room)) if isinstance(line, str) else line.drawn(room)
            for number, part in enumerate(parts):
                yield Text(" " * (_HANGS if number else _STANDS)) + part


class JarPage(JarKeys):
    """Everything about one jar."""

    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (100, "-wide")]
    HELP = (
        "Everything about one jar: its herbs and liquids, how strong they make it, whether it will "
        "keep, the yield to expect, the days it was shaken, and its history."
    )
    BINDINGS = [
        Binding("escape", "back", "Back", id="jar_page.back", tooltip="Go back to the shelves"),
        # Hidden on the shelves for want of room; here there is some.
        Binding("c", "correct", "Correct filling", id="jar.correct",
                tooltip="Correct what was entered at filling"),
        Binding("w", "note", "Note", id="jar.note", tooltip="Add a note to this jar's history"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    JarPage > Horizontal > VerticalScroll { width: 1fr; padding: 0 1; }
    JarPage > Horizontal > VerticalScroll > Static { margin-bottom: 1; }
    JarPage BigJar { width: 44; display: none; }
    JarPage.-wide BigJar { display: block; }
    """

    def __init__(self, keeper: Keeper, jar_id: int) -> None:
        super().__init__(keeper)
        self.jar_id = jar_id
        self._jar: JarView | None = None

    def compose_page(self) -> ComposeResult:
        """Facts, and where there is room the jar itself."""
        with Horizontal():
            with VerticalScroll():
                yield Static("", id="facts")
                yield Static("", id="contents")
                yield Static("", id="shakes")
                yield Static("", id="history")
            yield BigJar(is_plain=self.host.is_plain)

    def read(self) -> None:
        """Read the jar; where undo has removed it, go back."""
        jar = self.attempt(lambda: jar_view(self.keeper, self.jar_id))
        self._jar = jar
        if jar is None:
            self.action_back()
            return
        self.head(Text(f"{safe(jar.card.herb)} {jar.card.code}", style="bold"))
        self.query_one(BigJar).show(jar.card, self.keeper.today, self.wording)
        for name, text in (
            ("#facts", self._facts(jar)),
            ("#contents", self._contents(jar)),
            ("#shakes", self._shakes(jar)),
            ("#history", self._history(jar)),
        ):
            self.query_one(name, Static).update(text)

    def _facts(self, jar: JarView) -> Text:
        card, text = jar.card, Text()
        where = f"{safe(jar.shelf)} · filled {self.wording.day(card.filled_on)}"
        if jar.state == JarState.STEEPING:
            left = countdown(card.days_left(self.keeper.today))
            where += f" · strain {self.wording.day(card.strain_on)} ({left})"
        elif jar.straining and jar.straining.more:
            where += f" · drained {self.wording.day(jar.straining.strained_on)}, to be pressed"
        else:
            where += f" · {jar.state} {self.wording.day(jar.ended_on) if jar.ended_on else ''}"
        text.append(where + "\n")
        outlook = jar.outlook
        ratio = "Ratio unknown (herb not weighed)"
        if all(charge.mass_g is not None for charge in jar.charges):
            ratio = "Ratio unknown (that of the tincture isn't known)"
        if jar.marc_of:
            ratio = f"Second pour on the marc of {jar.marc_of}: ratio not known"
        if outlook.ratio is not None:
            ratio = f"{self.wording.ratio(outlook.ratio)} herb to liquid poured"
        strength = self._strength(outlook)
        text.append(f"{ratio} · {self.wording.volume(outlook.volume_ml)} at {strength}\n")
        verdict = verdict_line(outlook.keeps, self.wording.verdict(outlook), strength)
        text.append(verdict, "bold" if verdict.startswith("!") else "")
        if not card.covered and card.is_steeping:
            text.append("\n! Herb uncovered: press it down, or press t to top up.", "bold")
        for warning in filter(None, (charge.warning for charge in jar.charges)):
            text.append(f"\n! {safe(warning)}", "bold")
        text.append(self._yield_words(jar))
        if jar.note:
            text.append(f"\n{safe(jar.note)}", "italic")
        return text

    def _strength(self, outlook: Outlook) -> str:
        if not outlook.is_partial:
            return self.wording.of(Kind.STRENGTH, outlook.strength_abv)
        if outlook.strength_at_most:
            most = self.wording.percent_at_most(outlook.strength_abv)
            return f"up to {most.removeprefix('at most ')}"
        return f"about {self.wording.of(Kind.STRENGTH, outlook.strength_abv)}"

    def _yield_words(self, jar: JarView) -> str:
        if jar.straining is None:
            expected = yield_outlook(self.keeper, jar, Pressing.SQUEEZED)
            if jar.state != JarState.STEEPING or expected.expected_ml is None:
                return ""
            return (
                f"\nSqueezed by hand, expect {self.wording.volume(expected.expected_ml)} "
                f"({rests_on(expected)})"
            )
        straining = jar.straining
        if straining.more:
            said = f"\n! {self.wording.volume(straining.yield_ml)} so far"
            if jar.card.press_ml is not None:
                said += f"; pressed, expect another {self.wording.volume(jar.card.press_ml)}"
            return f"{said}: press s"
        said = f"\nYield {self.wording.volume(straining.yield_ml)} {straining.how_pressed}"
        if straining.goes:
            each = (f"{self.wording.volume(go.yield_ml)} {go.pressing}" for go in straining.goes)
            said = f"\nYield {self.wording.volume(straining.yield_ml)}: {' + '.join(each)}"
        if straining.liquid_ml:
            share = share_of_theoretical(straining.yield_ml, straining.liquid_ml)
            said += f", {self.wording.percent(round(share))} of the liquid in the jar"
        if jar.tincture and jar.tincture.is_to_bottle:
            said += f"; {self.wording.volume(jar.tincture.loose_ml)} still to bottle: press s"
        return said

    def _contents(self, jar: JarView) -> "Listed":
        lines = [
            *map(self._charge_words, jar.charges),
            *map(self._pour_words, jar.pours),
        ]
        if jar.simmered:
            held_ml = sum(charge.charge.water_g for charge in jar.charges) / WATER_G_PER_ML
            holds = f"; holds {self.wording.volume(held_ml)} of water" if held_ml else ""
            lines.append(f"simmered first{holds}")
        return Listed("In the jar", lines)

    def _charge_words(self, charge: ChargeView) -> str:
        usual = "measured" if charge.water_is_measured else "assumed"
        water = f"{self.wording.percent(100 * charge.water_fraction)} ({usual})"
        if not charge.charge.is_water_known:
            water = "not known"
        words = f"{charge.herb}, {charge.as_put_in}, water {water}"
        if charge.is_second_pour:  # its water is in what it holds back
            words = f"{charge.herb}, marc, {charge.as_put_in}"
        elif charge.mass_g is None:
            words = f"{charge.herb}, by eye, {charge.as_put_in}, water {water}"
        else:
            words = f"{self.wording.mass(charge.mass_g)} {words}"
        if charge.lot:
            words += f", of {charge.lot}"
        if charge.gathered_on:
            words += f", gathered {self.wording.day(charge.gathered_on)}"
        return safe(f"{words}, {charge.origin}" if charge.origin else words)

    def _pour_words(self, pour: PourView) -> str:
        words = f"{self.wording.volume(pour.volume_ml)} {pour.spirit or pour.kind}"
        if pour.source:
            words += f" of {pour.source} {pour.name}"
        if pour.strength_abv:
            words += f" {self.wording.of(Kind.STRENGTH, pour.strength_abv)}"
        return safe(f"{words}, {self.wording.day(pour.poured_on)}")

    def _shakes(self, jar: JarView) -> Text:
        """One mark a day from the first on record to today or straining, as wide as fits."""
        first = jar.shakes_recorded_from
        if first is None:
            return Text("Shakes not recorded")
        if not jar.card.shakes_per_day:
            return Text("Not on the daily round")
        last = min(jar.ended_on or self.keeper.today, self.keeper.today)
        count = (last - first).days + 1
        if count < 1:
            return Text("Not shaken yet")
        days = [first + timedelta(days=n) for n in range(max(0, count - 56), count)]
        marks = "".join("●" if jar.days_shaken.get(d) else "·" for d in days)
        shaken = sum(1 for d in days if jar.days_shaken.get(d))
        whole = f"the last {len(days)} days" if len(days) < count else how_many(count, "day")
        text = Text("Shaken ", style="bold")
        before = (
            f", not recorded before {self.wording.day(first)}" if first > jar.card.filled_on else ""
        )
        text.append(f"on {shaken} of {whole}{before}\n  {marks}", "not bold")
        return text

    def _history(self, jar: JarView) -> "Listed":
        lines = []
        for event in jar.events:
            when = f"{self.wording.day(event.day)} {safe(event.maker)}"
            lines.append(Entered(when, safe(_in_words(event)), safe(self.wording.later(event))))
        return Listed("History", lines)

    def action_back(self) -> None:
        """Go back to the shelves."""
        self.dismiss(None)

    def chosen_jar(self) -> JarCard | None:
        """The jar that is open."""
        return self._jar.card if self._jar else None


def _in_words(event: EventView) -> str:
    """The words of a ledger line; the kind only where they do not begin with it."""
    if event.text.casefold().startswith(event.kind):
        return event.kind + event.text[len(event.kind) :]
    return f"{event.kind}: {event.text}"
