"""What can't be of a lot of herb: each contradiction is refused in words, and nothing is lost."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta

import pytest
from tests.builders import LOT_CAME_ON, filled, gathered, spirit
from tests.correcting.sweep import rows

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.correcting.correct import correct
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.cupboard.lot_reading import herb_lot
from stillroom.keeping.cupboard.lots import (
    discard_herb,
    dry,
    give_herb,
    lay_out,
    remove_lot,
    use_up,
    weigh_lot,
)
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.reckoning.charge import Condition, Part

FRESH, DRYING, DRY, GONE = 1, 2, 3, 4
LAID_OUT, DRIED = LOT_CAME_ON + timedelta(days=1), LOT_CAME_ON + timedelta(days=6)
FILLED = LOT_CAME_ON + timedelta(days=10)
DAY = timedelta(days=1)


@pytest.fixture
def store(keeper: Keeper) -> Keeper:
    """Lot 1 is fresh, 2 drying, 3 dry with 100 of its 160 g in jar 26-001, 4 used up."""
    gathered(keeper, 300.0)
    gathered(keeper, 500.0)
    lay_out(keeper, DRYING, None, day=LAID_OUT)
    gathered(keeper, 900.0)
    lay_out(keeper, DRY, None, day=LAID_OUT)
    dry(keeper, DRY, 160.0, day=DRIED)
    filled(keeper, [charge_of_lot(herb_lot(keeper, DRY), 100.0)], spirit(500), on=FILLED)
    gathered(keeper, 50.0)
    give_herb(keeper, GONE, 20.0)
    use_up(keeper, GONE)
    assert check(keeper) == []
    return keeper


@dataclass(frozen=True)
class Charged:
    """A jar filled from a lot."""

    lot: int
    mass_g: float | None
    on: date | None = None
    part: Part | None = None
    herb: str = ""
    condition: Condition | None = None

    def __call__(self, keeper: Keeper) -> object:
        charge = charge_of_lot(herb_lot(keeper, self.lot), self.mass_g)
        charge = replace(
            charge,
            herb=self.herb or charge.herb,
            part=self.part or charge.part,
            condition=self.condition or charge.condition,
        )
        return filled(keeper, [charge], spirit(500), on=self.on)


@dataclass(frozen=True)
class Corrected:
    """A fact of a lot or jar corrected."""

    code: str
    texts: dict[str, str]

    def __call__(self, keeper: Keeper) -> object:
        return correct(keeper, subject_of_code(keeper, self.code), self.texts, confirmed=True)


CONTRADICTIONS: dict[str, tuple[Callable[[Keeper], object], str]] = {
    "a jar takes more than there is": (
        Charged(DRY, 61), "H-26-003 holds 60 g, and this takes 61 g"),
    "more is given than there is": (
        lambda k: give_herb(k, FRESH, 301), "H-26-001 holds 300 g, and this takes 301 g"),
    "more is discarded than there is": (
        lambda k: discard_herb(k, DRY, 70), "H-26-003 holds 60 g, and this takes 70 g"),
    "more is laid out than there is": (
        lambda k: lay_out(k, FRESH, 400), "H-26-001 holds 300 g, and this takes 400 g"),
    "nothing is given": (lambda k: give_herb(k, FRESH, 0), "greater than zero"),
    "a negative weight": (lambda k: give_herb(k, FRESH, -5), "greater than zero"),
    "weighed as nothing": (lambda k: weigh_lot(k, FRESH, 0), "greater than zero"),
    "a jar filled before the herb came": (
        Charged(FRESH, 10, on=LOT_CAME_ON - DAY), "after the jar was filled"),
    "given before it came": (
        lambda k: give_herb(k, FRESH, 5, day=LOT_CAME_ON - DAY), "from then until today"),
    "given tomorrow": (
        lambda k: give_herb(k, FRESH, 5, day=k.today + DAY), "from then until today"),
    "laid out before it came": (
        lambda k: lay_out(k, FRESH, None, day=LOT_CAME_ON - DAY), "from then until today"),
    "dry before it was laid out": (
        lambda k: dry(k, DRYING, 90, day=LOT_CAME_ON), "H-26-002 was laid out on"),
    "heavier dry than fresh": (lambda k: dry(k, DRYING, 500), "must weigh less"),
    "dry without a weight, though it was weighed fresh": (
        lambda k: dry(k, DRYING, None), "Enter its dry weight"),
    "dried without being laid out": (lambda k: dry(k, FRESH, 40), "isn't laid out"),
    "laid out twice": (lambda k: lay_out(k, DRYING, None), "laid out already"),
    "laid out though dry": (lambda k: lay_out(k, DRY, None), "dried already"),
    "dried herb of a fresh lot": (
        Charged(FRESH, 10, condition=Condition.DRIED), "H-26-001 is still fresh"),
    "another herb": (Charged(DRY, 10, herb="Fennel"), "H-26-003 is Yarrow, flower"),
    "another part": (Charged(DRY, 10, part=Part.ROOT), "H-26-003 is Yarrow, flower"),
    "herb of a lot that is used up": (Charged(GONE, 5), "H-26-004 was used up on"),
    "given of a lot that is used up": (lambda k: give_herb(k, GONE, 5), "was used up on"),
    "a lot deleted that went into a jar": (lambda k: remove_lot(k, DRY), "has been used"),
    "a lot gathered tomorrow": (lambda k: gathered(k, 10.0, got_on=k.today + DAY), "future"),
    "corrected to have come after its jar was filled": (
        Corrected("H-26-003", {"got": "2026-11-22", "laid-out": "2026-11-22",
                               "dry": "2026-11-23"}),
        "put into jar 26-001 on 20 Nov 2026, before it was gathered"),
    "corrected to have come after it was laid out": (
        Corrected("H-26-003", {"got": "2026-11-12"}), "laid"),
    "corrected to be dry before it was laid out": (
        Corrected("H-26-003", {"dry": "2026-11-10"}), "dr"),
    "corrected to be laid out before it came": (
        Corrected("H-26-003", {"laid-out": "2026-11-09"}), "laid"),
    "corrected to weigh less fresh than dry": (
        Corrected("H-26-003", {"weight": "150 g"}), "Correct its dry weight too"),
    "corrected to weigh more dry than fresh": (
        Corrected("H-26-003", {"dry-weight": "950 g"}), "Correct its dry weight too"),
    "corrected to weigh less dry than went into the jar": (
        Corrected("H-26-003", {"dry-weight": "90 g"}), "H-26-003 is 10 g short"),
    "a jar corrected to take more than there is": (
        Corrected("26-001", {"weight": "161 g"}), "H-26-003 is 1 g short"),
    "a jar corrected to be filled before its herb came": (
        Corrected("26-001", {"filled": "2026-11-01"}), "before it was gathered"),
    "corrected to give more than there was": (
        Corrected("H-26-004", {"movement-1.weight": "60 g"}), "is 10 g short"),
    "corrected to give before it came": (
        Corrected("H-26-004", {"movement-1.day": "2026-11-01"}), "before it was gathered"),
    "corrected to weigh nothing at first": (Corrected("H-26-001", {"weight": "0"}), "zero"),
}  # fmt: skip


@pytest.mark.parametrize("name", CONTRADICTIONS)
def test_contradictory_facts_of_a_herb_are_refused_in_words_and_nothing_is_lost(
    store: Keeper, name: str
) -> None:
    act, words = CONTRADICTIONS[name]
    before = rows(store)
    with pytest.raises((Refused, NotUnderstood)) as refused:
        act(store)
    said = str(refused.value)
    assert words in said
    assert said.endswith((".", "…", "g"))
    assert not any(word in said for word in ("CHECK", "constraint", "NULL", "sqlite"))
    assert rows(store) == before
