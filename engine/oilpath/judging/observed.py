"""Codes, signs and checks: what was seen, as it was written down."""

from __future__ import annotations

from dataclasses import replace

from oilpath.codes import FMI_WORDS
from oilpath.documents.machine import Machine
from oilpath.documents.sheet import Reading
from oilpath.flow import CheckResult, CodeResult, SignResult, check_result, code_result, sign_result
from oilpath.flow.ids import code_of, placed_by, slug
from oilpath.flow.notes import Named, Quote, note


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
    notes = [] if result.active is not None else [note("active-not-stated")]
    said = machine.codes.get(code) or machine.codes.get(reading.text or "")
    if said is not None:
        notes.append(note("code-says", says=Quote(said.says)))
    if said is not None and said.part:
        notes.append(note("code-names-part", part=Named("part", said.part)))
    if result.fmi is not None and result.fmi < len(FMI_WORDS):
        notes.append(note("failure-mode", number=result.fmi, says=Quote(FMI_WORDS[result.fmi])))
    if said is None:
        notes.append(note("code-not-known"))
    return replace(result, notes=tuple(notes))
