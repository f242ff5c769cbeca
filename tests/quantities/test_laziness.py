"""The unit registry costs nothing until a unit needs it."""

import subprocess
import sys

import pytest

METRIC_WORK = """
import sys
from stillroom import quantities
from stillroom.reckoning.kinds import Figure, Kind

assert "pint" not in sys.modules, "imported with the module"
quantities.parse_volume("1.5 l")
quantities.parse_mass("120 g")
quantities.parse_strength("80 proof")
for kind in Kind:
    if kind not in (Kind.TEXT, Kind.CHOICE):
        quantities.show(kind, 2.0)
for text in ("10**10**10 ml", "5 km", "five"):
    try:
        quantities.parse_volume(text)
    except quantities.NotUnderstood:
        continue
    raise AssertionError(text)
assert "pint" not in sys.modules, "imported for metric work"
"""


def _run(program: str) -> None:
    subprocess.run([sys.executable, "-W", "error", "-c", program], check=True)


def test_pint_is_not_loaded_for_metric_units_or_refusals():
    _run(METRIC_WORK)


@pytest.mark.parametrize("need", ["parse_volume('8 fl oz')", "parse_mass('4 oz')", "warm_up()"])
def test_pint_is_loaded_when_it_is_first_needed(need):
    _run(f"{METRIC_WORK}\nquantities.{need}\nassert 'pint' in sys.modules")
