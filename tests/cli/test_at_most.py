"""Fresh herb by eye: everything printed about its tincture gives its strength as "at most"."""

from datetime import timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader

from stillroom.keeping.bottles.bottling import bottle_up
from stillroom.keeping.drafts import (
    BottleDraft,
    BottlingDraft,
    ChargeDraft,
    JarDraft,
    PourDraft,
    StrainDraft,
)
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.straining import strain
from stillroom.keeping.keeper import Keeper
from stillroom.reckoning.charge import Condition, Part
from stillroom.reckoning.states import LiquidKind
from stillroom.reckoning.yields import Pressing

from .answers import Say

MOST = "at most 35.3 %"
"""300 mL of 40 % hold 120 mL of ethanol; in the 340 mL strained they are 35.3 %."""


@pytest.fixture
def by_eye(keeper: Keeper) -> Path:
    """A shelf with a bottle of fresh calendula by eye, 26-001.1."""
    day = keeper.today - timedelta(days=20)
    calendula = ChargeDraft("Calendula", Part.FLOWER, Condition.FRESH)
    jar = fill_jar(
        keeper, JarDraft((calendula,), (PourDraft(LiquidKind.SPIRIT, 300, 40),), day, day)
    )
    made = strain(keeper, StrainDraft(jar.jar_id, keeper.today, 340, Pressing.SQUEEZED))
    bottle_up(
        keeper, BottlingDraft(made.tincture_id, (BottleDraft(250, 250, "Door"),), keeper.today)
    )
    keeper.store.close()
    return keeper.path


@pytest.mark.parametrize(
    "command",
    [
        ("bottles",),
        ("trace", "26-001.1"),
        ("recall", "Calendula"),
        ("labels", "26-001.1", "--text"),
        ("record", "26-001"),
    ],
    ids=lambda command: command[0],
)
def test_commands_print_a_strength_that_is_at_most_so_much_as_at_most(
    say: Say, by_eye: Path, command: tuple[str, ...]
) -> None:
    answer = say(*command, "--shelf", by_eye)
    assert answer.code == 0
    assert MOST in " ".join(answer.out.split())
    assert "about" not in answer.out


def test_the_printed_label_has_at_most(say: Say, by_eye: Path, tmp_path: Path) -> None:
    printed = tmp_path / "labels.pdf"
    assert say("labels", "26-001.1", "--to", printed, "--shelf", by_eye).code == 0
    text = " ".join(page.extract_text() for page in PdfReader(printed).pages)
    assert MOST in " ".join(text.split())


def test_the_stock_list_has_at_most(say: Say, by_eye: Path) -> None:
    """Its column is narrow: the words may be on two lines."""
    lines = say("stocklist", "--shelf", by_eye).out
    assert "at most" in lines
    assert "35.3 %" in lines


def test_json_marks_a_strength_that_is_at_most_so_much(say: Say, by_eye: Path) -> None:
    (bottle,) = say("bottles", "--json", "--shelf", by_eye).json
    assert bottle["strength_at_most"] is True
    assert bottle["strength_by"] == "estimated"
    assert bottle["strength_abv"] == pytest.approx(100 * 120 / 340)
