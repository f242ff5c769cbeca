"""What measuring leaves uncertain: amounts below these count as nothing."""

LOOSE_ML = 0.5
"""Less than this left in a strained jar counts as nothing."""


EMPTY_ML = 0.005
"""Less than this is an empty bottle."""


MEASURE_ML = 0.01
"""Less than this is rounding, not liquid."""


EMPTY_G = 0.005
"""Less than this is an empty lot of herb."""


MEASURE_G = 0.01
"""Less than this is rounding, not herb."""
