"""The interface for programs: JSON as on the shell, and the same problems with pointers to fields."""

from __future__ import annotations

from typing import Any

from starlette.responses import JSONResponse, Response


def error_response(status: int, says: str, problems: tuple[Any, ...] = ()) -> Response:
    """What is wrong, as data: `error/1`, with the problems of the documents."""
    return JSONResponse(
        {
            "oilpath": "error/1",
            "message": says,
            "problems": [
                {"file": one.file, "line": one.line, "key": one.key, "message": one.message, "accepted": one.accepted}
                for one in problems
            ],
        },
        status,
    )
