"""What the forms of the screen do, done by FIELD=VALUE."""

from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from stillroom.cli.cupboard import SPIRIT
from stillroom.cli.fill import AGAIN, FILL
from stillroom.cli.form import FormField
from stillroom.cli.liquids import LIQUID
from stillroom.cli.lots import LOT
from stillroom.cli.settings import SETTINGS
from stillroom.clock import SetClock
from stillroom.keeping.drafts import (
    AgainDraft,
    HerbLotDraft,
    JarDraft,
    LiquidDraft,
    SpiritDraft,
)
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings
from stillroom.keeping.trace.ancestry import find_code
from stillroom.records.logs import has_log
from stillroom.records.store import Store

from ..conftest import NOW
from .answers import Answer, Say

At = Callable[..., Answer]
HERB = "herb=Marshmallow;root;dried;120 g"
POUR = "pour=600 ml;Vodka"


@pytest.fixture
def at(say: Say, stocked: Path) -> At:
    return lambda *words: say(*words, "--shelf", stocked)


def contents(path: Path) -> bytes:
    """All that a shelf file holds, which is all of the shelf: nothing is left in a log."""
    assert not has_log(path)
    return path.read_bytes()


# Each changes the stocked shelf; 26-001 is strained and has two bottles, 26-002 and 26-003 steep.
ACTS: list[tuple[str, ...]] = [
    ("fill", HERB, POUR),
    ("top-up", "26-002", "volume=50 ml", "liquid=Vodka"),
    ("dates", "26-002", "strain=12 Dec", "shakes=2"),
    ("cover", "26-002", "covered=no"),
    ("note", "26-002", "text=smells of honey"),
    ("move", "26-002", "shelf=North larder"),
    ("move", "26-001.1", "place=Cellar"),
    ("discard", "26-002", "note=mould"),
    ("discard", "26-001.1", "note=broken"),
    ("strain", "26-003", "yield=480 ml", "method=squeezed"),
    ("strain", "26-002", "yield=300 ml", "method=drained", "more=yes"),
    ("bottle", "26-001", "bottle=50 ml"),
    ("weigh-in", "26-001.1", "full=400 g", "empty=200 g"),
    ("count", "26-001.1", "seen=200 ml"),
    ("stock-take", "place=Door", "bottle=26-001.1;200 ml"),
    ("keep-until", "26-001", "until=1 Nov 2028"),
    ("spirits", "add", "name=Grain spirit", "strength=96%", "price=20"),
    ("spirits", "change", "Vodka", "strength=80 proof"),
    ("herbs", "add", "name=Fennel"),
    ("herbs", "change", "Thyme", "botanical=Thymus vulgaris"),
    ("shelves", "add", "name=South"),
    ("shelves", "change", "North larder", "note=cool"),
    ("shelves", "delete", "First shelf"),
    ("sizes", "add", "size=100 ml", "empties=12"),
    ("settings", "units=us", "currency=EUR"),
    ("formula", "add", "name=Root drops", "part=Elecampane;2;root", "part=Thyme;1"),
    ("draw", "26-001.1", "30 ml", "--for", "J."),
    ("shake", "26-002"),
    ("shake", "--all"),
    ("withdraw", "vodka", "--why", "seal broken"),
    ("reject", "26-001", "--why", "cloudy"),
    ("release", "26-001", "--yes"),
]
SIGNED = {"withdraw", "reject", "release"}
"""Acts that need initials."""


@pytest.mark.parametrize("words", ACTS, ids=lambda words: " ".join(words[:2]))
def test_a_dry_run_shows_what_the_command_then_does_and_changes_nothing(
    at: At, stocked: Path, words: tuple[str, ...]
) -> None:
    if words == ("shelves", "delete", "First shelf"):
        at("shelves", "add", "name=First shelf")
    if words[0] in SIGNED:
        at("settings", "maker=AL")
    before = contents(stocked)
    tried = at(*words, "--dry-run")
    assert (tried.code, tried.err) == (0, "")
    assert contents(stocked) == before
    tried_json = at(*words, "--dry-run", "--json").told
    assert contents(stocked) == before
    done = at(*words)
    assert (done.code, done.err) == (0, "")
    assert tried.out.startswith("Dry run: nothing was saved.")
    assert tried.out.split("\n", 1)[1] == done.out
    assert contents(stocked) != before
    assert at("undo").code == 0
    again = at(*words, "--json").told
    assert (tried_json["is_done"], again["is_done"]) == (False, True)
    assert tried_json["result"] == again["result"]


def test_a_dry_run_is_refused_as_the_command_would_be_and_changes_nothing(
    at: At, stocked: Path
) -> None:
    before = contents(stocked)
    words = ("strain", "26-003", "yield=5 l", "method=pressed")
    tried = at(*words, "--dry-run")
    assert tried == at(*words)
    assert tried.code == 2
    assert "is more than the" in tried.err
    assert "Add --yes to go ahead." in tried.err
    assert contents(stocked) == before
    assert at(*words, "--dry-run", "--yes").code == 0
    assert contents(stocked) == before


def test_a_dry_run_never_creates_a_shelf(say: Say, tmp_path: Path) -> None:
    path = tmp_path / "new.stillroom"
    answer = say("shelves", "add", "name=South", "--dry-run", "--new", "--shelf", path)
    assert (answer.code, path.exists()) == (2, False)


def jar(path: Path, code: str) -> Any:
    keeper = Keeper(Store.open(path), SetClock(NOW))
    try:
        found = find_code(keeper, code)
        assert found.jar_id is not None
        return jar_view(keeper, found.jar_id)
    finally:
        keeper.store.close()


def test_the_fill_command_takes_every_field_of_the_form(at: At, stocked: Path) -> None:
    said = at(
        "fill",
        "herb=Marshmallow;root;fresh;1 lb;water=75%;gathered=yesterday;origin=South bed, lot 7",
        "herb=name=Fennel;part=seed;condition=dried",
        "pour=1 us pint;Vodka", "pour=100 ml;decoction", "pour=50 ml;spirit;80 us proof",
        "pour=10 ml;40%", "size=2 l", "shelf=north LARDER", "filled=3 days ago", "days=21",
        "shakes=2", "simmered=yes", "note=for winter",
    )  # fmt: skip
    assert (said.code, said.err) == (0, "")
    assert said.out.startswith("Filled 26-004 Marshmallow and Fennel, root, fresh, on North larder")
    assert "Let it cool" in said.out or "cool" in said.out
    view = jar(stocked, "26-004")
    first, second = view.charges
    # 1 lb is 453.59237 g and a US pint 473.176473 mL (NIST Handbook 44, appendix C).
    assert first.mass_g == pytest.approx(453.59237)
    assert first.water_fraction == pytest.approx(0.75)
    assert (first.part, first.condition) == ("root", "fresh")
    assert first.origin == "South bed, lot 7"
    assert f"{first.gathered_on}" == "2026-11-25"
    assert (second.herb, second.part, second.mass_g) == ("Fennel", "seed", None)
    poured = [(p.kind, p.volume_ml, p.strength_abv, bool(p.spirit_id)) for p in view.pours]
    assert poured == [
        ("spirit", pytest.approx(473.176473), 40, True),
        ("decoction", 100, 0, False),
        ("spirit", 50, pytest.approx(40, abs=0.1), False),
        ("spirit", 10, 40, False),
    ]
    assert (view.capacity_ml, view.simmered, view.note) == (2000, True, "for winter")
    assert (f"{view.card.filled_on}", f"{view.card.strain_on}") == ("2026-11-23", "2026-12-14")
    assert view.card.shakes_per_day == 2


FIELDS_OF: dict[type[Any], tuple[tuple[FormField, ...], dict[str, str], set[str]]] = {
    JarDraft: (FILL, {"charges": "herb", "pours": "pour", "filled_on": "filled",
                      "strain_on": "days", "shakes_per_day": "shakes", "shelf_id": "shelf",
                      "capacity_ml": "size"}, set()),
    AgainDraft: (AGAIN, {"pours": "pour", "filled_on": "filled", "strain_on": "days",
                         "shakes_per_day": "shakes", "shelf_id": "shelf", "capacity_ml": "size",
                         "marc_g": "marc", "held_ml": "held"}, {"jar_id"}),
    SpiritDraft: (SPIRIT, {"strength_abv": "strength", "bought_ml": "bought", "bought_on": "day",
                           "density_g_per_ml": "density"}, set()),
    LiquidDraft: (LIQUID, {"density_g_per_ml": "density", "density_source": "source",
                           "bought_ml": "bought", "bought_on": "day"}, set()),
    HerbLotDraft: (LOT, {"got_on": "day", "seller_lot": "lot", "mass_g": "weight",
                         "water_fraction": "water"}, set()),
}  # fmt: skip
"""The fields of a command for what a form fills in; the names that differ, and what isn't asked."""


@pytest.mark.parametrize("draft", FIELDS_OF)
def test_a_command_has_every_field_that_its_form_fills_in(draft: type[Any]) -> None:
    asked, renamed, not_asked = FIELDS_OF[draft]
    filled = {renamed.get(f.name, f.name) for f in fields(draft) if f.name not in not_asked}
    assert filled == {field.key for field in asked}


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("fill", HERB), "pour: Liquid is needed."),
        (("fill", POUR), "herb: Herb is needed."),
        (("fill", "herb=Thyme;leaf", POUR), "herb, row 1, condition: Condition is needed."),
        (("fill", "herb=Thyme;tree;dried", POUR), "herb, row 1, part: choose from leaf, aerial"),
        (("fill", HERB, "pour=600;Vodka;40%"), "strength: leave it out"),
        (("fill", HERB, "pour=600;spirit"), "pour, row 1, strength: Strength is needed."),
        (("fill", HERB, "pour=600;wine"), "there is no wine in the cupboard. Write Vodka, water"),
        (("fill", HERB, "pour=1 pint;water"), "pour, row 1, volume: "),
        (("fill", HERB, POUR, "filled=tomorrow"), "The filling date is in the future."),
        (("fill", HERB, POUR, "colour=green"), "fill has no field colour. Choose from herb, pour"),
        (("fill", HERB, POUR, "days=3", "days=4"), "days is given twice."),
        (("fill", HERB, POUR, "note"), "note: write note=VALUE."),
        (("fill", "herb=Thyme;leaf;dried;1;100%", POUR), "must be less than 100 %"),
        (("fill", HERB, POUR, "shelf=Attic"), "There is no shelf called Attic. Choose from North"),
        (("top-up", "26-001.1", "volume=5", "liquid=water"), "26-001.1 is a bottle."),
        (("top-up", "26-001", "volume=5", "liquid=water"), "was strained already"),
        (("dates", "26-002"), "Give at least one of"),
        (("dates", "26-002", "days=3", "strain=tomorrow"), "days= or strain="),
        (("cover", "26-002"), "covered: Herb covered is needed."),
        (("cover", "26-002", "covered=perhaps"), "covered: choose from yes, no."),
        (("note", "26-002", "text="), "text: Note is needed."),
        (("move", "26-002", "place=Door"), "26-002 is a jar: write shelf=."),
        (("move", "26-001.1", "shelf=North larder"), "26-001.1 is a bottle: write place=."),
        (("strain", "26-003", "yield=400 ml", "container=5 g", "method=pressed"), "container: "),
        (("strain", "26-003", "yield=4 g", "container=5 g", "method=pressed"), "yield: "),
        (("bottle", "26-002"), "hasn't been strained"),
        (("bottle", "26-001", "bottle=50 ml;60 ml"), "can't hold 60 mL"),
        (("bottle", "26-001", "proposed=yes", "bottle=50 ml"), "proposed=yes can't be combined"),
        (("stock-take", "place=Door"), "Enter what at least one bottle holds."),
        (("stock-take", "place=Roof", "bottle=26-001.1;5 ml"), "There is no place called Roof"),
        (("stock-take", "place=Box", "bottle=26-001.1;5 ml"), "not in Box"),
        (("stock-take", "place=Door", "bottle=26-001.1;5 ml;5 g"), "or both weights"),
        (("join", "26-001.1", "into=26-001.1"), "Choose two different bottles."),
        (("keep-until", "26-001"), "write until=DAY"),
        (("blend", "name=X", "part=26-001.1;5 ml", "part=26-001.2;5 ml"), "two tinctures"),
        (("blend", "formula=Cough", "total=100 ml"), "There is no formula called Cough."),
        (("spirits", "drink", "Vodka"), "There is no act drink of spirits."),
        (("spirits", "change", "Vodka"), "Give what to change of Vodka"),
        (("spirits", "change", "Vodka", "strength=", "note=x"), "strength: Strength can't be"),
        (("herbs", "change", "Thyme", "name= "), "name: Name can't be blank."),
        (("formula", "add", "name=X", "part=Thyme;1", "part=thyme;2"), "listed twice"),
        (("correct", "26-001.1:size=70 ml"), "Give a code or name first"),
        (("fill", HERB, POUR, "shefl=x"), "no field shefl. Did you mean shelf? Choose from herb,"),
        (("correct", "26-001", "yeild=400 ml"), "There is no field yeild. Did you mean yield?"),
        (("settings", "maker_nmae=J"), "Did you mean maker_name? Choose from units,"),
        (("spirits", "chnage", "Vodka", "name=x"), "Did you mean change? Choose from add,"),
        (("cupboard", "Vodca", "left=1 l"), "Did you mean Vodka? Choose from water, Vodka."),
        (("lots", "layout", "H-26-001"), "Did you mean lay-out? Choose from add,"),
        (("spirits", "add", "name=Gin"), "strength: Strength is needed."),
        (("spirits", "add", "name=Methanol", "strength=99%"), "must never be drunk"),
        (("spirits", "add", "name=Gin", "strength=40%", "day=2027-01-05"), "in the future"),
        (("spirits", "change", "Vodka", "day=2027-01-05"), "in the future"),
        (("liquids", "add", "name=Honey", "kind=honey", "day=2027-01-05"), "in the future"),
        (("spirits", "delete", "Vodka"), "has been used in jars"),
        (("spirits", "delete"), "Give the name of the spirit after delete."),
        (("settings", "drops_per_ml=0"), "greater than zero"),
        (("settings", "currency=1"), "without digits"),
        (("sizes", "change", "70 ml", "empties=1"), "There is no bottle size called 70 ml."),
    ],
)  # fmt: skip
def test_what_the_form_refuses_the_command_refuses_in_one_sentence_and_saves_nothing(
    at: At, stocked: Path, words: tuple[str, ...], reason: str
) -> None:
    before = contents(stocked)
    answer = at(*words)
    assert (answer.code, answer.out) == (2, "")
    assert reason in answer.err
    assert answer.err.count("\n") == 1
    assert contents(stocked) == before


def test_a_density_out_of_range_is_refused_in_the_notation_of_the_shelf(at: At) -> None:
    assert at("settings", "decimal_comma=comma").code == 0
    answer = at("spirits", "add", "name=Gin", "strength=40%", "density=3")
    assert answer.err == "A density must be from 0,5 g/mL to 2,5 g/mL.\n"


def test_a_deadly_herb_and_a_missing_decoction_need_yes(at: At) -> None:
    deadly = ("fill", "herb=Foxglove;leaf;dried", POUR)
    assert "Foxglove is poisonous" in at(*deadly).err
    simmered = ("fill", HERB, POUR, "simmered=yes")
    assert "how much was poured off?" in at(*simmered).err
    assert at(*deadly, "--yes").code == at(*simmered, "--yes").code == 0


def test_a_yield_by_weight_is_turned_into_a_volume(at: At) -> None:
    said = at("strain", "26-003", "yield=600 g", "container=150 g", "method=squeezed", "--json")
    made = said.json
    # 40 % v/v weighs 0.9480 g/mL at 20 °C (OIML R 22, table IIIb), a jar of 120 g dried a little
    # more: 450 g is about 475 mL.
    assert made["volume_ml"] == pytest.approx(450 / 0.948, rel=0.01)


def test_a_field_left_out_of_a_change_keeps_its_value(at: At) -> None:
    (before,) = at("spirits", "--json").json
    after = at("spirits", "change", "vodka", "note=the good one", "--json").json
    assert after == before | {"note": "the good one"}
    assert at("spirits", "change", "Vodka", "note=", "--json").json == before


def test_spirits_of_the_same_name_are_told_apart_by_number(at: At) -> None:
    at("spirits", "add", "name=Vodka", "strength=50%", "bought=1 l")
    ways = "more than one Vodka. Write number 2 (50 % Vodka), number 1 (40 %"
    for words in (("fill", HERB, POUR), ("spirits", "delete", "Vodka"), ("cupboard", "Vodka")):
        assert ways in at(*words).err
    assert at("fill", HERB, "pour=600 ml;50 % Vodka").code == 0
    assert at("fill", HERB, "pour=600 ml;number 1").code == 0
    assert at("cupboard", "number 2", "left=390 ml").code == 0
    assert [row["left_ml"] for row in at("spirits", "--json").json] == [390, 5000 - 4 * 600]


def test_liquids_of_the_same_name_are_told_apart_by_number_or_by_their_details(at: At) -> None:
    for lot in ("H-1", "H-2"):
        at("liquids", "add", "name=Honey", "kind=honey", "bought=500 ml", f"lot={lot}")
    ways = "Write liquid number 2 (Honey · H-2), liquid number 1 (Honey · H-1)."
    for words in (
        ("cupboard", "honey", "volume=10 ml", "kind=spill"),
        ("fill", HERB, "pour=60 ml;Honey"),
        ("liquids", "delete", "Honey"),
    ):
        assert ways in at(*words).err
    assert at("cupboard", "Honey · H-1", "volume=10 ml", "kind=spill").code == 0
    assert at("fill", HERB, "pour=60 ml;liquid number 2").code == 0
    assert at("liquids", "change", "honey · h-1", "price=5").code == 0
    found = {row["lot"]: (row["left_ml"], row["price"]) for row in at("liquids", "--json").json}
    assert found == {"H-1": (490, 5), "H-2": (440, None)}


def test_a_blend_comes_out_the_same_by_parts_by_volume_and_by_formula(at: At) -> None:
    at("strain", "26-003", "yield=480 ml", "method=squeezed")
    at("bottle", "26-003", "bottle=250 ml")
    at("formula", "add", "name=Two roads", "part=Elecampane;2;root", "part=Thyme;1")
    part, other = "part=26-001.1;", "part=26-003.1;"
    by_volume = at("blend", "name=Two roads", f"{part}60 ml", f"{other}30 ml", "--json").json
    at("undo")
    by_parts = at("blend", "name=Two roads", f"{part}2", f"{other}1", "total=90 ml", "--json").json
    at("undo")
    by_formula = at("blend", "formula=two roads", "total=90 ml", "--json").json
    assert by_volume == by_parts == by_formula
    lefts = {row["code"]: row["left_ml"] for row in by_volume["parts"]}
    assert lefts == {"26-001.1": 190, "26-003.1": 220}
    copied = at("formula", "add", "name=Copy", "from=26-004", "--json").json
    shares = [(part["name"], part["share_percent"]) for part in copied["parts"]]
    assert shares == [("Elecampane", pytest.approx(200 / 3)), ("Thyme", pytest.approx(100 / 3))]
    missing = at("blend", "formula=Two roads", "total=2 l")
    assert (missing.code, "Not enough Elecampane" in missing.err) == (2, True)


def test_pouring_together_fills_one_bottle_from_another_of_its_batch(at: At) -> None:
    at("draw", "26-001.1", "100 ml")
    rows = at("join", "26-001.2", "into=26-001.1", "--json").json
    assert [(row["code"], row["left_ml"]) for row in rows] == [("26-001.1", 250), ("26-001.2", 0)]


def test_without_values_a_command_lists_what_there_is(at: At) -> None:
    assert '"50 mL;50 mL"' in at("bottle", "26-001").out
    assert "squeezed: expect" in at("strain", "26-003").out
    assert "Door: 1 bottle" in at("stock-take").out
    assert "units=metric: Units" in at("settings").out
    assert at("settings", "--json").json["steep_days"] == 14
    assert at("formula").out.startswith("None yet. To add one: stillroom formula add")
    assert at("herbs").out.startswith("Calendula: ")


def test_the_bottles_proposed_are_the_bottles_filled(at: At) -> None:
    shown = [line.strip() for line in at("bottle", "26-001").out.splitlines()[2:]]
    by_hand = at("bottle", "26-001", *(line.replace('"', "") for line in shown), "--json").json
    at("undo")
    assert at("bottle", "26-001", "proposed=yes", "--json").json == by_hand


def test_every_setting_can_be_set_by_command() -> None:
    assert {field.key for field in SETTINGS} == {field.name for field in fields(Settings)}


def test_lots_of_bottles_and_caps_go_into_the_record(say: Say, stocked: Path) -> None:
    lots = ("bottle-lot=G-7", "cap-lot=C-3")
    answer = say("bottle", "26-001", "bottle=50 ml", *lots, "--shelf", stocked)
    assert answer.code == 0
    told = say("record", "26-001", "--shelf", stocked).out
    assert "G-7 (26-001.3)" in told
    assert "C-3 (26-001.3)" in told


def test_the_sizes_to_choose_from_are_in_the_units_of_the_shelf(at: At) -> None:
    assert at("settings", "units=us", "decimal_comma=comma").code == 0
    assert at("sizes", "add", "size=250 ml").code == 0
    refused = at("sizes", "delete", "70 ml").err
    assert "no bottle size called 70 ml. Choose from 8,5 fl oz." in refused  # 250 ÷ 29.5735 = 8.45
