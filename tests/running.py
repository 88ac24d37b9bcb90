"""The command run in this process or as one of its own, as it would be from a shell."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from oilpath import cli


@dataclass(frozen=True)
class Ran:
    """Exit status, standard output and standard error of a command."""

    status: int
    out: str
    err: str


Run = Callable[..., Ran]


def in_process(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """run(*arguments, text="what comes by standard input")."""

    def command(*arguments: str, text: str = "") -> Ran:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8"))
        status = cli.run(list(arguments))
        captured = capsys.readouterr()
        return Ran(status, captured.out, captured.err)

    return command


ENGINE = Path(cli.__file__).parents[1]
_START = f"import sys; sys.path[:0] = [{str(ENGINE)!r}]; sys.argv[0] = 'oilpath'; "


def command_line(*arguments: str | Path, before: str = "") -> list[str]:
    """The command line of a new interpreter that runs `before`, then the command with these arguments."""
    code = f"{_START}{before}\nfrom oilpath.cli import main\nmain()"
    return [sys.executable, "-c", code, *map(str, arguments)]


def as_process(
    *arguments: str | Path, streams: str = "", before: str = "", environment: dict[str, str] | None = None, **more: Any
) -> Ran:
    """The command as a process of its own, with `streams` redirected as a shell writes it (`>&- 2>/dev/full`)."""
    done = subprocess.run(
        ["/bin/sh", "-c", f'exec "$@" {streams}', "sh", *command_line(*arguments, before=before)],
        capture_output=True,
        timeout=120,
        check=False,
        env={**os.environ, "PYTHONUTF8": "1", **(environment or {})},
        **more,
    )
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())
