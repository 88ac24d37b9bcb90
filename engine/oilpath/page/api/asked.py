"""What a program asks: its query and body, checked by their models, and the document that it is about."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, TypeVar

from pydantic import BaseModel
from starlette.responses import JSONResponse, Response

from oilpath.documents.edit import Document
from oilpath.documents.sheet_text import document_text
from oilpath.documents.validate import model_from_data
from oilpath.knowledge.fields import kebab
from oilpath.page.visit import Refused, Visit
from oilpath.page.workshop import Workshop
from oilpath.problems import Problem, Problems, UnusableInput

Json = dict[str, Any]
M = TypeVar("M", bound=BaseModel)
_QUERY, _BODY = "query", "body"


class Asked:
    """One question of a program. query and body are of the models of its operation."""

    def __init__(self, visit: Visit, query: type[BaseModel], body: type[BaseModel] | None) -> None:
        self.visit = visit
        self.query: Any = checked(query, _query(visit, query), _QUERY)
        self.body: Any = None
        if body is not None:
            if visit.sent.json is None:
                raise Refused(415, "Send the body as application/json.")
            visit.documents[_BODY] = visit.sent.json
            self.body = checked(body, visit.sent.json, _BODY)

    @property
    def workshop(self) -> Workshop:
        """The workshop."""
        return self.visit.workshop

    @property
    def name(self) -> str:
        """The document that the address names."""
        return self.visit.path["name"]

    def text_of(self, name: str) -> str:
        """The document that was sent, as text. Raises UnusableInput; its problems then point into it."""
        text, data = self.body.text, self.body.data
        if (text is None) == (data is None):
            raise wrong("text", "one of text and data is expected", "the text of a file, or the same as data")
        if data is not None:
            try:
                text = document_text(data)
            except ValueError:
                raise wrong("data", "holds what a file cannot hold", "finite numbers and whole characters") from None
        self.about(name, str(text))
        return str(text)

    def about(self, name: str, text: str) -> None:
        """Problems of this document point into this text."""
        try:
            self.visit.documents[name] = Document(name, text).as_read
        except UnusableInput:
            self.visit.documents.pop(name, None)


def wrong(key: str, message: str, accepted: str = "", file: str = _BODY) -> UnusableInput:
    """A problem of what was sent."""
    return UnusableInput([Problem(file, 1, key, message, accepted)])


def checked(model: type[M], data: Any, file: str) -> M:
    """What was sent as its model. Raises UnusableInput with all that is wrong, in the words of the shell."""
    problems = Problems()
    made = model_from_data(data, {}, model, file, problems)
    problems.raise_if_any()
    assert made is not None
    return made


def answered(
    data: Mapping[str, Any] | BaseModel, status: int = 200, headers: Mapping[str, str] | None = None
) -> Response:
    """JSON. Raises ValueError for what JSON cannot hold, so that no NaN gets out."""
    if isinstance(data, BaseModel):
        data = data.model_dump(by_alias=True, exclude_unset=True)
    return JSONResponse(data, status, headers=dict(headers or {}))


def sound(data: Any) -> bool:
    """Whether JSON holds finite numbers and whole characters alone, as a file does."""
    waiting = [data]
    while waiting:
        one = waiting.pop()
        if isinstance(one, float) and not math.isfinite(one):
            return False
        if isinstance(one, str) and not _whole(one):
            return False
        if isinstance(one, dict):
            waiting += [*one.keys(), *one.values()]
        elif isinstance(one, list):
            waiting += one
    return True


def _whole(text: str) -> bool:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _query(visit: Visit, model: type[BaseModel]) -> Json:
    """The query as data: a list where the model has one, else the last value."""
    lists = {one.alias or kebab(name) for name, one in model.model_fields.items() if isinstance(one.default, tuple)}
    given = visit.request.query_params
    return {key: given.getlist(key) if key in lists else given[key] for key in given}
