"""The short form of the monkey; its long form is run by hand."""

from random import Random

from ..examples import examples
from .monkey import Monkey, Trial
from .program import Place


def test_random_keys_clicks_and_resizes_cause_no_crash(place: Place) -> None:
    Trial(place, Monkey(Random(273))).run(examples(1200))
