"""The database itself refuses nonsense: each rule of the schema is tried, and needed.

Every CHECK, UNIQUE and trigger is also taken out of the schema in turn: something that was refused
must then get in, so that no rule stands here without a try of its own.
"""

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from typing import Any

import pytest

from stillroom.records.failures import PLAINER
from stillroom.records.schema import migrations

Row = dict[str, Any]

SCHEMA = "\n".join(sql for _, sql in migrations())
AT = "2026-11-26T09:15:00.000000+00:00"
DAY = "2026-11-26"
NUL = "a\0b"

LISTS = {
    "batch_status": "waiting",
    "cupboard_movement_kind": "count",
    "input_kind": "bottle",
    "jar_state": "steeping",
    "journal_kind": "act",
    "known_kind": "measured",
    "liquid_kind": "spirit",
    "loss_kind": "dregs",
    "movement_kind": "fill",
    "other_liquid_kind": "honey",
    "print_kind": "printed",
}
"""Tables of words, each with one that it has."""
WITH_A_WAY = ("cupboard_movement_kind", "movement_kind")

# Jar 1 steeps, 2 is strained and in bottle 1, 3 discarded, 4 strained and in bottle 3. Tincture 3
# is a blend of 10 mL from bottle 1, in bottle 2; movement 3 is for a blend but in none yet.
# Movement 7 was poured on a jar, and movement 8 is for a jar but on none yet.
SHELF = f"""
    INSERT INTO herb (id, name) VALUES (1, 'Fennel');
    INSERT INTO shelf (id, name, position) VALUES (1, 'Larder', 1);
    INSERT INTO spirit (id, name, strength_abv, bought_ml) VALUES (1, 'Vodka', 40, 700);
    INSERT INTO liquid (id, name, kind, density_g_per_ml, bought_ml, code)
        VALUES (1, 'Honey', 'honey', 1.42, 500, 'H1');
    INSERT INTO spirit (id, name, strength_abv, bought_ml, code) VALUES (2, 'Rum', 40, 50, 'R1');
    INSERT INTO cupboard_movement (id, spirit_id, volume_ml, kind, at, day)
        VALUES (1, 2, -10, 'spill', '{AT}', '{DAY}');
    INSERT INTO cupboard_movement (id, liquid_id, volume_ml, kind, at, day)
        VALUES (2, 1, -10, 'spill', '{AT}', '{DAY}');
    INSERT INTO bottle_size (id, size_ml) VALUES (1, 100);
    INSERT INTO setting (id, name, value) VALUES (1, 'maker', 'AB');
    INSERT INTO jar (id, code, shelf_id, place, filled_on, strain_on, state, ended_on) VALUES
        (1, '26-001', 1, 1, '2026-11-01', '2026-11-15', 'steeping', NULL),
        (2, '26-002', 1, 2, '2026-11-01', '2026-11-15', 'strained', '2026-11-15'),
        (3, '26-003', 1, 3, '2026-11-01', '2026-11-15', 'discarded', '2026-11-15'),
        (4, '26-004', 1, 4, '2026-11-01', '2026-11-15', 'strained', '2026-11-15');
    INSERT INTO herb_lot (id, code, herb_id, part, condition, came, got_on, mass_g) VALUES
        (1, 'H-26-001', 1, 'root', 'fresh', 'gathered', '2026-10-01', 500);
    INSERT INTO herb_movement (id, lot_id, mass_g, kind, at, day) VALUES
        (1, 1, -100, 'give', '{AT}', '{DAY}');
    INSERT INTO charge_line (id, jar_id, herb_id, part, condition, lot_id)
        VALUES (1, 1, 1, 'seed', 'dried', NULL);
    INSERT INTO pour (id, jar_id, kind, spirit_id, volume_ml, strength_abv, poured_on)
        VALUES (1, 1, 'spirit', 1, 600, 40, '2026-11-01');
    INSERT INTO shake (id, jar_id, day, turn, at) VALUES (1, 1, '{DAY}', 1, '{AT}');
    INSERT INTO straining (id, jar_id, strained_on, yield_ml, pressing) VALUES
        (1, 2, '2026-11-15', 150, 'pressed'),
        (2, 4, '2026-11-15', 100, 'drained');
    INSERT INTO tincture (id, code, straining_id, made_on, volume_ml, lost_ml) VALUES
        (1, '26-002', 1, '2026-11-15', 150, 10),
        (2, '26-004', 2, '2026-11-15', 100, 0),
        (3, '26-005', NULL, '2026-11-16', 12, 0);
    INSERT INTO bottle (id, code, tincture_id, size_ml, filled_on) VALUES
        (1, '26-002.1', 1, 100, '2026-11-15'),
        (2, '26-005.1', 3, 10, '2026-11-16'),
        (3, '26-004.1', 2, 100, '2026-11-15');
    INSERT INTO movement (id, bottle_id, volume_ml, kind, at, day) VALUES
        (1, 1, 90, 'fill', '{AT}', '{DAY}'),
        (2, 1, -10, 'blend', '{AT}', '{DAY}'),
        (3, 1, -1, 'blend', '{AT}', '{DAY}'),
        (4, 2, 10, 'fill', '{AT}', '{DAY}'),
        (5, 3, 100, 'fill', '{AT}', '{DAY}'),
        (6, 3, -5, 'draw', '{AT}', '{DAY}'),
        (7, 3, -5, 'pour on', '{AT}', '{DAY}'),
        (8, 3, -5, 'pour on', '{AT}', '{DAY}');
    INSERT INTO batch_input (id, tincture_id, kind, movement_id) VALUES (1, 3, 'bottle', 2);
    INSERT INTO pour (id, jar_id, kind, movement_id, volume_ml, strength_abv, poured_on)
        VALUES (2, 1, 'tincture', 7, 5, NULL, '{DAY}');
    INSERT INTO loss (id, tincture_id, kind, volume_ml, at, day)
        VALUES (1, 1, 'dregs', 10, '{AT}', '{DAY}');
    INSERT INTO returned (id, bottle_id, volume_ml, at, day) VALUES (1, 3, 2, '{AT}', '{DAY}');
    INSERT INTO gathering_window (id, herb_id, part, first_day, last_day)
        VALUES (1, 1, 'seed', '08-01', '09-30');
    INSERT INTO code_alias (id, code, new_code, shelf) VALUES (1, '25-001', '25-031', 'Ada');
    INSERT INTO formula (id, name) VALUES (1, 'Winter mix');
    INSERT INTO formula_part (id, formula_id, herb_id, part, share) VALUES (1, 1, 1, 'seed', 2);
    INSERT INTO journal (id, at, day, kind, title) VALUES
        (1, '{AT}', '{DAY}', 'act', 'Did something'), (2, '{AT}', '{DAY}', 'act', 'Did more');
    INSERT INTO journal_change (id, journal_id, record, row_id, before)
        VALUES (1, 1, 'jar', 3, '{{}}');
    INSERT INTO event (id, at, day, kind) VALUES
        (1, '{AT}', '{DAY}', 'note'), (2, '{AT}', '{DAY}', 'note');
    INSERT INTO corrected (id, event_id, journal_id) VALUES (1, 1, 1);
    INSERT INTO print_log (id, at, day, kind, bottle, text, copies, units, day_form, decimal_comma)
        VALUES (1, '{AT}', '{DAY}', 'printed', '26-002.1', 'Fennel', 1, 'metric', 'iso', 0);
    INSERT INTO closing (id, month, tincture_id, at, day, maker) VALUES
        (1, '2026-10', NULL, '{AT}', '{DAY}', 'AB'), (2, NULL, 1, '{AT}', '{DAY}', 'AB');
    INSERT INTO action (id, at, title) VALUES (1, '{AT}', 'Did something');
"""

SOUND: dict[str, Row] = {
    "setting": {"name": "units", "value": "metric"},
    "herb": {
        "name": "Ginger",
        "botanical": "Zingiber officinale",
        "cautions": "",
        "note": "hot",
        "months_in_hand": 9.0,
    },
    "shelf": {"name": "Window", "position": 2, "note": ""},
    "spirit": {
        "name": "Brandy",
        "strength_abv": 40.0,
        "bought_ml": 700.0,
        "price": 12.5,
        "bought_on": DAY,
        "origin": "",
        "note": "",
        "lot": "L1",
        "code": "B1",
        "density_g_per_ml": 0.95,
    },
    "liquid": {
        "name": "Glycerine",
        "kind": "glycerine",
        "density_g_per_ml": 1.261,
        "density_source": "a handbook",
        "acidity": 0.0,
        "glycerol": 99.5,
        "bought_ml": 500.0,
        "price": 9.0,
        "bought_on": DAY,
        "origin": "",
        "lot": "L2",
        "code": "G1",
        "note": "",
    },
    "cupboard_movement": {
        "spirit_id": 2,
        "liquid_id": None,
        "volume_ml": -5.0,
        "kind": "give",
        "at": AT,
        "day": DAY,
        "maker": "AB",
        "person": "",
        "note": "",
    },
    "bottle_size": {"size_ml": 50.0, "empties": 3},
    "jar": {
        "code": "26-009",
        "shelf_id": 1,
        "place": 5,
        "simmered": 0,
        "filled_on": DAY,
        "strain_on": "2026-12-10",
        "shakes_per_day": 1,
        "capacity_ml": 1000.0,
        "covered": 1,
        "state": "steeping",
        "ended_on": None,
        "note": "",
        "marc_of_id": 2,
    },
    "charge_line": {
        "jar_id": 1,
        "herb_id": 1,
        "part": "root",
        "condition": "fresh",
        "mass_g": 100.0,
        "water_fraction": 0.8,
        "gathered_on": DAY,
        "origin": "the lower bed",
        "part_assumed": 0,
        "condition_assumed": 0,
        "lot_id": 1,
    },
    "herb_movement_kind": {"name": "eaten", "takes": 1},
    "herb_lot": {
        "code": "H-26-002",
        "herb_id": 1,
        "part": "root",
        "condition": "dried",
        "came": "gathered",
        "got_on": "2026-10-01",
        "origin": "the lower bed",
        "seller_lot": "",
        "mass_g": 300.0,
        "price": 4.0,
        "water_fraction": 0.1,
        "laid_out_on": "2026-10-02",
        "laid_out_g": 300.0,
        "dry_on": "2026-10-09",
        "dry_g": 100.0,
        "from_lot_id": 1,
        "used_up_on": None,
        "note": "",
    },
    "herb_movement": {
        "lot_id": 1,
        "mass_g": -100.0,
        "kind": "give",
        "at": AT,
        "day": DAY,
        "maker": "AB",
        "person": "Ada",
        "note": "",
    },
    "pour": {
        "jar_id": 1,
        "kind": "spirit",
        "spirit_id": 1,
        "liquid_id": None,
        "movement_id": None,
        "source_id": None,
        "volume_ml": 100.0,
        "strength_abv": 40.0,
        "poured_on": DAY,
    },
    "shake": {"jar_id": 1, "day": DAY, "turn": 2, "at": AT, "maker": "AB"},
    "straining": {
        "jar_id": 1,
        "strained_on": DAY,
        "yield_ml": 430.0,
        "pressing": "squeezed",
        "marc_g": 200.0,
        "measured_abv": 38.0,
        "liquid_ml": 590.0,
        "expected_ml": 440.0,
        "confirmed": 0,
        "note": "",
        "teaches": 1,
        "more": 0,
        "pressing_assumed": 0,
        "day_by": "stated",
    },
    "straining_go": {
        "straining_id": 1,
        "strained_on": DAY,
        "pressing": "drained",
        "yield_ml": 300.0,
        "maker": "AB",
        "note": "",
    },
    "tincture": {
        "code": "26-008",
        "name": "",
        "straining_id": None,
        "made_on": DAY,
        "volume_ml": 100.0,
        "strength_abv": 40.0,
        "strength_by": "calculated",
        "ratio": 5.0,
        "keep_until": "2031-11-26",
        "lost_ml": 0.0,
        "note": "",
        "keep_until_by_hand": 0,
        "status": "released",
    },
    "bottle": {
        "code": "26-002.2",
        "tincture_id": 1,
        "size_ml": 50.0,
        "filled_on": DAY,
        "place": "top shelf",
        "bottle_lot": "G-7",
        "cap_lot": "C-3",
    },
    "movement": {
        "bottle_id": 1,
        "volume_ml": -5.0,
        "kind": "draw",
        "at": AT,
        "day": DAY,
        "maker": "AB",
        "note": "",
    },
    "batch_input": {
        "tincture_id": 3,
        "kind": "bottle",
        "movement_id": 3,
        "source_id": None,
        "spirit_id": None,
        "liquid_id": None,
        "volume_ml": None,
        "strength_abv": None,
    },
    "loss": {
        "tincture_id": 1,
        "kind": "evaporated",
        "volume_ml": 5.0,
        "at": AT,
        "day": DAY,
        "maker": "AB",
        "note": "",
    },
    "returned": {
        "bottle_id": 3,
        "volume_ml": 1.0,
        "at": AT,
        "day": DAY,
        "maker": "AB",
        "person": "J.",
        "note": "",
    },
    **{table: {"name": "otherwise"} for table in LISTS if table not in WITH_A_WAY},
    **{table: {"name": "otherwise", "takes": 1} for table in WITH_A_WAY},
    "formula": {"name": "Summer mix", "note": ""},
    "code_alias": {"code": "26-001", "new_code": "26-044", "shelf": "Ada"},
    "gathering_window": {
        "herb_id": 1,
        "part": "root",
        "first_day": "09-15",
        "last_day": "02-29",
    },
    "formula_part": {
        "formula_id": 1,
        "herb_id": 1,
        "part": "root",
        "condition": "fresh",
        "name": "",
        "share": 1.0,
    },
    "event": {
        "at": AT,
        "day": DAY,
        "maker": "",
        "kind": "drawn",
        "text": "30 mL",
        "jar_id": 1,
        "tincture_id": 1,
        "bottle_id": 1,
        "spirit_id": 1,
        "herb_id": 1,
        "lot_id": 1,
        "subject": "26-001 Fennel",
        "journal_id": 1,
    },
    "action": {
        "at": AT,
        "maker": "",
        "title": "Drew 30 mL",
        "undone": 0,
        "journal_id": 1,
        "steps": 3,
    },
    "journal": {
        "at": AT,
        "day": DAY,
        "maker": "",
        "kind": "undo",
        "title": "Did something",
        "why": "",
        "of_id": 1,
    },
    "journal_change": {
        "journal_id": 1,
        "record": "jar",
        "row_id": 1,
        "before": '{"note": ""}',
        "after": '{"note": "more"}',
    },
    "corrected": {"event_id": 2, "journal_id": 1},
    "print_log": {
        "at": AT,
        "day": DAY,
        "maker": "AB",
        "kind": "printed",
        "bottle": "26-002.1",
        "text": "Fennel",
        "copies": 2,
        "units": "metric",
        "day_form": "iso",
        "decimal_comma": 0,
        "language": "de",
    },
    "closing": {"month": None, "tincture_id": 2, "at": AT, "day": DAY, "maker": "AB"},
    "undo_step": {"action_id": 1, "sql": "DELETE FROM jar WHERE id=1"},
}
"""A row that each table takes."""

NOT_DAYS = (
    "",
    "tomorrow",
    "2026-11-31",
    "2026-02-29",
    "2026-1-1",
    "0000-01-01",
    "-4713-11-24",
    "now",
)
NOT_MOMENTS = (
    "2026-11-26",
    "2026-11-26T09:15:00+00:00",
    "2026-11-26 09:15:00.000000+00:00",
    "2026-11-26T09:15:00.000000+02:00",
    "2026-02-30T09:15:00.000000+00:00",
    "2026-11-26T24:15:00.000000+00:00",
    "0000-11-26T09:15:00.000000+00:00",
    "2026-11-26T09:15:00.00000x+00:00",
)
INFINITE = float("inf")

WRONG: dict[tuple[str, str], tuple[Any, ...]] = {
    ("setting", "name"): ("", "x" * 101, NUL, "maker"),
    ("setting", "value"): ("x" * 2001, NUL),
    ("herb", "name"): ("", "  ", "x" * 201, NUL, "fennel"),
    ("herb", "botanical"): ("x" * 201, NUL),
    ("herb", "cautions"): ("x" * 20_001, NUL),
    ("herb", "note"): ("x" * 20_001, NUL),
    ("herb", "months_in_hand"): (0.0, -1.0, 121.0, INFINITE),
    ("code_alias", "code"): ("", "x" * 49, NUL),
    ("code_alias", "new_code"): ("", "x" * 49, NUL),
    ("code_alias", "shelf"): (" ", "x" * 201, NUL),
    ("gathering_window", "part"): ("leaves", "seed"),
    ("gathering_window", "first_day"): ("06-31", "6-1", "2026-06-01", "", "13-01", None),
    ("gathering_window", "last_day"): ("06-31", "6-1", "now", "00-10", None),
    ("shelf", "name"): ("", " ", "x" * 201, NUL, "LARDER"),
    ("shelf", "position"): (0,),
    ("shelf", "note"): ("x" * 20_001, NUL),
    ("spirit", "name"): ("", " ", "x" * 201, NUL),
    ("spirit", "strength_abv"): (0.0, 100.1, -1.0),
    ("spirit", "bought_ml"): (0.0, -1.0, INFINITE),
    ("spirit", "price"): (-0.01, INFINITE),
    ("spirit", "bought_on"): NOT_DAYS,
    ("spirit", "origin"): ("x" * 2001, NUL),
    ("spirit", "note"): ("x" * 20_001, NUL),
    ("bottle_size", "size_ml"): (0.0, -5.0, INFINITE, 100.0),
    ("bottle_size", "empties"): (-1,),
    ("jar", "code"): ("", "x" * 41, NUL, "26-001"),
    ("jar", "place"): (0,),
    ("jar", "simmered"): (2,),
    ("jar", "filled_on"): NOT_DAYS,
    ("jar", "strain_on"): (*NOT_DAYS, "2026-11-25", "9999-02-30"),
    ("jar", "shakes_per_day"): (-1, 10),
    ("jar", "capacity_ml"): (0.0, INFINITE),
    ("jar", "covered"): (2,),
    ("jar", "state"): ("lost", "strained"),
    ("jar", "ended_on"): (*NOT_DAYS, DAY),
    ("jar", "note"): ("x" * 20_001, NUL),
    ("charge_line", "part"): ("leaves", ""),
    ("charge_line", "condition"): ("frozen",),
    ("charge_line", "mass_g"): (0.0, INFINITE),
    ("charge_line", "water_fraction"): (-0.1, 1.0),
    ("charge_line", "gathered_on"): NOT_DAYS,
    ("charge_line", "origin"): ("x" * 2001, NUL),
    ("herb_movement_kind", "name"): ("", "x" * 41, NUL, "give"),
    ("herb_movement_kind", "takes"): (2,),
    ("herb_lot", "code"): ("", "x" * 41, NUL, "H-26-001"),
    ("herb_lot", "part"): ("leaves",),
    ("herb_lot", "condition"): ("frozen", "fresh"),
    ("herb_lot", "came"): ("found",),
    ("herb_lot", "got_on"): (*NOT_DAYS, "2026-10-03"),
    ("herb_lot", "origin"): ("x" * 1501, NUL),
    ("herb_lot", "seller_lot"): ("x" * 201, NUL),
    ("herb_lot", "mass_g"): (0.0, -INFINITE, INFINITE),
    ("herb_lot", "price"): (-0.01, INFINITE),
    ("herb_lot", "water_fraction"): (-0.1, 1.0),
    ("herb_lot", "laid_out_on"): (*NOT_DAYS, "2026-09-30", "2026-10-10", None),
    ("herb_lot", "laid_out_g"): (0.0, 100.0, INFINITE),
    ("herb_lot", "dry_on"): (*NOT_DAYS, "2026-10-01", None),
    ("herb_lot", "dry_g"): (0.0, 300.0, INFINITE),
    ("herb_lot", "used_up_on"): (*NOT_DAYS, "2026-09-30"),
    ("herb_lot", "note"): ("x" * 20_001, NUL),
    ("herb_movement", "mass_g"): (0.0, 100.0, -INFINITE),
    ("herb_movement", "kind"): ("eaten",),
    ("herb_movement", "at"): NOT_MOMENTS,
    ("herb_movement", "day"): NOT_DAYS,
    ("herb_movement", "maker"): ("x" * 201, NUL),
    ("herb_movement", "person"): ("x" * 201, NUL),
    ("herb_movement", "note"): ("x" * 2001, NUL),
    ("spirit", "lot"): ("x" * 2001, NUL),
    ("spirit", "code"): ("", "x" * 41, NUL, "R1"),
    ("spirit", "density_g_per_ml"): (0.4, 2.6),
    ("liquid", "name"): ("", " ", "x" * 201, NUL),
    ("liquid", "kind"): ("oil",),
    ("liquid", "density_g_per_ml"): (0.4, 2.6),
    ("liquid", "density_source"): ("x" * 2001, NUL),
    ("liquid", "acidity"): (-1.0, 101.0),
    ("liquid", "glycerol"): (-1.0, 101.0),
    ("liquid", "bought_ml"): (0.0, -1.0, INFINITE),
    ("liquid", "price"): (-0.01, INFINITE),
    ("liquid", "bought_on"): NOT_DAYS,
    ("liquid", "origin"): ("x" * 2001, NUL),
    ("liquid", "lot"): ("x" * 2001, NUL),
    ("liquid", "code"): ("", "x" * 41, NUL, "H1"),
    ("liquid", "note"): ("x" * 20_001, NUL),
    ("cupboard_movement", "spirit_id"): (None,),
    ("cupboard_movement", "liquid_id"): (1,),
    ("cupboard_movement", "volume_ml"): (0.0, 5.0, -INFINITE),
    ("cupboard_movement", "kind"): ("drink",),
    ("cupboard_movement", "at"): NOT_MOMENTS,
    ("cupboard_movement", "day"): NOT_DAYS,
    ("cupboard_movement", "maker"): ("x" * 201, NUL),
    ("cupboard_movement", "person"): ("x" * 201, NUL),
    ("cupboard_movement", "note"): ("x" * 2001, NUL),
    ("loss", "kind"): ("drunk",),
    ("loss", "volume_ml"): (0.0, -1.0, INFINITE),
    ("loss", "at"): NOT_MOMENTS,
    ("loss", "day"): NOT_DAYS,
    ("loss", "maker"): ("x" * 201, NUL),
    ("loss", "note"): ("x" * 2001, NUL),
    ("returned", "volume_ml"): (0.0, -1.0, INFINITE),
    ("returned", "at"): NOT_MOMENTS,
    ("returned", "day"): NOT_DAYS,
    ("returned", "maker"): ("x" * 201, NUL),
    ("returned", "person"): ("x" * 201, NUL),
    ("returned", "note"): ("x" * 2001, NUL),
    ("batch_input", "kind"): ("air", "batch", "water"),
    ("batch_input", "movement_id"): (2, None, 6),
    ("batch_input", "source_id"): (1,),
    ("batch_input", "spirit_id"): (2,),
    ("batch_input", "liquid_id"): (1,),
    ("batch_input", "volume_ml"): (1.0,),
    ("batch_input", "strength_abv"): (40.0,),
    **{(table, "name"): ("", "x" * 41, NUL, word) for table, word in LISTS.items()},
    **{(table, "takes"): (2,) for table in WITH_A_WAY},
    ("jar", "marc_of_id"): (99,),
    ("pour", "liquid_id"): (1,),
    ("pour", "movement_id"): (8,),
    ("pour", "source_id"): (2,),
    ("pour", "kind"): ("wine", "water", "tincture"),
    ("pour", "volume_ml"): (0.0, -1.0, INFINITE),
    ("pour", "strength_abv"): (-1.0, 100.1, 0.0, None),
    ("pour", "poured_on"): NOT_DAYS,
    ("shake", "day"): NOT_DAYS,
    ("shake", "turn"): (0, 10, 1),
    ("shake", "at"): NOT_MOMENTS,
    ("shake", "maker"): ("x" * 201, NUL),
    ("straining", "jar_id"): (2,),
    ("straining", "strained_on"): NOT_DAYS,
    ("straining", "yield_ml"): (0.0, INFINITE),
    ("straining", "pressing"): ("wrung",),
    ("straining", "marc_g"): (0.0, INFINITE),
    ("straining", "measured_abv"): (-1.0, 101.0),
    ("straining", "liquid_ml"): (0.0, INFINITE),
    ("straining", "expected_ml"): (-1.0, INFINITE),
    ("straining", "confirmed"): (2,),
    ("straining", "note"): ("x" * 20_001, NUL),
    ("tincture", "code"): ("", "x" * 41, NUL, "26-002"),
    ("tincture", "name"): ("x" * 201, NUL),
    ("tincture", "straining_id"): (1,),
    ("tincture", "made_on"): NOT_DAYS,
    ("tincture", "volume_ml"): (0.0, INFINITE),
    ("tincture", "strength_abv"): (-1.0, 101.0, None),
    ("tincture", "strength_by"): ("guessed", "unknown"),
    ("tincture", "ratio"): (0.0, INFINITE),
    ("tincture", "keep_until"): NOT_DAYS,
    ("tincture", "lost_ml"): (-1.0, 100.1),
    ("tincture", "note"): ("x" * 20_001, NUL),
    ("bottle", "code"): ("", "x" * 49, NUL, "26-002.1"),
    ("bottle", "size_ml"): (0.0, INFINITE),
    ("bottle", "filled_on"): NOT_DAYS,
    ("bottle", "place"): ("x" * 201, NUL),
    ("bottle", "bottle_lot"): ("x" * 201, NUL),
    ("bottle", "cap_lot"): ("x" * 201, NUL),
    ("movement", "volume_ml"): (0.0, 5.0, -INFINITE),
    ("movement", "kind"): ("drink", "fill"),
    ("movement", "at"): NOT_MOMENTS,
    ("movement", "day"): NOT_DAYS,
    ("movement", "maker"): ("x" * 201, NUL),
    ("movement", "note"): ("x" * 2001, NUL),
    ("movement", "person"): ("x" * 201, NUL),
    ("formula", "name"): ("", " ", "x" * 201, NUL, "winter MIX"),
    ("formula", "note"): ("x" * 20_001, NUL),
    ("formula_part", "part"): ("leaves",),
    ("formula_part", "condition"): ("frozen", None),
    ("formula_part", "name"): ("x" * 201, NUL, "Evening blend"),
    ("formula_part", "herb_id"): (None,),
    ("formula_part", "share"): (0.0, INFINITE),
    ("event", "at"): NOT_MOMENTS,
    ("event", "day"): NOT_DAYS,
    ("event", "maker"): ("x" * 201, NUL),
    ("event", "kind"): ("", "x" * 41, NUL),
    ("event", "text"): ("x" * 20_001, NUL),
    ("event", "subject"): ("x" * 401, NUL),
    ("charge_line", "part_assumed"): (2,),
    ("charge_line", "condition_assumed"): (2,),
    ("straining", "pressing_assumed"): (2,),
    ("straining", "day_by"): ("guessed",),
    ("straining", "teaches"): (2,),
    ("straining", "more"): (2,),
    ("straining_go", "strained_on"): NOT_DAYS,
    ("straining_go", "pressing"): ("wrung",),
    ("straining_go", "yield_ml"): (0.0, INFINITE),
    ("straining_go", "maker"): ("x" * 201, NUL),
    ("straining_go", "note"): ("x" * 20_001, NUL),
    ("tincture", "keep_until_by_hand"): (2,),
    ("journal", "at"): NOT_MOMENTS,
    ("journal", "day"): NOT_DAYS,
    ("journal", "maker"): ("x" * 201, NUL),
    ("journal", "kind"): ("act", "guess"),
    ("journal", "title"): ("", "x" * 2001, NUL),
    ("journal", "why"): ("x" * 2001, NUL),
    ("journal", "of_id"): (None, 99),
    ("journal_change", "record"): ("", "x" * 41, NUL),
    ("journal_change", "row_id"): (0,),
    ("journal_change", "before"): ("", "{"),
    ("journal_change", "after"): ("", "{"),
    ("corrected", "event_id"): (1,),
    ("tincture", "status"): ("sold",),
    ("print_log", "at"): NOT_MOMENTS,
    ("print_log", "day"): NOT_DAYS,
    ("print_log", "maker"): ("x" * 201, NUL),
    ("print_log", "kind"): ("drawn",),
    ("print_log", "bottle"): ("", "x" * 49, NUL),
    ("print_log", "text"): ("", "x" * 100_001, NUL),
    ("print_log", "copies"): (-1, 5001),
    ("print_log", "units"): ("", "x" * 41, NUL),
    ("print_log", "day_form"): ("", "x" * 41, NUL),
    ("print_log", "decimal_comma"): (2,),
    ("print_log", "language"): ("", "x" * 41, NUL),
    ("closing", "month"): ("2026-11",),
    ("closing", "tincture_id"): (1, None),
    ("closing", "at"): NOT_MOMENTS,
    ("closing", "day"): NOT_DAYS,
    ("closing", "maker"): ("", "x" * 201, NUL),
    ("action", "at"): NOT_MOMENTS,
    ("action", "maker"): ("x" * 201, NUL),
    ("action", "title"): ("", "x" * 2001, NUL),
    ("action", "undone"): (2,),
    ("action", "steps"): (-1,),
}
"""Values that a column refuses in a row that is sound otherwise."""

WRONG_TOGETHER: dict[str, tuple[Row, ...]] = {
    "code_alias": ({"code": "25-001", "new_code": "25-031"},),
    "jar": (
        {"state": "discarded", "ended_on": "2026-11-25"},
        {"state": "discarded", "ended_on": "2026-11-31"},
        {"state": "lost", "ended_on": DAY},
        {"state": "drained", "ended_on": DAY},
        {"id": 9, "marc_of_id": 9},
    ),
    "pour": (
        {"kind": "water", "strength_abv": 0.0},
        {"kind": "water", "spirit_id": None, "strength_abv": 5.0},
        {"kind": "wine", "spirit_id": None, "strength_abv": 0.0},
        {"kind": "liquid", "spirit_id": None, "strength_abv": 0.0},
        {"kind": "tincture", "spirit_id": None, "movement_id": 7, "volume_ml": 5.0},
        {"kind": "tincture", "spirit_id": None, "movement_id": 8, "source_id": 2, "volume_ml": 5.0},
        {"kind": "tincture", "spirit_id": None, "source_id": 2, "volume_ml": 5.0},
    ),
    "batch_input": (
        {"kind": "batch", "movement_id": None, "source_id": 3, "volume_ml": 1.0},
        {"kind": "batch", "movement_id": None, "source_id": 1, "volume_ml": -1.0},
        {"kind": "batch", "movement_id": None, "source_id": 1, "volume_ml": INFINITE},
        {"kind": "batch", "movement_id": None, "source_id": 1, "volume_ml": 51.0},
        {"kind": "water", "movement_id": None, "volume_ml": -1.0},
        {"kind": "water", "movement_id": None, "volume_ml": 2e6},
        {"kind": "spirit", "movement_id": None, "volume_ml": 1.0, "strength_abv": 0.0},
        {"kind": "spirit", "movement_id": None, "volume_ml": 1.0, "strength_abv": 101.0},
    ),
    "tincture": (
        {"volume_ml": 10.0, "lost_ml": 11.0},
        {"volume_ml": -1.0, "lost_ml": -1.0},
        {"volume_ml": INFINITE, "straining_id": None},
    ),
    "movement": ({"kind": "count", "volume_ml": 0.0}, {"kind": "count", "volume_ml": -2e6}),
    "journal": ({"id": 3, "of_id": 3},),
    "charge_line": ({"lot_id": None, "part": "leaves"},),
    "herb_lot": (
        {"id": 9, "from_lot_id": 9},
        {"laid_out_on": None, "dry_on": None, "dry_g": None},
        {"laid_out_g": None, "laid_out_on": None, "dry_g": None},
        {"laid_out_g": None, "dry_g": 0.0},
        {"laid_out_g": None, "dry_g": INFINITE},
        {"laid_out_g": INFINITE, "dry_g": None},
        {"laid_out_g": 0.0, "dry_g": None},
        {"condition": "fresh", "dry_on": None},
        {
            "condition": "frozen",
            "laid_out_on": None,
            "laid_out_g": None,
            "dry_on": None,
            "dry_g": None,
        },
        {"condition": "fresh", "dry_on": None, "dry_g": None, "laid_out_on": "2026-09-30"},
        *(
            {"condition": "fresh", "dry_on": None, "dry_g": None, "laid_out_on": day}
            for day in ("2026-10-32", "2026-11-31", "tomorrow")
        ),
        *({"dry_on": day} for day in ("2026-10-32", "2026-11-31", "tomorrow")),
    ),
    "herb_movement": (
        {"kind": "weigh in", "mass_g": None},
        {"kind": "weigh in", "mass_g": 2e6},
    ),
    "closing": tuple(
        {"month": month, "tincture_id": None}
        for month in ("2026-10", "2026-13", "2026-1", "0000-01", "", "2026-10-1", "now")
    ),
    "formula_part": (
        {"herb_id": None, "part": "root", "condition": "", "name": "Evening blend"},
        {"herb_id": None, "part": "", "condition": "fresh", "name": "Evening blend"},
        {"part": "seed", "condition": ""},
        {"herb_id": None, "part": "", "condition": "", "name": "x" * 201},
        {"herb_id": None, "part": "", "condition": "", "name": NUL},
    ),
}
"""Values that do not go together."""

REFUSED: dict[str, str] = {
    "undo_state_stays": "DELETE FROM undo_state",
    "jar_state_moves_one_way": "UPDATE jar SET ended_on = '2026-11-20' WHERE id = 3",
    "jar_is_strained_by_a_straining": (
        "UPDATE jar SET state = 'strained', ended_on = '2026-11-20' WHERE id = 5"
    ),
    "straining_needs_a_jar_not_discarded": (
        "INSERT INTO straining (jar_id, strained_on, yield_ml, pressing)"
        " VALUES (3, '2026-11-20', 5, 'drained')"
    ),
    "movement_fits_bottle": (
        "INSERT INTO movement (bottle_id, volume_ml, kind, at, day)"
        f" VALUES (2, -10.1, 'draw', '{AT}', '{DAY}')"
    ),
    "input_went_into_a_batch": (
        "INSERT INTO batch_input (tincture_id, kind, movement_id) VALUES (3, 'bottle', 6)"
    ),
    "input_waits_unbottled": (
        "INSERT INTO batch_input (tincture_id, kind, source_id, volume_ml)"
        " VALUES (3, 'batch', 1, 50.1)"
    ),
    "input_is_in_cupboard": (
        "INSERT INTO batch_input (tincture_id, kind, spirit_id, volume_ml, strength_abv)"
        " VALUES (3, 'spirit', 2, 40.1, 40)"
    ),
    "pour_waits_unbottled": (
        "INSERT INTO pour (jar_id, kind, source_id, volume_ml, poured_on)"
        f" VALUES (1, 'tincture', 1, 50.1, '{DAY}')"
    ),
    "pour_was_drawn": (
        "INSERT INTO pour (jar_id, kind, movement_id, volume_ml, poured_on)"
        f" VALUES (1, 'tincture', 6, 5, '{DAY}')"
    ),
    "movement_goes_its_way": (
        "INSERT INTO movement (bottle_id, volume_ml, kind, at, day)"
        f" VALUES (1, 1, 'evaporated', '{AT}', '{DAY}')"
    ),
    "movement_still_goes_its_way": "UPDATE movement SET volume_ml = 5 WHERE id = 6",
    "cupboard_movement_is_there": (
        "INSERT INTO cupboard_movement (liquid_id, volume_ml, kind, at, day)"
        f" VALUES (1, -490.1, 'spoiled', '{AT}', '{DAY}')"
    ),
    "cupboard_movement_goes_its_way": (
        "INSERT INTO cupboard_movement (liquid_id, volume_ml, kind, at, day)"
        f" VALUES (1, 5, 'spoiled', '{AT}', '{DAY}')"
    ),
    "cupboard_movement_still_goes_its_way": (
        "UPDATE cupboard_movement SET volume_ml = 5 WHERE id = 1"
    ),
    "liquid_covers_its_pours": "UPDATE liquid SET bought_ml = 9",
    "tincture_was_strained": (
        "INSERT INTO tincture (code, straining_id, made_on, volume_ml)"
        f" VALUES ('26-006', (SELECT id FROM straining WHERE jar_id = 1), '{DAY}', 6)"
    ),
    "tincture_stays_as_strained": "UPDATE tincture SET volume_ml = 151 WHERE id = 1",
    "fill_is_there": (
        "INSERT INTO movement (bottle_id, volume_ml, kind, at, day)"
        f" SELECT id, 51, 'fill', '{AT}', '{DAY}' FROM bottle WHERE code = '26-002.9'"
    ),
    "tincture_covers_its_bottles": "UPDATE tincture SET lost_ml = 61 WHERE id = 1",
    "pour_is_in_cupboard": (
        "INSERT INTO pour (jar_id, kind, spirit_id, volume_ml, strength_abv, poured_on)"
        f" VALUES (1, 'spirit', 1, 101, 40, '{DAY}')"
    ),
    "spirit_covers_its_pours": "UPDATE spirit SET bought_ml = 599 WHERE id = 1",
    "herb_movement_is_in_store": (
        "INSERT INTO herb_movement (lot_id, mass_g, kind, at, day)"
        f" VALUES (1, -401, 'discard', '{AT}', '{DAY}')"
    ),
    "herb_movement_goes_one_way": (
        "INSERT INTO herb_movement (lot_id, mass_g, kind, at, day)"
        f" VALUES (1, 1, 'spoiled', '{AT}', '{DAY}')"
    ),
    "charge_is_in_store": (
        "INSERT INTO charge_line (jar_id, herb_id, part, condition, mass_g, lot_id)"
        " VALUES (1, 1, 'root', 'fresh', 401, 1)"
    ),
    "charge_is_of_its_lot": (
        "INSERT INTO charge_line (jar_id, herb_id, part, condition, mass_g, lot_id)"
        " VALUES (1, 1, 'seed', 'fresh', 4, 1)"
    ),
    "journal_line_is_kept": "UPDATE journal SET title = 'Did nothing' WHERE id = 2",
    "journal_line_stays": "DELETE FROM journal WHERE id = 2",
    "journal_change_is_kept": "UPDATE journal_change SET before = '[]'",
    "journal_change_stays": "DELETE FROM journal_change",
    "event_is_kept": "UPDATE event SET text = 'otherwise' WHERE id = 2",
    "event_stays": "DELETE FROM event WHERE id = 2",
    "corrected_is_kept": "UPDATE corrected SET event_id = 2",
    "corrected_stays": "DELETE FROM corrected",
    "print_line_is_kept": "UPDATE print_log SET text = 'Thyme'",
    "print_line_stays": "DELETE FROM print_log",
}
"""What each trigger is there to refuse."""

FIRST = f"""
    INSERT INTO bottle (code, tincture_id, size_ml, filled_on) VALUES ('26-002.9', 1, 100, '{DAY}');
    INSERT INTO jar (id, code, shelf_id, place, filled_on, strain_on)
        VALUES (5, '26-006', 1, 5, '2026-11-01', '2026-11-15');
    INSERT INTO straining (jar_id, strained_on, yield_ml, pressing)
        VALUES (1, '{DAY}', 5, 'drained');
"""
"""What some of those statements need to be there."""


def shelf(schema: str = SCHEMA) -> sqlite3.Connection:
    db = sqlite3.connect(":memory:", isolation_level=None)
    db.executescript(f"PRAGMA foreign_keys = 1; {schema}; {SHELF}")
    return db


@pytest.fixture(scope="module")
def made_once() -> bytes:
    """The shelf that each test has a copy of: running all the migrations takes much longer."""
    with closing(shelf()) as made:
        return made.serialize()


def copy_of(made: bytes) -> sqlite3.Connection:
    db = sqlite3.connect(":memory:", isolation_level=None)
    db.deserialize(made)
    db.execute("PRAGMA foreign_keys = 1")
    return db


@pytest.fixture
def db(made_once: bytes) -> Iterator[sqlite3.Connection]:
    with closing(copy_of(made_once)) as copied:
        yield copied


def takes(db: sqlite3.Connection, table: str, row: Row) -> bool:
    columns, marks = ", ".join(row), ", ".join("?" * len(row))
    db.execute("SAVEPOINT try")
    try:
        db.execute(f"INSERT INTO {table} ({columns}) VALUES ({marks})", tuple(row.values()))
        return True
    except (sqlite3.IntegrityError, sqlite3.OperationalError):  # the latter for a day "now"
        return False
    finally:
        db.execute("ROLLBACK TO try")


def wrong_rows(table: str) -> Iterator[Row]:
    for (of_table, column), values in WRONG.items():
        if of_table == table:
            yield from (SOUND[table] | {column: value} for value in values)
    yield from (SOUND[table] | row for row in WRONG_TOGETHER.get(table, ()))


@pytest.mark.parametrize("table", SOUND)
def test_each_table_accepts_a_good_row_and_refuses_each_wrong_one(
    db: sqlite3.Connection, table: str
) -> None:
    assert takes(db, table, SOUND[table])
    for row in wrong_rows(table):
        assert not takes(db, table, row), row


def test_every_table_is_tried(db: sqlite3.Connection) -> None:
    tables = {n for (n,) in db.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    marks = {
        "in_stock",
        "to_bottle",
    }  # tried in test_unfinished.py, with the triggers that write them
    assert tables - {"undo_state"} - marks == set(SOUND)


@pytest.mark.parametrize("table", SOUND)
def test_each_table_refuses_null_a_wrong_type_and_a_missing_parent(
    db: sqlite3.Connection, table: str
) -> None:
    for _, column, _, not_null, _, key in db.execute(f"PRAGMA table_info({table})").fetchall():
        if not_null:
            assert not takes(db, table, SOUND[table] | {column: None}), column
        if not key:
            assert not takes(db, table, SOUND[table] | {column: b"bytes"}), column
    for _, _, _, column, *_ in db.execute(f"PRAGMA foreign_key_list({table})").fetchall():
        assert not takes(db, table, SOUND[table] | {column: 999}), column


def without_a_check(sql: str) -> Iterator[tuple[str, str]]:
    """Each CHECK of a table, and the SQL of the table with CHECK (1) in its place."""
    for found in re.finditer(r"CHECK \(", sql):
        depth, end = 1, found.end()
        while depth:
            depth += {"(": 1, ")": -1}.get(sql[end], 0)
            end += 1
        yield sql[found.start() : end], f"{sql[: found.start()]}CHECK (1){sql[end:]}"


def without_a_unique() -> Iterator[tuple[int, int, str]]:
    """The place of each UNIQUE, of a column, a table or an index, and what to put there."""
    for found in re.finditer(r"UNIQUE( \([^)]*\))?", SCHEMA):
        yield found.start(), found.end(), "CHECK (1)" if found[1] else ""


def is_parent_key(table: str, start: int) -> bool:
    """Whether a UNIQUE there is of a column that a foreign key points to."""
    column, *_ = [*SCHEMA[SCHEMA.rindex("\n", 0, start) + 1 : start].split(), "id"]
    return f"REFERENCES {table} ({column})" in SCHEMA and column != "id"


def test_each_check_constraint_is_needed(db: sqlite3.Connection, made_once: bytes) -> None:
    tried, without_effect = 0, []
    tables = db.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'table'").fetchall()
    for table, sql in tables:
        for check, instead in without_a_check(sql) if table != "undo_state" else ():
            tried += 1
            with closing(copy_of(made_once)) as changed:
                changed.execute("PRAGMA writable_schema = 1")
                changed.execute("UPDATE sqlite_schema SET sql = ? WHERE name = ?", (instead, table))
                changed.execute("PRAGMA writable_schema = RESET")  # and read it again
                if not any(takes(changed, table, row) for row in wrong_rows(table)):
                    without_effect.append((table, check))
    assert without_effect == []
    assert tried >= 80


def test_each_unique_constraint_is_needed() -> None:
    tried, without_effect = 0, []
    for start, end, instead in without_a_unique():
        found = re.findall(r"(?:CREATE|ALTER) TABLE (\w+)|UNIQUE INDEX \w+ ON (\w+)", SCHEMA[:end])
        table = next(filter(None, found[-1]))
        index = re.match(r" INDEX (\w+)", SCHEMA[end:])
        dropped_alone = rf"|DROP INDEX {index[1]}\b" if index else ""
        is_dropped = re.search(
            rf"DROP TABLE {table}\b|TABLE {table} RENAME TO \w+_1{dropped_alone}", SCHEMA[start:]
        )
        is_rebuilt = table.endswith("_2")
        table = table.removesuffix("_2")
        if table != "undo_state" and (is_rebuilt or not is_dropped):
            tried += 1
            if is_parent_key(table, start):
                continue  # without it no row of a child gets in: SQLite sees to that
            with closing(shelf(SCHEMA[:start] + instead + SCHEMA[end:])) as db:
                if not any(takes(db, table, row) for row in wrong_rows(table)):
                    without_effect.append((table, SCHEMA[start:end]))
    assert without_effect == []
    assert tried >= 12


def test_the_undo_state_is_one_row_that_makes_sense(db: sqlite3.Connection) -> None:
    for statement in (
        "INSERT INTO undo_state (id) VALUES (2)",
        "INSERT INTO undo_state (id) VALUES (1)",
        "UPDATE undo_state SET rewinding = 2",
        "UPDATE undo_state SET rewinding = 1",
        "UPDATE undo_state SET action_id = 99",
        "UPDATE undo_state SET correcting = 2",
    ):
        with pytest.raises(sqlite3.IntegrityError):
            db.execute(statement)


@pytest.mark.parametrize(("trigger", "statement"), REFUSED.items())
def test_each_trigger_refuses_with_a_sentence_and_is_needed(
    db: sqlite3.Connection, trigger: str, statement: str
) -> None:
    db.executescript(FIRST)
    with pytest.raises(sqlite3.IntegrityError, match=r"^[A-Z].*\.$"):
        db.execute(statement)
    db.execute(f"DROP TRIGGER {trigger}")
    assert db.execute(statement).rowcount == 1


def test_every_trigger_is_tried(db: sqlite3.Connection) -> None:
    found = db.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
    names = {name for (name,) in found}
    assert {name for name in names if not name.startswith(("stock_", "wait_"))} == set(REFUSED)


def test_a_strained_or_discarded_jar_cannot_steep_again(db: sqlite3.Connection) -> None:
    for state in ("steeping", "strained"):
        with pytest.raises(sqlite3.IntegrityError, match=r"by undo|only then"):
            db.execute(f"UPDATE jar SET state = '{state}', ended_on = NULL WHERE id = 3")


def test_a_strained_jar_cannot_be_discarded(db: sqlite3.Connection) -> None:
    db.executescript(FIRST)
    with pytest.raises(sqlite3.IntegrityError, match="and only then"):
        db.execute(f"UPDATE jar SET state = 'discarded', ended_on = '{DAY}' WHERE id = 1")
    db.execute(f"UPDATE jar SET state = 'strained', ended_on = '{DAY}' WHERE id = 1")


def test_a_full_bottle_holds_no_more(db: sqlite3.Connection) -> None:
    with pytest.raises(sqlite3.IntegrityError, match="more than its size"):
        db.execute(
            "INSERT INTO movement (bottle_id, volume_ml, kind, at, day)"
            f" VALUES (2, 0.1, 'count', '{AT}', '{DAY}')"
        )


def test_each_reworded_sentence_replaces_one_that_a_released_schema_has() -> None:
    """A sentence that no trigger has would never be shown."""
    released = "".join(script for _, script in migrations())
    assert [sentence for sentence in PLAINER if f"'{sentence}'" not in released] == []
