"""Every kind of material is handled everywhere; one that some place leaves out fails here."""

import re
from pathlib import Path

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.bottles.labels import labels_for
from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.correcting.facts import facts_of
from stillroom.keeping.correcting.subjects import subject_of_code
from stillroom.keeping.cupboard.counting import count_in_cupboard
from stillroom.keeping.cupboard.labels import label_of_lot, label_of_spirit
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.tables import TABLES as EXPORTED
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.shelf_file.check import check
from stillroom.keeping.trace.ancestry import trace
from stillroom.keeping.trace.batch_history import batch_history
from stillroom.keeping.trace.recall import recall_words
from stillroom.keeping.trace.views import Node
from stillroom.paper.batch_record import batch_record
from stillroom.paper.calendar import dates_ahead
from stillroom.paper.document import as_text
from stillroom.reckoning.states import InputKind
from stillroom.records.store import Store
from stillroom.records.tables import UNDOABLE

from ..correcting.sweep import everything

TABLES = (
    "herb_lot", "herb_movement", "liquid", "cupboard_movement", "straining_go", "batch_input",
    "loss",
)  # fmt: skip


def every(node: Node) -> str:
    return " ".join([f"{node.label} {node.detail}", *(every(child) for child in node.children)])


def batch(keeper: Keeper, name: str) -> str:
    ids = [found for (found,) in keeper.rows("SELECT id FROM tincture ORDER BY id")]
    return [view.code for view in tincture_views(keeper, ids).values() if view.name == name][-1]


def second_pour(keeper: Keeper) -> tuple[str, str]:
    """The code of a jar poured on a marc, and of the jar whose marc it is."""
    ((again, first),) = keeper.rows(
        "SELECT j.code, f.code FROM jar j JOIN jar f ON f.id = j.marc_of_id"
    )
    return again, first


def test_every_table_of_materials_is_undone_exported_and_corrected(sample: Keeper) -> None:
    assert set(TABLES) <= {record.table() for record in UNDOABLE}
    assert set(TABLES) <= {table.record for table in EXPORTED}
    ((spirit_id,),) = sample.rows("SELECT min(id) FROM spirit")
    count_in_cupboard(sample, InputKind.SPIRIT, spirit_id, 3.0)
    corrected = {fact.cell.record for _, fact in everything(sample)}
    assert set(TABLES) <= corrected


def test_the_sample_shelf_has_a_few_of_each_material(sample: Keeper) -> None:
    for table in TABLES:
        if table != "cupboard_movement":
            ((count,),) = sample.rows(f"SELECT count(*) FROM {table}")
            assert count > 0, table
    for what in (
        "jar WHERE marc_of_id IS NOT NULL", "jar WHERE state = 'drained'",
        "pour WHERE kind = 'tincture'", "pour WHERE kind = 'liquid'",
        "pour WHERE kind = 'held back'",
        "batch_input WHERE kind = 'batch'", "batch_input WHERE kind = 'water'",
        "batch_input WHERE kind = 'liquid'", "charge_line WHERE lot_id IS NOT NULL",
    ):  # fmt: skip
        ((count,),) = sample.rows(f"SELECT count(*) FROM {what}")
        assert count > 0, what
    assert check(sample) == []


def test_board_calendar_and_trace_show_each_material(sample: Keeper) -> None:
    again, first = second_pour(sample)
    board = {card.code: card for card in shelves_view(sample).jars}
    assert again in board
    (to_press,) = shelves_view(sample).to_press
    assert f"{to_press.code}" in as_text(dates_ahead(sample))
    assert "to press" in as_text(dates_ahead(sample))
    assert first in every(trace(sample, again))
    sweet = every(trace(sample, batch(sample, "Sage honey")))
    for part in ("Honey", "Water", first, "H-26-006", "Vodka"):
        assert part in sweet, part


def test_a_lot_is_recalled_with_everything_made_from_it(sample: Keeper) -> None:
    again, first = second_pour(sample)
    found = " ".join(every(tree) for tree in recall_words(sample, "H-26-006"))
    honey = batch(sample, "Sage honey")
    thin = batch(sample, "Sage and thyme")
    on_herb = sample.rows("SELECT j.code FROM pour p JOIN jar j ON j.id = p.jar_id "
                          "WHERE p.kind = 'tincture'")  # fmt: skip
    for code in (first, again, thin, honey, on_herb[0][0]):
        assert code in found, code
    in_stock = [row.code for row in bottle_rows(sample) if row.batch in (honey, thin)]
    assert [code for code in in_stock if code not in found] == []


def test_labels_and_batch_records_name_lots_and_liquids(sample: Keeper) -> None:
    honey = batch(sample, "Sage honey")
    ((bottle_id, honey_id),) = sample.rows(
        """SELECT b.id, t.id FROM bottle b JOIN tincture t ON t.id = b.tincture_id
           WHERE t.code = ?""",
        honey,
    )
    (label,) = labels_for(sample, [bottle_id])
    assert "With Honey" in [line.text for line in label.lines]
    record = as_text(
        batch_record(batch_history(sample, honey_id), settings_of(sample), sample.clock.now())
    )
    assert re.search(r"Sage and thyme, 30 % v/v +Bottle .*40 mL \(66\.7 %\)", record)
    assert re.search(r"Honey +Mill Lane Herbs +20 mL \(33\.3 %\)", record)
    lot = label_of_lot(sample, "H-26-006")
    assert lot is not None
    assert "H-26-006" in [line.text for line in lot.lines]
    glycerine = [line.text for line in label_of_spirit(sample, "glycerine").lines]
    assert "From Mill Lane Herbs, G-118" in glycerine
    ((jar_tincture,),) = sample.rows(
        """SELECT min(t.id) FROM tincture t JOIN straining s ON s.id = t.straining_id
           JOIN charge_line c ON c.jar_id = s.jar_id JOIN herb_lot l ON l.id = c.lot_id
           WHERE l.code = 'H-26-006'"""
    )
    history = batch_history(sample, jar_tincture)
    assert "H-26-006" in as_text(batch_record(history, settings_of(sample), sample.clock.now()))


def test_an_export_is_imported_with_each_material_and_its_lots(
    sample: Keeper, tmp_path: Path
) -> None:
    ((spirit_id,),) = sample.rows("SELECT min(id) FROM spirit")
    count_in_cupboard(sample, InputKind.SPIRIT, spirit_id, 3.0)
    export_folder(sample, tmp_path / "out")
    other = Keeper(Store.open(tmp_path / "other.stillroom", create=True), sample.clock)
    import_folder(other, tmp_path / "out")
    for table in TABLES:
        count = f"SELECT count(*) FROM {table}"
        assert other.rows(count) == sample.rows(count), table
    lots = """SELECT l.code, j.code, c.mass_g FROM charge_line c JOIN jar j ON j.id = c.jar_id
              JOIN herb_lot l ON l.id = c.lot_id ORDER BY 1, 2, 3"""
    assert other.rows(lots) == sample.rows(lots) != []
    liquids = """SELECT l.name, l.lot, i.volume_ml FROM batch_input i
                 JOIN liquid l ON l.id = i.liquid_id ORDER BY 1, 2, 3"""
    assert other.rows(liquids) == sample.rows(liquids) != []
    other.store.close()


def test_each_material_is_found_by_its_code_and_can_be_corrected(sample: Keeper) -> None:
    for code in ("H-26-006", "honey", second_pour(sample)[0], batch(sample, "Sage honey")):
        assert facts_of(sample, subject_of_code(sample, code))
