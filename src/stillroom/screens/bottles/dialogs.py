"""Forms about one bottle: drawing, weighing, counting, pouring together, moving, dates."""

from collections.abc import Sequence
from functools import partial

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.errors import StillroomError
from stillroom.keeping.bottles.bottle_views import bottle_row, bottle_rows
from stillroom.keeping.bottles.stock import (
    all_if_it_reads_so,
    discard_bottle,
    first_to_expire,
    move_bottle,
    not_enough,
    pour_together,
    put_right,
    set_keep_until,
    take_out,
    volume_or_all,
    weigh_in,
)
from stillroom.keeping.bottles.tinctures import tincture_view
from stillroom.keeping.cupboard.cupboard import shelf_rows
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.tolerances import EMPTY_ML
from stillroom.keeping.trace.views import ScannedThing
from stillroom.keeping.views import BottleRow
from stillroom.keeping.wording import wording
from stillroom.keeping.year.people import names
from stillroom.quantities import how_many
from stillroom.reckoning.kinds import Kind
from stillroom.reckoning.states import LOSSES, MovementKind
from stillroom.reckoning.weighing import contents_ml
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import DayEntry, Entry, amount, example, words
from stillroom.screens.kit.lines import show
from stillroom.screens.kit.text import safe

REASONS = (
    (MovementKind.DRAW.value, "drawn for use"),
    (MovementKind.GIVE.value, "given away"),
    (MovementKind.SPILL.value, "spilled"),
    *((kind.value, f"lost: {kind}") for kind in LOSSES),
)


def bottle_name(row: BottleRow) -> str:
    """A bottle's name in a dialog: herb, part, condition and code."""
    return f"{row.name}, {row.part}, {row.condition} · {row.code}"


class BottleDialog(Dialog[BottleRow]):
    """A form about one bottle: its name, what it holds, and what the typed figures come to."""

    def __init__(self, keeper: Keeper, row: BottleRow) -> None:
        super().__init__()
        self.keeper = keeper
        self.row = row
        self.wording = wording(keeper)

    def compose_form(self) -> ComposeResult:
        """The bottle's name, the form's own fields, and what they come to."""
        yield Static(bottle_name(self.row), id="bottle", classes="heading", markup=False)
        yield Static(self._held(), id="held", classes="quiet", markup=False)
        yield from self.compose_fields()
        yield Static(self.outcome(), id="outcome", classes="quiet", markup=False)

    def compose_fields(self) -> ComposeResult:
        """The fields of this form alone."""
        raise NotImplementedError

    def on_mount(self) -> None:
        """Follow what other windows do to the bottle."""
        self.host.shelf_changed.subscribe(self, self._catch_up)

    def on_unmount(self) -> None:
        """A closed form no longer follows, and can be forgotten."""
        self.host.shelf_changed.unsubscribe(self)

    def _catch_up(self, _: None) -> None:
        try:
            now = bottle_row(self.keeper, self.row.bottle_id)
        except StillroomError:  # shown once the form is saved
            return
        if now.left_ml == self.row.left_ml:
            return
        self.row = now
        if self.began_with is not None:
            self.began_with = now.left_ml
        show(self.query_one("#held", Static), self._held())
        self._say_outcome()

    def _held(self) -> str:
        held, whole = self.wording.volume(self.row.left_ml), self.wording.volume(self.row.size_ml)
        return f"Recorded: {held} of {whole}."

    def outcome(self) -> str:
        """What the figures typed so far come to."""
        return ""

    def difference(self, seen_ml: float) -> str:
        """A content as seen, compared with the record."""
        off_ml = seen_ml - self.row.left_ml
        if abs(off_ml) <= EMPTY_ML:
            return f"{self.wording.volume(seen_ml)}: the same as recorded."
        more = "more" if off_ml > 0 else "less"
        seen, off = self.wording.volume(seen_ml), self.wording.volume(abs(off_ml))
        return f"{seen}: {off} {more} than recorded."

    def on_input_changed(self) -> None:
        """Show what it comes to."""
        self._say_outcome()

    def on_choice_changed(self) -> None:
        """Show what it comes to."""
        self._say_outcome()

    def _say_outcome(self) -> None:
        for line in self.query("#outcome").results(Static):
            show(line, self.outcome())

    def entry(self, field: str) -> Entry[float]:
        """A field for a quantity."""
        return self.query_one(f"#{field}", Entry)

    def note(self) -> str:
        """What is typed as a note."""
        return str(self.query_one("#note", Entry).read() or "")


class DrawDialog(BottleDialog):
    """The form that takes liquid out of a bottle."""

    TITLE_TEXT = "Draw"
    ACT = "Draw"
    LAST_FIELD = "day"

    def compose_fields(self) -> ComposeResult:
        """How much, which kind, and for whom."""
        yield Static("", id="warnings", classes="warning", markup=False)
        yield Static("", id="first", classes="quiet", markup=False)
        yield Entry(
            "Volume",
            partial(volume_or_all, self.wording),
            id="volume",
            hint=example("30 ml, or all", "1 fl oz, or all", self.wording),
        )
        yield Pick("Kind", REASONS, id="reason")
        yield Entry("For", words, id="person", required=False, classes="-wide", max_length=200,
                    suggestions=names(self.keeper), hint="who gets it; optional")  # fmt: skip
        yield DayEntry("Day", self.keeper.today, self.keeper.today, wording=self.wording, id="day")
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000,
                    hint="optional")  # fmt: skip

    def on_mount(self) -> None:
        """Show what is known of the bottle."""
        super().on_mount()
        self._show_bottle()

    def take_scan(self, thing: ScannedThing) -> None:
        """Draw from the bottle that was scanned; what was typed stays."""
        if thing.bottle_id is None:
            self.say(f"{thing.code} isn't a bottle.")
            return
        self.row = bottle_row(self.keeper, thing.bottle_id)
        self._show_bottle()
        self._say_outcome()

    def _show_bottle(self) -> None:
        """Its name, what it holds, and what to beware of."""
        warnings = [f"! {safe(said)}" for said in self._to_mind()]
        if self.row.keep_until is not None and self.row.is_past(self.keeper.today):
            day = self.wording.day(self.row.keep_until)
            warnings.insert(0, f"Its keep-until date, {day}, has passed.")
        for field, said in (
            ("#bottle", bottle_name(self.row)),
            ("#held", self._held()),
            ("#warnings", "\n".join(warnings)),
            ("#first", self._which_expires_first()),
        ):
            line = self.query_one(field, Static)
            show(line, said)
            line.display = bool(said)

    def _to_mind(self) -> Sequence[str]:
        return tincture_view(self.keeper, self.row.tincture_id).to_mind

    def _which_expires_first(self) -> str:
        """The bottle of the same tincture, in part and condition, to use before this one."""
        like = (self.row.name, self.row.part, self.row.condition)
        rows = [r for r in bottle_rows(self.keeper) if (r.name, r.part, r.condition) == like]
        first = first_to_expire(self.keeper, rows)
        if first is None or first.keep_until is None or len(rows) < 2:
            return ""
        until = self.wording.day(first.keep_until)
        if first.bottle_id == self.row.bottle_id:
            return f"The first to expire of {how_many(len(rows), 'bottle')}: keep until {until}."
        is_earlier = self.row.keep_until is None or first.keep_until < self.row.keep_until
        return f"{first.code} expires first: keep until {until}." if is_earlier else ""

    def outcome(self) -> str:
        """What is left then."""
        volume = self.entry("volume").peek() if self.is_mounted else None
        if volume is None:
            return "Enter a volume to see what is left."
        volume = all_if_it_reads_so(self.row, volume, wording(self.keeper))
        if volume > self.row.left_ml + EMPTY_ML:
            return f"! {not_enough(self.row, volume, self.wording)}"
        return f"Leaves {self.wording.volume(max(0.0, self.row.left_ml - volume))}."

    def keep(self) -> BottleRow:
        """Take the liquid out."""
        return take_out(
            self.keeper,
            self.row.bottle_id,
            self.entry("volume").needed(),
            kind=MovementKind(self.query_one("#reason", Pick).value),
            person=str(self.query_one("#person", Entry).read() or ""),
            note=self.note(),
            day=self.query_one("#day", DayEntry).needed(),
            confirmed=self.confirmed,
        )


class SeenDialog(BottleDialog):
    """The recorded amount corrected by what was seen; not where it has changed since."""

    def __init__(self, keeper: Keeper, row: BottleRow) -> None:
        super().__init__(keeper, row)
        self.began_with = row.left_ml

    def written(self) -> object:
        """What it is recorded to hold now."""
        return bottle_row(self.keeper, self.row.bottle_id).left_ml


class WeighDialog(SeenDialog):
    """The form that works out what a bottle holds from its weight."""

    TITLE_TEXT = "Weigh in"
    ACT = "Weigh in"

    def compose_fields(self) -> ComposeResult:
        """Full and empty weight."""
        reader = amount(Kind.MASS, self.wording)
        yield Entry("Full weight", reader, id="gross", hint="the bottle as it is")
        yield Entry("Empty weight", reader, id="tare", hint="the same bottle empty, with lid")
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)

    def outcome(self) -> str:
        """The volume by its density, beside the record."""
        if self.row.strength_abv is None:
            return "Its strength is not known, so its volume can't be worked out by weight."
        gross = self.entry("gross").peek() if self.is_mounted else None
        tare = self.entry("tare").peek() if self.is_mounted else None
        if gross is None or tare is None:
            return "Enter both weights to see the volume."
        try:
            return self.difference(contents_ml(gross, tare, self.row.strength_abv))
        except ValueError as error:
            return wording(self.keeper).refusal(error)

    def keep(self) -> BottleRow:
        """Correct the recorded amount by weight."""
        gross, tare = self.entry("gross").needed(), self.entry("tare").needed()
        return weigh_in(self.keeper, self.row.bottle_id, gross, tare, note=self.note())


class CountDialog(SeenDialog):
    """The form that records what a bottle is seen to hold."""

    TITLE_TEXT = "Count"
    ACT = "Count"

    def compose_fields(self) -> ComposeResult:
        """What is in it."""
        yield Entry(
            "Seen", amount(Kind.VOLUME, self.wording), id="volume", hint="what it holds now"
        )
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)

    def outcome(self) -> str:
        """The typed content, compared with the record."""
        seen = self.entry("volume").peek() if self.is_mounted else None
        return "The difference is recorded as a correction." if seen is None else self.difference(
            seen
        )  # fmt: skip

    def keep(self) -> BottleRow:
        """Correct the recorded amount."""
        seen = self.entry("volume").needed()
        return put_right(self.keeper, self.row.bottle_id, seen, note=self.note())


class PourDialog(BottleDialog):
    """Two partly filled bottles of one batch, poured together."""

    TITLE_TEXT = "Pour together"
    ACT = "Pour"

    def __init__(self, keeper: Keeper, row: BottleRow, others: list[BottleRow]) -> None:
        super().__init__(keeper, row)
        self.others = {str(other.bottle_id): other for other in others}

    def compose_fields(self) -> ComposeResult:
        """The bottle to pour into."""
        volume = self.wording.volume
        options = [
            (key, f"{other.code}, {volume(other.left_ml)} of {volume(other.size_ml)}")
            for key, other in self.others.items()
        ]
        yield Pick("Into", options, id="into")

    @property
    def into(self) -> BottleRow:
        """The bottle that is topped up."""
        return self.others[self.query_one("#into", Pick).value]

    def outcome(self) -> str:
        """What both hold then."""
        into = self.into if self.is_mounted else next(iter(self.others.values()))
        poured = min(self.row.left_ml, into.size_ml - into.left_ml)
        return (
            f"{self.row.code} then holds {self.wording.volume(self.row.left_ml - poured)} and "
            f"{into.code} holds {self.wording.volume(into.left_ml + poured)}."
        )

    def keep(self) -> BottleRow:
        """Pour until this one is empty or the other full."""
        return pour_together(self.keeper, self.row.bottle_id, self.into.bottle_id)


class PlaceDialog(BottleDialog):
    """Another place for a bottle."""

    TITLE_TEXT = "Move bottle"
    ACT = "Move"
    corrects = True

    def compose_fields(self) -> ComposeResult:
        """The new place."""
        places = [row.place for row in bottle_rows(self.keeper) if row.place]
        places += [shelf.name for shelf in shelf_rows(self.keeper)]
        known = list(dict.fromkeys(places))
        yield Entry("Place", words, self.row.place, id="place", required=False, classes="-wide",
                    suggestions=known, max_length=200)  # fmt: skip

    def outcome(self) -> str:
        """How to accept a suggestion."""
        return "Press the right arrow to accept a suggestion. Leave blank for no place."

    def keep(self) -> BottleRow:
        """Move the bottle."""
        place = self.query_one("#place", Entry).read() or ""
        return move_bottle(self.keeper, self.row.bottle_id, place)


class KeepUntilDialog(BottleDialog):
    """The date after which a batch should not be used."""

    TITLE_TEXT = "Keep until"
    corrects = True

    def compose_fields(self) -> ComposeResult:
        """The last day to use it; blank for none."""
        yield DayEntry("Keep until", self.keeper.today, self.row.keep_until, past=False,
                       wording=self.wording, id="until", required=False,
                       hint="blank: no date")  # fmt: skip

    def outcome(self) -> str:
        """The date goes with the batch."""
        return f"For every bottle of batch {self.row.batch}."

    def keep(self) -> BottleRow:
        """Save this date."""
        until = self.query_one("#until", Entry).read()
        set_keep_until(self.keeper, self.row.tincture_id, until, confirmed=self.confirmed)
        return self.row


class DiscardBottleDialog(BottleDialog):
    """Discarding what a bottle holds."""

    TITLE_TEXT = "Discard"
    ACT = "Discard"

    def compose_fields(self) -> ComposeResult:
        """A note on why."""
        yield Entry("Note", words, id="note", required=False, classes="-wide", max_length=2000)

    def outcome(self) -> str:
        """Nothing is lost from the record."""
        return "Everything in the bottle is discarded. Its history stays, and u undoes it."

    def keep(self) -> BottleRow:
        """Discard what the bottle holds."""
        return discard_bottle(self.keeper, self.row.bottle_id, self.note())
