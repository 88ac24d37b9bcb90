"""The classes of commands and groups, and options that several commands or all of them take.

An option for every command goes into `shared`. Its value need not pass through the commands: with
``expose_value=False`` and a callback it is kept in ``context.meta``, and read where it is used by
``click.get_current_context().meta``.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from oilpath.commands import completing, console, streams

F = TypeVar("F", bound=Callable[..., Any])
Decorator = Callable[[F], F]

SETTINGS: Final[dict[str, Any]] = {"help_option_names": [], "max_content_width": 100}


def shared() -> list[click.Parameter]:
    """The options that every command takes, in the order of its help."""
    return [
        click.Option(
            ["--kb"],
            multiple=True,
            metavar="DIR",
            shell_complete=completing.folders,
            expose_value=False,
            callback=_keep_layers,
            help="Add your own knowledge from this folder; may be given several times.",
        ),
        click.Option(
            ["-h", "--help"],
            is_flag=True,
            is_eager=True,
            expose_value=False,
            callback=_show_help,
            help="Show this text and stop.",
        ),
    ]


def _show_help(context: click.Context, _parameter: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        streams.write(context.get_help() + "\n")
        context.exit()


def _keep_layers(context: click.Context, _parameter: click.Parameter, folders: tuple[str, ...]) -> None:
    if folders:
        context.meta[console.LAYERS] = (*context.meta.get(console.LAYERS, ()), *folders)


# --- commands and groups --------------------------------------------------------------


@contextmanager
def _mistakes_of(context: click.Context) -> Iterator[None]:
    """Let each mistake know the command it was made with; the parser leaves that out."""
    try:
        yield
    except click.UsageError as error:
        if error.ctx is None:
            error.ctx = context
        raise


class Command(click.Command):
    """A command with the shared options and examples at the end of its help."""

    def __init__(self, *arguments: Any, examples: tuple[str, ...] = (), **settings: Any) -> None:
        super().__init__(*arguments, **settings)
        self.context_settings = {**SETTINGS, "allow_extra_args": True}
        self.params += shared()
        self.examples = examples

    def parse_args(self, context: click.Context, arguments: list[str]) -> list[str]:
        """Take the arguments; raises click.UsageError for one too many."""
        with _mistakes_of(context):
            rest = super().parse_args(context, arguments)
            if context.args and not context.resilient_parsing:
                raise click.UsageError(f"{context.args[0]} is one argument too many")
            return rest

    def format_epilog(self, _context: click.Context, formatter: click.HelpFormatter) -> None:
        """The examples."""
        _show_examples(self.examples, formatter)


def _show_examples(examples: tuple[str, ...], formatter: click.HelpFormatter) -> None:
    with formatter.section("Example" if len(examples) == 1 else "Examples"):
        for line in examples:
            formatter.write(f"{'':>{formatter.current_indent}}{line}\n")


class Group(click.Group):
    """A group of commands in the order given; those of `homes` (name to module) are imported when they are used.

    Called without a command, the group writes what `alone` returns, by default its help.
    """

    def __init__(
        self,
        name: str,
        help: str,
        homes: Mapping[str, str] | None = None,
        examples: tuple[str, ...] = (),
        alone: Callable[[click.Context], str] = click.Context.get_help,
    ) -> None:
        super().__init__(name, help=help, context_settings=SETTINGS, invoke_without_command=True)
        self.params += shared()
        self._homes = dict(homes or {})
        self.examples = examples
        self._alone = alone

    def format_commands(self, context: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands with the whole first paragraph of their help, which click would cut to a line."""
        commands = [(name, self.get_command(context, name)) for name in self.list_commands(context)]
        with formatter.section("Commands"):
            formatter.write_dl([(name, _first_paragraph(found.help)) for name, found in commands if found])

    def format_epilog(self, _context: click.Context, formatter: click.HelpFormatter) -> None:
        """The examples."""
        _show_examples(self.examples, formatter)

    def parse_args(self, context: click.Context, arguments: list[str]) -> list[str]:
        """Take the arguments. Raises click.UsageError."""
        with _mistakes_of(context):
            return super().parse_args(context, arguments)

    def resolve_command(
        self, context: click.Context, arguments: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that the first argument names, and the rest. Raises click.UsageError."""
        if self.get_command(context, arguments[0]) is None:
            from oilpath.problems import nearest

            near = nearest(arguments[0], self.list_commands(context))
            hint = f"; did you mean {near}?" if near else ""
            raise click.UsageError(f"there is no command {arguments[0]}{hint}", context)
        return super().resolve_command(context, arguments)

    def invoke(self, context: click.Context) -> Any:
        """Run the command that was named."""
        result = super().invoke(context)
        if context.invoked_subcommand is None:
            streams.write(self._alone(context) + "\n")
        return result

    def list_commands(self, _context: click.Context) -> list[str]:
        """Names in the order of their help."""
        return [*self._homes, *(name for name in self.commands if name not in self._homes)]

    def get_command(self, _context: click.Context, name: str) -> click.Command | None:
        """Return the command of this name; None if there is none."""
        if name not in self.commands and name in self._homes:
            self.add_command(importlib.import_module(self._homes[name]).command, name)
        return self.commands.get(name)


def _first_paragraph(help_text: str | None) -> str:
    return " ".join((help_text or "").partition("\n\n")[0].split())


def command(
    name: str, *, examples: tuple[str, ...], group: click.Group | None = None
) -> Callable[[Callable[..., None]], Command]:
    """Make a function a command; its docstring is the help text.

    The examples are command lines as typed: tests run them in a folder with machine.yaml, sheet.yaml and other files.
    """

    def make(function: Callable[..., None]) -> Command:
        made = click.command(name, cls=Command, examples=examples)(function)
        if group is not None:
            group.add_command(made)
        return made

    return make


# --- kinds of values -------------------------------------------------------------------


def file_name(text: str) -> str:
    """A type for arguments: the name of a file, `-` for standard input."""
    if not text:  # as from an unset variable in quotes
        raise click.BadParameter("an empty name; the name of a file is expected")
    return text


def whole_number(least: int, most: int) -> Callable[[str], int]:
    """A type for options: a whole number from `least` to `most`."""

    def number(text: str) -> int:
        try:
            value = int(text)
        except ValueError:
            value = least - 1
        if not least <= value <= most:
            raise click.BadParameter(f"{text!r} is not a whole number from {least} to {most}")
        return value

    return number


def probability(text: str) -> float:
    """A type for options: a number from 0 to 1."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= 1:  # also if it is not a number (nan)
        raise click.BadParameter(f"{text!r} is not a number from 0 to 1")
    return value


# --- options that several commands take -----------------------------------------------

units: Final[Decorator[Any]] = click.option(
    "--units",
    type=click.Choice(["si", "us"]),
    default="si",
    show_default=True,
    help="Show figures in SI or US customary units.",
)

output: Final[Decorator[Any]] = click.option(
    "--output",
    "-o",
    metavar="FILE",
    shell_complete=completing.files,
    callback=lambda _context, _parameter, name: None if name in (None, "-") else Path(name),
    help="Write to this file; - writes to standard output.",
)

sheet: Final[Decorator[Any]] = click.argument(
    "sheet_name", metavar="SHEET", type=file_name, shell_complete=completing.sheets
)

sheets: Final[Decorator[Any]] = click.argument(
    "sheet_names",
    metavar="SHEET...",
    nargs=-1,
    required=True,
    type=file_name,
    shell_complete=completing.sheets,
)

machine: Final[Decorator[Any]] = click.argument(
    "machine_name", metavar="MACHINE", type=file_name, shell_complete=completing.machines
)


have: Final[Decorator[Any]] = click.option(
    "--have",
    metavar="FILE",
    shell_complete=completing.files,
    help="Propose only what these tools, people and this room allow.",
)

database: Final[Decorator[Any]] = click.option(
    "--database",
    metavar="FILE-OR-URL",
    shell_complete=completing.files,
    help="The workshop's database: a file, or postgresql://….",
)


def format_of(*names: str) -> Decorator[Any]:
    """`--format`, one of these, by default the first."""
    return click.option(
        "--format",
        "-f",
        "format_",
        type=click.Choice(names),
        default=names[0],
        show_default=True,
        help="Form of the answer.",
    )


def form_by_name(*names: str) -> Decorator[Any]:
    """`--format`, one of these; None where it is left to the ending of `--output` (see `output.form_of`)."""
    return click.option(
        "--format",
        "-f",
        "format_",
        type=click.Choice(names),
        help="Form of the answer; by default what the name of --output ends in, else text.",
    )


def show_all(text: str) -> Decorator[Any]:
    """`--all`."""
    return click.option("--all", "all_", is_flag=True, help=text)
