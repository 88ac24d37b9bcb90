"""Trouble codes of the open vehicle-network standard: four bytes to SPN and FMI and back, FMI in words.

A code is a suspect parameter number (SPN, 19 bits: what is concerned), a failure mode identifier
(FMI, 5 bits: how it fails), an occurrence count (7 bits, 127 = not available) and one bit for the
layout. Only the current layout (bit 0, version 4) is read: with the bit set the older ones cannot
be told apart from the bytes.

Source: SAE J1939-73, diagnostic messages DM1 and DM2; words for the FMI are our own.
"""

from __future__ import annotations

from oilpath.records import dataclass

SPN_MAX = (1 << 19) - 1
FMI_MAX = 31
COUNT_NOT_AVAILABLE = 127

_RESERVED = "reserved by the standard; ask the machine's service information"

FMI_WORDS: tuple[str, ...] = (
    "plausible value, far too high (most severe)",
    "plausible value, far too low (most severe)",
    "jumps about, comes and goes, or is not believable",
    "voltage too high, or shorted to supply",
    "voltage too low, or shorted to the low side",
    "current too low, or wire open",
    "current too high, or wire grounded",
    "mechanism does not respond or is out of adjustment",
    "frequency, pulse width or period wrong",
    "message comes too slowly or not at all",
    "changes faster than possible",
    "cause not known",
    "device or component itself bad",
    "needs calibration",
    "special note for this code",
    "slightly too high (least severe)",
    "clearly too high (moderate)",
    "slightly too low (least severe)",
    "clearly too low (moderate)",
    "data received over the network is bad",
    "reading has drifted high",
    "reading has drifted low",
    *(_RESERVED,) * 9,
    "condition exists",
)
"""What each FMI from 0 to 31 says."""


@dataclass(frozen=True, slots=True)
class TroubleCode:
    """One trouble code.

    Raises
    ------
    ValueError : spn outside 0 to 524287, fmi outside 0 to 31, count outside 0 to 127
    """

    spn: int
    fmi: int
    count: int = COUNT_NOT_AVAILABLE

    def __post_init__(self) -> None:
        for name, value, top in (("spn", self.spn, SPN_MAX), ("fmi", self.fmi, FMI_MAX), ("count", self.count, 127)):
            if not 0 <= value <= top:
                raise ValueError(f"{name} must be 0 to {top}, not {value}")

    @property
    def id(self) -> str:
        """``SPN-FMI``, as written in sheets and results."""
        return f"{self.spn}-{self.fmi}"


def fmi_words(fmi: int) -> str:
    """What a failure mode identifier says, in words.

    Parameters
    ----------
    fmi : int, failure mode identifier, 0 to 31 [-]

    Raises
    ------
    ValueError : fmi outside 0 to 31
    """
    if not 0 <= fmi <= FMI_MAX:
        raise ValueError(f"fmi must be 0 to {FMI_MAX}, not {fmi}")
    return FMI_WORDS[fmi]


def pack(code: TroubleCode) -> bytes:
    """The four bytes of a code: SPN low, SPN middle, three SPN bits over the FMI, count."""
    return bytes((code.spn & 0xFF, code.spn >> 8 & 0xFF, code.spn >> 16 << 5 | code.fmi, code.count))


def unpack(data: bytes) -> TroubleCode:
    """The code in four bytes.

    Raises
    ------
    ValueError : not four bytes, or an older layout (highest bit of the last byte set)
    """
    if len(data) != 4:
        raise ValueError(f"a trouble code has 4 bytes, not {len(data)}")
    if data[3] & 0x80:
        raise ValueError("the layout bit is set: an older layout, which the bytes alone do not tell apart")
    return TroubleCode(data[0] | data[1] << 8 | data[2] >> 5 << 16, data[2] & 0x1F, data[3])


def read_message(data: bytes) -> tuple[TroubleCode, ...]:
    """The codes in a message of active or previously active codes (two lamp bytes, then four bytes a code).

    Four zero bytes mean no code; filling bytes at the end that make no whole code, or are all FF, are left out.

    Raises
    ------
    ValueError : fewer than six bytes, or a code in an older layout
    """
    if len(data) < 6:
        raise ValueError(f"a message of codes has at least 6 bytes, not {len(data)}")
    groups = (data[start : start + 4] for start in range(2, len(data) - 3, 4))
    return tuple(unpack(group) for group in groups if group not in (b"\0\0\0\0", b"\xff\xff\xff\xff"))
