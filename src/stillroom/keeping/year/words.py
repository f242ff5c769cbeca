"""Figures of a year in words, for lists, paper and the command line."""

from stillroom.keeping.wording import Wording
from stillroom.keeping.year.behind import CostOfKind
from stillroom.keeping.year.costs import CostOfBatch, PurchaseCost
from stillroom.quantities import how_many
from stillroom.reckoning.batch_costs import BatchCost
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.year import GONE, IN_STORE, USED, PeriodFigures, What

_NOTHING_ML = 0.005


def in_store(figures: PeriodFigures, said: Wording) -> str:
    """Herb gathered, bought, dried, given and lost; blank where there was none."""
    words = (f"{what} {said.mass(figures.of(what))}" for what in IN_STORE if figures.of(what))
    return ", ".join(word.removeprefix("herb ") for word in words)


def filled(figures: PeriodFigures, said: Wording) -> str:
    """What was filled: jars, herb, liquid; blank where none was."""
    herbs = [said.mass(figures.of(What.HERB))] if figures.of(What.HERB) else []
    if by_eye := int(figures.of(What.BY_EYE)):
        herbs.append(f"{how_many(by_eye, 'herb')} by eye")
    facts = [
        how_many(int(jars), "jar") if (jars := figures.of(What.JARS)) else "",
        " and ".join(herbs),
        f"{said.volume(poured)} poured" if (poured := figures.of(What.POURED)) else "",
    ]
    return ", ".join(filter(None, facts))


def strained(figures: PeriodFigures, said: Wording) -> str:
    """What was strained and how much of the liquid it is; blank where nothing was."""
    if not figures.of(What.STRAININGS):
        return ""
    percent = f", {said.percent(figures.percent)} of the liquid" if figures.percent else ""
    jars = how_many(int(figures.of(What.STRAININGS)), "jar")
    return f"{said.volume(figures.of(What.STRAINED))} from {jars}{percent}"


def used(figures: PeriodFigures, said: Wording) -> str:
    """What was used, by kind; blank where nothing was."""
    return _by_kind(figures, said, figures.used_ml, USED)


def gone(figures: PeriodFigures, said: Wording) -> str:
    """What was lost, by kind; blank where nothing was."""
    return _by_kind(figures, said, figures.gone_ml, GONE)


def counted(figures: PeriodFigures, said: Wording) -> str:
    """What counting and weighing found; blank where it agreed."""
    found_ml = figures.of(What.COUNTED)
    if abs(found_ml) < _NOTHING_ML:
        return ""
    return f"{said.volume(abs(found_ml))} {'more' if found_ml > 0 else 'less'} than recorded"


def _by_kind(
    figures: PeriodFigures, said: Wording, total_ml: float, kinds: tuple[What, ...]
) -> str:
    parts = [f"{kind} {said.volume(figures.of(kind))}" for kind in kinds if figures.of(kind)]
    if not parts:
        return ""
    if len(parts) == 1:
        return f"{said.volume(total_ml)} {parts[0].rpartition(' ')[0].rpartition(' ')[0]}"
    return f"{said.volume(total_ml)} ({', '.join(parts)})"


def facts(figures: PeriodFigures, said: Wording) -> list[tuple[str, str]]:
    """The figures of a period, each with its heading, without what didn't happen."""
    bottled, blended = figures.of(What.BOTTLED), figures.of(What.BLENDED)
    lines = [
        ("Herb", in_store(figures, said)),
        ("Filled", filled(figures, said)),
        ("Strained", strained(figures, said)),
        ("Blended", said.volume(blended) if blended else ""),
        ("Bottled", said.volume(bottled) if bottled else ""),
        ("Used", used(figures, said)),
        ("Lost", gone(figures, said)),
        ("Counted", counted(figures, said)),
        ("In stock", in_stock(figures, said)),
    ]
    return [(heading, text) for heading, text in lines if text]


def in_stock(figures: PeriodFigures, said: Wording) -> str:
    """What there was before and after."""
    before, left = max(0.0, figures.before_ml), max(0.0, figures.left_ml)
    return f"{said.volume(before)} before, {said.volume(left)} after"


def cost(cost: BatchCost, said: Wording) -> str:
    """What a batch cost, for a unit of it too, and what is not in it."""
    if not cost.is_priced:
        return f"no price known: {', '.join(cost.without)}"
    without = f", without {', '.join(cost.without)}" if cost.without else ""
    return f"{said.money(cost.total)}, {said.of(Kind.MONEY_PER_ML, cost.per_ml)}{without}"


def cost_of_kind(cost: CostOfKind, said: Wording) -> str:
    """What was made, used or lost in one way cost, and what is not in it."""
    if cost.cost is None:
        return f"no price known: {', '.join(cost.without)}"
    without = f", without {', '.join(cost.without)}" if cost.without else ""
    return f"{said.money(cost.cost)}{without}"


def bottles_cost(batch: CostOfBatch, said: Wording) -> str:
    """What each bottle of a batch cost, glass and label apart; blank where nothing has a price."""
    if not batch.cost.is_priced or not batch.bottles:
        return ""
    each = (f"{code} {said.money(cost)}" for code, _, cost in batch.bottles)
    return f"; bottles {', '.join(each)}"


def money(amount: float | None, said: Wording) -> str:
    """An amount of money, or that no price is known."""
    return "no price known" if amount is None else said.money(amount)


def amount(purchase: PurchaseCost, said: Wording) -> str:
    """How much of a purchase went in."""
    if purchase.mass_g is not None:
        return said.mass(purchase.mass_g)
    return said.volume(purchase.volume_ml)
