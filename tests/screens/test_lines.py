"""Lines that change while a person types: the screen is laid out again only where it has to be."""

import pytest
from textual.app import App, ComposeResult
from textual.widgets import Static

from stillroom.screens.kit.lines import show

from .screen_text import screen_text


class Form(App[None]):
    """A line with another below it, and one as wide as its words."""

    CSS = "#short { width: auto; }"

    def compose(self) -> ComposeResult:
        yield Static("one", id="line", markup=False)
        yield Static("the next line")
        yield Static("1", id="short", markup=False)


@pytest.mark.parametrize(
    ("name", "text", "is_laid_out"),
    [
        ("line", "one", False),
        ("line", "two", False),
        ("line", "this takes two rows of it", True),
        ("line", "this takes three rows [of] what there is to see", True),
        ("line", "黄芩 黄芩 黄芩 黄芩 黄芩", True),
        ("short", "1000", True),
    ],
)
async def test_text_of_the_same_height_causes_no_layout(
    name: str, text: str, is_laid_out: bool
) -> None:
    app = Form()
    async with app.run_test(size=(20, 8)) as pilot:
        await pilot.pause()
        laid_out: list[object] = []
        app.screen.screen_layout_refresh_signal.subscribe(app.screen, laid_out.append)
        show(app.query_one(f"#{name}", Static), text)
        await pilot.pause()
        assert bool(laid_out) == is_laid_out
        words = " ".join(screen_text(app).split())
        assert text in words
        assert "the next line" in words
