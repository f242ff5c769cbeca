"""Blending: chosen bottles and their parts, with what they come to while you type."""

from collections.abc import Sequence
from datetime import date
from functools import partial
from typing import TypeVar

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Input, Static

from stillroom.errors import NotUnderstood, StillroomError
from stillroom.keeping.bottles.blend_views import BlendPlan, FormulaProposal
from stillroom.keeping.bottles.blends import make_blend, plan_blend, shared_out
from stillroom.keeping.bottles.bottle_views import bottle_row
from stillroom.keeping.bottles.formulas import formulas
from stillroom.keeping.bottles.stock import volume_or_all
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cupboard.cupboard import spirits
from stillroom.keeping.cupboard.densities import weight_in_words
from stillroom.keeping.cupboard.liquids import LiquidView, liquid_view, liquids
from stillroom.keeping.cupboard.twins import liquid_mark, twin_mark
from stillroom.keeping.cupboard_views import SpiritView
from stillroom.keeping.drafts import BlendDraft, BlendPartDraft, InputDraft, ToTake
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.trace.views import ScannedThing
from stillroom.keeping.views import BottleRow, TinctureView
from stillroom.keeping.wording import Wording, wording
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import InputKind
from stillroom.screens.bottles.bottling import BottlingDialog
from stillroom.screens.bottles.formula_dialogs import HOW, FormulaDialog
from stillroom.screens.buying.liquid import LiquidDialog
from stillroom.screens.host import Host
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, Reader, amount, prefilled, words
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe

T = TypeVar("T")


async def blend_bottles(host: Host, keeper: Keeper, marked: list[BottleRow]) -> bool:
    """Blend these, or make a formula again where none is marked, and go on to the bottles."""
    parts: list[tuple[BottleRow, float | None]] = [(row, None) for row in marked]
    name, note = "", ""
    if not marked:
        proposal = await _formula(host, keeper)
        if proposal is None:
            return False
        parts = [(part.bottle, part.volume_ml) for part in proposal.parts]
        name, note = proposal.formula.name, missing_words(proposal, wording(keeper))
    has_more = marked or any(each.left_ml is None or each.left_ml > 0 for each in liquids(keeper))
    if not parts or (len(parts) < 2 and not has_more):
        host.complain(note or HOW)
        return False
    made = await host.push_screen_wait(BlendDialog(keeper, parts, name, note))
    if made is None:
        return False
    host.changed(f"Blended {made.name} {made.code}")
    if await host.push_screen_wait(BottlingDialog(keeper, made.tincture_id)):
        host.changed()
    return True


async def _formula(host: Host, keeper: Keeper) -> FormulaProposal | None:
    if not formulas(keeper):
        host.say(f"{HOW} To save a blend as a formula, open its bottle and press f.")
        return None
    return await host.push_screen_wait(FormulaDialog(keeper))


def missing_words(proposal: FormulaProposal, wording: Wording) -> str:
    """What the bottles do not hold of a formula; blank where they hold all."""
    if not proposal.missing:
        return ""
    said = [
        f"Not enough {missing.part.in_words}: {wording.volume(missing.found_ml)} "
        f"of {wording.volume(missing.wanted_ml)}."
        for missing in proposal.missing
    ]
    if proposal.makes_ml > EMPTY_ML:
        makes = wording.volume(proposal.makes_ml)
        said.append(f"The amounts below make {makes} by the formula.")
    else:
        said.append("The amounts below don't match the formula.")
    return " ".join(said)


class BlendDialog(Dialog[TinctureView]):
    """How much of each bottle, and what they come to."""

    TITLE_TEXT = "Blend"
    ACT = "Blend"
    BINDINGS = [
        Binding("ctrl+b", "buy", "New liquid", id="blend.buy",
                tooltip="Add a liquid you bought, such as honey, without closing this form"),
        Binding("ctrl+l", "add_spirits", "Spirit or water", id="blend.spirits",
                tooltip="Show the spirits of the cupboard and water, to add some"),
    ]  # fmt: skip
    DEFAULT_CSS = """
    BlendDialog > .dialog--box { width: 92; }
    BlendDialog #parts, BlendDialog #liquids { height: auto; }
    BlendDialog #outcome { height: auto; margin-top: 1; }
    BlendDialog #total.-unused { display: none; }
    """

    def __init__(
        self,
        keeper: Keeper,
        parts: Sequence[tuple[BottleRow, float | None]],
        name: str = "",
        note: str = "",
    ) -> None:
        super().__init__()
        self.keeper = keeper
        self.parts = list(parts)
        self.blend_name = name
        self.known_note = note
        self.wording = wording(keeper)
        self._liquids = [e for e in liquids(keeper) if e.left_ml is None or e.left_ml > EMPTY_ML]
        self._spirits: list[SpiritView] = []
        """Those that are shown: none before they are asked for."""
        self._volumes = partial(volume_or_all, self.wording)
        self._shares = amount(Kind.NUMBER, self.wording)

    def compose_form(self) -> ComposeResult:
        """Name, day, and a part of each bottle."""
        if self.known_note:
            yield Static(self.known_note, classes="warning", markup=False)
        tinctures = [tincture_view(self.keeper, row.tincture_id) for row, _ in self.parts]
        for caution in dict.fromkeys(said for each in tinctures for said in each.to_mind):
            yield Static(f"! {safe(caution)}", classes="warning", markup=False)
        yield Entry("Name", words, self.blend_name, id="blend-name", classes="-wide",
                    hint="as printed on the label", max_length=200)  # fmt: skip
        yield DayEntry(
            "Blended on", self.keeper.today, self.keeper.today, wording=self.wording, id="day"
        )
        yield Pick("Measured by", [("volume", "volume of each"), ("parts", "parts of a total")],
                   id="by")  # fmt: skip
        yield Entry("Total", amount(Kind.VOLUME, self.wording), id="total", classes="-unused",
                    hint="total to make", required=False)  # fmt: skip
        with Vertical(id="parts"):
            for row, volume_ml in self.parts:
                yield self._part_field(row, volume_ml)
        with Vertical(id="liquids"):
            for liquid in self._liquids:
                yield self._liquid_field(liquid)
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)

    def _part_field(self, row: BottleRow, volume_ml: float | None) -> "Entry[ToTake]":
        held = self.wording.volume(row.left_ml)
        strength = self.wording.finished_percent(row) or "strength unknown"
        return Entry(
            row.code,
            self._volumes,
            prefilled(Kind.VOLUME, volume_ml, self.wording),
            hint=f"holds {held} · {safe(row.name)}, {strength}",
            required=False,
            id=f"part-{row.bottle_id}",
        )

    def _liquid_field(self, liquid: LiquidView) -> "Entry[ToTake]":
        mark = "" if liquid.code else liquid_mark(liquid, self._liquids, self.wording)
        left = f"{mark} · " if mark else ""
        if liquid.left_ml is not None:
            left += f"{self.wording.volume(liquid.left_ml)} left, "
        return Entry(
            f"{liquid.name} {liquid.code}".strip(),
            lambda text: volume_or_all(self.wording, text, liquid.density_g_per_ml),
            hint=f"{left}or a weight" if left else f"volume or weight of {liquid.kind}",
            required=False,
            id=f"liquid-{liquid.liquid_id}",
        )

    def _spirit_field(self, spirit: SpiritView) -> "Entry[ToTake]":
        strength = self.wording.of(Kind.STRENGTH, spirit.strength_abv)
        left = "" if spirit.left_ml is None else f"{self.wording.volume(spirit.left_ml)} left"
        mark = twin_mark(spirit, self._spirits, self.wording)
        return Entry(
            spirit.name,
            self._volumes,
            hint=" · ".join(filter(None, (mark, strength, left))),
            required=False,
            id=f"spirit-{spirit.spirit_id}",
        )

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Spirits are shown once."""
        if action == "add_spirits" and self.query("#water"):
            return False
        return super().check_action(action, parameters)

    async def action_add_spirits(self) -> None:
        """Show the spirits of the cupboard, and water, to add some of them."""
        kept = spirits(self.keeper)
        self._spirits = [e for e in kept if e.left_ml is None or e.left_ml > EMPTY_ML]
        fields = [self._spirit_field(each) for each in self._spirits]
        water = Entry("Water", self._volumes, hint="volume", required=False, id="water")
        await self.query_one("#liquids").mount(*fields, water)
        (fields[0] if fields else water).field.focus()
        self.refresh_bindings()

    @work
    async def action_buy(self) -> None:
        """Add a liquid that was bought, and go to its volume."""
        liquid_id = await self.app.push_screen_wait(LiquidDialog(self.keeper))
        if liquid_id is None:
            return
        self.host.changed()
        bought = liquid_view(self.keeper, liquid_id)
        self._liquids.append(bought)
        field = self._liquid_field(bought)
        await self.query_one("#liquids").mount(field)
        field.field.focus()

    @work
    async def take_scan(self, thing: ScannedThing) -> None:
        """Go to the bottle that was scanned; one that isn't a part yet becomes one."""
        if thing.bottle_id is None:
            self.say(f"{thing.code} isn't a bottle.")
            return
        if all(row.bottle_id != thing.bottle_id for row, _ in self.parts):
            row = bottle_row(self.keeper, thing.bottle_id)
            if row.left_ml <= EMPTY_ML:
                self.say(f"{thing.code} is empty.")
                return
            self.parts.append((row, None))
            await self.query_one("#parts").mount(self._part_field(row, None))
        self.query_one(f"#part-{thing.bottle_id}", Entry).field.focus()

    def compose_below(self) -> ComposeResult:
        """What they come to, always in sight."""
        yield Static("", id="outcome", markup=False)

    @on(Input.Changed)
    @on(Choice.Changed)
    def _follow(self) -> None:
        by_parts = self.query_one("#by", Pick).value == "parts"
        self.query_one("#total").set_class(not by_parts, "-unused")
        try:
            plan = plan_blend(self.keeper, self._draft(must=False))
        except StillroomError as error:
            said = str(error)
        else:
            said = "\n".join([*self._weighed(), plan_words(plan, self.wording)])
        show(self.query_one("#outcome", Static), said)

    def _weighed(self) -> list[str]:
        """The volume of each liquid of which a weight is typed."""
        said = (
            weight_in_words(
                self.wording,
                self.query_one(f"#liquid-{liquid.liquid_id}", Entry).typed,
                liquid.name,
                liquid.density_g_per_ml,
            )
            for liquid in self._liquids
        )
        return [words for words in said if words]

    def on_mount(self) -> None:
        """Show what a formula comes to."""
        self._follow()

    def _draft(self, *, must: bool) -> BlendDraft:
        """The blend as typed; what is missing is shown at its field where it is required."""
        return BlendDraft(
            name=self.query_one("#blend-name", Entry).needed() if must else "a blend",
            parts=self._parts(must=must),
            made_on=self._made_on(must=must),
            note=self.query_one("#note", Entry).read() or "",
            others=self._others(must=must),
        )

    def _others(self, *, must: bool) -> tuple[InputDraft, ...]:
        """The liquids of the cupboard of which a volume is typed, and water."""
        known: list[tuple[str, InputKind, int | None]] = [
            *((f"#liquid-{e.liquid_id}", InputKind.LIQUID, e.liquid_id) for e in self._liquids),
            *((f"#spirit-{e.spirit_id}", InputKind.SPIRIT, e.spirit_id) for e in self._spirits),
            ("#water", InputKind.WATER, None),
        ]
        found = []
        for selector, kind, row_id in known:
            for field in self.query(selector).results(Entry):
                value: ToTake | None = field.read() if must else field.peek()
                if value:
                    found.append(InputDraft(kind, value, row_id))
        return tuple(found)

    def _made_on(self, *, must: bool) -> date:
        field: Entry[date] = self.query_one("#day", Entry)
        return field.needed() if must else field.peek() or self.keeper.today

    def _parts(self, *, must: bool) -> tuple[BlendPartDraft, ...]:
        if self.query_one("#by", Pick).value != "parts":
            volumes = self._amounts(self._volumes, must=must)
            return tuple(BlendPartDraft(bottle_id, volume) for bottle_id, volume in volumes)
        shares = self._amounts(self._shares, must=must)
        total_field: Entry[float] = self.query_one("#total", Entry)
        total = total_field.read() if must else total_field.peek()
        if total is None:
            if must:
                total_field.mark_wrong("Total is needed.")
            raise NotUnderstood("Enter the total to make.")
        return shared_out(total, shares)

    def _amounts(self, reader: Reader[T], *, must: bool) -> list[tuple[int, T]]:
        """The bottles of which something is typed, and what."""
        amounts: list[tuple[int, T]] = []
        for row, _ in self.parts:
            field: Entry[T] = self.query_one(f"#part-{row.bottle_id}", Entry)
            field.reader = reader
            value = field.read() if must else field.peek()
            if value:  # blank or nought: this one is left out
                amounts.append((row.bottle_id, value))
        return amounts

    def keep(self) -> TinctureView:
        """Draw the parts and make the blend."""
        return make_blend(self.keeper, self._draft(must=True), confirmed=self.confirmed)


def plan_words(plan: BlendPlan, wording: Wording) -> str:
    """What a blend comes to, in a few lines."""
    volume = wording.volume(plan.volume_ml)
    poured = wording.volume(plan.poured_ml)
    strength = wording.finished_percent(plan) or "strength unknown"
    if plan.strength_abv is not None:
        strength += f" {plan.strength_by}"
    until = (
        f"keep until {wording.day(plan.keep_until)}" if plan.keep_until else "no keep-until date"
    )
    lines = [f"{poured} measured separately makes {volume} · {strength} · {until}"]
    if plan.ratio:
        lines.append(f"{wording.ratio(plan.ratio)} all herb to all liquid poured")
    if stands_for := wording.stands_for(plan.herbs):
        lines.append(safe(stands_for))
    lines += [f"! {safe(said)}" for said in (*plan.obstacles, *plan.warnings)]
    return "\n".join(lines)
