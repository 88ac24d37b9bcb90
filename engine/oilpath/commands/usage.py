"""Mistakes in how a command was called, said in plain words."""

from __future__ import annotations

import click


def mistake(error: click.UsageError) -> str:
    """What is wrong, and where the help is: two lines."""
    from oilpath.problems import clean, shorten

    path = error.ctx.command_path if error.ctx is not None else "oilpath"
    return f"{path}: {shorten(clean(_what(error)), 400)}\nTry: {path} --help"


def _what(error: click.UsageError) -> str:
    match error:
        case click.NoSuchOption():
            near = f"; did you mean {' or '.join(sorted(error.possibilities))}?" if error.possibilities else ""
            return f"there is no option {error.option_name}{near}"
        case click.BadOptionUsage():
            takes_one = "requires" in error.message
            return f"{error.option_name} {'needs a' if takes_one else 'takes no'} value"
        case click.MissingParameter(param=click.Parameter() as parameter):
            return f"{_name(parameter)} is missing"
        case click.BadParameter(param=click.Parameter() as parameter):
            return f"{_name(parameter)}: {error.message.rstrip('.')}"
    return error.message


def _name(parameter: click.Parameter) -> str:
    if isinstance(parameter, click.Option):
        return parameter.opts[0]
    return (parameter.metavar or parameter.name or "").strip("[].…")
