"""Every view in every theme and on every kind of terminal: contrast, glyphs, keys in sight."""

import os
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from rich.cells import cell_len
from rich.color import Color, ColorSystem
from rich.console import Console
from rich.style import Style
from textual.errors import NoWidget
from textual.screen import ModalScreen
from textual.theme import Theme
from textual.widgets import Input

from stillroom.errors import NotUnderstood
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import save_settings, settings_of
from stillroom.screens import terminal
from stillroom.screens.app import StillroomApp
from stillroom.screens.calculator.fields import RowField
from stillroom.screens.glyphs import PLAIN_SET, STAND_INS, plain
from stillroom.screens.kit.keyline import KeyLine
from stillroom.screens.kit.named_field import NamedField
from stillroom.screens.kit.page import Page
from stillroom.screens.pages import PAGES
from stillroom.screens.themes import (
    DUSK,
    DUSK_16,
    NOON,
    NOON_16,
    fitting,
    is_of_few_colours,
)

from .every_view import every_view
from .screen_text import Segments, front_region, front_segments, screen_text

LONG_FORM = bool(os.environ.get("LONG_FORM"))
Palette = tuple[tuple[int, int, int], ...]


def palette(text: str) -> Palette:
    """Sixteen colours written in hexadecimal."""
    return tuple((int(c[:2], 16), int(c[2:4], 16), int(c[4:], 16)) for c in text.split())


CONSOLE = palette(
    "000000 aa0000 00aa00 aa5500 0000aa aa00aa 00aaaa aaaaaa "
    "555555 ff5555 55ff55 ffff55 5555ff ff55ff 55ffff ffffff"
)
"""What the Linux console begins with: `default_red` and so on of drivers/tty/vt/vt.c."""
XTERM = palette(
    "000000 cd0000 00cd00 cdcd00 0000ee cd00cd 00cdcd e5e5e5 "
    "7f7f7f ff0000 00ff00 ffff00 5c5cff ff00ff 00ffff ffffff"
)
"""xterm's own colours: color0 to color15 of its XTerm-col resources, by X11's rgb.txt."""
THEMES = {
    fitting(theme, has_few_colours=few): few for few in (False, True) for theme in ("dusk", "noon")
}
FRAMES = "─│╭╮╰╯━┃┏┓┗┛┴┻▁▂▃▄▅▆▇█▔▌"
"""What frames, walls, levels and bars are drawn with."""


def luminance(rgb: tuple[int, int, int]) -> float:
    """Relative luminance (WCAG 2.2)."""
    red, green, blue = (
        c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in rgb
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(ink: tuple[int, int, int], ground: tuple[int, int, int]) -> float:
    """Contrast ratio (WCAG 2.2)."""
    high, low = sorted((luminance(ink), luminance(ground)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_measured_by_the_published_formula() -> None:
    """Pairs of WCAG's own technique G18 and of W3C's understanding document."""
    assert contrast((0, 0, 0), (255, 255, 255)) == 21
    assert contrast((0x77, 0x77, 0x77), (255, 255, 255)) == pytest.approx(4.48, abs=0.01)
    assert contrast((0x94, 0x94, 0x94), (255, 255, 255)) == pytest.approx(3.03, abs=0.01)


def weakest(style: Style, *, few: bool) -> float:
    """The contrast of a style as sent: rounded to 256 colours, too, or to the worse sixteen."""
    ink, ground = style.color, style.bgcolor
    assert ink is not None
    assert ground is not None
    if style.reverse:
        ink, ground = ground, ink
    if not few:
        rounded = [each.downgrade(ColorSystem.EIGHT_BIT) for each in (ink, ground)]
        return min(
            contrast(ink.get_truecolor(), ground.get_truecolor()),
            contrast(rounded[0].get_truecolor(), rounded[1].get_truecolor()),
        )
    numbers = [_sixteen(each) for each in (ink, ground)]
    # Bold may be shown by the bright one of a dark ink's pair (`boldColors` of xterm, as seen).
    own = 1 if style.reverse else 0
    if style.bold and numbers[own] < 8:
        bold = list(numbers)
        bold[own] += 8
    else:
        bold = numbers
    # A terminal of eight grounds shows the dark one of a bright one's pair.
    return min(
        contrast(colours[ink], colours[ground % grounds])
        for ink, ground in (numbers, bold)
        for colours, grounds in ((CONSOLE, 8), (XTERM, 16))
    )


def test_bold_black_counts_as_the_grey_that_terminals_draw() -> None:
    black_on_grey = Style(color=Color.from_ansi(0), bgcolor=Color.from_ansi(7))
    assert weakest(black_on_grey, few=True) > 7
    assert weakest(black_on_grey + Style(bold=True), few=True) < 4


def _sixteen(colour: Color) -> int:
    number = colour.downgrade(ColorSystem.STANDARD).number
    assert number is not None
    return number


@pytest.mark.parametrize("theme", [DUSK, NOON], ids=["dusk", "noon"])
def test_large_backgrounds_keep_their_hue_in_256_colours(theme: Theme) -> None:
    """Rounded, the brown of a panel was red in xterm, and that of a plank olive."""
    plank = theme.variables["secondary-muted"]
    for ground in (theme.background, theme.surface, theme.panel, plank):
        assert ground is not None
        chosen = Color.parse(ground)
        rounded = chosen.downgrade(ColorSystem.EIGHT_BIT)
        spread, spread_256 = (
            max(rgb) - min(rgb) for rgb in (chosen.get_truecolor(), rounded.get_truecolor())
        )
        assert spread_256 <= spread + 40, ground


@pytest.mark.parametrize("theme", [DUSK, NOON, DUSK_16, NOON_16], ids=lambda theme: theme.name)
def test_the_thumb_of_a_scroll_bar_contrasts_with_everything_beside_it(theme: Theme) -> None:
    for state in ("", "-hover", "-active"):
        thumb = theme.variables[f"scrollbar{state}"]
        track = theme.variables[f"scrollbar-background{state}"]
        for beside in (track, theme.background, theme.surface):
            assert beside is not None
            style = Style(color=thumb, bgcolor=beside)
            assert weakest(style, few=is_of_few_colours(theme.name)) >= 3, (state, beside)


def weak_spots(front: Segments, theme: str) -> Iterator[str]:
    """What is hard to read or to see of what is in front."""
    for text, style in (segment for line in front for segment in line):
        if style is None:
            continue
        is_text = any(c.isalnum() for c in text)
        least = 4.5 if is_text else 3 if set(text) & set(FRAMES) else 0
        if least and (style.dim or weakest(style, few=THEMES[theme]) < least):
            yield f"{theme}, {style}: {text!r}"


def unmarked_fields(app: StillroomApp, front: Segments) -> Iterator[str]:
    """Fields in sight that are not underlined from end to end, in the colour of their text."""
    rows = [[style for text, style in line for _ in range(cell_len(text))] for line in front]
    left, top = front_region(app).offset
    for field in app.screen.query(Input):
        try:
            seen = app.screen.find_widget(field).visible_region
        except NoWidget:  # not on show
            continue
        seen = seen.intersection(field.content_region)
        for y in seen.line_range:
            styles = rows[y - top][seen.x - left : seen.right - left]
            if not all(style and style.underline for style in styles):
                yield f"{app.theme}: the field {field.value or field.placeholder!r}"


def lacking_key_line(app: StillroomApp, front: Segments) -> Iterator[str]:
    """Keys that each view names, and this one does not."""
    view = app.screen
    if not view.query(KeyLine):
        return
    region, top = view.query_one(KeyLine).region, front_region(app).y
    shown = text_of(front[region.y - top : region.bottom - top])
    if isinstance(view, Page):
        needed = ["Help", "Quit", "Undo", "Pages"]
    elif isinstance(view, ModalScreen):
        needed = [" esc "]
    else:
        needed = ["Help", "End"]
    yield from (each for each in needed if each not in shown)


def text_of(front: Segments) -> str:
    """The words of what is in front, line by line."""
    return "\n".join("".join(text for text, _ in line) for line in front)


def crowded_words(app: StillroomApp) -> Iterator[str]:
    """Names of fields that touch the field beside them, and words beside a field that are cut."""
    for each in app.screen.query(NamedField):
        has_name_above = isinstance(each, RowField)
        if each.region.width and not has_name_above and cell_len(each.label) > each.name_width:
            yield f"touches its field: {each.label!r}"
        if 0 < each.hint_width < cell_len(each.hint):
            yield f"is cut: {each.hint!r}"


def theme_for(view: str, *, few: bool) -> str:
    """One of two themes for all views of a page: dusk for few colours where noon is for many.

    What is opened after the last page keeps its theme.
    """
    pages = [page.name for page in PAGES]
    page = view.split()[0]
    at = pages.index(page) if page in pages else len(pages) - 1
    return [theme for theme, has_few in THEMES.items() if has_few == few][(at + few) % 2]


@pytest.fixture(scope="module")
def fonts() -> set[str]:
    """The glyphs that all console fonts have, from their own tables."""
    sets = [set(map(chr, range(32, 127)))]
    lines = (Path(__file__).parent / "console_fonts.txt").read_text().splitlines()
    sets = [set(line.partition(" ")[2]) for line in lines if not line.startswith("#")]
    assert len(sets) == 3
    # Code page 437 by Python's codec; its arrows are the glyphs of control codes, by IBM's table.
    sets.append(set(bytes(range(128, 255)).decode("cp437")) | set("↑↓→←"))
    return set.intersection(*sets) | set(map(chr, range(32, 127)))


async def test_every_text_and_shape_contrasts_with_its_background_in_every_view(
    stocked: Keeper,
) -> None:
    """The views of each page in one of two themes; with LONG_FORM=1 in all four."""
    app = StillroomApp(stocked)
    weak: dict[str, str] = {}
    views = 0
    async with app.run_test(size=(80, 24)) as pilot:
        async for view in every_view(app, pilot):
            views += 1
            for theme in THEMES if LONG_FORM else [theme_for(view, few=False)]:
                app.theme = theme
                await pilot.pause()
                front = front_segments(app)
                for spot in (*weak_spots(front, theme), *unmarked_fields(app, front)):
                    weak.setdefault(spot, view)
            for key in lacking_key_line(app, front):
                weak.setdefault(f"no {key}", view)
            for words in crowded_words(app):
                weak.setdefault(words, view)
    assert "\n".join(f"{where}: {spot}" for spot, where in weak.items()) == ""
    assert views > 60


@pytest.mark.parametrize("size", [(53, 20)] + ([(40, 20), (80, 24)] if LONG_FORM else []))
async def test_a_console_is_sent_only_what_its_fonts_have(
    stocked: Keeper, fonts: set[str], monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    """And all of it is readable in sixteen colours, with the keys that lead on or out in sight."""
    monkeypatch.setenv("TERM", "linux")
    monkeypatch.delenv("COLORTERM", raising=False)
    app = StillroomApp(stocked)
    assert app.is_plain
    assert app.theme == "larder-dusk-16"
    odd: dict[str, str] = {}
    views = 0
    async with app.run_test(size=size) as pilot:
        async for view in every_view(app, pilot):
            views += 1
            app.theme = theme_for(view, few=True)
            await pilot.pause()
            front = front_segments(app)
            lacking = {
                c for c in set(text_of(front)) - fonts - {"\n"}
                if not unicodedata.name(c).startswith(("CJK", "GREEK", "CYRILLIC"))
            }  # fmt: skip
            if lacking:
                odd.setdefault(f"draws {''.join(sorted(lacking))}", view)
            for spot in (*weak_spots(front, app.theme), *unmarked_fields(app, front)):
                odd.setdefault(spot, view)
            for key in lacking_key_line(app, front):
                odd.setdefault(f"no {key}", view)
    assert "\n".join(f"{where}: {spot}" for spot, where in odd.items()) == ""
    assert views > 60


def test_the_plain_set_is_what_all_console_fonts_have(fonts: set[str]) -> None:
    assert set(PLAIN_SET) <= fonts
    for glyph, stand_in in STAND_INS.items():
        assert set(stand_in) <= fonts
        assert cell_len(stand_in) == cell_len(glyph)


@pytest.mark.parametrize("encoding", ["ascii", "iso-8859-1", "koi8-r", "utf-8"])
def test_plain_text_can_be_written_in_any_locale_and_has_the_same_width(encoding: str) -> None:
    for text in ("╭─┴ Échinacée ▇ ✓ ⏎ … ‹ 1 × 2 ›", "金盏花 Ж [50%] 🔎", "½ ₂ € ’s │▌█"):
        drawn = plain(text, encoding)
        drawn.encode(encoding)
        assert cell_len(drawn) == cell_len(text)


@pytest.mark.parametrize(
    ("environ", "none", "few"),
    [
        ({"TERM": "xterm-256color"}, False, False),
        ({"TERM": "xterm", "COLORTERM": "truecolor"}, False, False),
        ({"TERM": "xterm"}, False, True),
        ({"TERM": "screen"}, False, True),
        ({"TERM": "linux"}, False, True),
        ({"TERM": "linux", "COLORTERM": "truecolor"}, False, True),
        ({"TERM": "made-up"}, False, True),
        ({"TERM": "vt100"}, True, True),
        ({}, True, True),
        ({"TERM": "xterm", "NO_COLOR": "1"}, True, True),
        ({"TERM": "xterm", "NO_COLOR": ""}, False, True),
    ],
)
def test_colours_follow_what_the_terminal_can_do(
    environ: dict[str, str], none: bool, few: bool
) -> None:
    system = Console(force_terminal=True, _environ=environ).color_system
    assert terminal.shows_no_colours(environ) == none
    assert terminal.has_few_colours(system, environ) == few


@pytest.mark.parametrize(
    ("name", "encoding", "is_plain"),
    [("xterm", "utf-8", False), ("linux", "utf-8", True), ("vt100", "utf-8", True),
     ("", "utf-8", True), ("xterm", "iso-8859-1", True), ("xterm", "ANSI_X3.4-1968", True)],
)  # fmt: skip
def test_glyphs_follow_the_terminal_and_the_locale(
    name: str, encoding: str, is_plain: bool
) -> None:
    assert terminal.is_plain(encoding, {"TERM": name} if name else {}) == is_plain


async def test_theme_and_glyphs_are_settings_and_are_saved(keeper: Keeper) -> None:
    app = StillroomApp(keeper)
    async with app.run_test(size=(80, 24)) as pilot:
        assert app.theme == "larder-dusk"
        app.action_change_theme()
        await pilot.pause()
        assert app.theme == "larder-noon"
    save_settings(keeper, replace(settings_of(keeper), glyphs="plain"))
    app = StillroomApp(keeper)
    assert app.theme == "larder-noon"
    assert app.is_plain
    async with app.run_test(size=(80, 24)) as pilot:
        save_settings(keeper, replace(settings_of(keeper), theme="dusk"))
        app.changed()
        await pilot.pause()
        assert app.theme == "larder-dusk"
        assert "enter Open" in screen_text(app) or "tab" not in screen_text(app)
    with pytest.raises(NotUnderstood, match="dusk, noon"):
        save_settings(keeper, replace(settings_of(keeper), theme="puce"))
