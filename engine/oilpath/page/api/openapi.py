"""The description of the interface for programs, OpenAPI 3.1: made from the table of operations and their models."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from typing import Any, Final

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema
from starlette.responses import Response

from oilpath._version import __version__
from oilpath.data import data_folder
from oilpath.page.api.models import ErrorOut
from oilpath.page.api.operations import OPERATIONS, Operation

Json = dict[str, Any]

REF: Final = "#/components/schemas/{model}"
_ABOUT: Final = (
    "What oilpath answers on the shell, for programs: machines, sheets, answers, next steps, orders, closed jobs. "
    "Names of documents are paths such as sheets/pit-07.yaml; in an address their slashes may stay or be %2F. "
    "Figures are in SI units. Keys may be added to what is given back; none is renamed or removed."
)
_FILES: Final = ("machine", "sheet")
_WRONG: Final = {
    "400": "The request cannot be read.",
    "401": "Sign in first.",
    "403": "This needs another role, or comes from elsewhere.",
    "404": "There is no such document.",
    "409": "Somebody else has saved meanwhile; nothing was written.",
    "413": "Too large.",
    "415": "The body is not application/json.",
    "422": "What was sent cannot be used; each problem points to its field.",
    "429": "Too many requests.",
}
_EXAMPLES: Final = {"name": "sheets/pit-07.yaml", "topic": "pump.worn"}


def describe(_visit: Any) -> Response:
    """The description, for programs that make their own calls from it."""
    return Response(_text(), media_type="application/json")


@cache
def _text() -> str:
    return json.dumps(description(), ensure_ascii=False, indent=1) + "\n"


def description() -> Json:
    """The whole description as data."""
    paths: dict[str, Json] = {}
    for one in OPERATIONS:
        paths.setdefault(one.path.replace(":path}", "}"), {})[one.method.lower()] = _operation(one)
    return {
        "openapi": "3.1.0",
        "info": {"title": "oilpath", "version": __version__, "description": _ABOUT},
        "paths": paths,
        "components": {
            "schemas": {**_models(), **dict(_of_files())},
            "securitySchemes": {
                "token": {"type": "http", "scheme": "bearer", "description": "made under Settings by an admin"},
                "account": {"type": "http", "scheme": "basic", "description": "an account's name and password"},
            },
        },
        "security": [{"token": []}, {"account": []}, {}],
    }


def _operation(one: Operation) -> Json:
    made: Json = {"operationId": one.name, "summary": one.says, "parameters": [*_parameters(one)]}
    if one.body is not None:
        made["requestBody"] = {"required": True, "content": {"application/json": {"schema": _ref(one.body)}}}
    made["responses"] = {str(one.status): _response(one), **{status: _error(says) for status, says in _WRONG.items()}}
    return made


def _response(one: Operation) -> Json:
    if isinstance(one.answer, str):
        schema: Json = {"schema": {"type": "string"}}
        return {"description": one.says, "content": dict.fromkeys(one.answer.split(), schema)}
    return {"description": one.says, "content": {"application/json": {"schema": _ref(one.answer)}}}


def _error(says: str) -> Json:
    return {"description": says, "content": {"application/json": {"schema": _ref(ErrorOut)}}}


def _parameters(one: Operation) -> Iterator[Json]:
    if "{name" in one.path:
        schema = {"type": "string", "maxLength": 200, "example": _EXAMPLES["name"]}
        yield {"name": "name", "in": "path", "required": True, "schema": schema}
    properties = _schema(one.query).get("properties", {})
    needed = _schema(one.query).get("required", [])
    for key, schema in properties.items():
        said = {name: schema[name] for name in ("description",) if name in schema}
        plain = {name: value for name, value in schema.items() if name not in ("title", "description")}
        yield {"name": key, "in": "query", "required": key in needed, **said, "schema": plain}


def _schema(model: type[BaseModel]) -> Json:
    made: Json = model.model_json_schema(by_alias=True, ref_template=REF)
    return made


def _ref(model: type[BaseModel]) -> Json:
    return {"$ref": REF.format(model=model.__name__)}


def _models() -> Json:
    """The schemas of all bodies and answers."""
    ways: list[Any] = [(ErrorOut, "serialization")]
    for one in OPERATIONS:
        ways += [(one.body, "validation")] if one.body is not None else []
        ways += [] if isinstance(one.answer, str) else [(one.answer, "serialization")]
    made: Json = models_json_schema(list(dict.fromkeys(ways)), by_alias=True, ref_template=REF)[1]["$defs"]
    return made


def _of_files() -> Iterator[tuple[str, Json]]:
    """The schemas of machine and sheet files, each with what it refers to as a component of its own."""
    for kind in _FILES:
        made = json.loads((data_folder("kb") / "schemas" / f"{kind}.json").read_text(encoding="utf-8"))
        inner = made.pop("$defs", {})
        made.pop("$schema", None)
        yield kind, _moved(made, kind)
        yield from ((f"{kind}.{name}", _moved(one, kind)) for name, one in inner.items())


def _moved(schema: Any, kind: str) -> Any:
    """A schema whose references lead to the components."""
    if isinstance(schema, dict):
        return {
            key: value.replace("#/$defs/", f"#/components/schemas/{kind}.") if key == "$ref" else _moved(value, kind)
            for key, value in schema.items()
        }
    return [_moved(one, kind) for one in schema] if isinstance(schema, list) else schema
