"""From a person's own list of jars and bottles, however they keep it, onto the shelf."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from ...dates import parse_day
from ...errors import NotUnderstood, Refused
from ...quantities import (
    UnitSystem,
    parse_count,
    parse_mass,
    parse_strength,
    parse_volume,
    show,
)
from ...reckoning.charge import (
    Charge,
    Condition,
    Part,
    default_water_fraction,
    liquid_in_jar,
    ratio_n,
)
from ...reckoning.kinds import Kind
from ...reckoning.mixing import Liquid
from ...reckoning.shelf_life import keep_until
from ...reckoning.yields import Pressing
from ...records import Bottle, ChargeLine, Jar, Movement, Pour, Shelf, Straining, Tincture
from ..codes import bottle_code, next_batch_code
from ..drafts import ChargeDraft
from ..jars import FIRST_SHELF, herb_named
from ..keeper import Act, Keeper, plain_failures
from ..preferences import preferences
from ..words import clean_name, clean_note
from .cells import one_of
from .reading import TakenBack
from .report import BadLine, ImportReport
from .sheet import Sheet

# What each column may be called; case, signs and a unit at the end do not matter.
_HEADINGS = {
    "herb": "herb|plant|name|common name|tincture",
    "date": "date|filled|filled on|date filled|made|made on|date made|started|day",
    "botanical": "botanical|botanical name|latin|latin name|scientific name|species",
    "part": "part|part used|plant part|part of plant",
    "condition": "condition|fresh or dried|fresh dried|dried or fresh|fresh",
    "mass": "mass|weight|herb mass|herb weight|amount of herb|grams",
    "volume": "volume|liquid|menstruum|poured|spirit|alcohol volume|spirit volume|amount of liquid",
    "strength": "strength|abv|alcohol|proof|spirit strength|percent|alcohol strength",
    "strain_on": "strain|strain on|due|due on|ready|ready on|strain date|strain by",
    "strained": "strained|strained on|date strained|strained date",
    "yield": "yield|yielded|got|strained volume",
    "size": "bottle|bottle size|size|bottle volume",
    "left": "left|remaining|in bottle|what is left|contents",
    "place": "place|where|location|bottle place|stands",
    "shelf": "shelf|on shelf",
    "code": "code|batch|batch code|batch number|batch no|label|lot",
    "capacity": "jar|jar size|jar volume|capacity",
    "shakes": "shakes|shakes a day|shakes per day",
    "gathered": "gathered|gathered on|harvested|picked|harvest date",
    "origin": "origin|source|from|bought from|supplier|grower",
    "note": "note|notes|remark|remarks|comment|comments",
}

_PARTS = {
    Part.LEAF: "leaf leaves",
    Part.AERIAL_PARTS: "aerial tops herb herba",
    Part.FLOWER: "flower flowers blossom blossoms petals flos",
    Part.FRUIT: "fruit fruits berry berries hips hip",
    Part.SEED: "seed seeds",
    Part.ROOT: "root roots rhizome bulb radix",
    Part.BARK: "bark cortex",
    Part.RESIN: "resin gum",
    Part.WHOLE_PLANT: "whole",
}
_CONDITIONS = {Condition.FRESH: "fresh green", Condition.DRIED: "dried dry"}


@dataclass(frozen=True)
class _Entry:
    """One line of the notebook, understood."""

    line: int
    herb: str
    date: date
    botanical: str = ""
    part: Part | None = None
    condition: Condition | None = None
    mass: float | None = None
    """g."""
    volume: float | None = None
    """mL poured on."""
    strength: float | None = None
    """% v/v of what was poured on."""
    strain_on: date | None = None
    strained: date | None = None
    yielded: float | None = None
    """mL strained."""
    size: float | None = None
    """mL the bottle takes."""
    left: float | None = None
    """mL in the bottle."""
    place: str = ""
    shelf: str = ""
    code: str = ""
    capacity: float | None = None
    """mL the jar takes."""
    shakes: int | None = None
    gathered: date | None = None
    origin: str = ""
    note: str = ""

    @property
    def in_bottle_ml(self) -> float | None:
        """What its bottle holds: a full one unless it says otherwise; None where it tells of none."""
        return self.size if self.left is None else self.left

    @property
    def batch(self) -> object:
        """What the bottles of one batch have in common."""
        if self.code:
            return self.code
        if self.in_bottle_ml is None:
            return self.line
        return (self.herb.casefold(), self.part, self.condition, self.date, self.strained)


def import_notebook(
    keeper: Keeper, file: Path, *, day_first: bool | None = None, dry_run: bool = False
) -> ImportReport:
    """Take over a spreadsheet of jars and bottles in one undoable act; herb and date suffice.

    A line with a bottle is a finished tincture, one without is a jar that steeps unless it says
    when it was strained. What a notebook does not say and the shelf must know is taken as usual,
    told in the report and noted on the jar. With any bad line nothing is changed.
    """
    notebook = _Notebook(keeper, file, day_first)
    batches = notebook.read()
    try:
        with keeper.act(f"Took over {file.name}") as act:
            for batch in batches:
                notebook.take_over(act, batch)
            if notebook.bad or dry_run:
                raise TakenBack
            count = notebook.added["jars"]
            act.title = f"Took over {count} {'jar' if count == 1 else 'jars'} from {file.name}"
    except TakenBack:
        pass
    return ImportReport(
        bad=tuple(notebook.bad),
        added=dict(notebook.added),
        assumed=notebook.assumptions(),
        dry_run=dry_run,
    )


class _Notebook:
    """One pass over a notebook."""

    def __init__(self, keeper: Keeper, file: Path, day_first: bool | None) -> None:
        self.bad: list[BadLine] = []
        self.added = {"jars": 0, "bottles": 0}
        self._keeper = keeper
        self._file = file
        self._day_first = day_first
        self._habits = preferences(keeper)
        self._assumed: dict[str, list[int]] = defaultdict(list)

    def read(self) -> list[list[_Entry]]:
        """The lines that can be understood, those of one batch together."""
        sheet = Sheet(self._file, _HEADINGS)
        missing = [name for name in ("herb", "date") if name not in sheet.columns]
        if sheet.problem or missing:
            said = sheet.problem or f"A column called {' and one called '.join(missing)} is needed."
            self._blame(1 if missing else None, "", said)
            return []
        if sheet.unknown:
            self._assumed[f"Passed over the columns {', '.join(sheet.unknown)}"] = []
        batches: dict[object, list[_Entry]] = defaultdict(list)
        for line, cells in sheet:
            entry = self._understand(line, cells)
            if entry is not None:
                batches[entry.batch].append(entry)
        return list(batches.values())

    def assumptions(self) -> tuple[str, ...]:
        """What was taken as usual, with the lines it concerns."""
        return tuple(
            f"{what} ({_line_numbers(lines)})." if lines else f"{what}."
            for what, lines in self._assumed.items()
        )

    def _blame(self, line: int | None, column: str, message: str) -> None:
        self.bad.append(BadLine(self._file.name, line, column, message))

    def _understand(self, line: int, cells: dict[str, str]) -> _Entry | None:
        values: dict[str, Any] = {}
        is_good = True
        for column, text in cells.items():
            try:
                value = self._value(column, text)
            except NotUnderstood as error:
                self._blame(line, column, str(error))
                is_good = False
            else:
                if value is not None:
                    values[_FIELDS.get(column, column)] = value
        return self._sensible(_Entry(line, **values)) if is_good else None

    def _value(self, column: str, text: str) -> Any:
        if not text:
            if column in ("herb", "date"):
                raise NotUnderstood("Needed.")
            return None
        return _READERS[column](self, text)

    def day(self, text: str) -> date:
        """A day, as a person writes it or as a spreadsheet does."""
        plain = text.removesuffix(" 00:00:00").removesuffix(" 0:00").removesuffix(" 00:00")
        return parse_day(plain, self._keeper.today, day_first=self._day_first)

    def past_day(self, text: str) -> date:
        """A day that has come."""
        day = self.day(text)
        if day > self._keeper.today:
            raise NotUnderstood("That day lies in the future.")
        return day

    @property
    def units(self) -> UnitSystem:
        """The units of bare numbers."""
        return self._habits.units

    def _sensible(self, entry: _Entry) -> _Entry | None:
        for column, is_wrong, message in (
            (
                "strained",
                entry.strained is not None and entry.strained < entry.date,
                "It lies before the day of filling.",
            ),
            (
                "strain",
                entry.strain_on is not None and entry.strain_on < entry.date,
                "It lies before the day of filling.",
            ),
            (
                "left",
                entry.left is not None and entry.size is not None and entry.left > entry.size,
                "The bottle does not take that much.",
            ),
            (
                "yield",
                entry.strained is not None and entry.yielded is None and entry.in_bottle_ml is None,
                "Strained, then how much came out? Or leave the day of straining blank.",
            ),
        ):
            if is_wrong:
                self._blame(entry.line, column, message)
                return None
        return entry

    def take_over(self, act: Act, batch: list[_Entry]) -> None:
        """Write down one batch: its jar, and what it became."""
        first = batch[0]
        odd = next((e for e in batch if e.herb.casefold() != first.herb.casefold()), None)
        if odd is None:
            odd = next((e for e in batch[1:] if e.in_bottle_ml is None), None)
        if odd is not None:
            self._blame(odd.line, "code", f"{odd.code} is the code of line {first.line} already.")
            return
        try:
            with plain_failures():
                self._write(act, batch)
        except Refused as error:
            self._blame(first.line, "code" if first.code else "", str(error))

    def _write(self, act: Act, batch: list[_Entry]) -> None:
        first = batch[0]
        is_strained = any(e.in_bottle_ml is not None or e.yielded is not None for e in batch)
        strained_on = first.strained or first.date
        code = first.code or next_batch_code(self._keeper, first.date)
        shelf_id = _shelf_named(first.shelf)
        jar_id = Jar.insert(
            code=code,
            shelf=shelf_id,
            place=_next_place(shelf_id),
            filled_on=first.date,
            strain_on=first.strain_on
            or (strained_on if is_strained else first.date + timedelta(self._habits.steep_days)),
            shakes_per_day=self._habits.shakes_per_day if first.shakes is None else first.shakes,
            capacity_ml=first.capacity,
            state="strained" if is_strained else "steeping",
            ended_on=strained_on if is_strained else None,
            note=self._note(first, is_strained),
        ).execute()
        part, condition = first.part or Part.AERIAL_PARTS, first.condition or Condition.DRIED
        charge = ChargeDraft(first.herb, part, condition, botanical=first.botanical)
        ChargeLine.insert(
            jar=jar_id,
            herb=herb_named(charge),
            part=part,
            condition=condition,
            mass_g=first.mass,
            gathered_on=first.gathered,
            origin=first.origin,
        ).execute()
        if first.volume is not None and first.strength is not None:
            Pour.insert(
                jar=jar_id,
                kind="spirit" if first.strength else "water",
                volume_ml=first.volume,
                strength_abv=first.strength,
                poured_on=first.date,
            ).execute()
        act.note("filled", f"Taken over from {self._file.name}", jar_id=jar_id)
        self.added["jars"] += 1
        if is_strained:
            self._write_tincture(act, batch, jar_id, code, strained_on)

    def _write_tincture(
        self, act: Act, batch: list[_Entry], jar_id: int, code: str, strained_on: date
    ) -> None:
        first = batch[0]
        bottles = [(e, e.in_bottle_ml) for e in batch if e.in_bottle_ml is not None]
        bottled_ml = sum(ml for _, ml in bottles)
        yield_ml = next((e.yielded for e in batch if e.yielded is not None), bottled_ml)
        if bottled_ml > yield_ml:
            raise Refused(
                f"Its bottles hold {show(Kind.VOLUME, bottled_ml)}, "
                f"more than the {show(Kind.VOLUME, yield_ml)} strained."
            )
        straining_id = Straining.insert(
            jar=jar_id, strained_on=strained_on, yield_ml=yield_ml, pressing=Pressing.SQUEEZED
        ).execute()
        strength, strength_by, ratio = _reckoned(first)
        tincture_id = Tincture.insert(
            code=code,
            straining=straining_id,
            made_on=strained_on,
            volume_ml=yield_ml,
            strength_abv=strength,
            strength_by=strength_by,
            ratio=ratio,
            keep_until=None if strength is None else keep_until(strained_on, strength),
            lost_ml=yield_ml - bottled_ml if bottles else 0.0,
        ).execute()
        for number, (entry, volume_ml) in enumerate(bottles, start=1):
            bottle_id = Bottle.insert(
                code=bottle_code(code, number),
                tincture=tincture_id,
                size_ml=entry.size or volume_ml,
                filled_on=strained_on,
                place=entry.place,
            ).execute()
            Movement.insert(
                bottle=bottle_id,
                volume_ml=volume_ml,
                kind="fill",
                at=act.at,
                day=strained_on,
                maker=act.maker,
                note=entry.note if entry is not first else "",
            ).execute()
        self.added["bottles"] += len(bottles)

    def _note(self, entry: _Entry, is_strained: bool) -> str:
        """Its note, with what the notebook leaves open; that is told in the report as well."""
        unsaid = [
            said
            for said, is_unsaid in (
                ("part of the plant, taken as aerial parts", entry.part is None),
                ("fresh or dried, taken as dried", entry.condition is None),
                ("how it was pressed, taken as squeezed", is_strained),
                (
                    "day of straining, taken as the day given",
                    is_strained and entry.strained is None,
                ),
                (
                    f"strain date, taken as {self._habits.steep_days} days after",
                    not is_strained and entry.strain_on is None,
                ),
                ("what was poured on, left open", entry.volume is None or entry.strength is None),
            )
            if is_unsaid
        ]
        for said in unsaid:
            self._assumed[f"Not said: {said}"].append(entry.line)
        lines = [entry.note, f"From {self._file.name}, line {entry.line}."]
        if entry.volume is not None and entry.strength is None:
            lines.append(f"Liquid of unknown strength: {show(Kind.VOLUME, entry.volume)}.")
        if entry.strength is not None and entry.volume is None:
            lines.append(f"Liquid of unknown volume: {show(Kind.STRENGTH, entry.strength)}.")
        if unsaid:
            lines.append(f"Not said there: {'; '.join(unsaid)}.")
        return "\n".join(line for line in lines if line)


def _line_numbers(lines: list[int]) -> str:
    shown = ", ".join(str(line) for line in lines[:5])
    more = f" and {len(lines) - 5} more" if len(lines) > 5 else ""
    return f"line {shown}" if len(lines) == 1 else f"lines {shown}{more}"


def _reckoned(entry: _Entry) -> tuple[float | None, str, float | None]:
    """Strength, how it is known, and ratio."""
    if entry.strength is None:
        return None, "unknown", None
    if entry.volume is None:
        return entry.strength, "estimated", None
    water = default_water_fraction(
        entry.part or Part.AERIAL_PARTS, entry.condition or Condition.DRIED
    )
    charge = Charge(entry.mass, water)
    jar = liquid_in_jar([charge], [Liquid(entry.volume, entry.strength)])
    strength_by = "estimated" if jar.is_partial else "calculated"
    return jar.strength_abv, strength_by, ratio_n([charge], entry.volume)


def _shelf_named(name: str) -> int:
    """A shelf by name, put up if need be; the first one where no name is given."""
    if name:
        known = Shelf.get_or_none(Shelf.name == name)
    else:
        known = Shelf.select().order_by(Shelf.position, Shelf.id).first()
    if known is not None:
        return int(known.id)
    last = Shelf.select(Shelf.position).order_by(Shelf.position.desc()).scalar()
    return int(Shelf.insert(name=name or FIRST_SHELF, position=int(last or 0) + 1).execute())


def _next_place(shelf_id: int) -> int:
    last = Jar.select(Jar.place).where(Jar.shelf == shelf_id).order_by(Jar.place.desc()).scalar()
    return int(last or 0) + 1


def _word(words: dict[Any, str], text: str) -> Any:
    """The option that one of the words of a text stands for."""
    for word in text.casefold().replace("/", " ").split():
        for option, names in words.items():
            if word in (*names.split(), option):
                return option
    raise NotUnderstood(f"Write {one_of(words)}.")


def _more_than_nothing(value: float) -> float:
    if not value > 0:
        raise NotUnderstood("It must be more than nothing; leave out what is empty.")
    return value


def _shakes(text: str) -> int:
    count = parse_count(text)
    if count > 9:
        raise NotUnderstood("Shakes a day: a number from 0 to 9.")
    return count


def _volume(notebook: _Notebook, text: str) -> float:
    return _more_than_nothing(parse_volume(text, notebook.units))


_FIELDS = {"yield": "yielded"}
_READERS: dict[str, Callable[[_Notebook, str], Any]] = {
    "herb": lambda _, text: clean_name(text, "The herb's name"),
    "date": _Notebook.past_day,
    "botanical": lambda _, text: clean_name(text, "The botanical name"),
    "part": lambda _, text: _word(_PARTS, text),
    "condition": lambda _, text: _word(_CONDITIONS, text),
    "mass": lambda notebook, text: _more_than_nothing(parse_mass(text, notebook.units)),
    "volume": _volume,
    "strength": lambda notebook, text: parse_strength(text, notebook.units),
    "strain_on": _Notebook.day,
    "strained": _Notebook.past_day,
    "yield": _volume,
    "size": _volume,
    "left": _volume,
    "place": lambda _, text: clean_name(text, "The place"),
    "shelf": lambda _, text: clean_name(text, "The shelf's name"),
    "code": lambda _, text: clean_name(text, "The code", limit=40),
    "capacity": _volume,
    "shakes": lambda _, text: _shakes(text),
    "gathered": _Notebook.past_day,
    "origin": lambda _, text: clean_name(text, "The origin", limit=2000),
    "note": lambda _, text: clean_note(text, limit=2000),
}
"""How each column is read."""
