"""A certificate of our own for an address, made on the spot: nobody vouches for it, people compare its fingerprint.

It is kept in the user's data folder, so that a phone that has taken it once takes it again after a new start.
"""

from __future__ import annotations

import datetime
import ipaddress
import os
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from oilpath.problems import Problem, UnusableInput
from oilpath.records import dataclass

_DAYS: Final = 365
_LEFT: Final = datetime.timedelta(days=7)
"""one that has less left is made anew"""
_NAME: Final = "oilpath, certificate made on this machine"


@dataclass(frozen=True, slots=True)
class Certificate:
    """A file with key and certificate, and the certificate's SHA-256 as browsers show it: `A1:B2:…`."""

    path: Path
    fingerprint: str


def certificate_for(host: str, folder: Path, now: datetime.datetime | None = None) -> Certificate:
    """The certificate of an address, from the folder or made. Raises UnusableInput where it cannot be kept."""
    now = now or datetime.datetime.now(datetime.UTC)
    path = folder / f"{host.strip('[]').replace(':', '-')}.pem"
    try:
        found = _kept(path, now)
        if found is None:
            found = _made(host.strip("[]"), path, now)
    except OSError as error:
        reason = (error.strerror or "an error").lower()
        message = f"the certificate cannot be kept: {reason}"
        raise UnusableInput([Problem(str(path), 1, "-", message, "a data folder that can be written to")]) from None
    return Certificate(path, fingerprint_of(found))


def fingerprint_of(certificate: x509.Certificate) -> str:
    """The SHA-256 of a certificate as browsers show it."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def read_certificate(path: Path) -> Certificate:
    """A certificate of the workshop's own, from a PEM file. Raises UnusableInput."""
    try:
        found = x509.load_pem_x509_certificate(path.read_bytes())
    except OSError as error:
        reason = (error.strerror or "an error").lower()
        raise UnusableInput([Problem(str(path), 1, "-", f"cannot be read: {reason}", "a PEM file")]) from None
    except ValueError:
        raise UnusableInput([Problem(str(path), 1, "-", "holds no certificate", "a PEM file")]) from None
    return Certificate(path, fingerprint_of(found))


def _kept(path: Path, now: datetime.datetime) -> x509.Certificate | None:
    if not path.is_file():
        return None
    content = path.read_bytes()
    try:
        found = x509.load_pem_x509_certificate(content)
        serialization.load_pem_private_key(content, None)
    except ValueError:
        return None
    return found if found.not_valid_before_utc <= now <= found.not_valid_after_utc - _LEFT else None


def _made(host: str, path: Path, now: datetime.datetime) -> x509.Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, _NAME)])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - datetime.timedelta(days=1))  # the phone's clock may be behind
        .not_valid_after(now + datetime.timedelta(days=_DAYS))
        .add_extension(x509.SubjectAlternativeName([_general(host)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    plain = serialization.NoEncryption()
    pem = key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, plain)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    beside = path.with_suffix(".new")
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(pem + made.public_bytes(serialization.Encoding.PEM))
    os.replace(beside, path)
    return made


def _general(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)
