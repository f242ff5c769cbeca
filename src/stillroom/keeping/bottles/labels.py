"""The text of a bottle's label, before anything is drawn."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from stillroom.errors import Refused
from stillroom.keeping.bottles.bottle_views import bottles_by_id
from stillroom.keeping.bottles.status import why_not_to_use
from stillroom.keeping.bottles.tinctures import tincture_views
from stillroom.keeping.drafts import BottleDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_text import LabelLine, Role, scanned
from stillroom.keeping.label_words import LabelWords
from stillroom.keeping.settings import Settings, settings_of
from stillroom.keeping.views import BottleRow, ChargeView, TinctureView, assumed
from stillroom.keeping.wording import Wording
from stillroom.keeping.words import listed
from stillroom.reckoning.cautions import deadly_name
from stillroom.reckoning.charge import Keeping, will_it_keep
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import BatchStatus, DayBy

EN = LabelWords()
HAS_ALCOHOL, KEEP_FROM, ASK_FIRST = EN("contains alcohol"), EN("keep from"), EN("ask first")

SEEN_LEFT_ML = 0.5
"""A bottle that lacks less than this is full."""


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
        """Such as `flower, dried`, in English."""
        return EN.part_and_condition(self.part, self.condition)

    def in_full(self, words: LabelWords) -> str:
        """Everything in one phrase, for a list of several herbs."""
        botanical = f" ({self.botanical})" if self.botanical else ""
        return f"{self.herb}{botanical}, {words.part_and_condition(self.part, self.condition)}"


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
    """Blank where the day isn't known."""
    keep_until: str
    code: str
    """Of the bottle, or of the batch while the bottles are not filled."""
    maker: str
    cautions: tuple[str, ...]
    status: str = ""
    """That it was withdrawn."""
    word: str = ""
    """What the product is, such as `Tincture`."""
    solvent: str = ""
    """What the herb was extracted with, and its strength."""
    others: str = ""
    """Liquids in it that are neither spirit nor water, such as honey, the most first."""
    words: LabelWords = EN

    @property
    def lines(self) -> tuple[LabelLine, ...]:
        """The label in reading order, without what is blank."""
        return tuple(LabelLine(role, text) for role, text in self._lines() if text)

    @property
    def scan_text(self) -> str:
        """What a scanner reads: the code, then in plain letters what the bottle is, on one line."""
        facts = (
            self.strength.replace(" v/v", ""),
            f"made {self.made}" if self.made else "day made not known",
            f"keep until {self.keep_until}" if self.keep_until else "",
        )
        return scanned(self.code, self.name, *facts)

    def _lines(self) -> list[tuple[Role, str]]:
        words = self.words
        by = f", {words(self.strength_by)}" if self.strength_by else ""
        return [
            (Role.STATUS, self.status),
            (Role.NAME, self.name),
            (Role.WORD, self.word if self.word.casefold() not in self.name.casefold() else ""),
            *self._herb_lines(),
            (Role.RATIO, self.ratio),
            (Role.SOLVENT, self.solvent),
            (Role.SOLVENT, words("with", names=self.others) if self.others else ""),
            (Role.STRENGTH, words("alcohol", strength=self.strength) + by if self.strength else ""),
            (Role.VOLUME, self.volume),
            (Role.DATE, words("made", day=self.made) if self.made else words("day not known")),
            (Role.DATE, words("keep until", day=self.keep_until) if self.keep_until else ""),
            (Role.CODE, self.code),
            (Role.MAKER, self.maker),
            (Role.CAUTION, " ".join(self.cautions)),
        ]

    def _herb_lines(self) -> list[tuple[Role, str]]:
        words = self.words
        if len(self.herbs) != 1:
            herbs = "; ".join(herb.in_full(words) for herb in self.herbs)
            return [(Role.HERB, words("blend of", herbs=herbs) if self.is_blend else herbs)]
        (only,) = self.herbs
        herb = "" if only.herb == self.name else only.herb
        part = words.part_and_condition(only.part, only.condition)
        blend = f", {words('blend')}" if self.is_blend else ""
        return [(Role.HERB, herb), (Role.BOTANICAL, only.botanical), (Role.HERB, part + blend)]


def label_lines(
    bottle: BottleRow | BottleDraft,
    tincture: TinctureView,
    settings: Settings,
    *,
    code: str = "",
    filled_ml: float | None = None,
    today: date | None = None,
) -> Label:
    """Collect the text of a bottle's label.

    A filled bottle's label gives what it was filled with, and what is left of that; a draft's what
    it holds, out of `filled_ml` where that is given. A draft has no code yet: the batch code is
    used, or the `code` given. With `today` it shows that the keep-until date is past.
    """
    if isinstance(bottle, BottleRow):
        volume_ml, code = bottle.left_ml, code or bottle.code
        filled_ml = bottle.filled_ml
    else:
        volume_ml = bottle.volume_ml
    said, words = Wording.of_shelf(settings), LabelWords(settings.label_language)
    code = code or tincture.code
    made, until = (words.day(day, said.day_form) for day in (tincture.made_on, tincture.keep_until))
    if tincture.made_by is DayBy.ASSUMED:
        made = f"{made} ({words(tincture.made_by)})"
    elif tincture.made_by is DayBy.NOT_KNOWN:
        made = ""
    percent = said.percent_known(tincture, at_most=words("at most"), about=words("about"))
    name = _name(tincture, words)
    return Label(
        name=name,
        herbs=_herbs(tincture),
        is_blend=tincture.is_blend,
        ratio=ratio_in_words(tincture, said, words),
        strength=f"{percent} {words('by volume')}" if percent else "",
        strength_by=tincture.strength_by,
        volume=_volume(volume_ml, filled_ml, said, words),
        made=made,
        keep_until=", ".join(filter(None, (until, *_about_date(tincture, words, today)))),
        code=code,
        maker=settings.maker_name,
        cautions=_cautions(tincture, settings, words),
        status=words("withdrawn") if tincture.status is BatchStatus.WITHDRAWN else "",
        word=_word(tincture, settings, words),
        solvent=_solvent(tincture, said, words),
        others=", ".join(
            each.name for each in sorted(tincture.others.liquids, key=lambda each: -each.share)
        ),
        words=words,
    )


def _name(tincture: TinctureView, words: LabelWords) -> str:
    """The user's own name, or the herbs, without the English "and" where that isn't English."""
    herbs = dict.fromkeys(herb.herb for herb in tincture.herbs)
    is_own = words == EN or tincture.name != listed(herbs)
    return tincture.name if is_own else ", ".join(herbs)


def _word(tincture: TinctureView, settings: Settings, words: LabelWords) -> str:
    """The shelf's own word for the product; what has no alcohol is no tincture."""
    return settings.label_word or (words("tincture") if tincture.strength_abv != 0 else "")


def _solvent(tincture: TinctureView, said: Wording, words: LabelWords) -> str:
    """What the herb was extracted with, as far as it was spirit, alone or with water."""
    strength = said.of(Kind.STRENGTH, tincture.solvent_abv)
    return words("solvent", strength=f"{strength} {words('by volume')}") if strength else ""


def _volume(left_ml: float, filled_ml: float | None, said: Wording, words: LabelWords) -> str:
    if left_ml <= 0:
        return ""
    if filled_ml is None or filled_ml - left_ml < SEEN_LEFT_ML:
        return said.volume(left_ml)
    return words("left", filled=said.volume(filled_ml), left=said.volume(left_ml))


def _about_date(tincture: TinctureView, words: LabelWords, today: date | None) -> Iterator[str]:
    """What goes with a keep-until date: "cold" if it would spoil otherwise, and that it is past."""
    day, strength = tincture.keep_until, tincture.strength_abv
    if day is None:
        return
    if strength is not None and will_it_keep(strength) is Keeping.WILL_NOT:
        yield words("cold")
    if today is not None and day < today:
        yield words("past")


def labels_for(
    keeper: Keeper, bottle_ids: Iterable[int], settings: Settings | None = None
) -> list[Label]:
    """The labels of bottles, in the order asked for, each as often as it is.

    `settings` are those of the shelf if left out. Refused where a bottle is no longer there, or
    its batch was rejected; one that was withdrawn says so.
    """
    wanted = list(bottle_ids)
    bottles = bottles_by_id(keeper, wanted)
    if any(bottle_id not in bottles for bottle_id in wanted):
        raise Refused("One of the bottles no longer exists.")
    for bottle in bottles.values():
        if bottle.status is BatchStatus.REJECTED:
            raise Refused(f"{why_not_to_use(bottle)} No labels can be printed for its bottles.")
    tinctures = tincture_views(keeper, {bottle.tincture_id for bottle in bottles.values()})
    settings = settings or settings_of(keeper)
    rows = (bottles[bottle_id] for bottle_id in wanted)
    return [
        label_lines(row, tinctures[row.tincture_id], settings, today=keeper.today) for row in rows
    ]


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


def ratio_in_words(tincture: TinctureView, said: Wording, words: LabelWords = EN) -> str:
    """The ratio and which of its two meanings it has; nothing where it is not recorded.

    A second pour on a marc has none: its herb is counted with the first.
    """
    if tincture.ratio is not None:
        meaning = "all herb to all liquid" if tincture.is_blend else "herb to liquid"
        return words(meaning, ratio=said.ratio(tincture.ratio))
    if not tincture.is_blend and any(herb.is_second_pour for herb in tincture.herbs):
        return words("second pour")
    by_eye = any(herb.mass_g is None for herb in tincture.herbs)
    return words("not weighed") if by_eye and not tincture.is_blend else ""


def _cautions(tincture: TinctureView, settings: Settings, words: LabelWords) -> tuple[str, ...]:
    own = [*herb_cautions(tincture.herbs, words), settings.label_caution]
    sentences = [as_sentence(text) for text in own if text.strip()]
    if tincture.strength_abv is None or tincture.strength_abv > 0:
        sentences.append(words("contains alcohol"))
    return tuple(dict.fromkeys([*sentences, words("keep from"), words("ask first")]))


def herb_cautions(herbs: Iterable[ChargeView], words: LabelWords) -> tuple[str, ...]:
    """That herbs are deadly, then what the user has written of them; each once, on one line."""
    herbs = tuple(herbs)
    names = (deadly_name(herb.herb, herb.botanical) for herb in herbs)
    warnings = (words("deadly", name=name) if name else "" for name in names)
    written = (" ".join(herb.cautions.split()) for herb in herbs)
    return tuple(dict.fromkeys(filter(None, (*warnings, *written))))


def as_sentence(text: str) -> str:
    """A caution on one line and with a stop, so that the next can follow it."""
    line = " ".join(text.split())
    return line if line[-1] in ".!?…" else f"{line}."
