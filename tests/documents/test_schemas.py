# ruff: noqa: E501 (sheets as they are written)
"""The JSON Schemas in kb/schemas/: up to date, true to the files of kb/, and as strict as an editor needs.

Keywords as in JSON Schema, draft 2020-12 (https://json-schema.org/draft/2020-12/schema); a small checker of those that
are used here stands in for a library.
"""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from oilpath.documents.nodes import plain, read_file, read_nodes
from oilpath.documents.schemas import all_schemas, schema_texts, write_schemas
from oilpath.knowledge.testkind import TestFile

KB = Path(__file__).parents[2] / "kb"
TYPES: dict[str, tuple[type, ...]] = {
    "object": (dict,), "array": (list,), "string": (str,), "number": (int, float), "integer": (int,), "boolean": (bool,),
    "null": (type(None),),
}  # fmt: skip
KNOWN = {
    "$schema", "$defs", "$ref", "title", "description", "examples", "default", "format", "type", "enum", "const",
    "pattern", "anyOf", "oneOf", "properties", "required", "additionalProperties", "propertyNames", "items", "minItems",
    "maxItems", "minimum", "maximum", "minLength", "maxLength", "prefixItems", "exclusiveMinimum", "uniqueItems",
}  # fmt: skip


def is_of(value: Any, name: str) -> bool:
    if isinstance(value, bool):
        return name == "boolean"
    return isinstance(value, TYPES[name])


def fits(value: Any, schema: Any, top: dict[str, Any]) -> bool:
    """Whether a value fits a schema, for the keywords that our schemas use."""
    if isinstance(schema, bool):
        return schema
    assert set(schema) <= KNOWN, set(schema) - KNOWN
    if "$ref" in schema:
        target: Any = top
        for step in schema["$ref"].removeprefix("#/").split("/"):
            target = target[step]
        if not fits(value, target, top):
            return False
    types = schema.get("type")
    if types is not None and not any(is_of(value, one) for one in ([types] if isinstance(types, str) else types)):
        return False
    if "const" in schema and value != schema["const"]:
        return False
    if "enum" in schema and not any(value == one and isinstance(value, type(one)) for one in schema["enum"]):
        return False
    if "anyOf" in schema and not any(fits(value, one, top) for one in schema["anyOf"]):
        return False
    if "oneOf" in schema and sum(fits(value, one, top) for one in schema["oneOf"]) != 1:
        return False
    if isinstance(value, str) and "pattern" in schema and not re.search(schema["pattern"], value):
        return False
    if isinstance(value, int | float) and value < schema.get("minimum", value):
        return False
    if isinstance(value, list):
        if not schema.get("minItems", 0) <= len(value) <= schema.get("maxItems", len(value)):
            return False
        return all(fits(item, schema.get("items", True), top) for item in value)
    return not isinstance(value, dict) or fits_mapping(value, schema, top)


def fits_mapping(value: dict[str, Any], schema: dict[str, Any], top: dict[str, Any]) -> bool:
    properties = schema.get("properties", {})
    if not set(schema.get("required", ())) <= set(value):
        return False
    if not all(fits(key, schema.get("propertyNames", True), top) for key in value):
        return False
    rest = schema.get("additionalProperties", True)
    return all(fits(item, properties.get(key, rest), top) for key, item in value.items())


def schema(name: str) -> dict[str, Any]:
    made = json.loads((KB / "schemas" / f"{name}.json").read_text(encoding="utf-8"))
    assert isinstance(made, dict)
    return made


def test_the_schemas_are_up_to_date() -> None:
    """If this fails: python -m oilpath.documents.schemas"""
    kept = {path.name: path.read_text(encoding="utf-8") for path in (KB / "schemas").glob("*.json")}
    assert kept == schema_texts(KB)


def test_every_kind_has_one_that_says_so() -> None:
    names = {path.stem for path in (KB / "schemas").glob("*.json")}
    assert {"machine", "circuit", "sheet", "causes", "checks", "rule", "tests", "signs", "priors", "scatter"} <= names
    assert all(schema(name)["title"] == f"oilpath: {name}/1" for name in names)


def test_writing_removes_what_is_no_more(tmp_path: Path) -> None:
    (tmp_path / "tests.yaml").write_bytes((KB / "tests.yaml").read_bytes())
    (tmp_path / "schemas").mkdir()
    (tmp_path / "schemas/recipe.json").write_text("{}", encoding="utf-8")
    write_schemas(tmp_path)
    assert {path.name for path in (tmp_path / "schemas").iterdir()} == set(schema_texts(KB))


@pytest.mark.parametrize("path", sorted(KB.rglob("*.yaml")), ids=lambda path: path.relative_to(KB).as_posix())
def test_every_file_of_the_knowledge_base_fits_its_schema(path: Path) -> None:
    data = plain(read_file(path, path.name)).data
    name = data["oilpath"].partition("/")[0]
    assert fits(data, schema(name), schema(name))
    assert not fits({**data, "unheard-of": 1}, schema(name), schema(name))


SHEET = """\
oilpath: sheet/1
machine: machine.yaml
unit-number: 007
hours: 8450
date: 2026-05-14
history: [Came on slowly]
complaint: null
conditions: {oil-temperature: 54 °C, attachment: empty, auto-idle: off}
instruments: {time: {resolution: 0.1 s}, pressure: {span: 60 MPa, class: 1.0}}
readings:
  - {test: cycle-time, function: boom-raise, times: [4.8 s, 4.7 s], variant: cold, with: [swing-left]}
  - {test: drift, cylinder: boom-cylinder, hold: 5 min, moved: 9 mm, log: [{after: 1 min, moved: 4 mm}]}
  - {test: travel-time, direction: forward, range: high, distance: 20 m, times: 14 s, veer: {toward: left, offset: 0.4 m}}
  - {test: code, spn: 520201, fmi: 4, active: true}
  - {test: sign, sign: foamy-oil, seen: true, part: tank}
  - {test: check, check: plug-loaded-line, part: boom-cylinder, outcome: rod-moves}
confirmed: [{cause: cylinder.seal-leak, part: boom-cylinder-left}]
"""
MACHINE = """\
oilpath: machine/1
name: Trainer
circuit: two-pump-excavator
engine-speed: {test: 1900 rpm, tolerance: 2 %}
oil: {grade: ISO VG 46, viscosity-index: 100}
parts: {pump-1: {displacement: 112 cm3/rev}}
absent: [arm-holding-valve]
feeds: {pump-1: [travel-right, boom, swing], pump-2: [travel-left, arm, bucket], merge: {boom-raise: pump-2}}
control: positive
dimensions: {length: 9.5 m}
limits:
  - {test: cycle-time, function: boom-raise, new: 4.2 s, max: 4.9 s}
  - {test: travel-time, range: high, distance: 20 m, max: 15.9 s, max-veer: 1.2 m}
  - {test: track-time, range: high, turns: 3, max: 20.6 s, max-difference: 6 %}
conditions: [{test: drift, oil-temperature: [50 °C, 60 °C], attachment: loaded}]
codes: {"520201-4": {says: Flow signal low, part: pump-2-flow-signal}}
"""


def data(text: str) -> Any:
    return plain(read_nodes(text, "-")).data


@pytest.mark.parametrize(("name", "text"), [("sheet", SHEET), ("machine", MACHINE)])
def test_what_the_readers_read_fits(name: str, text: str, read: Callable[..., Any]) -> None:
    assert read(text, kind=name)[1] == ()
    assert fits(data(text), schema(name), schema(name))


def test_a_machine_inline_fits() -> None:
    sheet = {**data(SHEET), "machine": {key: value for key, value in data(MACHINE).items() if key != "oilpath"}}
    assert fits(sheet, schema("sheet"), schema("sheet"))


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("sheet", "sheet/1", "sheet/2"),
        ("sheet", "machine: machine.yaml", "machines: machine.yaml"),
        ("sheet", "[4.8 s, 4.7 s]", "[4.8, 4.7]"),
        ("sheet", "hold: 5 min, ", ""),
        ("sheet", "attachment: empty", "attachment: full"),
        ("sheet", "variant: cold", "variant: colder"),
        ("sheet", "test: drift", "test: drifting"),
        ("sheet", "seen: true", "seen: maybe"),
        ("sheet", "hours: 8450", "hours: 8450 h"),
        ("machine", "name: Trainer", "title: Trainer"),
        ("machine", "new: 4.2 s", "new: 4.2"),
        ("machine", "max-veer: 1.2 m", "max-difference: 2 %"),
        ("machine", "control: positive", "control: electric"),
        ("machine", '"520201-4"', "E52"),
        ("machine", "[50 °C, 60 °C]", "[50 °C]"),
    ],
)
def test_what_the_readers_refuse_does_not_fit(name: str, old: str, new: str, read: Callable[..., Any]) -> None:
    text = {"sheet": SHEET, "machine": MACHINE}[name]
    assert old in text
    broken = text.replace(old, new)
    assert read(broken, kind=name)[1] != ()
    assert not fits(data(broken), schema(name), schema(name))


def test_the_readings_are_those_of_the_test_kinds() -> None:
    tests = TestFile.model_validate(data((KB / "tests.yaml").read_text(encoding="utf-8")))
    readings = all_schemas(tests)["sheet"]["properties"]["readings"]["items"]["oneOf"]
    names = [one["properties"]["test"]["const"] for one in readings]
    assert names == [name for name, kind in tests.tests.items() if not kind.derived]
