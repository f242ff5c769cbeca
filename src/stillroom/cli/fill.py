"""`fill` and `top-up`."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

from stillroom.cli.call import Call
from stillroom.cli.form import (
    Done,
    Form,
    FormField,
    Values,
    amount,
    choice,
    day,
    is_never,
    shakes,
    whole_number,
    words,
    yes_or_no,
)
from stillroom.cli.found import jar_of, shelf_of
from stillroom.cli.jars import herb_words, jars_json
from stillroom.cli.output import put, put_json
from stillroom.cli.pours import POUR, pour_draft
from stillroom.errors import NeedsConfirmation, Refused
from stillroom.keeping.cards import JarCard
from stillroom.keeping.cupboard.cupboard import shelf_rows
from stillroom.keeping.cupboard.lot_reading import herb_lot_of_code, herb_lots
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.drafts import AgainDraft, ChargeDraft, JarDraft
from stillroom.keeping.jars.filling import fill_question, water_fraction
from stillroom.keeping.jars.jar import fill_jar, top_up
from stillroom.keeping.jars.jar_sum import room_lines
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.marc import held_back, pour_again
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.views import JarView, Outlook
from stillroom.keeping.wording import Wording
from stillroom.reckoning.cautions import CERTAIN, COOL_FIRST, FOOD_GRADE
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.marc import ANOTHER_POUR, SIMMER_MARC
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.states import LiquidKind


def _lot_of(row: Values) -> HerbLotView | None:
    """The lot that a herb is taken from, which can be given in place of its name."""
    name, lot = row.get("name"), row.get("lot")
    return name if isinstance(name, HerbLotView) else lot


def _names_no_lot(row: Values) -> bool:
    return _lot_of(row) is None


def _lot(call: Call, text: str) -> HerbLotView:
    return herb_lot_of_code(call.keeper, text)


def _name_or_lot(call: Call, text: str) -> str | HerbLotView:
    wanted = text.strip().casefold()
    lots = (lot for lot in herb_lots(call.keeper) if lot.code.casefold() == wanted)
    return next(lots, text.strip())


HERB = (
    FormField(
        "name",
        "Name",
        _name_or_lot,
        "or the code of a lot in store",
        is_required=True,
        is_asked=_names_no_lot,
    ),
    choice("part", "Part", KNOWN_PARTS, is_required=True, is_asked=_names_no_lot),
    choice("condition", "Condition", KNOWN_CONDITIONS, is_required=True, is_asked=_names_no_lot),
    FormField("mass", "Weight", amount(Kind.MASS), "blank: filled by eye"),
    FormField("water", "Water in herb", amount(Kind.PERCENT), "blank: typical value"),
    FormField("botanical", "Botanical name", is_asked=_names_no_lot),
    FormField("gathered", "Gathered on", day, is_asked=_names_no_lot),
    FormField("origin", "Origin, lot", words, "place or seller, lot", is_asked=_names_no_lot),
    FormField(
        "lot",
        "Lot in store",
        _lot,
        "its code: herb, part and condition come from it",
        is_asked=is_never,
    ),
)


def _shelf(call: Call, text: str) -> int:
    return shelf_of(call, text)


FILL = (
    FormField("herb", "Herb", columns=HERB, is_required=True),
    FormField("pour", "Liquid", columns=POUR, is_required=True),
    FormField("size", "Jar size", amount(Kind.VOLUME)),
    FormField("shelf", "Shelf", _shelf, "blank: the first shelf"),
    FormField("filled", "Filled on", day, "blank: today"),
    FormField("days", "Days to steep", whole_number(Kind.DAYS), "blank: as in the settings"),
    FormField("shakes", "Shakes a day", shakes, "0 to 9; blank: as in the settings"),
    yes_or_no("simmered", "Simmered first", hint="blank: no"),
    FormField("note", "Note"),
)


def _charge(row: Values) -> ChargeDraft:
    lot = _lot_of(row)
    if lot is not None:
        for key in ("botanical", "gathered", "origin"):
            if key in row:
                raise Refused(f"{key}: leave it out: it is known from the lot {lot.code}.")
        known = charge_of_lot(lot, row.get("mass"), water_fraction(row.get("water")))
        if isinstance(row.get("name"), str):
            known = replace(known, herb=row["name"])
        if row.get("part"):
            known = replace(known, part=Part(row["part"]))
        if row.get("condition"):
            known = replace(known, condition=Condition(row["condition"]))
        return known
    return ChargeDraft(
        herb=row["name"],
        part=Part(row["part"]),
        condition=Condition(row["condition"]),
        mass_g=row.get("mass"),
        water_fraction=water_fraction(row.get("water")),
        botanical=row.get("botanical", ""),
        gathered_on=row.get("gathered"),
        origin=row.get("origin", ""),
    )


def _steeping(keeper: Keeper, values: Values) -> dict[str, Any]:
    """What a first and a second pour have in common, by the names of their drafts."""
    settings = settings_of(keeper)
    filled_on = values.get("filled", keeper.today)
    return {
        "pours": tuple(map(pour_draft, values["pour"])),
        "filled_on": filled_on,
        "strain_on": filled_on + timedelta(days=values.get("days", settings.steep_days)),
        "shakes_per_day": values.get("shakes", settings.shakes_per_day),
        "shelf_id": values.get("shelf"),
        "capacity_ml": values.get("size"),
        "simmered": values.get("simmered", False),
        "note": values.get("note", ""),
    }


def _jar_draft(keeper: Keeper, values: Values) -> JarDraft:
    return JarDraft(
        charges=tuple(map(_charge, values["herb"])),
        **_steeping(keeper, values),
    )


def _fill(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    draft = _jar_draft(keeper, values)
    if (question := fill_question(draft)) and not confirmed:
        raise NeedsConfirmation(question)
    card = fill_jar(keeper, draft)
    is_cooked = draft.simmered or any(p.kind is LiquidKind.DECOCTION for p in draft.pours)
    shelf = next(row.name for row in shelf_rows(keeper) if row.shelf_id == card.shelf_id)
    return Done(
        [
            f"Filled {card.code} {herb_words(card)}, on {shelf}.",
            *_comes_to(call.wording, jar_view(keeper, card.jar_id)),
            f"Strain on {call.wording.day(card.strain_on)}.",
            CERTAIN,
            COOL_FIRST if is_cooked else FOOD_GRADE,
            *cautions_poured(keeper, card),
        ],
        lambda: jar_json(keeper, card),
    )


def _comes_to(said: Wording, jar: JarView) -> list[str]:
    """What is in a jar now, whether it will keep, and what to mind of the room in it."""
    found = jar.outlook
    ratio = f", {said.ratio(found.ratio)} herb to liquid poured" if found.ratio else ""
    room = room_lines(
        [each.charge for each in jar.charges],
        [Liquid(pour.volume_ml, pour.strength_abv or 0.0) for pour in jar.pours],
        found.volume_ml,
        jar.capacity_ml,
        said,
    )
    return [
        f"{said.volume(found.volume_ml)} at {strength_words(found, said)}{ratio}. "
        f"{said.verdict(found)}",
        *(line for line in room if line.startswith("!")),
    ]


def cautions_poured(keeper: Keeper, card: JarCard) -> list[str]:
    """What to mind of the herbs in the tinctures poured on, each in a line."""
    said = (c for pour in jar_view(keeper, card.jar_id).pours for c in pour.cautions)
    return [f"! {caution}" for caution in dict.fromkeys(said)]


AGAIN = (
    FILL[1],
    FormField("marc", "Weight of the marc", amount(Kind.MASS), "blank: as it was at straining"),
    FormField("held", "Held back", amount(Kind.VOLUME), "only where it can't be calculated"),
    *FILL[2:],
)


def _pour_again(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    first = jar_of(keeper, call.asked.subject)
    draft = AgainDraft(
        jar_id=first.card.jar_id,
        **_steeping(keeper, values),
        marc_g=values.get("marc"),
        held_ml=values.get("held"),
    )
    card = pour_again(keeper, draft)
    found = jar_view(keeper, card.jar_id).outlook
    said = call.wording
    return Done(
        [
            f"Poured again on the marc of {first.card.code}: jar {card.code} {herb_words(card)}.",
            f"{said.volume(found.volume_ml)} at {strength_words(found, said)}. "
            f"{said.verdict(found)}",
            f"Strain on {said.day(card.strain_on)}.",
            ANOTHER_POUR,
            SIMMER_MARC if draft.simmered else FOOD_GRADE,
            *cautions_poured(keeper, card),
        ],
        lambda: jar_json(keeper, card),
    )


def strength_words(found: Outlook, said: Wording) -> str:
    """The strength of the liquid in a jar, as well as it is known."""
    if not found.is_known:
        return "an unknown strength"
    if found.strength_at_most:
        return f"up to {said.of(Kind.STRENGTH, found.strength_abv)}"
    about = "about " if found.is_partial else ""
    return f"{about}{said.of(Kind.STRENGTH, found.strength_abv)}"


def _show_held(call: Call) -> int:
    """What the marc of a jar holds back."""
    held = held_back(jar_of(call.keeper, call.asked.subject))
    if call.asked.json:
        put_json(call, {"held_ml": held.volume_ml, "by_weight": held.by_weight})
        return 0
    if held.volume_ml is None:
        put("What the marc holds back can't be calculated: give held= or leave it out.")
    else:
        how = "by its weight" if held.by_weight else "the liquid in the jar less the yield"
        put(f"The marc holds back {call.wording.volume(held.volume_ml)}: {how}.")
    return 0


def jar_json(keeper: Keeper, card: JarCard) -> object:
    """A jar as `jars` prints it."""
    return jars_json([card], shelves_view(keeper))[0]


def _top_up(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    jar = jar_of(keeper, call.asked.subject)
    pour = pour_draft(values)
    covers = values.get("covered", True)
    card = top_up(keeper, jar.card.jar_id, pour, covers=covers)
    caution = COOL_FIRST if pour.kind is LiquidKind.DECOCTION else FOOD_GRADE
    state = "The herb is covered." if card.covered else "The herb is still not covered."
    volume = call.wording.volume(pour.volume_ml)
    return Done(
        [
            f"Topped up {card.code} {herb_words(card)} with {volume}. {state}",
            *_comes_to(call.wording, jar_view(keeper, card.jar_id)),
            caution,
            *cautions_poured(keeper, card),
        ],
        lambda: jar_json(keeper, card),
    )


COMMANDS = {
    "fill": Form(
        FILL,
        _fill,
        notes="Give herb= once for each herb and pour= once for each liquid. Separate the values "
        "with semicolons,\nin the order shown or by name: "
        'herb="name=Sage;part=leaf;condition=dried".\nWithout values, fill asks line by line.',
        begins_shelf=True,
    ).command(),
    "pour-again": Form(
        AGAIN,
        _pour_again,
        subject="CODE",
        about="code of the jar, such as 26-004",
        notes="Starts a jar from the marc of a strained one. Without values, this shows what the "
        "marc holds back.",
        show=_show_held,
    ).command(),
    "top-up": Form(
        (*POUR, yes_or_no("covered", "Herb covered now", hint="blank: yes")),
        _top_up,
        subject="CODE",
        about="code of the jar, such as 26-004",
    ).command(),
}
