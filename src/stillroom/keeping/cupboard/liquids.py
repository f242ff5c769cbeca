"""Liquids of the cupboard that are no spirits: glycerine, vinegar, honey, syrup, juice."""

from dataclasses import dataclass
from datetime import date

from stillroom.dates import day_or_none
from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.codes import refuse_taken
from stillroom.keeping.cupboard.counts import counts_kept
from stillroom.keeping.cupboard.densities import refuse_density
from stillroom.keeping.cupboard.purchases import purchase_columns
from stillroom.keeping.drafts import LiquidDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import Wording, wording
from stillroom.keeping.words import clean_name, in_a_row, old_and_new
from stillroom.reckoning.cautions import FOOD_GRADE, is_unfit
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import OtherLiquidKind
from stillroom.records.tables import BatchInput, CupboardMovement, OtherLiquid, Pour


@dataclass(frozen=True)
class LiquidView:
    """A liquid in the cupboard that is no spirit."""

    liquid_id: int
    name: str
    kind: OtherLiquidKind
    density_g_per_ml: float
    density_source: str
    acidity: float | None
    glycerol: float | None
    bought_ml: float | None
    left_ml: float | None
    """None where the cupboard does not keep count."""
    price: float | None
    bought_on: date | None
    origin: str
    lot: str
    code: str
    note: str

    @property
    def where_from(self) -> str:
        """Origin, lot and code in one text, as `bought_from` has them in SQL."""
        return in_a_row(self.origin, self.lot, self.code)

    @property
    def price_per_ml(self) -> float | None:
        """Paid per mL, where both are known."""
        return None if self.price is None or not self.bought_ml else self.price / self.bought_ml


_LIQUIDS = """
    SELECT l.id, l.name, l.kind, l.density_g_per_ml, l.density_source, l.acidity, l.glycerol,
           l.bought_ml, c.left_ml, l.price, l.bought_on, l.origin, l.lot, coalesce(l.code, ''),
           l.note
    FROM liquid l JOIN liquid_left c ON c.liquid_id = l.id
    ORDER BY l.bought_on IS NULL, l.bought_on DESC, l.id DESC
"""
GONE = "That liquid is no longer in the cupboard."


def liquids(keeper: Keeper) -> list[LiquidView]:
    """The liquids that are no spirits, newest purchase first, with what is left."""
    return [
        LiquidView(
            liquid_id, name, OtherLiquidKind(kind), density, source, acidity, glycerol,
            bought, left, price, day_or_none(day), origin, lot, code, note,
        )
        for liquid_id, name, kind, density, source, acidity, glycerol, bought, left, price, day,
            origin, lot, code, note in keeper.rows(_LIQUIDS)
    ]  # fmt: skip


def liquid_view(keeper: Keeper, liquid_id: int) -> LiquidView:
    """One of them; Refused where it is gone."""
    found = next((each for each in liquids(keeper) if each.liquid_id == liquid_id), None)
    if found is None:
        raise Refused(GONE)
    return found


def add_liquid(keeper: Keeper, draft: LiquidDraft) -> int:
    """Put a bought liquid into the cupboard; returns its id."""
    columns = _columns(keeper, draft)
    refuse_taken(keeper, draft.code.strip(), "liquid")
    with keeper.act(f"Bought {columns['name']}") as act:
        liquid_id = int(OtherLiquid.insert(**columns).execute())
        act.note("liquid", f"Bought {columns['name']}: {_words(draft, wording(keeper))}")
    return liquid_id


def change_liquid(keeper: Keeper, liquid_id: int, draft: LiquidDraft) -> None:
    """Change what is recorded of a liquid that went into nothing yet.

    What it went into already follows from its density and shares: correct it instead.
    """
    columns = _columns(keeper, draft)
    refuse_taken(keeper, draft.code.strip(), "liquid", liquid_id)
    with keeper.act(f"Changed {columns['name']}") as act:
        before = liquid_view(keeper, liquid_id)
        facts = ("density_g_per_ml", "acidity", "glycerol")
        if _is_used(liquid_id) and any(columns[f] != getattr(before, f) for f in facts):
            raise Refused(
                f"{before.name} has been used. Correct its density and shares with C, or add "
                "another entry for another lot."
            )
        with counts_kept(keeper):
            OtherLiquid.update(**columns).where(OtherLiquid.id == liquid_id).execute()
        after = liquid_view(keeper, liquid_id)
        said = wording(keeper)
        act.note(
            "liquid", old_and_new(_facts(before, said), _facts(after, said)) or "Nothing changed"
        )


def remove_liquid(keeper: Keeper, liquid_id: int) -> None:
    """Take a liquid that was never used out of the list."""
    with keeper.act("Deleted a liquid") as act:
        before = liquid_view(keeper, liquid_id)
        if _is_used(liquid_id):
            raise Refused(f"{before.name} has been used, so it can't be deleted.")
        if CupboardMovement.select().where(CupboardMovement.liquid == liquid_id).exists():
            raise Refused(f"{before.name} has been counted or taken from: it can't be deleted.")
        OtherLiquid.delete().where(OtherLiquid.id == liquid_id).execute()
        act.title = f"Deleted {before.name}"
        act.note("liquid", f"Deleted {before.name} from the cupboard")


def _is_used(liquid_id: int) -> bool:
    return bool(
        Pour.select().where(Pour.liquid == liquid_id).exists()
        or BatchInput.select().where(BatchInput.liquid == liquid_id).exists()
    )


def _columns(keeper: Keeper, draft: LiquidDraft) -> dict[str, object]:
    refuse_density(wording(keeper), draft.density_g_per_ml)
    for share, name in ((draft.acidity, "Acidity"), (draft.glycerol, "The glycerol share")):
        if share is not None and not 0 <= share <= 100:
            raise NotUnderstood(f"{name} must be from 0 to 100 %.")
    if is_unfit(draft.name, draft.note, draft.origin):
        raise Refused(f"{draft.name} must never be drunk. {FOOD_GRADE}")
    return {
        "name": clean_name(draft.name, "The liquid's name"),
        "kind": draft.kind,
        "density_g_per_ml": draft.density_g_per_ml,
        "density_source": clean_name(
            draft.density_source, "The density's source", required=False, limit=2000
        ),
        "acidity": draft.acidity,
        "glycerol": draft.glycerol,
        **purchase_columns(draft, keeper.today),
    }


def _words(draft: LiquidDraft, said: Wording) -> str:
    bought = "not counted" if draft.bought_ml is None else said.volume(draft.bought_ml)
    return f"{bought} of {draft.kind}, {said.density(draft.density_g_per_ml)}"


def _facts(view: LiquidView, said: Wording) -> dict[str, str]:
    return {
        "Name": view.name,
        "Kind": view.kind,
        "Density": said.density(view.density_g_per_ml),
        "Density from": view.density_source,
        "Acidity": "" if view.acidity is None else said.percent(view.acidity),
        "Glycerol": "" if view.glycerol is None else said.percent(view.glycerol),
        "Bought": "" if view.bought_ml is None else said.volume(view.bought_ml),
        "Price": "" if view.price is None else said.of(Kind.MONEY, view.price),
        "Bought on": said.day(view.bought_on) if view.bought_on else "",
        "Origin": view.origin,
        "Lot": view.lot,
        "Code": view.code,
        "Note": view.note,
    }
