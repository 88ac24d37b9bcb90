"""Codes, signs and checks: what was seen, as it was written down."""

from __future__ import annotations

from dataclasses import replace

from oilpath.codes import FMI_WORDS
from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Reading
from oilpath.flow import CheckResult, CodeResult, SignResult, check_result, code_result, sign_result
from oilpath.flow.ids import code_of, placed_by, slug


def observed(reading: Reading, machine: Machine) -> SignResult | CodeResult | CheckResult:
    """A reading with no number: true is `fail`, false is `pass`, an outcome is shown and not judged."""
    keys = dict(reading.keys)
    if "check" in keys:
        return check_result(keys["check"], keys["part"], keys["outcome"])
    if "sign" in keys:
        return sign_result(keys, reading.flags["seen"])
    return _code(reading, machine)


def _code(reading: Reading, machine: Machine) -> CodeResult:
    """A fault code with what it says: in the machine file's words, and its failure mode in the standard's."""
    code = code_of(placed_by(reading.kind.id, reading.keys)) or slug(reading.text or "")
    result = code_result(code, reading.flags.get("active"), reading.keys)
    notes = [] if result.active is not None else ["not stated whether active"]
    said = machine.codes.get(code) or machine.codes.get(reading.text or "")
    if said is not None:
        notes.append(said.says + (f" ({said.part})" if said.part else ""))
    if result.fmi is not None and result.fmi < len(FMI_WORDS):
        notes.append(f"FMI {result.fmi}: {FMI_WORDS[result.fmi]}")
    if said is None:
        notes.append("the machine file does not say what this code means; look it up in the service information")
    return replace(result, notes=tuple(notes))
