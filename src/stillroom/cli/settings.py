"""`settings`."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from stillroom.cli.call import Call
from stillroom.cli.form import (
    Done,
    Form,
    FormField,
    Values,
    amount,
    choice,
    shakes,
    whole_number,
    yes_or_no,
)
from stillroom.cli.output import put, put_json
from stillroom.dates import DayForm
from stillroom.errors import Refused
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_words import languages
from stillroom.keeping.settings import (
    ALCOHOLOMETERS,
    CALLS,
    GLYPHS,
    LABELS,
    THEMES,
    Settings,
    save_settings,
    settings_of,
)
from stillroom.keeping.wording import Wording
from stillroom.paths import typed_path
from stillroom.quantities import UnitSystem
from stillroom.reckoning.kinds import Kind

BY_ITS_SCALE = "by its scale"
NO_CALL = "no"
BLANK: Mapping[str, object] = {
    "currency": "", "maker": "", "maker_name": "", "dried_good": "", "drops_per_ml": None,
    "label_caution": "", "label_word": "", "backup_folder": "", "print_command": "",
    "scan_prefix": "", "shakes_by": None,
}  # fmt: skip
"""What a setting is once it is given blank."""


def _text(name: str, hint: str) -> FormField:
    return FormField(name, LABELS[name], hint=hint, can_be_blank=True)


SETTINGS = (
    choice("units", LABELS["units"], list(UnitSystem)),
    choice("decimal_comma", LABELS["decimal_comma"], ("point", "comma")),
    _text("currency", "such as € or EUR"),
    choice("day_form", LABELS["day_form"], list(DayForm)),
    _text("maker", "shown in the ledger"),
    _text("maker_name", "name printed on labels"),
    yes_or_no("why_required", LABELS["why_required"], hint="whether a correction needs a reason"),
    FormField("steep_days", LABELS["steep_days"], whole_number(Kind.DAYS), "default for new jars"),
    FormField("shakes_per_day", LABELS["shakes_per_day"], shakes, "default for new jars, 0 to 9"),
    FormField("months_in_hand", LABELS["months_in_hand"], amount(Kind.NUMBER),
              "months of use the plan aims at"),
    yes_or_no("moon", LABELS["moon"], hint="whether the plan lists it; folk practice, no source"),
    _text("dried_good", "months it stays good, such as leaf 18, root 36; blank: usual"),
    FormField("drops_per_ml", LABELS["drops_per_ml"], amount(Kind.NUMBER), "drops in a millilitre",
          can_be_blank=True),
    choice("alcoholometer", LABELS["alcoholometer"], (BY_ITS_SCALE, *ALCOHOLOMETERS)),
    choice("theme", LABELS["theme"], tuple(THEMES)),
    choice("glyphs", LABELS["glyphs"], tuple(GLYPHS)),
    yes_or_no("releases", LABELS["releases"], hint="whether a new batch waits to be released"),
    FormField("scan_gap_ms", LABELS["scan_gap_ms"], whole_number(Kind.COUNT),
              "most milliseconds between a scanner's keys, 0 for no scanner"),
    choice("call", LABELS["call"], (NO_CALL, *CALLS)),
    FormField("shakes_by", LABELS["shakes_by"], whole_number(Kind.COUNT),
              "hour, 0 to 23, at which to alert you to missing shakes", can_be_blank=True),
    FormField("quiet_minutes", LABELS["quiet_minutes"], whole_number(Kind.COUNT),
              "minutes without a key until the quiet view, 0 for never"),
    _text("scan_prefix", "what the scanner types before a code"),
    _text("label_caution", "added to every label"),
    choice("label_language", LABELS["label_language"], tuple(languages())),
    _text("label_word", "on labels; blank: Tincture"),
    _text("backup_folder", "a folder; blank: beside the shelf"),
    _text("print_command", "such as lp -d labels FILE"),
)  # fmt: skip


def _wanted(before: Settings, values: Values) -> Settings:
    wanted: dict[str, Any] = {k: BLANK[k] if v is None else v for k, v in values.items()}
    if "units" in wanted:
        wanted["units"] = UnitSystem(wanted["units"])
    if "day_form" in wanted:
        wanted["day_form"] = DayForm(wanted["day_form"])
    if "decimal_comma" in wanted:
        wanted["decimal_comma"] = wanted["decimal_comma"] == "comma"
    if wanted.get("alcoholometer") == BY_ITS_SCALE:
        wanted["alcoholometer"] = ""
    if wanted.get("call") == NO_CALL:
        wanted["call"] = ""
    return replace(before, **wanted)


def _save(call: Call, keeper: Keeper, values: Values, confirmed: bool) -> Done:
    wanted = _wanted(settings_of(keeper), values)
    if call.asked.dry_run and values.get("backup_folder"):
        folder = typed_path(wanted.backup_folder)
        if not folder.is_dir():
            raise Refused(
                f"backup_folder: {folder} doesn't exist yet, and a dry run doesn't create it."
            )
    saved = save_settings(keeper, wanted, confirmed=confirmed)
    return Done([_line(name, saved) for name in values], lambda: _json(saved))


def _json(settings: Settings) -> dict[str, Any]:
    return asdict(settings)


def _line(name: str, settings: Settings) -> str:
    value = getattr(settings, name)
    said = Wording.of_shelf(settings)
    shown = said.number(value) if isinstance(value, float) else _shown(name, value)
    return f"{name}={shown}: {LABELS[name]}"


def _shown(name: str, value: object) -> str:
    """A setting as it can be typed."""
    if name == "decimal_comma":
        return "comma" if value else "point"
    if name == "alcoholometer":
        return str(value) or BY_ITS_SCALE
    if name == "call":
        return str(value) or NO_CALL
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


def _show(call: Call) -> int:
    if call.asked.json:
        put_json(call, _json(call.settings))
        return 0
    for entry in SETTINGS:
        put(_line(entry.key, call.settings))
    return 0


COMMANDS = {
    "settings": Form(
        SETTINGS,
        _save,
        notes="Without values, this lists them. FIELD= with nothing after it clears a text.",
        show=_show,
        asks=False,
        begins_shelf=True,
    ).command()
}
