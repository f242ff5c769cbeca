"""Fields of a form by themselves."""

from collections.abc import Iterable

import pytest
from textual.app import App, ComposeResult

from stillroom.reckoning.charge import Part
from stillroom.screens.kit import choice as choices
from stillroom.screens.kit.choice import Choice

from .hands import send


class OneChoice(App[None]):
    """A choice, of parts unless said otherwise, and nothing else."""

    def __init__(self, options: Iterable[str] = tuple(Part)) -> None:
        super().__init__()
        self.options = options

    def compose(self) -> ComposeResult:
        yield Choice([(option, str(option)) for option in self.options])


@pytest.fixture(autouse=True)
def unhurried(monkeypatch: pytest.MonkeyPatch) -> None:
    """However slow the machine is, the keys of a test are one word."""
    monkeypatch.setattr(choices, "TYPING_PAUSE_S", 1e6)


WORDS: dict[str, Part | None] = {
    **{part.value: part for part in Part},
    "leaves": Part.LEAF,
    "Flowers": Part.FLOWER,
    "ROOTS": Part.ROOT,
    "whole": Part.WHOLE_PLANT,
    "aer": Part.AERIAL_PARTS,
    "berries": None,
    "stem": None,
    "hips": None,
    "rhizome": None,
}


@pytest.mark.parametrize("begun_at", [Part.LEAF, Part.FRUIT, Part.WHOLE_PLANT])
async def test_a_typed_word_chooses_its_option_or_changes_nothing(begun_at: Part) -> None:
    app = OneChoice()
    async with app.run_test() as pilot:
        for word, part in WORDS.items():
            await app.query_one(Choice).remove()
            choice = Choice([(each, str(each)) for each in Part], begun_at)
            await app.mount(choice)
            choice.focus()
            await pilot.pause()
            assert choice.value == begun_at
            send(pilot, word)
            await pilot.pause()
            assert choice.value == (part or begun_at), word


@pytest.mark.parametrize("typed", ["26-005.4", "96 % Rect", "Kitchen, top"])
async def test_what_is_typed_may_contain_signs_and_spaces(typed: str) -> None:
    labels = ["26-005.3", "26-005.4", "60 % Grain", "96 % Rectified", "Cellar", "Kitchen, top"]
    app = OneChoice(labels)
    async with app.run_test() as pilot:
        choice = app.query_one(Choice)
        choice.focus()
        send(pilot, typed)
        await pilot.pause()
        assert choice.value.startswith(typed)


async def test_text_that_matches_no_option_changes_nothing() -> None:
    app = OneChoice(["40 % Vodka", "decoction, cooled", "water"])
    async with app.run_test() as pilot:
        choice = app.query_one(Choice)
        choice.focus()
        send(pilot, "Eau-de-vie")
        await pilot.pause()
        assert choice.value == "40 % Vodka"


async def test_the_same_letter_again_goes_to_the_next_match() -> None:
    app = OneChoice()
    async with app.run_test() as pilot:
        choice = app.query_one(Choice)
        choice.focus()
        await pilot.press("f", "f")
        assert choice.value == Part.FRUIT
        await pilot.press("f")
        assert choice.value == Part.FLOWER
        await pilot.press("space")
        assert choice.value == Part.FRUIT
