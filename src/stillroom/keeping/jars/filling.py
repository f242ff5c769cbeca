"""What to ask before a jar is filled, and what its form and its command read alike."""

from collections.abc import Sequence

from stillroom.errors import NotUnderstood
from stillroom.keeping.drafts import JarDraft, PourDraft
from stillroom.reckoning.cautions import deadly_warning
from stillroom.reckoning.states import LiquidKind

WHERE_IS_THE_DECOCTION = (
    "The herb was simmered, but no decoction is entered: how much was poured off? "
    "Leave it out only if none of it went into the jar."
)


def fill_question(draft: JarDraft) -> str:
    """What to ask before this jar is filled; blank where nothing is unlikely."""
    if lacks_decoction(draft.pours, simmered=draft.simmered):
        return WHERE_IS_THE_DECOCTION
    return next(iter(deadly_warnings(draft)), "")


def lacks_decoction(pours: Sequence[PourDraft], *, simmered: bool) -> bool:
    """Whether the herb was simmered, and no decoction was poured on."""
    return simmered and all(pour.kind != LiquidKind.DECOCTION for pour in pours)


def deadly_warnings(draft: JarDraft) -> list[str]:
    """A warning for each herb that is known to be deadly."""
    return [said for c in draft.charges if (said := deadly_warning(c.herb, c.botanical))]


def water_fraction(percent: float | None) -> float | None:
    """The share of water in a herb, 0 to 1, from its percentage.

    Raises NotUnderstood for 100 % and more.
    """
    if percent is not None and percent >= 100:
        raise NotUnderstood("Water in herb must be less than 100 %.")
    return None if percent is None else percent / 100.0
