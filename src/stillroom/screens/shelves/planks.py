"""The shelves cut into planks for a width."""

from bisect import bisect_right
from collections.abc import Iterator
from typing import NamedTuple

from stillroom.keeping.cards import ShelvesView


class Spot(NamedTuple):
    """The place of a jar, whatever the width of the screen."""

    shelf_at: int
    place: int


class Stretch(NamedTuple):
    """The part of a plank that belongs to one shelf."""

    plank: int
    """Which plank it is on."""
    shelf_at: int
    """Which shelf of the view it belongs to."""
    first: int
    """Place in the shelf of its first jar."""
    filled: int
    """How many jars are on it."""
    column: int
    """Its first column on the plank."""
    columns: int
    """How many columns it takes."""
    wide: int
    """Place in the shelf of the jar that takes two columns; -1 where there is none on it."""
    number: int
    """Which of the shelf's stretches it is, from 1."""
    of: int
    """How many stretches the shelf takes."""

    def places(self) -> Iterator[tuple[Spot, int, int]]:
        """Each jar's spot, its first column, and how many columns it takes."""
        column = self.column
        for place in range(self.first, self.first + self.filled):
            columns = 2 if place == self.wide else 1
            yield Spot(self.shelf_at, place), column, columns
            column += columns

    def column_of(self, spot: Spot) -> int:
        """The first column of a jar on it."""
        is_after_wide = self.first <= self.wide < spot.place
        return self.column + spot.place - self.first + is_after_wide

    def spot_at(self, column: int) -> Spot | None:
        """The jar in a column of the plank."""
        for spot, first, columns in self.places():
            if first <= column < first + columns:
                return spot
        return None


class Planks:
    """All shelves cut into planks.

    Each shelf begins a plank of its own, or, where they share, right after the one before it.
    """

    def __init__(
        self,
        view: ShelvesView | None,
        per_plank: int,
        *,
        shares: bool = False,
        wide: Spot | None = None,
    ) -> None:
        self.rows: list[list[Stretch]] = []
        """The stretches of each plank, from the left."""
        self._all: list[Stretch] = []
        free = 0
        for shelf_at, shelf in enumerate(view.shelves if view else ()):
            if not shares:
                free = 0
            wide_at = wide.place if wide and per_plank > 1 and wide.shelf_at == shelf_at else -1
            free = self._add(shelf_at, len(shelf.jars), per_plank, free, wide_at, shares)

    def _add(
        self, shelf_at: int, jars: int, per_plank: int, free: int, wide_at: int, shares: bool
    ) -> int:
        """Put a shelf on its planks; returns how many columns are free after it."""
        pieces: list[tuple[int, int, int, int, int]] = []
        first = 0
        while first < jars or not pieces:
            if not free:
                self.rows.append([])
                free = per_plank
            filled = min(free, jars - first)
            columns = filled if filled else (1 if shares else free)
            if first <= wide_at < first + filled:
                before = wide_at - first
                filled = min(filled, free - 1) if before + 2 <= free else before
                columns = filled + (first <= wide_at < first + filled)
                if not filled:  # it needs two columns, and one is free
                    free = 0
                    continue
            pieces.append((len(self.rows) - 1, first, filled, per_plank - free, columns))
            first += filled
            free -= columns
        for number, (plank, start, filled, column, columns) in enumerate(pieces, 1):
            wide = wide_at if start <= wide_at < start + filled else -1
            stretch = Stretch(
                plank, shelf_at, start, filled, column, columns, wide, number, len(pieces)
            )
            self.rows[plank].append(stretch)
            self._all.append(stretch)
        return free

    def stretch_of(self, spot: Spot) -> Stretch:
        """The stretch a jar is on."""
        at = bisect_right(self._all, (spot.shelf_at, spot.place), key=lambda s: (s[1], s[2]))
        return self._all[at - 1]

    def is_filled(self, at: int) -> bool:
        """Whether there is a jar on a plank."""
        return any(stretch.filled for stretch in self.rows[at])

    def nearest(self, at: int, column: int) -> Spot | None:
        """The jar on a plank that is nearest to a column, the one to its left first."""
        found: tuple[int, Spot] | None = None
        for stretch in self.rows[at]:
            for spot, first, columns in stretch.places():
                away = max(first - column, column - first - columns + 1, 0)
                if found is None or away < found[0]:
                    found = away, spot
        return found and found[1]
