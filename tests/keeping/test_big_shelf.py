"""The shelf of ten years is one that the program could have written, in both schemas."""

from pathlib import Path

import pytest

from stillroom.clock import SetClock
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.shelf_file.check import check
from stillroom.records.store import Store

from ..make_big_shelf import DEEPEST, make_big_shelf

SHARE = 0.06
"""Of ten years: few enough rows for a test, enough for blends five deep."""
_DEPTHS = """
    WITH RECURSIVE made (tincture_id, depth) AS (
        SELECT id, 0 FROM tincture WHERE straining_id IS NOT NULL UNION
        SELECT p.tincture_id, depth + 1 FROM made JOIN bottle b USING (tincture_id)
        JOIN movement m ON m.bottle_id = b.id JOIN batch_input p ON p.movement_id = m.id)
    SELECT max(depth) FROM made
"""


def sums(keeper: Keeper) -> list[tuple[object, ...]]:
    return keeper.rows(
        """SELECT (SELECT count(*) FROM jar), (SELECT count(*) FROM shake),
                  (SELECT count(*) FROM event), (SELECT sum(volume_ml) FROM movement),
                  (SELECT group_concat(strength_abv) FROM tincture)"""
    )


@pytest.mark.parametrize("schema", [1, 2])
def test_the_big_shelf_passes_check_and_is_five_blends_deep(
    schema: int, shelf_file: Path, clock: SetClock
) -> None:
    make_big_shelf(shelf_file, schema, share=SHARE)
    keeper = Keeper(Store.open(shelf_file), clock)
    assert check(keeper) == []
    assert keeper.rows(_DEPTHS) == [(DEEPEST,)]
    assert keeper.rows("SELECT count(*) FROM movement") == [(35_000 * SHARE,)]
    keeper.store.close()


def test_a_migration_keeps_its_rows_and_a_copy_of_the_file(
    shelf_file: Path, clock: SetClock
) -> None:
    make_big_shelf(shelf_file, 1, share=SHARE)
    Store.open(shelf_file).close()
    (copy,) = shelf_file.parent.glob("*.before-schema-2")
    keeper = Keeper(Store.open(shelf_file), clock)
    found = sums(keeper)
    ((line, kind),) = keeper.rows("SELECT count(*), kind FROM journal")
    assert (line, kind) == (1, "new schema")
    assert keeper.rows("SELECT count(*) FROM action") == [(0,)]
    assert keeper.rows("SELECT count(*) FROM movement WHERE kind = 'give' AND person = ''") == [
        (0,)
    ]
    keeper.store.close()
    shelf_file.write_bytes(copy.read_bytes())  # and it opens again from there
    again = Keeper(Store.open(shelf_file), clock)
    assert sums(again) == found
    again.store.close()
