"""Headings that a list of jars lacks, or that the user gave a meaning."""

from collections.abc import Callable
from itertools import product
from pathlib import Path

import pytest

from stillroom.keeping.interchange.answers import SheetWishes
from stillroom.keeping.interchange.mapping import saved_mapping, write_mapping
from stillroom.keeping.interchange.notebook import import_notebook
from stillroom.keeping.interchange.report import ImportReport
from stillroom.keeping.keeper import Keeper

TakeIn = Callable[..., ImportReport]


@pytest.fixture
def take_in(keeper: Keeper, tmp_path: Path) -> TakeIn:
    """See what a sheet of this content would bring, with what is said of it."""

    def take(content: str, wishes: SheetWishes | None = None, *columns: str) -> ImportReport:
        file = tmp_path / "list.csv"
        file.write_text(content, encoding="utf-8")
        said = wishes or SheetWishes(columns=columns, accept_unknown=True)
        return import_notebook(keeper, file, wishes=said, dry_run=True)

    return take


HERBS = ("herb", "Plant", "Name of it", "")
DAYS = ("date", "Filled on", "Begins", "")
MORE = ("weight", "Qty", "code")


@pytest.mark.parametrize("accepts", [True, False], ids=["yes", "asked"])
def test_a_list_without_a_herb_or_a_date_is_asked_about(take_in: TakeIn, accepts: bool) -> None:
    """Each pair of headings, known or not, is imported or asked about; none is a fault."""
    for herb, day, more in product(HERBS, DAYS, MORE):
        report = take_in(
            f"{herb},{day},{more}\nSage,2026-11-01,5\nMint,2026-11-02,6\n",
            SheetWishes(accept_unknown=accepts),
        )
        columns = [question.unread for question in report.questions if question.key == "column"]
        missing = [("herb",)] * (herb in HERBS[2:]) + [("date",)] * (day in DAYS[2:])
        if len(missing) == 2:  # nothing is known for a heading
            assert report.bad or columns == missing, (herb, day, more)
        else:
            assert (columns, report.bad) == (missing, ()), (herb, day, more)
        if missing:
            assert not any(report.added.values()), (herb, day, more)


def test_a_column_without_a_heading_is_given_a_meaning_by_its_letter(take_in: TakeIn) -> None:
    sheet = ",date,weight\nSage,2026-11-01,5 g\n"
    (question,) = (q for q in take_in(sheet).questions if q.key == "column")
    (choice,) = question.choices
    assert choice == "Column A=herb"
    report = take_in(sheet, None, choice)
    assert report.is_clean
    assert "Sage" in report.preview[0]


def test_a_meaning_for_a_column_that_is_not_there_is_refused(take_in: TakeIn) -> None:
    (bad,) = take_in("herb,date,Qty\nSage,2026-11-01,5 g\n", None, "Qtty=mass").bad
    assert "no column Qtty" in bad.message
    assert "herb, date, Qty" in bad.message


def test_a_saved_meaning_may_name_a_column_that_this_list_lacks(
    take_in: TakeIn, tmp_path: Path
) -> None:
    write_mapping(tmp_path / "mine.json", SheetWishes(columns=("Qty=mass", "Who=note")))
    wishes = saved_mapping(tmp_path / "mine.json")
    sheet = "herb,date,Qty\nSage,2026-11-01,5 g\n"
    assert take_in(sheet, wishes.with_more(SheetWishes(accept_unknown=True))).is_clean
    typed = wishes.with_more(SheetWishes(columns=("Whom=note",)))
    assert "no column Whom" in take_in(sheet, typed).bad[0].message
