"""`lots`: herbs in store."""

from argparse import ArgumentParser
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

from stillroom.cli.call import Call, Command
from stillroom.cli.examples import EXAMPLES
from stillroom.cli.form import (
    Done,
    FormField,
    Values,
    amount,
    ask_for,
    carry_out,
    change_options,
    choice,
    day,
    lines_about,
    read_pairs,
    refuse_missing,
)
from stillroom.cli.output import put, put_json
from stillroom.cli.prompts import can_ask
from stillroom.errors import Refused, choose_from
from stillroom.keeping.cupboard.lot_reading import herb_lot_of_code, herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.lots import (
    add_lot,
    discard_herb,
    dry,
    give_herb,
    lay_out,
    remove_lot,
    use_up,
    weigh_lot,
)
from stillroom.keeping.cupboard.lots_good import Good, good_of
from stillroom.keeping.cupboard.lots_in_words import good_words, left_words
from stillroom.keeping.drafts import HerbLotDraft
from stillroom.keeping.jars.filling import water_fraction
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.words import in_a_row
from stillroom.reckoning.cautions import CERTAIN, deadly_warning
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import HERB_DISCARDS, HerbCame, HerbMovementKind

ADD = "add"
_WEIGHT = FormField("weight", "Weight", amount(Kind.MASS), "blank: all of it")
_ON = FormField("day", "Day", day, "blank: today")
_NOTE = FormField("note", "Note")

LOT = (
    FormField("herb", "Herb", is_required=True),
    choice("part", "Part", KNOWN_PARTS, is_required=True),
    choice("condition", "Condition", KNOWN_CONDITIONS, is_required=True),
    choice("came", "Gathered or bought", list(HerbCame), hint="blank: gathered"),
    FormField("day", "Gathered or bought on", day, "blank: today"),
    FormField("origin", "Origin", hint="place or seller"),
    FormField("lot", "Lot", hint="the seller's own number"),
    FormField("weight", "Weight", amount(Kind.MASS), "blank: not weighed"),
    FormField("price", "Price", amount(Kind.MONEY), "for all of it"),
    FormField("water", "Water in herb", amount(Kind.PERCENT), "if measured"),
    FormField("botanical", "Botanical name"),
    FormField("note", "Note"),
)


def good_line(call: Call, good: Good) -> str:
    """A lot of dried herb, and until when it is usually good."""
    lot, said = good.lot, call.wording
    words = good_words(good, call.keeper.today, said)
    return f"{lot.code} {lot.herb}, {lot.part}: {left_words(lot, said)}, {words}"


def good_json(good: Good) -> dict[str, object]:
    """The same for programs."""
    return {
        "code": good.lot.code,
        "herb": good.lot.herb,
        "part": good.lot.part,
        "left_g": good.lot.left_g,
        "good_until": good.until,
        "is_own": good.is_own,
    }


@dataclass(frozen=True)
class _LotAct:
    """One act on a lot."""

    fields: tuple[FormField, ...]
    act: Callable[[Keeper, int, Values], HerbLotView | None]
    done: str


def _lay_out(keeper: Keeper, lot_id: int, values: Values) -> HerbLotView:
    return lay_out(keeper, lot_id, values.get("weight"), day=values.get("day"))


def _dry(keeper: Keeper, lot_id: int, values: Values) -> HerbLotView:
    return dry(keeper, lot_id, values.get("weight"), day=values.get("day"))


def _weigh(keeper: Keeper, lot_id: int, values: Values) -> HerbLotView:
    return weigh_lot(keeper, lot_id, values["weight"], note=values.get("note", ""))


def _give(keeper: Keeper, lot_id: int, values: Values) -> HerbLotView:
    return give_herb(
        keeper, lot_id, values.get("weight"), person=values.get("for", ""),
        note=values.get("note", ""), day=values.get("day"),
    )  # fmt: skip


def _discard(keeper: Keeper, lot_id: int, values: Values) -> HerbLotView:
    return discard_herb(
        keeper, lot_id, values.get("weight"),
        kind=HerbMovementKind(values.get("kind", HerbMovementKind.DISCARD)),
        note=values.get("note", ""), day=values.get("day"),
    )  # fmt: skip


def _use_up(keeper: Keeper, lot_id: int, values: Values) -> HerbLotView:
    return use_up(keeper, lot_id, note=values.get("note", ""), day=values.get("day"))


def _delete(keeper: Keeper, lot_id: int, values: Values) -> None:
    remove_lot(keeper, lot_id)


_DRY_WEIGHT = FormField("weight", "Dry weight", amount(Kind.MASS))
ACTS = {
    "lay-out": _LotAct((_WEIGHT, _ON), _lay_out, "Laid out to dry"),
    "dry": _LotAct((_DRY_WEIGHT, _ON), _dry, "Dried"),
    "weigh": _LotAct(
        (FormField("weight", "Weight", amount(Kind.MASS), is_required=True), _NOTE),
        _weigh, "Weighed",
    ),
    "give": _LotAct(
        (FormField("weight", "Weight", amount(Kind.MASS), "blank: some, not weighed"),
         FormField("for", "For"), _NOTE, _ON),
        _give, "Given",
    ),
    "discard": _LotAct(
        (_WEIGHT, choice("kind", "Kind", list(HERB_DISCARDS), hint="blank: discard"), _NOTE, _ON),
        _discard, "Discarded",
    ),
    "used-up": _LotAct((_NOTE, _ON), _use_up, "Used up"),
    "delete": _LotAct((), _delete, "Deleted"),
}  # fmt: skip


def lot_line(call: Call, lot: HerbLotView) -> str:
    """A lot in one line."""
    said = call.wording
    drying = f"drying since {said.day(lot.laid_out_on)}" if lot.is_drying else ""
    facts = in_a_row(
        lot.part, lot.condition, f"{lot.came} {said.day(lot.got_on)}", lot.where_from,
        left_words(lot, said), drying,
        f"price {said.money(lot.price)}" if lot.price is not None else "",
        " ".join(lot.note.split()),
    )  # fmt: skip
    return f"{lot.code} {lot.herb}: {facts}"


def lot_json(lot: HerbLotView) -> dict[str, Any]:
    """A lot for programs."""
    return {
        "code": lot.code,
        "herb": lot.herb,
        "part": lot.part,
        "condition": lot.condition,
        "came": lot.came,
        "got_on": lot.got_on,
        "origin": lot.origin,
        "lot": lot.seller_lot,
        "mass_g": lot.mass_g,
        "left_g": lot.left_g,
        "is_at_most": lot.is_at_most,
        "price": lot.price,
        "laid_out_on": lot.laid_out_on,
        "laid_out_g": lot.laid_out_g,
        "dry_on": lot.dry_on,
        "dry_g": lot.dry_g,
        "from_lot": lot.from_lot or None,
        "used_up_on": lot.used_up_on,
        "note": lot.note,
    }


def _run(call: Call) -> int:
    given = list(call.asked.values)
    if not given:
        return _list(call)
    name = given.pop(0)
    if name == ADD:
        return _add(call, given)
    if name not in ACTS:
        raise Refused(f"There is no act {name} of lots. {choose_from(name, (ADD, *ACTS))}")
    if not given or "=" in given[0]:
        raise Refused(f"Give the code of the lot after {name}.")
    code, call.asked.values = given[0], given[1:]
    chosen = ACTS[name]
    values = read_pairs({entry.key: entry for entry in chosen.fields}, call)
    refuse_missing(chosen.fields, values)

    def act(keeper: Keeper, values: Values, confirmed: bool) -> Done:
        lot = herb_lot_of_code(keeper, code)
        after = chosen.act(keeper, lot.lot_id, values) or lot
        return Done([f"{chosen.done}: {lot_line(call, after)}"], lambda: lot_json(after))

    return carry_out(call, act, values, is_asked=False)


def _list(call: Call) -> int:
    found = herb_lots(call.keeper)
    if call.asked.json:
        put_json(call, [lot_json(lot) for lot in found])
        return 0
    if not any(lot.is_in_store for lot in found):
        put(f"None in store. To add one: stillroom {EXAMPLES['lots']}")
    for lot in found:
        if not lot.is_in_store:
            continue
        good = good_of(call.keeper, lot)
        is_near = good is not None and good.is_near(call.keeper.today)
        put(good_line(call, good) if good and is_near else lot_line(call, lot))
    return 0


def _add(call: Call, given: list[str]) -> int:
    call.asked.values = given
    call.begin_shelf()
    is_asked = not given and can_ask()
    if is_asked:
        values = ask_for(LOT, call)
    else:
        values = read_pairs({entry.key: entry for entry in LOT}, call)
    refuse_missing(LOT, values)
    return carry_out(call, partial(_save, call), values, is_asked=is_asked)


def _save(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    lot = add_lot(
        keeper,
        HerbLotDraft(
            herb=values["herb"],
            part=Part(values["part"]),
            condition=Condition(values["condition"]),
            came=HerbCame(values.get("came", HerbCame.GATHERED)),
            got_on=values.get("day", keeper.today),
            origin=values.get("origin", ""),
            seller_lot=values.get("lot", ""),
            mass_g=values.get("weight"),
            price=values.get("price"),
            water_fraction=water_fraction(values.get("water")),
            note=values.get("note", ""),
            botanical=values.get("botanical", ""),
        ),
    )
    warning = deadly_warning(lot.herb, lot.botanical)
    lines = [f"Added {lot_line(call, lot)}", *filter(None, [warning]), CERTAIN]
    return Done(lines, lambda: lot_json(lot))


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "values",
        nargs="*",
        metavar="WORD",
        help=f"{'|'.join((ADD, *ACTS))}, then the code of the lot unless you add one, then "
        "FIELD=VALUE",
    )
    change_options(parser)


def _notes() -> str:
    acts = "\n\n".join(
        f"{name} CODE, {lines_about(act.fields) if act.fields else 'no fields'}"
        for name, act in ACTS.items()
    )
    return (
        "Without words, this lists the lots in store. To add one: add FIELD=VALUE... For the "
        "other acts, give\nthe code of the lot right after the act.\n\n"
        f"add, {lines_about(LOT)}\n\n{acts}"
    )


COMMANDS = {"lots": Command(_arguments, _run, _notes())}
