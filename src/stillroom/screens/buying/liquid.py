"""The form of a liquid of the cupboard that is no spirit."""

from typing import Any

from textual import on
from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.keeping.cupboard.densities import refuse_density, volume_or_weight
from stillroom.keeping.cupboard.liquids import LiquidView, add_liquid, change_liquid, liquids
from stillroom.keeping.drafts import LiquidDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.wording import wording
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.other_liquids import USUAL
from stillroom.reckoning.states import OtherLiquidKind
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import (
    DayEntry,
    Entry,
    note_lines,
    on_one_line,
    optional_figure,
    prefilled,
    words,
)

_KINDS = tuple((str(kind), str(kind)) for kind in OtherLiquidKind)


class LiquidDialog(Dialog[int]):
    """A new liquid, or a change to one."""

    def __init__(self, keeper: Keeper, liquid: LiquidView | None = None) -> None:
        super().__init__()
        self.keeper = keeper
        self.liquid = liquid
        self.wording = wording(keeper)
        self.corrects = liquid is not None
        self.began_with = liquid
        self.TITLE_TEXT = "Liquid" if liquid else "New liquid"

    def written(self) -> object:
        """The liquid as it is now."""
        wanted = self.liquid and self.liquid.liquid_id
        return next((each for each in liquids(self.keeper) if each.liquid_id == wanted), None)

    def compose_form(self) -> ComposeResult:
        """Name, kind, density and shares, what was bought and for how much."""
        known = self.liquid
        kind = known.kind if known else OtherLiquidKind.GLYCERINE
        yield Entry("Name", words, known.name if known else "", id="name", hint="e.g. Glycerine")
        yield Pick("Kind", _KINDS, str(kind), id="kind")
        density = known.density_g_per_ml if known else None
        yield optional_figure("Density", Kind.NUMBER, density, self.wording,
                              "density", "g/mL; blank: typical")  # fmt: skip
        yield optional_figure("Glycerol", Kind.PERCENT, known.glycerol if known else None,
                              self.wording, "glycerol", "% by volume, if any")  # fmt: skip
        yield optional_figure("Acidity", Kind.PERCENT, known.acidity if known else None,
                              self.wording, "acidity", "% on its label, if any")  # fmt: skip
        bought = prefilled(Kind.VOLUME, known.bought_ml if known else None, self.wording)
        yield Entry("Bought", self._amount_typed, bought, id="bought", required=False,
                    hint="volume or weight; blank: not counted")  # fmt: skip
        yield optional_figure("Price", Kind.MONEY, known.price if known else None,
                              self.wording, "price", "for all of it, e.g. 12")  # fmt: skip
        yield DayEntry(
            "Bought on", self.keeper.today, known.bought_on if known else self.keeper.today,
            wording=self.wording, id="day", required=False, hint="e.g. 26 Nov 2026",
        )  # fmt: skip
        for label, key, text in (
            ("Origin", "origin", known.origin if known else ""),
            ("Lot", "lot", known.lot if known else ""),
            ("Code", "code", known.code if known else ""),
        ):
            yield Entry(label, words, text, id=key, required=False)
        yield Entry("Note", note_lines, on_one_line(known.note) if known else "", id="note",
                    required=False, classes="-wide", hint="// starts a new line")  # fmt: skip
        yield Static(self._usual(kind), id="usual", classes="quiet", markup=False)

    def _amount_typed(self, text: str) -> float:
        """The volume of a typed weight, by the density typed in this form."""
        usual = USUAL[OtherLiquidKind(self.query_one("#kind", Pick).value)].density_g_per_ml
        typed: float | None = self.query_one("#density", Entry).peek()
        density = typed or usual
        refuse_density(self.wording, density)
        return volume_or_weight(self.wording, text, density)

    def _usual(self, kind: OtherLiquidKind) -> str:
        usual = USUAL[kind]
        return f"Usual of {kind}: {self.wording.density(usual.density_g_per_ml)}, {usual.source}."

    @on(Choice.Changed)
    def _show_usual(self) -> None:
        kind = OtherLiquidKind(self.query_one("#kind", Pick).value)
        self.query_one("#usual", Static).update(self._usual(kind))

    def keep(self) -> int:
        """Add the liquid, or change it."""
        kind = OtherLiquidKind(self.query_one("#kind", Pick).value)
        usual, known = USUAL[kind], self.liquid

        def read(key: str) -> Any:
            return self.query_one(f"#{key}", Entry).read()

        density = read("density")
        is_usual = density is None
        source = usual.source if is_usual else ""
        if known and density == known.density_g_per_ml:
            source = known.density_source
        draft = LiquidDraft(
            name=self.query_one("#name", Entry).needed(),
            kind=kind,
            density_g_per_ml=usual.density_g_per_ml if is_usual else density,
            density_source=source,
            glycerol=usual.glycerol if read("glycerol") is None else read("glycerol"),
            acidity=usual.acidity if read("acidity") is None else read("acidity"),
            bought_ml=read("bought"),
            price=read("price"),
            bought_on=self.query_one("#day", Entry).read(),
            origin=read("origin") or "",
            lot=read("lot") or "",
            code=read("code") or "",
            note=read("note") or "",
        )
        if known is None:
            return add_liquid(self.keeper, draft)
        change_liquid(self.keeper, known.liquid_id, draft)
        return known.liquid_id
