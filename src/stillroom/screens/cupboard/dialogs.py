"""Forms of the cupboard: a spirit, a herb, a shelf, a bottle size, the settings."""

from textual.app import ComposeResult
from textual.widgets import Static

from stillroom.dates import DayForm
from stillroom.keeping.cupboard.cupboard import (
    add_herb,
    add_shelf,
    change_herb,
    change_shelf,
    herbs,
    keep_bottle_size,
    shelf_rows,
)
from stillroom.keeping.cupboard_views import HerbView, ShelfRow, SizeView
from stillroom.keeping.drafts import HerbDraft, ShelfDraft
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_words import languages
from stillroom.keeping.settings import (
    ALCOHOLOMETERS,
    CALLS,
    GLYPHS,
    THEMES,
    Settings,
    save_settings,
    settings_of,
)
from stillroom.keeping.wording import wording
from stillroom.quantities import UnitSystem, parse_shakes
from stillroom.reckoning.kinds import AS_WRITTEN, Kind
from stillroom.screens.kit.choice import Pick
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.fields import (
    Entry,
    amount,
    example,
    note_lines,
    on_one_line,
    prefilled,
    whole_number,
    words,
)

_NO_YES = (("no", "no"), ("yes", "yes"))


class HerbDialog(Dialog[int]):
    """A new herb, or a change to one."""

    def __init__(self, keeper: Keeper, herb: HerbView | None = None) -> None:
        super().__init__()
        self.keeper = keeper
        self.herb = herb
        self.corrects = herb is not None
        self.began_with = herb and _herb_facts(herb)
        self.TITLE_TEXT = "Herb" if herb else "New herb"

    def written(self) -> object:
        """The herb as it is now."""
        wanted = self.herb and self.herb.herb_id
        return next((_herb_facts(h) for h in herbs(self.keeper) if h.herb_id == wanted), None)

    def compose_form(self) -> ComposeResult:
        """Names, cautions, note."""
        known = self.herb
        yield Entry("Name", words, known.name if known else "", id="name", classes="-wide")
        yield Entry("Botanical", words, known.botanical if known else "", id="botanical",
                    required=False, classes="-wide")  # fmt: skip
        yield Entry("Cautions", note_lines, on_one_line(known.cautions) if known else "",
                    id="cautions", required=False, classes="-wide",
                    hint="your own, printed on its labels")  # fmt: skip
        yield Entry("Note", note_lines, on_one_line(known.note) if known else "", id="note",
                    required=False, classes="-wide", hint="// starts a new line")  # fmt: skip

    def keep(self) -> int:
        """Add the herb, or change it."""
        draft = HerbDraft(
            name=self.query_one("#name", Entry).needed(),
            botanical=self.query_one("#botanical", Entry).read() or "",
            cautions=self.query_one("#cautions", Entry).read() or "",
            note=self.query_one("#note", Entry).read() or "",
        )
        if self.herb is None:
            return add_herb(self.keeper, draft)
        change_herb(self.keeper, self.herb.herb_id, draft)
        return self.herb.herb_id


class ShelfDialog(Dialog[int]):
    """A new shelf, or a change to one."""

    def __init__(self, keeper: Keeper, shelf: ShelfRow | None = None) -> None:
        super().__init__()
        self.keeper = keeper
        self.shelf = shelf
        self.corrects = shelf is not None
        self.began_with = shelf and (shelf.name, shelf.note)
        self.TITLE_TEXT = "Shelf" if shelf else "New shelf"

    def written(self) -> object:
        """The shelf as it is now."""
        wanted = self.shelf and self.shelf.shelf_id
        rows = shelf_rows(self.keeper)
        return next(((s.name, s.note) for s in rows if s.shelf_id == wanted), None)

    def compose_form(self) -> ComposeResult:
        """Name and note."""
        known = self.shelf
        yield Entry("Name", words, known.name if known else "", id="name", classes="-wide",
                    hint="e.g. North larder")  # fmt: skip
        yield Entry("Note", note_lines, on_one_line(known.note) if known else "", id="note",
                    required=False, classes="-wide", hint="e.g. away from the stove")  # fmt: skip

    def keep(self) -> int:
        """Add the shelf, or change it."""
        draft = ShelfDraft(
            name=self.query_one("#name", Entry).needed(),
            note=self.query_one("#note", Entry).read() or "",
        )
        if self.shelf is None:
            return add_shelf(self.keeper, draft)
        change_shelf(self.keeper, self.shelf.shelf_id, draft)
        return self.shelf.shelf_id


class SizeDialog(Dialog[float]):
    """A size of bottle, and how many empty ones there are."""

    def __init__(self, keeper: Keeper, size: SizeView | None = None) -> None:
        super().__init__()
        self.keeper = keeper
        self.known = size
        self.wording = wording(keeper)
        self.corrects = size is not None
        self.TITLE_TEXT = "Empty bottles" if size else "New bottle size"

    def compose_form(self) -> ComposeResult:
        """Size and empties."""
        known = self.known
        if known is None:
            yield Entry(
                "Size",
                amount(Kind.VOLUME, self.wording),
                id="volume",
                hint=example("100 ml", "4 fl oz", self.wording),
            )
        else:
            shown = prefilled(Kind.VOLUME, known.size_ml, self.wording)
            yield Static(f"Bottles of {shown}", classes="heading", markup=False)
        empties = "" if known is None or known.empties is None else str(known.empties)
        yield Entry("Empty bottles", whole_number(Kind.COUNT, self.wording), empties, id="empties",
                    required=False, hint="blank: not counted")  # fmt: skip

    def keep(self) -> float:
        """Save this size, with its empty bottles."""
        if self.known is None:
            size_ml = float(self.query_one("#volume", Entry).needed())
        else:
            size_ml = self.known.size_ml
        keep_bottle_size(self.keeper, size_ml, self.query_one("#empties", Entry).read())
        return size_ml


UNITS = (
    (UnitSystem.METRIC, "metric: mL, g"),
    (UnitSystem.US, "US: fl oz, oz"),
    (UnitSystem.IMPERIAL, "imperial: fl oz, oz"),
)


ALCOHOLOMETER = (
    (AS_WRITTEN, "by its scale"),
    *((key, f"true at {shown}") for key, shown in ALCOHOLOMETERS.items()),
)


REASON = (("", "may be blank"), ("yes", "required"))
"""Whether a correction must say why."""


DAY_FORMS = (
    (DayForm.DAY_MONTH_YEAR, "26 Nov 2026"),
    (DayForm.MONTH_DAY_YEAR, "Nov 26, 2026"),
    (DayForm.ISO, "2026-11-26"),
)
"""The forms of a date, each by an example."""


class SettingsDialog(Dialog[Settings]):
    """The settings of this shelf."""

    TITLE_TEXT = "Settings"
    corrects = True

    def __init__(self, keeper: Keeper, field: str = "") -> None:
        super().__init__()
        self.keeper = keeper
        self.field = field
        """The setting to begin at, by its name in Settings."""
        self.began_with = self.settings = settings_of(keeper)
        self.wording = wording(keeper)

    def written(self) -> object:
        """The settings as they are now."""
        self.keeper.forget_settings()
        return settings_of(self.keeper)

    def compose_form(self) -> ComposeResult:
        """A field for every setting."""
        settings = self.settings
        yield Pick("Units", UNITS, settings.units, id="units")
        comma = "comma" if settings.decimal_comma else "point"
        marks = [("point", "point"), ("comma", "comma")]
        yield Pick("Decimal mark", marks, comma, id="decimal_comma")
        yield Entry("Currency", words, settings.currency, id="currency", required=False,
                    max_length=6, hint="such as € or EUR")  # fmt: skip
        yield Pick("Dates", DAY_FORMS, settings.day_form, id="day_form")
        yield Entry("Initials", words, settings.maker, id="maker", required=False,
                    max_length=12, hint="shown in the ledger")  # fmt: skip
        yield Entry("Maker", words, settings.maker_name, id="maker_name", required=False,
                    max_length=200, hint="name printed on labels")  # fmt: skip
        yield Pick("Reason", REASON, "yes" if settings.why_required else "", id="why_required",
                   hint="why a correction was made")  # fmt: skip
        yield Entry("Days to steep", whole_number(Kind.DAYS, self.wording),
                    str(settings.steep_days), id="steep_days",
                    hint="default for new jars")  # fmt: skip
        yield Entry("Shakes a day", parse_shakes, str(settings.shakes_per_day),
                    id="shakes_per_day", hint="default for new jars, 0 to 9")  # fmt: skip
        yield Entry("Months in hand", amount(Kind.NUMBER, self.wording),
                    prefilled(Kind.NUMBER, settings.months_in_hand, self.wording),
                    id="months_in_hand", hint="how long stock should last")  # fmt: skip
        yield Pick("Phase of moon", _NO_YES, "yes" if settings.moon else "no", id="moon",
                   hint="in the plan; folk practice")  # fmt: skip
        yield Entry("Dried herb", words, settings.dried_good, id="dried_good", required=False,
                    classes="-wide", max_length=200,
                    hint="months it stays good, such as leaf 18, root 36")  # fmt: skip
        yield Entry("Dropper", amount(Kind.NUMBER, self.wording),
                    prefilled(Kind.NUMBER, settings.drops_per_ml, self.wording), id="drops_per_ml",
                    required=False, hint="drops in a millilitre")  # fmt: skip
        yield Pick("Alcoholometer", ALCOHOLOMETER, settings.alcoholometer or AS_WRITTEN,
                   id="alcoholometer", hint="its reference temperature")  # fmt: skip
        yield Pick("Batch release", _NO_YES, "yes" if settings.releases else "no", id="releases",
                   hint="needed before using a batch")  # fmt: skip
        ways = [("", "no"), *CALLS.items()]
        yield Pick("Alert", ways, settings.call, id="call", hint="when a jar falls due")
        by = "" if settings.shakes_by is None else str(settings.shakes_by)
        yield Entry("Shakes by", whole_number(Kind.COUNT, self.wording), by, id="shakes_by",
                    required=False, hint="hour of the alert, 0 to 23")  # fmt: skip
        yield Entry("Quiet after", whole_number(Kind.COUNT, self.wording),
                    str(settings.quiet_minutes), id="quiet_minutes",
                    hint="minutes idle; 0: never")  # fmt: skip
        yield Entry("Scanner pace", whole_number(Kind.COUNT, self.wording),
                    str(settings.scan_gap_ms), id="scan_gap_ms",
                    hint="ms per key; 0: no scanner")  # fmt: skip
        yield Entry("Scanner prefix", words, settings.scan_prefix, id="scan_prefix",
                    required=False, max_length=8, hint="what it types before a code")  # fmt: skip
        yield Pick("Theme", [(k, f"{k}, {v}") for k, v in THEMES.items()], settings.theme,
                   id="theme", hint="the screen's colours")  # fmt: skip
        yield Pick("Glyphs", list(GLYPHS.items()), settings.glyphs, id="glyphs",
                   hint="applies after a restart")  # fmt: skip
        yield Entry("Own caution", note_lines, on_one_line(settings.label_caution),
                    id="label_caution", required=False, classes="-wide", max_length=500,
                    hint="added to every label")  # fmt: skip
        yield Pick("Label language", tuple(languages().items()), settings.label_language,
                   id="label_language")  # fmt: skip
        yield Entry("Product word", words, settings.label_word, id="label_word", required=False,
                    max_length=40, hint="on labels; blank: Tincture")  # fmt: skip
        yield Entry("Backups go to", words, settings.backup_folder, id="backup_folder",
                    required=False, classes="-wide", max_length=1000,
                    hint="a folder; blank: beside the shelf")  # fmt: skip
        yield Entry("Print command", words, settings.print_command, id="print_command",
                    required=False, classes="-wide", max_length=500,
                    hint="such as lp -d labels FILE")  # fmt: skip

    def on_mount(self) -> None:
        """Begin at the setting that was chosen."""
        if self.field:
            self.query_one(f"#{self.field}").query("Input, Choice").first().focus()

    def keep(self) -> Settings:
        """Save the settings."""
        drops = self.query_one("#drops_per_ml", Entry).read()
        true_at = self.query_one("#alcoholometer", Pick).value
        return save_settings(
            self.keeper,
            Settings(
                units=UnitSystem(self.query_one("#units", Pick).value),
                decimal_comma=self.query_one("#decimal_comma", Pick).value == "comma",
                currency=self.query_one("#currency", Entry).read() or "",
                day_form=DayForm(self.query_one("#day_form", Pick).value),
                maker=self.query_one("#maker", Entry).read() or "",
                maker_name=self.query_one("#maker_name", Entry).read() or "",
                why_required=self.query_one("#why_required", Pick).value == "yes",
                steep_days=self.query_one("#steep_days", Entry).needed(),
                shakes_per_day=self.query_one("#shakes_per_day", Entry).needed(),
                months_in_hand=self.query_one("#months_in_hand", Entry).needed(),
                moon=self.query_one("#moon", Pick).value == "yes",
                dried_good=self.query_one("#dried_good", Entry).read() or "",
                drops_per_ml=drops,
                label_caution=self.query_one("#label_caution", Entry).read() or "",
                label_language=self.query_one("#label_language", Pick).value,
                label_word=self.query_one("#label_word", Entry).read() or "",
                backup_folder=self.query_one("#backup_folder", Entry).read() or "",
                print_command=self.query_one("#print_command", Entry).read() or "",
                alcoholometer="" if true_at == AS_WRITTEN else true_at,
                releases=self.query_one("#releases", Pick).value == "yes",
                call=self.query_one("#call", Pick).value,
                shakes_by=self.query_one("#shakes_by", Entry).read(),
                quiet_minutes=self.query_one("#quiet_minutes", Entry).needed(),
                scan_gap_ms=self.query_one("#scan_gap_ms", Entry).needed(),
                scan_prefix=self.query_one("#scan_prefix", Entry).read() or "",
                theme=self.query_one("#theme", Pick).value,
                glyphs=self.query_one("#glyphs", Pick).value,
            ),
            confirmed=self.confirmed,
        )


def _herb_facts(herb: HerbView) -> tuple[object, ...]:
    """All of a herb that its form can correct."""
    return herb.name, herb.botanical, herb.cautions, herb.note
