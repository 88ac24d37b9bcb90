"""The repair order laid out: for the workshop or the customer, usual, short or full; as text or Markdown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, Literal

from oilpath.flow import Diagnosis
from oilpath.reports.blocks import DEFER, Block, Facts, Heading, Items, Para, Step, Title
from oilpath.reports.conclusions import NOTHING_NEXT
from oilpath.reports.markdown import blocks_to_markdown
from oilpath.reports.names import sentence, small
from oilpath.reports.order import Closed, Length, Order, Reader, Suspected, order_of
from oilpath.reports.plain import ascii_text, wrap
from oilpath.reports.words import Words

Form = Literal["text", "markdown"]

WIDTH: Final = 78
SHORT: Final = 600
"""characters that a short order stays below"""
_POINTER: Final = "Cautions: see the full order and the machine's manual."
_BARE_POINTER: Final = "Cautions: see the full order."
_USE: Final = {
    "stop": "No. Leave it out of service",
    "care": "Yes, with care, and only while it gets no worse",
    "run": "Yes, as far as these tests show",
    "unknown": "These tests do not say",
}
_RUN_LABEL: Final = "May it run"
_FIRST: Final = (
    "This is what measured tests indicate. The machine's own manual, local rules and qualified people come first."
)


def to_order(
    diagnosis: Diagnosis,
    words: Words,
    *,
    length: Length = "usual",
    reader: Reader = "workshop",
    parts: bool = False,
    form: Form = "text",
    closed: Sequence[Closed] = (),
    width: int = WIDTH,
) -> str:
    """The text for the repair order. As plain text at most `width` columns wide, our own signs ASCII."""
    order = order_of(diagnosis, words, reader=reader, closed=closed)
    if length == "short":
        text = short_order(order)
        return text if form == "text" else blocks_to_markdown([Para(line) for line in text.splitlines()])
    if parts:
        blocks = parts_page(order)
    else:
        blocks = customer_page(order) if reader == "customer" else workshop_page(order, full=length == "full")
    return blocks_to_markdown(blocks) if form == "markdown" else order_text(blocks, width)


# --- the workshop's ---------------------------------------------------------------------


def workshop_page(order: Order, *, full: bool = False) -> Iterator[Block]:
    """Complaint, findings, cause, correction."""
    yield from _top(order)
    yield Heading("Complaint")
    history = [f"History: {'; '.join(order.history)}"] if order.history else []
    yield Items((order.complaint or "None stated.", *history))
    yield Heading("Findings")
    asked = (f"Is this meant? {text}" for text in order.questions)
    yield Items((order.counts, *order.findings, *asked, *(order.in_order if full else ())))
    yield Heading(_cause_heading(order))
    run = () if order.closed else (f"{_RUN_LABEL}: {_use(order)}",)
    yield Items((*_causes(order), *run))
    yield Heading("Correction")
    yield Items(tuple(_correction(order)))
    if order.moved:
        yield Heading("Moved on the machine")
        yield Items((*order.moved, *((f"Time noted: {order.minutes}",) if order.minutes and not order.closed else ())))
    if (order.steps or order.again) and not order.closed:
        yield Heading("Next steps")
        if order.again:
            yield Para(order.again, label="First")
        said: set[str] = set()
        for number, step in enumerate(order.steps, 1):
            cautions = tuple(brief if text in said else text for text, brief in step.cautions)
            yield Step(number, cautions, step.title, step.about, " ".join(step.how) if full else "", ())
            said.update(text for text, _ in step.cautions)
        if order.expected and full:
            yield Para(f"Until one part is left, or causes that no check tells apart: about {order.expected}.")
    if order.missing:
        yield Heading("Not measured")
        yield Items((f"{sentence('; '.join(order.missing))}.",))
    yield Para(DEFER)
    if full:
        yield Para(order.versions, "dim")


def _top(order: Order) -> Iterator[Block]:
    for reason in order.stop:
        yield Para(reason, "stop", "STOP USE")
    for warning in order.warnings:
        yield Para(warning, "near", "WARNING")
    if order.undo:
        yield Para(f"{'; '.join(order.undo)}.", "near", "PUT BACK BEFORE THE MACHINE STARTS")
    yield Facts(tuple(Para(value, label=label) for label, value in _head(order)))


def _head(order: Order) -> Iterator[tuple[str, str]]:
    for label, value in (
        ("Machine", order.machine),
        ("Unit", order.unit),
        ("Serial no", order.serial),
        ("Order no", order.order),
        ("Hours", order.hours),
        ("Date", order.date),
    ):
        if value:
            yield label, value


def _cause_heading(order: Order) -> str:
    if order.confirmed:
        return "Cause: found and corrected"
    return "Cause: indicated, not confirmed" if order.suspected else "Cause"


def _causes(order: Order) -> Iterator[str]:
    if order.closed:
        yield from (f"{job.title}." for job in order.closed)
        return
    if order.conclusion:
        yield order.conclusion
    if order.at_once and len(order.suspected) > 1:
        yield "More than one fault at once, most probably."
    for one in order.suspected:
        yield _cause(one)
    if order.because:
        yield f"Because: {order.because}"


def _cause(one: Suspected) -> str:
    if not one.members:
        return f"{one.title} ({one.sure})."
    more = f"; and {one.more} more" if one.more else ""
    return f"{one.title} ({one.sure}). These readings cannot tell apart: {'; '.join(one.members)}{more}."


def _correction(order: Order) -> Iterator[str]:
    if order.closed:
        for one in order.closed:
            yield one.how or "What was done is not stated."
            yield from (f"Proof: {text}" for text in one.proof)
            if not one.proof:
                yield "No reading after the repair is on file."
            if one.known:
                yield f"How the cause is known: {one.known}."
        if order.minutes:
            yield f"Time spent: {order.minutes}."
        return
    yield "None yet."
    if order.remedy:
        yield f"Once it is confirmed: {order.remedy}"
        if order.afterwards:
            yield f"Afterwards: {' '.join(order.afterwards)}"
    if order.to_confirm:
        yield f"Confirm it first by: {'; '.join(small(text) for text in order.to_confirm)}."


def _use(order: Order) -> str:
    return _USE[order.running] + (f". {order.waiting}" if order.waiting else ".")


def parts_page(order: Order) -> Iterator[Block]:
    """What to order: for each cause that is named, when, and which items."""
    yield from _top(order)
    yield Heading(_cause_heading(order))
    yield Items(tuple(_causes(order)))
    yield Heading("Parts")
    if not order.parts:
        yield Items(("Nothing to order: no cause is named whose remedy needs a part.",))
    for one in order.parts:
        yield Para(f"{one.component}. {sentence(one.when)}.", label=one.cause)
        yield Items(
            tuple(f"{item.says}: {f'no. {item.number}' if item.number else 'no. ________'}" for item in one.items)
        )
    if order.parts:
        yield Para(
            "Seals, rings and other single-use items are new each time. Compare with the plate of the component."
        )


# --- the customer's ---------------------------------------------------------------------


def customer_page(order: Order) -> Iterator[Block]:
    """What was done, what is concluded, may it run, what comes next, a line for the signature; no percentages."""
    yield Title(f"Report on your machine: {order.machine}")
    yield Facts(tuple(Para(value, label=label) for label, value in _head(order) if label != "Machine"))
    for reason in order.stop:
        yield Para(reason, "stop", "STOP USE")
    yield Heading("What you told us")
    yield Items((order.complaint or "Nothing was noted.",))
    yield Heading("What we did")
    yield Items((f"We measured the machine. {order.counts}", *order.findings))
    yield Heading("What we found and corrected" if order.closed else "What we conclude")
    yield Items(tuple(_concluded(order)))
    if not order.closed:
        yield Heading("May the machine be used?")
        yield Items((_use(order),))
        yield from _customer_next(order)
    yield Para(_FIRST)


def _concluded(order: Order) -> Iterator[str]:
    for job in order.closed:
        yield f"{job.title}. {job.how}".strip()
        yield from job.proof
    if order.closed:
        return
    if order.conclusion:
        yield order.conclusion
    first, *others = order.suspected or (None,)
    if first is None:
        return
    if order.at_once and others:
        yield f"Most probably there is more than one fault: {_plainly(first)}; and {'; '.join(map(_plainly, others))}."
    else:
        yield f"Most probably: {_plainly(first)}."
        if others:
            yield f"It may also be: {'; '.join(map(_plainly, others))}."
    if any(one.members for one in order.suspected):
        yield "Several causes look the same in these tests. The next steps tell them apart."
    yield "This is indicated by measurements and not confirmed yet."


def _plainly(one: Suspected) -> str:
    return f"{small(one.title)} ({one.sure})"


def _customer_next(order: Order) -> Iterator[Block]:
    nothing = NOTHING_NEXT if order.running == "run" and not order.suspected else ""
    if not (order.steps or order.again or nothing):
        return
    yield Heading("What comes next")
    again = f"{order.again} Only then can we say more." if order.again else ""
    if not order.steps:
        yield Items((again or nothing,))
        return
    step = order.steps[0]
    several = len(order.suspected) > 1 or any(one.members for one in order.suspected)
    why = "It narrows down the cause" if several else "It confirms the cause" if order.suspected else "It tells us more"
    first = f"{step.title} ({step.about}). {why} before any part is replaced."
    whole = f"All checks together, until one cause is left: about {order.expected}." if order.expected else ""
    yield Items(tuple(text for text in (again, first, whole) if text))
    yield Para(f"I agree to this step ({step.about}):")
    yield Para("Name ____________________ Date ____________ Signature ____________________")


# --- the short one ----------------------------------------------------------------------


def short_order(order: Order) -> str:
    """Less than 600 characters: where it is tight, findings and the complaint are cut, never how sure it is."""
    doubts = _short_causes(order)
    for findings, complaint in ((3, 120), (2, 80), (1, 60), (1, 30), (0, 0)):
        text = _short(order, doubts, findings, complaint)
        if len(text) < SHORT:
            return text
    for most in (48, 32, 24, 16):  # many groups: shorter titles, and how sure in words alone
        text = _short(order, _briefest(order, most), 0, 0, bare=True)
        if len(text) < SHORT:
            break
    return text


def _short(order: Order, doubts: Sequence[str], findings: int, complaint: int, *, bare: bool = False) -> str:
    reasons = (reason.partition(". ")[0].rstrip(".") for reason in order.stop)
    lines = [f"STOP USE {_cut(reason, 100) if bare else reason}." for reason in reasons]
    if order.undo:
        lines.append(f"PUT BACK FIRST: {_cut('; '.join(order.undo), 120)}.")
    lines.append(" ".join(_cut(text, 40) for text in (order.unit or order.machine, order.date) if text))
    if complaint and order.complaint:
        lines.append(f"Complaint: {_cut(order.complaint, complaint)}")
    named = order.findings[:findings]
    more = f" And {len(order.findings) - len(named)} more." if named and len(order.findings) > len(named) else ""
    lines.append(f"Findings: {order.counts}{' ' if named else ''}{'; '.join(named)}{'.' if named else ''}{more}")
    lines += doubts
    if order.again and not order.closed:
        lines.append(f"First: {_cut(order.again, 120)}")
    elif order.steps and not order.closed:
        title = _cut(order.steps[0].title, 60) if bare else order.steps[0].title
        lines.append(f"Next: {title} ({order.steps[0].about}). {_BARE_POINTER if bare else _POINTER}")
    return "\n".join(ascii_text(line) for line in lines) + "\n"


def _short_causes(order: Order) -> list[str]:
    if order.closed:
        return [f"Found and corrected: {one.title}. {one.how}".strip() for one in order.closed]
    lines = [order.conclusion] if order.conclusion else []
    if order.suspected:
        named = "; ".join(f"{one.title} ({one.sure})" for one in order.suspected)
        at_once = "more than one at once: " if order.at_once and len(order.suspected) > 1 else ""
        lines.append(f"Indicated, not confirmed: {at_once}{named}.")
    return lines


def _briefest(order: Order, most: int) -> list[str]:
    if order.closed or not order.suspected:
        return [_cut(text, SHORT // 2) for text in _short_causes(order)]
    named = "; ".join(f"{_cut(one.title, most)} ({one.sure.partition(',')[0]})" for one in order.suspected)
    return [f"Indicated, not confirmed: {named}."]


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 3].rstrip()}..."


# --- as plain text ----------------------------------------------------------------------


def order_text(blocks: Iterable[Block], width: int = WIDTH) -> str:
    """Blocks as ASCII text in columns; letters of other people's text stay."""
    lines: list[str] = []
    for block in blocks:
        lines += [*_text(block, width), *([] if isinstance(block, Heading) else [""])]
    return "\n".join(line.rstrip() for line in lines[:-1]) + "\n"


def _text(block: Block, width: int) -> Iterator[str]:
    def wrapped(text: str, first: str = "", rest: str | None = None) -> list[str]:
        return wrap(ascii_text(text), width, ascii_text(first), rest)

    match block:
        case Title(text):
            yield from wrapped(text)
        case Heading(text):
            yield text.upper()
        case Para(text, tone, label):
            mark = f"*** {label} *** " if tone == "stop" else f"{label}: " if label else ""
            yield from wrapped(text, mark, "    " if mark else None)
        case Facts(rows):
            wide = max((len(row.label) for row in rows), default=0) + 2
            for row in rows:
                yield from wrapped(row.text, f"{row.label.upper() + ':':<{wide}}")
        case Items(texts):
            for text in texts:
                yield from wrapped(text, "- ")
        case Step():
            for caution in block.cautions:
                yield from wrapped(caution, "   CAUTION: ", " " * 12)
            yield from wrapped(f"{block.title} ({block.needs})", f"{block.number}. ")
            if block.how:
                yield from wrapped(block.how, "   ")
        case _:
            raise TypeError(type(block).__name__)
