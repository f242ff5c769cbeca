"""`liquids`."""

from typing import Any

from stillroom.cli.call import Call
from stillroom.cli.form import FormField, Values, amount, choice, day
from stillroom.cli.found import only_one
from stillroom.cli.shelved import Shelved
from stillroom.errors import NotUnderstood
from stillroom.keeping.cupboard.densities import refuse_density
from stillroom.keeping.cupboard.liquids import (
    LiquidView,
    add_liquid,
    change_liquid,
    liquids,
    remove_liquid,
)
from stillroom.keeping.drafts import LiquidDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.words import in_a_row
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.other_liquids import USUAL
from stillroom.reckoning.states import OtherLiquidKind


def _volume_or_weight(call: Call, text: str) -> Figure:
    return call.wording.read_volume_or_mass(text)


LIQUID = (
    FormField("name", "Name", is_required=True),
    choice("kind", "Kind", list(OtherLiquidKind), is_required=True),
    FormField("density", "Density, g/mL", amount(Kind.NUMBER), "blank: the usual of its kind"),
    FormField("source", "Density from", hint="where the density comes from", can_be_blank=True),
    FormField("glycerol", "Glycerol", amount(Kind.PERCENT), "by volume", can_be_blank=True),
    FormField("acidity", "Acidity", amount(Kind.PERCENT), "as on the label", can_be_blank=True),
    FormField(
        "bought",
        "Bought",
        _volume_or_weight,
        "volume or weight; blank: not counted",
        can_be_blank=True,
    ),
    FormField("price", "Price", amount(Kind.MONEY), "for all of it", can_be_blank=True),
    FormField("day", "Bought on", day, "blank: today", can_be_blank=True),
    FormField("origin", "Origin", can_be_blank=True),
    FormField("lot", "Lot", can_be_blank=True),
    FormField("code", "Code", hint="where you have two lots of one liquid", can_be_blank=True),
    FormField("note", "Note", can_be_blank=True),
)


def _save(call: Call, keeper: Keeper, before: LiquidView | None, values: Values) -> LiquidView:
    kind = OtherLiquidKind(values.get("kind", before.kind if before else ""))
    usual = USUAL[kind]
    is_own = before is None or before.kind is not kind

    def given(key: str, was: Any, of_kind: Any = None) -> Any:
        if key in values:
            return values[key]
        return of_kind if is_own else was

    density = given("density", before and before.density_g_per_ml, usual.density_g_per_ml)
    if density is None:
        raise NotUnderstood("density: a density in g/mL is needed.")
    source = given("source", before and before.density_source, usual.source) or ""
    if "density" in values and "source" not in values:
        source = ""
    bought: Figure | None = values.get("bought")
    bought_ml = before.bought_ml if before and "bought" not in values else None
    if bought is not None:
        refuse_density(call.wording, density)
        bought_ml = bought.value / (density if bought.kind is Kind.MASS else 1)
    draft = LiquidDraft(
        name=values.get("name", before.name if before else ""),
        kind=kind,
        density_g_per_ml=density,
        density_source=source,
        acidity=given("acidity", before and before.acidity, usual.acidity),
        glycerol=given("glycerol", before and before.glycerol, usual.glycerol),
        bought_ml=bought_ml,
        price=values.get("price", before.price if before else None),
        bought_on=values.get("day", before.bought_on if before else keeper.today),
        origin=values.get("origin", before.origin if before else "") or "",
        lot=values.get("lot", before.lot if before else "") or "",
        code=values.get("code", before.code if before else "") or "",
        note=values.get("note", before.note if before else "") or "",
    )
    if before is None:
        liquid_id = add_liquid(keeper, draft)
    else:
        change_liquid(keeper, before.liquid_id, draft)
        liquid_id = before.liquid_id
    return next(row for row in liquids(keeper) if row.liquid_id == liquid_id)


def _line(call: Call, row: LiquidView) -> str:
    said = call.wording
    left = "not counted" if row.left_ml is None else f"{said.volume(row.left_ml)} left"
    source = f" ({row.density_source})" if row.density_source else ""
    facts = in_a_row(
        row.kind,
        f"{said.density(row.density_g_per_ml)}{source}",
        "" if row.glycerol is None else f"glycerol {said.percent(row.glycerol)}",
        "" if row.acidity is None else f"acid {said.percent(row.acidity)}",
        left,
        f"bought {said.day(row.bought_on)}" if row.bought_on else "",
        "" if row.price is None else f"price {said.money(row.price)}",
        row.origin, f"lot {row.lot}" if row.lot else "", row.code, " ".join(row.note.split()),
    )  # fmt: skip
    return f"{row.name}: {facts}"


def _json(call: Call, row: LiquidView) -> dict[str, Any]:
    return {
        "number": row.liquid_id,
        "name": row.name,
        "kind": row.kind,
        "density_g_per_ml": row.density_g_per_ml,
        "density_source": row.density_source,
        "glycerol": row.glycerol,
        "acidity": row.acidity,
        "bought_ml": row.bought_ml,
        "left_ml": row.left_ml,
        "price": row.price,
        "bought_on": row.bought_on,
        "origin": row.origin,
        "lot": row.lot,
        "code": row.code,
        "note": row.note,
    }


def _called(call: Call, keeper: Keeper, name: str) -> LiquidView | None:
    return only_one(keeper, name, liquids(keeper))


COMMANDS = {
    "liquids": Shelved(
        what="liquid",
        fields=LIQUID,
        rows=lambda keeper: [(row.name, row) for row in liquids(keeper)],
        line=_line,
        json=_json,
        save=_save,
        delete=lambda keeper, row: remove_liquid(keeper, row.liquid_id),
        also=_called,
    ).command(),
}
