"""Write the reference page for programs: `python tests/make_reference.py`."""

from pathlib import Path

import stillroom
from stillroom.cli.reference import page

PAGE = Path(stillroom.__file__).parent / "REFERENCE.md"

if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
