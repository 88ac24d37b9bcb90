"""Findings and notes on a knowledge base as text, 80 columns wide."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import asdict

from oilpath.kbcheck import Review
from oilpath.kbcheck.simulated import Proof
from oilpath.problems import Problem

WIDTH, INDENT = 80, "    "


def review_text(review: Review, subject: str = "The knowledge base") -> str:
    """Findings, what is replaced, notes with what they list line by line, then how many there are of each."""
    blocks = (
        ["\n".join(line for problem in review.findings for line in _wrapped(str(problem)))] if review.findings else []
    )
    if review.replaced:
        lines = [line for problem in review.replaced for line in _wrapped(str(problem))]
        blocks.append("\n".join(["In place of what ships with oilpath:", *lines]))
    if review.notes:
        lines = [line for note in review.notes for line in _listed(str(note))]
        blocks.append("\n".join(["Notes, no findings:", *lines]))
    if review.proofs:
        blocks.append("\n".join(_wrapped(_proved(review.proofs))))
    order = _many(review.findings, "finding") if review.findings else f"{subject} is in order"
    blocks.append(f"{order}; {_many(review.notes, 'note')}." if review.notes else f"{order}.")
    return "\n\n".join(blocks) + "\n"


def _proved(proofs: Sequence[Proof]) -> str:
    """How many of all causes on all circuits are suspected, lead, differ from others, have a proof of the remedy."""
    told = [check is not None for one in proofs for check in one.told.values()]
    return (
        f"{len({one.cause for one in proofs})} kinds of cause, each on every circuit where it can stand, make"
        f" {len(proofs)}: suspected {sum(one.suspected for one in proofs)}; leading, or looking like what leads,"
        f" {sum(one.leads for one in proofs)}; with a proof of the remedy {sum(one.remedy_proved for one in proofs)}."
        f" Of {len(told)} neighbours that read the same, a check tells {sum(told)} apart."
    )


def review_json(review: Review) -> str:
    """The same as JSON: `oilpath: kb-check/1`."""
    data = {"oilpath": "kb-check/1"} | {
        name: [asdict(problem) for problem in getattr(review, name)] for name in ("findings", "replaced", "notes")
    }
    data["proofs"] = [asdict(proof) for proof in review.proofs]
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def _listed(text: str) -> Iterator[str]:
    """What stands behind semicolons below what stands before them."""
    head, *pieces = text.split("; ")
    yield from _wrapped(head)
    for piece in pieces:
        yield from _wrapped(piece, INDENT)


def _wrapped(text: str, indent: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=indent, subsequent_indent=indent + INDENT, break_on_hyphens=False,
        break_long_words=False,
    )  # fmt: skip


def _many(problems: tuple[Problem, ...], word: str) -> str:
    return f"{len(problems)} {word}{'' if len(problems) == 1 else 's'}"
