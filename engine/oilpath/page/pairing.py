"""Letting phones in: the address on the network, a code with a token that serves once, drawn to be scanned."""

from __future__ import annotations

import io
import ipaddress
import socket
import sys
from typing import TYPE_CHECKING, Final

from oilpath.page.access import PAIR_MINUTES
from oilpath.records import dataclass

if TYPE_CHECKING:
    from oilpath.store.opening import Store

_HOTSPOTS: Final = ("10.42.0.1", "192.168.137.1", "192.168.2.1", "172.20.10.1")
"""what common systems call themselves when they open a hotspot: common practice"""
_LIT, _PLAIN = "\x1b[97;40m", "\x1b[0m"
_SIOCGIFADDR: Final = 0x8915  # Linux, netdevice(7)


@dataclass(frozen=True, slots=True)
class Pairing:
    """Where phones come in: the address, and the fingerprint of its certificate."""

    store: Store
    address: str
    fingerprint: str

    def invite(self) -> str:
        """An address that lets one phone in, once, within some minutes."""
        return f"{self.address}pair/{self.store.accounts.invite('write', minutes=PAIR_MINUTES)}"


def drawn_in_text(address: str, *, coloured: bool) -> str:
    """The code of an address for a terminal, light on dark; coloured: whatever the terminal's own colours are."""
    import segno

    made = io.StringIO()
    segno.make(address, micro=False, error="l").terminal(made, border=2, compact=True)
    lines = made.getvalue().splitlines()
    return "".join(f"{_LIT}{line}{_PLAIN}\n" if coloured else f"{line}\n" for line in lines)


def drawn_in_svg(address: str) -> str:
    """The code of an address for a page."""
    import segno

    return segno.make(address, micro=False, error="m").svg_inline(
        scale=6, border=3, dark="#000", light="#fff", svgclass="code", lineclass=None, omitsize=True, unit=None
    )


def two_lines(fingerprint: str) -> str:
    """A fingerprint in two lines, as it fits a narrow terminal."""
    return f"{fingerprint[:48]}\n{fingerprint[48:]}"


# --- addresses on the network -----------------------------------------------------------


def network_addresses() -> tuple[str, ...]:
    """The private IPv4 addresses of this machine, that of a hotspot first, then the one of the way out."""
    found = dict.fromkeys((*_of_interfaces(), *_by_name(), *_way_out()))
    way_out = _way_out()
    usable = [one for one in found if _private(one)]
    return tuple(sorted(usable, key=lambda one: (one not in _HOTSPOTS, one not in way_out)))


def _private(text: str) -> bool:
    one = ipaddress.ip_address(text)
    return one.is_private and not (one.is_loopback or one.is_link_local or one.is_unspecified)


def _way_out() -> list[str]:
    """The address with which packets leave; none is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))  # RFC 5737: an address of nobody
            return [asking.getsockname()[0]]
        except OSError:
            return []


def _by_name() -> list[str]:
    try:
        return [str(one[4][0]) for one in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    except OSError:
        return []


def _of_interfaces() -> list[str]:
    if not sys.platform.startswith("linux"):
        return []
    import fcntl
    import struct

    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        for _, name in socket.if_nameindex():
            try:
                answer = fcntl.ioctl(asking.fileno(), _SIOCGIFADDR, struct.pack("256s", name.encode()[:15]))
            except OSError:  # it has none
                continue
            found.append(socket.inet_ntoa(answer[20:24]))
    return found
