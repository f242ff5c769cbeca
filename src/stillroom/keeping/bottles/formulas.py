"""Formulas: blends kept by what goes into them, and made again from the bottles there are."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from math import inf
from operator import itemgetter

from stillroom.errors import Refused
from stillroom.keeping.bottles.blend_views import (
    FormulaPartView,
    FormulaProposal,
    FormulaView,
    MissingPart,
)
from stillroom.keeping.bottles.blends import blend_parts, with_shares
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.drafts import FormulaDraft, FormulaPartDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.views import BottleRow
from stillroom.keeping.words import clean_name, clean_note
from stillroom.reckoning.charge import Condition, Part
from stillroom.records.tables import Formula, FormulaPart, Herb

_FORMULAS = """
    SELECT f.id, f.name, f.note, coalesce(h.name, p.name), p.herb_id, p.part,
           100 * p.share / sum(p.share) OVER (PARTITION BY f.id), p.condition
    FROM formula f
    JOIN formula_part p ON p.formula_id = f.id
    LEFT JOIN herb h ON h.id = p.herb_id
"""

# What each tincture straight from a jar is made of.
_MADE_OF = """
    SELECT DISTINCT t.id, l.herb_id, l.part, l.condition FROM tincture t
    JOIN straining s ON s.id = t.straining_id
    JOIN charge_line l ON l.jar_id = s.jar_id
"""

MOST_SHARE = 1e6
"""As the schema has it."""

Makeup = dict[int, set[tuple[int, str, str]]]
"""Herbs, with part of the plant and condition, in each tincture from a jar."""


def formulas(keeper: Keeper) -> list[FormulaView]:
    """The formulas by name."""
    return _formulas(keeper, "1")


def formula(keeper: Keeper, formula_id: int) -> FormulaView:
    """One formula; Refused where it is no longer there."""
    found = _formulas(keeper, "f.id = ?", formula_id)
    if not found:
        raise Refused("That formula no longer exists.")
    return found[0]


def keep_formula(keeper: Keeper, draft: FormulaDraft, formula_id: int | None = None) -> FormulaView:
    """Save a formula, or replace it under its id."""
    name = clean_name(draft.name, "The formula's name")
    columns = {"name": name, "note": clean_note(draft.note)}
    parts = _checked(keeper, draft.parts)
    with keeper.act(f"Saved the formula {name}") as act:
        if formula_id is None:
            formula_id = int(Formula.insert(**columns).execute())
        elif not Formula.update(**columns).where(Formula.id == formula_id).execute():
            raise Refused("That formula no longer exists.")
        FormulaPart.delete().where(FormulaPart.formula == formula_id).execute()
        for part in parts:
            FormulaPart.insert(formula=formula_id, **part).execute()
        act.note("formula", f"Saved {name}")
        return formula(keeper, formula_id)


def drop_formula(keeper: Keeper, formula_id: int) -> None:
    """Delete a formula; what was made by it stays."""
    with keeper.act("Deleted a formula") as act:
        name = formula(keeper, formula_id).name
        FormulaPart.delete().where(FormulaPart.formula == formula_id).execute()
        Formula.delete().where(Formula.id == formula_id).execute()
        act.title = f"Deleted the formula {name}"
        act.note("formula", f"Deleted {name}")


def formula_from_blend(keeper: Keeper, tincture_id: int) -> FormulaDraft:
    """The formula a blend was made by, whichever bottles each part came from."""
    made_of = _made_of(keeper)
    shares: dict[tuple[str, Part | None], float] = {}
    for drawn in blend_parts(keeper, tincture_id):
        herbs = made_of.get(drawn.bottle.tincture_id, set())
        part = Part(next(iter(herbs))[1]) if len(herbs) == 1 else None
        key = (drawn.bottle.name, part)
        shares[key] = shares.get(key, 0.0) + drawn.share_percent
    if not shares:
        raise Refused("That tincture is not a blend.")
    parts = [FormulaPartDraft(name, share, part) for (name, part), share in shares.items()]
    return FormulaDraft(tincture_view(keeper, tincture_id).name, tuple(parts))


def parts_from_formula(keeper: Keeper, formula_id: int, total_ml: float) -> FormulaProposal:
    """The bottles to make a formula from today: of each part the oldest that are still good.

    A part goes on to the next bottle where one does not hold enough. Where all bottles together do
    not, that is said, and the proposal is for as much as can be made in the formula's own shares.
    """
    if not 0 < total_ml < inf:
        raise Refused("The volume must be greater than zero.")
    wanted = formula(keeper, formula_id)
    good = [row for row in bottle_rows(keeper) if not row.is_past(keeper.today)]
    good.sort(key=lambda row: (row.made_on, row.bottle_id))
    made_of = _made_of(keeper)
    fitting = [(part, list(_fitting(part, good, made_of))) for part in wanted.parts]
    drawn_ml, missing = _taken(fitting, total_ml)
    makes_ml = _most_ml(fitting, total_ml) if missing else total_ml
    if EMPTY_ML < makes_ml < total_ml:
        drawn_ml, _ = _taken(fitting, makes_ml)
    parts = with_shares(keeper, list(drawn_ml.items()))
    return FormulaProposal(wanted, parts, tuple(missing), makes_ml)


def _taken(
    fitting: Sequence[tuple[FormulaPartView, Sequence[BottleRow]]], total_ml: float
) -> tuple[dict[int, float], list[MissingPart]]:
    """What to take from which bottle, and of which parts there is too little."""
    drawn_ml: dict[int, float] = {}
    missing = []
    for part, bottles in fitting:
        part_ml = still_ml = total_ml * part.share_percent / 100
        for bottle in bottles:
            take_ml = min(still_ml, bottle.left_ml - drawn_ml.get(bottle.bottle_id, 0.0))
            if take_ml > EMPTY_ML:
                drawn_ml[bottle.bottle_id] = drawn_ml.get(bottle.bottle_id, 0.0) + take_ml
                still_ml -= take_ml
        if still_ml > EMPTY_ML:
            missing.append(MissingPart(part, part_ml, part_ml - still_ml))
    return drawn_ml, missing


def _most_ml(
    fitting: Sequence[tuple[FormulaPartView, Sequence[BottleRow]]], total_ml: float
) -> float:
    """The most, below a total, of which no part is missing; by halving, as parts share bottles."""
    low_ml, high_ml = 0.0, total_ml
    while high_ml - low_ml > EMPTY_ML / 10:
        middle_ml = (low_ml + high_ml) / 2
        if _taken(fitting, middle_ml)[1]:
            high_ml = middle_ml
        else:
            low_ml = middle_ml
    return low_ml


def _formulas(keeper: Keeper, condition: str, *values: object) -> list[FormulaView]:
    rows = keeper.rows(f"{_FORMULAS} WHERE {condition} ORDER BY f.name, f.id, p.id", *values)
    return [
        FormulaView(formula_id, name, tuple(_part(*row[3:]) for row in lines), note)
        for (formula_id, name, note), lines in groupby(rows, key=itemgetter(0, 1, 2))
    ]


def _part(
    name: str, herb_id: int | None, part: str, share_percent: float, condition: str
) -> FormulaPartView:
    return FormulaPartView(
        name,
        herb_id,
        Part(part) if part else None,
        share_percent,
        Condition(condition) if condition else None,
    )


def _checked(keeper: Keeper, drafts: Sequence[FormulaPartDraft]) -> list[dict[str, object]]:
    """The parts as they are stored; Refused where one cannot be found by its name."""
    if not drafts:
        raise Refused("A formula needs at least one part.")
    known = {row.name.casefold() for row in bottle_rows(keeper, empties=True)}
    parts: list[dict[str, object]] = []
    for draft in drafts:
        if not 0 < draft.share <= MOST_SHARE:
            fault = "is too large" if draft.share > MOST_SHARE else "must be greater than zero"
            raise Refused(f"The share of {draft.name} {fault}.")
        name = clean_name(draft.name, "The name of each part")
        herb = Herb.get_or_none(Herb.name == name)
        if herb is not None:
            of_herb = {"part": draft.part or "", "condition": draft.condition or ""}
            parts.append({"herb": herb.id, **of_herb, "share": draft.share})
        elif name.casefold() in known:
            parts.append({"name": name, "share": draft.share})
        else:
            raise Refused(f"There is no herb or tincture called {name}.")
        if any(_is_same_part(parts[-1], other) for other in parts[:-1]):
            raise Refused(f"{name} is listed twice. Enter it once, with the sum of its shares.")
    return parts


def _is_same_part(one: dict[str, object], other: dict[str, object]) -> bool:
    """Whether two parts differ in nothing but the share, and perhaps the case of a name."""
    ones, others = (
        {key: str(value).casefold() for key, value in each.items() if key != "share"}
        for each in (one, other)
    )
    return ones == others


def _made_of(keeper: Keeper) -> Makeup:
    made_of: Makeup = {}
    for tincture_id, *herb in keeper.rows(_MADE_OF):
        made_of.setdefault(tincture_id, set()).add(tuple(herb))
    return made_of


def _fitting(
    part: FormulaPartView, bottles: Iterable[BottleRow], made_of: Makeup
) -> Iterator[BottleRow]:
    """Bottles of that tincture, or of that herb alone in the condition asked for."""
    for row in bottles:
        herbs = made_of.get(row.tincture_id, set())
        if part.herb_id is None:
            if row.name.casefold() == part.name.casefold():
                yield row
        elif herbs and all(
            herb_id == part.herb_id
            and part.part in (None, plant_part)
            and part.condition in (None, condition)
            for herb_id, plant_part, condition in herbs
        ):
            yield row
