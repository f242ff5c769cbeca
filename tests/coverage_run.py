"""Runs the tests and reports which lines and branches of the program they reach.

    python tests/coverage_run.py                     # all tests
    python tests/coverage_run.py -n 0 tests/records  # as pytest takes them

Programs that the tests start count as well, also those that end in `os._exit`; not those that are
killed, or that are given an environment of their own. It takes about twice as long as the tests.
The exit code is that of the tests.
"""

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
SETTINGS = """
[run]
branch = true
parallel = true
source_pkgs = stillroom
data_file = {folder}/coverage
patch = subprocess, _exit
[report]
exclude_also =
    if TYPE_CHECKING:
    raise NotImplementedError
"""


def main() -> int:
    """Run them and print what came of it."""
    with tempfile.TemporaryDirectory(prefix="coverage-") as folder:
        settings = Path(folder) / "settings.ini"
        settings.write_text(SETTINGS.format(folder=folder), encoding="utf-8")

        def coverage(*words: str) -> int:
            command = [sys.executable, "-m", "coverage", *words]
            environment = os.environ | {"COVERAGE_RCFILE": str(settings)}
            return subprocess.run(command, cwd=ROOT, env=environment).returncode

        code = coverage("run", "-m", "pytest", *sys.argv[1:])
        coverage("combine", "--quiet")
        coverage("report", "--skip-covered", "--show-missing")
        coverage("json", "--quiet", "-o", f"{folder}/coverage.json")
        found = json.loads(Path(folder, "coverage.json").read_text(encoding="utf-8"))["totals"]
    for what, reached, all_of_them in (
        ("lines", found["covered_lines"], found["num_statements"]),
        ("branches", found["covered_branches"], found["num_branches"]),
    ):
        print(f"{what}: {reached:,} of {all_of_them:,}, {100 * reached / all_of_them:.1f} %")
    return code


if __name__ == "__main__":
    sys.exit(main())
