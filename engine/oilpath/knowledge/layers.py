"""A workshop's own knowledge laid over what ships: new ids are added, the same ids replace, and what goes is named."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from oilpath.documents.files import check_folder
from oilpath.knowledge.base import Caution, CautionFile, Held, Knowledge, Layer, Replaced
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.check import Check, Sign
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.files import (
    MACHINES,
    TEMPLATES,
    Entry,
    FolderContent,
    content_hash,
    file_names,
    read_folder,
    stray_files,
)
from oilpath.knowledge.rule import Rule
from oilpath.knowledge.testkind import Day, Phase, TestKind
from oilpath.knowledge.words import Vocabulary
from oilpath.problems import Problem, Problems, UnusableInput

VARIABLE: Final = "OILPATH_KB"
"""environment variable with the folders of layers, separated as in PATH"""
WANTED: Final = "a folder with causes/, rules/, checks/, circuits/, signs.yaml … as in oilpath's own kb/, each optional"

State = dict[str, dict[str, Any]]
"""all entries by kind and id"""


def layer_folders(options: Iterable[str | Path], environment: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """The layers that OILPATH_KB and the options name, from the lowest to the highest; each folder once, where it is
    named last."""
    named = (os.environ if environment is None else environment).get(VARIABLE, "").split(os.pathsep)
    wanted = [name for name in (*named, *map(str, options)) if name]
    last = {os.path.realpath(name): place for place, name in enumerate(wanted)}
    return tuple(name for place, name in enumerate(wanted) if last[os.path.realpath(name)] == place)


def read_layer(folder: str | Path, problems: Problems) -> FolderContent:
    """One layer with its entries. Problems name its files by the folder as given and are added to `problems`."""
    path, shown = open_layer(folder, problems)
    read = read_folder(path, problems, shown)
    problems.extend(twice(read.entries))
    return read


def open_layer(folder: str | Path, problems: Problems) -> tuple[Path, str]:
    """The folder of a layer and how problems name it; a folder that is none and misnamed files are noted."""
    path, shown = Path(folder), os.fspath(folder).rstrip("/" + os.sep) or os.sep
    try:
        check_folder(path, shown)
    except UnusableInput as error:
        problems.extend(replace(one, accepted=WANTED) for one in error.problems)
        return path, shown
    own = (*(path / MACHINES).glob("*.yaml"), *(path / TEMPLATES).glob("order.*"))
    if not next(file_names(path), None) and not own:
        problems.add(shown, 1, "-", "holds no file of a knowledge base", WANTED)
    problems.extend(stray_files(path, shown))
    return path, shown


def twice(entries: Iterable[Entry]) -> Iterator[Problem]:
    """Entries of one folder whose id another one has already."""
    seen: dict[tuple[str, str], Entry] = {}
    for entry in entries:
        first = seen.setdefault((entry.kind, entry.key), entry)
        if first is not entry:
            yield Problem(entry.file, entry.line, entry.key, "is there twice", f"see {first.file}:{first.line}")


def machine_file(name: str, known: Knowledge) -> tuple[Path, str] | None:
    """The machine file of the highest layer that a name without a folder stands for: its path, and how to call it."""
    if not name or os.path.basename(name) != name:
        return None
    wanted = name if name.endswith(".yaml") else f"{name}.yaml"
    for layer in reversed(known.layers):
        path = Path(layer.folder) / MACHINES / wanted
        if os.path.isfile(path):
            return path, f"{layer.shown}/{MACHINES}/{wanted}"
    return None


# --- laying over ----------------------------------------------------------------------


def lay_over(below: Knowledge, layer: FolderContent) -> Knowledge:
    """The knowledge with a layer over it: entries keep their order, new ones follow."""
    state, circuits = state_of(below), below.circuits
    replaced = {(one.kind, one.id): one for one in below.replaced}
    added: list[tuple[str, str]] = []
    for entry in layer.entries:
        there = state.setdefault(entry.kind, {})
        key = (entry.kind, entry.key)
        if entry.key in there:
            earlier = replaced[key].held if key in replaced else ()
            held = tuple(dict.fromkeys((*earlier, *held_by(there[entry.key], circuits, below.cautions))))
            now = set(_kept(held, entry.value, circuits, below.cautions))
            gone = [one for one in held if one not in now]
            stops = any(one.what == "stop-use" for one in gone)  # then no place says more
            lost = tuple(one for one in gone if not (stops and one.what == "place"))
            replaced[key] = Replaced(
                kind=entry.kind, id=entry.key, file=entry.file, line=entry.line, held=held, lost=lost
            )
        else:
            added.append(key)
        there[entry.key] = entry.value
    own = layer.files.get("cautions.yaml")
    always = own.always if isinstance(own, CautionFile) else ()
    note = Layer(folder=os.path.realpath(layer.folder), shown=layer.shown, added=tuple(added))
    return known_from(
        state,
        version=_version(below.version, layer.folder),
        always=tuple(dict.fromkeys((*below.always, *always))),
        layers=(*below.layers, note),
        replaced=tuple(replaced.values()),
    )


def _version(below: str, folder: Path) -> str:
    return f"sha256:{hashlib.sha256(f'{below}+{content_hash(folder)}'.encode()).hexdigest()}"


def state_of(known: Knowledge) -> State:
    """All entries of a knowledge base, by kind and id."""
    return {
        "variant": dict(known.variants),
        "pose": dict(known.poses),
        "test": dict(known.tests),
        "condition": dict(known.asked_of),
        "slip": {slip.id: slip for slip in known.slips},
        "phase": {phase.phase: phase for phase in known.day.phases},
        "everyday": {tool: tool for tool in known.day.everyday},
        "circuit": dict(known.circuits),
        "cause": {cause.cause: cause for cause in known.causes},
        "rule": {rule.id: rule for rule in known.rules},
        "check": {check.check: check for check in known.checks},
        "sign": dict(known.signs),
        "word": dict(known.vocabulary.words),
        "name": dict(known.vocabulary.names),
        "filler": {word: word for word in known.vocabulary.fillers},
        "negation": {word: word for word in known.vocabulary.negations},
        "break": {word: word for word in known.vocabulary.breaks},
        "caution": dict(known.cautions),
        "source": dict(known.sources),
        "priors": {"priors": known.priors},
        "scatter": {shared.id: shared for shared in known.scatter},
        "closed": {job.id: job for job in known.closed},
    }


def known_from(state: State, **more: Any) -> Knowledge:
    """A knowledge base from all its entries; `more` are the other fields of `Knowledge`."""

    def of(kind: str) -> dict[str, Any]:
        return state.get(kind, {})

    return Knowledge.model_construct(
        variants=of("variant"),
        poses=of("pose"),
        tests=of("test"),
        asked_of=of("condition"),
        slips=tuple(of("slip").values()),
        day=Day.model_construct(phases=tuple(of("phase").values()), everyday=tuple(of("everyday").values())),
        circuits=of("circuit"),
        causes=tuple(of("cause").values()),
        rules=tuple(sorted(of("rule").values(), key=lambda rule: str(rule.id))),
        checks=tuple(of("check").values()),
        signs=of("sign"),
        vocabulary=Vocabulary.model_construct(
            words=of("word"),
            names=of("name"),
            fillers=tuple(of("filler").values()),
            negations=tuple(of("negation").values()),
            breaks=tuple(of("break").values()),
        ),
        cautions=of("caution"),
        sources=of("source"),
        priors=of("priors")["priors"],
        scatter=tuple(of("scatter").values()),
        closed=tuple(job for _, job in sorted(of("closed").items())),
        **more,
    )


# --- what protects people -------------------------------------------------------------


def held_by(value: Any, circuits: Mapping[str, Circuit], cautions: Mapping[str, Caution]) -> tuple[Held, ...]:
    """What protects people and goes with an entry."""
    return tuple(_held(value, circuits, cautions))


def _held(value: Any, circuits: Mapping[str, Circuit], cautions: Mapping[str, Caution]) -> Iterator[Held]:
    if isinstance(value, Cause | Sign) and value.stop_use:
        yield Held(what="stop-use", says=value.stop_use)
    if isinstance(value, Cause) and value.stop_use:
        for circuit in circuits.values():
            for name, part in circuit.parts.items():
                if name in value.at.parts or part.class_ in value.at.class_:
                    yield Held(what="place", of=name, says=part.title)
    if isinstance(value, Sign | Check | TestKind | Phase):
        for name in value.cautions:
            yield Held(what="caution", of=name, says=cautions[name].says if name in cautions else "")
    if isinstance(value, Check):
        yield from (Held(what="hazard", of=word) for word in value.hazards)
    if isinstance(value, Caution):
        yield Held(what="words", says=value.says)
        yield from (Held(what="shown-for", of=word) for word in value.needs or ("every machine",))
    if isinstance(value, Circuit):
        classes = {part.class_ for part in value.parts.values()}
        for name, caution in cautions.items():
            if classes & set(caution.needs):
                yield Held(what="caution", of=name, says=caution.says)
    if isinstance(value, Rule) and value.kind == "pitfall":
        yield Held(what="warning", says=value.title)


def _kept(
    held: Iterable[Held], value: Any, circuits: Mapping[str, Circuit], cautions: Mapping[str, Caution]
) -> Iterator[Held]:
    """Those of what was held that an entry holds as well, though perhaps in other words."""
    now = {(one.what, one.of): one for one in _held(value, circuits, cautions)}
    everywhere = ("shown-for", "every machine") in now
    for one in held:
        other = now.get((one.what, one.of))
        if one.what == "words":
            if other is not None and one.says in other.says:
                yield one
        elif other is not None or (one.what == "shown-for" and everywhere):
            yield one
