"""`blend` and `formula`."""

from collections.abc import Callable, Iterable
from functools import partial
from typing import Any, TypeVar

from stillroom.cli.bottles import bottles_json
from stillroom.cli.call import Call
from stillroom.cli.form import Done, Form, FormField, Values, amount, choice, day
from stillroom.cli.found import batch_of, bottle_of, cupboard_of, named
from stillroom.cli.shelved import Shelved
from stillroom.cli.strain import cautions, made_json
from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.bottles.blend_views import BlendPlan, FormulaProposal, FormulaView
from stillroom.keeping.bottles.blends import make_blend, plan_blend, shared_out
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.formulas import (
    drop_formula,
    formula_from_blend,
    formulas,
    keep_formula,
    parts_from_formula,
)
from stillroom.keeping.bottles.stock import volume_or_all
from stillroom.keeping.cupboard.counting import in_cupboard
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    FormulaDraft,
    FormulaPartDraft,
    InputDraft,
    ToTake,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.wording import Wording
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import InputKind

T = TypeVar("T")

BLEND = (
    FormField("name", "Name", hint="as printed on the label"),
    FormField("formula", "Formula", hint="blank: choose the bottles"),
    FormField(
        "part",
        "Part",
        columns=(
            FormField(
                "code",
                "Bottle",
                hint=(
                    "code of a bottle or of a batch to be bottled, or the name of a liquid in the "
                    "cupboard"
                ),
                is_required=True,
            ),
            FormField(
                "amount", "Amount", hint="a volume, all, or parts of total=", is_required=True
            ),
        ),
        is_asked=lambda values: "formula" not in values,
    ),
    FormField("total", "Total", amount(Kind.VOLUME), "volume to make; amounts are then its parts"),
    FormField("day", "Blended on", day, "blank: today"),
    FormField("note", "Note"),
)


def _blend(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    name, others = values.get("name", ""), _typed_others(call, keeper, values)
    bottles = [row for row in values.get("part", ()) if _is_bottle(keeper, row["code"])]
    parts = _typed_parts(call, keeper, {**values, "part": bottles})
    if "formula" in values:
        proposal = _proposal(keeper, values)
        name = name or proposal.formula.name
        if (missing := missing_words(proposal, call.wording)) and not confirmed:
            raise NeedsConfirmation(f"{missing} Blend anyway?")
        parts = tuple(BlendPartDraft(p.bottle.bottle_id, p.volume_ml) for p in proposal.parts)
    if not name:
        raise Refused("name: Name is needed.")
    made_on, note = values.get("day", keeper.today), values.get("note", "")
    draft = BlendDraft(name, parts, made_on, note, others)
    plan = plan_blend(keeper, draft)
    made = make_blend(keeper, draft, confirmed=confirmed)
    lines = [f"Blended {made.code} {made.name}.", *plan_lines(plan, call.wording), *cautions(made)]
    lines.append(f"To bottle it: stillroom bottle {made.code}")
    return Done(lines, lambda: {"batch": made_json(made), "parts": left_json(call, plan)})


def left_json(call: Call, plan: BlendPlan) -> list[dict[str, Any]]:
    """What is left in the bottles that a blend was made from."""
    used = {part.bottle.bottle_id for part in plan.parts}
    rows = bottle_rows(call.keeper, empties=True)
    return bottles_json(call, [row for row in rows if row.bottle_id in used])


def _is_bottle(keeper: Keeper, code: str) -> bool:
    try:
        return find_code(keeper, code).bottle_id is not None
    except Refused:
        return False


def _typed_others(call: Call, keeper: Keeper, values: Values) -> tuple[InputDraft, ...]:
    """What goes in from batches that wait, and from the cupboard."""
    found = []
    for row in values.get("part", ()):
        if _is_bottle(keeper, row["code"]):
            continue
        if "total" in values:
            raise Refused(f"{row['code']} isn't a bottle: give its volume, and no total=.")
        try:
            batch = find_code(keeper, row["code"])
        except Refused:
            kind, row_id = cupboard_of(keeper, row["code"])
            density = None if row_id is None else in_cupboard(keeper, kind, row_id).density_g_per_ml
            found.append(InputDraft(kind, _amount(call, row, density), row_id))
            continue
        volume_ml = _amount(call, row)
        if batch.tincture_id is None:
            raise Refused(f"Jar {batch.code} hasn't been strained.")
        found.append(InputDraft(InputKind.BATCH, volume_ml, batch.tincture_id))
    return tuple(found)


def _amount(call: Call, row: Values, g_per_ml: float | None = None) -> ToTake:
    try:
        return volume_or_all(call.wording, row["amount"], g_per_ml)
    except NotUnderstood as error:
        raise NotUnderstood(f"part, {row['code']}, amount: {error}") from error


def _typed_parts(call: Call, keeper: Keeper, values: Values) -> tuple[BlendPartDraft, ...]:
    rows = values.get("part", ())
    if "formula" in values:
        if rows:
            raise Refused("formula= can't be combined with part=.")
        return ()
    said = call.wording
    if "total" in values:
        shares = [_of_bottle(keeper, row, partial(said.read, Kind.NUMBER)) for row in rows]
        return shared_out(values["total"], shares)
    volumes = [_of_bottle(keeper, row, partial(volume_or_all, said)) for row in rows]
    return tuple(BlendPartDraft(bottle_id, volume_ml) for bottle_id, volume_ml in volumes)


def _of_bottle(keeper: Keeper, row: Values, read: Callable[[str], T]) -> tuple[int, T]:
    """A bottle and what of it is asked for."""
    bottle_id = bottle_of(keeper, row["code"])
    try:
        return bottle_id, read(row["amount"])
    except NotUnderstood as error:
        raise NotUnderstood(f"part, {row['code']}, amount: {error}") from error


def _proposal(keeper: Keeper, values: Values) -> FormulaProposal:
    if "total" not in values:
        raise Refused("total: Total is needed to make a formula.")
    known = ((each.name, each.formula_id) for each in formulas(keeper))
    return parts_from_formula(keeper, named("formula", values["formula"], known), values["total"])


def missing_words(proposal: FormulaProposal, said: Wording) -> str:
    """What the bottles do not hold of a formula; blank where they hold all."""
    return " ".join(
        f"Not enough {missing.part.in_words}: {said.volume(missing.found_ml)} "
        f"of {said.volume(missing.wanted_ml)}."
        for missing in proposal.missing
    )


def plan_lines(plan: BlendPlan, said: Wording) -> Iterable[str]:
    """What a blend comes to."""
    strength = said.finished_strength(plan) or "strength unknown"
    until = f"keep until {said.day(plan.keep_until)}" if plan.keep_until else "no keep-until date"
    yield (
        f"{said.volume(plan.poured_ml)} measured separately makes {said.volume(plan.volume_ml)}, "
        f"{strength}, {until}."
    )
    if stands_for := said.stands_for(plan.herbs):
        yield f"{stands_for}."
    for warning in plan.warnings:
        yield f"! {warning}"


FORMULA = (
    FormField("name", "Name", is_required=True),
    FormField("from", "Made like", hint="code of a blend, instead of part="),
    FormField(
        "part",
        "Part",
        columns=(
            FormField("name", "Herb or tincture", is_required=True),
            FormField("share", "Share", amount(Kind.NUMBER), "parts or percent", is_required=True),
            choice("part", "Part of the plant", KNOWN_PARTS, hint="blank: any"),
            choice("condition", "Condition", KNOWN_CONDITIONS, hint="blank: either"),
        ),
    ),
    FormField("note", "Note", can_be_blank=True),
)


def _formula_json(view: FormulaView) -> dict[str, Any]:
    return {
        "name": view.name,
        "parts": [
            {
                "name": part.name,
                "part": part.part,
                "condition": part.condition,
                "share_percent": part.share_percent,
            }
            for part in view.parts
        ],
        "note": view.note,
    }


def _formula_line(call: Call, view: FormulaView) -> str:
    parts = ", ".join(
        " ".join(filter(None, (call.wording.percent(p.share_percent), p.name, p.part, p.condition)))
        for p in view.parts
    )
    return f"{view.name}: {parts}" + (f". {view.note}" if view.note else "")


def _formula_draft(keeper: Keeper, values: Values, before: FormulaView | None) -> FormulaDraft:
    parts: tuple[FormulaPartDraft, ...] = ()
    if "from" in values and "part" in values:
        raise Refused("from= can't be combined with part=.")
    if "from" in values:
        parts = formula_from_blend(keeper, batch_of(keeper, values["from"])).parts
    elif "part" in values:
        parts = tuple(
            FormulaPartDraft(
                row["name"],
                row["share"],
                Part(row["part"]) if "part" in row else None,
                Condition(row["condition"]) if "condition" in row else None,
            )
            for row in values["part"]
        )
    elif before:
        parts = tuple(
            FormulaPartDraft(p.name, p.share_percent, p.part, p.condition) for p in before.parts
        )
    name = values.get("name", before.name if before else "")
    note = (values["note"] or "") if "note" in values else before.note if before else ""
    return FormulaDraft(name, parts, note)


def _save_formula(
    call: Call, keeper: Keeper, before: FormulaView | None, values: Values
) -> FormulaView:
    draft = _formula_draft(keeper, values, before)
    return keep_formula(keeper, draft, before.formula_id if before else None)


COMMANDS = {
    "blend": Form(
        BLEND,
        _blend,
        notes="With total=, each amount is parts or percent of it. With formula= and total=, the "
        "oldest bottles\nthat are still good are chosen for each part.",
    ).command(),
    "formula": Shelved(
        what="formula",
        fields=FORMULA,
        rows=lambda keeper: [(each.name, each) for each in formulas(keeper)],
        line=_formula_line,
        json=lambda call, view: _formula_json(view),
        save=_save_formula,
        delete=lambda keeper, view: drop_formula(keeper, view.formula_id),
    ).command(),
}
