"""A workshop's own template of the repair order: `templates/order.txt` or `order.md` in its layer, in jinja2.

It sees the fields of `Order` by their names. It runs in jinja2's sandbox: a layer may come from elsewhere.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from oilpath.knowledge.files import TEMPLATES
from oilpath.problems import Problem, UnusableInput
from oilpath.reports.markdown import escape
from oilpath.reports.order import Order, as_mapping

NAMES: Final = {"text": "order.txt", "markdown": "order.md"}
_ACCEPTED: Final = "a jinja2 template; the fields are those that docs/order-template.md names"
_BYTES: Final = 1 << 20


def own_template(folders: Iterable[tuple[str, str]], form: str) -> tuple[Path, str] | None:
    """The template of the highest layer that has one: its path, and how to call it.

    folders: of each layer its folder and how it is shown, from the lowest to the highest.
    """
    for folder, shown in reversed(list(folders)):
        path = Path(folder) / TEMPLATES / NAMES[form]
        if os.path.isfile(path):
            return path, f"{shown}/{TEMPLATES}/{NAMES[form]}"
    return None


def by_template(order: Order, path: Path, shown: str) -> str:
    """The order as a template writes it. Raises UnusableInput with the template's line."""
    from jinja2 import StrictUndefined, TemplateError, TemplateSyntaxError
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    host = ImmutableSandboxedEnvironment(
        undefined=StrictUndefined, autoescape=False, trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True
    )
    host.filters["md"] = escape
    try:
        source = path.read_bytes()[:_BYTES].decode("utf-8")
        text = host.from_string(source).render(as_mapping(order))
    except TemplateSyntaxError as error:
        raise _problem(shown, error.lineno, error.message or "is no template") from None
    except UnicodeDecodeError:
        raise _problem(shown, 1, "is not UTF-8") from None
    except OSError as error:
        raise _problem(shown, 1, (error.strerror or "cannot be read").lower()) from None
    except (TemplateError, ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise _problem(shown, _line(error), str(error)) from None
    return text if text.endswith("\n") else f"{text}\n"


def _line(error: BaseException) -> int:
    """The line of the template where it went wrong: jinja2 puts it into the traceback."""
    line, trace = 1, error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_filename in ("<template>", "<unknown>"):
            line = trace.tb_lineno
        trace = trace.tb_next
    return line


def _problem(shown: str, line: int, message: str) -> UnusableInput:
    return UnusableInput([Problem(shown, line, "-", message, _ACCEPTED)])
