"""Every act of the shelf can be done on the screen and by a command."""

import ast
from argparse import ArgumentParser
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import NamedTuple

import pytest

import stillroom
from stillroom.cli.call import Command
from stillroom.cli.parser import COMMANDS

PROGRAM = Path(stillroom.__file__).parent


class Way(NamedTuple):
    """How an act is done."""

    binding: str
    """The id of its key on the screen; blank for what the command line alone does."""
    command: str
    by: str = ""
    """The function of `keeping` that the command calls, where it isn't the act itself."""


# By module below `keeping` and function. A new act needs its row here, a key and a command.
ACTS = {
    "bottles.blends.make_blend": Way("bottles.blend", "blend"),
    "bottles.bottling.bottle_up": Way("jar.strain", "bottle"),
    "bottles.formulas.drop_formula": Way("formula.drop", "formula"),
    "bottles.formulas.keep_formula": Way("bottle.formula", "formula"),
    "bottles.losses.lose": Way("bottles.lose", "loss"),
    "bottles.returns.record_return": Way("bottle.returned", "returned"),
    "bottles.status.reject": Way("bottle.release", "reject"),
    "bottles.status.release": Way("bottle.release", "release"),
    "bottles.status.withdraw": Way("recall.withdraw", "withdraw"),
    "bottles.stock.discard_bottle": Way("bottle.discard", "discard"),
    "bottles.stock.move_bottle": Way("bottle.move", "move"),
    "bottles.stock.pour_together": Way("bottle.pour", "join"),
    "bottles.stock.put_right": Way("bottle.count", "count"),
    "bottles.stock.set_keep_until": Way("bottle.keep_until", "keep-until"),
    "bottles.stock.take_out": Way("bottle.draw", "draw"),
    "bottles.stocktake.settle_stocktake": Way("bottles.stock_take", "stock-take"),
    "closing.close_month": Way("ledger.close", "close"),
    "closing.close_batch": Way("bottle.record", "close"),
    "correcting.correct.correct": Way("page.correct", "correct"),
    "correcting.correct.plan_correction": Way("page.correct", "correct"),
    "cupboard.cupboard.add_herb": Way("cupboard.add", "herbs"),
    "cupboard.cupboard.add_shelf": Way("cupboard.add", "shelves"),
    "cupboard.cupboard.add_spirit": Way("cupboard.add", "spirits"),
    "cupboard.cupboard.change_herb": Way("cupboard.change", "herbs"),
    "cupboard.cupboard.change_shelf": Way("cupboard.change", "shelves"),
    "cupboard.cupboard.change_spirit": Way("cupboard.change", "spirits"),
    "cupboard.cupboard.drop_bottle_size": Way("cupboard.remove", "sizes"),
    "cupboard.cupboard.keep_bottle_size": Way("cupboard.add", "sizes"),
    "cupboard.cupboard.remove_herb": Way("cupboard.remove", "herbs"),
    "cupboard.cupboard.remove_shelf": Way("cupboard.remove", "shelves"),
    "cupboard.cupboard.remove_spirit": Way("cupboard.remove", "spirits"),
    "cupboard.counting.count_in_cupboard": Way("cupboard.count", "cupboard"),
    "cupboard.counting.take_from_cupboard": Way("cupboard.discard", "cupboard"),
    "cupboard.liquids.add_liquid": Way("cupboard.add", "liquids"),
    "cupboard.liquids.change_liquid": Way("cupboard.change", "liquids"),
    "cupboard.liquids.remove_liquid": Way("cupboard.remove", "liquids"),
    "cupboard.cupboard.shift_shelf": Way("cupboard.higher", "shelves"),
    "cupboard.lots.add_lot": Way("cupboard.add", "lots"),
    "cupboard.lots.discard_herb": Way("cupboard.discard", "lots"),
    "cupboard.lots.dry": Way("cupboard.lay_out", "lots"),
    "cupboard.lots.give_herb": Way("cupboard.give", "lots"),
    "cupboard.lots.lay_out": Way("cupboard.lay_out", "lots"),
    "cupboard.lots.remove_lot": Way("cupboard.remove", "lots"),
    "cupboard.lots.use_up": Way("cupboard.use_up", "lots"),
    "cupboard.lots.weigh_lot": Way("cupboard.change", "lots"),
    "interchange.edited.import_edited": Way("", "import"),
    "interchange.merging.merge_folder": Way("", "import"),
    "interchange.notebook.import_notebook": Way("", "import"),
    "interchange.reading.import_folder": Way("", "import"),
    "jars.amending.amend_jar": Way("jar.correct", "correct", "correct"),
    "jars.jar.discard_jar": Way("jar.discard", "discard"),
    "jars.jar.fill_jar": Way("jar.fill", "fill"),
    "jars.jar.mark_covered": Way("jar.covered", "cover"),
    "jars.jar.move_jar": Way("jar.move", "move"),
    "jars.jar.note_jar": Way("jar.note", "note"),
    "jars.jar.set_dates": Way("jar.dates", "dates"),
    "jars.jar.shake": Way("jar.shake", "shake"),
    "jars.jar.shake_all": Way("jar.shake_all", "shake"),
    "jars.jar.top_up": Way("jar.top_up", "top-up"),
    "jars.marc.pour_again": Way("jar.pour_again", "pour-again"),
    "jars.straining.drain": Way("jar.strain", "strain"),
    "jars.straining.strain": Way("jar.strain", "strain"),
    "year.gathering.set_season": Way("year.season", "season"),
    "settings.save_settings": Way("cupboard.change", "settings"),
}


@cache
def calls(path: Path) -> set[str]:
    """Names that a module imports, or that its functions call."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {
        alias.name for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }  # fmt: skip


def acts() -> set[str]:
    """The functions of `keeping` that run an act of the keeper."""
    found = set()
    for path in (PROGRAM / "keeping").rglob("*.py"):
        module = ".".join(path.relative_to(PROGRAM / "keeping").with_suffix("").parts)
        for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(function, ast.FunctionDef) and any(map(is_act, ast.walk(function))):
                found.add(f"{module}.{function.name}")
    return found


def is_act(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and (node.func.attr, getattr(node.func.value, "id", "")) == ("act", "keeper")
    )


@cache
def bindings() -> dict[str, str]:
    """The keys of the screen by their ids."""
    found = {}
    for path in (PROGRAM / "screens").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Binding":
                words = {word.arg: getattr(word.value, "value", None) for word in node.keywords}
                found[str(words.get("id"))] = str(getattr(node.args[0], "value", ""))
    return found


def test_the_table_lists_every_act_of_the_shelf() -> None:
    assert set(ACTS) == acts()


@pytest.mark.parametrize("act", ACTS)
def test_every_act_has_a_key_and_a_command(act: str) -> None:
    way = ACTS[act]
    if way.command != "import":
        assert bindings().get(way.binding)
    module, _ = COMMANDS[way.command]
    assert (way.by or act.rpartition(".")[2]) in calls(PROGRAM / "cli" / f"{module}.py")


WRITE_TOO = {"undo", "redo", "forget", "labels", "restore"}
"""Commands that write and whose acts aren't in the table."""


@pytest.mark.parametrize("name", sorted({way.command for way in ACTS.values()} | WRITE_TOO))
def test_a_command_that_writes_has_a_dry_run_and_json(name: str) -> None:
    module, _ = COMMANDS[name]
    parser = ArgumentParser()
    command: Command = import_module(f"stillroom.cli.{module}").COMMANDS[name]
    command.arguments(parser)
    assert "--dry-run" in parser.format_help()
    assert "--json" in parser.format_help()
