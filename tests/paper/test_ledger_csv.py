"""The ledger in a spreadsheet: text stays text."""

import csv
import io

import pytest

from stillroom.keeping.cupboard.cupboard import add_shelf
from stillroom.keeping.drafts import ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.ledger import LedgerFilter, ledger
from stillroom.paper.ledger_csv import ledger_csv


@pytest.mark.parametrize(
    "start",
    # OWASP, "CSV Injection" (owasp.org/www-community/attacks/CSV_Injection), and what
    # spreadsheets were seen to skip or fold before they look.
    ["=", "+", "-", "@", "＝", "＋", "－", "＠", " =", "\u3000="],
)
def test_no_text_can_become_a_formula(keeper: Keeper, start: str) -> None:
    with keeper.act("Looked") as act:
        act.note("note", f"{start}1+1")
    sheet = ledger_csv(ledger(keeper, LedgerFilter(), limit=-1)).decode()
    cells = [cell for line in csv.reader(io.StringIO(sheet)) for cell in line]
    assert f"'{start}1+1" in cells
    assert f"{start}1+1" not in cells


def test_ordinary_text_is_not_changed(keeper: Keeper) -> None:
    add_shelf(keeper, ShelfDraft("Larder"))
    assert "'" not in ledger_csv(ledger(keeper, LedgerFilter(), limit=-1)).decode()
