"""The short form of the monkey; its long form is run by hand."""

from random import Random

from .monkey import Monkey, Trial
from .program import Place


def test_no_key_click_or_resize_breaks_it(place: Place) -> None:
    Trial(place, Monkey(Random(7))).run(250)
