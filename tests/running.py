"""The command run in this process, as it would be from a shell."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from dataclasses import dataclass

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
        monkeypatch.setattr(sys, "argv", ["oilpath", *arguments])
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8"))
        with pytest.raises(SystemExit) as stop:
            cli.main()
        captured = capsys.readouterr()
        return Ran(int(stop.value.code or 0), captured.out, captured.err)

    return command
