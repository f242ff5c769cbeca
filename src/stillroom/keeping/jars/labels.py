"""The text of a jar's label: what steeps in it, since when and until when."""

from collections.abc import Iterable, Iterator
from datetime import timedelta

from stillroom.errors import Refused
from stillroom.keeping.bottles.labels import as_sentence, herb_cautions
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import PlainLabel, Role, lines_of, scanned
from stillroom.keeping.label_words import LabelWords
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.views import ChargeView, JarView, PourView, assumed
from stillroom.keeping.wording import Wording
from stillroom.reckoning.states import JarState, LiquidKind

BOX = "☐"
MOST_BOXES = 84
"""Four weeks at three shakes a day: more don't help anybody."""


def jar_labels(
    keeper: Keeper, jar_ids: Iterable[int], settings: Settings | None = None
) -> list[PlainLabel]:
    """The labels of jars, in the order asked for; Refused where a jar is discarded or strained."""
    settings = settings or settings_of(keeper)
    return [jar_label(jar_view(keeper, jar_id), settings) for jar_id in jar_ids]


def jar_label(jar: JarView, settings: Settings) -> PlainLabel:
    """The label of a jar whose herb is still in it."""
    card = jar.card
    if jar.state not in {JarState.STEEPING, JarState.DRAINED}:
        raise Refused(f"Jar {card.code} was {jar.state}, so it needs no label.")
    said, words = Wording.of_shelf(settings), LabelWords(settings.label_language)
    name = ", ".join(dict.fromkeys(charge.herb for charge in jar.charges))
    filled, strain = (words.day(day, said.day_form) for day in (card.filled_on, card.strain_on))
    until = words("press on" if jar.state is JarState.DRAINED else "strain on", day=strain)
    since = words("filled", day=filled)
    return PlainLabel(
        name,
        card.code,
        lines_of(
            (Role.NAME, name),
            *_herbs(jar.charges, said, words),
            (Role.FACT, "; ".join(_liquids(jar.pours, said, words))),
            (Role.DATE, since),
            (Role.DATE, until),
            (Role.SHAKES, _boxes(jar)),
            (Role.CODE, card.code),
            (Role.CAUTION, " ".join(_cautions(jar, words))),
        ),
        scanned(card.code, name, since, until),
    )


def _herbs(
    charges: Iterable[ChargeView], said: Wording, words: LabelWords
) -> Iterator[tuple[Role, str]]:
    """Part, condition and mass of each herb, its name before where there are several."""
    charges = tuple(charges)
    for charge in charges:
        if len(charges) == 1 and charge.botanical:
            yield Role.BOTANICAL, charge.botanical
        name = f"{charge.herb}, " if len(charges) > 1 else ""
        mass = said.mass(charge.mass_g) or ("" if charge.is_second_pour else words("by eye"))
        part = assumed(charge.part, charge.part_assumed)
        condition = assumed(charge.condition, charge.condition_assumed)
        plant = words.part_and_condition(part, condition)
        yield Role.HERB, f"{name}{', '.join(filter(None, (plant, mass)))}"


def _liquids(pours: Iterable[PourView], said: Wording, words: LabelWords) -> Iterator[str]:
    """Each liquid once, with all that was poured of it."""
    poured: dict[str, float] = {}
    for pour in pours:
        name = pour.spirit or pour.name
        if not name or pour.kind in {LiquidKind.WATER, LiquidKind.DECOCTION}:
            name = words(str(pour.kind))
        if pour.is_known and pour.strength_abv:
            name = f"{name} {said.strength(pour.strength_abv).replace('v/v', words('by volume'))}"
        poured[name] = poured.get(name, 0.0) + pour.volume_ml
    for name, volume_ml in poured.items():
        yield f"{said.volume(volume_ml)} {name}"


def _boxes(jar: JarView) -> str:
    """A box for each shake from the filling to the day before straining, by the week."""
    card = jar.card
    if jar.state is not JarState.STEEPING or not card.shakes_per_day:
        return ""
    days = (card.strain_on - card.filled_on) // timedelta(days=1)
    if not 0 < days * card.shakes_per_day <= MOST_BOXES:
        return ""
    week = 7 * card.shakes_per_day
    boxes = BOX * (days * card.shakes_per_day)
    return " ".join(boxes[start : start + week] for start in range(0, len(boxes), week))


def _cautions(jar: JarView, words: LabelWords) -> Iterator[str]:
    yield from map(as_sentence, herb_cautions(jar.charges, words))
    if jar.outlook.strength_abv > 0 or not jar.outlook.is_known:
        yield words("contains alcohol")
    yield words("keep from")
