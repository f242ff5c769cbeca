"""What a liquid of the cupboard can weigh."""

from stillroom.errors import NotUnderstood

LEAST_G_PER_ML, MOST_G_PER_ML = 0.5, 2.5
"""Oil is no part of this craft, and mercury none of any."""


def refuse_density(g_per_ml: float) -> None:
    """Refuse what no liquid of this craft weighs."""
    if not LEAST_G_PER_ML <= g_per_ml <= MOST_G_PER_ML:
        raise NotUnderstood("A density must be from 0.5 to 2.5 g/mL.")
