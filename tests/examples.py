"""How many random examples a property is tried with."""

import os

IS_LONG = bool(os.environ.get("LONG_FORM"))
"""Whether sweeps run in their long form: `LONG_FORM=1 .venv/bin/pytest tests/quantities`."""
SHORT = 5
"""The short form tries one example in so many of the long one."""


def examples(long_form: int) -> int:
    """So many examples in the long form, and a fifth of them in the short one."""
    return long_form if IS_LONG else long_form // SHORT
