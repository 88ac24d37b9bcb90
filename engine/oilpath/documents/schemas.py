"""JSON Schemas of every kind of file, for editors: made from the models and the test kinds, never written by hand.

    python -m oilpath.documents.schemas        writes kb/schemas/*.json

A schema helps while typing; what a file really may hold is decided by the readers, which also know the circuit.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from oilpath.documents.drafts import LogPointDraft, MachineDraft, SheetDraft, VeerDraft
from oilpath.documents.have import HaveDraft
from oilpath.documents.value_types import FILE_PATH, ID_SCHEMA
from oilpath.flow.ids import STANDARD
from oilpath.knowledge.base import CautionFile, Priors, ScatterFile, SourceFile
from oilpath.knowledge.cause import CauseFile
from oilpath.knowledge.check import CheckFile, SignFile
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.closed import Closed
from oilpath.knowledge.excused import ExcusedFile
from oilpath.knowledge.fields import Entry, quantity_schema
from oilpath.knowledge.parameters import ParameterFile
from oilpath.knowledge.rule import FACTS, Rule
from oilpath.knowledge.testkind import TestFile, TestKey, TestKind
from oilpath.knowledge.words import WordFile

Schema = dict[str, Any]

DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"
MODELS: Final[Mapping[str, type[BaseModel]]] = {
    "causes": CauseFile,
    "cautions": CautionFile,
    "checks": CheckFile,
    "circuit": Circuit,
    "closed": Closed,
    "excused": ExcusedFile,
    "parameters": ParameterFile,
    "priors": Priors,
    "rule": Rule,
    "scatter": ScatterFile,
    "signs": SignFile,
    "sources": SourceFile,
    "tests": TestFile,
    "words": WordFile,
}
_TEXT: Final[Schema] = {"type": ["string", "number", "boolean"]}


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
            merge: Schema = {"type": "object", "additionalProperties": ID_SCHEMA}
            return {"type": "object", "properties": {"merge": merge}, "additionalProperties": _list(ID_SCHEMA)}
        return inner

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        made = super().model_schema(schema)
        if "oneOf" in made:  # each of these is closed itself; closed outside, it would let no key through
            made.pop("additionalProperties", None)
        return made


class _OfDrafts(_AsWritten):
    """Schemas of drafts: what must be stated is required, a list has no gaps, a text may look like a number."""

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> JsonSchemaValue:
        made = super().function_before_schema(schema)
        name = getattr(schema["function"]["function"], "__name__", "")
        if name == "text_value":
            return dict(_TEXT)
        if name == "read_speed":
            return {"anyOf": [quantity_schema("rotation"), made]}
        if name == "_word":  # true and false are read as on and off
            return _words(made["enum"])
        return made

    def list_schema(self, schema: core_schema.ListSchema) -> JsonSchemaValue:
        made = super().list_schema(schema)
        return {**made, "items": _not_null(made.get("items", {}))}

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        made, needed = super().model_schema(schema), schema["cls"].needed
        properties = {key: _not_null(one) if key in needed else one for key, one in made["properties"].items()}
        return {**made, "properties": properties, **({"required": sorted(needed)} if needed else {})}


def _not_null(schema: Schema) -> Schema:
    """The schema without null, which drafts allow for values that are missing or were removed."""
    if "anyOf" not in schema:
        return schema
    kept = [one for one in schema["anyOf"] if one != {"type": "null"}]
    rest = {key: value for key, value in schema.items() if key not in ("anyOf", "default")}
    return {**rest, **kept[0]} if len(kept) == 1 else {**rest, "anyOf": kept}


def _fact(kind: str, slots: Collection[str]) -> Schema:
    term: Schema = {"type": "string", "description": "word, a or b, not word, $name, any $name or not $name"}
    return _mapping({"fact": {"const": kind}, **dict.fromkeys(slots, term)}, ["fact"])


def all_schemas(tests: TestFile) -> dict[str, Schema]:
    """The schema of every kind of file, by the word in its key `oilpath`."""
    made: dict[str, Schema] = {
        name: model.model_json_schema(by_alias=True, schema_generator=_AsWritten) for name, model in MODELS.items()
    }
    machine = _machine(tests)
    made["sheet"] = _sheet(tests, machine)
    made["have"] = {**_of(HaveDraft), "required": ["oilpath"]}
    made["machine"] = {**machine, "required": sorted(("oilpath", *machine["required"]))}
    return {
        name: {"$schema": DRAFT, **made[name], "title": f"oilpath: {name}/1"} for name in sorted(made)
    }  # fmt: skip


def _mapping(properties: Mapping[str, Schema], required: Collection[str] = ()) -> Schema:
    """A mapping with these keys only. Keys that are not required may be null, which means not stated."""
    made = {key: value if key in required else _or_null(value) for key, value in properties.items()}
    closed: Schema = {"type": "object", "properties": made, "additionalProperties": False}
    return {**closed, "required": sorted(required)} if required else closed


def _or_null(schema: Schema) -> Schema:
    return {"anyOf": [schema, {"type": "null"}]}


def _list(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def _one_or_many(items: Schema) -> Schema:
    return {"anyOf": [items, _list(items)]}


def _words(words: Collection[str]) -> Schema:
    """A closed list of words; on and off may be written as true and false."""
    return {"enum": [*words, *((True, False) if "on" in words else ())]}


def _key(key: TestKey) -> Schema:
    """One key of a reading, as its test kind says."""
    if key.is_ == "quantity" and key.quantity is not None:
        one = quantity_schema(key.quantity)
        return _one_or_many(one) if key.repeats else one
    simple: dict[str, Schema] = {
        "number": {"type": "number"},
        "whole": {"type": "integer", "minimum": 0},
        "flag": {"type": "boolean"},
        "functions": _one_or_many(ID_SCHEMA),
        "text": _TEXT,
        "veer": {"$ref": "#/$defs/VeerDraft"},
        "log": _list({"$ref": "#/$defs/LogPointDraft"}),
    }
    return simple.get(key.is_) or (_words(key.words) if key.words else ID_SCHEMA)


def _of(draft: type[Entry]) -> Schema:
    made: Schema = draft.model_json_schema(by_alias=True, schema_generator=_OfDrafts)
    return made


def _reading(name: str, kind: TestKind, variants: Collection[str], draft: Schema) -> Schema:
    """A reading of one kind: what its draft has, and the keys of the kind."""
    keys = {**draft["properties"], "test": {"const": name}, **{key: _key(spec) for key, spec in kind.keys.items()}}
    if kind.value is not None:
        keys["variant"] = _words((STANDARD, *variants))
    required = ["test", *(key for key, spec in kind.keys.items() if spec.required)]
    return {**_mapping(keys, required), "title": kind.title, "description": kind.says}


def _limit(name: str, kind: TestKind, draft: Schema) -> Schema:
    rules, value = kind.limits, quantity_schema(kind.quantity or "ratio")
    keys: dict[str, Schema] = {"test": {"const": name}, **dict.fromkeys(("new", "min", "max"), value)}
    keys.update({key: _key(kind.keys[key]) for key in rules.where})
    if rules.per is not None:
        keys[rules.per] = _key(kind.keys[rules.per])
    for stated, key in ((rules.veer, "max-veer"), (rules.difference, "max-difference")):
        if stated:
            keys[key] = draft["properties"][key]
    return {**_mapping(keys, ["test"]), "title": kind.title}


def _machine(tests: TestFile) -> Schema:
    """The draft of a machine, with what the test kinds let limits and demands name."""
    made = _of(MachineDraft)
    limited = {name: kind for name, kind in tests.tests.items() if kind.value is not None and not kind.derived}
    limit, demand = made["$defs"].pop("LimitDraft"), made["$defs"]["DemandDraft"]
    limits = next(one for one in made["properties"]["limits"]["anyOf"] if one["type"] == "array")
    limits["items"] = {"oneOf": [_limit(name, kind, limit) for name, kind in limited.items()]}
    demand["properties"]["test"] = _words(tuple(limited))
    demand["additionalProperties"] = False
    return made


def _sheet(tests: TestFile, machine: Schema) -> Schema:
    """The draft of a sheet, with the keys of each test kind and the instruments of all that is measured."""
    made = _of(SheetDraft)
    written = {name: kind for name, kind in tests.tests.items() if not kind.derived}
    reading, instrument = made["$defs"].pop("ReadingDraft"), made["$defs"].pop("InstrumentDraft")
    kinds = [_reading(name, kind, tests.variants, reading) for name, kind in written.items()]
    made["properties"]["machine"] = {"anyOf": [FILE_PATH, {"$ref": "#/$defs/machine"}]}
    made["properties"]["readings"]["items"] = {"oneOf": kinds}
    quantities = sorted({kind.quantity for kind in written.values() if kind.quantity is not None})
    instruments = _mapping({name: _instrument(name, instrument) for name in quantities})
    made["properties"]["instruments"] = _or_null(instruments)
    made["$defs"] |= {one.__name__: _of(one) for one in (VeerDraft, LogPointDraft)} | machine["$defs"]
    made["$defs"]["machine"] = {key: value for key, value in machine.items() if key != "$defs"}
    return {**made, "required": sorted(("oilpath", *made["required"]))}


def _instrument(quantity: str, draft: Schema) -> Schema:
    measured = quantity_schema("temperature-difference" if quantity == "temperature" else quantity)
    return {**draft, "properties": {**draft["properties"], "resolution": measured, "span": measured}}


# --- files --------------------------------------------------------------------------


def as_text(schema: Schema) -> str:
    """A schema as it is in its file."""
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
    """Write `schemas/*.json` of a knowledge base, and remove those of kinds that no longer exist."""
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
