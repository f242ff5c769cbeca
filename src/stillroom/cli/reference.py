"""`reference`: exit codes, shapes of JSON and columns of files on one page."""

import json
from argparse import ArgumentParser
from collections.abc import Iterator

from stillroom.cli.call import Call, Command
from stillroom.cli.output import put_as_it_is
from stillroom.cli.schema import DAY, MOMENT, SHAPES_VERSION, Schema
from stillroom.errors import Refused

NOTES = """\
The page has the exit codes, what each command prints with --json, and the columns of the files that
export writes. With COMMAND, only what that command prints."""
_HEAD = """# Stillroom for programs

What scripts can rely on: exit codes, JSON and files. `stillroom reference` prints this page.

## Exit codes

| exit code | meaning |
|---|---|
"""
_JSON = f"""
## JSON

With `--json`, a command prints one object:

- `command`: the command
- `version`: {SHAPES_VERSION}. It rises when a field is renamed or removed, or changes its meaning.
  New fields may be added without that, so ignore fields you don't know
- `is_done`: whether a command that writes has done so; false in a dry run
- `result`: as listed below

A name ends in its unit: `_ml` millilitres, `_g` grams, `_abv` per cent ethanol by volume. Days are
written as 2026-11-26, moments in ISO 8601 and UTC. What isn't known is null. A refusal is a
sentence on standard error, never JSON. `stillroom reference COMMAND --schema` prints the JSON
Schema (draft 2020-12) of a command. `export --json FILE` writes the files below as one object.
"""
_NAMES = {
    "string": "text",
    "integer": "whole number",
    "number": "number",
    "boolean": "true or false",
}


def _arguments(parser: ArgumentParser) -> None:
    parser.add_argument("name", nargs="?", metavar="COMMAND", help="only this command")
    parser.add_argument("--schema", action="store_true", help="print JSON Schema")


def _reference(call: Call) -> int:
    from stillroom.cli.shapes import SHAPES, schema_of

    name = call.asked.name
    if name and name not in SHAPES:
        raise Refused(f"There is no JSON of a command {name}. Choose from {', '.join(SHAPES)}.")
    if call.asked.schema:
        found = schema_of(name) if name else {each: schema_of(each) for each in SHAPES}
        put_as_it_is(json.dumps(found, indent=1) + "\n")
    else:
        put_as_it_is(_command(name) if name else page())
    return 0


def page() -> str:
    """The page, as Markdown."""
    from stillroom.cli.exit_codes import MEANINGS
    from stillroom.cli.shapes import SHAPES
    from stillroom.cli.shared_shapes import SHARED
    from stillroom.keeping.interchange.writing import description

    codes = "".join(f"| {code} | {meaning} |\n" for code, meaning in MEANINGS.items())
    several = "\n### Shapes used by several commands\n" + "".join(
        f"\n#### {_title(name)}\n\n{_listed(SHARED[name])}" for name in SHARED
    )
    commands = "".join(f"\n{_command(name)}" for name in SHAPES)
    files = description().replace("\n## ", "\n### ").replace("# A shelf", "## A shelf", 1)
    return f"{_HEAD}{codes}{_JSON}{several}{commands}\n{files}"


def _command(name: str) -> str:
    from stillroom.cli.shapes import SHAPES

    return f"### {name}\n\n{_listed(SHAPES[name])}"


def _listed(schema: Schema) -> str:
    return "".join(f"{line}\n" for line in _lines(schema, 0))


def _lines(schema: Schema, depth: int, name: str = "", *, is_sure: bool = True) -> Iterator[str]:
    """A value in a line, and below it the fields that it has."""
    called = f"`{name}`{'' if is_sure else ', sometimes'}: " if name else ""
    words = f" ({schema['description']})" if "description" in schema else ""
    yield f"{'  ' * depth}- {called}{_phrase(schema)}{words}"
    inner = _inner(schema)
    for option in inner.get("anyOf", ()):
        yield from _lines(option, depth + 1)
    needed = inner.get("required", ())
    for key, value in inner.get("properties", {}).items():
        yield from _lines(value, depth + 1, key, is_sure=key in needed)


def _phrase(schema: Schema) -> str:
    if "$ref" in schema:
        name = str(schema["$ref"]).removeprefix("#/$defs/")
        return f"[{_title(name)}](#{name.replace('_', '-')})"
    if "anyOf" in schema:
        options = schema["anyOf"]
        return f"{_phrase(options[0])} or null" if _is_optional(schema) else "one of these"
    if schema.get("type") == "array":
        return f"list of {_phrase(schema['items'])}"
    if schema.get("type") == "object":
        each = schema.get("additionalProperties")
        return f"for each name, {_phrase(each)}" if each else "object"
    if schema.get("format") == DAY["format"]:
        return "day"
    if schema.get("pattern") == MOMENT["pattern"]:
        return "moment"
    return _NAMES.get(str(schema.get("type")), "any value")


def _title(name: str) -> str:
    return name.replace("_", " ")


def _is_optional(schema: Schema) -> bool:
    options = schema["anyOf"]
    return len(options) == 2 and options[1] == {"type": "null"}


def _inner(schema: Schema) -> Schema:
    """What a list, a value that may be null or one under a name consists of."""
    if "anyOf" in schema and _is_optional(schema):
        return _inner(schema["anyOf"][0])
    if schema.get("type") == "array":
        return _inner(schema["items"])
    if schema.get("additionalProperties"):
        return _inner(schema["additionalProperties"])
    return schema


COMMANDS = {"reference": Command(_arguments, _reference, NOTES)}
