"""The list widget: where the cursor goes, what is drawn, and how little of it."""

from collections.abc import Sequence

from textual.app import App, ComposeResult

from stillroom.screens import themes
from stillroom.screens.kit.columns import Cell, Column, Heading, bar, gauge
from stillroom.screens.kit.table import Table

from .screen_text import screen_text

COLUMNS = (
    Column("Name"),
    Column("mL", 8, is_right=True),
    Column("Note", 12, from_width=60),
)
TEN = [Heading("Even", "by tens"), *range(0, 10, 2), Heading("Odd"), *range(1, 10, 2)]


class TableApp(App[None]):
    """A list and nothing else, keeping what it says and counting what it draws."""

    def __init__(self, lines: Sequence[int | Heading], *, is_plain: bool = False) -> None:
        super().__init__()
        themes.register(self)
        self.theme = themes.DUSK.name
        self.drawn: list[int] = []
        self.opened: list[int | None] = []
        self.highlighted: list[int | None] = []
        self.first = lines
        self.table = Table[int](
            COLUMNS, self._cells, lambda row: row, is_plain=is_plain, when_chosen=self._chosen
        )

    def _cells(self, row: int) -> tuple[Cell, ...]:
        self.drawn.append(row)
        return (Cell(f"bottle {row}"), gauge(row / 10, 8), Cell(f"[note {row}]", "quiet"))

    def compose(self) -> ComposeResult:
        yield self.table

    def on_mount(self) -> None:
        self.table.show(self.first, "Nothing here yet.\n\nPress n.")

    def on_table_opened(self, event: Table.Opened) -> None:
        self.opened.append(event.table.selected)

    def _chosen(self) -> None:
        self.highlighted.append(self.table.selected)


async def test_keys_skip_headings_and_stop_at_the_ends() -> None:
    app = TableApp(TEN)
    async with app.run_test(size=(80, 24)) as pilot:
        went = []
        for key in ("up", "down", "end", "down", "up", "home", "pagedown", "pageup"):
            await pilot.press(key)
            went.append(app.table.selected)
        assert went == [0, 2, 9, 9, 7, 0, 9, 0]


async def test_a_page_key_moves_by_what_is_in_view() -> None:
    app = TableApp(range(1000))
    async with app.run_test(size=(80, 12)) as pilot:
        await pilot.press("pagedown")
        assert app.table.selected == 10
        await pilot.press("pagedown", "pageup")
        assert app.table.selected == 10
        assert "bottle 10" in screen_text(app)


async def test_only_rows_in_view_are_drawn_however_many_there_are() -> None:
    app = TableApp(range(100_000))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("end")
        await pilot.pause()
        assert "bottle 99999" in screen_text(app)
        app.drawn.clear()
        await pilot.press("up")
        await pilot.pause()
        assert set(app.drawn) <= set(range(99_976, 100_000))
        assert len(app.drawn) <= 50


async def test_titles_stay_while_rows_scroll_and_headings_scroll_with_them() -> None:
    app = TableApp([*range(50), Heading("Last"), 99])
    async with app.run_test(size=(80, 10)) as pilot:
        await pilot.press("end")
        await pilot.pause()
        lines = screen_text(app).splitlines()
        assert lines[0].split() == ["Name", "mL", "Note"]
        assert lines[-2].strip() == "Last"
        assert lines[-1].startswith("▶  bottle 99")
        await pilot.press("home")
        await pilot.pause()
        assert "bottle 0" in screen_text(app)


async def test_a_long_heading_leaves_room_for_its_note() -> None:
    app = TableApp([Heading("Very long name " * 20, "LOW, lasts to Jan 2027"), 1])
    async with app.run_test(size=(80, 10)):
        assert "LOW, lasts to Jan 2027" in screen_text(app)


async def test_the_cursor_keeps_its_row_or_its_place() -> None:
    app = TableApp(TEN)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("down", "down")
        app.table.show([8, 6, 4, 2])
        assert app.table.selected == 4
        app.table.show([8, 6, 2])
        assert app.table.selected == 2
        app.table.show([])
        assert app.table.selected is None
        app.table.show([5])
        assert app.table.selected == 5
        await pilot.pause()
        assert app.highlighted[-1] == 5


async def test_a_click_selects_and_a_second_opens_except_on_headings() -> None:
    app = TableApp(TEN)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.click(Table, offset=(10, 3))
        assert app.table.selected == 2
        await pilot.click(Table, offset=(10, 7))  # the second heading
        await pilot.click(Table, offset=(10, 0))  # the titles
        await pilot.click(Table, offset=(10, 20))  # below the last row
        assert app.table.selected == 2
        assert app.opened == []
        await pilot.click(Table, offset=(10, 3))
        await pilot.press("enter")
        assert app.opened == [2, 2]


async def test_marks_stay_on_rows_hidden_by_a_filter() -> None:
    app = TableApp(TEN)
    async with app.run_test(size=(80, 24)) as pilot:
        app.table.mark()
        assert app.table.selected == 2
        app.table.show([1, 3])
        app.table.mark()
        assert app.table.marked == {0, 3}
        await pilot.pause()
        assert "✓ bottle 3" in screen_text(app)
        app.table.unmark_all()
        assert not app.table.marked


async def test_columns_appear_and_disappear_with_the_width() -> None:
    app = TableApp([3])
    async with app.run_test(size=(80, 24)) as pilot:
        assert "[note 3]" in screen_text(app)
        await pilot.resize_terminal(50, 24)
        await pilot.pause()
        text = screen_text(app)
        assert "[note 3]" not in text
        assert "██░░░░░░" in text
        assert max(map(len, text.splitlines())) <= 50


async def test_an_empty_list_shows_what_to_do() -> None:
    app = TableApp([Heading("Nothing under it")])
    async with app.run_test(size=(40, 10)) as pilot:
        await pilot.press("down", "end", "pagedown", "enter")
        assert "Nothing here yet." in screen_text(app)
        assert "Press n." in screen_text(app)
        assert app.opened == []


async def test_the_table_is_readable_without_colour_and_on_a_plain_console() -> None:
    app = TableApp([3], is_plain=True)
    async with app.run_test(size=(80, 24)) as pilot:
        app.table.mark()
        app.theme = "ansi-dark"
        await pilot.pause()
        line = screen_text(app).splitlines()[1]
        assert line.startswith(">* bottle 3")
        assert "##......" in line
        cursor = app.screen.get_style_at(10, 1)
        assert cursor.reverse


async def test_a_wide_cell_continues_over_blank_columns() -> None:
    app = TableApp([3])
    async with app.run_test(size=(80, 24)) as pilot:
        long = "word " * 14
        app.table.set_columns(
            COLUMNS,
            lambda row: (Cell(long, is_wide=True), Cell(""), Cell("")),
            lambda row: row,
        )
        app.table.show([1])
        await pilot.pause()
        assert long.strip() in screen_text(app)


async def test_figures_are_aligned_right_and_wide_letters_counted() -> None:
    app = TableApp([1])
    async with app.run_test(size=(60, 5)) as pilot:
        app.table.set_columns(
            (Column("", 10), Column("", 8, is_right=True)),
            lambda row: (Cell("金盏花金盏花"), Cell("12 mL")),
            lambda row: row,
        )
        app.table.show([1])
        await pilot.pause()
        assert "金盏花金… " in screen_text(app)
        assert screen_text(app).splitlines()[0].endswith("    12 mL")


def test_a_bar_never_shows_a_little_as_nothing_or_less_as_full() -> None:
    for hundredths in range(101):
        drawn = bar(hundredths / 100, 5)
        assert len(drawn) == 5
        assert ("█" in drawn) == (hundredths > 0)
        assert ("░" in drawn) == (hundredths < 100)


async def test_a_hint_is_wrapped_by_cells_and_not_by_characters() -> None:
    app = TableApp([])
    async with app.run_test(size=(30, 12)) as pilot:
        app.table.show(
            [], hint="迷迭香薰衣草洋甘菊紫錐花接骨木金盞花甘草生薑"
        )  # two cells a letter
        await pilot.pause()
        shown = "".join(screen_text(app).split())
    assert "迷迭香薰衣草洋甘菊紫錐花接骨木金盞花甘草生薑" in shown
