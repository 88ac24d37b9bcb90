"""Phones come in over TLS, each by a code that serves once; tried with a real TLS client."""

from __future__ import annotations

import datetime
import hashlib
import re
import socket
import ssl
import stat
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

pytest.importorskip("cryptography")
pytest.importorskip("segno")

from oilpath.knowledge.compile import load_knowledge
from oilpath.page.certificate import certificate_for
from oilpath.page.pairing import drawn_in_svg, drawn_in_text, network_addresses
from oilpath.page.serving import Serving
from oilpath.page.workshop import Workshop
from oilpath.problems import UnusableInput

if TYPE_CHECKING:
    from oilpath.store.opening import Store
    from tests.page.conftest import Browser

NETWORK = "127.0.0.2" if sys.platform.startswith("linux") else "127.0.0.1"
"""stands for the machine's address on the network: another one than that of the machine itself, where there is one"""
ENTRY = "/sheet/demo/pump-1-slow.yaml/entry"

# --- the certificate --------------------------------------------------------------------


def test_the_fingerprint_is_that_of_the_certificate(tmp_path: Path) -> None:
    """SHA-256 of the DER form, by the standard library; key and certificate are readable by their owner alone."""
    made = certificate_for("192.168.7.1", tmp_path)
    pem = made.path.read_text()
    der = ssl.PEM_cert_to_DER_cert(pem[pem.index("-----BEGIN CERT") :])
    assert made.fingerprint.replace(":", "").lower() == hashlib.sha256(der).hexdigest()
    assert sys.platform == "win32" or stat.S_IMODE(made.path.stat().st_mode) == 0o600


def test_a_certificate_is_kept_for_its_address_until_its_time_is_over(tmp_path: Path) -> None:
    first = certificate_for("192.168.7.1", tmp_path)
    assert certificate_for("192.168.7.1", tmp_path) == first
    assert certificate_for("192.168.7.2", tmp_path).fingerprint != first.fingerprint
    later = datetime.datetime.now(datetime.UTC) + datetime.timedelta(days=360)
    assert certificate_for("192.168.7.1", tmp_path, later).fingerprint != first.fingerprint
    first.path.write_text("broken")
    assert certificate_for("192.168.7.1", tmp_path).path.read_text().startswith("-----BEGIN")


def test_addresses_of_the_network_are_private_ones_and_not_this_machine_alone() -> None:
    assert not {one for one in network_addresses() if one.startswith(("127.", "169.254."))}


# --- the code ---------------------------------------------------------------------------


def test_the_code_is_drawn_whole_on_a_terminal_and_for_a_page() -> None:
    """ISO/IEC 18004: 7 dark modules in a row begin each of the three finders; here half blocks hold two rows."""
    address = "https://192.168.7.1:8074/pair/" + "A" * 43
    lines = drawn_in_text(address, coloured=False).splitlines()
    assert len({len(line) for line in lines}) == 1
    assert lines[1][2:9] == lines[1][-9:-2] == " ▄▄▄▄▄ "
    assert drawn_in_text(address, coloured=True).count("\x1b[0m") == len(lines)
    svg = drawn_in_svg(address)
    assert svg.startswith("<svg")
    assert "style" not in svg


# --- the doors ----------------------------------------------------------------------------


@pytest.fixture
def serving(store: Store, tmp_path: Path) -> Iterator[Serving]:
    """Both doors, listening: this machine's own, and the one for phones on another address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    main = "127.0.0.1" if NETWORK != "127.0.0.1" else "::1"
    made = Serving(Workshop(store, load_knowledge()), main, port, folder=tmp_path / "certificates", pair=NETWORK)
    thread = threading.Thread(target=made.run, daemon=True)
    thread.start()
    while thread.is_alive() and not all(server.started for server, _ in made.doors):
        time.sleep(0.01)
    yield made
    made.stop()
    thread.join(20)


def phone(serving: Serving) -> Any:
    """A browser on the network that trusts the certificate as somebody does who has compared its fingerprint."""
    import httpx2

    assert serving.pairing is not None
    host, port = re.findall(r"//([\d.]+):(\d+)/", serving.pairing.address)[0]
    pem = ssl.get_server_certificate((host, int(port)))
    shown = hashlib.sha256(ssl.PEM_cert_to_DER_cert(pem)).hexdigest()
    assert shown == serving.pairing.fingerprint.replace(":", "").lower()
    trusting = ssl.create_default_context(cadata=pem)
    return httpx2.Client(base_url=serving.pairing.address, verify=trusting, follow_redirects=True, timeout=30)


def let_in(client: Any, address: str, name: str = "Pit phone") -> Any:
    shown = client.get(address).text
    fields = dict(re.findall(r'name="(token|code)" value="([^"]+)"', shown))
    return client.post("/pair", data={**fields, "name": name})


def test_a_phone_comes_in_over_tls_once_and_others_do_not(serving: Serving, store: Store) -> None:
    assert serving.pairing is not None
    address = serving.pairing.invite()
    with phone(serving) as first, phone(serving) as second:
        assert first.get(ENTRY).status_code == 401
        assert serving.pairing.fingerprint in first.get(address).text
        answered = let_in(first, address)
        assert answered.status_code == 200
        cookie = answered.history[0].headers["set-cookie"]
        assert cookie.startswith("__Host-oilpath=")
        assert {"Secure", "HttpOnly", "SameSite=strict", "Path=/"} <= set(cookie.split("; "))
        assert first.get(ENTRY).status_code == 200
        assert let_in(second, address).status_code == 401
        assert second.get(ENTRY).status_code == 401
        assert second.get("/sign-in").status_code == 404
        assert [one.author for one in store.accounts.devices()] == ["Pit phone"]
        store.accounts.end_devices()
        assert first.get(ENTRY).status_code == 401


def test_this_machines_own_door_stays_as_it_was(serving: Serving) -> None:
    import httpx2

    with httpx2.Client(base_url=serving.address) as own:
        assert own.get(ENTRY).status_code == 200
        assert "set-cookie" not in own.get("/pair").headers or own.get("/pair").status_code == 404
        token = re.findall(r'name="token" value="([^"]+)"', own.get("/settings").text)[0]
        shown = own.post("/settings", data={"token": token, "what": "invite"}, headers={"origin": serving.address[:-1]})
        assert shown.status_code == 200
        assert "<svg" in shown.text
        assert serving.pairing is not None
        assert serving.pairing.fingerprint in shown.text


def test_nothing_is_said_without_tls_or_by_an_old_one(serving: Serving) -> None:
    assert serving.pairing is not None
    host, port = re.findall(r"//([\d.]+):(\d+)/", serving.pairing.address)[0]
    with socket.create_connection((host, int(port)), 10) as plain:
        plain.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        plain.settimeout(10)
        try:
            said = plain.recv(100)
        except ConnectionResetError:
            said = b""
    assert not said.startswith(b"HTTP")
    context = ssl.create_default_context()
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    with socket.create_connection((host, int(port)), 10) as there, context.wrap_socket(there) as spoken:
        assert spoken.version() in ("TLSv1.2", "TLSv1.3")  # RFC 8996 ends 1.0 and 1.1
        assert spoken.cipher()[0].startswith(("TLS_", "ECDHE-"))  # type: ignore[index]


# --- codes and doors without a network ------------------------------------------------------


def test_a_code_is_over_after_its_minutes(door: Callable[..., Browser], store: Store) -> None:
    code = store.accounts.invite("write", minutes=-1)
    assert door("paired").send(f"/pair/{code}", "/pair", code=code).status_code == 401


def test_looking_at_a_code_does_not_use_it_up(door: Callable[..., Browser], store: Store) -> None:
    """A phone that shows a preview of the address must not take the code away."""
    code, browser = store.accounts.invite("write", minutes=10), door("paired")
    for _ in range(3):
        assert browser.get(f"/pair/{code}").status_code == 200
    assert browser.send(f"/pair/{code}", "/pair", code=code).status_code == 200


def test_a_phone_writes_and_changes_no_accounts(door: Callable[..., Browser], store: Store) -> None:
    code, browser = store.accounts.invite("write", minutes=10), door("paired")
    browser.send(f"/pair/{code}", "/pair", code=code)
    assert (
        browser.send("/settings", what="add", name="X", password="a quiet long password", role="admin").status_code
        == 403
    )
    assert browser.send("/settings", what="invite").status_code == 403
    assert store.accounts.all() == ()


def test_only_the_door_for_phones_takes_codes(door: Callable[..., Browser]) -> None:
    assert door("here").get("/pair/x").status_code == 404
    assert door("accounts").get("/pair/x").status_code == 404
    assert door("here").send("/settings", what="invite").status_code == 409


@pytest.mark.parametrize("host", ["0.0.0.0", "192.0.2.77"])
def test_a_standing_address_needs_accounts_and_one_name(store: Store, tmp_path: Path, host: str) -> None:
    with pytest.raises(UnusableInput, match=r"accounts|every address"):
        Serving(Workshop(store, load_knowledge()), host, 8074, folder=tmp_path)


def test_a_standing_address_speaks_tls_with_the_workshops_own_certificate(store: Store, tmp_path: Path) -> None:
    store.accounts.add("Owner", "a quiet long password", "admin")
    workshop, own = Workshop(store, load_knowledge()), certificate_for(NETWORK, tmp_path)
    serving = Serving(workshop, NETWORK, free_port(), folder=tmp_path, certificate=own.path)
    serving.close()
    assert serving.address.startswith("https://")
    (tmp_path / "other.pem").write_text("x")
    with pytest.raises(UnusableInput, match="private key"):
        Serving(workshop, NETWORK, free_port(), folder=tmp_path, certificate=own.path, key=tmp_path / "other.pem")


def free_port() -> int:
    with socket.socket() as free:
        free.bind((NETWORK, 0))
        return int(free.getsockname()[1])
