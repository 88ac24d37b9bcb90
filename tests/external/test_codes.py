"""Trouble codes against examples of SAE J1939-73.

Status words as in test_cylinders.py; LIB = an open library agrees.
"""

import pytest

from oilpath.codes import TroubleCode, pack, read_message, unpack

CODES = [
    ("D1", "example of the standard; MEM, LIB", TroubleCode(1208, 3, 10), "B8 04 03 0A"),
    ("D2", "test plan of a public repository; READ, LIB", TroubleCode(100, 1, 1), "64 00 01 01"),
    ("D3", "first proprietary number; DERIVED, LIB can-j1939", TroubleCode(520192, 31, 126), "00 F0 FF 7E"),
    ("D4", "largest figures; DERIVED, LIB can-j1939", TroubleCode(524287, 31, 127), "FF FF FF 7F"),
]


@pytest.mark.parametrize(("source", "code", "data"), [c[1:] for c in CODES], ids=[c[0] for c in CODES])
def test_bytes_of_a_code(source: str, code: TroubleCode, data: str) -> None:
    assert pack(code) == bytes.fromhex(data), source
    assert unpack(bytes.fromhex(data)) == code, source


def test_message_with_one_code() -> None:
    """D2: test plan of a public repository; READ, LIB."""
    assert read_message(bytes.fromhex("C1 FF 64 00 01 01 01 00")) == (TroubleCode(100, 1, 1),)


def test_message_without_a_code() -> None:
    """D5: same repository as D2; READ."""
    assert read_message(bytes.fromhex("00 FF 00 00 00 00 FF FF")) == ()
