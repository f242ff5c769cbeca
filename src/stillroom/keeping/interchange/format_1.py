"""What export format 1 says in another way than the tables of today, or not at all."""

from collections.abc import Callable
from typing import Any

from stillroom.reckoning.states import LossKind


def complete_format_1(sql: Callable[..., Any]) -> None:
    """Add what follows from the lines that have just been read, and are noted in `temp.came`."""
    # That a date was set by hand is in the ledger alone.
    sql(
        """UPDATE tincture SET keep_until_by_hand = 1
           WHERE id IN (SELECT id FROM temp.came WHERE file = 'tinctures' AND is_new)
                 AND id IN (SELECT tincture_id FROM event WHERE kind = 'keep until')"""
    )
    # How much was written off is there, and neither why nor when.
    sql(
        """INSERT INTO loss (tincture_id, kind, volume_ml, at, day)
           SELECT id, ?, lost_ml, day || 'T12:00:00.000000+00:00', day
           FROM (SELECT t.id, lost_ml, coalesce((SELECT max(filled_on) FROM bottle
                                                 WHERE tincture_id = t.id), made_on) AS day
                 FROM tincture t JOIN temp.came ON came.id = t.id
                 WHERE came.file = 'tinctures' AND came.is_new AND lost_ml > 0)""",
        (LossKind.NOT_STATED,),
    )
