"""Codes, signs and checks: what was seen, as it was written down."""

from __future__ import annotations

from oilpath.codes import FMI_WORDS
from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Reading
from oilpath.flow import Result, Verdict


def observed(reading: Reading, machine: Machine) -> Result:
    """A reading with no number: true is `fail`, false is `pass`, an outcome is shown and not judged."""
    kind = reading.kind
    flag = next((key for key, rules in kind.keys.items() if rules.is_ == "flag"), None)
    value: bool | str | None
    verdict: Verdict = "unjudged"
    notes: list[str] = []
    if flag is not None:
        value = reading.flags.get(flag)
        if value is None:
            notes.append(f"not stated whether {flag}")
        else:
            verdict = "fail" if value else "pass"
    else:
        value = _outcome(reading)
    notes += _meaning(reading, machine)
    return Result(
        id=reading.id, test=reading.test, keys=dict(reading.keys), value=value, quantity=None, verdict=verdict,
        notes=tuple(notes), variant=reading.variant, together_with=reading.together_with,
    )  # fmt: skip


def _outcome(reading: Reading) -> str | None:
    """The required word that is no part of the result's id."""
    for key, rules in reading.kind.keys.items():
        if rules.required and rules.is_ == "word" and key not in reading.kind.id:
            return reading.keys.get(key, reading.text)
    return reading.text


def _meaning(reading: Reading, machine: Machine) -> list[str]:
    """What a trouble code says: in the machine file's words, and its failure mode in the standard's."""
    if "fmi" not in reading.kind.keys:
        return []
    own = reading.id.split("@")[0].partition("/")[2]
    said = machine.codes.get(own) or machine.codes.get(reading.text or "")
    notes = [] if said is None else [said.says + (f" ({said.part})" if said.part else "")]
    mode = own.rpartition("-")[2]
    if mode.isdecimal() and int(mode) < len(FMI_WORDS):
        notes.append(f"FMI {int(mode)}: {FMI_WORDS[int(mode)]}")
    if said is None:
        notes.append("the machine file does not say what this code means; look it up in the service information")
    return notes
