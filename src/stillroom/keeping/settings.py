"""The settings of a shelf, in one file, as each has a line in every table of it."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache, partial
from typing import Any

from stillroom.dates import DayForm
from stillroom.errors import NeedsConfirmation, NotUnderstood
from stillroom.files import make_folder
from stillroom.keeping.keeper import Keeper
from stillroom.keeping.label_words import ENGLISH, language_from
from stillroom.keeping.print_command import print_words
from stillroom.keeping.trusted import folder_in_doubt, trust_command, trust_folder
from stillroom.keeping.words import clean_name, clean_note
from stillroom.paths import refuse_unusable, typed_path
from stillroom.quantities import UnitSystem
from stillroom.reckoning.dried_herb import own_months
from stillroom.reckoning.plant import Part

DEFAULT_STEEP_DAYS = 14
"""A fortnight (common practice, no source)."""
DEFAULT_SHAKES_PER_DAY = 1
"""Once a day (common practice, no source)."""

LATELY, MOST_SEEN = 2000, 8
"""Entries in which it is looked who was at the shelf, and how many people are listed."""
DEFAULT_MONTHS = 12.0
"""Months of use to have in hand: a year's, as most herbs can be gathered once a year. Judgement."""
MOST_MONTHS = 120
MOST_STEEP_DAYS, MOST_SHAKES = 3650, 9
DEFAULT_SCAN_GAP_MS, MOST_SCAN_GAP_MS = 50, 500
"""A scanner's keys come within a few milliseconds, a quick typist's seldom within 50 (common
practice, no source)."""

CALLS = {"bell": "bell", "osc9": "notification (OSC 9)", "osc777": "notification (OSC 777)"}
"""How a terminal can call: it has one of these, or none."""
DEFAULT_QUIET_MINUTES, MOST_QUIET_MINUTES = 20, 1440

ALCOHOLOMETERS = {"20c": "20 °C", "15c": "15 °C", "60f": "60 °F"}
"""Calibration temperatures printed on alcoholometers, by the calculator's keys."""

THEMES = {"dusk": "dark", "noon": "light"}
"""The screen's two themes, and what each is."""
GLYPHS = {"auto": "by the terminal", "full": "all", "plain": "plain ones only"}
"""Which glyphs the screen draws with."""

LABELS = {
    "units": "Units",
    "decimal_comma": "Decimal mark",
    "currency": "Currency",
    "day_form": "Dates",
    "maker": "Initials",
    "maker_name": "Maker",
    "why_required": "Reason",
    "steep_days": "Days to steep",
    "shakes_per_day": "Shakes a day",
    "months_in_hand": "Months in hand",
    "moon": "Phase of moon",
    "dried_good": "Dried herb",
    "drops_per_ml": "Dropper",
    "label_caution": "Own caution",
    "label_language": "Label language",
    "label_word": "Product word",
    "backup_folder": "Backups go to",
    "print_command": "Print command",
    "alcoholometer": "Alcoholometer",
    "releases": "Batch release",
    "scan_gap_ms": "Scanner pace",
    "scan_prefix": "Scanner prefix",
    "call": "Alert",
    "shakes_by": "Shakes by",
    "quiet_minutes": "Quiet after",
    "theme": "Theme",
    "glyphs": "Glyphs",
}
"""What each setting is called on screen and in the ledger."""


@dataclass(frozen=True)
class Settings:
    """The settings of a shelf."""

    units: UnitSystem = UnitSystem.METRIC
    decimal_comma: bool = False
    currency: str = ""
    """A sign such as € or a code such as EUR, printed with prices."""
    day_form: DayForm = DayForm.DAY_MONTH_YEAR
    """How days are written out."""
    maker: str = ""
    """Initials of the person at work, for the ledger."""
    maker_name: str = ""
    """Printed on labels."""
    why_required: bool = False
    """Whether a correction must say why."""
    steep_days: int = DEFAULT_STEEP_DAYS
    shakes_per_day: int = DEFAULT_SHAKES_PER_DAY
    months_in_hand: float = DEFAULT_MONTHS
    """Months of use to have of each tincture, where its herb doesn't say otherwise."""
    moon: bool = False
    """Whether the plan lists the phase of the moon (folk practice, no source)."""
    dried_good: str = ""
    """Months for which dried herb is good, by part, as typed; blank for the usual ones."""
    drops_per_ml: float | None = None
    """Counted with your own dropper."""
    label_caution: str = ""
    """Printed on every label below the herb's cautions."""
    label_language: str = ENGLISH
    """Language of the words on labels, a column of `label_words.csv`."""
    label_word: str = ""
    """What labels call the product; blank for "Tincture" in their language."""
    backup_folder: str = ""
    """Folder of the daily backups, as typed; blank for one beside the shelf."""
    print_command: str = ""
    """The command that prints a file, FILE in place of its name; blank where there is none."""
    alcoholometer: str = ""
    """Its calibration temperature, a key of ALCOHOLOMETERS; blank where its scale decides."""
    releases: bool = False
    """Whether each new batch waits until somebody releases or rejects it."""
    scan_gap_ms: int = DEFAULT_SCAN_GAP_MS
    """Keys that follow each other within so many milliseconds may be a scanner's; 0 for none."""
    scan_prefix: str = ""
    """Letters that the scanner types before each code; blank where it types none."""
    call: str = ""
    """How the terminal calls when a jar falls due, a key of CALLS; blank for not at all."""
    shakes_by: int | None = None
    """The hour of the day by which the shakes are to be done, to call for them; None for none."""
    quiet_minutes: int = DEFAULT_QUIET_MINUTES
    """Minutes without a key after which the screen shows the quiet view; 0 for never."""
    theme: str = "dusk"
    """Of the screen, a key of THEMES; where a terminal has few colours, its counterpart there."""
    glyphs: str = "auto"
    """Of the screen, a key of GLYPHS."""


def settings_of(keeper: Keeper) -> Settings:
    """The settings as kept, defaults where there are none."""
    return _understood(tuple(keeper.stored_settings().items()))


@lru_cache(maxsize=4)
def _understood(stored: tuple[tuple[str, str], ...]) -> Settings:
    """What settings mean as they are stored: asked for with every line that is drawn."""
    texts = dict(stored)
    return Settings(
        units=_read(texts, "units", UnitSystem.METRIC),
        decimal_comma=_read(texts, "decimal_comma", False),
        currency=_read(texts, "currency", ""),
        day_form=_read(texts, "day_form", DayForm.DAY_MONTH_YEAR),
        maker=texts.get("maker", ""),
        maker_name=texts.get("maker_name", ""),
        why_required=_read(texts, "why_required", False),
        steep_days=_read(texts, "steep_days", DEFAULT_STEEP_DAYS),
        shakes_per_day=_read(texts, "shakes_per_day", DEFAULT_SHAKES_PER_DAY),
        months_in_hand=_read(texts, "months_in_hand", DEFAULT_MONTHS),
        moon=_read(texts, "moon", False),
        dried_good=_read(texts, "dried_good", ""),
        drops_per_ml=_read(texts, "drops_per_ml", None),
        label_caution=texts.get("label_caution", ""),
        label_language=_read(texts, "label_language", ENGLISH),
        label_word=texts.get("label_word", ""),
        backup_folder=texts.get("backup_folder", ""),
        print_command=texts.get("print_command", ""),
        alcoholometer=_read(texts, "alcoholometer", ""),
        releases=_read(texts, "releases", False),
        scan_gap_ms=_read(texts, "scan_gap_ms", DEFAULT_SCAN_GAP_MS),
        scan_prefix=texts.get("scan_prefix", ""),
        call=_read(texts, "call", ""),
        shakes_by=_read(texts, "shakes_by", None),
        quiet_minutes=_read(texts, "quiet_minutes", DEFAULT_QUIET_MINUTES),
        theme=_read(texts, "theme", "dusk"),
        glyphs=_read(texts, "glyphs", "auto"),
    )


def refuse_without_why(keeper: Keeper, why: str) -> None:
    """Raise NotUnderstood where a correction gives no reason, and the settings ask for one."""
    if not why and settings_of(keeper).why_required:
        raise NotUnderstood("A reason is needed: the settings of this shelf ask for one.")


def odd_settings(keeper: Keeper) -> tuple[str, ...]:
    """Names of settings whose values break their rules; their defaults are used instead."""
    return tuple(name for name in _RULES if _is_odd(name, keeper.setting(name)))


def refuse_odd_settings(keeper: Keeper) -> None:
    """Raise NotUnderstood where a stored setting breaks its rule."""
    for name in odd_settings(keeper):
        raise NotUnderstood(f"{LABELS[name]} can't be {keeper.setting(name)[:40]}")


def word_about_settings(keeper: Keeper) -> str:
    """A warning that defaults are used for impossible settings; blank where there are none."""
    return " ".join(
        f"The setting {LABELS[name]} can't be {keeper.setting(name)[:40]}. "
        "Until you set it again, the default is used."
        for name in odd_settings(keeper)
    )


def _read(texts: dict[str, str], name: str, default: Any) -> Any:
    """A setting by its rule; the default where there is none, or one that breaks the rule."""
    text = texts.get(name, "")
    return default if not text or _is_odd(name, text) else _RULES[name](text)


def _is_odd(name: str, text: str) -> bool:
    try:
        if text:
            _RULES[name](text)
    except ValueError:
        return True
    return False


def _whole_number(text: str, most: int) -> int:
    number = int(text)
    if not 0 <= number <= most:
        raise ValueError(text)
    return number


def _months(text: str) -> float:
    months = float(text)
    if not 0 < months <= MOST_MONTHS:
        raise ValueError(text)
    return months


def _drops(text: str) -> float:
    drops = float(text)
    if not 0 < drops < math.inf:
        raise ValueError(text)
    return drops


def _yes(text: str) -> bool:
    if text != "yes":
        raise ValueError(text)
    return True


def _currency(text: str) -> str:
    """A sign or code of money; refuses what could be taken for part of a number."""
    text = clean_name(text, "The currency", required=False, limit=6)
    if any(sign.isspace() or sign.isdigit() or sign in ".,-+/:%{}" for sign in text):
        raise NotUnderstood("Currency: a sign or code such as € or EUR, without digits.")
    return text


def _dried_good(text: str) -> str:
    """Parts with their months, each once, in the order of the parts."""
    months = own_months(text)
    return ", ".join(f"{part} {months[part]}" for part in Part if part in months)


def _alcoholometer(key: str) -> str:
    if key and key not in ALCOHOLOMETERS:
        known = ", ".join(ALCOHOLOMETERS)
        raise NotUnderstood(f"An alcoholometer is calibrated at {known}, not at {key}.")
    return key


def _print_command(text: str) -> str:
    command = clean_name(text, "The print command", required=False, limit=500)
    print_words(command)
    return command


def _call(key: str) -> str:
    if key and key not in CALLS:
        raise NotUnderstood(f"Alert can be {', '.join(CALLS)} or blank, not {key}.")
    return key


def _one_of(name: str, known: Mapping[str, str], key: str) -> str:
    if key not in known:
        raise NotUnderstood(f"{LABELS[name]} can be {', '.join(known)}, not {key[:40]}.")
    return key


_RULES: dict[str, Callable[[str], Any]] = {
    "units": UnitSystem,
    "decimal_comma": _yes,
    "currency": _currency,
    "day_form": DayForm,
    "why_required": _yes,
    "steep_days": partial(_whole_number, most=MOST_STEEP_DAYS),
    "shakes_per_day": partial(_whole_number, most=MOST_SHAKES),
    "months_in_hand": _months,
    "moon": _yes,
    "dried_good": _dried_good,
    "drops_per_ml": _drops,
    "alcoholometer": _alcoholometer,
    "label_language": language_from,
    "releases": _yes,
    "call": _call,
    "shakes_by": partial(_whole_number, most=23),
    "quiet_minutes": partial(_whole_number, most=MOST_QUIET_MINUTES),
    "scan_gap_ms": partial(_whole_number, most=MOST_SCAN_GAP_MS),
    "theme": partial(_one_of, "theme", THEMES),
    "glyphs": partial(_one_of, "glyphs", GLYPHS),
}
"""How each setting is read that cannot be any text; ValueError where it breaks its rule."""


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else ""
    return "" if value is None else str(value)


def save_settings(keeper: Keeper, settings: Settings, *, confirmed: bool = False) -> Settings:
    """Save these settings.

    Raises NotUnderstood where one breaks its rule, and NeedsConfirmation where the backup folder
    that came with the file was never confirmed on this computer.
    """
    settings = _checked(settings)
    before = settings_of(keeper)
    if settings.backup_folder != before.backup_folder:
        settings = replace(settings, backup_folder=_folder(settings.backup_folder))
    elif (folder := folder_in_doubt(keeper)) and not confirmed:
        raise NeedsConfirmation(
            f"Backups will go to {folder}, which came with this shelf and was never confirmed on "
            "this computer. Save anyway?"
        )
    if settings.print_command != before.print_command and settings.print_command:
        trust_command(settings.print_command)
    if settings.backup_folder:
        trust_folder(typed_path(settings.backup_folder))
    odd = odd_settings(keeper)
    changed = {
        f.name: _written(getattr(settings, f.name))
        for f in fields(Settings)
        if getattr(settings, f.name) != getattr(before, f.name) or f.name in odd
    }
    with keeper.act("Changed the settings") as act:
        for name, value in changed.items():
            keep_setting(name, value)
        if changed:
            act.note("settings", "Changed " + ", ".join(LABELS[name] for name in changed))
    keeper.forget_settings()
    if "maker" in changed:
        keeper.at_shelf = None
    return settings


def _checked(settings: Settings) -> Settings:
    """The settings with their texts cleaned; NotUnderstood where one breaks its rule."""
    if not 0 <= settings.steep_days <= MOST_STEEP_DAYS:
        raise NotUnderstood(f"Days to steep must be a number from 0 to {MOST_STEEP_DAYS}.")
    if not 0 <= settings.shakes_per_day <= MOST_SHAKES:
        raise NotUnderstood(f"Shakes a day must be a number from 0 to {MOST_SHAKES}.")
    if not 0 < settings.months_in_hand <= MOST_MONTHS:
        raise NotUnderstood(f"Months in hand must be above 0 and at most {MOST_MONTHS}.")
    if not 0 <= settings.scan_gap_ms <= MOST_SCAN_GAP_MS:
        raise NotUnderstood(
            f"Scanner pace must be a number from 0 to {MOST_SCAN_GAP_MS} milliseconds."
        )
    _call(settings.call)
    if settings.shakes_by is not None and not 0 <= settings.shakes_by <= 23:
        raise NotUnderstood("Shakes by must be an hour from 0 to 23, or blank.")
    if not 0 <= settings.quiet_minutes <= MOST_QUIET_MINUTES:
        raise NotUnderstood(
            f"Quiet after must be a number of minutes from 0 to {MOST_QUIET_MINUTES}."
        )
    _alcoholometer(settings.alcoholometer)
    _one_of("theme", THEMES, settings.theme)
    _one_of("glyphs", GLYPHS, settings.glyphs)
    if settings.drops_per_ml is not None and not settings.drops_per_ml > 0:
        raise NotUnderstood("Dropper: the drops must be greater than zero, or blank.")
    return replace(
        settings,
        currency=_currency(settings.currency),
        dried_good=_dried_good(settings.dried_good),
        maker=clean_name(settings.maker, "The initials", required=False, limit=12),
        maker_name=clean_name(settings.maker_name, "The maker's name", required=False),
        scan_prefix=clean_name(
            settings.scan_prefix, "The scanner's prefix", required=False, limit=8
        ),
        label_caution=clean_note(settings.label_caution, "The caution", limit=500),
        label_language=language_from(settings.label_language),
        print_command=_print_command(settings.print_command),
        label_word=clean_name(settings.label_word, "The product word", required=False, limit=40),
    )


def come_to_shelf(keeper: Keeper, initials: str) -> str:
    """From now on, record these initials in this window; blank for none."""
    keeper.at_shelf = clean_name(initials, "The initials", required=False, limit=12)
    return keeper.at_shelf


def seen_at_shelf(keeper: Keeper) -> list[str]:
    """Initials in the newest entries, and those of the settings, the latest first."""
    found = keeper.rows(
        """SELECT maker FROM (SELECT id, maker FROM event ORDER BY id DESC LIMIT ?)
           WHERE maker <> '' GROUP BY maker ORDER BY max(id) DESC LIMIT ?""",
        LATELY, MOST_SEEN,
    )  # fmt: skip
    known = [keeper.maker, *(maker for (maker,) in found), keeper.setting("maker")]
    return list(dict.fromkeys(filter(None, known)))


def _folder(typed: str) -> str:
    """A full path, valid wherever the program is started; the folder is made if missing."""
    typed = clean_name(typed, "The folder", required=False, limit=1000)
    if not typed:
        return ""
    path = typed_path(typed)
    refuse_unusable(path)
    if path.exists() and not path.is_dir():
        raise NotUnderstood(f"Backups: {path} is a file. Enter a folder.")
    if not path.is_absolute():
        raise NotUnderstood(f"Backups: enter the full path, such as ~/{typed}.")
    try:
        make_folder(path)
    except OSError as error:
        raise NotUnderstood(
            f"Backups: the folder {path} can't be made: {error.strerror}."
        ) from error
    return typed


def keep_setting(name: str, value: str) -> None:
    """Write one setting inside a running act."""
    from stillroom.records.tables import Setting  # no start waits for the tables

    if not Setting.update(value=value).where(Setting.name == name).execute():
        Setting.insert(name=name, value=value).execute()


def remember(keeper: Keeper, name: str, value: str) -> None:
    """Store something for the program's own use, outside undo.

    A read-only shelf forgets it.
    """
    if keeper.store.read_only or keeper.setting(name) == value:
        return
    with keeper.writing():
        keep_setting(name, value)
