"""`learning` and `signsheet`; and where the parts of the year go on paper."""

from argparse import ArgumentParser
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from stillroom.cli.call import Call, Command, json_option, named_path
from stillroom.cli.output import (
    file_options,
    print_content,
    print_option,
    put,
    put_as_it_is,
    put_json,
    put_list,
    write_out,
)
from stillroom.cli.papers import (
    TEXT_HELP,
    WIDTH,
    deliver,
    document_arguments,
    pdf_of,
    refuse_text_as_other,
    text_width,
)
from stillroom.dates import parse_day, parse_last_day
from stillroom.errors import Refused
from stillroom.keeping.words import folded, in_a_row
from stillroom.keeping.year.learning import Learning, learning
from stillroom.reckoning.kinds import Kind

if TYPE_CHECKING:
    from stillroom.paper.document import Document

NO_STRAININGS = "There are no strainings yet."
SHEETS = ("stock-take", "losses", "past", "spirit")


def out_option(parser: ArgumentParser) -> None:
    """Where a part of the year goes on paper."""
    parser.add_argument(
        "--out",
        metavar="FILE",
        type=named_path,
        help="write to this file, ending in .pdf (with pictures), .csv or .txt",
    )
    parser.add_argument("--text", action="store_true", help=TEXT_HELP)
    file_options(parser)
    print_option(parser)


def goes_on_paper(call: Call) -> bool:
    """Whether a part of the year was asked for as a file or in print."""
    return call.asked.out is not None or call.asked.print or call.asked.text


def write_part(
    call: Call, path: Path | None, document: Callable[[], "Document"], table: Callable[[], bytes]
) -> int:
    """Write a part of the year as its name asks for."""
    from stillroom.paper.document import as_text

    if call.asked.json:
        raise Refused("--json can't be combined with --out, --print or --text.")
    refuse_text_as_other(call, path)
    if path is None and call.asked.text:
        put_as_it_is(as_text(document(), text_width()))
        return 0
    if path is None:
        put(print_content(call, pdf_of(call, document())))
        return 0
    ending = path.suffix.lower()
    if ending == ".csv":
        content = table()
    elif ending == ".txt":
        content = as_text(document(), WIDTH).encode()
    elif ending == ".pdf":
        content = pdf_of(call, document())
    else:
        raise Refused(f"Use a name that ends in .pdf, .csv or .txt, not {path.name}.")
    write_out(call, path, content)
    return 0


def period(call: Call, since: str | None, until: str | None) -> tuple[date, date]:
    """The days asked for; the year so far where none are."""
    first, last = days_between(call, since, until or "today")
    assert last is not None
    return first or date(last.year, 1, 1), last


def days_between(
    call: Call, since: str | None, until: str | None
) -> tuple[date | None, date | None]:
    """The first and the last day, where they are given; Refused where they are in disorder."""
    today = call.keeper.today
    first = parse_day(since, today, past=True) if since else None
    last = parse_last_day(until, today, first) if until else None
    if first and last and last < first:
        raise Refused("The last day is before the first.")
    return first, last


def _learning_arguments(parser: ArgumentParser) -> None:
    parser.add_argument("words", nargs="*", metavar="WORD", help="only herbs with this in them")
    json_option(parser)
    out_option(parser)


def _learning(call: Call) -> int:
    wanted = folded(" ".join(call.asked.words)).split()
    found = [
        each
        for each in learning(call.keeper)
        if all(word in folded(f"{each.herb} {each.part} {each.condition}") for word in wanted)
    ]
    if goes_on_paper(call):
        from stillroom.paper.year_csv import learning_csv
        from stillroom.paper.year_papers import learning_paper

        return write_part(
            call,
            call.asked.out,
            lambda: learning_paper(call.keeper, found),
            lambda: learning_csv(found),
        )
    if call.asked.json:
        put_json(call, [_learning_json(each) for each in found])
        return 0
    if not found:
        put(f"No straining is of {' '.join(call.asked.words)}." if wanted else NO_STRAININGS)
    for each in found:
        heading = in_a_row(each.herb, each.part, each.condition, each.pressing)
        put_list(heading, _lines(call, each))
    return 0


def _lines(call: Call, each: Learning) -> list[str]:
    said, learned = call.wording, each.learned

    def held(ml_per_g: float) -> str:
        return said.of(Kind.RETENTION, ml_per_g)

    lines = [
        f"{said.day(s.strained_on)} {s.code}: "
        + ("not known" if s.percent is None else f"{said.percent(s.percent)} of the liquid")
        + (f", {held(s.retention)} held back" if s.retention is not None else "")
        + ("" if s.teaches else ", set aside")
        for s in each.strainings
    ]
    own = "not weighed" if learned.own_mean is None else held(learned.own_mean)
    expected = f"{held(learned.low)} to {held(learned.high)} expected next"
    lines.append(f"Held back: own mean {own}, published {held(each.published.mean)}, {expected}")
    return lines


def _learning_json(each: Learning) -> dict[str, Any]:
    return {
        "herb": each.herb,
        "part": each.part,
        "condition": each.condition,
        "pressing": each.pressing,
        "mean_percent": each.mean_percent,
        "own_mean_ml_per_g": each.learned.own_mean,
        "published_ml_per_g": each.published.mean,
        "next_ml_per_g": {"low": each.learned.low, "high": each.learned.high},
        "strainings": [
            {
                "jar": s.code,
                "strained_on": s.strained_on,
                "percent_of_liquid": s.percent,
                "held_back_ml_per_g": s.retention,
                "teaches": s.teaches,
            }
            for s in each.strainings
        ],
    }


def _sheet_arguments(parser: ArgumentParser) -> None:
    parser.add_argument(
        "sheet", metavar="SHEET", choices=SHEETS, help=f"which one: {', '.join(SHEETS)}"
    )
    parser.add_argument(
        "--from", dest="since", metavar="DAY",
        help="of losses and spirit: the first day; if left out, 1 January",
    )  # fmt: skip
    parser.add_argument(
        "--until", metavar="DAY", help="of losses and spirit: the last day; if left out, today"
    )
    document_arguments(parser)


def _sheet(call: Call) -> int:
    from stillroom.keeping.bottles.bottle_views import bottle_rows
    from stillroom.keeping.year.accounts import losses_of, spirit_period
    from stillroom.paper import sign_sheets

    keeper, today, settings = call.keeper, call.keeper.today, call.settings
    since, until = period(call, call.asked.since, call.asked.until)
    match call.asked.sheet:
        case "stock-take":
            document = sign_sheets.stock_take_sheet(bottle_rows(keeper), settings, today)
        case "past":
            document = sign_sheets.past_sheet(bottle_rows(keeper), settings, today)
        case "losses":
            losses = losses_of(keeper, since, until)
            document = sign_sheets.losses_sheet(losses, since, until, settings, today)
        case _:
            account = spirit_period(keeper, since, until)
            document = sign_sheets.spirit_sheet(account, settings, today)
    return deliver(call, document)


COMMANDS = {
    "learning": Command(
        _learning_arguments,
        _learning,
        "Shares are of all the liquid that was in the jar, including the herb's own water.",
    ),
    "signsheet": Command(
        _sheet_arguments,
        _sheet,
        "stock-take lists every bottle, to be counted; losses lists what was lost; past lists "
        "the\nbottles past their keep-until date; spirit lists what was bought, used, lost and "
        "left. Each has\nlines to sign.",
    ),
}
