"""`oilpath serve`: the pages for one workshop, on this machine, and for phones and people who are let in."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from oilpath.commands import console, options, streams

if TYPE_CHECKING:
    from oilpath.page.pairing import Pairing
    from oilpath.page.serving import Serving
    from oilpath.page.workshop import Workshop

_PORT: Final = 8074
_HERE: Final = "127.0.0.1"


@options.command(
    "serve",
    examples=(
        "oilpath serve --demo",
        "oilpath serve --database workshop.db",
    ),
)
@click.option("--host", metavar="ADDRESS", help="Listen at this address; with --pair: there for phones.  [127.0.0.1]")
@click.option(
    "--port", metavar="NUMBER", type=options.whole_number(1, 65_535), default=str(_PORT), show_default=True,
    help="Listen at this port.",
)  # fmt: skip
@click.option("--pair", is_flag=True, help="Let phones in the same network in, each by a code that is shown.")
@click.option("--database", metavar="FILE-OR-URL", help="The workshop's database: a file, or postgresql://….")
@click.option("--demo", is_flag=True, help="Put the invented machines and sheets that ship into the database first.")
@click.option(
    "--certificate", metavar="FILE", type=click.Path(path_type=Path), help="With --host: your own certificate, PEM."
)
@click.option("--key", metavar="FILE", type=click.Path(path_type=Path), help="Its private key, where that is apart.")
def command(
    host: str | None,
    port: int,
    pair: bool,
    database: str | None,
    demo: bool,
    certificate: Path | None,
    key: Path | None,
) -> None:
    """Open the pages for a workshop in the browser: enter, see, check, write the order, look back.

    They are on this machine alone. With --pair phones come in over the network as well, each by a code; with --host
    alone people with accounts do. Both are encrypted. It needs the extra `page`; Ctrl-C ends it.
    """
    try:
        import starlette  # noqa: F401
        import uvicorn  # noqa: F401
    except ModuleNotFoundError as missing:
        raise click.UsageError(
            f"serve needs {missing.name}; install oilpath with the extra page: oilpath[page]"
        ) from None
    if (certificate or key) and (pair or host is None):
        raise click.UsageError("--certificate and --key go with --host, without --pair")
    if key is not None and certificate is None:
        raise click.UsageError("--key goes with --certificate")
    phones = _for_phones(host) if pair else None
    knowledge = console.read_knowledge()
    from oilpath.page.serving import Serving
    from oilpath.page.workshop import Workshop
    from oilpath.store.opening import data_file, open_store

    store = open_store(database)
    workshop = Workshop(store, knowledge)
    try:
        if demo:
            _put_demo(workshop)
        main = _HERE if pair or host is None else host
        serving = Serving(
            workshop, main, port, folder=data_file().parent / "certificates", pair=phones, certificate=certificate,
            key=key,
        )  # fmt: skip
        _started(serving)
        serving.run()
    finally:
        workshop.ranker.stop()
        store.close()


def _put_demo(workshop: Workshop) -> None:
    """The invented machines and sheets, as far as they are not there."""
    from oilpath.page.demo import put_demo

    added = put_demo(workshop.store)
    streams.say(f"{added} invented machines and sheets put into the database.")


def _for_phones(host: str | None) -> str:
    """The address on the network where phones come in. Raises click.UsageError where none is found."""
    from oilpath.page.pairing import network_addresses

    if host is not None:
        return host
    found = network_addresses()
    if not found:
        raise click.UsageError(
            "--pair: this machine is in no network; open its hotspot, or name its address there with --host"
        )
    if len(found) > 1:
        streams.say(f"Phones come in at {found[0]}; with --host at {' or '.join(found[1:])}.")
    return found[0]


def _started(serving: Serving) -> None:
    """Say the addresses; open the browser where there is one and somebody at the screen."""
    streams.write(f"{serving.address}\n")
    if serving.pairing is not None:
        _show_code(serving.pairing)
    streams.say("Ctrl-C ends it.")
    if streams.is_terminal() and _has_screen():
        import webbrowser

        webbrowser.open(serving.address)


def _show_code(pairing: Pairing) -> None:
    """The code for a phone, what it stands for, and the fingerprint to compare."""
    from oilpath.page.access import PAIR_MINUTES
    from oilpath.page.pairing import drawn_in_text, two_lines

    address = pairing.invite()
    streams.write(f"\n{drawn_in_text(address, coloured=streams.is_terminal())}\n{address}\n\n")
    streams.write(f"The phone's browser must show this certificate, SHA-256:\n{two_lines(pairing.fingerprint)}\n\n")
    streams.say(
        f"It lets one phone in, once, within {PAIR_MINUTES:.0f} minutes; another code: under Settings on this machine."
    )


def _has_screen() -> bool:
    return sys.platform in ("win32", "darwin") or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
