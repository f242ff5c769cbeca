"""A second pour on the marc of a strained jar, which still holds some of its tincture."""

from dataclasses import dataclass
from math import fsum
from typing import Any

from stillroom.errors import Refused
from stillroom.keeping.cards import JarCard
from stillroom.keeping.codes import next_batch_code
from stillroom.keeping.drafts import AgainDraft, JarDraft
from stillroom.keeping.jars.jar import check_dates, liquid_words, pour_all
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.jars.rows import insert_charge, insert_jar, insert_pour
from stillroom.keeping.jars.shelves import jar_card
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.views import JarView
from stillroom.keeping.wording import wording
from stillroom.reckoning.marc import held_by_marc_ml, held_by_weight_ml
from stillroom.reckoning.states import JarState, LiquidKind
from stillroom.records.tables import ChargeLine, Straining


@dataclass(frozen=True)
class HeldBack:
    """What a marc holds back of its tincture."""

    volume_ml: float | None
    """None where it can't be calculated."""
    strength_abv: float | None
    by_weight: bool = False
    """Whether it follows from the weight of the marc."""


def held_back(jar: JarView, marc_g: float | None = None) -> HeldBack:
    """What the marc of a strained jar holds: by its weight, or else all the liquid less the yield.

    It is of the tincture's own strength.
    """
    straining, tincture = jar.straining, jar.tincture
    if straining is None or tincture is None:
        return HeldBack(None, None)
    abv = tincture.strength_abv
    marc_g = straining.marc_g if marc_g is None else marc_g
    solids = [None if c.mass_g is None else c.charge.solids_g for c in jar.charges]
    if marc_g is not None and abv is not None and None not in solids:
        solids_g = fsum(each or 0.0 for each in solids)
        return HeldBack(held_by_weight_ml(marc_g, solids_g, abv), abv, by_weight=True)
    if not jar.pours or jar.outlook.is_partial:
        return HeldBack(None, abv)
    return HeldBack(held_by_marc_ml(jar.outlook.volume_ml, straining.yield_ml), abv)


def pour_again(keeper: Keeper, draft: AgainDraft) -> JarCard:
    """Start a jar from the marc of a strained one, with what it holds back and more liquid.

    The herb is counted once, in the first jar. Simmered, nothing of what the marc held is counted:
    its spirit is aired or boiled off.
    """
    check_dates(keeper, draft.filled_on, draft.strain_on, draft.shakes_per_day)
    if not draft.pours:
        raise Refused("A jar needs liquid: spirit, water or both.")
    with keeper.act("Poured again on a marc") as act:
        first = jar_view(keeper, draft.jar_id)
        _refuse(first, draft)
        if draft.marc_g is not None:
            Straining.update(marc_g=draft.marc_g).where(Straining.jar == draft.jar_id).execute()
        held = held_back(first, draft.marc_g)
        held_ml = draft.held_ml if held.volume_ml is None else held.volume_ml
        jar_id, code = _write_jar(keeper, first, draft)
        words = []
        if held_ml and not draft.simmered:
            columns = {"kind": LiquidKind.HELD_BACK, "volume_ml": held_ml}
            insert_pour(jar_id, draft.filled_on, columns | {"strength_abv": held.strength_abv})
            words.append(f"{wording(keeper).volume(held_ml)} held back")
        pour_all(keeper, act, jar_id, draft.pours, draft.filled_on)
        words += [liquid_words(keeper, pour) for pour in draft.pours]
        act.title = f"Poured again on {first.card.herb} {first.card.code}: {code}"
        text = f"Marc of {first.card.code}: {'; '.join(words)}"
        act.note("filled", text, jar_id=jar_id)
        act.note("poured again", f"Into {code}", jar_id=draft.jar_id)
        card = jar_card(keeper, jar_id)
        assert card is not None
        return card


def refuse_pouring_again(keeper: Keeper, jar_id: int) -> JarView:
    """The jar, if its marc can be poured on; Refused otherwise."""
    first = jar_view(keeper, jar_id)
    _refuse_marc(first)
    return first


def _refuse(first: JarView, draft: AgainDraft) -> None:
    _refuse_marc(first)
    if first.straining and draft.filled_on < first.straining.strained_on:
        raise Refused("The day is before the jar was strained.")


def _refuse_marc(first: JarView) -> None:
    if first.state is not JarState.STRAINED or first.straining is None:
        state = "still to be pressed" if first.state is JarState.DRAINED else first.state
        raise Refused(f"Jar {first.card.code} is {state}: only strained herb is poured on again.")
    if first.poured_again:
        raise Refused(f"The marc of {first.card.code} is in jar {first.poured_again} already.")


def _write_jar(keeper: Keeper, first: JarView, draft: AgainDraft) -> tuple[int, str]:
    shelf_id = draft.shelf_id or first.card.shelf_id
    code = next_batch_code(keeper, draft.filled_on)
    plan = JarDraft(
        (), (), draft.filled_on, draft.strain_on, draft.shakes_per_day,
        capacity_ml=draft.capacity_ml, simmered=draft.simmered, note=draft.note,
    )  # fmt: skip
    jar_id = insert_jar(code, shelf_id, plan, marc_of=draft.jar_id)
    lines: list[Any] = list(
        ChargeLine.select().where(ChargeLine.jar == draft.jar_id).order_by(ChargeLine.id)
    )
    for line in lines:
        copied = {n: value for n, value in line.__data__.items() if n not in ("id", "jar")}
        insert_charge(jar_id, copied | {"mass_g": None, "water_fraction": None})
    return jar_id, code
