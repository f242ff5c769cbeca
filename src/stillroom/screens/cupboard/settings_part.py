"""The settings of the shelf."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from rich.text import Text

from stillroom.keeping.label_words import languages
from stillroom.keeping.settings import ALCOHOLOMETERS, CALLS, GLYPHS, THEMES, settings_of
from stillroom.quantities import UnitSystem, how_many
from stillroom.screens.cupboard.dialogs import DAY_FORMS, SettingsDialog
from stillroom.screens.cupboard.part import CupboardTab, words_about
from stillroom.screens.kit.columns import Cell, Column
from stillroom.screens.kit.dialog import Dialog
from stillroom.screens.kit.text import safe


class SettingRow(NamedTuple):
    """One setting as the list shows it."""

    field: str
    """Its name in Settings."""
    label: str
    value: str
    meaning: str


class SettingsPart(CupboardTab[SettingRow]):
    """The settings of this shelf."""

    title = "Settings"
    columns = (Column("", 14), Column("", 24), Column(""))
    is_fixed = True

    def rows(self) -> Sequence[SettingRow]:
        """Every setting."""
        settings = settings_of(self.keeper)
        units = {
            UnitSystem.METRIC: "metric: mL and g",
            UnitSystem.US: "US: fl oz and oz",
            UnitSystem.IMPERIAL: "imperial: fl oz and oz",
        }[settings.units]
        mark = "comma" if settings.decimal_comma else "point"
        drops = self.page.wording.number(settings.drops_per_ml) or "not counted"
        instrument = "by its scale"
        if settings.alcoholometer:
            instrument = f"true at {ALCOHOLOMETERS[settings.alcoholometer]}"
        reason = "required" if settings.why_required else "may be blank"
        new_jar = "default for new jars"
        by = "no hour" if settings.shakes_by is None else f"{settings.shakes_by}:00"
        minutes = settings.quiet_minutes
        quiet = how_many(minutes, "minute") if minutes else "never"
        pace = f"{settings.scan_gap_ms} ms" if settings.scan_gap_ms else "no scanner"
        return [
            SettingRow("units", "Units", units, "how amounts are shown and read"),
            SettingRow("decimal_comma", "Decimal mark", mark, "in every figure"),
            SettingRow("currency", "Currency", settings.currency or "none", "printed with prices"),
            SettingRow("day_form", "Dates", dict(DAY_FORMS)[settings.day_form], "in every date"),
            SettingRow("maker", "Initials", settings.maker or "none", "shown in the ledger"),
            SettingRow("maker_name", "Maker", settings.maker_name or "none", "name on labels"),
            SettingRow("why_required", "Reason", reason, "why a correction was made"),
            SettingRow("steep_days", "Days to steep", str(settings.steep_days), new_jar),
            SettingRow("shakes_per_day", "Shakes a day", str(settings.shakes_per_day), new_jar),
            SettingRow("months_in_hand", "Months in hand",
                       self.page.wording.number(settings.months_in_hand),
                       "how long stock should last"),
            SettingRow("moon", "Phase of moon", "yes" if settings.moon else "no",
                       "a column of the plan; folk practice"),
            SettingRow("dried_good", "Dried herb", settings.dried_good or "usual months",
                       "months it stays good, by part"),
            SettingRow("drops_per_ml", "Dropper", drops, "drops in a millilitre"),
            SettingRow("alcoholometer", "Alcoholometer", instrument, "proof at 60 °F, % at 20 °C"),
            SettingRow(
                "releases", "Batch release", "yes" if settings.releases else "no",
                "needed before using a batch",
            ),
            SettingRow("call", "Alert", CALLS.get(settings.call, "no"), "when a jar falls due"),
            SettingRow("shakes_by", "Shakes by", by, "alert if any are still to do"),
            SettingRow("quiet_minutes", "Quiet after", quiet, "idle: large, dimmed figures"),
            SettingRow("scan_gap_ms", "Scanner pace", pace, "longest gap between its keys"),
            SettingRow("scan_prefix", "Scanner prefix", settings.scan_prefix or "none",
                       "what it types before a code"),
            SettingRow("theme", "Theme", f"{settings.theme}, {THEMES[settings.theme]}",
                       "the screen's colours"),
            SettingRow("glyphs", "Glyphs", GLYPHS[settings.glyphs], "applies after a restart"),
            SettingRow(
                "label_caution", "Own caution", settings.label_caution or "none",
                "added to every label",
            ),
            SettingRow(
                "label_language", "Label language", languages()[settings.label_language],
                "words on labels",
            ),
            SettingRow(
                "label_word", "Product word", settings.label_word or "Tincture", "on labels"
            ),
            SettingRow(
                "backup_folder", "Backups go to", settings.backup_folder or "beside the shelf",
                "one a day, automatically",
            ),
            SettingRow(
                "print_command", "Print command", settings.print_command or "none",
                "offered wherever a file is written",
            ),
        ]  # fmt: skip

    def key(self, row: SettingRow) -> object:
        """Its name in Settings."""
        return row.field

    def cells(self, row: SettingRow) -> tuple[Cell, ...]:
        """Label, value, meaning."""
        return (Cell(row.label), Cell(row.value, "strong"), Cell(row.meaning, "quiet"))

    def words(self, row: SettingRow) -> tuple[str, ...]:
        """The text that is searched: label, value and meaning."""
        return (row.label, row.value, row.meaning)

    def about(self, row: SettingRow) -> Text:
        """The value in full."""
        return words_about(row.label, row.meaning, safe(row.value))

    def form(self, row: SettingRow | None) -> Dialog[Any]:
        """All settings, beginning at this one."""
        return SettingsDialog(self.keeper, row.field if row else "")
