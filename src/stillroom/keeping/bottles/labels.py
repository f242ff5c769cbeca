"""The text of a bottle's label, before anything is drawn."""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottles_by_id
from stillroom.keeping.bottles.status import why_not_to_use
from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.drafts import BottleDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.views import BottleRow, TinctureView, assumed
from stillroom.keeping.wording import Wording
from stillroom.reckoning.charge import Keeping, will_it_keep

HAS_ALCOHOL = "Contains alcohol."
KEEP_FROM = "Keep away from light, flame and children."
ASK_FIRST = "Not in pregnancy or with medicines unless a practitioner agrees."


SCAN_TEXT_LENGTH = 80
"""The most letters after the code in what a scanner reads."""


class Role(StrEnum):
    """What a line of a label is about; also how to name it when it doesn't fit."""

    NAME = "name"
    BOTANICAL = "botanical name"
    HERB = "herb"
    FACT = "ratio, strength and volume"
    DATE = "dates"
    CODE = "code"
    MAKER = "maker"
    CAUTION = "cautions"


@dataclass(frozen=True)
class LabelLine:
    """One line of a label, in reading order."""

    role: Role
    text: str


@dataclass(frozen=True)
class LabelHerb:
    """One herb as a label names it."""

    herb: str
    botanical: str
    """Blank where not recorded."""
    part: str
    condition: str

    @property
    def part_and_condition(self) -> str:
        """Such as `flower, dried`."""
        return f"{self.part}, {self.condition}"

    @property
    def in_full(self) -> str:
        """Everything in one phrase, for a list of several herbs."""
        botanical = f" ({self.botanical})" if self.botanical else ""
        return f"{self.herb}{botanical}, {self.part_and_condition}"


@dataclass(frozen=True)
class Label:
    """All that a label shows; blank if not recorded."""

    name: str
    """The user's name for the tincture, or its herbs."""
    herbs: tuple[LabelHerb, ...]
    """Each once, the most by weight first."""
    is_blend: bool
    ratio: str
    """Such as `1:5 w/v, herb to liquid poured`, to show which of its two meanings it has."""
    strength: str
    """Of the finished tincture, such as `38.2 % v/v`."""
    strength_by: str
    """`measured`, `calculated`, `estimated` or `unknown`."""
    volume: str
    made: str
    keep_until: str
    code: str
    """Of the bottle, or of the batch while the bottles are not filled."""
    maker: str
    cautions: tuple[str, ...]

    @property
    def lines(self) -> tuple[LabelLine, ...]:
        """The label in reading order, without what is blank."""
        return tuple(LabelLine(role, text) for role, text in self._lines() if text)

    @property
    def scan_text(self) -> str:
        """What a scanner reads: the code, then in plain letters what the bottle is, on one line.

        A scanner types it, so it holds only what every keyboard has; and nothing that a phone
        could open.
        """
        facts = [
            self.strength.replace(" v/v", ""),
            f"made {self.made}",
            f"keep until {self.keep_until}" if self.keep_until else "",
        ]
        rest = ", ".join(filter(None, map(_plainly, facts)))
        name = _plainly(self.name)[: max(0, SCAN_TEXT_LENGTH - len(rest) - 2)].strip(" ,.-")
        return f"{self.code} {', '.join(filter(None, (name, rest)))[:SCAN_TEXT_LENGTH]}".strip()

    def _lines(self) -> list[tuple[Role, str]]:
        return [
            (Role.NAME, self.name),
            *self._herb_lines(),
            (Role.FACT, self.ratio),
            (Role.FACT, f"Alcohol {self.strength}, {self.strength_by}" if self.strength else ""),
            (Role.FACT, self.volume),
            (Role.DATE, f"Made {self.made}"),
            (Role.DATE, f"Keep until {self.keep_until}" if self.keep_until else ""),
            (Role.CODE, self.code),
            (Role.MAKER, self.maker),
            (Role.CAUTION, " ".join(self.cautions)),
        ]

    def _herb_lines(self) -> list[tuple[Role, str]]:
        if len(self.herbs) != 1:
            herbs = "; ".join(herb.in_full for herb in self.herbs)
            return [(Role.HERB, f"Blend of {herbs}" if self.is_blend else herbs)]
        (only,) = self.herbs
        herb = "" if only.herb == self.name else only.herb
        part = f"{only.part_and_condition}, blend" if self.is_blend else only.part_and_condition
        return [(Role.HERB, herb), (Role.BOTANICAL, only.botanical), (Role.HERB, part)]


def label_lines(
    bottle: BottleRow | BottleDraft,
    tincture: TinctureView,
    settings: Settings,
    *,
    code: str = "",
) -> Label:
    """Collect the text of a bottle's label.

    A filled bottle's label gives what it holds now; a draft's what it will be filled with. A
    draft has no code yet: the batch code is used, or the `code` given.
    """
    if isinstance(bottle, BottleRow):
        volume_ml, code = bottle.left_ml, code or bottle.code
    else:
        volume_ml = bottle.volume_ml
    said = Wording.of_shelf(settings)
    return Label(
        name=tincture.name,
        herbs=_herbs(tincture),
        is_blend=tincture.is_blend,
        ratio=ratio_in_words(tincture, said),
        strength=said.finished_strength(tincture),
        strength_by=tincture.strength_by,
        volume=said.volume(volume_ml) if volume_ml > 0 else "",
        made=said.day(tincture.made_on),
        keep_until=_until(tincture, said),
        code=code or tincture.code,
        maker=settings.maker_name,
        cautions=_cautions(tincture, settings),
    )


def _until(tincture: TinctureView, said: Wording) -> str:
    """Its date, and "keep cold" if it would spoil otherwise."""
    day, strength = said.day(tincture.keep_until), tincture.strength_abv
    is_weak = strength is not None and will_it_keep(strength) is Keeping.WILL_NOT
    return f"{day}, cold" if day and is_weak else day


def labels_for(keeper: Keeper, bottle_ids: Iterable[int]) -> list[Label]:
    """The labels of bottles, in the order asked for; Refused where one is no longer there."""
    wanted = list(bottle_ids)
    bottles = bottles_by_id(keeper, wanted)
    if any(bottle_id not in bottles for bottle_id in wanted):
        raise Refused("One of the bottles no longer exists.")
    for bottle in bottles.values():
        if why := why_not_to_use(bottle):
            raise Refused(f"{why} Its bottles get no labels.")
    tinctures = tincture_views(keeper, {bottle.tincture_id for bottle in bottles.values()})
    settings = settings_of(keeper)
    rows = (bottles[bottle_id] for bottle_id in wanted)
    return [label_lines(row, tinctures[row.tincture_id], settings) for row in rows]


def _herbs(tincture: TinctureView) -> tuple[LabelHerb, ...]:
    charges = tincture.herbs
    if not tincture.is_blend:  # a blend has them in this order
        charges = tuple(sorted(charges, key=lambda charge: -(charge.mass_g or 0.0)))
    herbs = (
        LabelHerb(
            h.herb,
            h.botanical,
            assumed(h.part, h.part_assumed),
            assumed(h.condition, h.condition_assumed),
        )
        for h in charges
    )
    return tuple(dict.fromkeys(herbs))


def ratio_in_words(tincture: TinctureView, said: Wording) -> str:
    """The ratio and which of its two meanings it has; nothing where it is not recorded."""
    if tincture.ratio is not None:
        meaning = "all herb to all liquid" if tincture.is_blend else "herb to liquid"
        return f"{said.ratio(tincture.ratio)} w/v, {meaning} poured"
    by_eye = any(herb.mass_g is None for herb in tincture.herbs)
    return "Herb not weighed" if by_eye and not tincture.is_blend else ""


def _cautions(tincture: TinctureView, settings: Settings) -> tuple[str, ...]:
    own = [*tincture.cautions, settings.label_caution]
    sentences = [_sentence(text) for text in own if text.strip()]
    if tincture.strength_abv is None or tincture.strength_abv > 0:
        sentences.append(HAS_ALCOHOL)
    return tuple(dict.fromkeys([*sentences, KEEP_FROM, ASK_FIRST]))


def _plainly(text: str) -> str:
    """Letters, figures and a few signs that every keyboard has; dots only within a number.

    >>> _plainly("Émile's  oxeye: example.org, 38.2 %")
    'Emiles oxeye example org, 38.2 %'
    """
    bare = unicodedata.normalize("NFKD", text.replace("\N{NO-BREAK SPACE}", " "))
    bare = re.sub(r"(?<!\d)\.|\.(?!\d)|[/\\:@;]", " ", bare)
    return " ".join(re.sub(r"[^A-Za-z0-9 ,.%-]", "", bare).split())


def _sentence(text: str) -> str:
    """A caution on one line and with a stop, so that the next can follow it."""
    line = " ".join(text.split())
    return line if line[-1] in ".!?…" else f"{line}."
