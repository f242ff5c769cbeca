"""Fields of a form by themselves."""

import pytest
from textual.app import App, ComposeResult

from stillroom.reckoning.charge import Part
from stillroom.screens.fields import Choice


class OneChoice(App[None]):
    """A choice of parts, and nothing else."""

    def compose(self) -> ComposeResult:
        yield Choice([(part, part.value) for part in Part])


@pytest.mark.parametrize("begun_at", [Part.LEAF, Part.FRUIT, Part.WHOLE_PLANT])
@pytest.mark.parametrize(
    ("word", "part"),
    [
        *((part.value, part) for part in Part),
        ("leaves", Part.LEAF),
        ("Flowers", Part.FLOWER),
        ("ROOTS", Part.ROOT),
        ("whole", Part.WHOLE_PLANT),
        ("aer", Part.AERIAL_PARTS),
        ("berries", None),
        ("stem", None),
        ("hips", None),
        ("rhizome", None),
    ],
)
async def test_a_typed_word_chooses_its_option_or_leaves_all_as_it_was(
    word: str, part: Part | None, begun_at: Part
) -> None:
    app = OneChoice()
    async with app.run_test() as pilot:
        choice = app.query_one(Choice)
        choice.value = begun_at
        choice.focus()
        await pilot.press(*("space" if letter == " " else letter for letter in word))
        assert choice.value == (part or begun_at)


async def test_a_letter_again_goes_to_the_next_such_option() -> None:
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
