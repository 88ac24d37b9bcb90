"""`oilpath completion`: the script with which a shell completes the command, by way of click."""

from __future__ import annotations

import os
import re
from typing import Any, Final

import click
from click import shell_completion

from oilpath.commands import options, streams

VARIABLE: Final = "_OILPATH_COMPLETE"
"""set by the script: what the shell asks of the program"""
_PROGRAM: Final = "oilpath"
_SHELLS: Final = ("bash", "zsh", "fish")
_SPECIAL: Final = re.compile(r"([^\w@%+:,./~-])")


@options.command("completion", examples=("oilpath completion bash", 'eval "$(oilpath completion bash)"'))
@click.argument("shell", metavar="SHELL", type=click.Choice(_SHELLS))
def command(shell: str) -> None:
    """Print the script that lets a shell complete commands, options, files, ids and titles with the Tab key.

    SHELL is bash (4.4 or later), zsh or fish. Put the second line below into ~/.bashrc, for zsh the same with zsh into
    ~/.zshrc; for fish: oilpath completion fish > ~/.config/fish/completions/oilpath.fish
    """
    found = shell_completion.get_completion_class(shell)
    assert found is not None
    streams.write(found(options.Group(_PROGRAM, help=""), {}, _PROGRAM, VARIABLE).source())


class _Bash(shell_completion.BashComplete):
    """For bash: spaces outside quotes escaped, and an id with @, which bash takes apart, put together again."""

    def get_completion_args(self) -> tuple[list[str], str]:
        """The words before the one that is typed, and that one."""
        words = os.environ["COMP_WORDS"].split("\n")
        last = int(os.environ["COMP_CWORD"])
        before, self._typed = words[1:last], words[last] if last < len(words) else ""
        if before[-1:] == ["@"]:
            self._typed = f"{before.pop()}{self._typed}"
        self._left_out = before.pop() if self._typed[:1] == "@" and before else ""  # bash puts in what begins with @
        return [_unquoted(word) for word in before], _unquoted(self._left_out + self._typed)

    def format_completion(self, item: shell_completion.CompletionItem[Any]) -> str:
        """One value as the script reads it; its `read` takes a backslash away."""
        value = str(item.value).removeprefix(self._left_out)
        if item.type == "plain" and self._typed[:1] not in ("'", '"'):
            value = _SPECIAL.sub(r"\\\\\1", value)
        return f"{item.type},{value}"


def _unquoted(word: str) -> str:
    return "".join(shell_completion.split_arg_string(word))


def answer(app: click.Group) -> int:
    """Answer what a shell asks for; the exit status. Silent where nothing can be completed."""
    shell_completion.add_completion_class(_Bash)
    try:
        return shell_completion.shell_complete(app, {}, _PROGRAM, VARIABLE, os.environ[VARIABLE])
    except Exception:  # half a line is often wrong; a message would land in the line that is typed
        return 1
