"""The pages of the program, in one table: a new page is one entry here and one folder."""

from dataclasses import dataclass


@dataclass(frozen=True)
class PageEntry:
    """A page that a key opens."""

    name: str
    key: str
    title: str
    about: str
    """What it holds, for tooltips and the palette."""
    module: str
    """Where its class is. It is imported when the page is first opened, so that the program
    starts quickly."""
    class_name: str


PAGES = (
    PageEntry("shelves", "1", "Shelves", "Show the shelves and their jars",
              "stillroom.screens.shelves.page", "ShelvesPage"),
    PageEntry("bottles", "2", "Bottles", "Show the bottles in stock",
              "stillroom.screens.bottles.page", "BottlesPage"),
    PageEntry("calculator", "3", "Calculator", "Show the calculators",
              "stillroom.screens.calculator.page", "CalculatorPage"),
    PageEntry("cupboard", "4", "Cupboard", "Show spirits, herbs, shelves, sizes and settings",
              "stillroom.screens.cupboard.page", "CupboardPage"),
    PageEntry("ledger", "5", "Ledger", "Show everything that was done",
              "stillroom.screens.ledger.page", "LedgerPage"),
    PageEntry("year", "6", "Year", "Show what to make next, and the year in figures",
              "stillroom.screens.year.page", "YearPage"),
)  # fmt: skip

FIRST = PAGES[0].name
"""The page the program starts on."""


def page_named(name: str) -> PageEntry:
    """The entry of a page."""
    return next(page for page in PAGES if page.name == name)


def key_range() -> str:
    """The keys of all pages, as the key line shows them."""
    return f"{PAGES[0].key}…{PAGES[-1].key}"


def marked_range(class_name: str) -> str:
    """The keys of all pages, that of the open one in brackets; none where it isn't one of them."""
    return "".join(f"[{p.key}]" if p.class_name == class_name else p.key for p in PAGES)
