"""Commented skeletons for entries of one's own: every key with what it wants, and the words that fit.

What must be filled in is left empty, so that a skeleton left as it is is a problem of `kb check` and never knowledge.
Texts come in quotes, for a title may well begin with {part}.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, Final, Literal, get_args

from pydantic import BaseModel

from oilpath.documents.nodes import read_nodes
from oilpath.documents.validate import data_of
from oilpath.documents.writing import write_whole
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.cause import Disturbs, Frequency
from oilpath.knowledge.check import Hazard, Scope
from oilpath.knowledge.fields import ID_PATTERN
from oilpath.knowledge.layers import state_of
from oilpath.knowledge.parameters import parameter_words
from oilpath.knowledge.rule import FACTS, GROUP_KINDS, GROUP_STATES, PAIRS, RELATIONS
from oilpath.problems import Problem, UnusableInput
from oilpath.spelling import nearest

Kind = Literal["cause", "rule", "check", "sign"]
KINDS: Final = get_args(Kind)
OWN: Final = "own experience"
USUAL_ID: Final[Mapping[str, str]] = {
    "cause": "own.my-cause", "rule": "my-rule", "check": "my-check", "sign": "my-sign",
}  # fmt: skip
"""ids if none is given"""
_WIDTH: Final = 110
_TITLES: Final = "as people read it; {part} stands for the part"


def skeleton(kind: Kind, name: str, known: Knowledge, like: str | None = None) -> tuple[str, str]:
    """(file within the layer, its text). With `like` it starts from that entry. Raises KeyError if there is none."""
    make: Mapping[str, Callable[[str, Knowledge], tuple[str, str]]] = {
        "cause": _cause, "rule": _rule, "check": _check, "sign": _sign,
    }  # fmt: skip
    return make[kind](name, known) if like is None else _like(kind, name, like, known)


def kind_of(word: str) -> Kind | None:
    """The kind of entry that a word names."""
    return next((kind for kind in KINDS if word in (kind, f"{kind}s")), None)


def wrong_id(kind: Kind, name: str) -> str:
    """Why a name can be no id of this kind; empty if it can."""
    parts = name.split(".") if kind == "cause" else [name]
    if len(parts) == (2 if kind == "cause" else 1) and all(re.fullmatch(ID_PATTERN, part) for part in parts):
        return ""
    if kind == "cause":
        return "is not an id of a cause; family.kind in lower-case letters, digits and hyphens, such as hose.chafed"
    return "is not an id; lower-case letters, digits and hyphens, such as dry-pin"


def absent(kind: Kind, name: str, known: Knowledge) -> str | None:
    """None if there is such an entry, else a hint at the nearest one."""
    there = state_of(known)[kind]
    near = nearest(name, there)
    return None if name in there else f"; did you mean {near}?" if near else ""


def _help(label: str, words: Iterable[str], indent: int) -> str:
    """A comment that lists words."""
    start = " " * indent + "# "
    text = f"{label}: {', '.join(words)}"
    return "\n".join(textwrap.wrap(text, _WIDTH, initial_indent=start, subsequent_indent=start + "  ",
                                   break_long_words=False, break_on_hyphens=False)) + "\n"  # fmt: skip


def _classes(known: Knowledge) -> list[str]:
    return sorted({part.class_ for circuit in known.circuits.values() for part in circuit.parts.values()})


# --- causes ---------------------------------------------------------------------------


def _cause(name: str, known: Knowledge) -> tuple[str, str]:
    examples: dict[str, Disturbs] = {one.parameter: one for cause in reversed(known.causes) for one in cause.disturbs}
    lines = "".join(
        _help(word, [f"{words.says} ({words.quantity}); at {words.at}" + _range(examples.get(word))], 4)
        for word, words in parameter_words().items()
    )
    text = f"""\
# A cause of your own. Fill in what is empty; comments are help and may go.
oilpath: causes/1
causes:
  - cause: {name}
    title: ""                        # {_TITLES}: Worn {{part}}
    at: {{class: }}                    # where it can stand: {{class: cylinder}}, or {{parts: [boom-cylinder]}}
{_help("Classes", _classes(known), 4)}\
    disturbs: {{parameter: , from: , to: }}   # from: where it can just be noticed, to: where the function is lost
    # Parameters; all but `none` are simulated. With `none` a sign, a check or a code must bring the cause up.
{lines}\
    frequency:                       # {", ".join(get_args(Frequency))}
    mechanism: ""                    # what has happened, in a sentence
    signature: ""                    # what is seen and measured
    # against:                       # what speaks against it
    checks: []                       # checks that tell it from others; see the list below
{_help("Checks", sorted(check.check for check in known.checks), 4)}\
    # stop-use:                      # why the machine must stand still while this is likely; leave out if it need not
    # waiting:                       # what it may cost to go on, as a customer reads it
    remedy: ""                       # what is repaired or replaced
    # order:                         # what to order for it: a word (seal-kit) and its name for each item
    source: {OWN}
"""
    return f"causes/{name.replace('.', '-')}.yaml", text


def _range(example: Any) -> str:
    if example is None or example.from_ == example.to:
        return ""
    flow = ", quantity: flow" if example.quantity == "flow" else ""
    return f"; such as from: {example.from_:g}, to: {example.to:g}{flow}"


# --- signs ----------------------------------------------------------------------------


def _sign(name: str, known: Knowledge) -> tuple[str, str]:
    text = f"""\
# Signs of your own: what is seen, heard, smelt or felt. A rule says what one speaks for: oilpath kb new rule {name}
oilpath: signs/1
signs:
{sign_entry(name, known)}"""
    return "signs.yaml", text


def sign_entry(name: str, known: Knowledge) -> str:
    """One sign, to stand under `signs:`."""
    return f"""\
  {name}:
    title: ""                        # in a few words
    look: ""                         # how to look for it and when it counts, in a sentence
    # stop-use:                      # why the machine must stand still as soon as it is seen; leave out if it need not
    cautions: []                     # said with it; see the list below
{_help("Cautions", known.cautions, 4)}\
    source: {OWN}
"""


# --- rules ----------------------------------------------------------------------------


def _rule(name: str, known: Knowledge) -> tuple[str, str]:
    """For the id of a sign a rule that says what it speaks for, else one on readings."""
    if name in known.signs:
        return _sign_rule(name, known)
    text = f"""\
# A rule of your own: when these facts hold together, suspect these causes. Fill in what is empty; comments may go.
# To start from a rule that there is: oilpath kb new rule NAME --like RULE
oilpath: rule/1
id: {name}
kind: pattern                        # pattern: readings; finding: a sign or a code, each suspect with a likelihood
title: ""                            # what is seen, as a sentence
when:                                # one to four facts that must hold together; $f is the same word wherever it stands
  - {{fact: group, kind: , of: $f, state: all-out}}   # such as kind: function (both ways of a movement), kind: pump
{_help("Kinds of groups", GROUP_KINDS, 2)}\
{_help("States", GROUP_STATES, 2)}\
{_help("Facts", FACTS, 2)}\
{_help("Contrasts (fact: contrast, pair: …, relation: …)", (*PAIRS, *RELATIONS), 2)}\
suspect:
  - {{cause: , at: {{group: $f}}}}       # without `at`: wherever it can stand
{_help("Causes", sorted(cause.cause for cause in known.causes), 2)}\
{_help("Words of `at`", FACTS["part"], 2)}\
because: ""                          # why, in a sentence; $f is filled in
source: {OWN}
fires:                               # at least one case that must fire it, and one that must not
  - says: ""                         # in a few words
    results: {{}}                      # such as {{cycle-time/boom-raise: slow, cycle-time/boom-lower: slow}}
    suspects: []                     # such as [cylinder.binding at boom-cylinder]
silent:
  - says: ""
    results: {{}}                      # such as {{cycle-time/boom-raise: slow, cycle-time/boom-lower: in}}
"""
    return f"rules/{name}.yaml", text


def _sign_rule(sign: str, known: Knowledge) -> tuple[str, str]:
    title = known.signs[sign].title
    named = _quoted(title if title != "-" else "")  # a sign whose own title is still to be filled in
    text = f"""\
# What the sign {sign} speaks for. Fill in what is empty; comments are help and may go.
oilpath: rule/1
id: sign-{sign}
kind: finding
title: {named}
when:
  - {{fact: observed, kind: sign, of: {sign}, value: seen, part: any $part, side: any $side}}
  # any $part: the part that the sheet names, or none; likewise function, group, side, pump, actuator
suspect:
  - {{cause: , at: {{part: $part}}, likelihood: }}
  # at: where the cause must stand for it, such as {{side: $side}}; where the sheet names none, anywhere
  # likelihood: how many times more probable the sign is with the cause than without
{_help("Causes", sorted(cause.cause for cause in known.causes), 2)}\
because: ""                          # why, in a sentence
source: {OWN}
fires:
  - says: seen
    results: {{sign/{sign}: seen}}
silent:
  - says: looked for and not seen
    results: {{sign/{sign}: not-seen}}
"""
    return f"rules/sign-{sign}.yaml", text


# --- checks ---------------------------------------------------------------------------


def _check(name: str, known: Knowledge) -> tuple[str, str]:
    text = f"""\
# A check of your own: a step that tells causes apart. Fill in what is empty; comments are help and may go.
oilpath: checks/1
checks:
  - check: {name}
    title: ""                        # {_TITLES}: "Look at {{part}}"
    at: {{class: }}                    # where it is made
{_help("Classes", _classes(known), 4)}\
    minutes:                         # how long it takes
    intrusiveness:                   # 0 look, listen, stopwatch; 1 gauge on a test port; 2 break a line; 3 dismantle
    hazards: []                      # {", ".join(get_args(Hazard))}
    tools: []                        # such as [gauge, hoses]; at least one
    cautions: []                     # said before it; see the list below
{_help("Cautions", known.cautions, 4)}\
    how: []                          # steps, each in a sentence; at least one
    # trap:                          # what leads astray
    outcomes:                        # at least two; the word for the sheet, then what is seen
      good: ""
      bad: ""
    tells:                           # how probable each outcome is with these causes; each line adds up to 1
      - {{causes: , outcomes: {{good: 0.1, bad: 0.9}}}}   # causes: a kind, a list, or a family: "cylinder.*"
{_help("Causes", sorted(cause.cause for cause in known.causes), 4)}\
{_help("`here` widens from the part of the check to", get_args(Scope), 4)}\
    otherwise: {{good: 0.9, bad: 0.1}} # under every other cause, and where nothing is wrong
    source: {OWN}
"""
    return f"checks/{name}.yaml", text


# --- from an entry that there is ------------------------------------------------------


def _like(kind: Kind, name: str, like: str, known: Knowledge) -> tuple[str, str]:
    import yaml

    entry = _plain(state_of(known)[kind][like].model_dump(mode="json", by_alias=True, exclude_defaults=True))
    entry = {**entry, "source": OWN}
    head = f"# A {kind} of your own, from the {kind} {like}. Change what differs.\n"
    if kind == "rule":
        data: dict[str, Any] = {"oilpath": "rule/1", **entry, "id": name}
        for case in data["fires"] if name != like else ():
            case.pop("suspects", None)  # they go with the suspects, which are to be changed
        path = f"rules/{name}.yaml"
    elif kind == "sign":
        data, path = {"oilpath": "signs/1", "signs": {name: entry}}, "signs.yaml"
    else:
        data = {"oilpath": f"{kind}s/1", f"{kind}s": [{**entry, kind: name}]}
        path = f"{kind}s/{name.replace('.', '-')}.yaml"
    return path, head + yaml.safe_dump(data, sort_keys=False, allow_unicode=True, width=_WIDTH)


def _plain(value: Any) -> Any:
    """Data as it is written in the files: conditions flat, outcomes as a mapping."""
    if isinstance(value, BaseModel):
        return _plain(value.model_dump(mode="json", by_alias=True, exclude_defaults=True))
    if isinstance(value, dict):
        if set(value) == {"fact", "slots"}:
            return {"fact": value["fact"], **value["slots"]}
        flat = {key: _plain(one) for key, one in value.items()}
        if isinstance(flat.get("outcomes"), list):
            flat["outcomes"] = {one["outcome"]: one["says"] for one in flat["outcomes"]}
        return flat
    return [_plain(one) for one in value] if isinstance(value, list | tuple) else value


def _quoted(text: str) -> str:
    import json

    return json.dumps(text, ensure_ascii=False)


# --- writing --------------------------------------------------------------------------


def write_skeleton(folder: Path, kind: Kind, name: str, known: Knowledge, like: str | None = None) -> Path:
    """Write a skeleton into a layer; the file that it stands in now.

    Nothing is ever written over: a sign joins the signs that are there. Raises UnusableInput if the id or the file
    is there already, or nothing can be written; KeyError if there is no entry `like`.
    """
    inside, text = skeleton(kind, name, known, like)
    path = folder / inside
    try:
        if not path.parent.is_dir():
            path.parent.mkdir(parents=True)
        with open(path, "x", encoding="utf-8") as file:
            file.write(text)
    except FileExistsError:
        if not path.parent.is_dir():
            raise _refused(path, "cannot be written: a file is in the way", "a folder for writing") from None
        if kind != "sign" or like is not None or not path.is_file():
            raise _refused(path, "is there already; nothing was written", "another id, or edit that file") from None
        _join(path, name, sign_entry(name, known))
    except OSError as error:
        reason = (error.strerror or "an error").lower()
        raise _refused(path, f"cannot be written: {reason}", "a folder for writing") from None
    return path


def _join(path: Path, name: str, entry: str) -> None:
    """Put a sign at the end of a file of signs."""
    content = path.read_bytes()
    data, _ = data_of(read_nodes(content, str(path)))
    signs = data.get("signs") if isinstance(data, dict) else None
    if isinstance(signs, dict) and name in signs:
        raise _refused(path, f"the sign {name} is there already; nothing was written", "another id, or edit that file")
    joined = content if content.endswith(b"\n") else content + b"\n"
    joined += entry.encode()
    try:
        now = data_of(read_nodes(joined, str(path)))[0]["signs"]
        fits = {one: now[one] for one in signs or {}} == (signs or {}) and set(now) == {*(signs or {}), name}
    except (UnusableInput, KeyError, TypeError):
        fits = False
    if not fits:
        raise _refused(path, "the sign cannot join what is written there", "signs one below the other under `signs:`")
    write_whole(path, joined)


def _refused(path: Path, message: str, accepted: str) -> UnusableInput:
    return UnusableInput([Problem(str(path), 1, "-", message, accepted)])
