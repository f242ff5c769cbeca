"""The fields of one liquid to pour: which, how much, and how strong where that is not known."""

from collections.abc import Sequence

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical

from stillroom.errors import NotUnderstood, StillroomError
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.contents import herb_on_label_g
from stillroom.keeping.cupboard.densities import volume_or_weight, weight_in_words
from stillroom.keeping.cupboard.liquids import LiquidView
from stillroom.keeping.cupboard.twins import MARK, liquid_words, spirit_words
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.drafts import PourDraft
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.trace.ancestry import find_code
from stillroom.keeping.trace.views import Found
from stillroom.keeping.views import TinctureView
from stillroom.keeping.wording import Wording
from stillroom.reckoning.charge import Charge
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.mixing import Liquid
from stillroom.reckoning.other_liquids import liquid_holding
from stillroom.reckoning.states import LiquidKind
from stillroom.screens.host import host_of
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.fields import Entry, Pair, amount, example, prefilled, words
from stillroom.screens.kit.placed_once import PlacedOnce

LIQUIDS = (
    (LiquidKind.SPIRIT.value, "other spirit"),
    (LiquidKind.WATER.value, "water"),
    (LiquidKind.DECOCTION.value, "decoction, cooled"),
    (LiquidKind.TINCTURE.value, "tincture, by its code"),
)
"""What can be poured besides the cupboard's spirits."""


class LiquidFields(Vertical, PlacedOnce):
    """One liquid of the jar."""

    DEFAULT_CSS = """
    LiquidFields { height: auto; }
    LiquidFields > .-hidden { display: none; }
    LiquidFields > Pick > .taker { width: 1fr; }
    """

    def __init__(
        self,
        start: PourDraft | None,
        cupboard: Sequence[SpiritView],
        wording: Wording,
        *,
        liquid: str | None = None,
        others: Sequence[LiquidView] = (),
    ) -> None:
        super().__init__()
        self.wording = wording
        self.cupboard = {f"spirit {s.spirit_id}": s for s in cupboard}
        self.others = {f"liquid {each.liquid_id}": each for each in others}
        options = self._options(cupboard, wording)
        self.liquid = Pick("Liquid", options, liquid or _liquid_key(start))
        self.volume = Entry(
            "Volume",
            self._volume_typed,
            prefilled(Kind.VOLUME, start.volume_ml if start else None, wording),
            hint=_usual(wording),
            required=False,
        )
        strength = start.strength_abv if start and start.kind == LiquidKind.SPIRIT else None
        self.strength = Entry(
            "Strength",
            amount(Kind.STRENGTH, wording),
            prefilled(Kind.STRENGTH, strength, wording),
            hint="e.g. 40 % or 80 proof",
            required=False,
        )
        self.code = Entry(
            "Its code", words, required=False, hint="of the bottle or batch, such as 26-004.1"
        )

    @property
    def density_g_per_ml(self) -> float | None:
        """Of a liquid that may be weighed: one that is neither spirit nor water."""
        return self.other.density_g_per_ml if self.other else None

    @property
    def weighed(self) -> str:
        """The volume of what is typed as a weight, in words; or blank."""
        name = self.other.name if self.other else ""
        return weight_in_words(self.wording, self.volume.typed, name, self.density_g_per_ml)

    def _volume_typed(self, text: str) -> float:
        return volume_or_weight(self.wording, text, self.density_g_per_ml)

    def _options(self, cupboard: Sequence[SpiritView], said: Wording) -> list[tuple[str, str]]:
        others = tuple(self.others.values())
        return [
            *((key, spirit_words(s, cupboard, said)) for key, s in self.cupboard.items()),
            *((key, liquid_words(e, others, said)) for key, e in self.others.items()),
            *LIQUIDS,
        ]

    def restock(
        self, cupboard: Sequence[SpiritView], others: Sequence[LiquidView], chosen: str = ""
    ) -> None:
        """Offer what is in the cupboard now; choose one of it, or what was chosen before."""
        before = self.liquid.value
        self.cupboard = {f"spirit {s.spirit_id}": s for s in cupboard}
        self.others = {f"liquid {each.liquid_id}": each for each in others}
        self.liquid.choice.offer(self._options(cupboard, self.wording), chosen or before)

    def compose(self) -> ComposeResult:
        """Which, how much, and how strong where that is not known.

        Where two lots have one name, what tells them apart needs the width of the form.
        """
        if any(MARK in label for _, label in self.liquid.choice.options):
            yield self.liquid
            yield self.volume
        else:
            yield Pair(self.liquid, self.volume)
        yield self.strength
        yield self.code

    def on_mount(self) -> None:
        """Ask for the strength only where it is not known."""
        self._follow()

    @on(Choice.Changed)
    def _follow(self) -> None:
        bought = self.bought
        self.strength.set_class(self.liquid.value != LiquidKind.SPIRIT, "-hidden")
        self.code.set_class(self.liquid.value != LiquidKind.TINCTURE, "-hidden")
        if bought and bought.left_ml is not None:
            left = self.wording.volume(bought.left_ml)
            self.volume.advise(f"{left} left")
        elif other := self.other:
            left = "" if other.left_ml is None else f"{self.wording.volume(other.left_ml)} left, "
            self.volume.advise(f"{left}volume or weight")
        elif self.liquid.value == LiquidKind.DECOCTION:
            self.volume.advise("what was poured off")
        else:
            self.volume.advise(_usual(self.wording))

    @property
    def bought(self) -> SpiritView | None:
        """The cupboard's spirit that is chosen."""
        return self.cupboard.get(self.liquid.value)

    @property
    def other(self) -> LiquidView | None:
        """The cupboard's other liquid that is chosen, such as honey."""
        return self.others.get(self.liquid.value)

    @property
    def short(self) -> str:
        """That the cupboard doesn't hold as much as is typed, with both amounts; or blank."""
        bought, volume_ml = self.bought or self.other, self.volume.peek()
        if not bought or bought.left_ml is None or not volume_ml:
            return ""
        if volume_ml <= bought.left_ml + EMPTY_ML:
            return ""
        held, wanted = self.wording.volume(bought.left_ml), self.wording.volume(volume_ml)
        return f"Not enough left: {bought.name} holds {held}, and this takes {wanted}."

    def pour(self) -> Liquid | None:
        """For the live figures: the liquid, or what of it can be read."""
        volume = self.volume.peek()
        if not volume:  # a nought may be the beginning of 0.5 l
            return None
        if self.bought:
            return Liquid(volume, self.bought.strength_abv)
        if other := self.other:
            return Liquid(volume, other_ml=volume, other_g=volume * other.density_g_per_ml)
        if self.liquid.value == LiquidKind.TINCTURE:
            known = self._tincture()
            if known is None or not known.strength_abv:
                return None
            return liquid_holding(volume, known.strength_abv, known.others)
        strength = self.strength.peek() if self.liquid.value == LiquidKind.SPIRIT else 0.0
        return None if strength is None else Liquid(volume, strength)

    @property
    def herb(self) -> Charge | None:
        """The herb that a tincture brings, as the ratio counts it."""
        if self.liquid.value != LiquidKind.TINCTURE:
            return None
        known, volume_ml = self._tincture(), self.volume.peek()
        if known is None or not volume_ml:
            return None
        per_ml = herb_on_label_g(host_of(self).keeper, known.tincture_id)
        return Charge(None if per_ml is None else per_ml * volume_ml)

    def draft(self) -> PourDraft | None:
        """The liquid as read; None where no volume was typed."""
        volume = self.volume.read()
        if volume is None:
            return None
        if bought := self.bought:
            return PourDraft(LiquidKind.SPIRIT, volume, bought.strength_abv, bought.spirit_id)
        if other := self.other:
            return PourDraft(LiquidKind.LIQUID, volume, liquid_id=other.liquid_id)
        if self.liquid.value == LiquidKind.SPIRIT:
            return PourDraft(LiquidKind.SPIRIT, volume, self.strength.needed())
        if self.liquid.value == LiquidKind.TINCTURE:
            return self._tincture_draft(volume)
        return PourDraft(LiquidKind(self.liquid.value), volume)

    def _found(self) -> Found:
        return find_code(host_of(self).keeper, self.code.needed())

    def _tincture(self) -> TinctureView | None:
        """The tincture whose code is typed, as far as there is one."""
        try:
            found = find_code(host_of(self).keeper, self.code.typed)
            if found.tincture_id is None:
                return None
            return tincture_view(host_of(self).keeper, found.tincture_id)
        except StillroomError:
            return None

    def _tincture_draft(self, volume: float) -> PourDraft:
        try:
            found = self._found()
            if found.tincture_id is None:
                raise NotUnderstood(f"Jar {found.code} hasn't been strained.")
        except StillroomError as error:
            self.code.mark_wrong(str(error))
            raise NotUnderstood(str(error)) from error
        source_id = None if found.bottle_id else found.tincture_id
        return PourDraft(
            LiquidKind.TINCTURE, volume, bottle_id=found.bottle_id, source_id=source_id
        )


def _liquid_key(start: PourDraft | None) -> str | None:
    if start is None:
        return None
    if start.liquid_id:
        return f"liquid {start.liquid_id}"
    return f"spirit {start.spirit_id}" if start.spirit_id else start.kind


def _usual(wording: Wording) -> str:
    return example("600 ml", "20 fl oz", wording)
