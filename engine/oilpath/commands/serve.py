"""`oilpath serve`: the pages for one workshop, on this machine."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING, Final

import click

from oilpath.commands import console, options, streams

if TYPE_CHECKING:
    from oilpath.page.workshop import Workshop

_PORT: Final = 8074
_HERE: Final = ("127.0.0.1", "localhost", "::1")


@options.command("serve", example="oilpath serve --demo")
@click.option("--host", metavar="ADDRESS", default="127.0.0.1", show_default=True, help="Listen at this address.")
@click.option(
    "--port", metavar="NUMBER", type=options.whole_number(1, 65_535), default=str(_PORT), show_default=True,
    help="Listen at this port.",
)  # fmt: skip
@options.database
@click.option("--demo", is_flag=True, help="Put the invented machines and sheets that ship into the database first.")
def command(host: str, port: int, database: str | None, demo: bool) -> None:
    """Open the pages for a workshop in the browser: enter, see, check, write the order, look back.

    They are on this machine alone unless --host names another address. It needs the extra `page`; Ctrl-C ends it.
    """
    try:
        import starlette  # noqa: F401
        import uvicorn  # noqa: F401
    except ModuleNotFoundError as missing:
        raise click.UsageError(
            f"serve needs {missing.name}; install oilpath with the extra page: oilpath[page]"
        ) from None
    knowledge = console.read_knowledge()
    from oilpath.page.serving import serve
    from oilpath.page.workshop import Workshop
    from oilpath.store.opening import open_store

    store = open_store(database)
    try:
        workshop = Workshop(store, knowledge)
        if demo:
            _put_demo(workshop)
        serve(workshop, host, port, _started)
    finally:
        store.close()


def _put_demo(workshop: Workshop) -> None:
    """The invented machines and sheets, as far as they are not there."""
    from oilpath.page.demo import put_demo

    added = put_demo(workshop.store)
    streams.say(f"{added} invented machines and sheets put into the database.")


def _started(address: str) -> None:
    """Say the address; open the browser where there is one and somebody at the screen."""
    streams.write(f"{address}\n")
    streams.say("Ctrl-C ends it.")
    if streams.is_terminal() and _has_screen():
        import webbrowser

        webbrowser.open(address)


def _has_screen() -> bool:
    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
