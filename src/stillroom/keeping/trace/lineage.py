"""What both directions of ancestry read: jars with all that went into them, parts of blends."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from stillroom.dates import day_or_none
from stillroom.keeping.bottles.tinctures import charges_of_jars
from stillroom.keeping.cupboard.lot_views import bought_from
from stillroom.keeping.cupboard.twins import Purchase
from stillroom.keeping.jars.liquid import outlook, pours_of_jars
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace.views import Node
from stillroom.keeping.views import ChargeView, PourView, TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import in_a_row
from stillroom.reckoning.states import NOT_ENDED, InputKind, JarState, LiquidKind
from stillroom.reckoning.yields import Pressing

_DRAWN = """
    SELECT p.tincture_id, b.id, b.code, b.tincture_id, -m.volume_ml, m.day
    FROM batch_input p
    JOIN movement m ON m.id = p.movement_id
    JOIN bottle b ON b.id = m.bottle_id
    ORDER BY p.id
"""

_JARS = """
    SELECT j.id, j.code, j.state, j.filled_on, j.ended_on, s.yield_ml, s.pressing, t.id,
           coalesce(m.code, '')
    FROM jar j
    LEFT JOIN jar m ON m.id = j.marc_of_id
    LEFT JOIN straining s ON s.jar_id = j.id
    LEFT JOIN tincture t ON t.straining_id = s.id
    WHERE j.id IN (SELECT value FROM json_each(?)) ORDER BY j.filled_on, j.id
"""


@dataclass(frozen=True)
class FilledJar:
    """A jar with all that went into it."""

    jar_id: int
    code: str
    state: JarState
    filled_on: date
    ended_on: date | None
    yield_ml: float | None
    pressing: Pressing | None
    """None while it steeps."""
    tincture_id: int | None
    charges: tuple[ChargeView, ...]
    pours: tuple[PourView, ...]
    marc_of: str = ""
    """Code of the jar whose marc is in it."""

    @property
    def liquid_ml(self) -> float | None:
        """All the liquid that was on the herb; None where some herb was not weighed."""
        reckoned = outlook(self.charges, self.pours)
        return None if reckoned.is_partial else reckoned.volume_ml

    @property
    def steeping_ml(self) -> float | None:
        """The liquid that is on the herb now; None where some herb was not weighed.

        What was drained off counts until the jar is pressed.
        """
        return self.liquid_ml if self.is_to_strain else 0.0

    @property
    def is_to_strain(self) -> bool:
        """Whether it has liquid that is no batch yet."""
        return self.state in NOT_ENDED


def filled_jars(keeper: Keeper, jar_ids: Iterable[int]) -> dict[int, FilledJar]:
    """These jars, in the order they were filled."""
    wanted = list(jar_ids)
    charges, pours = charges_of_jars(keeper, wanted), pours_of_jars(keeper, wanted)
    return {
        jar_id: FilledJar(
            jar_id=jar_id,
            code=code,
            state=JarState(state),
            filled_on=date.fromisoformat(filled_on),
            ended_on=day_or_none(ended_on),
            yield_ml=yield_ml,
            pressing=Pressing(pressing) if pressing else None,
            tincture_id=tincture_id,
            charges=charges.get(jar_id, ()),
            pours=pours.get(jar_id, ()),
            marc_of=marc_of,
        )
        for (
            jar_id, code, state, filled_on, ended_on, yield_ml, pressing, tincture_id, marc_of
        ) in keeper.rows(_JARS, json.dumps(wanted))
    }  # fmt: skip


@dataclass(frozen=True)
class Drawn:
    """One part of a blend."""

    blend_id: int
    bottle_id: int
    code: str
    """Of the bottle."""
    from_id: int
    """The tincture in the bottle."""
    volume_ml: float
    day: date


def blend_draws(keeper: Keeper) -> list[Drawn]:
    """Every part of every blend."""
    return [
        Drawn(blend_id, bottle_id, code, from_id, volume_ml, date.fromisoformat(day))
        for blend_id, bottle_id, code, from_id, volume_ml, day in keeper.rows(_DRAWN)
    ]


@dataclass(frozen=True)
class PutIn:
    """What went into a batch from elsewhere than a bottle."""

    batch_id: int
    kind: InputKind
    name: str
    """Of the spirit or liquid; blank for a batch and for water."""
    volume_ml: float
    strength_abv: float | None
    day: date
    source_id: int | None
    """The batch of which some waited to be bottled."""
    spirit_id: int | None
    liquid_id: int | None
    lot: str
    """Seller, lot and day of purchase, where known."""


_PUT_IN = f"""
    SELECT i.tincture_id, i.kind, coalesce(s.name, l.name, ''), i.volume_ml, i.strength_abv,
           t.made_on, i.source_id, i.spirit_id, i.liquid_id,
           coalesce({bought_from("s")}, {bought_from("l")}, ''),
           coalesce(s.bought_on, l.bought_on)
    FROM batch_input i JOIN tincture t ON t.id = i.tincture_id
    LEFT JOIN spirit s ON s.id = i.spirit_id LEFT JOIN liquid l ON l.id = i.liquid_id
    WHERE i.movement_id IS NULL ORDER BY i.id
"""


def put_in(keeper: Keeper) -> list[PutIn]:
    """Everything that went into batches from elsewhere than bottles."""
    said = wording(keeper)
    return [
        PutIn(batch_id, InputKind(kind), name, volume_ml, strength, date.fromisoformat(made_on),
              source_id, spirit_id, liquid_id,
              "; ".join(filter(None, (origin, f"bought {said.day(bought)}" if bought else ""))))
        for batch_id, kind, name, volume_ml, strength, made_on, source_id, spirit_id, liquid_id,
            origin, bought_on in keeper.rows(_PUT_IN)
        for bought in (day_or_none(bought_on),)
    ]  # fmt: skip


def put_in_node(each: PutIn, said: Wording) -> Node:
    """A spirit, a liquid or water that went into a batch."""
    strength = f" of {said.strength(each.strength_abv)}" if each.strength_abv else ""
    lot = f", {each.lot}" if each.lot else ""
    return Node(
        str(each.kind),
        each.name or each.kind.capitalize(),
        f"{said.volume(each.volume_ml)}{strength} added {said.day(each.day)}{lot}",
        volume_ml=each.volume_ml,
        spirit_id=each.spirit_id,
        liquid_id=each.liquid_id,
    )


def tincture_node(view: TinctureView, jar: FilledJar | None, said: Wording) -> Node:
    """One tincture: how it was made, without what went into it or came of it."""
    made = f"{said.volume(view.volume_ml)} {'blended' if view.is_blend else 'strained'}"
    pressing = jar.pressing or "" if jar else ""
    strength = said.finished_strength(view)
    return Node(
        "blend" if view.is_blend else "tincture",
        f"{view.code} {view.name}",
        in_a_row(f"{made} {said.day_known(view.made_on, view.made_by)}", pressing, strength),
        volume_ml=view.volume_ml,
        tincture_id=view.tincture_id,
        jar_id=view.jar_id,
    )


def charge_node(charge: ChargeView, said: Wording) -> Node:
    """A herb that went into a jar."""
    amount = said.herb_put_in(charge.mass_g, charge.as_put_in, is_marc=charge.is_second_pour)
    return Node(
        "herb",
        charge.herb,
        in_a_row(amount, charge.lot, *gathering_words(charge.gathered_on, charge.origin, said)),
        herb_id=charge.herb_id,
        lot_id=charge.lot_id,
        gathered_on=charge.gathered_on,
        origin=charge.origin,
    )


def pour_node(pour: PourView, said: Wording) -> Node:
    """A liquid that went into a jar."""
    strength = f" of {said.strength(pour.strength_abv)}" if pour.strength_abv else ""
    lot = f", {pour.lot}" if pour.lot else ""
    return Node(
        pour.kind,
        pour.spirit or pour.kind.capitalize(),
        f"{said.volume(pour.volume_ml)}{strength} poured {said.day(pour.poured_on)}{lot}",
        volume_ml=pour.volume_ml,
        spirit_id=pour.spirit_id,
        liquid_id=pour.liquid_id,
    )


@dataclass(frozen=True)
class FedJar:
    """A tincture that went on the herb of a jar, or that its marc held."""

    from_id: int
    bottle_id: int | None
    """The bottle that it came from."""
    jar_id: int
    volume_ml: float
    is_held_back: bool


def fed_jars(keeper: Keeper) -> list[FedJar]:
    """Every jar that has a tincture on its herb, with each."""
    return [
        FedJar(from_id, bottle_id, jar_id, volume_ml, kind == LiquidKind.HELD_BACK)
        for from_id, bottle_id, jar_id, volume_ml, kind in keeper.rows(
            """SELECT from_id, bottle_id, jar_id, volume_ml, kind FROM flow
               WHERE jar_id IS NOT NULL ORDER BY pour_id"""
        )
    ]


def marc_words(jar: FilledJar) -> str:
    """Whose marc is in a jar; blank for other jars."""
    return f"marc of {jar.marc_of}" if jar.marc_of else ""


def ending_words(jar: FilledJar, said: Wording) -> str:
    """What became of a jar, and when: `strained 26 Nov 2026`."""
    return f"{jar.state} {said.day(jar.ended_on)}" if jar.ended_on else jar.state


def gathering_words(day: date | None, origin: str, said: Wording) -> tuple[str, str]:
    """When and where a herb was got; blank where that was not written down."""
    return (f"gathered {said.day(day)}" if day else "", origin)


def purchase_words(bought: Purchase, said: Wording) -> tuple[str, str]:
    """When and where a spirit or liquid was got, with its lot and code; blank where that was not
    written down."""
    return (f"bought {said.day(bought.bought_on)}" if bought.bought_on else "", bought.where_from)
