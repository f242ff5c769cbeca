"""What a person reads is plain English: no worn phrase, one word for one idea, keys named."""

import ast
import re
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages

import pytest
from textual.binding import Binding

import stillroom.screens
from stillroom.reckoning.registry import calculators
from stillroom.screens.kit.dialog import Dialog

SOURCE = Path(__file__).parents[1] / "src" / "stillroom"

WORN = (
    r"\banew\b", r"\bmeanwhile\b", r"\baltogether\b", r"\bonce more\b", r"\balthough\b",
    r"\btells?\b", r"\btold\b", r"\bsays?\b", r"\bsaid\b", r"\bsay yes\b",
    r"\blies? (?:in|before|above|below|here|from|to)\b",
    r"\bstands? (?:below|here|in|at|before|beside|to)\b", r"\bby itself\b", r"\bfor itself\b",
    r"\b(?:more|less) than nothing\b", r"\b(?:above|below) nothing\b", r"\blooking only\b",
    r"\b(?:put|puts|set) right\b", r"\btak(?:e|es|en) back\b", r"\bbrings? it back\b",
    r"\bdone? again\b", r"\bis whole\b", r"\btaken for granted\b", r"\bfrom memory\b",
    r"\breckon", r"\bon the bench\b", r"\bof theoretical\b", r"\btheoretical yield\b",
    r"\bwhat there is\b", r"\bthe keeper\b", r"\bthrow(?:n|s)?[ -]away\b",
    r"\bpour(?:ed)? away\b", r"\btook (?:over|down)\b", r"\ball the same\b",
    r"\bdays? over\b", r"\boverdue\b", r"\bfield before\b", r"\bpart before\b",
    r"\belse it is\b", r"\bwhole record\b", r"\bproves?\b", r"\bdo again\b", r"\bas far as\b",
    r"\bmind:", r"\bbench\b", r"\bsize of the jar\b", r"\bvessel\b", r"\bkept on\b", r"\bkeep to\b",
    r"\bkept? (?:it|this|these) only\b", r"\bput up\b",
    r"\bwr(?:ites?|ote|itten) (?:it )?down\b",
    r"\bcame so far\b", r"\b(?:one|two|three) at least\b", r"\bwait(?:s|ing)? to be bottled\b",
    r"\bnothing else (?:has|does)\b",
)  # fmt: skip
"""Phrases that a native reader stumbles over, and words that another word stands for here."""

ALLOWED = {
    # a sentence of the released schema, shown in plainer words
    "A bottle cannot hold less than nothing or more than its size.",
    # the regulation's own words
    "Of theoretical",
    "21 CFR 111.260(f) and 211.188(b)(7): actual yield and percentage of theoretical.",
}
"""Texts that may hold a worn phrase, each with its reason."""


@cache
def literals(path: Path) -> tuple[tuple[int, str], ...]:
    """String constants of a module that can be shown: not docstrings, styles or module names."""
    return tuple(_literals(ast.parse(path.read_text(encoding="utf-8"))))


def _literals(tree: ast.Module) -> Iterator[tuple[int, str]]:
    quiet = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        text = node.value
        is_style = "{" in text and "}" in text and ":" in text and ";" in text
        is_name = text.startswith("stillroom.") or " " not in text.strip()
        if id(node) not in quiet and not is_style and not is_name:
            yield node.lineno, text


@pytest.mark.parametrize("phrase", WORN)
def test_no_worn_phrase_is_shown(phrase: str) -> None:
    worn = re.compile(phrase, re.IGNORECASE)
    found = [
        f"{path.relative_to(SOURCE)}:{line}: {text}"
        for path in sorted(SOURCE.rglob("*.py"))
        for line, text in literals(path)
        if worn.search(text) and text not in ALLOWED
    ]
    assert found == []


DOCUMENTS = (
    "README.md", "DEVELOPERS.md", "sample_shelf/COLUMNS.md", "src/stillroom/REFERENCE.md",
)  # fmt: skip


@pytest.mark.parametrize("phrase", WORN)
@pytest.mark.parametrize("document", DOCUMENTS)
def test_no_document_uses_a_worn_phrase(document: str, phrase: str) -> None:
    text = (SOURCE.parents[1] / document).read_text(encoding="utf-8")
    without_code = re.sub(r"```.*?```|`[^`\n]*`", "", text, flags=re.DOTALL)
    words = re.sub(r"\breckoning\b", "", without_code)  # the name of a package
    found = [line for line in words.splitlines() if re.search(phrase, line, re.IGNORECASE)]
    assert found == []


def test_a_worn_phrase_would_be_found(tmp_path: Path) -> None:
    planted = tmp_path / "planted.py"
    planted.write_text('"""Told in a docstring."""\nSAID = f"It lies in {1} anew."\n')
    texts = [text for _, text in literals(planted)]
    assert any(re.search(phrase, text) for phrase in WORN for text in texts)
    assert not any("docstring" in text for text in texts)


def dialogs() -> list[type[Dialog[object]]]:
    """Every form of the program."""
    for module in walk_packages(stillroom.screens.__path__, "stillroom.screens."):
        import_module(module.name)
    found: list[type[Dialog[object]]] = []
    waiting: list[type[Dialog[object]]] = [Dialog]
    while waiting:
        for form in waiting.pop().__subclasses__():
            found.append(form)
            waiting.append(form)
    return found


SAVING = {
    "BottleDialog", "CorrectDialog", "DatesDialog", "HerbDialog", "JarDialog",
    "KeepUntilDialog", "LiquidDialog", "LotDialog", "NoteDialog", "Report", "ReturnedDialog",
    "SeasonDialog", "SeenDialog", "SettingsDialog", "ShelfDialog", "SizeDialog", "SpiritDialog",
    "StockTakeDialog",
}  # fmt: skip
"""Forms for which there is no better word than to save."""


LEFT_BY = {"Report": "Close", "BottlingDialog": "Later"}
"""Words of the key that leaves a form with nothing done, where it isn't Cancel."""


def test_every_form_names_its_act_at_the_key_that_does_it() -> None:
    forms = dialogs()
    assert len(forms) > 25
    for form in forms:
        keys = {b.key: b for b in form.BINDINGS if isinstance(b, Binding)}
        assert keys["ctrl+s"].description == form.ACT
        assert keys["escape"].description == form.DISMISS
        assert (form.ACT == "Save") == (form.__name__ in SAVING), form
        assert LEFT_BY.get(form.__name__, "Cancel") == form.DISMISS
        assert form.ACT not in {"Keep", "Leave", "OK"}


def test_a_form_that_discards_has_discard_as_its_key() -> None:
    acts = {form.__name__: form.ACT for form in dialogs()}
    assert acts["DiscardDialog"] == acts["DiscardBottleDialog"] == "Discard"
    assert acts["RestoreDialog"] == "Restore"


def test_no_calculator_cites_memory_as_its_source() -> None:
    for name in calculators():
        source = calculators()[name]
        assert "memory" not in repr(source).casefold()
