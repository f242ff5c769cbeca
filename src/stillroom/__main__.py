"""The composition root: arguments, then the shelf, then a command or the screen."""

import sys

from .cli import run


def main() -> None:
    """Run Stillroom; the exit code is 0, or 2 for what cannot be done."""
    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
