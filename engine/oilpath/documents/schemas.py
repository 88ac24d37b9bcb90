"""JSON Schemas of every kind of file, for editors: made from the models and the test kinds, never written by hand.

    python -m oilpath.documents.schemas        writes kb/schemas/*.json

A schema helps while typing; what a file really may hold is decided by the readers, which also know the circuit.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, Final, get_args

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from oilpath.documents import reading_reader
from oilpath.documents.walk import CONDITION_WORDS
from oilpath.flow.ids import STANDARD
from oilpath.knowledge.base import CautionFile, Priors, ScatterFile, SourceFile
from oilpath.knowledge.cause import CauseFile
from oilpath.knowledge.check import CheckFile, SignFile
from oilpath.knowledge.circuit import Circuit, Control
from oilpath.knowledge.fields import ID_PATTERN
from oilpath.knowledge.rule import FACTS, Rule
from oilpath.knowledge.testkind import TestFile, TestKey, TestKind
from oilpath.units import QUANTITIES

Schema = dict[str, Any]

DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"
MODELS: Final[Mapping[str, type[BaseModel]]] = {
    "causes": CauseFile,
    "cautions": CautionFile,
    "checks": CheckFile,
    "circuit": Circuit,
    "priors": Priors,
    "rule": Rule,
    "scatter": ScatterFile,
    "signs": SignFile,
    "sources": SourceFile,
    "tests": TestFile,
}
_TEXT: Final[Schema] = {"type": ["string", "number", "boolean"]}
_NUMBER: Final[Schema] = {"type": "number"}
_FLAG: Final[Schema] = {"type": "boolean"}
_ID: Final[Schema] = {"type": "string", "pattern": f"^{ID_PATTERN}$"}
_DATE: Final[Schema] = {"type": "string", "format": "date"}
_PATH: Final[Schema] = {"type": "string", "description": "path of a file, relative to this one"}


class _AsWritten(GenerateJsonSchema):
    """Schemas of what is written in a file where a validator takes more than the model holds."""

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> JsonSchemaValue:
        inner = self.generate_inner(schema["schema"])
        name = getattr(schema["function"]["function"], "__name__", "")
        if name.endswith("_many") and "items" in inner:
            return {"anyOf": [inner, inner["items"]]}
        if name == "_outcomes":
            return {"anyOf": [inner, {"type": "object", "additionalProperties": {"type": "string"}}]}
        if name == "_range":
            either = {"type": ["number", "string", "null"]}
            return _mapping({"min": either, "max": either})
        if name == "_flat":  # a condition of a rule has its slots beside the kind of fact
            return {"oneOf": [_fact(kind, slots) for kind, slots in FACTS.items()]}
        if name == "read_feeds":
            merge: Schema = {"type": "object", "additionalProperties": _ID}
            return {"type": "object", "properties": {"merge": merge}, "additionalProperties": _list(_ID)}
        return inner

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        made = super().model_schema(schema)
        if "oneOf" in made:  # each of these is closed itself; closed outside, it would let no key through
            made.pop("additionalProperties", None)
        return made


def _fact(kind: str, slots: Collection[str]) -> Schema:
    term: Schema = {"type": "string", "description": "word, a or b, not word, $name, any $name or not $name"}
    return _mapping({"fact": {"const": kind}, **dict.fromkeys(slots, term)}, ["fact"])


def all_schemas(tests: TestFile) -> dict[str, Schema]:
    """The schema of every kind of file, by the word in its key `oilpath`."""
    made: dict[str, Schema] = {
        name: model.model_json_schema(by_alias=True, schema_generator=_AsWritten) for name, model in MODELS.items()
    }
    machine = _machine(tests)
    made["machine"] = {**machine, "required": ["oilpath", "name", "circuit"]}
    made["sheet"] = _sheet(tests, machine)
    return {
        name: {"$schema": DRAFT, **made[name], "title": f"oilpath: {name}/1"} for name in sorted(made)
    }  # fmt: skip


def _mapping(properties: Mapping[str, Schema], required: Collection[str] = ()) -> Schema:
    """A closed mapping. A key that is not required may hold null: not stated."""
    made = {key: value if key in required else _or_null(value) for key, value in properties.items()}
    closed: Schema = {"type": "object", "properties": made, "additionalProperties": False}
    return {**closed, "required": sorted(required)} if required else closed


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _one_or_many(items: Schema) -> Schema:
    return {"anyOf": [items, _list(items)]}


def _table(values: Schema, keys: Schema | None = None) -> Schema:
    made: Schema = {"type": "object", "additionalProperties": _or_null(values)}
    return {**made, "propertyNames": keys} if keys is not None else made


def _quantity(name: str) -> Schema:
    kind = QUANTITIES[name]
    return {
        "type": "string",
        "pattern": r"^\s*[+\-−]?[0-9]",
        "description": f"{kind.words} as a number and a unit ({', '.join(kind.examples)})",
        "examples": [kind.sample],
    }


def _words(words: Collection[str]) -> Schema:
    """A closed list of words; on and off may be written as true and false."""
    return {"enum": [*words, *((True, False) if "on" in words else ())]}


def _key(key: TestKey) -> Schema:
    """One key of a reading."""
    if key.is_ == "quantity" and key.quantity is not None:
        return _one_or_many(_quantity(key.quantity)) if key.repeats else _quantity(key.quantity)
    if key.is_ == "veer":
        toward, line = _words(("left", "right")), _words(reading_reader.VEER_LINES)
        return _mapping({"toward": toward, "offset": _quantity("distance"), "from": line}, ["offset"])
    if key.is_ == "log":
        return _list(_mapping({"after": _quantity("time"), "moved": _quantity("length")}, ["after", "moved"]))
    simple: dict[str, Schema] = {
        "number": _NUMBER,
        "whole": {"type": "integer", "minimum": 0},
        "flag": _FLAG,
        "functions": _one_or_many(_ID),
        "text": _TEXT,
    }
    return simple.get(key.is_) or (_words(key.words) if key.words else _ID)


def _conditions() -> Schema:
    quantities = {key: _quantity(name) for key, name in reading_reader.CONDITION_QUANTITIES.items()}
    return _mapping({**quantities, **{key: _words(words) for key, words in CONDITION_WORDS.items()}})


def _reading(name: str, kind: TestKind, variants: Collection[str]) -> Schema:
    keys = {key: _key(spec) for key, spec in kind.keys.items()}
    common: dict[str, Schema] = {"test": {"const": name}, "note": _TEXT, "conditions": {"$ref": "#/$defs/conditions"}}
    if kind.value is not None:
        common["variant"] = _words((STANDARD, *variants))
    required = ["test", *(key for key, spec in kind.keys.items() if spec.required)]
    return {**_mapping({**common, **keys}, required), "title": kind.title, "description": kind.says}


def _limit(name: str, kind: TestKind) -> Schema:
    rules, value = kind.limits, _quantity(kind.quantity or "ratio")
    keys: dict[str, Schema] = {"test": {"const": name}, "new": value, "min": value, "max": value}
    keys.update({key: _key(kind.keys[key]) for key in rules.where})
    if rules.per is not None:
        keys[rules.per] = _key(kind.keys[rules.per])
    if rules.veer:
        keys["max-veer"] = _quantity("distance")
    if rules.difference:
        keys["max-difference"] = _quantity("ratio")
    return {**_mapping(keys, ["test"]), "title": kind.title}


def _demand(tests: Collection[str]) -> Schema:
    def ranged(name: str) -> Schema:
        return {**_list(_quantity(name)), "minItems": 2, "maxItems": 2}

    keys = {
        "test": _words(tests),
        "oil-temperature": ranged("temperature"),
        "engine-speed": ranged("rotation"),
        "hold": _quantity("time"),
        **{key: _words(words) for key, words in CONDITION_WORDS.items()},
    }
    return _mapping(keys, ["test"])


def _machine(tests: TestFile) -> Schema:
    limited = {name: kind for name, kind in tests.tests.items() if kind.value is not None and not kind.derived}
    speed, length = _quantity("rotation"), _quantity("length")
    part = _mapping(
        {
            "displacement": _quantity("displacement"),
            "speed-ratio": _NUMBER,
            "count": {"type": "integer", "minimum": 1},
            "bore": length,
            "rod": length,
            "stroke": length,
        }
    )
    code = _mapping({"says": _TEXT, "part": _ID}, ["says"])
    keys: dict[str, Schema] = {
        "oilpath": {"const": "machine/1"},
        "name": _TEXT,
        "circuit": {"type": "string", "description": "an id from kb/circuits/, or the path of a circuit file"},
        "engine-speed": {"anyOf": [speed, _mapping({"test": speed, "tolerance": _quantity("ratio")}, ["test"])]},
        "oil": _mapping({"grade": {"type": "string", "examples": ["ISO VG 46"]}, "viscosity-index": _NUMBER}),
        "parts": _table(part, _ID),
        "absent": _one_or_many(_ID),
        "feeds": {
            "type": "object",
            "properties": {"merge": _or_null(_table(_ID, _ID))},
            "additionalProperties": _or_null(_one_or_many(_ID)),
        },
        "control": _words(get_args(Control)),
        "dimensions": _mapping({"length": length, "track-gauge": length, "track-length": length}),
        "limits": _list({"oneOf": [_limit(name, kind) for name, kind in limited.items()]}),
        "conditions": _list(_demand(tuple(limited))),
        "codes": _table(code, {"pattern": "^[0-9]+-[0-9]+$"}),
        "baseline": _one_or_many(_PATH),
    }
    return _mapping(keys, ["name", "circuit"])


def _sheet(tests: TestFile, machine: Schema) -> Schema:
    written = {name: kind for name, kind in tests.tests.items() if not kind.derived}
    quantities = sorted({kind.quantity for kind in written.values() if kind.quantity is not None})
    cause = _mapping({"cause": {"type": "string"}, "part": _ID, "how": _TEXT, "after": _PATH}, ["cause", "part"])
    keys: dict[str, Schema] = {
        "oilpath": {"const": "sheet/1"},
        "machine": {"anyOf": [_PATH, {"$ref": "#/$defs/machine"}]},
        **dict.fromkeys(("unit-number", "order-number", "serial-number", "technician", "complaint"), _TEXT),
        "hours": {"type": "number", "minimum": 0},
        "date": _DATE,
        "history": _one_or_many(_TEXT),
        "conditions": {"$ref": "#/$defs/conditions"},
        "instruments": _mapping({name: _instrument(name) for name in quantities}),
        "readings": _list({"oneOf": [_reading(name, kind, tests.variants) for name, kind in written.items()]}),
        "baseline": _one_or_many(_PATH),
        "confirmed": _list(cause),
    }
    definitions = {"machine": machine, "conditions": _conditions()}
    return {**_mapping(keys, ["oilpath", "machine", "readings"]), "$defs": definitions}


def _instrument(quantity: str) -> Schema:
    measured = _quantity("temperature-difference" if quantity == "temperature" else quantity)
    return _mapping({"resolution": measured, "span": measured, "class": _NUMBER})


# --- files --------------------------------------------------------------------------


def as_text(schema: Schema) -> str:
    """A schema as it stands in its file."""
    return json.dumps(schema, ensure_ascii=False, indent=1) + "\n"


def schema_texts(kb_dir: Path) -> dict[str, str]:
    """File name → text of every schema for the test kinds of a knowledge base. Raises UnusableInput."""
    from oilpath.documents.nodes import read_file
    from oilpath.documents.validate import model_from
    from oilpath.problems import Problems

    problems = Problems()
    tests = model_from(read_file(kb_dir / "tests.yaml", "tests.yaml"), TestFile, "tests.yaml", problems)
    problems.raise_if_any()
    assert tests is not None
    return {f"{name}.json": as_text(schema) for name, schema in all_schemas(tests).items()}


def write_schemas(kb_dir: Path) -> None:
    """Write `schemas/*.json` of a knowledge base, and remove those of kinds that are no more."""
    folder = kb_dir / "schemas"
    folder.mkdir(exist_ok=True)
    texts = schema_texts(kb_dir)
    for old in sorted(folder.glob("*.json")):
        if old.name not in texts:
            old.unlink()
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    from oilpath.data import data_folder

    write_schemas(data_folder("kb"))
