"""The sums of a year against sums over the exported files, written here a second time."""

import csv
import random
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from shutil import copyfile

import pytest

from stillroom.clock import SetClock
from stillroom.errors import Refused
from stillroom.keeping.interchange.writing import export_folder
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.year.accounts import losses_of, spirit_period
from stillroom.keeping.year.behind import YearView, year_view
from stillroom.keeping.year.people import people, who_got
from stillroom.reckoning.year import PeriodFigures, What
from stillroom.records.store import Store

from ..conftest import NOW as START
from .random_shelf import RandomShelf

LOST = (
    "spilled", "spoiled", "past its date", "discarded", "filtered off", "dregs", "evaporated",
    "sample", "written off",
)  # fmt: skip
ANY = "any"
"""The code of no batch: herb in store belongs to none."""
SHELVES, PERIODS, ACTS = 3, 10, 220
Line = dict[str, str]
Sums = dict[str, float]


class Books:
    """The exported files of a shelf, added up by themselves."""

    def __init__(self, folder: Path) -> None:
        self.files: dict[str, list[Line]] = {}
        for path in folder.glob("*.csv"):
            with path.open(encoding="utf-8", newline="") as file:
                self.files[path.stem] = list(csv.DictReader(file))
        self.headings: dict[str, str] = {}
        """Of each jar by its code."""
        for jar in self.files["jars"]:
            of_jar = (x["herb"] for x in self.files["herbs_in_jars"] if x["jar"] == jar["code"])
            names = list(dict.fromkeys(of_jar))
            self.headings[jar["code"]] = " and ".join(
                filter(None, [", ".join(names[:-1]), names[-1]])
            )
        self.tinctures = {line["code"]: line for line in self.files["tinctures"]}
        self.of_bottle = {b["code"]: self.tinctures[b["tincture"]] for b in self.files["bottles"]}

    def filled_on(self, jar: str) -> str:
        return next(j["filled_on"] for j in self.files["jars"] if j["code"] == jar)

    def heading(self, tincture: Line) -> str:
        return self.headings[tincture["jar"]] if tincture["jar"] else tincture["name"]

    def stock_ml(self, batch: str, before: date) -> float:
        """Made less what left it before a day."""
        made = self.tinctures[batch]
        left = 0.0
        if date.fromisoformat(made["made_on"]) < before:
            left = float(made["volume_ml"])
        for loss in self.files["losses"]:
            if loss["tincture"] == batch and date.fromisoformat(loss["day"]) < before:
                left -= float(loss["volume_ml"])
        for move in self.files["movements"]:
            is_of_it = self.of_bottle[move["bottle"]] is made and move["kind"] != "fill"
            if is_of_it and date.fromisoformat(move["day"]) < before:
                left += float(move["volume_ml"])
        return left

    def sums(self, since: date, until: date, is_meant: Callable[[str, str], bool]) -> Sums:
        """The sums of a period over what has such a code and heading."""
        sums: Sums = defaultdict(float)

        def is_in(day: str) -> bool:
            return since <= date.fromisoformat(day) <= until

        for lot in self.files["herb_lots"]:
            if not is_meant(ANY, lot["herb"]):
                continue
            if is_in(lot["got_on"]) and not lot["from_lot"]:
                kind = "gathered" if lot["came"] == "gathered" else "herb bought"
                sums[kind] += float(lot["mass_g"])
            if lot["dry_on"] and is_in(lot["dry_on"]):
                sums["dried"] += float(lot["dry_g"])
        herb_of = {lot["code"]: lot["herb"] for lot in self.files["herb_lots"]}
        for move in self.files["herb_movements"]:
            if is_in(move["day"]) and is_meant(ANY, herb_of[move["lot"]]):
                if move["kind"] == "give":
                    sums["herb given"] -= float(move["mass_g"])
                elif move["kind"] in ("discard", "spoiled", "used up"):
                    sums["herb lost"] -= float(move["mass_g"])
        filled = {j["code"]: j["filled_on"] for j in self.files["jars"]}
        for code, day in filled.items():
            if is_in(day) and is_meant(code, self.headings[code]):
                sums["jars filled"] += 1
        for line in self.files["herbs_in_jars"]:
            code = line["jar"]
            if is_in(filled[code]) and is_meant(code, self.headings[code]):
                if line["mass_g"]:
                    sums["herb"] += float(line["mass_g"])
                else:
                    sums["herbs by eye"] += 1
        for pour in self.files["pours"]:
            if is_in(pour["poured_on"]) and is_meant(pour["jar"], self.headings[pour["jar"]]):
                sums["poured"] += float(pour["volume_ml"])
        liquid = {s["jar"]: s for s in self.files["strainings"]}
        for tincture in self.files["tinctures"]:
            if not is_in(tincture["made_on"]):
                continue
            if not is_meant(tincture["code"], self.heading(tincture)):
                continue
            if not tincture["jar"]:
                sums["blended"] += float(tincture["volume_ml"])
                continue
            sums["strained"] += float(tincture["volume_ml"])
            sums["jars strained"] += 1
            if of := liquid[tincture["jar"]]["liquid_ml"]:
                sums["liquid"] += float(of)
                sums["strained of it"] += float(liquid[tincture["jar"]]["yield_ml"])
        for loss in self.files["losses"]:
            tincture = self.tinctures[loss["tincture"]]
            if is_in(loss["day"]) and is_meant(tincture["code"], self.heading(tincture)):
                kind = "written off" if loss["kind"] == "not stated" else loss["kind"]
                sums[kind] += float(loss["volume_ml"])
        for move in self.files["movements"]:
            tincture = self.of_bottle[move["bottle"]]
            if not (is_in(move["day"]) and is_meant(tincture["code"], self.heading(tincture))):
                continue
            volume_ml = float(move["volume_ml"])
            match move["kind"]:
                case "fill":
                    sums["bottled"] += volume_ml
                case "draw":
                    sums["taken"] -= volume_ml
                case "give":
                    sums["given"] -= volume_ml
                case "spill":
                    sums["spilled"] -= volume_ml
                case "blend":
                    sums["into other batches"] -= volume_ml
                case "count" | "weigh in":
                    sums["counted"] += volume_ml
                case "discard":
                    until_on = tincture["keep_until"]
                    is_past = bool(until_on) and until_on < move["day"]
                    sums["past its date" if is_past else "discarded"] -= volume_ml
                case "filtered off" | "dregs" | "evaporated" | "sample" | "spoiled":
                    sums[move["kind"]] -= volume_ml
        for batch, tincture in self.tinctures.items():
            if is_meant(batch, self.heading(tincture)):
                sums["before"] += self.stock_ml(batch, since)
                sums["left"] += self.stock_ml(batch, until + timedelta(days=1))
        return sums

    def herb_paid(self, line: Line) -> float | None:
        """What the herb of one line cost: by what its lot weighed once it was dry."""
        lots = {lot["code"]: lot for lot in self.files["herb_lots"]}
        if not (line["lot"] and line["mass_g"]):
            return None
        lot = lots[line["lot"]]
        priced, share = lot, 1.0
        if lot["from_lot"]:
            priced = lots[lot["from_lot"]]
            share = float(lot["mass_g"]) / float(priced["mass_g"])
        if not priced["price"]:
            return None
        base_g = float(lot["mass_g"])
        for move in self.files["herb_movements"]:
            if move["lot"] == lot["code"] and move["kind"] == "dried":
                base_g += float(move["mass_g"])
        return share * float(priced["price"]) * float(line["mass_g"]) / base_g

    def cost(self, batch: str) -> tuple[float, set[str]]:
        """What the spirit in a batch cost, and how many things in it have no price."""
        tincture = self.tinctures[batch]
        if tincture["jar"]:
            total, without = 0.0, set()
            for line in self.files["herbs_in_jars"]:
                if line["jar"] == tincture["jar"]:
                    herb_cost = self.herb_paid(line)
                    if herb_cost is None:
                        without.add(line["lot"] or "the herb")
                    total += herb_cost or 0.0
            for pour in self.files["pours"]:
                if pour["jar"] == tincture["jar"] and pour["kind"] == "spirit":
                    paid = self.paid(pour)
                    if paid is None:
                        without.add(pour["spirit_number"])
                    total += paid or 0.0
            return total, without
        total, without = 0.0, set()
        for part in self.files["batch_inputs"]:
            if part["batch"] == batch:
                moves = [m for m in self.files["movements"] if m["bottle"] == part["bottle"]]
                drawn_ml = -float(moves[int(part["movement"]) - 1]["volume_ml"])
                source = self.of_bottle[part["bottle"]]
                cost, unknown = self.cost(source["code"])
                total += cost * drawn_ml / float(source["volume_ml"])
                without |= unknown
        return total, without

    def is_priced(self, batch: str) -> bool:
        """Whether anything in a batch has a price."""
        jar = self.tinctures[batch]["jar"]
        if jar:
            return any(
                self.herb_paid(line) is not None
                for line in self.files["herbs_in_jars"]
                if line["jar"] == jar
            ) or any(
                self.paid(pour) is not None
                for pour in self.files["pours"]
                if pour["jar"] == jar and pour["kind"] == "spirit"
            )
        return any(
            self.is_priced(self.of_bottle[part["bottle"]]["code"])
            for part in self.files["batch_inputs"]
            if part["batch"] == batch
        )

    def paid(self, pour: Line) -> float | None:
        if not pour["spirit_number"]:
            return None
        (lot,) = (s for s in self.files["spirits"] if s["number"] == pour["spirit_number"])
        if not (lot["price"] and lot["bought_ml"]):
            return None
        return float(lot["price"]) * float(pour["volume_ml"]) / float(lot["bought_ml"])


def is_of(wanted_code: str | None, wanted_herb: str | None, code: str, herb: str) -> bool:
    """Whether an entry is of the batch or herb that is wanted."""
    return wanted_code in (None, code) and wanted_herb in (None, herb)


def as_sums(figures: PeriodFigures) -> Sums:
    amounts = {str(what): amount for what, amount in figures.amounts.items()}
    return {**amounts, "before": figures.before_ml, "left": figures.left_ml}


def assert_same(figures: PeriodFigures, sums: Sums, where: object) -> None:
    found = as_sums(figures)
    for name in found.keys() | sums.keys():
        assert found.get(name, 0.0) == pytest.approx(sums.get(name, 0.0), abs=1e-6), (where, name)
    if sums["liquid"]:
        percent = 100 * sums["strained of it"] / sums["liquid"]
        assert figures.percent == pytest.approx(percent)
    used = sums["taken"] + sums["given"] + sums["into other batches"]
    assert (figures.made_ml, figures.used_ml) == pytest.approx(
        (sums["strained"] + sums["blended"], used)
    )


def months(since: date, until: date) -> Iterable[tuple[date, date]]:
    day = since
    while day <= until:
        after = (day.replace(day=28) + timedelta(days=4)).replace(day=1)
        yield day, min(until, after - timedelta(days=1))
        day = after


@pytest.fixture(scope="module")
def shelves(
    tmp_path_factory: pytest.TempPathFactory, empty_shelf: Path
) -> Iterator[list[tuple[Keeper, Books]]]:
    """Random shelves with their exported files."""
    made = []
    for seed in range(SHELVES):
        folder = tmp_path_factory.mktemp("year")
        copyfile(empty_shelf, folder / "shelf.stillroom")
        clock = SetClock(START)
        keeper = Keeper(Store.open(folder / "shelf.stillroom"), clock)
        RandomShelf(keeper, clock, seed).run(ACTS)
        export_folder(keeper, folder / "export")
        made.append((keeper, Books(folder / "export")))
    yield made
    for keeper, _ in made:
        keeper.store.close()


def periods(keeper: Keeper, seed: int) -> Iterable[tuple[date, date]]:
    dice = random.Random(seed)
    first = START.date()
    days = (keeper.today - first).days
    yield first - timedelta(days=40), keeper.today
    for _ in range(PERIODS):
        a, b = sorted(dice.randint(-30, days + 30) for _ in range(2))
        yield first + timedelta(days=a), first + timedelta(days=b)


def test_every_total_between_any_two_days_agrees_with_the_exported_files(
    shelves: list[tuple[Keeper, Books]],
) -> None:
    kinds: set[str] = set()
    known: set[tuple[bool, bool]] = set()
    for seed, (keeper, books) in enumerate(shelves):
        for since, until in periods(keeper, seed):
            view = year_view(keeper, since, until)
            everything = books.sums(since, until, partial(is_of, None, None))
            assert_same(view.total, everything, "total")
            kinds |= {name for name, amount in everything.items() if amount}
            codes = {j["code"] for j in books.files["jars"]} | set(books.tinctures)
            for code in codes:
                sums = books.sums(since, until, partial(is_of, code, None))
                assert_same(view.by_batch.get(code, PeriodFigures()), sums, code)
            herbs = (
                {lot["herb"] for lot in books.files["herb_lots"]}
                | set(books.headings.values())
                | set(map(books.heading, books.files["tinctures"]))
            )
            for herb in herbs:
                sums = books.sums(since, until, partial(is_of, None, herb))
                assert_same(view.by_herb.get(herb, PeriodFigures()), sums, herb)
            for first, last in months(since, until):
                sums = books.sums(first, last, partial(is_of, None, None))
                assert_same(view.by_month[first.replace(day=1)], sums, first)
            assert_costs(view, books)
            known |= {(c.cost is None, bool(c.without)) for c in view.cost.by_kind.values()}
            assert_losses(keeper, view, since, until)
            assert_spirit(keeper, books, since, until)
    assert kinds == {str(what) for what in What if what is not What.ON_HERB} | {"before", "left"}
    assert {(True, True), (False, True)} <= known, "nothing priced, and only a part"


def assert_spirit(keeper: Keeper, books: Books, since: date, until: date) -> None:
    """Purchases of one name and strength against their lines in the exported files."""
    first, last = since.isoformat(), until.isoformat()
    made_on = {t["code"]: t["made_on"] for t in books.files["tinctures"]}
    expected: dict[tuple[str, float], list[float]] = defaultdict(lambda: [0.0, 0.0])
    for number, spirit in enumerate(books.files["spirits"], start=1):

        def lines(file: str, number: str = str(number)) -> list[Line]:
            return [each for each in books.files[file] if each["spirit_number"] == number]

        used = [(x["poured_on"], float(x["volume_ml"])) for x in lines("pours")]
        used += [(made_on[x["tincture"]], float(x["volume_ml"])) for x in lines("batch_inputs")]
        moved = [(x["day"], float(x["volume_ml"])) for x in lines("cupboard_movements")]
        sums = expected[spirit["name"], float(spirit["strength_abv"])]
        sums[0] += sum(ml for day, ml in used if first <= day <= last)
        if spirit["bought_ml"]:
            sums[1] += float(spirit["bought_ml"]) if spirit["bought_on"] <= last else 0.0
            sums[1] += sum(ml for day, ml in moved if day <= last)
            sums[1] -= sum(ml for day, ml in used if day <= last)
    found: dict[tuple[str, float], list[float]] = defaultdict(lambda: [0.0, 0.0])
    for line in spirit_period(keeper, since, until).lines:
        sums = found[line.name, line.strength_abv]
        sums[0] += line.used_ml
        sums[1] += line.left_ml if line.is_counted else 0.0
    for key, sums in expected.items():
        assert found[key] == pytest.approx(sums, abs=1e-6), key


def assert_losses(keeper: Keeper, view: YearView, since: date, until: date) -> None:
    """The sheet of losses against the sums of the year, which are those of the export."""
    total = sum(each.volume_ml for each in losses_of(keeper, since, until))
    assert total == pytest.approx(view.total.gone_ml)


def assert_costs(view: YearView, books: Books) -> None:
    made = used = gone = 0.0
    for batch, tincture in books.tinctures.items():
        total, _ = books.cost(batch)
        sums = books.sums(view.since, view.until, partial(is_of, batch, None))
        per_ml = total / float(tincture["volume_ml"])
        made += per_ml * (sums["strained"] + sums["blended"])
        used += per_ml * (sums["taken"] + sums["given"] + sums["into other batches"])
        gone += per_ml * sum(sums[kind] for kind in LOST)
    assert_costs_of_kinds(view, books)
    found = (view.cost.made, view.cost.used, view.cost.gone)
    assert [each or 0.0 for each in found] == pytest.approx([made, used, gone])
    paid = [
        books.paid(pour)
        for pour in books.files["pours"]
        if pour["kind"] == "spirit"
        and view.since <= date.fromisoformat(pour["poured_on"]) <= view.until
    ]
    paid += [
        books.herb_paid(line)
        for line in books.files["herbs_in_jars"]
        if view.since <= date.fromisoformat(books.filled_on(line["jar"])) <= view.until
    ]
    known = [each for each in paid if each is not None]
    assert (view.cost.bought is None) == (not known)
    assert (view.cost.bought or 0.0) == pytest.approx(sum(known))
    assert_costs_of_purchases(view, books)
    unknown = sum(lot.volume_ml or 0.0 for lot in view.cost.purchases if lot.cost is None)
    of_unknown = sum(
        float(pour["volume_ml"])
        for pour in books.files["pours"]
        if pour["kind"] == "spirit"
        and view.since <= date.fromisoformat(pour["poured_on"]) <= view.until
        and books.paid(pour) is None
    )
    assert unknown == pytest.approx(of_unknown)
    for made_batch in view.cost.batches:
        total, without = books.cost(made_batch.code)
        assert made_batch.cost.total == pytest.approx(total)
        assert ("the herb" in made_batch.cost.without) == ("the herb" in without)
        assert bool(set(made_batch.cost.without) - {"the herb"}) == bool(without - {"the herb"})
        for code, volume_ml, cost in made_batch.bottles:
            (fill,) = (
                float(m["volume_ml"])
                for m in books.files["movements"]
                if m["bottle"] == code and m["kind"] == "fill"
            )
            assert volume_ml == pytest.approx(fill)
            assert cost == pytest.approx(
                total * fill / float(books.tinctures[made_batch.code]["volume_ml"])
            )


KINDS = ("strained", "blended", "taken", "given", "into other batches", *LOST)
"""What the cost of batches is divided into."""


def assert_costs_of_kinds(view: YearView, books: Books) -> None:
    """What was made, used and lost in each way, by mL and the cost of a mL of each batch.

    A kind of which no batch has a price has none, and each kind names what has none.
    """
    costs: dict[str, float | None] = {}
    unknown: dict[str, set[str]] = defaultdict(set)
    for batch, tincture in books.tinctures.items():
        total, without = books.cost(batch)
        sums = books.sums(view.since, view.until, partial(is_of, batch, None))
        for kind in KINDS:
            if not sums[kind]:
                continue
            costs.setdefault(kind, None)
            unknown[kind] |= without
            if books.is_priced(batch):
                cost = total * sums[kind] / float(tincture["volume_ml"])
                costs[kind] = (costs[kind] or 0.0) + cost
    found = {str(what): each for what, each in view.cost.by_kind.items()}
    assert set(found) == set(costs)
    for kind, known in costs.items():
        if known is None:
            assert found[kind].cost is None, kind
        else:
            assert found[kind].cost == pytest.approx(known), kind
        named = set(found[kind].without)
        assert ("the herb" in named) == ("the herb" in unknown[kind]), kind
        assert bool(named - {"the herb"}) == bool(unknown[kind] - {"the herb"}), kind
        assert named <= set(view.cost.without), kind


def assert_costs_of_purchases(view: YearView, books: Books) -> None:
    """Each lot of herb by its code, and the lots of spirit by their name."""
    of_herbs: dict[str, tuple[float, float | None]] = {}
    for line in books.files["herbs_in_jars"]:
        day = date.fromisoformat(books.filled_on(line["jar"]))
        if line["lot"] and line["mass_g"] and view.since <= day <= view.until:
            name, paid = f"{line['herb']} {line['lot']}", books.herb_paid(line)
            grams, cost = of_herbs.get(name, (0.0, 0.0))
            known = None if paid is None or cost is None else cost + paid
            of_herbs[name] = grams + float(line["mass_g"]), known
    found = {lot.name: lot for lot in view.cost.purchases if lot.mass_g is not None}
    assert set(found) == set(of_herbs)
    for name, (grams, cost) in of_herbs.items():
        assert (found[name].mass_g, found[name].cost) == pytest.approx((grams, cost)), name
    names = {lot["number"]: lot["name"] for lot in books.files["spirits"]}
    of_spirits: dict[str, float] = defaultdict(float, {"": 0.0})
    for pour in books.files["pours"]:
        day = date.fromisoformat(pour["poured_on"])
        if pour["kind"] == "spirit" and view.since <= day <= view.until:
            paid = books.paid(pour)
            of_spirits[names.get(pour["spirit_number"], "")] += paid or 0.0
    del of_spirits[""]
    for name, sum_paid in of_spirits.items():
        lots = [lot for lot in view.cost.purchases if lot.name.split(",")[0] == name]
        assert sum(lot.cost or 0.0 for lot in lots) == pytest.approx(sum_paid), name


def test_what_people_got_agrees_with_the_exported_files(
    shelves: list[tuple[Keeper, Books]],
) -> None:
    for keeper, books in shelves:
        of_people: dict[str, list[tuple[str, str, float]]] = defaultdict(list)
        for move in books.files["movements"]:
            if move["person"]:
                taken = (move["day"], move["bottle"], -float(move["volume_ml"]))
                of_people[move["person"].casefold()].append(taken)
        found = people(keeper)
        assert [each.name.casefold() for each in found] == sorted(of_people)
        for person in found:
            lines = [(str(t.day), t.code, t.volume_ml) for t in person.taken]
            assert sorted(lines) == sorted(of_people[person.name.casefold()])
            assert [t.day for t in person.taken] == sorted(t.day for t in person.taken)


def test_who_got_any_of_a_batch_is_followed_into_blends(
    shelves: list[tuple[Keeper, Books]],
) -> None:
    some = 0
    for keeper, books in shelves:
        ids = dict(keeper.rows("SELECT code, id FROM tincture"))
        for batch, tincture_id in ids.items():
            holds = {batch}
            for _ in books.tinctures:  # as often as a chain can be long
                holds |= {
                    part["batch"]
                    for part in books.files["batch_inputs"]
                    if books.of_bottle[part["bottle"]]["code"] in holds
                }
            wanted = {
                move["person"].casefold()
                for move in books.files["movements"]
                if move["person"] and books.of_bottle[move["bottle"]]["code"] in holds
            }
            found = who_got(keeper, tincture_id)
            assert {each.name.casefold() for each in found} == wanted
            some += bool(wanted) and len(holds) > 1
    assert some


def test_a_period_that_ends_before_it_begins_is_refused(keeper: Keeper) -> None:
    with pytest.raises(Refused, match="before the first"):
        year_view(keeper, keeper.today, keeper.today - timedelta(days=1))
    assert year_view(keeper, keeper.today, keeper.today).total.is_empty
