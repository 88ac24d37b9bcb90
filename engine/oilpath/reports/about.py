"""A kind of cause under its fixed headings, the same in `explore`, `why` and the JSON of both."""

from __future__ import annotations

from typing import Any, Final

from oilpath.knowledge.cause import Cause
from oilpath.reports.names import listed, safe, sentence
from oilpath.reports.words import Words

URGENT: Final = {"run": "It may run", "care": "It may run with care", "stop": "Stop the machine"}
_REMEDY: Final = {
    "exchanged": "an exchange", "adjusted": "an adjustment", "cleaned": "cleaning", "repaired": "a repair",
    "topped-up": "topping up",
}  # fmt: skip
_PARTS: Final = {"none": "no parts", "small": "small parts", "large": "large parts", "major": "a major part"}


def heading_texts(cause: Cause, words: Words) -> tuple[tuple[str, str | None], ...]:
    """(heading, text) in their order; None for what the knowledge base does not say."""
    return (
        ("What happens", cause.mechanism),
        ("Shows as", cause.signature),
        ("Against it", cause.against),
        ("Mistaken for", cause.mistaken_for),
        ("To confirm", cause.confirm),
        ("How urgent", _urgent(cause)),
        ("Remedy", cause.remedy),
        ("It takes", _takes(cause)),
        ("Proof", cause.proof),
        ("Afterwards", " ".join(cause.afterwards) or None),
        ("Tests again", sentence(listed(tests_again(cause, words))) or None),
        ("Parts wanted", "; ".join(_wanted(cause)) or None),
        ("Source", cause.source),
    )


def headings_json(cause: Cause) -> dict[str, Any]:
    """The same for programs."""
    return {
        "what-happens": safe(cause.mechanism),
        "shows-as": safe(cause.signature),
        "against": cause.against and safe(cause.against),
        "mistaken-for": cause.mistaken_for and safe(cause.mistaken_for),
        "confirm": cause.confirm and safe(cause.confirm),
        "urgency": cause.urgency,
        "waiting": cause.waiting and safe(cause.waiting),
        "remedy": safe(cause.remedy),
        "proof": cause.proof and safe(cause.proof),
        "afterwards": [safe(text) for text in cause.afterwards],
        "repeat": list(cause.repeat),
        "order": {name: safe(text) for name, text in cause.order.items()},
        "source": safe(cause.source),
    }


def tests_again(cause: Cause, words: Words) -> list[str]:
    """Titles of the tests that are made again after the remedy."""
    tests = words.knowledge.tests
    return [safe(tests[name].title).lower() for name in cause.repeat if name in tests]


def _urgent(cause: Cause) -> str | None:
    urgent = URGENT.get(cause.urgency or "")
    if urgent is None:
        return cause.waiting
    return f"{urgent}. {cause.stop_use or cause.waiting or ''}".strip()


def _takes(cause: Cause) -> str | None:
    if cause.repair is None:
        return None
    return f"{_REMEDY[cause.repair.action]}, some {cause.repair.minutes:.0f} min, {_PARTS[cause.repair.parts]}"


def _wanted(cause: Cause) -> list[str]:
    return list(cause.order.values())
