"""The calculators without the screen: fields typed as key=value, results printed."""

from argparse import SUPPRESS, Action, ArgumentParser, Namespace
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from stillroom.cli.call import Call, Command
from stillroom.cli.output import put, put_json, put_list
from stillroom.cli.pairs import cells, pairs
from stillroom.errors import NotUnderstood, Refused, choose_from
from stillroom.quantities import Notation, UnitSystem, held_in
from stillroom.reckoning.kinds import AS_WRITTEN, Figure, Kind
from stillroom.reckoning.registry import (
    Calculator,
    Field,
    Outcome,
    Result,
    Scalar,
    Sentence,
    Unworkable,
    Value,
    calculators,
)

NOTES = """\
Without NAME this lists the calculators. With NAME alone, or NAME --help, it lists the fields of
that calculator.

Write values as on a label: strength=40%, volume="8 fl oz", mass="2 lb 3 oz", ratio=1:5. Nothing
after the = leaves a field blank. For a list, give the field once per row, with its columns
separated by semicolons, in order or by name. A column left out takes its default:

  stillroom calculate mix liquids="500 ml;96%" liquids="300 ml;40%"
  stillroom calculate jar-strength herbs="mass=120 g;part=root" pours="600 ml;40%"
  stillroom calculate dilute strength=96% target=60% wanted="1 l" --json

Bare numbers are mL and g, or fl oz and oz if the shelf or --units is us or imperial."""


class _Help(Action):
    """Help for one calculator where its name came first: its own fields."""

    def __init__(self, option_strings: Sequence[str], dest: str, help: str | None = None) -> None:
        super().__init__(option_strings, SUPPRESS, nargs=0, default=SUPPRESS, help=help)

    def __call__(
        self,
        parser: ArgumentParser,
        namespace: Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Print it and end."""
        calculator = calculators().get(namespace.name)
        if calculator is None:
            parser.print_help()
        else:
            notation = Notation(UnitSystem(namespace.units or UnitSystem.METRIC))
            _explain(calculator, notation)
            put()
            put("All options: stillroom calculate --help.")
        parser.exit()


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("name", nargs="?", metavar="NAME", help="name of a calculator")
    parser.add_argument(
        "values",
        nargs="*",
        metavar="KEY=VALUE",
        help="a field and its value, such as strength=40%%",
    )
    parser.add_argument(
        "--units",
        choices=[system.value for system in UnitSystem],
        metavar="UNITS",
        help="metric, us or imperial; if left out, the shelf's units",
    )
    parser.add_argument("--json", action="store_true", help="print JSON")


def _calculate(call: Call) -> int:
    asked = call.asked
    if asked.name is None:
        _list(call)
        return 0
    notation = _notation(call)
    calculator = calculators().get(asked.name)
    if calculator is None:
        known = choose_from(asked.name, calculators())
        raise Refused(f"There is no calculator {asked.name}. {known}")
    if not asked.values:
        if asked.json:
            _explain_json(call, calculator)
        else:
            _explain(calculator, notation)
        return 0
    try:
        values = values_from(calculator, asked.values, notation)
        outcome = calculator.reckon(values)
    except Unworkable as error:
        said = _said(error.sentence, notation)
        raise Refused(f"{_place(error.field)}: {said}" if error.field else said) from error
    if asked.json:
        put_json(
            call, {"calculator": calculator.name} | _outcome_json(outcome, notation.for_programs)
        )
    else:
        _print(calculator, outcome, notation)
    return 0


def _has_shelf(call: Call) -> bool:
    return bool(call.asked.sample) or call.shelf_file.exists()


def _notation(call: Call) -> Notation:
    """That of the shelf if there is one, in the units asked for if there are any."""
    notation = call.wording if _has_shelf(call) else Notation()
    units = UnitSystem(call.asked.units) if call.asked.units else notation.units
    return replace(notation, units=units)


def _list(call: Call) -> None:
    if call.asked.json:
        put_json(
            call,
            [
                {"name": entry.name, "title": entry.title, "summary": entry.summary}
                for entry in calculators().values()
            ],
        )
        return
    for entry in calculators().values():
        put(f"{entry.name}: {entry.summary}")


def _explain_json(call: Call, calculator: Calculator) -> None:
    fields = [_field_json(f) for f in calculator.fields]
    put_json(call, {"calculator": calculator.name, "title": calculator.title, "fields": fields})


def _explain(calculator: Calculator, notation: Notation) -> None:
    put(f"{calculator.title}. {calculator.summary}")
    put()
    for f in calculator.fields:
        put(_field_line(f, notation), 2)
        for column in f.columns:
            put(_field_line(column, notation), 4)


def _field_line(f: Field, notation: Notation) -> str:
    if f.columns:
        columns = ";".join(column.key for column in f.columns)
        return f'{f.key}="{columns}", once per row: {f.label}.'
    said = [f"{f.key}={_form(f, notation)}: {f.label}."]
    if f.help:
        said.append(f.help)
    if f.default is not None:
        said.append(f"Default: {_default(f, notation)}.")
    elif not f.required:
        said.append("Optional.")
    return " ".join(said)


def _form(f: Field, notation: Notation) -> str:
    """What to write for a value, in brackets."""
    if f.choices:
        return "|".join(key for key, _ in f.choices)
    if f.kind is Kind.RATIO:
        return "[1:n]"
    return f"[{notation.unit(f.kind) or f.kind.value}]" if f.kind is not Kind.TEXT else "[words]"


def _default(f: Field, notation: Notation) -> str:
    if isinstance(f.default, int | float):
        return notation.of(f.kind, f.default)
    return str(f.default)


def _field_json(f: Field) -> dict[str, Any]:
    told: dict[str, Any] = {"key": f.key, "label": f.label}
    if f.columns:
        return told | {"rows_of": [_field_json(column) for column in f.columns]}
    return told | {
        "kind": f.kind.value,
        "unit": "" if f.kind in (Kind.CHOICE, Kind.TEXT) else held_in(f.kind),
        "usual": f.default,
        "required": f.required,
        "help": f.help,
        "choices": [key for key, _ in f.choices],
    }


def values_from(
    calculator: Calculator, words: Iterable[str], notation: Notation
) -> dict[str, Value]:
    """Read `key=value` words; Refused or NotUnderstood name the field they are about."""
    fields = {f.key: f for f in calculator.fields}
    values: dict[str, Value] = {}
    readings: list[tuple[Field, str]] = []
    rows: dict[str, list[Mapping[str, Scalar]]] = {}
    for f, text in pairs(words, fields, calculator.name):
        if f.columns:
            rows.setdefault(f.key, [])
            if text.strip():
                rows[f.key].append(_row(f, text, notation, len(rows[f.key]) + 1))
        elif f.key in values:
            raise Refused(f"{f.key} is given twice.")
        else:
            values[f.key] = None if f.instrument else _value(f, text, notation, f.key)
            if f.instrument and text.strip():
                readings.append((f, text))
    for f, text in readings:
        values |= _instrument(f, text, values, notation)
    return values | rows


def _instrument(
    f: Field, text: str, values: Mapping[str, Value], notation: Notation
) -> dict[str, Value]:
    """A reading, the scale it is on, and the temperature at which that is true."""
    assert f.instrument
    scale, chosen = (str(values.get(key) or AS_WRITTEN) for key in f.instrument)
    try:
        read = notation.read_instrument(text, scale, chosen)
    except NotUnderstood as error:
        raise NotUnderstood(f"{f.key}: {error}") from error
    return dict(zip((f.key, *f.instrument), read, strict=True))


def _place(field: str) -> str:
    """The place of a value, as `key` or as `key.row.column` with rows from 0.

    >>> _place("liquids.0.volume")
    'liquids, row 1, volume'
    """
    key, *rest = field.split(".")
    if not rest:
        return key
    row, column = rest
    return f"{key}, row {int(row) + 1}, {column}"


def _row(f: Field, text: str, notation: Notation, number: int) -> dict[str, Scalar]:
    row: dict[str, Scalar] = {}
    for column, value in cells(text, f.columns, f.key):
        row[column.key] = _value(
            column, value, notation, _place(f"{f.key}.{number - 1}.{column.key}")
        )
    return row


def _value(f: Field, text: str, notation: Notation, place: str) -> Scalar:
    text = text.strip()
    if not text:
        return None
    if f.kind is Kind.TEXT:
        return text
    if f.kind is Kind.CHOICE:
        return _choice(f, text)
    try:
        return notation.read(f.kind, text)
    except NotUnderstood as error:
        raise NotUnderstood(f"{place}: {error}") from error


def _choice(f: Field, text: str) -> str:
    """The key of the option that was named; what is none of them the calculator refuses."""
    wanted = text.casefold()
    for key, label in f.choices:
        if wanted in (key.casefold(), label.casefold()):
            return key
    return text


def _print(calculator: Calculator, outcome: Outcome, notation: Notation) -> None:
    put(calculator.title)
    for result in outcome.results:
        put(f"{_said(result.label, notation)}: {_shown(result, notation)}", 2)
    for heading, sentences in (
        ("Warning:", outcome.warnings),
        ("Working:", outcome.working),
        ("Assumptions:", outcome.assumptions),
    ):
        put_list(heading, (_said(sentence, notation) for sentence in sentences))
    put_list("Sources:", outcome.sources)
    put_list("Cautions:", outcome.cautions)


def _said(sentence: Sentence, notation: Notation) -> str:
    return notation.fill_in(sentence.text, sentence.figures, sentence.sum)


def _shown(result: Result, notation: Notation) -> str:
    if isinstance(result.value, Figure):
        return notation.figure(result.value)
    return _said(result.value, notation)


def _outcome_json(outcome: Outcome, notation: Notation) -> dict[str, Any]:
    """All sentences, in the units asked for; the figures themselves are always metric."""
    return {
        "results": [_result_json(result, notation) for result in outcome.results],
        "warnings": [_said(sentence, notation) for sentence in outcome.warnings],
        "working": [_said(sentence, notation) for sentence in outcome.working],
        "assumptions": [_said(sentence, notation) for sentence in outcome.assumptions],
        "sources": list(outcome.sources),
        "cautions": list(outcome.cautions),
    }


def _result_json(result: Result, notation: Notation) -> dict[str, Any]:
    told = {
        "key": result.key,
        "label": _said(result.label, notation),
        "shown": _shown(result, notation),
    }
    if isinstance(result.value, Figure):
        return told | _figure_json(result.value)
    return told | {"figures": [_figure_json(figure) for figure in result.value.figures]}


def _figure_json(figure: Figure) -> dict[str, Any]:
    # Ten digits: more is the noise of the arithmetic.
    value = float(f"{figure.value:.10g}")
    return {"kind": figure.kind.value, "value": value, "unit": held_in(figure.kind)}


COMMANDS = {"calculate": Command(_arguments, _calculate, NOTES, _Help)}
