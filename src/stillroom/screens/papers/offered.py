"""What every page offers to print or to carry along."""

from collections.abc import Callable
from dataclasses import dataclass

from stillroom.keeping.bottles.bottle_views import bottle_rows
from stillroom.keeping.day import day_view
from stillroom.keeping.jars.shelves import shelves_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.trace.withdrawals import withdrawals
from stillroom.keeping.year.accounts import losses_of, spirit_period
from stillroom.keeping.year.ahead import plan_view
from stillroom.keeping.year.asked import YearAsked
from stillroom.keeping.year.behind import year_view
from stillroom.keeping.year.learning import learning
from stillroom.keeping.year.people import people
from stillroom.paper.calendar import calendar_file, dates_ahead
from stillroom.paper.document import Document
from stillroom.paper.lists import day_sheet, shelf_list, stock_list
from stillroom.paper.sign_sheets import losses_sheet, past_sheet, spirit_sheet, stock_take_sheet
from stillroom.paper.withdrawal_sheet import withdrawal_sheet
from stillroom.paper.year_csv import learning_csv, people_csv, plan_csv, year_csv
from stillroom.paper.year_papers import learning_paper, people_paper, plan_paper, year_paper


@dataclass(frozen=True)
class Paper:
    """One thing to write to a file."""

    title: str
    make: Callable[[Keeper], Document]
    """As it reads."""
    stem: str
    ending: str = ".pdf"
    content: Callable[[Keeper], bytes] | None = None
    """What is written, where that is not the document."""
    table: Callable[[Keeper], bytes] | None = None
    """What is written to a name in .csv, where there is a table of it."""
    has_period: bool = False
    """Whether it is about the days that were asked for."""


def _day_sheet(keeper: Keeper) -> Document:
    return day_sheet(day_view(keeper), shelves_view(keeper), settings_of(keeper))


def _shelf_list(keeper: Keeper) -> Document:
    return shelf_list(shelves_view(keeper), settings_of(keeper))


def _stock_list(keeper: Keeper) -> Document:
    return stock_list(bottle_rows(keeper), day_view(keeper), settings_of(keeper))


def _withdrawn(keeper: Keeper) -> Document:
    return withdrawal_sheet(withdrawals(keeper), settings_of(keeper), keeper.today)


def _stock_take(keeper: Keeper) -> Document:
    return stock_take_sheet(bottle_rows(keeper), settings_of(keeper), keeper.today)


def _past(keeper: Keeper) -> Document:
    return past_sheet(bottle_rows(keeper), settings_of(keeper), keeper.today)


def papers_of(asked: YearAsked) -> dict[str, Paper]:
    """Every paper by its name; those of a period are about the days that were asked for."""
    days, what_if = (asked.since, asked.until), asked.what_if

    def losses(keeper: Keeper) -> Document:
        found = losses_of(keeper, *days)
        return losses_sheet(found, *days, settings_of(keeper), keeper.today)

    def spirit(keeper: Keeper) -> Document:
        account = spirit_period(keeper, *days)
        return spirit_sheet(account, settings_of(keeper), keeper.today)

    return {
        "day": Paper("day sheet", _day_sheet, "day"),
        "shelves": Paper("shelf list", _shelf_list, "shelves"),
        "stock": Paper("stock list", _stock_list, "stock"),
        "withdrawn": Paper("withdrawn batches", _withdrawn, "withdrawn"),
        "calendar": Paper("calendar file", dates_ahead, "dates", ".ics", calendar_file),
        "plan": Paper(
            "plan",
            lambda keeper: plan_paper(keeper, plan_view(keeper, what_if), what_if),
            "plan",
            table=lambda keeper: plan_csv(
                plan_view(keeper, what_if), with_moon=settings_of(keeper).moon
            ),
        ),
        "year": Paper(
            "year in figures",
            lambda keeper: year_paper(keeper, year_view(keeper, *days)),
            "year",
            table=lambda keeper: year_csv(year_view(keeper, *days)),
            has_period=True,
        ),
        "learning": Paper(
            "what strainings teach",
            lambda keeper: learning_paper(keeper, learning(keeper)),
            "learning",
            table=lambda keeper: learning_csv(learning(keeper)),
        ),
        "people": Paper(
            "who got what",
            lambda keeper: people_paper(keeper, people(keeper)),
            "people",
            table=lambda keeper: people_csv(people(keeper)),
        ),
        "stock-take": Paper("stock-take, to sign", _stock_take, "stock-take"),
        "losses": Paper("losses, to sign", losses, "losses", has_period=True),
        "past": Paper("past their date, to sign", _past, "past"),
        "spirit": Paper("spirit account, to sign", spirit, "spirit", has_period=True),
    }
