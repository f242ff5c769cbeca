"""The board: where jars are, how the cursor moves, and how little is drawn for it."""

from collections.abc import Callable
from datetime import date, timedelta
from itertools import product

import pytest
from rich.color import Color
from textual.app import App, ComposeResult

from stillroom.keeping.cards import JarCard, ShelfView, ShelvesView
from stillroom.reckoning.charge import Condition, Part
from stillroom.screens import themes
from stillroom.screens.drawing import jar_art, look, painter
from stillroom.screens.drawing.big_jar import BigJar
from stillroom.screens.drawing.letters import big
from stillroom.screens.drawing.look import Line
from stillroom.screens.shelves.board import Board
from stillroom.screens.shelves.finding import matching
from stillroom.screens.shelves.planks import Planks, Spot

from .screen_text import screen_text

TODAY = date(2026, 11, 26)
HERBS = ("Calendula", "Yarrow", "Angelica", "Mugwort", "Rosemary", "Elecampane", "Wormwood")


def jar(jar_id: int, herb: str = "", days: int = 5, shelf_id: int = 1) -> JarCard:
    """A jar of a fortnight's steep with so many days left."""
    strain_on = TODAY + timedelta(days=days)
    return JarCard(
        jar_id=jar_id,
        code=f"26-{jar_id:03}",
        herb=herb or HERBS[jar_id % len(HERBS)],
        more_herbs=0,
        part=Part.LEAF,
        condition=Condition.DRIED,
        filled_on=strain_on - timedelta(days=14),
        strain_on=strain_on,
        shakes_per_day=1,
        shaken=0,
        covered=True,
        shelf_id=shelf_id,
        place=jar_id,
    )


def shelf(shelf_id: int, *jars: JarCard, name: str = "", note: str = "") -> ShelfView:
    """A shelf."""
    return ShelfView(shelf_id, name or f"Shelf {shelf_id}", note, jars)


def shelves(*each: ShelfView, today: date = TODAY) -> ShelvesView:
    """Shelves on a day."""
    return ShelvesView(today, each)


def many(count: int) -> ShelvesView:
    """So many jars, forty to a shelf."""
    cards = [jar(at, shelf_id=at // 40) for at in range(count)]
    return shelves(*(shelf(at // 40, *cards[at : at + 40]) for at in range(0, count, 40)))


LARDER = shelves(
    shelf(1, *(jar(at) for at in range(6)), name="North larder", note="dark and dry"),
    shelf(2, name="Cellar"),
    shelf(3, *(jar(at, shelf_id=3) for at in (10, 11, 12)), name="Window sill"),
)
"""On 80 columns: planks of four and two jars, an empty one, and one of three."""


class BoardApp(App[None]):
    """A board and nothing else, keeping what it says."""

    def __init__(self, view: ShelvesView, hint: str = "", *, is_plain: bool = False) -> None:
        super().__init__()
        themes.register(self)
        self.theme = themes.DUSK.name
        self.board = Board(is_plain=is_plain, when_chosen=self._when_chosen)
        self.first = view
        self.hint = hint
        self.said: list[tuple[str, int | None]] = []

    def compose(self) -> ComposeResult:
        yield self.board

    def on_mount(self) -> None:
        self.board.show(self.first, self.hint)
        self.board.focus()

    def _when_chosen(self) -> None:
        self.said.append(("chosen", self.chosen))

    def on_board_opened(self, event: Board.Opened) -> None:
        assert event.control is self.board
        self.said.append(("opened", event.jar_id))

    @property
    def chosen(self) -> int | None:
        """The chosen jar."""
        return self.board.selected.jar_id if self.board.selected else None


async def test_jars_are_on_planks_with_the_name_of_the_shelf() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        lines = screen_text(app).splitlines()
    assert lines[0].split() == ["26-000", "26-001", "26-002", "26-003"]
    assert "day 9 of 14" in lines[8]
    assert lines[9].startswith("━━ North larder · dark and dry ━")
    assert lines[9].endswith("6 jars, plank 1 of 2 ━━")
    assert lines[10].split() == ["26-004", "26-005"]
    assert lines[19].endswith("6 jars, plank 2 of 2 ━━")


async def test_twelve_whole_jars_are_visible_on_80_by_20() -> None:
    app = BoardApp(shelves(shelf(1, *(jar(at) for at in range(20)))))
    async with app.run_test(size=(80, 20)) as pilot:
        await pilot.pause()
        text = screen_text(app)
    assert text.count("○ to shake") == 16  # of the last four, the first rows only
    assert text.count("days") == 12
    five = big("5")
    assert five is not None
    assert text.count(five[0].strip()) >= 12


async def test_with_few_rows_short_shelves_share_a_plank() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 20)) as pilot:
        await pilot.pause()
        lines = screen_text(app).splitlines()
        assert [line.split()[::4] for line in lines[6:7]] == [["26-004", "26-005", "26-010"]]
        assert "room for a jar" in lines[8]
        edge = lines[11]
        assert edge.index("North larder") < edge.index("Cellar") < edge.index("Window sill")
        # By keys and by mouse every jar is where it is drawn.
        await pilot.press("down", "right", "right")
        assert app.chosen == 10
        await pilot.press("up")
        assert app.chosen == 3
        await pilot.click(Board, offset=(25, 8))
        assert app.chosen == 5
        await pilot.click(Board, offset=(45, 8))
        assert app.chosen == 5  # nothing is on the empty shelf
        await pilot.press("down")
        assert app.chosen == 12


@pytest.mark.parametrize("size", [(80, 40), (120, 40), (200, 50), (240, 60)])
async def test_from_thirty_rows_up_the_most_urgent_jar_is_largest_and_no_name_is_cut(
    size: tuple[int, int],
) -> None:
    long = "Elderflower from the three old trees behind the chapel"
    cards = [jar(0, long), jar(1, days=0), jar(2, days=-3), jar(3, days=-2)]
    app = BoardApp(shelves(shelf(1, *cards)))
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        text = screen_text(app)
        assert "…" not in text
        late, less_late = big("+3", 2 + (size[0] > 150)), big("+2", 1 + (size[0] > 150))
        assert late
        assert less_late
        assert all(row.strip() in text for row in (*late, *less_late))
        assert all(word in text for word in long.split())
        # Once it is strained the next one is the largest.
        app.board.show(app.board.view.with_jar(cards[2]._replace(to_bottle_ml=80.0)))  # type: ignore[union-attr]
        await pilot.pause()
        grown = big("+2", 2 + (size[0] > 150))
        assert grown
        assert all(row.strip() in screen_text(app) for row in grown)


def test_each_plank_has_its_jars_once_and_at_the_right_columns() -> None:
    """Against a simple walk: shelves of every small size, wide jar anywhere, shared or not."""
    for sizes in product(range(5), repeat=3):
        view = shelves(*(shelf(at, *(jar(n) for n in range(s))) for at, s in enumerate(sizes)))
        spots = [Spot(at, place) for at, size in enumerate(sizes) for place in range(size)]
        for per_plank, shares, wide in product((1, 2, 3), (False, True), (None, *spots)):
            planks = Planks(view, per_plank, shares=shares, wide=wide)
            drawn = []
            for at, row in enumerate(planks.rows):
                taken: list[int] = []
                for stretch in row:
                    for spot, column, columns in stretch.places():
                        drawn.append(spot)
                        taken += range(column, column + columns)
                        assert columns == 1 + (spot == wide and per_plank > 1)
                        assert planks.stretch_of(spot) == stretch
                        assert stretch.plank == at
                        assert stretch.column_of(spot) == column
                        assert stretch.spot_at(column + columns - 1) == spot
                        assert planks.nearest(at, column) == spot
                assert len(set(taken)) == len(taken)
                assert all(0 <= column < per_plank for column in taken)
            assert drawn == spots


async def test_a_wide_screen_shows_more_and_larger_jars() -> None:
    app = BoardApp(many(40))
    async with app.run_test(size=(120, 40)) as pilot:
        await pilot.pause()
        assert len(screen_text(app).splitlines()[0].split()) == 6
        await pilot.resize_terminal(200, 50)
        await pilot.pause()
        text = screen_text(app)
    large_five = big("5", 2)
    assert large_five is not None
    assert len(text.splitlines()[0].split()) == 7
    assert large_five[0].strip() in text


async def test_an_empty_shelf_has_a_plank() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 40)) as pilot:
        await pilot.pause()
        lines = screen_text(app).splitlines()
    plank = next(at for at, line in enumerate(lines) if "Cellar" in line)
    assert lines[plank].endswith("no jars ━━")
    assert "room for a jar" in lines[plank - 1]


async def test_the_hint_is_shown_only_while_there_are_no_jars() -> None:
    app = BoardApp(shelves(shelf(1, name="Larder")), "Nothing yet.\n\nPress n to fill one.")
    async with app.run_test(size=(60, 16)) as pilot:
        await pilot.pause()
        text = screen_text(app)
        assert "Larder" in text
        assert "Nothing yet." in text
        assert "Press n to fill one." in text
        app.board.show(LARDER, "Nothing yet.")
        await pilot.pause()
        assert "Nothing yet." not in screen_text(app)


async def test_awkward_names_do_not_shift_the_jars() -> None:
    names = ("[red]Rue[/red]", "カモミールの花と葉", "Tab\tnew\nline\x07", "زهرة العطاس الجبلية")
    view = shelves(shelf(1, *(jar(at, name) for at, name in enumerate(names)), name="[b]\nTop"))
    app = BoardApp(view)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        strips = [line for line in screen_text(app).splitlines() if "│" in line]
    assert "[red]Rue[/red]" in strips[0]
    assert "Tab new line" in strips[0]
    assert all(line.count("│") + line.count("┃") == 8 for line in strips)


async def test_a_plain_board_uses_only_ascii_and_simple_boxes() -> None:
    app = BoardApp(LARDER, is_plain=True)
    async with app.run_test(size=(80, 40)) as pilot:
        app.board.styles.scrollbar_size_vertical = 0
        await pilot.pause()
        text = screen_text(app)
    assert {c for c in text if not c.isascii()} <= set("┌─┐│└┘┴")
    assert "== North larder - dark and dry =" in text


@pytest.mark.parametrize(
    "theme", ["larder-dusk", "larder-noon", "larder-dusk-16", "larder-noon-16"]
)
async def test_text_contrasts_with_its_background(theme: str) -> None:
    """At least 4.5 : 1, the usual mark for text that everyone can read."""
    cards = [
        jar(0),
        jar(1)._replace(shaken=1),
        jar(2, days=0),
        jar(3, days=-2),
        jar(4)._replace(to_bottle_ml=430.0),
        jar(5)._replace(covered=False, shakes_per_day=0),
        jar(6, days=1),
    ]
    app = BoardApp(shelves(shelf(1, *cards, note="dark"), shelf(2)))
    async with app.run_test(size=(160, 34)) as pilot:
        app.theme = theme
        await pilot.pause()
        pairs = {
            (segment.style.color, segment.style.bgcolor): segment.text
            for y in range(app.board.size.height)
            for segment in app.board.render_line(y)
            if segment.style and any(c.isalnum() for c in segment.text)
        }
    assert len(pairs) >= (5 if theme.endswith("-16") else 8)  # few colours make few pairs
    weak = {text: contrast(*pair) for pair, text in pairs.items() if contrast(*pair) < 4.5}
    assert not weak


def contrast(ink: Color | None, ground: Color | None) -> float:
    """Contrast ratio of two colours by their relative luminance (WCAG 2)."""

    def luminance(color: Color | None) -> float:
        assert color is not None
        shares = [value / 255 for value in color.get_truecolor()]
        red, green, blue = (
            share / 12.92 if share <= 0.03928 else ((share + 0.055) / 1.055) ** 2.4
            for share in shares
        )
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    high, low = sorted((luminance(ink), luminance(ground)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_every_ink_of_a_jar_has_a_colour() -> None:
    assert set(painter._INKS) == set(look.INKS)


async def test_any_theme_can_be_chosen() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        for theme in ("textual-light", "nord", "ansi-dark", "ansi-light", "larder-noon"):
            app.theme = theme
            await pilot.pause()
            text = screen_text(app)
            assert "North larder" in text
            # Where grounds have no colours, a ripple shows the liquid.
            assert ("~" in text) == theme.startswith("ansi")


@pytest.mark.parametrize(
    ("keys", "chosen"),
    [
        ([], 0),
        (["right"], 1),
        (["left"], 0),
        (["right"] * 4, 4),
        (["right"] * 6, 10),
        (["down"], 4),
        (["right", "right", "right", "down"], 5),
        (["right", "right", "down", "down"], 12),
        (["right", "right", "down", "up"], 2),
        (["down", "down", "up", "up", "up"], 0),
        (["end"], 12),
        (["end", "right", "down"], 12),
        (["end", "home"], 0),
        (["end", "left", "left", "left"], 5),
        (["pagedown"], 10),
        (["pagedown", "pageup"], 0),
        (["pagedown", "pagedown", "pageup"], 0),
    ],
)
async def test_arrow_keys_move_from_jar_to_jar(keys: list[str], chosen: int) -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press(*keys)
        assert app.chosen == chosen


async def test_the_chosen_jar_is_scrolled_into_view_with_its_plank() -> None:
    app = BoardApp(many(200))
    async with app.run_test(size=(80, 21)) as pilot:
        await pilot.press("end")
        await pilot.pause()
        text = screen_text(app)
        assert "26-199" in text
        assert "40 jars, plank 10 of 10" in text
        await pilot.press("home")
        await pilot.pause()
        assert "26-000" in screen_text(app).splitlines()[0]


async def test_up_from_the_first_jars_scrolls_to_what_is_above_them() -> None:
    app = BoardApp(shelves(shelf(1, name="Attic"), shelf(2, *(jar(at) for at in range(9)))))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("end", "up", "up")
        await pilot.pause()
        assert "Attic" not in screen_text(app)
        await pilot.press("up")
        await pilot.pause()
        assert "Attic" in screen_text(app)


async def test_the_chosen_jar_is_marked_without_colour() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("right")
        await pilot.pause()
        herbs = screen_text(app).splitlines()[2]
    assert "▶┃    Yarrow     ┃◀" in herbs
    assert herbs.count("▶") == 1


async def test_moving_and_opening_report_the_jar() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("right", "right", "left", "enter")
        await pilot.pause()
    assert app.said == [
        ("chosen", 0), ("chosen", 1), ("chosen", 2), ("chosen", 1), ("opened", 1)
    ]  # fmt: skip


async def test_a_click_selects_a_jar_and_a_second_click_opens_it() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.click(Board, offset=(45, 5))
        assert app.chosen == 2
        assert not any(said == "opened" for said, _ in app.said)
        await pilot.click(Board, offset=(45, 5))
        await pilot.pause()
        assert [jar_id for said, jar_id in app.said if said == "opened"] == [2]
        # Neither the plank's empty end nor its edge is a jar.
        await pilot.click(Board, offset=(60, 15))
        await pilot.click(Board, offset=(5, 9))
        assert app.chosen == 2


async def test_a_click_finds_the_jar_after_scrolling() -> None:
    app = BoardApp(many(200))
    async with app.run_test(size=(80, 30)) as pilot:
        app.board.scroll_to(y=100, animate=False)
        await pilot.pause()
        await pilot.click(Board, offset=(5, 5))
        assert app.chosen == 40


async def test_keys_and_clicks_on_an_empty_board_do_nothing() -> None:
    app = BoardApp(shelves(shelf(1), shelf(2)))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("up", "down", "left", "right", "home", "end", "pageup", "pagedown")
        await pilot.press("enter")
        await pilot.click(Board, offset=(5, 1))
        assert app.chosen is None
        assert not app.said


async def test_the_selection_stays_on_its_jar_when_the_shelves_change() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("right", "right")
        first = LARDER.shelves[0]
        moved = first._replace(jars=(jar(50), *first.jars))
        app.board.show(LARDER._replace(shelves=(moved, *LARDER.shelves[1:])))
        await pilot.pause()
        assert app.chosen == 2
        swapped = first._replace(jars=(first.jars[2], first.jars[1], first.jars[0]))
        app.board.show(shelves(swapped))
        app.board.show(shelves(swapped._replace(jars=swapped.jars[::-1])))
        await pilot.pause()
        assert app.chosen == 2
        assert screen_text(app).splitlines()[2].index("▶") == 39


async def test_when_the_selected_jar_goes_its_neighbour_is_selected() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press(*["right"] * 5)
        first = LARDER.shelves[0]
        app.board.show(shelves(first._replace(jars=first.jars[:-1]), *LARDER.shelves[1:]))
        assert app.chosen == 4
        app.board.show(shelves(first._replace(jars=()), *LARDER.shelves[1:]))
        assert app.chosen == 10
        app.board.show(shelves(first._replace(jars=())))
        assert app.chosen is None
        await pilot.pause()
        assert app.said[-1] == ("chosen", None)


async def test_the_selection_survives_a_change_of_width() -> None:
    app = BoardApp(many(200))
    async with app.run_test(size=(80, 30)) as pilot:
        app.board.select(150)
        await pilot.resize_terminal(130, 30)
        await pilot.pause()
        assert app.chosen == 150
        assert "26-150" in screen_text(app)


async def test_selecting_by_id_returns_whether_the_jar_exists() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)):
        assert app.board.select(12)
        assert app.chosen == 12
        assert not app.board.select(999)
        assert app.chosen == 12


async def test_on_a_new_day_every_countdown_changes() -> None:
    app = BoardApp(LARDER)
    async with app.run_test(size=(80, 30)) as pilot:
        app.board.show(LARDER._replace(today=TODAY + timedelta(days=1)))
        await pilot.pause()
        assert screen_text(app).count("day 10 of 14") == 6


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The ids of the jars that were drawn, in order."""
    ids: list[int] = []
    draw: Callable[..., list[Line]] = jar_art.small

    def note(card: JarCard, *args: object, **kwargs: object) -> list[Line]:
        ids.append(card.jar_id)
        return draw(card, *args, **kwargs)

    monkeypatch.setattr(jar_art, "small", note)
    return ids


@pytest.mark.parametrize("count", [12, 1_000, 10_000])
async def test_drawing_costs_no_more_with_ten_thousand_jars_than_with_twelve(
    count: int, drawn: list[int]
) -> None:
    app = BoardApp(many(count))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        # A dozen in view, and the chosen one perhaps once before the board knew its room.
        assert len(set(drawn)) == 12
        drawn.clear()
        app.board.show(app.board.view.with_jar(jar(0, shelf_id=0)._replace(shaken=1)))  # type: ignore[union-attr]
        await pilot.pause()
        assert "✓ shaken" in screen_text(app)
        assert drawn == [0]
        drawn.clear()
        await pilot.press("right")
        await pilot.pause()
        screen_text(app)
        assert sorted(drawn) == [0, 1]


async def test_a_change_out_of_view_is_drawn_when_it_is_scrolled_into_view() -> None:
    app = BoardApp(many(200))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.press("end", "home")
        app.board.show(many(200).with_jar(jar(198, shelf_id=4)._replace(shaken=1)))
        await pilot.press("end")
        await pilot.pause()
        assert screen_text(app).count("✓ shaken") == 1


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", [1, 2, 3, 4]),
        ("  ", [1, 2, 3, 4]),
        ("ROSE", [1]),
        ("echinacee", [2]),
        ("26-003", [3]),
        ("cellar", [3, 4]),
        ("cellar yarrow", [4]),
        ("leaf fresh", []),
        ("[", []),
    ],
)
def test_find_looks_at_names_and_codes_regardless_of_case_and_accents(
    text: str, found: list[int]
) -> None:
    view = shelves(
        shelf(1, jar(1, "Rosemary"), jar(2, "Échinacée"), name="Attic"),
        shelf(2, jar(3, "Angelica"), jar(4, "Yarrow"), name="Cellar"),
        shelf(3, name="Hall"),
    )
    assert [card.jar_id for card in matching(view, text).jars] == found


def test_find_hides_shelves_without_a_match() -> None:
    assert [s.name for s in matching(LARDER, "window").shelves] == ["Window sill"]
    assert matching(LARDER, "") is LARDER


class BigApp(App[None]):
    """One large jar."""

    def __init__(self) -> None:
        super().__init__()
        themes.register(self)

    def compose(self) -> ComposeResult:
        yield BigJar()


async def test_the_large_jar_is_drawn_at_any_size() -> None:
    app = BigApp()
    async with app.run_test(size=(80, 24)) as pilot:
        picture = app.query_one(BigJar)
        assert not screen_text(app).strip()
        picture.show(jar(1, "Yarrow", days=0), TODAY)
        await pilot.pause()
        assert "26-001" in screen_text(app)
        assert "○ to shake" in screen_text(app)
        await pilot.resize_terminal(40, 12)
        await pilot.pause()
        text = screen_text(app)
        assert "○ to shake" in text
        assert len(text.splitlines()) == 12
        picture.show(None, TODAY)
        await pilot.pause()
        assert not screen_text(app).strip()
