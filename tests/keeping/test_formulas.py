"""Formulas: kept by what goes in, made again from the oldest good bottles."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from peewee import IntegrityError

from stillroom.errors import NotUnderstood, Refused
from stillroom.keeping.bottles.blend_views import FormulaProposal
from stillroom.keeping.bottles.blends import make_blend
from stillroom.keeping.bottles.formulas import (
    drop_formula,
    formula,
    formula_from_blend,
    formulas,
    keep_formula,
    parts_from_formula,
)
from stillroom.keeping.bottles.stock import set_keep_until
from stillroom.keeping.cupboard.cupboard import change_herb
from stillroom.keeping.drafts import (
    BlendDraft,
    BlendPartDraft,
    ChargeDraft,
    FormulaDraft,
    FormulaPartDraft,
    HerbDraft,
)
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.undo import redo, undo
from stillroom.keeping.views import BottleRow
from stillroom.reckoning.charge import KNOWN_CONDITIONS, Condition, Part
from stillroom.records.tables import FormulaPart

Bottled = Callable[..., list[BottleRow]]

DIGESTIVE = FormulaDraft(
    "Digestive", (FormulaPartDraft("Fennel", 2), FormulaPartDraft("Anise", 1)), "After meals."
)


def drawn(proposal: FormulaProposal) -> list[tuple[str, float]]:
    return [(part.bottle.code, round(part.volume_ml, 1)) for part in proposal.parts]


def test_a_formula_is_saved_changed_and_deleted(keeper: Keeper, bottled: Bottled) -> None:
    bottled("Fennel"), bottled("Anise")
    kept = keep_formula(keeper, DIGESTIVE)
    assert formulas(keeper) == [kept]
    assert (kept.name, kept.note) == ("Digestive", "After meals.")
    assert [(p.name, p.share_percent) for p in kept.parts] == [
        ("Fennel", pytest.approx(200 / 3)),
        ("Anise", pytest.approx(100 / 3)),
    ]
    only_anise = FormulaDraft("Plain", (FormulaPartDraft("anise", 5),))
    changed = keep_formula(keeper, only_anise, kept.formula_id)
    assert [(p.name, p.share_percent) for p in changed.parts] == [("Anise", 100)]
    drop_formula(keeper, kept.formula_id)
    assert formulas(keeper) == []
    assert undo(keeper) == "Deleted the formula Plain"
    assert formulas(keeper) == [changed]
    undo(keeper)
    assert formula(keeper, kept.formula_id) == kept
    redo(keeper)
    assert formula(keeper, kept.formula_id) == changed


@pytest.mark.parametrize(
    ("share", "fault"), [(0, "must be greater than zero"), (1.01e6, "is too large")]
)
def test_a_part_too_large_for_any_shelf_is_refused(
    keeper: Keeper, bottled: Bottled, share: float, fault: str
) -> None:
    """The schema's CHECK holds up to a million."""
    bottled("Fennel")
    most = keep_formula(keeper, FormulaDraft("Most", (FormulaPartDraft("Fennel", 1e6),)))
    assert most.parts[0].share_percent == 100
    with pytest.raises(Refused, match=fault):
        keep_formula(keeper, FormulaDraft("Bad", (FormulaPartDraft("Fennel", share),)))


def test_a_formula_follows_a_herb_that_is_renamed(keeper: Keeper, bottled: Bottled) -> None:
    bottled("Fennel"), bottled("Anise")
    kept = keep_formula(keeper, DIGESTIVE)
    herb_id = kept.parts[0].herb_id
    assert herb_id is not None
    change_herb(keeper, herb_id, HerbDraft("Sweet fennel"))
    assert formula(keeper, kept.formula_id).parts[0].name == "Sweet fennel"
    assert not parts_from_formula(keeper, kept.formula_id, 30).missing


def test_making_a_blend_again_takes_the_oldest_bottles_and_continues_with_the_next(
    keeper: Keeper, bottled: Bottled
) -> None:
    (new,) = bottled("Fennel")
    old, older = bottled("Fennel", sizes_ml=(50, 30), days_ago=90)
    (anise,) = bottled("Anise")
    kept = keep_formula(keeper, DIGESTIVE)
    proposal = parts_from_formula(keeper, kept.formula_id, 150)
    assert drawn(proposal) == [(old.code, 50), (older.code, 30), (new.code, 20), (anise.code, 50)]
    assert proposal.missing == ()
    assert [p.share_percent for p in proposal.parts] == pytest.approx(
        [100 / 3, 20, 40 / 3, 100 / 3]
    )


def test_a_proposal_can_be_blended_as_listed(keeper: Keeper, bottled: Bottled) -> None:
    bottled("Fennel", sizes_ml=(50, 50, 50)), bottled("Anise")
    kept = keep_formula(keeper, DIGESTIVE)
    proposal = parts_from_formula(keeper, kept.formula_id, 200)
    parts = tuple(BlendPartDraft(p.bottle.bottle_id, p.volume_ml) for p in proposal.parts)
    assert proposal.missing == ()
    made = make_blend(keeper, BlendDraft(kept.name, parts, keeper.today))
    assert made.volume_ml == pytest.approx(200)


def test_bottles_past_their_date_are_not_used_and_what_is_missing_is_reported(
    keeper: Keeper, bottled: Bottled
) -> None:
    (past,) = bottled("Fennel", days_ago=30)
    set_keep_until(keeper, past.tincture_id, keeper.today - timedelta(days=1))
    (good,) = bottled("Fennel", sizes_ml=(30,))
    (anise,) = bottled("Anise")
    kept = keep_formula(keeper, DIGESTIVE)
    proposal = parts_from_formula(keeper, kept.formula_id, 120)
    assert drawn(proposal) == [(good.code, 30), (anise.code, 15)]
    assert proposal.makes_ml == pytest.approx(45, abs=0.01)
    (missing,) = proposal.missing
    assert (missing.part.name, missing.wanted_ml, missing.found_ml) == (
        "Fennel",
        pytest.approx(80),
        pytest.approx(30),
    )


def test_an_ingredient_with_a_part_takes_only_that_part_and_no_mixed_jar(
    keeper: Keeper, bottled: Bottled
) -> None:
    leaf = ChargeDraft("Comfrey", Part.LEAF, Condition.DRIED, 20)
    root = ChargeDraft("Comfrey", Part.ROOT, Condition.DRIED, 20)
    ginger = ChargeDraft("Ginger", Part.ROOT, Condition.DRIED, 20)
    bottled(leaf)
    bottled(root, ginger)
    (both,) = bottled(leaf, root)
    (wanted,) = bottled(root)
    part = FormulaPartDraft("Comfrey", 1, Part.ROOT)
    kept = keep_formula(keeper, FormulaDraft("Salve base", (part,)))
    assert drawn(parts_from_formula(keeper, kept.formula_id, 10)) == [(wanted.code, 10)]
    any_part = keep_formula(keeper, FormulaDraft("Any", (FormulaPartDraft("Comfrey", 1),)))
    codes = [code for code, _ in drawn(parts_from_formula(keeper, any_part.formula_id, 300))]
    assert codes == ["26-001.1", both.code, wanted.code]


@pytest.mark.parametrize("asked", [None, *KNOWN_CONDITIONS])
def test_a_formula_asks_for_fresh_herb_dried_herb_or_either(
    keeper: Keeper, bottled: Bottled, asked: Condition | None
) -> None:
    made = {
        condition: bottled(ChargeDraft("Fennel", Part.SEED, condition, 40), days_ago=days)[0].code
        for condition, days in ((Condition.DRIED, 9), (Condition.FRESH, 5))
    }
    draft = FormulaDraft("Seeds", (FormulaPartDraft("Fennel", 1, Part.SEED, asked),))
    kept = keep_formula(keeper, draft)
    assert kept.parts[0].condition is asked
    proposal = parts_from_formula(keeper, kept.formula_id, 120)
    if asked is None:
        assert drawn(proposal) == list(zip(made.values(), (100, 20), strict=True))
    else:
        assert drawn(proposal) == [(made[asked], 100)]
        assert [m.part.in_words for m in proposal.missing] == [f"Fennel, seed, {asked}"]


def test_a_formula_may_name_a_tincture_and_divide_a_bottle_between_parts(
    keeper: Keeper, bottled: Bottled
) -> None:
    ginger = ChargeDraft("Ginger", Part.ROOT, Condition.DRIED, 20)
    angelica = ChargeDraft("Angelica", Part.ROOT, Condition.DRIED, 20)
    (roots,) = bottled(angelica, ginger)
    (only,) = bottled(ginger)
    parts = (
        FormulaPartDraft("Angelica and Ginger", 1),
        FormulaPartDraft("Ginger", 1, Part.ROOT),
        FormulaPartDraft("Ginger", 2),
    )
    kept = keep_formula(keeper, FormulaDraft("Warming", parts))
    proposal = parts_from_formula(keeper, kept.formula_id, 200)
    assert drawn(proposal) == [(roots.code, 33.3), (only.code, 100)]
    assert proposal.makes_ml == pytest.approx(133.33, abs=0.01)
    (missing,) = proposal.missing
    assert (missing.wanted_ml, missing.found_ml) == (100, 50)


def test_a_blend_can_be_saved_as_a_formula(keeper: Keeper, bottled: Bottled) -> None:
    first, second = bottled("Fennel", sizes_ml=(50, 50))
    (anise,) = bottled("Anise")
    drafts = [(first, 50.0), (second, 10.0), (anise, 40.0)]
    parts = tuple(BlendPartDraft(bottle.bottle_id, ml) for bottle, ml in drafts)
    made = make_blend(keeper, BlendDraft("Digestive", parts, keeper.today))
    draft = formula_from_blend(keeper, made.tincture_id)
    assert draft == FormulaDraft(
        "Digestive",
        (FormulaPartDraft("Fennel", 60, Part.SEED), FormulaPartDraft("Anise", 40, Part.SEED)),
    )
    keep_formula(keeper, draft)
    with pytest.raises(Refused, match="not a blend"):
        formula_from_blend(keeper, anise.tincture_id)


@pytest.mark.parametrize(
    ("draft", "said"),
    [
        (FormulaDraft("Digestive", ()), "needs at least one part"),
        (FormulaDraft("Digestive", (FormulaPartDraft("Fenel", 1),)), "tincture called Fenel"),
        (FormulaDraft("Digestive", (FormulaPartDraft("Fennel", 0),)), "greater than zero"),
        (
            FormulaDraft("Digestive", (FormulaPartDraft("Fennel", float("nan")),)),
            "greater than zero",
        ),
        (
            FormulaDraft(
                "Digestive", (FormulaPartDraft("Fennel", 1), FormulaPartDraft("fennel", 1))
            ),
            "is listed twice",
        ),
    ],
)
def test_a_formula_that_makes_no_sense_is_refused(
    keeper: Keeper, bottled: Bottled, draft: FormulaDraft, said: str
) -> None:
    bottled("Fennel")
    with pytest.raises(Refused, match=said):
        keep_formula(keeper, draft)
    assert formulas(keeper) == []


def test_a_formula_needs_a_unique_name(keeper: Keeper, bottled: Bottled) -> None:
    bottled("Fennel"), bottled("Anise")
    with pytest.raises(NotUnderstood, match="name is needed"):
        keep_formula(keeper, FormulaDraft("", DIGESTIVE.parts))
    keep_formula(keeper, DIGESTIVE)
    with pytest.raises(Refused, match="already in use"):
        keep_formula(keeper, FormulaDraft("digestive", DIGESTIVE.parts))


def test_a_deleted_formula_or_an_amount_of_zero_is_refused(
    keeper: Keeper, bottled: Bottled
) -> None:
    bottled("Fennel"), bottled("Anise")
    kept = keep_formula(keeper, DIGESTIVE)
    with pytest.raises(Refused, match="greater than zero"):
        parts_from_formula(keeper, kept.formula_id, 0)
    for act in (
        lambda: parts_from_formula(keeper, 99, 10),
        lambda: keep_formula(keeper, DIGESTIVE, 99),
        lambda: drop_formula(keeper, 99),
    ):
        with pytest.raises(Refused, match="no longer exists"):
            act()


@pytest.mark.parametrize(
    ("herb_id", "part", "name", "share"),
    [
        (1, "", "", 0),
        (1, "", "Seeds", 1),
        (None, "", "", 1),
        (None, "leaf", "Seeds", 1),
        (1, "twig", "", 1),
        (1, "seed", "", 1),
        (99, "", "", 1),
    ],
    ids=["no share", "herb and name", "neither", "part of a name", "no part", "twice", "no herb"],
)
def test_the_schema_refuses_a_part_that_makes_no_sense(
    keeper: Keeper, bottled: Bottled, herb_id: int | None, part: str, name: str, share: float
) -> None:
    bottled("Fennel")
    seed = FormulaPartDraft("Fennel", 1, Part.SEED)
    kept = keep_formula(keeper, FormulaDraft("Seeds", (seed,)))
    with pytest.raises(IntegrityError):
        FormulaPart.insert(
            formula=kept.formula_id, herb=herb_id, part=part, name=name, share=share
        ).execute()
