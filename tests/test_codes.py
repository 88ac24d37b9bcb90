"""Trouble codes: bytes there and back, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oilpath.codes import FMI_WORDS, TroubleCode, fmi_words, pack, read_message, unpack

codes = st.builds(TroubleCode, st.integers(0, 524287), st.integers(0, 31), st.integers(0, 127))


@given(codes)
def test_packing_and_unpacking_are_inverse(code: TroubleCode) -> None:
    assert unpack(pack(code)) == code


@given(st.binary(min_size=4, max_size=4))
def test_every_four_bytes_of_the_present_layout_are_a_code(data: bytes) -> None:
    if data[3] & 0x80:
        with pytest.raises(ValueError, match="older layout"):
            unpack(data)
    else:
        assert pack(unpack(data)) == data


@given(st.lists(codes.filter(lambda c: pack(c) != b"\0\0\0\0"), min_size=1, max_size=6), st.integers(0, 3))
def test_message_gives_its_codes_in_order(sent: list[TroubleCode], filling: int) -> None:
    data = b"\x00\xff" + b"".join(map(pack, sent)) + b"\xff" * filling
    assert read_message(data) == tuple(sent)


def test_filling_of_four_bytes_is_no_code() -> None:
    assert read_message(bytes.fromhex("00 FF 64 00 01 01 FF FF FF FF")) == (TroubleCode(100, 1, 1),)


def test_words_for_every_failure_mode() -> None:
    """SAE J1939-73: 0 to 21 and 31 have a meaning, 22 to 30 are reserved (two public listings agree)."""
    assert len(FMI_WORDS) == 32
    assert [fmi for fmi in range(32) if "reserved" in fmi_words(fmi)] == list(range(22, 31))
    meanings = [fmi_words(fmi) for fmi in (*range(22), 31)]
    assert len(set(meanings)) == len(meanings)


@pytest.mark.parametrize(
    ("fmi", "word"),
    [
        (0, "high"),
        (1, "low"),
        (3, "voltage too high"),
        (4, "voltage too low"),
        (5, "current too low"),
        (6, "current too high"),
        (9, "message"),
        (13, "calibration"),
        (16, "high"),
        (18, "low"),
        (31, "exists"),
    ],
)
def test_words_say_the_right_way_round(fmi: int, word: str) -> None:
    """SAE J1939-73 by two public listings."""
    assert word in fmi_words(fmi)


def test_id_is_written_as_in_results() -> None:
    assert TroubleCode(520201, 4).id == "520201-4"


@pytest.mark.parametrize(("spn", "fmi", "count"), [(-1, 0, 0), (524288, 0, 0), (0, 32, 0), (0, -1, 0), (0, 0, 128)])
def test_figures_out_of_range_are_refused(spn: int, fmi: int, count: int) -> None:
    with pytest.raises(ValueError, match=r"must be 0 to \d+, not"):
        TroubleCode(spn, fmi, count)


def test_wrong_lengths_and_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="has 4 bytes, not 3"):
        unpack(b"\0\0\0")
    with pytest.raises(ValueError, match="at least 6 bytes, not 5"):
        read_message(b"\0\0\0\0\0")
    with pytest.raises(ValueError, match="fmi must be 0 to 31, not 32"):
        fmi_words(32)
