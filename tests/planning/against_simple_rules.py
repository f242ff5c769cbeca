"""Compare the plan with two simple rules over five simulated years, and print the result.

python tests/planning/against_simple_rules.py --herbs 400 --seed 1
"""

import argparse
from collections.abc import Mapping

from practitioner import YEARS, Outcome, Rule, live, wants_of
from rules import claim, fixed, last_years_use, planned

RULES: Mapping[str, Rule] = {
    "a fixed amount a year": fixed,
    "last year's use again": last_years_use,
    "the plan": planned,
}


def compare(herbs: int, seed: int) -> dict[str, Outcome]:
    """The outcome of each rule over as many herbs, half of them gathered once a year."""
    outcomes = {}
    for name, rule in RULES.items():
        total = Outcome()
        for number in range(herbs):
            total += live(rule, seed * 100_000 + number, is_gathered=number % 2 == 0)
        outcomes[name] = total
    return outcomes


def covered(herbs: int, seed: int, gifts_a_year: float) -> float:
    """The share of years whose use was within the range that the program claimed for it."""
    within = []
    for number in range(herbs):
        wants = wants_of(seed * 100_000 + number, gifts_a_year=gifts_a_year).days
        for year in range(1, YEARS):
            low, high, came = claim(wants, year)
            within.append(low <= came <= high)
    return sum(within) / len(within)


def main() -> None:
    """Print the comparison."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--herbs", type=int, default=200)
    options.add_argument("--seed", type=int, default=1)
    asked = options.parse_args()
    print(f"{asked.herbs} herbs, five years each, seed {asked.seed}")
    print(f"{'':24}{'missed':>10}{'wasted':>10}{'made':>12}{'days without':>14}")
    for name, each in compare(asked.herbs, asked.seed).items():
        missed = 100 * each.missed_ml / each.wanted_ml
        wasted = 100 * each.wasted_ml / each.wanted_ml
        made = 100 * each.made_ml / each.wanted_ml
        print(f"{name:24}{missed:9.1f}%{wasted:9.1f}%{made:11.1f}%{each.days_without:14}")
    print("Missed, wasted and made in percent of what was wanted.")
    for gifts, words in ((0.0, "without"), (0.4, "with")):
        share = 100 * covered(asked.herbs, asked.seed, gifts)
        print(f"Range of a year's use, {words} large gifts: {share:.1f} % of years within it")


if __name__ == "__main__":
    main()
