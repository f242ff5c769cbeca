"""The command line: the same use cases without the screen."""

from .call import Call
from .parser import parse

__all__ = ["Call", "parse"]
