"""The next step as a page: where the search stands, the step with its cautions, and how each outcome is recorded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from shlex import quote
from typing import Any, Final

from oilpath.documents.emit import emitted
from oilpath.documents.sheet import Remedy
from oilpath.flow import Diagnosis, Measured, NextCheck, Result
from oilpath.planning.further import Worth
from oilpath.planning.remedies import RemedyFirst
from oilpath.records import dataclass
from oilpath.reports import words as say
from oilpath.reports.blocks import DEFER, Block, Heading, Items, Para, Step, Title
from oilpath.reports.conclusions import (
    finding,
    heading,
    in_verdict,
    measure_again,
    next_checks,
    out_of,
    stop_sentences,
    suspects,
)
from oilpath.reports.jobs import comeback_brief
from oilpath.reports.json_ import Json, check_data, number
from oilpath.reports.names import counted, listed, safe, sentence, small
from oilpath.reports.page import how_to, remaining
from oilpath.reports.phrases import STANDING
from oilpath.reports.words import Words
from oilpath.reports.work import BEFORE_START, to_undo
from oilpath.session.fits import Lack
from oilpath.session.way import NotRecorded, Standing, Way, unmeasured

_FAULTS: Final = 4  # faults at once that are named
_OTHERS: Final = 3
_FIRST: Final = 7  # steps named after the first, while nothing is measured
_FOUND: Final = ("one-part", "proved")
_AGAIN: Final = 4
_LEFT_OUT: Final = 5
_MANY: Final = 12  # accepted words that are listed


@dataclass(frozen=True, slots=True)
class Shown:
    """What `next` shows: the answer, where the search stands, the steps (best first), and what came before.

    sheet: the sheet as typed, None where there is none to record in. done: the line that was written or taken back.
    """

    answer: Diagnosis
    standing: Standing
    steps: Sequence[Way]
    sheet: str | None
    before: Diagnosis | None = None
    done: str | None = None
    undone: bool = False
    remedies: Sequence[Remedy] = ()
    retest: tuple[str, Sequence[Result]] | None = None
    """the sheet made after a remedy that helped, with what it measured"""
    left_out: Sequence[tuple[NextCheck, Sequence[Lack]]] = ()
    """checks that would be among the next ones, with what is missing for them"""
    remedy: RemedyFirst | None = None
    """a remedy that is the cheapest test"""
    asked: int | None = None
    """pages shown before, where the outcome is asked for at once; None where commands say how to record it"""


def lay_out_way(shown: Shown, words: Words) -> Iterator[Block]:
    """The blocks of the page."""
    answer = shown.answer
    yield Title(" · ".join(["Next step", *heading(answer)]))
    if shown.done is not None:
        yield Para(shown.done, label="Taken out" if shown.undone else "Recorded")
    if shown.before is not None and not unmeasured(shown.answer):
        yield Para(changed(shown.before, answer, words), label="Change")
    for text in stop_sentences(answer, words):
        yield Para(text, "stop", label="STOP USE")
    if undo := to_undo(answer.work, words):
        yield Para(f"{'; '.join(undo)}.", "caution", label=BEFORE_START)
        if shown.sheet is not None:
            parts = dict.fromkeys(one.part for one in answer.work if one.open)
            yield Items(tuple(f"oilpath next {quote(shown.sheet)} --put-back {part}" for part in parts))
    if answer.comeback is not None:
        yield Para(comeback_brief(answer.comeback, answer, words), "near", label="Came back")
    yield Para(stands(shown, words), "lead", label="So far")
    if again := measure_again(answer, words):
        yield Para(again, "near", label="First")
    yield from _ending(shown, words)
    if shown.remedy is not None:
        yield Para(remedy_first_text(shown.remedy, words), label="Quickest test")
    if shown.retest is not None and not out_of(shown.retest[1]):
        pass
    elif shown.steps and shown.standing.kind in ("proved", "sound", "too-many"):
        yield Heading("If it is still in doubt")
        yield Items(tuple(_brief(way, words) for way in shown.steps[:_OTHERS]))
    elif shown.steps and (unmeasured(answer) or next_checks(answer)):
        yield from _step(shown, shown.steps[0], words)
        first = unmeasured(shown.answer)
        most, then = (_FIRST, "Then") if first else (_OTHERS, "Instead, if that cannot be done")
        others = tuple(_brief(way, words) for way in shown.steps[1 : 1 + most])
        if others and (first or shown.asked is None):  # where it is asked, Enter shows another step
            yield Heading(then)
            yield Items(others)
    if shown.left_out:
        yield Heading("Not possible here")
        yield Items(tuple(_lacks(check, lacks, words) for check, lacks in shown.left_out[:_LEFT_OUT]), "dim")
    if not shown.asked:
        yield Para(DEFER, "dim")


def _lacks(check: NextCheck, lacks: Sequence[Lack], words: Words) -> str:
    """A check that cannot be made, with what is missing for it."""
    title = sentence(words.check(check.check, check.part))
    return f"{title}: needs {listed([say.lack_text(lack) for lack in lacks])}"


_DO: Final = {
    "exchanged": "exchange {part}", "adjusted": "adjust {part}", "cleaned": "clean {part}",
    "repaired": "repair {part}", "topped-up": "top up {part}",
}  # fmt: skip


def remedy_first_text(first: RemedyFirst, words: Words) -> str:
    """A remedy as a test: what, how long, how likely it holds, what is measured again."""
    what = sentence(_DO[first.action].format(part=words.part(first.part)))
    proof = words.proved_by(first.cause) or "Measure again what was out."
    against = "" if first.with_check is None else f", {say.minutes(first.with_check)} with the check below first"
    return (
        f"{what} (about {say.minutes(first.minutes)}); it is right in {say.percent(first.probability)} of such cases."
        f" On average {say.minutes(first.expected)} until a remedy holds{against}. Note the setting as found."
        f" Proof: {proof}"
    )


def stands(shown: Shown, words: Words) -> str:
    """Where the search stands, in a sentence or two."""
    lead = _lead(shown.answer, words)
    match shown.standing.kind:
        case "one-part" | "proved":
            part = sentence(words.part(shown.standing.causes[0].part))
            sure = say.how_sure(shown.standing.share)
            if not shown.standing.alone:
                return f"{part} is at fault ({sure}), perhaps not alone. {lead}."
            return f"One part is left: {part} ({sure}). {lead}."
        case "sound":
            return f"{lead}. Nothing on this sheet needs a repair."
        case "together":
            names = listed([words.cause(cause) for cause in shown.standing.causes])
            return f"Nothing that can be done here tells these apart any further: {names}. Leading: {small(lead)}."
        case "too-many":
            titles = [words.cause(cause) for cause in shown.standing.causes[:_FAULTS]]
            more = len(shown.standing.causes) - len(titles)
            names = listed([*titles, *([counted(more, "other")] if more > 0 else [])])
            return (
                f"The figures fit only with several faults at once: {names}. Most often it is one cause that they"
                " share, or a reading that misleads. Repeat what is out with another watch or gauge before any repair."
            )
        case _ if unmeasured(shown.answer):
            return "Nothing is measured yet: these first steps tell most for their time."
        case _ if shown.standing.causes[0].cause in STANDING:
            return f"{lead}. That is not certain yet."
        case _:
            return f"{lead}. More than one part is still possible."


def _lead(answer: Diagnosis, words: Words) -> str:
    found = in_verdict(answer, suspects(answer, words))
    return "; ".join(f"{one.title} ({one.sure})" for one in found) or "No cause stands out"


def changed(before: Diagnosis, after: Diagnosis, words: Words) -> str:
    """The leading group and its share before and after."""
    old, new = suspects(before, words)[:1], suspects(after, words)[:1]
    if not old or not new:
        return _lead(after, words)
    was, now = old[0], new[0]
    shares = f"{say.percent(was.share)} → {say.percent(now.share)}"
    if was.title == now.title:
        same = say.percent(was.share) == say.percent(now.share)
        return f"{now.title}: {say.percent(now.share)}, as before." if same else f"{now.title}: {shares}."
    return f"{was.title} ({say.percent(was.share)}) → {now.title} ({say.percent(now.share)})."


def _ending(shown: Shown, words: Words) -> Iterator[Block]:
    """The remedy with its proof, once one part is left."""
    yield from _tried(shown, words)
    if shown.standing.kind not in _FOUND or shown.retest is not None:
        return
    cause = shown.standing.causes[0]
    if (remedy := words.remedy(cause.cause)) is not None:
        yield Para(sentence(remedy), label="Remedy")
    again = [one for one in out_of(shown.answer.results) if isinstance(one, Measured)]
    proof = [text for text in (words.proved_by(cause.cause),) if text is not None]
    if again:
        more = f" and {counted(len(again) - _AGAIN, 'other')}" if len(again) > _AGAIN else ""
        named = listed([finding(one, words) for one in again[:_AGAIN]])
        proof.append(f"Measure again what was out: {named}{more}.")
    if proof:
        yield Para(" ".join(proof), label="Its proof")
    if shown.sheet is not None and (shown.standing.kind == "proved" or not shown.steps):
        line = {"action": _action(cause.cause, words), "part": cause.part, "after": "retest.yaml", "helped": True}
        yield Para(f"remedies: [{emitted(line)}]", label="On the sheet, once it is done")
    if shown.steps and shown.standing.kind == "one-part":
        yield Para("The step below confirms it before anything is ordered or taken apart.")


def _action(cause: str, words: Words) -> str:
    """What the remedy of a cause does to its part; where the knowledge base does not say, it is exchanged."""
    known = next((one.repair for one in words.knowledge.causes if one.cause == cause), None)
    return known.action if known is not None else "exchanged"


def _tried(shown: Shown, words: Words) -> Iterator[Block]:
    """What was done so far, and what the tests made again say of it."""
    for one in shown.remedies:
        what = f"{sentence(words.part(one.part))} {one.action.replace('-', ' ')}"
        if one.helped is False:
            yield Para(f"{what}: it did not help, which speaks against a fault there.", label="Tried")
        elif one.helped is None:
            yield Para(f"{what}; whether it helped is not said yet (helped: true or false).", label="Tried")
    if shown.retest is None:
        return
    name, results = shown.retest
    if out := [finding(one, words) for one in out_of(results)]:
        yield Para(f"{safe(name)} still has out: {listed(out[:_AGAIN])}.", "out", label="Not proved")
    elif not any(isinstance(one, Measured) for one in results):
        yield Para(f"{safe(name)} holds no reading; measure again what was out.", "near", label="Not proved")
    elif still := _not_repeated(shown):
        said = "nothing that was measured again is out. Still to be measured again:"
        more = f" and {counted(len(still) - _AGAIN, 'other')}" if len(still) > _AGAIN else ""
        named = listed([words.result(one) for one in still[:_AGAIN]])
        yield Para(f"{safe(name)}: {said} {named}{more}.", "near", label="Proved so far")
    else:
        said = "nothing that was measured again is out. The search ends here."
        yield Para(f"{safe(name)}: {said}", "good", label="Proved")


def _not_repeated(shown: Shown) -> list[Result]:
    """What was out and is not on the sheet made after the remedy."""
    again = {one.id for one in shown.retest[1]} if shown.retest is not None else set()
    return [one for one in out_of(shown.answer.results) if isinstance(one, Measured) and one.id not in again]


def _step(shown: Shown, way: Way, words: Words) -> Iterator[Block]:
    yield Heading("Check" if way.check is not None else "Reading")
    yield Step(
        1, cautions(way, words), title(way, words), needs(way), how(way, words), tuple(_outcomes(shown, way, words))
    )
    if way.together:
        titles = [f"{small(words.check(one.check, one.part))} ({say.minutes(one.minutes)})" for one in way.together]
        yield Para(f"In the same shutdown, while lines are relieved: {listed(titles)}.")
    if shown.asked is None and (lines := tuple(_recording(shown, way))):
        yield Heading("To record it" if shown.sheet is not None else "On the sheet")
        yield Items(lines)


def title(way: Way, words: Words) -> str:
    """A step by its name: a check with its part, a reading with where it is made."""
    if way.check is not None:
        return sentence(words.check(way.check.check, way.check.part))
    assert way.reading is not None
    return reading_title(way.reading, words)


def reading_title(worth: Worth, words: Words) -> str:
    """A reading by its test and the words that place it."""
    where = ", ".join(words.place(word) for word in worth.slot.keys.values())
    test = words.test(worth.slot.test)
    return f"{test}: {where}" if where else test


def cautions(way: Way, words: Words) -> tuple[str, ...]:
    """What to beware of, before the step."""
    if way.check is not None:
        return tuple(words.caution(one) for one in way.check.cautions)
    return tuple(words.caution(one) for one in way.test.cautions) if way.test is not None else ()


def tools(way: Way) -> tuple[str, ...]:
    """What the step needs."""
    if way.check is not None:
        return way.check.tools
    return way.test.tools if way.test is not None else ()


def needs(way: Way) -> str:
    """Minutes and tools: `about 20 min; pressure gauge`."""
    what = ", ".join(safe(tool) for tool in tools(way))
    minutes = f"about {say.minutes(round(way.minutes))}"
    return f"{minutes}; {what}" if what else minutes


def how(way: Way, words: Words) -> str:
    """How the step is done, and what else is read while it is set up."""
    if way.check is not None:
        return how_to(way.check)
    told = [safe(text) for text in way.test.how] if way.test is not None else []
    if way.beside:
        also = listed([small(reading_title(one, words)) for one in way.beside])
        told.append(f"While it is set up, also read {also}.")
    return " ".join(told)


def _outcomes(shown: Shown, way: Way, words: Words) -> Iterator[str]:
    if way.check is not None:
        for number, one in enumerate(way.check.outcomes, 1):
            mark = "" if shown.asked is None else f"{number} "
            then = remaining(shown.answer, words, one.then)
            after = f" → {then}" if then else ""
            yield f"{mark}{one.outcome}: {safe(one.says)} ({say.percent(one.probability)}){after}"
    elif way.reading is not None:
        kind = words.knowledge.tests[way.reading.slot.test]
        usual = 1 - way.reading.low - way.reading.high
        out = ((kind.less_is, way.reading.low), (kind.more_is, way.reading.high), ("as usual", usual))
        yield ", ".join(f"{word} {say.percent(share)}" for word, share in sorted(out, key=lambda one: -one[1]))


def _recording(shown: Shown, way: Way) -> Iterator[str]:
    """A line for each outcome: the command that records it, or what the sheet holds then."""
    if way.reading is not None:
        for worth in (way.reading, *way.beside):
            given = f"{worth.slot.id}=…"
            yield f"oilpath next {quote(shown.sheet)} --reading '{given}'" if shown.sheet is not None else given
        return
    assert way.check is not None
    for outcome, line in way.records.items():
        if shown.sheet is None:
            yield line
        else:
            yield f"oilpath next {quote(shown.sheet)} --outcome {way.check.check}@{way.check.part}={outcome}"


def _brief(way: Way, words: Words) -> str:
    return f"{title(way, words)} ({needs(way)})"


# --- what is wrong ----------------------------------------------------------------------

_REFUSED: Final = {
    "no-outcome": "“{given}” names no outcome; CHECK=OUTCOME or CHECK@PART=OUTCOME is accepted",
    "no-check": "there is no check “{given}”",
    "which-part": "the check {given} can be made at several parts; say which with CHECK@PART=OUTCOME",
    "no-part": "the check is not made at “{given}”",
    "no-such-outcome": "the check has no outcome “{given}”",
    "no-reading": "“{given}” is no reading; ID=VALUE is accepted, or the keys of a reading such as"
    " “test: pilot-pressure, pressure: 3.9 MPa”",
    "nothing-to-put-back": "nothing that was moved at “{given}” is still to be put back",
    "decimal-comma": "“{given}” may be one number or two: write a decimal point, or a space after the comma",
    "no-such-reading": "“{given}” is no reading of this machine",
}


def refused(error: NotRecorded) -> str:
    """Why an outcome or a reading cannot be written, and what is accepted."""
    said = _REFUSED[error.why].format(given=safe(error.given))
    if not error.accepted:
        return said
    more = ", …" if len(error.accepted) > _MANY else ""
    return f"{said}; accepted: {', '.join(error.accepted[:_MANY])}{more}"


# --- for programs -----------------------------------------------------------------------


def _remedy_first(first: RemedyFirst | None) -> Json | None:
    if first is None:
        return None
    return {
        "action": first.action,
        "part": first.part,
        "cause": first.cause,
        "probability": number(first.probability),
        "minutes": number(first.minutes),
        "expected-minutes": number(first.expected),
        "with-check-first": number(first.with_check),
    }


def to_way_data(shown: Shown, words: Words) -> Json:
    """The step as JSON data."""
    found = suspects(shown.answer, words)[:1]
    data: Json = {
        "oilpath": "next/1",
        "sheet": shown.sheet,
        "machine": shown.answer.machine,
        "standing": shown.standing.kind,
        "leading": _suspect(found[0]) if found else None,
        "causes": [
            {"cause": one.cause, "part": one.part, "probability": number(one.probability)}
            for one in shown.standing.causes
        ],
        "remedy": words.remedy(shown.standing.causes[0].cause) if shown.standing.kind in _FOUND else None,
        "retest": _retest(shown),
        "proof": words.proved_by(shown.standing.causes[0].cause) if shown.standing.kind in _FOUND else None,
        "remedy-first": _remedy_first(shown.remedy),
        "step": _way(shown.steps[0], words) if shown.steps else None,
        "others": [_way(way, words) for way in shown.steps[1 : 1 + _OTHERS]],
        "left-out": [
            {"check": one.check, "part": one.part, "lacks": [{"kind": lack.kind, "needs": lack.what} for lack in lacks]}
            for one, lacks in shown.left_out
        ],
    }
    if shown.done is not None:
        data["undone" if shown.undone else "recorded"] = shown.done
    if shown.before is not None:
        was = suspects(shown.before, words)[:1]
        data["before"] = _suspect(was[0]) if was else None
    return data


def _retest(shown: Shown) -> Json | None:
    """What the sheet made after the remedy still has out, and what it does not have yet."""
    if shown.retest is None:
        return None
    name, results = shown.retest
    return {
        "sheet": name,
        "out": [one.id for one in out_of(results)],
        "open": [one.id for one in _not_repeated(shown)],
    }


def _suspect(one: Any) -> Json:
    return {"title": one.title, "probability": number(one.share)}


def _way(way: Way, words: Words) -> Json:
    if way.check is not None:
        together = [{"check": one.check, "part": one.part, "minutes": number(one.minutes)} for one in way.together]
        return {"kind": "check", **check_data(way.check, words), "tools": list(way.check.tools), "together": together}
    assert way.reading is not None
    slot = way.reading.slot
    return {
        "kind": "reading",
        "reading": slot.id,
        "title": title(way, words),
        "minutes": number(way.minutes),
        "bits": number(way.bits),
        "tools": list(tools(way)),
        "cautions": list(cautions(way, words)),
        "record": slot.stated,
        "beside": [one.slot.id for one in way.beside],
    }
