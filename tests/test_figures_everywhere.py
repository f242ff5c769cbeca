"""With US or imperial units and a decimal comma, no metric unit and no decimal point is shown."""

import random
import re
import shlex
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from pkgutil import walk_packages
from typing import Any

import pytest
from textual.binding import Binding
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input

import stillroom.screens
from stillroom.cli.examples import EXAMPLES as EXAMPLES_OF_COMMANDS
from stillroom.cli.parser import COMMANDS
from stillroom.clock import SetClock
from stillroom.errors import NotUnderstood
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import remember, save_settings, settings_of
from stillroom.quantities import Notation, UnitSystem
from stillroom.quantities.limits import BOUNDS
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.registry import Calculator, Field, calculators
from stillroom.records.store import Store
from stillroom.screens.app import StillroomApp
from stillroom.screens.bottles.status_dialogs import StatusDialog
from stillroom.screens.calculator.outcome import OutcomePane
from stillroom.screens.calculator.page import CalculatorPage
from stillroom.screens.cupboard.parts import PARTS
from stillroom.screens.help import FirstCautions, FramedText, acts_of
from stillroom.screens.kit.choice import Choice
from stillroom.screens.kit.dialog import DateDialog, Dialog, ReasonDialog, UndoDialog
from stillroom.screens.kit.page import Page
from stillroom.screens.kit.report import Report
from stillroom.screens.pages import PAGES
from stillroom.screens.papers.old_labels import OldLabelsDialog
from stillroom.screens.papers.paper_dialogs import CloseRecordDialog
from stillroom.screens.shelf_file.forget_dialogs import ForgetDialog
from stillroom.screens.shelf_file.import_dialogs import SheetDialog
from stillroom.screens.trace.page import WithdrawDialog

from .cli.answers import Say
from .cli.conftest import say  # noqa: F401  a fixture
from .make_sample_shelf import Dispensary
from .paper.reading import pages
from .reckoning.outcomes import EXAMPLES
from .screens.hands import let_pilots_wait, parse_styles_once
from .screens.screen_text import front_text, screen_text

OTHER_UNITS = [UnitSystem.US, UnitSystem.IMPERIAL]

METRIC = re.compile(r"\d\s?(?:mL|ml|mg|kg|g|L)(?![\w/])|\bper (?:mL|g|L|kg)\b|/(?:mL|ml|L|g|kg)\b")
POINT = re.compile(r"\d\.\d")
NOT_A_FIGURE = re.compile(
    r"\b\d\d-\d{3}\.\d+"  # the code of a bottle
    r"|\b(?:CFR|section|USP|NIST|ISO|RFC|Handbook|OIML|SR|ed\.|chapter|version|VERSION:)"
    r" ?[\d.]+(?:\(\w\))*"
    r"(?:(?:,| and|–| to) [\d.]+)*"
    r"|\b\w+[\w-]*\.(?:pdf|csv|txt|ics|stillroom|json)\b"
    r"|\b(?:[\d,]+|Density,?) g/mL"  # as the sources of densities print them
)
"""Codes, numbers of paragraphs, names of files and densities."""


def odd(
    text: str,
    allowed: tuple[str, ...] = (),
    patterns: tuple[re.Pattern[str], ...] = (METRIC, POINT),
) -> list[str]:
    """What reads as a metric unit or a decimal point, with the words around it."""
    text = " ".join(text.replace("│", " ").split())
    for words in allowed:
        text = text.replace(words, "")
    text = NOT_A_FIGURE.sub("", text)
    return [
        text[max(0, found.start() - 40) : found.end() + 20]
        for pattern in patterns
        for found in pattern.finditer(text)
    ]


def test_every_kind_of_metric_figure_would_be_found() -> None:
    for text in (
        "holds 250 mL",
        "weighs 3\u00a0g now",
        "1.5 fl oz",
        "€24.30",
        "drops per mL",
        "2 L",
    ):
        assert odd(text), text
    for text in ("26-005.1 holds 8,5 fl oz", "27 CFR 30.64", "3 g/dL"):
        assert not odd(text), text


@pytest.fixture(scope="module", params=OTHER_UNITS, ids=str)
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two years of the sample's dispensary, lived with other units and a decimal comma."""
    shelf = tmp_path_factory.mktemp("made") / "shelf.stillroom"
    clock = SetClock(datetime(2024, 1, 1, tzinfo=UTC))
    store = Store.open(shelf, create=True)
    keeper = Keeper(store, clock)
    settings = replace(settings_of(keeper), units=request.param, decimal_comma=True, currency="€")
    save_settings(keeper, settings)
    Dispensary(keeper, clock, random.Random(20261126)).run()
    remember(keeper, "cautions_read", f"{keeper.today}")
    store.close()
    return shelf


@pytest.fixture
def shelf(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it to work on, not judged at each command, and a folder for what is written."""
    judge = "stillroom.records.store.refuse_what_is_not_a_shelf"
    monkeypatch.setattr(judge, lambda path, newest: newest)
    copy = tmp_path / "shelf.stillroom"
    copy.write_bytes(made.read_bytes())
    monkeypatch.chdir(tmp_path)
    return copy


@pytest.fixture
def app(shelf: Path, clock: SetClock, monkeypatch: pytest.MonkeyPatch) -> Iterator[StillroomApp]:
    """The program on that shelf."""
    let_pilots_wait(monkeypatch)
    parse_styles_once(monkeypatch)
    store = Store.open(shelf)
    yield StillroomApp(Keeper(store, clock))
    store.close()


ON_PURPOSE = (
    # a note, shown as a person wrote it
    "Simmered half an hour, down to 350 mL; quite cold when the spirit went on.",
    # how amounts can be typed
    "1 1/2 cups, 250 ml, 2 lb 3 oz, 80 proof",
)
OF_A_SENTENCE = {
    CloseRecordDialog, DateDialog, FirstCautions, ForgetDialog, ReasonDialog, Report,
    StatusDialog, UndoDialog, WithdrawDialog,
}  # fmt: skip
"""They show a sentence that they are given, or what the help shows, too."""
AS_PRINTED = {OldLabelsDialog, SheetDialog}
"""They show what is on a label or in a sheet, in the units it was written in."""


NOT_TRIED = {"q", "u", "U", "tab", "shift+tab", "left", "right"}
"""Keys that would end the program, undo what was tried before, or go to the next part or field."""


class Walk:
    """Opens whatever a key opens, and gathers what is shown there."""

    def __init__(self, app: StillroomApp, pilot: Pilot[None]) -> None:
        self.app = app
        self.pilot = pilot
        self.seen: set[type[Screen[Any]]] = set()
        self.found: dict[str, None] = {}
        self.home = ""
        """The key of the page that is being looked at."""
        self.opened: set[str] = set()
        """Keys that have opened something from here, by their words."""
        self.explored: set[str] = set()
        """The pages whose keys have been tried, by what they show."""

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)

    def look(self) -> None:
        """Take down what is odd about the screen as it is."""
        screen = self.app.screen
        self.seen.add(type(screen))
        for words in odd(front_text(self.app), ON_PURPOSE):
            self.found.setdefault(f"{type(screen).__name__}: {words}")

    async def back_to(self, screen: Screen[Any]) -> bool:
        """Close all that was opened over a screen; whether that led back to it."""
        for _ in range(20):
            if self.app.screen is screen:
                return True
            is_page = any(type(self.app.screen).__name__ == entry.class_name for entry in PAGES)
            await self.press(self.home if is_page else "escape")
            if is_page:
                return self.app.screen is screen
        raise AssertionError(f"There is no way back from {self.app.screen}.")

    async def leave_fields(self) -> None:
        """Go back to the list, where a field would take the next key."""
        if isinstance(self.app.focused, Input | Choice):
            await self.press("escape")

    async def try_keys(self) -> None:
        """Press every key that the page offers, each once, and look at what it opens."""
        page = self.app.screen
        for act in acts_of(page):
            if act.heading in ("Move", "Pages", "Find and go back") or act.key in NOT_TRIED:
                continue
            if act.words in self.opened:
                continue
            await self.press(act.key)
            self.look()
            if self.app.screen is not page:
                self.opened.add(act.words)
                await self.explore()
            if not await self.back_to(page):
                return
            await self.leave_fields()

    async def explore(self) -> None:
        """Look further into what has just been opened."""
        opened = self.app.screen
        if isinstance(opened, Page):
            shown = front_text(self.app)
            if shown not in self.explored:
                self.explored.add(shown)
                await self.try_keys()
        elif isinstance(opened, Dialog) and opened.ACT == "Next":
            await self.press("ctrl+s")
            self.look()


EVERYWHERE = {str(binding.tooltip) for binding in Page.BINDINGS if isinstance(binding, Binding)}
"""What the keys that every page has do, by their words."""
OF_WHAT_IS_CHOSEN = {
    str(each.tooltip)
    for each in Page.BINDINGS
    if isinstance(each, Binding) and each.id == "page.correct"
}
"""Those that open something else at another line all the same."""
TRIED_AT = {
    "shelves": ("",),
    "bottles": ("", "down down down space down space"),
    "calculator": ("",),
    "cupboard": ("", *["tab"] * (len(PARTS) - 1)),
    "ledger": ("",),
    "year": ("", "tab", "tab", "tab"),
}
"""Keys to the places of each page where its keys are tried."""
OPENED_AT = (
    ("1", "26-017", "p"),
    ("2", "Winter", "enter f"),
    ("4 shift+tab", "Plantain", "l"),
)
"""A page, what to find on it, and the keys of a form that is opened for such a line alone."""


def forms() -> set[type[Screen[Any]]]:
    """Every form and sheet of the program."""
    for module in walk_packages(stillroom.screens.__path__, "stillroom.screens."):
        import_module(module.name)
    found: set[type[Screen[Any]]] = set()
    waiting: list[type[Any]] = [Dialog, Page, FramedText]
    while waiting:
        kinds = waiting.pop().__subclasses__()
        waiting += kinds
        found |= {kind for kind in kinds if kind.__module__.startswith("stillroom.")}
    return {kind for kind in found if not kind.__subclasses__()}


@pytest.mark.parametrize("made", [UnitSystem.US], indirect=True, ids=str)
async def test_no_page_or_form_shows_other_units(app: StillroomApp) -> None:
    """In one system, as this takes a minute: every form asks the same printer for its figures."""
    async with app.run_test(size=(90, 44), notifications=True) as pilot:
        walk = Walk(app, pilot)
        for entry in PAGES:
            walk.home = entry.key
            await walk.press(entry.key)
            assert type(app.screen).__name__ == entry.class_name
            await walk.leave_fields()
            walk.look()
            walk.opened.clear()
            for keys in TRIED_AT[entry.name]:
                # The rest may open something else at another line.
                walk.opened &= EVERYWHERE - OF_WHAT_IS_CHOSEN
                await walk.press(*keys.split())
                await walk.try_keys()
        for page_keys, words, keys in OPENED_AT:
            await walk.press(*page_keys.split(), "slash", *words, "enter", *keys.split())
            assert isinstance(app.screen, Dialog), (words, keys)
            walk.look()
            await walk.press("escape")
        await walk.press(walk.home)
        page = app.screen
        for command in app.get_system_commands(page):
            if command.title in {
                "Back up",
                "Restore",
                "Correct any entry",
                "Import your own list",
                "Import an edited export",
                "Merge another shelf",
            }:
                command.callback()
                await pilot.pause()
                walk.look()
                await walk.explore()
                await walk.back_to(page)
    assert list(walk.found) == [], "\n".join(walk.found)
    assert forms() - walk.seen - OF_A_SENTENCE - AS_PRINTED == set()


@pytest.mark.parametrize("units", OTHER_UNITS)
@pytest.mark.parametrize("kind", Kind)
def test_no_refusal_of_an_entry_shows_other_units(kind: Kind, units: UnitSystem) -> None:
    if kind not in BOUNDS:
        return
    notation = Notation(units, decimal_comma=True)
    for wrong in ("x", "-1", "1.5.5", "99999999999"):
        with suppress(NotUnderstood):
            notation.read(kind, wrong)
            continue
        with pytest.raises(NotUnderstood) as refused:
            notation.read(kind, wrong)
        assert odd(str(refused.value), (wrong,)) == []


SHOWN_WITH: dict[str, Any] = {"jar-strength": {"pours": [{"volume": 600.0, "strength": 40.0}]}}
"""What an example lacks on screen, where blank rows don't count."""


def example_of(calculator: Calculator) -> dict[str, Any]:
    """The example of a calculator, its rows filled in as the form does it."""
    values: dict[str, Any] = EXAMPLES[calculator.name] | SHOWN_WITH.get(calculator.name, {})
    for field in calculator.fields:
        if field.columns and field.key in values:
            usual = {column.key: column.default for column in field.columns}
            values[field.key] = [usual | row for row in values[field.key]]
    return values


def all_but(
    calculator: Calculator, values: dict[str, Any]
) -> tuple[tuple[str, ...], tuple[re.Pattern[str], ...]]:
    """What may be shown: findings as they were published, and metric units where it converts."""
    sources = calculator.reckon(values).sources
    cited = tuple(each if isinstance(each, str) else each.text for each in sources)
    patterns = (POINT,) if calculator.name == "convert" else (METRIC, POINT)
    return cited + ON_PURPOSE, patterns


def is_torn(line: str, following: str) -> bool:
    """Whether a line ends between a number and its unit."""
    return bool(
        re.search(r"\d$", line.strip()) and re.match(r"(?:%|fl oz|oz|lb|°)", following.strip(" ·!"))
    )


async def test_no_calculator_shows_other_units(app: StillroomApp) -> None:
    found: dict[str, None] = {}
    async with app.run_test(size=(120, 60)) as pilot:
        await pilot.press("3")
        await pilot.pause()
        page = app.screen
        assert isinstance(page, CalculatorPage)
        pane = page.query_one(OutcomePane)
        for name, calculator in calculators().items():
            values = example_of(calculator)
            page.begin(name, values)
            for _ in range(3):  # rows of a list are made one after the other
                await pilot.pause()
            assert pane.figure, name
            lines = [pane.render_line(y).text for y in range(pane.virtual_size.height)]
            assert not [each for each in pairwise(lines) if is_torn(*each)], name
            found |= dict.fromkeys(odd(" ".join(lines), *all_but(calculator, values)))
            pane.display = False
            await pilot.pause()
            found |= dict.fromkeys(odd(screen_text(app), *all_but(calculator, values)))
            pane.display = True
    assert list(found) == [], "\n".join(found)


CALLS = (
    "today", "jars", "bottles", "bottles --empties", "trace 26-005.1", "trace 26-005",
    "recall --herb Calendula", "recall --spirit Vodka", "ledger", "labels 26-005 --text",
    "correct 26-005", "correct 26-005 yield=x", "correct 26-005 weight=100oz --dry-run",
    "correct 26-005 filled=1Jan2030", "correct 26-005 bottle-1.size=1floz --dry-run",
    "correct 26-005 yield=17floz --dry-run", "correct 26-005.1 volume=7floz",
    "labels 26-005 --to labels.pdf", "record 26-005", "record 26-005 --to record.pdf",
    "daysheet", "daysheet --to day.pdf", "shelflist", "shelflist --to shelves.pdf",
    "stocklist", "stocklist --to stock.pdf", "calendar", "draw 26-005.1 1 fl oz",
    "draw 26-005.1 9999 fl oz", "draw 26-005.1 x", "shake --all", "undo", "redo", "export out",
    "import out", "import out --dry-run", "backup copy.stillroom", "restore copy.stillroom",
    "restore copy.stillroom --yes", "check", "calculate", "calculate fill mass=x",
    "release 26-005", "reject 26-006", "withdraw vodka --dry-run", "withdraw 26-005 --why x",
    "withdrawn", "withdrawn --to withdrawn.pdf", "close 2026-09", "close 26-005",
    "year", 'year --from "1 Oct 2025" --to "30 Sep 2026"', "plan", "plan --months 18",
    "people", "people --of 26-005", "lots", "liquids", "cupboard Vodka left=10oz --dry-run",
    "liquids add name=Honey kind=honey bought=1lb --dry-run",
    "lots add herb=Calendula part=flower condition=fresh weight=2lb --dry-run",
    "pour-again 26-017 pour='10 fl oz;Vodka' --dry-run", "pour-again 26-017 pour=x",
    "join 26-017 26-014", "thin 26-017 target=30% --dry-run", "thin 26-017 target=99%",
    "loss 26-017 volume=1floz kind=dregs", "loss 26-017 volume=999floz",
    "returned 26-005.1 volume=1floz --dry-run", "returned 26-005.1 volume=999floz",
    "strain 26-018 yield=x",
    "strain 26-018 yield=9floz method=drained more=yes --dry-run",
)  # fmt: skip
"""Commands with what they print for people; the forms and lists come as in their own help."""
FORMS = [
    EXAMPLES_OF_COMMANDS[name]
    for name in COMMANDS
    if name not in {call.split()[0] for call in CALLS} | {"settings"}
]


def test_no_command_or_paper_shows_other_units(say: Say, shelf: Path) -> None:  # noqa: F811
    found: dict[str, None] = {}
    for call in (*FORMS, "settings", *CALLS):
        answer = say("--shelf", shelf, *shlex.split(call))
        assert answer.code in (0, 2), (call, answer)
        printed = re.sub(r"\r?\n ", "", answer.out) if call == "calendar" else answer.out
        for words in odd(printed + answer.err, ON_PURPOSE):
            found[f"{call}: {words}"] = None
    papers = list(shelf.parent.glob("*.pdf"))
    assert len(papers) == sum(".pdf" in call for call in (*FORMS, *CALLS))
    for paper in papers:
        for words in odd(" ".join(pages(paper.read_bytes())), ON_PURPOSE):
            found[f"{paper.name}: {words}"] = None
    assert list(found) == [], "\n".join(found)


def test_no_calculator_prints_other_units(say: Say, shelf: Path) -> None:  # noqa: F811
    found: dict[str, None] = {}
    for name, calculator in calculators().items():
        values = example_of(calculator)
        known = say("--shelf", shelf, "calculate", name)
        answer = say("--shelf", shelf, "calculate", name, *as_typed(calculator, values))
        assert (known.code, answer.code) == (0, 0), answer.err
        for words in odd(known.out + answer.out, *all_but(calculator, values)):
            found[f"{name}: {words}"] = None
    assert list(found) == [], "\n".join(found)


def as_typed(calculator: Calculator, values: dict[str, Any]) -> list[str]:
    """The values of an example, held in metric units, as they are typed at the command line."""
    units = {Kind.VOLUME: " ml", Kind.MASS: " g", Kind.TEMPERATURE: " °C"}
    fields = {field.key: field for field in calculator.fields}

    def one(field: Field, value: object) -> str:
        return f"{value}{units.get(field.kind, '')}"

    words = []
    for key, value in values.items():
        rows = value if fields[key].columns else [{key: value}]
        columns = fields[key].columns or (fields[key],)
        for row in rows:
            given = [f"{c.key}={one(c, row[c.key])}" for c in columns if row.get(c.key) is not None]
            words.append(f"{key}={';'.join(given)}" if fields[key].columns else given[0])
    return words
