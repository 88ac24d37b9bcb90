"""Mistakes in how a command was called, said in plain words."""

from __future__ import annotations

from typing import Final

import click

_PLAIN: Final = {"is not a valid float": "is not a number", "is not a valid integer": "is not a whole number"}


def mistake(error: click.UsageError) -> str:
    """What is wrong, and where the help is: two lines."""
    from oilpath.problems import clean, shorten

    path = error.ctx.command_path if error.ctx is not None else "oilpath"
    return f"{path}: {shorten(clean(_what(error)), 400)}\nTry: {path} --help"


def _what(error: click.UsageError) -> str:
    if isinstance(error, click.NoSuchOption):
        near = f"; did you mean {' or '.join(sorted(error.possibilities))}?" if error.possibilities else ""
        return f"there is no option {error.option_name}{near}"
    if isinstance(error, click.MissingParameter) and error.param is not None:
        return f"{_name(error.param)} is missing"
    text = error.message.rstrip(".")
    for theirs, ours in _PLAIN.items():
        text = text.replace(theirs, ours)
    if isinstance(error, click.BadParameter) and error.param is not None:
        return f"{_name(error.param)}: {text}"
    return text[:1].lower() + text[1:]


def _name(parameter: click.Parameter) -> str:
    if isinstance(parameter, click.Option):
        return parameter.opts[0]
    return (parameter.metavar or parameter.name or "").strip("[].…")
