"""Facts of the sample shelf corrected one by one, in a short form of the sweep."""

import random

import pytest

from stillroom.errors import Refused
from stillroom.keeping.correcting.correct import plan_correction
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.kinds import FactKind
from stillroom.keeping.keeper import Keeper

from .sweep import SUBJECTS, everything, sweep


def test_every_fact_is_corrected_consistently_or_refused_in_words(sample: Keeper) -> None:
    ended, problems = sweep(sample, 10, random.Random(4))
    assert sum(ended.values()) == 10
    assert problems == []


def test_this_sweep_covers_every_kind_of_subject_and_fact(sample: Keeper) -> None:
    catalogue = everything(sample)
    assert {subject.kind for subject, _ in catalogue} == set(SUBJECTS)
    assert {fact.kind for _, fact in catalogue} == set(FactKind)


def test_changing_only_words_changes_no_figure(sample: Keeper) -> None:
    """Where what follows from the facts differed from what is stored, this would show it."""
    tried = 0
    for subject in dict.fromkeys(subject for subject, _ in everything(sample)):
        names = {fact.name for fact in facts_of(sample, subject) if not fact.is_one_more}
        if "bottle-1.place" in names:  # all bottles of the batch are judged with it
            plan = plan_correction(sample, subject, {"bottle-1.place": "something else"})
            assert (plan.obstacles, plan.effects, plan.questions) == ((), (), ()), subject
            tried += 1
    assert tried > 20


@pytest.mark.parametrize(
    "name", ["pour-1.volume", "weight", "yield", "bottle-1.volume", "movement-1.volume"]
)
def test_typing_a_value_as_shown_changes_nothing(sample: Keeper, name: str) -> None:
    subjects = {subject for subject, fact in everything(sample) if fact.name == name}
    assert subjects
    for subject in subjects:
        shown = next(fact.shown for fact in facts_of(sample, subject) if fact.name == name)
        with pytest.raises(Refused, match="Nothing would change"):
            plan_correction(sample, subject, {name: shown or ""})
