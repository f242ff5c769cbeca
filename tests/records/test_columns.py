"""Every column of the shelf is used wherever it should be, or a reason is given.

A new column fails here until it has a line of its own.
"""

import ast
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

import pytest

import stillroom
from stillroom.keeping import cards, cupboard_views, drafts, views
from stillroom.keeping.bottles import blend_views
from stillroom.keeping.correcting import columns as facts
from stillroom.keeping.cupboard import liquids, lot_views
from stillroom.keeping.interchange.tables import TABLES
from stillroom.keeping.interchange.vocabulary import columns as sheet_columns
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.trace import withdrawals
from stillroom.keeping.year import gathering

SOURCE = Path(next(iter(stillroom.__path__)))


class Why(str):
    """Why a column is not there."""


class Places(NamedTuple):
    """Where a column is entered, seen, printed, and found in a notebook."""

    draft: str
    """What a form fills in, as `Draft.field`."""
    view: str
    """What pages and commands read, as `View.field`."""
    record: str
    """What the batch record prints, as the field that it reads."""
    notebook: str
    """The kind of heading in somebody's own sheet."""


LINK = Why("a link; its file says which line it belongs to")
GIVEN = Why("given by the program")
STOCK = Why("about stock, and not about how a batch was made")
ABOUT_JAR = Why("printed with the jar")
IN_STORE = Why("asked where the lot is laid out, dried, weighed or given, without a draft")
RETURNED = Why("asked where liquid comes back, without a draft")
ABOUT_PLAN = Why("about what to make next, and not about how a batch was made")
NOT_ASKED = Why("a notebook of jars has no such column")
ANSWERED = Why("comes of what is answered where a sheet is silent")
NO_FORM_YET = Why("stored and exported; no form asks for it yet")
IN_RECORD = Why("seen in the batch record, and where it is corrected")
LINKS = Places(LINK, LINK, LINK, LINK)

COLUMNS: dict[str, Places] = {
    "herb.name": Places("HerbDraft.name", "HerbView.name", "herb", "herb"),
    "herb.botanical": Places("HerbDraft.botanical", "HerbView.botanical", "botanical", "botanical"),
    "herb.cautions": Places("HerbDraft.cautions", "HerbView.cautions",
                            Why("cautions are for who takes it"), NOT_ASKED),
    "herb.note": Places("HerbDraft.note", "HerbView.note",
                        Why("about the herb, not the batch"), NOT_ASKED),
    "herb.months_in_hand": Places("SeasonDraft.months_in_hand", "SeasonView.months_in_hand",
                                  ABOUT_PLAN, NOT_ASKED),
    "code_alias.code": Places(GIVEN, Why("found by it"), Why("the new one is printed"), NOT_ASKED),
    "code_alias.new_code": LINKS,
    "code_alias.shelf": Places(GIVEN, Why("shown where it is found"),
                               Why("the new code is printed"), NOT_ASKED),
    "gathering_window.herb_id": LINKS,
    "gathering_window.part": Places("SeasonDraft.part", "SeasonView.part", ABOUT_PLAN, NOT_ASKED),
    "gathering_window.first_day": Places("SeasonDraft.first", "SeasonView.typed",
                                         ABOUT_PLAN, NOT_ASKED),
    "gathering_window.last_day": Places("SeasonDraft.last", "SeasonView.typed",
                                        ABOUT_PLAN, NOT_ASKED),
    "spirit.name": Places("SpiritDraft.name", "SpiritView.name", "spirit", "liquid"),
    "spirit.strength_abv": Places("SpiritDraft.strength_abv", "SpiritView.strength_abv",
                                  "strength_abv", "strength"),
    "spirit.bought_ml": Places("SpiritDraft.bought_ml", "SpiritView.bought_ml", STOCK, NOT_ASKED),
    "spirit.price": Places("SpiritDraft.price", "SpiritView.price", STOCK, NOT_ASKED),
    "spirit.bought_on": Places("SpiritDraft.bought_on", "SpiritView.bought_on", "lot", NOT_ASKED),
    "spirit.origin": Places("SpiritDraft.origin", "SpiritView.origin", "lot", NOT_ASKED),
    "spirit.note": Places("SpiritDraft.note", "SpiritView.note", STOCK, NOT_ASKED),
    "spirit.lot": Places("SpiritDraft.lot", "SpiritView.lot", STOCK, NOT_ASKED),
    "spirit.code": Places("SpiritDraft.code", "SpiritView.code", STOCK, NOT_ASKED),
    "spirit.density_g_per_ml": Places("SpiritDraft.density_g_per_ml",
                                      "SpiritView.density_g_per_ml", STOCK, NOT_ASKED),
    "jar.marc_of_id": LINKS,
    "pour.liquid_id": LINKS,
    "pour.movement_id": LINKS,
    "pour.source_id": LINKS,
    "jar.code": Places(GIVEN, "JarCard.code", "code", "code"),
    "jar.shelf_id": Places("JarDraft.shelf_id", "JarCard.shelf_id", "shelf", "shelf"),
    "jar.place": Places(GIVEN, "JarCard.place", STOCK, NOT_ASKED),
    "jar.simmered": Places("JarDraft.simmered", "JarView.simmered", "simmered", NOT_ASKED),
    "jar.filled_on": Places("JarDraft.filled_on", "JarCard.filled_on", "filled_on", "day"),
    "jar.strain_on": Places("JarDraft.strain_on", "JarCard.strain_on", "strain_on", "strain_on"),
    "jar.shakes_per_day": Places("JarDraft.shakes_per_day", "JarCard.shakes_per_day",
                                 "per_day", "shakes"),
    "jar.capacity_ml": Places("JarDraft.capacity_ml", "JarView.capacity_ml",
                              "capacity_ml", "capacity"),
    "jar.covered": Places(Why("a key of its own marks it"), "JarCard.covered",
                          Why("a state of the day"), NOT_ASKED),
    "jar.state": Places(GIVEN, "JarView.state", Why("only a strained jar has a record"),
                        "strained"),
    "jar.ended_on": Places(Why("the day of straining or discarding"), "JarView.ended_on",
                           "strained_on", "strained"),
    "jar.note": Places("JarDraft.note", "JarView.note", "note", "note"),
    "charge_line.jar_id": LINKS,
    "charge_line.herb_id": Places("ChargeDraft.herb", "ChargeView.herb_id", "herb", "herb"),
    "charge_line.part": Places("ChargeDraft.part", "ChargeView.part", "as_put_in", "part"),
    "charge_line.condition": Places("ChargeDraft.condition", "ChargeView.condition",
                                    "as_put_in", "condition"),
    "charge_line.mass_g": Places("ChargeDraft.mass_g", "ChargeView.mass_g", "mass_g", "mass"),
    "charge_line.water_fraction": Places("ChargeDraft.water_fraction", "ChargeView.water_fraction",
                                         "water_fraction", NOT_ASKED),
    "charge_line.gathered_on": Places("ChargeDraft.gathered_on", "ChargeView.gathered_on",
                                      "gathered_on", "gathered"),
    "charge_line.origin": Places("ChargeDraft.origin", "ChargeView.origin", "origin", "origin"),
    "charge_line.lot_id": Places("ChargeDraft.lot_id", "ChargeView.lot_id", "lot", NOT_ASKED),
    "charge_line.part_assumed": Places("ChargeDraft.part_assumed", "ChargeView.part_assumed",
                                       "as_put_in", ANSWERED),
    "charge_line.condition_assumed": Places("ChargeDraft.condition_assumed",
                                            "ChargeView.condition_assumed", "as_put_in", ANSWERED),
    "herb_lot.code": Places(GIVEN, "HerbLotView.code", "lot", NOT_ASKED),
    "herb_lot.herb_id": Places("HerbLotDraft.herb", "HerbLotView.herb_id", "herb", NOT_ASKED),
    "herb_lot.part": Places("HerbLotDraft.part", "HerbLotView.part", "as_put_in", NOT_ASKED),
    "herb_lot.condition": Places("HerbLotDraft.condition", "HerbLotView.condition",
                                 "as_put_in", NOT_ASKED),
    "herb_lot.came": Places("HerbLotDraft.came", "HerbLotView.came", STOCK, NOT_ASKED),
    "herb_lot.got_on": Places("HerbLotDraft.got_on", "HerbLotView.got_on",
                              "gathered_on", NOT_ASKED),
    "herb_lot.origin": Places("HerbLotDraft.origin", "HerbLotView.origin", "origin", NOT_ASKED),
    "herb_lot.seller_lot": Places("HerbLotDraft.seller_lot", "HerbLotView.seller_lot",
                                  "origin", NOT_ASKED),
    "herb_lot.mass_g": Places("HerbLotDraft.mass_g", "HerbLotView.mass_g", STOCK, NOT_ASKED),
    "herb_lot.price": Places("HerbLotDraft.price", "HerbLotView.price", STOCK, NOT_ASKED),
    "herb_lot.water_fraction": Places("HerbLotDraft.water_fraction", "HerbLotView.water_fraction",
                                      "water_fraction", NOT_ASKED),
    "herb_lot.laid_out_on": Places(IN_STORE, "HerbLotView.laid_out_on", STOCK, NOT_ASKED),
    "herb_lot.laid_out_g": Places(IN_STORE, "HerbLotView.laid_out_g", STOCK, NOT_ASKED),
    "herb_lot.dry_on": Places(IN_STORE, "HerbLotView.dry_on", STOCK, NOT_ASKED),
    "herb_lot.dry_g": Places(IN_STORE, "HerbLotView.dry_g", STOCK, NOT_ASKED),
    "herb_lot.from_lot_id": Places(GIVEN, "HerbLotView.from_lot", LINK, NOT_ASKED),
    "herb_lot.used_up_on": Places(IN_STORE, "HerbLotView.used_up_on", STOCK, NOT_ASKED),
    "herb_lot.note": Places("HerbLotDraft.note", "HerbLotView.note", STOCK, NOT_ASKED),
    "herb_movement.lot_id": LINKS,
    "herb_movement.mass_g": Places(IN_STORE, "LotEntry.mass_g", STOCK, NOT_ASKED),
    "herb_movement.kind": Places(IN_STORE, "LotEntry.kind", STOCK, NOT_ASKED),
    "herb_movement.at": Places(GIVEN, "LotEntry.at", STOCK, NOT_ASKED),
    "herb_movement.day": Places(IN_STORE, "LotEntry.day", STOCK, NOT_ASKED),
    "herb_movement.maker": Places(GIVEN, "LotEntry.maker", STOCK, NOT_ASKED),
    "herb_movement.person": Places(IN_STORE, "LotEntry.person", STOCK, NOT_ASKED),
    "herb_movement.note": Places(IN_STORE, "LotEntry.note", STOCK, NOT_ASKED),
    "pour.jar_id": LINKS,
    "pour.kind": Places("PourDraft.kind", "PourView.kind", "kind", "liquid"),
    "pour.spirit_id": Places("PourDraft.spirit_id", "PourView.spirit_id", "spirit", "liquid"),
    "pour.volume_ml": Places("PourDraft.volume_ml", "PourView.volume_ml", "volume_ml", "volume"),
    "pour.strength_abv": Places("PourDraft.strength_abv", "PourView.strength_abv",
                                "strength_abv", "strength"),
    "pour.poured_on": Places(Why("the day of filling, or of topping up"), "PourView.poured_on",
                             "poured_on", NOT_ASKED),
    "straining.jar_id": LINKS,
    "straining.strained_on": Places("StrainDraft.strained_on", "StrainingView.strained_on",
                                    "strained_on", "strained"),
    "straining.yield_ml": Places("StrainDraft.yield_ml", "StrainingView.yield_ml",
                                 "yield_ml", "yielded"),
    "straining.pressing": Places("StrainDraft.pressing", "StrainingView.pressing",
                                 "pressing", "pressing"),
    "straining.marc_g": Places("StrainDraft.marc_g", "StrainingView.marc_g", "marc_g", NOT_ASKED),
    "straining.measured_abv": Places("StrainDraft.measured_abv", "StrainingView.measured_abv",
                                     "measured_abv", NOT_ASKED),
    "straining.liquid_ml": Places(GIVEN, "StrainingView.liquid_ml", "liquid_ml", NOT_ASKED),
    "straining.expected_ml": Places(GIVEN, "StrainingView.expected_ml", "expected_ml", NOT_ASKED),
    "straining.confirmed": Places("StrainDraft.confirmed", "StrainingView.confirmed",
                                  "confirmed", NOT_ASKED),
    "straining.teaches": Places(Why("set aside by a correction"), Why("asked of the shelf alone"),
                                Why("about the forecast, not the batch"), NOT_ASKED),
    "straining.more": Places(Why("asked by the form"), "StrainingView.more",
                             Why("no batch before all has come"), NOT_ASKED),
    "straining.pressing_assumed": Places("StrainDraft.pressing_assumed",
                                         "StrainingView.pressing_assumed", "how_pressed", ANSWERED),
    "straining.day_by": Places("StrainDraft.day_by", "StrainingView.day_by", "day_by", ANSWERED),
    "straining_go.straining_id": LINKS,
    "straining_go.strained_on": Places("StrainDraft.strained_on", "GoView.strained_on",
                                       "strained_on", NOT_ASKED),
    "straining_go.pressing": Places("StrainDraft.pressing", "GoView.pressing", "pressing",
                                    NOT_ASKED),
    "straining_go.yield_ml": Places("StrainDraft.yield_ml", "GoView.yield_ml", "yield_ml",
                                    NOT_ASKED),
    "straining_go.maker": Places(GIVEN, "GoView.maker", "maker", NOT_ASKED),
    "straining_go.note": Places("StrainDraft.note", "GoView.note", "note", NOT_ASKED),
    "straining.note": Places("StrainDraft.note", "StrainingView.note", "note", NOT_ASKED),
    "tincture.code": Places(GIVEN, "TinctureView.code", "code", "code"),
    "tincture.name": Places("BlendDraft.name", "TinctureView.name", "name", "herb"),
    "tincture.straining_id": LINKS,
    "tincture.made_on": Places("BlendDraft.made_on", "TinctureView.made_on",
                               "made_on", "strained"),
    "tincture.volume_ml": Places("StrainDraft.yield_ml", "TinctureView.volume_ml",
                                 "volume_ml", "yielded"),
    "tincture.strength_abv": Places("StrainDraft.measured_abv", "TinctureView.strength_abv",
                                    "strength_abv", "strength"),
    "tincture.strength_by": Places(GIVEN, "TinctureView.strength_by", "strength_by", NOT_ASKED),
    "tincture.ratio": Places(GIVEN, "TinctureView.ratio",
                             Why("herb and liquid are printed themselves"), NOT_ASKED),
    "tincture.keep_until": Places(Why("a key of its own changes it"), "TinctureView.keep_until",
                                  "keep_until", NOT_ASKED),
    "tincture.keep_until_by_hand": Places(Why("a key of its own changes it"),
                                          Why("asked of the shelf alone"),
                                          Why("the date is printed"), NOT_ASKED),
    "tincture.lost_ml": Places("BottlingDraft.write_off_rest", "TinctureView.lost_ml",
                               "lost_ml", NOT_ASKED),
    "tincture.status": Places(Why("keys of its own change it"), "TinctureView.status",
                              "status", NOT_ASKED),
    "tincture.note": Places("BlendDraft.note", "TinctureView.note", "note", NOT_ASKED),
    "bottle.code": Places(GIVEN, "BottleRow.code", "code", "code"),
    "bottle.tincture_id": Places("BottlingDraft.tincture_id", "BottleRow.tincture_id", LINK, LINK),
    "bottle.size_ml": Places("BottleDraft.size_ml", "BottleRow.size_ml", "size_ml", "size"),
    "bottle.filled_on": Places("BottlingDraft.filled_on", "BottleView.filled_on",
                               "filled_on", "strained"),
    "bottle.place": Places("BottleDraft.place", "BottleRow.place", "place", "place"),
    "bottle.bottle_lot": Places("BottlingDraft.bottle_lot", IN_RECORD, "bottle_lot", NOT_ASKED),
    "bottle.cap_lot": Places("BottlingDraft.cap_lot", IN_RECORD, "cap_lot", NOT_ASKED),
    "liquid.name": Places("LiquidDraft.name", "LiquidView.name", "name", NOT_ASKED),
    "liquid.kind": Places("LiquidDraft.kind", "LiquidView.kind", STOCK, NOT_ASKED),
    "liquid.density_g_per_ml": Places("LiquidDraft.density_g_per_ml",
                                      "LiquidView.density_g_per_ml", STOCK, NOT_ASKED),
    "liquid.density_source": Places("LiquidDraft.density_source", "LiquidView.density_source",
                                    STOCK, NOT_ASKED),
    "liquid.acidity": Places("LiquidDraft.acidity", "LiquidView.acidity", STOCK, NOT_ASKED),
    "liquid.glycerol": Places("LiquidDraft.glycerol", "LiquidView.glycerol", STOCK, NOT_ASKED),
    "liquid.bought_ml": Places("LiquidDraft.bought_ml", "LiquidView.bought_ml", STOCK, NOT_ASKED),
    "liquid.price": Places("LiquidDraft.price", "LiquidView.price", STOCK, NOT_ASKED),
    "liquid.bought_on": Places("LiquidDraft.bought_on", "LiquidView.bought_on", "lot", NOT_ASKED),
    "liquid.origin": Places("LiquidDraft.origin", "LiquidView.origin", "lot", NOT_ASKED),
    "liquid.lot": Places("LiquidDraft.lot", "LiquidView.lot", "lot", NOT_ASKED),
    "liquid.code": Places("LiquidDraft.code", "LiquidView.code", STOCK, NOT_ASKED),
    "liquid.note": Places("LiquidDraft.note", "LiquidView.note", STOCK, NOT_ASKED),
    "batch_input.tincture_id": LINKS,
    "batch_input.kind": Places("InputDraft.kind", "InputView.kind", "kind", NOT_ASKED),
    "batch_input.movement_id": LINKS,
    "batch_input.source_id": LINKS,
    "batch_input.spirit_id": LINKS,
    "batch_input.liquid_id": LINKS,
    "batch_input.volume_ml": Places("InputDraft.volume_ml", "InputView.volume_ml",
                                    "volume_ml", NOT_ASKED),
    "batch_input.strength_abv": Places(Why("that of the spirit then"), "InputView.strength_abv",
                                       "strength_abv", NOT_ASKED),
    "loss.tincture_id": LINKS,
    "loss.kind": Places("BottlingDraft.lost_as", Why("asked by batch"), "losses", NOT_ASKED),
    "loss.volume_ml": Places(Why("asked where it is lost, without a draft"),
                             "TinctureView.lost_ml", "losses", NOT_ASKED),
    "loss.at": Places(GIVEN, Why("told by the ledger"), STOCK, NOT_ASKED),
    "loss.day": Places("BottlingDraft.filled_on", Why("told by the ledger"), STOCK, NOT_ASKED),
    "loss.maker": Places(GIVEN, Why("told by the ledger"), STOCK, NOT_ASKED),
    "loss.note": Places(Why("asked where it is lost, without a draft"),
                        Why("told by the ledger"), STOCK, NOT_ASKED),
    "returned.bottle_id": LINKS,
    "returned.volume_ml": Places(RETURNED, "Out.volume_ml", STOCK, NOT_ASKED),
    "returned.at": Places(GIVEN, Why("told by the ledger"), STOCK, NOT_ASKED),
    "returned.day": Places(RETURNED, "Out.day", STOCK, NOT_ASKED),
    "returned.maker": Places(GIVEN, Why("told by the ledger"), STOCK, NOT_ASKED),
    "returned.person": Places(RETURNED, "Out.note", STOCK, NOT_ASKED),
    "returned.note": Places(RETURNED, "Out.note", STOCK, NOT_ASKED),
    "movement.bottle_id": LINKS,
    "movement.volume_ml": Places("BottleDraft.volume_ml", "MovementView.volume_ml",
                                 "filled_ml", "left"),
    "movement.kind": Places(Why("the form that is opened"), "MovementView.kind",
                            STOCK, NOT_ASKED),
    "movement.at": Places(GIVEN, "MovementView.at", STOCK, NOT_ASKED),
    "movement.day": Places(Why("asked where liquid is drawn, without a draft"),
                           "MovementView.day", STOCK, NOT_ASKED),
    "movement.maker": Places(GIVEN, "MovementView.maker", STOCK, NOT_ASKED),
    "movement.person": Places(Why("asked where liquid is drawn, without a draft"),
                              "MovementView.person", STOCK, NOT_ASKED),
    "movement.note": Places(Why("asked where liquid is drawn, without a draft"),
                            "MovementView.note", STOCK, NOT_ASKED),
}  # fmt: skip
TABLES_HELD = {column.partition(".")[0] for column in COLUMNS}


def named(*modules: ModuleType) -> set[str]:
    """Every `Class.field` of the frozen classes of some modules."""

    def of(kind: type) -> Iterator[str]:
        if is_dataclass(kind):
            yield from (field.name for field in fields(kind))
        yield from getattr(kind, "_fields", ())

    classes = (c for m in modules for c in vars(m).values() if isinstance(c, type))
    return {f"{kind.__name__}.{name}" for kind in classes for name in of(kind)}


def read_by_the_record() -> set[str]:
    """The fields that the batch record reads."""
    return {
        node.attr
        for path in (SOURCE / "paper").glob("batch_*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Attribute)
    }


FOUND = {
    "draft": named(drafts, gathering),
    "view": named(
        views, cupboard_views, cards, lot_views, liquids, blend_views, gathering, withdrawals
    ),
    "record": read_by_the_record(),
    "notebook": set(sheet_columns()),
}


def test_every_column_of_the_schema_is_in_the_list(keeper: Keeper) -> None:
    there = {
        f"{table}.{row[1]}"
        for table in TABLES_HELD
        for row in keeper.rows(f"PRAGMA table_info({table})")
        if row[1] != "id"
    }
    assert there == COLUMNS.keys()


@pytest.mark.parametrize("place", FOUND)
def test_each_column_is_used_where_the_list_says(place: str) -> None:
    said = {column: getattr(places, place) for column, places in COLUMNS.items()}
    there = FOUND[place]
    missing = {c: name for c, name in said.items() if not (isinstance(name, Why) or name in there)}
    assert missing == {}


def test_every_column_is_exported_and_imported() -> None:
    """By the one list that writing, reading and COLUMNS.md share."""
    exported = {f"{table.record}.{c.field or c.name}" for table in TABLES for c in table.columns}
    assert COLUMNS.keys() <= exported


CORRECTED = {
    "herb": facts.HERB,
    "spirit": facts.SPIRIT,
    "liquid": facts.LIQUID,
    "herb_lot": (*facts.LOT_ORIGIN, facts.LOT_CONDITION, facts.LOT_WEIGHT, *facts.LOT),
    "jar": facts.JAR,
    "charge_line": facts.HERB_IN_JAR,
    "pour": facts.POUR,
    "straining": facts.STRAINING,
    "straining_go": facts.GO,
    "tincture": (*facts.TINCTURE, *facts.BLEND),
    "bottle": facts.BOTTLE,
    "batch_input": facts.INPUT,
    "loss": facts.LOSS,
}
"""What the correction of each table offers."""
FORM_AGAIN = Why("the form that it was entered in opens with it again")
NOT_CORRECTED = {
    "herb.months_in_hand": FORM_AGAIN,
    "gathering_window.part": FORM_AGAIN,
    "gathering_window.first_day": FORM_AGAIN,
    "gathering_window.last_day": FORM_AGAIN,
    "jar.shelf_id": Why("a jar is moved; where it was is no fact of its batch"),
    "straining.confirmed": Why("the answer to a question while it was strained"),
    "tincture.volume_ml": Why("follows from the yield"),
    "tincture.strength_abv": Why("follows from what was poured, or measured at straining"),
    "bottle.tincture_id": LINK,
    "batch_input.kind": Why("an input of the wrong kind is removed, by a volume of 0"),
    "movement.volume_ml": Why("corrected as what the bottle held, which is not a column"),
}


def test_each_column_that_a_form_has_can_be_corrected_later() -> None:
    filled_in = {column for column, places in COLUMNS.items() if not isinstance(places.draft, Why)}
    offered = {f"{table}.{fact.column}" for table, fact in _offered()}
    assert filled_in - offered == NOT_CORRECTED.keys()


def _offered() -> Iterator[tuple[str, facts.FactColumn]]:
    for table, columns in CORRECTED.items():
        yield from ((table, column) for column in columns)
