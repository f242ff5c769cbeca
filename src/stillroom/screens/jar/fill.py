"""Filling a jar: herbs, liquids and plan, with what they come to while one types."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from textual import on, work
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widgets import Input, Static

from stillroom.errors import NeedsConfirmation, NotUnderstood
from stillroom.keeping.cards import JarCard
from stillroom.keeping.cupboard.cupboard import shelf_rows, spirits
from stillroom.keeping.cupboard.herb_names import known_herbs
from stillroom.keeping.cupboard.liquids import liquids
from stillroom.keeping.cupboard.lot_reading import herb_lot, herb_lots
from stillroom.keeping.drafts import JarDraft, PourDraft
from stillroom.keeping.jars.amending import amend_jar
from stillroom.keeping.jars.filling import fill_question
from stillroom.keeping.jars.jar import fill_jar
from stillroom.keeping.jars.jar_sum import comes_to
from stillroom.keeping.jars.jar_view import jar_view
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.settings import settings_of
from stillroom.keeping.views import JarView
from stillroom.keeping.wording import wording
from stillroom.quantities import parse_shakes
from stillroom.reckoning.cautions import CERTAIN, COOL_FIRST, FOOD_GRADE, IDENTIFY, deadly_warning
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import InputKind, LiquidKind
from stillroom.screens.buying.liquid import LiquidDialog
from stillroom.screens.buying.lot import LotDialog
from stillroom.screens.buying.spirit import SpiritDialog
from stillroom.screens.jar.herb_fields import HerbFields, HerbStart
from stillroom.screens.jar.liquid_fields import LiquidFields
from stillroom.screens.kit.choice import Choice, Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import (
    DayEntry,
    Entry,
    Pair,
    amount,
    example,
    prefilled,
    whole_number,
    why_entry,
    words,
)
from stillroom.screens.kit.inside import inside
from stillroom.screens.kit.lines import show


@dataclass(frozen=True)
class JarStart:
    """What the form begins with: blank, a calculated plan, or a jar as recorded."""

    herbs: tuple[HerbStart, ...] = (HerbStart(),)
    pours: tuple[PourDraft, ...] = ()
    capacity_ml: float | None = None
    simmered: bool = False
    note: str = ""

    @classmethod
    def of(cls, jar: JarView) -> "JarStart":
        """A jar as it was entered."""
        return cls(
            herbs=tuple(
                HerbStart(
                    c.herb,
                    c.botanical,
                    c.part,
                    c.condition,
                    c.mass_g,
                    c.water_fraction if c.water_is_measured else None,
                    c.gathered_on,
                    c.origin,
                    c.lot_id,
                )
                for c in jar.charges
            ),
            pours=tuple(
                PourDraft(p.kind, p.volume_ml, p.strength_abv, p.spirit_id, p.liquid_id)
                for p in jar.pours
            ),
            capacity_ml=jar.capacity_ml,
            simmered=jar.simmered,
            note=jar.note,
        )


DECOCTION_UNKNOWN = (
    "! Enter how much decoction goes in: without it this figure is too high, and whether the jar "
    "will keep is not known"
)


class FillDialog(Dialog[JarCard]):
    """A new jar, or the correction of one that is still steeping."""

    TITLE_TEXT = "Fill a jar"
    ACT = "Fill"
    BINDINGS = [
        Binding("ctrl+n", "add_herb", "Another herb", id="fill.herb",
                tooltip="Add another herb"),
        Binding("ctrl+l", "add_liquid", "Another liquid", id="fill.liquid",
                tooltip="Add another liquid"),
        Binding("ctrl+b", "buy", "New herb or liquid", id="fill.buy",
                tooltip=("Add a lot of this herb, or a liquid you bought, without closing this "
                         "form")),
    ]  # fmt: skip
    DEFAULT_CSS = """
    FillDialog > .dialog--box { width: 100; }
    FillDialog .heading { margin-top: 1; }
    FillDialog #jar { height: auto; margin-top: 1; }
    FillDialog #liquids, FillDialog #herbs { height: auto; }
    FillDialog #comes-to { height: auto; min-height: 3; margin-top: 1; }
    """

    def __init__(
        self,
        keeper: Keeper,
        *,
        start: JarStart | None = None,
        jar: JarView | None = None,
    ) -> None:
        super().__init__()
        self.keeper = keeper
        self.jar = jar
        self.wording = wording(keeper)
        self.cupboard = [
            s for s in spirits(keeper) if s.left_ml is None or s.left_ml > 0 or jar is not None
        ]
        self.known = known_herbs(keeper)
        self.lots = herb_lots(keeper, with_empty=False)
        self.start = start or (JarStart.of(jar) if jar else JarStart())
        if jar:
            self.corrects = True
            self.began_with = _facts(jar)
            self.TITLE_TEXT = f"Correct {jar.card.code}"

    def written(self) -> object:
        """The jar that is corrected, as it is now."""
        return _facts(jar_view(self.keeper, self.jar.card.jar_id)) if self.jar else None

    def compose_form(self) -> ComposeResult:
        """Herbs, liquids, jar and plan."""
        today = self.keeper.today
        with Vertical(id="herbs"):
            for herb in self.start.herbs:
                yield HerbFields(herb, self.known, self.lots, self.wording, today)
        with Vertical(id="liquids"):
            for pour in self.start.pours or (None,):
                yield LiquidFields(pour, self.cupboard, self.wording, others=liquids(self.keeper))
        with Vertical(id="jar"):
            yield from self._compose_jar(today)

    def _compose_jar(self, today: date) -> ComposeResult:
        jar, wording, settings = self.jar, self.wording, settings_of(self.keeper)
        card = jar.card if jar else None
        days = (card.strain_on - card.filled_on).days if card else settings.steep_days
        shakes = card.shakes_per_day if card else settings.shakes_per_day
        yield Pair(
            Entry("Jar size", amount(Kind.VOLUME, wording),
                  prefilled(Kind.VOLUME, self.start.capacity_ml, wording),
                  hint="optional", required=False, id="capacity"),
            Pick("Shelf", self._shelves(), str(card.shelf_id) if card else None, id="shelf"),
        )  # fmt: skip
        yield Pair(
            DayEntry("Filled on", today, card.filled_on if card else today,
                     wording=wording, id="filled"),
            Entry("Days to steep", whole_number(Kind.DAYS, wording), str(days), id="days"),
        )  # fmt: skip
        yield Pair(
            Entry("Shakes a day", parse_shakes, str(shakes), id="shakes"),
            Pick("Simmered first", [("no", "no"), ("yes", "yes, then cooled")],
                 "yes" if self.start.simmered else "no", id="simmered"),
        )  # fmt: skip
        yield Entry(
            "Note", words, self.start.note, required=False, classes="-wide", id="note",
            hint="anything worth remembering",
        )  # fmt: skip
        if jar:
            yield why_entry(is_required=settings.why_required)

    def compose_below(self) -> ComposeResult:
        """What it comes to, always in sight."""
        yield Static("", id="comes-to", markup=False)

    def _shelves(self) -> list[tuple[str, str]]:
        return [(str(s.shelf_id), s.name) for s in shelf_rows(self.keeper)] or [
            ("0", "first shelf")
        ]

    @on(Input.Changed)
    @on(Choice.Changed)
    def _comes_to(self) -> None:
        show(self.query_one("#comes-to", Static), "\n".join(self.sum_lines()))

    def sum_lines(self) -> list[str]:
        """What is typed comes to, with what to beware of."""
        simmered = self.query_one("#simmered", Pick).value == "yes"
        lines = comes_to(
            [c for f in inside(self, HerbFields) if (c := f.charge(simmered=simmered))],
            [p for f in inside(self, LiquidFields) if (p := f.pour())],
            self._entry("#capacity").peek(),
            self.wording,
            [herb for f in inside(self, LiquidFields) if (herb := f.herb)],
        )
        poured = {f.liquid.value for f in inside(self, LiquidFields)}
        if lines and self._lacks_decoction():
            lines = [lines[0], DECOCTION_UNKNOWN]
        if simmered or LiquidKind.DECOCTION in poured:
            lines.append(f"{COOL_FIRST} {CERTAIN}")
        else:
            lines.append(f"{CERTAIN} {FOOD_GRADE}" if lines else IDENTIFY)
        herbs_named = [
            (f.lot.herb if f.lot else f.herb.typed, f.botanical.typed)
            for f in inside(self, HerbFields)
        ]
        warnings = [f"! {said}" for names in herbs_named if (said := deadly_warning(*names))]
        short = [
            f"! {said}"
            for said in (
                *(fields.short for fields in inside(self, HerbFields)),
                *(fields.short for fields in inside(self, LiquidFields)),
            )
            if said and not self.jar
        ]
        weighed = [said for fields in inside(self, LiquidFields) if (said := fields.weighed)]
        in_store = [said for fields in inside(self, HerbFields) if (said := fields.in_store)]
        return [*short, *warnings, *([] if self.jar else in_store), *weighed, *lines]

    @on(Choice.Changed)
    async def _ask_for_decoction(self, event: Choice.Changed) -> None:
        """A herb that was simmered brings the liquid that was kept."""
        simmered = self.query_one("#simmered", Pick)
        poured = {f.liquid.value for f in inside(self, LiquidFields)}
        is_asked = event.choice is simmered.choice and simmered.value == "yes"
        if is_asked and LiquidKind.DECOCTION not in poured:
            fields = LiquidFields(
                None,
                self.cupboard,
                self.wording,
                liquid=LiquidKind.DECOCTION,
                others=liquids(self.keeper),
            )
            await self.query_one("#liquids").mount(fields)

    def _entry(self, selector: str) -> Entry[float]:
        return self.query_one(selector, Entry)

    async def action_add_herb(self) -> None:
        """Fields for another herb."""
        fields = HerbFields(HerbStart(), self.known, self.lots, self.wording, self.keeper.today)
        await self.query_one("#herbs").mount(fields)
        fields.herb.field.focus()

    async def action_add_liquid(self) -> None:
        """Fields for another liquid."""
        fields = LiquidFields(None, self.cupboard, self.wording, others=liquids(self.keeper))
        await self.query_one("#liquids").mount(fields)
        fields.liquid.choice.focus()

    @work
    async def action_buy(self) -> None:
        """Add what this form lacks: at a herb its lot, at a liquid more of that kind."""
        here = self.focused
        at_herb = next((f for f in self.query(HerbFields) if here in list(f.query("*"))), None)
        if at_herb is not None:
            await self._buy_lot(at_herb)
            return
        at = next((f for f in self.query(LiquidFields) if here in list(f.query("*"))), None)
        await self._buy_liquid(at or self.query(LiquidFields).first())

    async def _buy_lot(self, at: HerbFields) -> None:
        herb = "" if at.lot else at.herb.typed
        lot_id = await self.app.push_screen_wait(LotDialog(self.keeper, herb))
        if lot_id is None:
            return
        self.lots = herb_lots(self.keeper, with_empty=False)
        code = herb_lot(self.keeper, lot_id).code
        for each in self.query(HerbFields):
            each.restock(self.lots, code if each is at else "")
        self.host.changed()

    async def _buy_liquid(self, at: LiquidFields) -> None:
        """A spirit, or another liquid, such as honey, where one is chosen or asked for instead."""
        kind, bought_id = InputKind.LIQUID, None
        if not at.other:
            form = SpiritDialog(self.keeper, offers_other=True)
            bought_id = await self.app.push_screen_wait(form)
            kind = InputKind.LIQUID if form.wants_other else InputKind.SPIRIT
        if kind is InputKind.LIQUID:
            bought_id = await self.app.push_screen_wait(LiquidDialog(self.keeper))
        if bought_id is None:
            return
        self.cupboard = [s for s in spirits(self.keeper) if s.left_ml is None or s.left_ml > 0]
        for fields in self.query(LiquidFields):
            chosen = f"{kind} {bought_id}" if fields is at else ""
            fields.restock(self.cupboard, liquids(self.keeper), chosen)
        at.volume.field.focus()
        self.host.changed()

    def _lacks_decoction(self) -> bool:
        """Whether the herb was simmered, and no decoction is entered."""
        return self.query_one("#simmered", Pick).value == "yes" and not any(
            fields.liquid.value == LiquidKind.DECOCTION and fields.volume.typed.strip()
            for fields in inside(self, LiquidFields)
        )

    def keep(self) -> JarCard:
        """Put the jar on its shelf."""
        draft = self._draft()
        if (question := fill_question(draft)) and not self.confirmed:
            raise NeedsConfirmation(question)
        if self.jar:
            why = self.query_one("#why", Entry).read() or ""
            return amend_jar(self.keeper, self.jar.card.jar_id, draft, why=why)
        return fill_jar(self.keeper, draft)

    def _draft(self) -> JarDraft:
        filled = inside(self, HerbFields)
        charges = [f.draft() for f in filled if not f.is_blank] or [filled[0].draft()]
        pours = [p for f in inside(self, LiquidFields) if (p := f.draft())]
        if not pours:
            inside(self, LiquidFields)[0].volume.mark_wrong(
                "A jar needs liquid: how much? " + example("600 ml", "20 fl oz", self.wording)
            )
            raise NotUnderstood("A jar needs liquid: spirit, water or both.")
        return JarDraft(charges=tuple(charges), pours=tuple(pours), **self.jar_and_plan())

    def jar_and_plan(self) -> dict[str, Any]:
        """What a first and a second pour are both asked for, by the names of their drafts."""
        filled_on = self.query_one("#filled", Entry).needed()
        days = self.query_one("#days", Entry).needed()
        return {
            "filled_on": filled_on,
            "strain_on": filled_on + timedelta(days=days),
            "shakes_per_day": self.query_one("#shakes", Entry).needed(),
            "shelf_id": int(self.query_one("#shelf", Pick).value) or None,
            "capacity_ml": self._entry("#capacity").read(),
            "simmered": self.query_one("#simmered", Pick).value == "yes",
            "note": self.query_one("#note", Entry).read() or "",
        }


class CorrectDialog(FillDialog):
    """The correction of a jar that is still steeping."""

    ACT = "Save"


def _facts(jar: JarView) -> tuple[object, ...]:
    """All of a jar that the form can correct."""
    card = jar.card
    plan = card.filled_on, card.strain_on, card.shakes_per_day, card.shelf_id
    return JarStart.of(jar), plan
