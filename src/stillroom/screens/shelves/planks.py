"""The shelves cut into planks for a width."""

from typing import NamedTuple

from stillroom.keeping.cards import ShelvesView


class Plank(NamedTuple):
    """A plank row: as many jars of one shelf as fit side by side."""

    shelf_at: int
    """Which shelf of the view it belongs to."""
    first: int
    """Place in the shelf of its first jar."""
    filled: int
    """How many jars are on it."""
    number: int
    """Which of the shelf's planks it is, from 1."""
    of: int
    """How many planks the shelf takes."""


def planks_for(view: ShelvesView, per_plank: int) -> list[Plank]:
    """Every shelf cut into planks."""
    planks = []
    for shelf_at, shelf in enumerate(view.shelves):
        total = len(shelf.jars)
        of = max(1, -(-total // per_plank))
        for at in range(of):
            first = at * per_plank
            planks.append(Plank(shelf_at, first, min(per_plank, total - first), at + 1, of))
    return planks


class Spot(NamedTuple):
    """The place of a jar, whatever the width of the screen."""

    shelf_at: int
    place: int
