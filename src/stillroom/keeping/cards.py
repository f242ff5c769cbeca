"""Jars on their shelves: all that the first page needs.

Named tuples, not frozen dataclasses as the other views are: a class costs a tenth at import, and
every start waits for these.
"""

from datetime import date
from typing import NamedTuple

from stillroom.reckoning.plant import Condition, Part


class JarCard(NamedTuple):
    """A jar on its shelf."""

    jar_id: int
    code: str
    herb: str
    """The first herb's name."""
    more_herbs: int
    """How many further herbs share the jar."""
    part: Part
    condition: Condition
    filled_on: date
    strain_on: date
    shakes_per_day: int
    shaken: int
    """Shakes ticked off today."""
    covered: bool
    shelf_id: int
    place: int
    to_bottle_ml: float | None = None
    """mL strained and still to be bottled; None while the jar steeps, or is drained."""
    drained_ml: float | None = None
    """mL got so far of a jar that is still to be pressed; None of any other."""
    press_ml: float | None = None
    """mL that a press is expected to give of it; None where that can't be predicted."""
    others: tuple[str, ...] = ()
    """The names of the further herbs, as they went in."""

    def days_left(self, today: date) -> int:
        """Days to the strain date; 0 on the day, negative when it is over."""
        return (self.strain_on - today).days

    def progress(self, today: date) -> float:
        """Share of the steep that is done, 0 to 1."""
        whole = (self.strain_on - self.filled_on).days
        if whole <= 0:
            return 1.0
        return min(1.0, max(0.0, (today - self.filled_on).days / whole))

    def steep(self, today: date) -> str:
        """How far the steep is, in words."""
        if today < self.filled_on:  # the clock has been set back
            return "not filled yet"
        return f"day {(today - self.filled_on).days} of {(self.strain_on - self.filled_on).days}"

    @property
    def is_steeping(self) -> bool:
        """Whether the herb is still in the liquid."""
        return self.to_bottle_ml is None and self.drained_ml is None

    @property
    def is_drained(self) -> bool:
        """Whether some of the liquid is off, and the herb is still to be pressed."""
        return self.drained_ml is not None

    def needs_something(self, today: date) -> bool:
        """Whether it asks for more than its shake: strain, press, bottle, or cover the herb."""
        return not self.is_steeping or self.strain_on <= today or not self.covered

    @property
    def shakes_left(self) -> int:
        """Shakes still to do today."""
        return max(0, self.shakes_per_day - self.shaken) if self.is_steeping else 0


class OffShelf(NamedTuple):
    """A batch that is on no shelf any more, or never was, as a blend."""

    code: str
    name: str
    """Of the tincture, or else of the first herb."""
    state: str
    """Such as `strained`, `discarded` or `blend`."""
    jar_id: int | None
    bottle_id: int | None
    """One of its bottles, where it is from no jar."""


class ShelfView(NamedTuple):
    """One shelf and its jars, in order."""

    shelf_id: int
    name: str
    note: str
    jars: tuple[JarCard, ...]


class ShelvesView(NamedTuple):
    """All planks on one day."""

    today: date
    shelves: tuple[ShelfView, ...]
    blends_to_bottle: int = 0
    """How many blends, which are on no shelf, have liquid that isn't bottled yet."""

    def with_jar(self, card: JarCard) -> "ShelvesView":
        """The same shelves, with one jar replaced by its present state."""
        return self._replace(
            shelves=tuple(
                shelf._replace(
                    jars=tuple(card if j.jar_id == card.jar_id else j for j in shelf.jars)
                )
                if shelf.shelf_id == card.shelf_id
                else shelf
                for shelf in self.shelves
            )
        )

    @property
    def jars(self) -> tuple[JarCard, ...]:
        """Every jar, shelf by shelf."""
        return tuple(jar for shelf in self.shelves for jar in shelf.jars)

    @property
    def to_shake(self) -> tuple[JarCard, ...]:
        """Jars that still want a shake today."""
        return tuple(jar for jar in self.jars if jar.shakes_left)

    @property
    def wanting_shakes(self) -> int:
        """Jars that want a shake on any day."""
        return sum(1 for jar in self.jars if jar.is_steeping and jar.shakes_per_day)

    @property
    def due_today(self) -> tuple[JarCard, ...]:
        """Jars whose strain date is today."""
        return tuple(j for j in self.jars if j.is_steeping and j.strain_on == self.today)

    @property
    def over(self) -> tuple[JarCard, ...]:
        """Jars whose strain date has passed."""
        return tuple(j for j in self.jars if j.is_steeping and j.strain_on < self.today)

    @property
    def to_bottle(self) -> int:
        """Jars strained, and blends made, that are not all bottled."""
        strained = sum(1 for jar in self.jars if jar.to_bottle_ml is not None)
        return strained + self.blends_to_bottle

    @property
    def to_press(self) -> tuple[JarCard, ...]:
        """Jars drained and still to be pressed."""
        return tuple(jar for jar in self.jars if jar.is_drained)
