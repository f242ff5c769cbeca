"""`fill` and `top-up`."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any, NamedTuple

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
    whole_number,
    words,
    yes_or_no,
)
from stillroom.cli.found import jar_of, shelf_of
from stillroom.cli.jars import herb_words, jars_json
from stillroom.cli.output import put, put_json
from stillroom.errors import NeedsConfirmation, NotUnderstood, Refused
from stillroom.keeping.cards import JarCard
from stillroom.keeping.cupboard.cupboard import shelf_rows, spirits
from stillroom.keeping.cupboard.liquids import LiquidView, liquids
from stillroom.keeping.cupboard.lot_reading import herb_lot_of_code
from stillroom.keeping.cupboard.lot_views import HerbLotView
from stillroom.keeping.cupboard.taking import charge_of_lot
from stillroom.keeping.cupboard.twins import spirit_words
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.drafts import AgainDraft, ChargeDraft, JarDraft, PourDraft
from stillroom.keeping.jars.filling import fill_question, water_fraction
from stillroom.keeping.jars.jar import fill_jar, top_up
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.marc import held_back, pour_again
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.views import Outlook
from stillroom.keeping.wording import Wording
from stillroom.quantities import parse_shakes
from stillroom.reckoning.cautions import CERTAIN, COOL_FIRST, FOOD_GRADE
from stillroom.reckoning.charge import KNOWN_CONDITIONS, KNOWN_PARTS, Condition, Part
from stillroom.reckoning.kinds import Figure, Kind
from stillroom.reckoning.marc import ANOTHER_POUR, SIMMER_MARC
from stillroom.reckoning.states import LiquidKind


class NamedLiquid(NamedTuple):
    """Which liquid: a spirit of the cupboard, or another one by its kind."""

    kind: LiquidKind
    spirit: SpiritView | None = None
    strength_abv: float | None = None
    liquid_id: int | None = None
    bottle_id: int | None = None
    """Of a tincture: its bottle, or else the batch that waits to be bottled."""
    source_id: int | None = None
    density_g_per_ml: float | None = None
    """Of a liquid that may be weighed."""


POURED_AS_SUCH = (LiquidKind.SPIRIT, LiquidKind.WATER, LiquidKind.DECOCTION)


def _tincture(call: Call, text: str) -> NamedLiquid | None:
    """A bottle, or what waits of a batch, by its code."""
    try:
        found = find_code(call.keeper, text)
    except Refused:
        return None
    if found.tincture_id is None:
        raise NotUnderstood(f"jar {found.code} hasn't been strained.")
    source_id = None if found.bottle_id else found.tincture_id
    return NamedLiquid(LiquidKind.TINCTURE, bottle_id=found.bottle_id, source_id=source_id)


def _liquid(call: Call, text: str) -> NamedLiquid:
    """A spirit by name, words on screen or number; water, decoction, a strength, or a code."""
    wanted = " ".join(text.split()).casefold()
    if wanted in POURED_AS_SUCH:
        return NamedLiquid(LiquidKind(wanted))
    cupboard = spirits(call.keeper)
    if spirit := _spirit(call, wanted, cupboard):
        return NamedLiquid(LiquidKind.SPIRIT, spirit)
    if liquid := _other_liquid(call.keeper, wanted):
        return NamedLiquid(
            LiquidKind.LIQUID,
            liquid_id=liquid.liquid_id,
            density_g_per_ml=liquid.density_g_per_ml,
        )
    if tincture := _tincture(call, text):
        return tincture
    try:
        return NamedLiquid(LiquidKind.SPIRIT, None, call.wording.read(Kind.STRENGTH, text))
    except NotUnderstood as error:
        names = dict.fromkeys(s.name for s in cupboard)
        raise NotUnderstood(
            f"there is no {text.strip()} in the cupboard. Write {', '.join(names)}, water, "
            "decoction, the strength of another spirit, such as 40%, or the code of a tincture."
        ) from error


def _other_liquid(keeper: Keeper, wanted: str) -> LiquidView | None:
    """The liquid of the cupboard with this name or code."""
    meant = [
        each for each in liquids(keeper) if wanted in (each.name.casefold(), each.code.casefold())
    ]
    meant = [each for each in meant if each.left_ml is None or each.left_ml > 0] or meant
    if len(meant) > 1:
        raise NotUnderstood("the cupboard has more than one of that name. Write its code.")
    return meant[0] if meant else None


def _spirit(call: Call, wanted: str, cupboard: Sequence[SpiritView]) -> SpiritView | None:
    said = {s.spirit_id: spirit_words(s, cupboard, call.wording) for s in cupboard}
    known = [
        s for s in cupboard
        if wanted
        in (
            s.name.casefold(),
            said[s.spirit_id].casefold(),
            f"number {s.spirit_id}",
            s.code.casefold() or None,
        )
    ]  # fmt: skip
    known = [s for s in known if s.left_ml is None or s.left_ml > 0] or known
    if len(known) > 1:
        ways = ", ".join(f"number {s.spirit_id} ({said[s.spirit_id]})" for s in known)
        raise NotUnderstood(f"the cupboard has more than one of that name. Write {ways}.")
    return known[0] if known else None


def _strength_is_asked(row: Values) -> bool:
    poured: NamedLiquid | None = row.get("liquid")
    return poured is None or (
        poured.kind is LiquidKind.SPIRIT and not poured.spirit and poured.strength_abv is None
    )


def _volume_or_weight(call: Call, text: str) -> Figure | float:
    """A volume; a weight as such until it is known what of."""
    figure = call.wording.read_volume_or_mass(text)
    return figure if figure.kind is Kind.MASS else figure.value


def _volume_ml(row: Values, poured: NamedLiquid) -> float:
    volume: Figure | float = row["volume"]
    if not isinstance(volume, Figure):
        return volume
    if poured.density_g_per_ml is None:
        raise Refused("volume: That is a weight, or oz for fl oz: this liquid needs a volume.")
    return volume.value / poured.density_g_per_ml


POUR = (
    FormField("volume", "Volume", _volume_or_weight, is_required=True),
    FormField(
        "liquid", "Liquid", _liquid,
        "a spirit or liquid by its name, spirit, water, decoction, or a tincture by its code",
        is_required=True,
    ),
    FormField(
        "strength", "Strength", amount(Kind.STRENGTH), "of a spirit that isn't in the cupboard",
        is_required=True, is_asked=_strength_is_asked,
    ),
)  # fmt: skip


def _names_no_lot(row: Values) -> bool:
    return row.get("lot") is None


def _lot(call: Call, text: str) -> HerbLotView:
    return herb_lot_of_code(call.keeper, text)


HERB = (
    FormField("name", "Name", is_required=True, is_asked=_names_no_lot),
    choice("part", "Part", KNOWN_PARTS, is_required=True, is_asked=_names_no_lot),
    choice("condition", "Condition", KNOWN_CONDITIONS, is_required=True, is_asked=_names_no_lot),
    FormField("mass", "Weight", amount(Kind.MASS), "blank: filled by eye"),
    FormField("water", "Water in herb", amount(Kind.PERCENT), "blank: typical value"),
    FormField("botanical", "Botanical name"),
    FormField("gathered", "Gathered on", day),
    FormField("origin", "Origin, lot", words, "place or seller, lot"),
    FormField(
        "lot",
        "Lot in store",
        _lot,
        "its code: herb, part and condition come from it",
        is_asked=is_never,
    ),
)


def _shakes(call: Call, text: str) -> int:
    return parse_shakes(text)


def _shelf(call: Call, text: str) -> int:
    return shelf_of(call, text)


FILL = (
    FormField("herb", "Herb", columns=HERB, is_required=True),
    FormField("pour", "Liquid", columns=POUR, is_required=True),
    FormField("size", "Jar size", amount(Kind.VOLUME)),
    FormField("shelf", "Shelf", _shelf, "blank: the first shelf"),
    FormField("filled", "Filled on", day, "blank: today"),
    FormField("days", "Days to steep", whole_number(Kind.DAYS), "blank: as in the settings"),
    FormField("shakes", "Shakes a day", _shakes, "0 to 9; blank: as in the settings"),
    yes_or_no("simmered", "Simmered first", hint="blank: no"),
    FormField("note", "Note"),
)


def pour_draft(row: Values) -> PourDraft:
    """A liquid as read; Refused where a strength is missing, or given where it is known."""
    poured: NamedLiquid = row["liquid"]
    strength, volume_ml = row.get("strength"), _volume_ml(row, poured)
    if strength is not None and not _strength_is_asked(row):
        raise Refused("strength: leave it out: it is known from the liquid.")
    if poured.spirit:
        return PourDraft(
            LiquidKind.SPIRIT, volume_ml, poured.spirit.strength_abv, poured.spirit.spirit_id
        )
    if poured.kind is not LiquidKind.SPIRIT:
        return PourDraft(
            poured.kind,
            volume_ml,
            liquid_id=poured.liquid_id,
            bottle_id=poured.bottle_id,
            source_id=poured.source_id,
        )
    abv = poured.strength_abv if strength is None else strength
    assert abv is not None, "a row without it was refused"
    return PourDraft(LiquidKind.SPIRIT, volume_ml, abv)


def _charge(row: Values) -> ChargeDraft:
    lot: HerbLotView | None = row.get("lot")
    if lot is not None:
        known = charge_of_lot(lot, row.get("mass"), water_fraction(row.get("water")))
        if row.get("name"):
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
            f"Strain on {call.wording.day(card.strain_on)}.",
            CERTAIN,
            COOL_FIRST if is_cooked else FOOD_GRADE,
            *cautions_poured(keeper, card),
        ],
        lambda: jar_json(keeper, card),
    )


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
            f"{said.volume(found.volume_ml)} at {strength_words(found, said)}. {found.verdict}",
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
        return said.percent_at_most(found.strength_abv)
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
