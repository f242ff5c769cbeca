"""What a liquid of the cupboard can weigh, and the volume of a weight of it."""

from stillroom.errors import NotUnderstood
from stillroom.keeping.wording import Wording
from stillroom.reckoning.kinds import Kind

LEAST_G_PER_ML, MOST_G_PER_ML = 0.5, 2.5
"""Oil is no part of this craft, and mercury none of any."""


def refuse_density(said: Wording, g_per_ml: float) -> None:
    """Refuse what no liquid of this craft weighs."""
    if not LEAST_G_PER_ML <= g_per_ml <= MOST_G_PER_ML:
        least, most = said.density(LEAST_G_PER_ML), said.density(MOST_G_PER_ML)
        raise NotUnderstood(f"A density must be from {least} to {most}.")


def volume_or_weight(said: Wording, text: str, g_per_ml: float | None) -> float:
    """A volume as typed, in mL, or that of a weight of a liquid; without a density, no weight.

    Honey and syrup are weighed in practice. Of spirit and water a weight is refused: who types oz
    means fluid ounces.
    """
    if g_per_ml is None:
        return said.read(Kind.VOLUME, text)
    figure = said.read_volume_or_mass(text)
    return figure.value / g_per_ml if figure.kind is Kind.MASS else figure.value


def weight_in_words(said: Wording, text: str, name: str, g_per_ml: float | None) -> str:
    """What volume a typed weight comes to; blank where no weight is typed."""
    if g_per_ml is None:
        return ""
    try:
        figure = said.read_volume_or_mass(text)
    except NotUnderstood:
        return ""
    if figure.kind is not Kind.MASS:
        return ""
    volume = said.volume(figure.value / g_per_ml)
    return f"{said.mass(figure.value)} of {name} is {volume} at {said.density(g_per_ml)}."
