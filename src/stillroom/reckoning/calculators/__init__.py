"""The calculators, by where in the work they belong; `stillroom.reckoning.registry` lists them."""
