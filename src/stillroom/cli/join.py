"""`join` and `thin`."""

from stillroom.cli.blend import left_json, plan_lines
from stillroom.cli.bottles import bottle_line, bottles_json
from stillroom.cli.call import Call
from stillroom.cli.form import Done, Form, FormField, Values, amount, choice, day
from stillroom.cli.found import bottle_of, cupboard_of, taken_of
from stillroom.cli.strain import cautions, made_json
from stillroom.errors import Refused
from stillroom.keeping.bottles.blends import make_blend, plan_blend
from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.joining import Taken, Thinning, joined, thinned
from stillroom.keeping.bottles.losses import lose
from stillroom.keeping.bottles.stock import pour_together, take_out, volume_or_all
from stillroom.keeping.drafts import BlendDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.ancestry import find_code
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import LOSS_KINDS, InputKind, LossKind, MovementKind


def _made(call: Call, keeper: Keeper, draft: BlendDraft, confirmed: bool) -> Done:
    plan = plan_blend(keeper, draft)
    made = make_blend(keeper, draft, confirmed=confirmed)
    said = call.wording
    lines = [f"{draft.how.capitalize()} {made.code} {made.name}."]
    lines += [f"{said.volume(each.volume_ml)} of {each.name} added." for each in plan.inputs
              if each.kind is not InputKind.BATCH]  # fmt: skip
    lines += [*plan_lines(plan, said), *cautions(made)]
    lines.append(f"To bottle it: stillroom bottle {made.code}")
    inputs = [{"name": each.name, "volume_ml": round(each.volume_ml, 4)} for each in plan.inputs]
    return Done(
        lines, lambda: {"batch": made_json(made), "inputs": inputs, "parts": left_json(call, plan)}
    )


JOIN = (
    FormField("into", "Into bottle", hint="only to top up a bottle of the same batch"),
    FormField("name", "Name", hint="blank: the name of the first"),
    FormField("day", "Joined on", day, "blank: today"),
    FormField("note", "Note"),
)


def _join(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    if "into" in values:
        if call.asked.more or len(values) > 1:
            raise Refused("into= takes one bottle, and nothing else.")
        return _together(call, keeper, values["into"])
    codes = [call.asked.subject, *call.asked.more]
    if len(codes) < 2:
        raise Refused("Give the codes of at least two batches or bottles.")
    taken = tuple(taken_of(keeper, code) for code in codes)
    draft = joined(
        keeper,
        taken,
        values.get("day", keeper.today),
        values.get("name", ""),
        values.get("note", ""),
    )
    return _made(call, keeper, draft, confirmed)


def _together(call: Call, keeper: Keeper, into: str) -> Done:
    from_id, into_id = bottle_of(keeper, call.asked.subject), bottle_of(keeper, into)
    pour_together(keeper, from_id, into_id)
    rows = [r for r in bottle_rows(keeper, empties=True) if r.bottle_id in (from_id, into_id)]
    return Done([bottle_line(call, row) for row in rows], lambda: bottles_json(call, rows))


THIN = (
    FormField("target", "Strength to reach", amount(Kind.STRENGTH), "such as 30%",
              is_required=True),
    FormField("with", "Add", hint="a spirit of the cupboard, by name; blank: water"),
    FormField("take", "Take", lambda call, text: volume_or_all(call.wording, text),
              "blank: all of it"),
    FormField("name", "Name", hint="blank: same as before"),
    FormField("day", "Day", day, "blank: today"),
    FormField("note", "Note"),
)  # fmt: skip


def _thin(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    kind, row_id = cupboard_of(keeper, values.get("with", "water"))
    if kind is InputKind.LIQUID:
        raise Refused("with: choose water or a spirit. To sweeten, blend.")
    taken = _taken(taken_of(keeper, call.asked.subject), values)
    asked = Thinning(
        taken,
        values["target"],
        values.get("day", keeper.today),
        row_id,
        values.get("name", ""),
        values.get("note", ""),
    )
    return _made(call, keeper, thinned(keeper, asked), confirmed)


def _taken(all_of_it: Taken, values: Values) -> Taken:
    from dataclasses import replace

    return replace(all_of_it, volume_ml=values["take"]) if "take" in values else all_of_it


LOSS = (
    FormField("volume", "Volume", lambda call, text: volume_or_all(call.wording, text),
              "10 ml, or all", is_required=True),
    choice("kind", "Kind", list(LOSS_KINDS), is_required=True),
    FormField("day", "Day", day, "blank: today"),
    FormField("note", "Note"),
)  # fmt: skip
_OUT_OF_BOTTLE: dict[LossKind, MovementKind] = {
    kind: MovementKind.SPILL if kind is LossKind.SPILLED else MovementKind(str(kind))
    for kind in LOSS_KINDS
}


def _lose(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    found = find_code(keeper, call.asked.subject)
    kind, to_lose = LossKind(values["kind"]), values["volume"]
    day_lost, note = values.get("day"), values.get("note", "")
    if found.bottle_id is not None:
        row = take_out(
            keeper,
            found.bottle_id,
            to_lose,
            kind=_OUT_OF_BOTTLE[kind],
            note=note,
            day=day_lost,
            confirmed=confirmed,
        )
        return Done([bottle_line(call, row)], lambda: bottles_json(call, [row])[0])
    if found.tincture_id is None:
        raise Refused(f"Jar {found.code} hasn't been strained.")
    made = lose(keeper, found.tincture_id, kind, to_lose, day=day_lost, note=note)
    left = call.wording.volume(made.loose_ml)
    return Done([f"{made.code} {made.name}: {left} to bottle."], lambda: made_json(made))


COMMANDS = {
    "loss": Form(
        LOSS,
        _lose,
        subject="CODE",
        about="code of a batch or bottle, such as 26-004 or 26-004.1",
        notes="For what was lost of a batch before it was bottled, or from a bottle.",
    ).command(),
    "join": Form(
        JOIN,
        _join,
        subject="CODE",
        takes_more=True,
        about="code of a batch or bottle, such as 26-004 or 26-004.1",
        notes="Batches still to be bottled, and what is left in bottles, become a new batch with "
        "its own code.\nWith into=, one bottle is poured into another of the same batch, until the "
        "one is empty or the\nother full.",
        asks=False,
    ).command(),
    "thin": Form(
        THIN,
        _thin,
        subject="CODE",
        about="code of a batch or bottle, such as 26-004 or 26-004.1",
        notes="Adds water, or a spirit of the cupboard, to a bottle or to a batch that is still to "
        "be bottled. The\nresult is a new batch. The amount to add allows for the contraction.",
    ).command(),
}
