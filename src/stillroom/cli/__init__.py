"""The command line: the same use cases without the screen."""

from stillroom.cli.call import Call
from stillroom.cli.parser import parse

__all__ = ["Call", "parse"]
