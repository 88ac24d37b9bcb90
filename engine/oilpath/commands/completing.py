"""The values that a shell completes: files of the right kind, ids and titles. Each takes what is typed so far.

An id is offered with its title beside it. A title is offered where no id begins as typed, or where a space is typed.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, Final

import click
from click.shell_completion import CompletionItem

from oilpath.commands import console

if TYPE_CHECKING:
    from oilpath.knowledge.base import Knowledge

Items = list["CompletionItem[Any]"]  # in quotes: to older releases of click it is no generic type

_KIND_BYTES: Final = 4096
"""how much of a file is read to tell what it is"""


def _knowledge(context: click.Context) -> Knowledge:
    """The knowledge base with the folders of `--kb`; without a word on what is wrong in them."""
    from oilpath.knowledge.compile import load_knowledge
    from oilpath.knowledge.layers import layer_folders

    return load_knowledge(*layer_folders(context.meta.get(console.LAYERS, ())))


def _matching(known: Iterable[tuple[str, str]], typed: str) -> Items:
    """Those of some ids with their titles that begin as typed."""
    known, start = list(known), typed.casefold()
    ids: dict[str, str] = {}
    for one, title in known:
        if one.casefold().startswith(start):
            ids.setdefault(one, title)
    if ids and " " not in typed:
        return [CompletionItem(one, help=title) for one, title in ids.items()]
    titles = dict.fromkeys(title for _, title in known if title.casefold().startswith(start))
    return [CompletionItem(title) for title in titles]


# --- files ------------------------------------------------------------------------------


def files(_context: click.Context, _parameter: click.Parameter, typed: str) -> Items:
    """Any file: the shell's own completion."""
    return [CompletionItem(typed, type="file")]


def folders(_context: click.Context, _parameter: click.Parameter, typed: str) -> Items:
    """Any folder: the shell's own completion."""
    return [CompletionItem(typed, type="dir")]


def sheets(context: click.Context, parameter: click.Parameter, typed: str) -> Items:
    """Test sheets; any file where none fits."""
    return _of_kind("sheet/", typed) or files(context, parameter, typed)


def machines(context: click.Context, parameter: click.Parameter, typed: str) -> Items:
    """Machine files; any file where none fits."""
    return _of_kind("machine/", typed) or files(context, parameter, typed)


def sheets_and_machines(context: click.Context, parameter: click.Parameter, typed: str) -> Items:
    """Test sheets and machine files; any file where none fits."""
    return _of_kind("", typed) or files(context, parameter, typed)


def _of_kind(kind: str, typed: str) -> Items:
    """The files of the folder typed that say `oilpath: KIND`."""
    folder, start = os.path.split(typed)
    try:
        names = sorted(os.listdir(folder or "."))
    except OSError:
        return []
    paths = [
        os.path.join(folder, name) for name in names if name.startswith(start) and name.endswith((".yaml", ".yml"))
    ]
    return [CompletionItem(path) for path in paths if _says(path, kind)]


def _says(path: str, kind: str) -> bool:
    try:
        with open(path, "rb") as file:
            head = file.read(_KIND_BYTES).decode("utf-8", "replace")
    except OSError:
        return False
    return any(line.startswith(f"oilpath: {kind}") for line in head.splitlines())


# --- ids and titles ---------------------------------------------------------------------


def topics(context: click.Context, _parameter: click.Parameter, typed: str) -> Items:
    """All that can be looked up."""
    from oilpath.explore.topics import titles

    return _matching(titles(_knowledge(context)), typed)


def sheets_and_topics(context: click.Context, parameter: click.Parameter, typed: str) -> Items:
    """Test sheets, then all that can be looked up."""
    return [*_of_kind("sheet/", typed), *topics(context, parameter, typed)] or files(context, parameter, typed)


def results_and_topics(context: click.Context, parameter: click.Parameter, typed: str) -> Items:
    """The results of the sheet named before, then all that can be looked up."""
    from oilpath.problems import UnusableInput

    named = context.params.get("first")
    try:
        readings = console.read_sheet(named, _knowledge(context)).readings if named else ()
    except UnusableInput:
        readings = ()
    own = [(one.id, one.kind.title) for one in readings]
    return [*_matching(own, typed), *topics(context, parameter, typed)]


def causes(context: click.Context, _parameter: click.Parameter, typed: str) -> Items:
    """Causes."""
    from oilpath.explore.topics import cause_titled

    return _matching(((one.cause, cause_titled(one)) for one in _knowledge(context).causes), typed)


def parts(context: click.Context, _parameter: click.Parameter, typed: str) -> Items:
    """Parts of all circuits."""
    return _matching(_parts(_knowledge(context)), typed)


def _parts(knowledge: Knowledge) -> Iterator[tuple[str, str]]:
    for circuit in knowledge.circuits.values():
        for one, part in circuit.parts.items():
            yield one, part.title


def circuits(context: click.Context, _parameter: click.Parameter, typed: str) -> Items:
    """Circuits."""
    return _matching(((one, circuit.title) for one, circuit in _knowledge(context).circuits.items()), typed)


def demos(_context: click.Context, _parameter: click.Parameter, typed: str) -> Items:
    """The demo cases, with what is complained of."""
    from oilpath.commands.demo import cases

    return [CompletionItem(name, help=said) for name, said in cases().items() if name.startswith(typed)]


def kinds_of_entry(_context: click.Context, _parameter: click.Parameter, typed: str) -> Items:
    """The kinds of entry of which `kb new` writes a skeleton."""
    from oilpath.knowledge.skeletons import KINDS

    return [CompletionItem(kind) for kind in KINDS if kind.startswith(typed)]
