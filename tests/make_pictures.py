"""Draws the pictures in the README from the real screens on the sample shelf.

    python tests/make_pictures.py

To be run again whenever a screen changes; the day and the shelf are fixed, so that nothing else
changes them.
"""

import asyncio
import re
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from stillroom.clock import SetClock
from stillroom.keeping.shelf_file.sample import open_sample
from stillroom.screens.app import StillroomApp

PICTURES = Path(__file__).parent / "pictures"
# The pictures carry no web fonts: whoever shows them has a monospace font of their own.
_WEB_FONT = re.compile(r"@font-face\s*\{[^}]*\}")

SCENES: dict[str, tuple[str, ...]] = {
    "shelves": (),
    "jar": ("right", "right", "enter"),
    "round": ("r",),
    "fill": ("n", *"Angelica", "tab", "tab", "r", "tab", "tab", *"120 g", *("tab",) * 4,
             "tab", *"600 ml"),
    "strain": ("right", "s", *"430 ml"),
    "bottles": ("2", "down", "down"),
    "calculator": ("3",),
    "cupboard": ("4",),
    "ledger": ("5",),
}  # fmt: skip
"""The keys that lead to each picture."""


async def draw(name: str, keys: tuple[str, ...], columns: int, rows: int) -> str:
    """One screen as SVG."""
    with tempfile.TemporaryDirectory() as folder:
        clock = SetClock(datetime(2026, 11, 26, 9, 15, tzinfo=UTC))
        keeper = open_sample(clock, Path(folder))
        app = StillroomApp(keeper, is_sample=True)
        async with app.run_test(size=(columns, rows)) as pilot:
            await pilot.press(*keys)
            await pilot.pause()
            picture = app.export_screenshot(title=f"Stillroom: {name}", simplify=True)
        keeper.store.close()
    return _WEB_FONT.sub("", picture)


async def main() -> None:
    """All of them, at the size of an ordinary terminal."""
    PICTURES.mkdir(exist_ok=True)
    for name, keys in SCENES.items():
        svg = await draw(name, keys, 120, 40)
        (PICTURES / f"{name}.svg").write_text(svg, encoding="utf-8")
        print(f"{name}.svg")


if __name__ == "__main__":
    asyncio.run(main())
