"""A small knowledge base, machine and diagnosis of our own invention, made by hand: enough to show all of an answer.

They stand apart from `kb/`, so that what is shown can be compared byte for byte.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from oilpath.bench import bench_for
from oilpath.documents.machine import Machine
from oilpath.flow import (
    CauseSet,
    Computed,
    ConditionFigure,
    Diagnosis,
    Group,
    Measured,
    NextCheck,
    NotMeasured,
    Outcome,
    Plan,
    PlanBranch,
    PlanStep,
    RankedCause,
    Ranking,
    ReadingResult,
    Remaining,
    Severity,
    StopUse,
    Suspicion,
    Suspicions,
    Weight,
    check_result,
    code_result,
    sign_result,
)
from oilpath.flow.ids import read_id
from oilpath.flow.notes import Amount, Filled, Quote, note
from oilpath.knowledge.base import Caution, Knowledge, Priors
from oilpath.knowledge.cause import Cause
from oilpath.knowledge.check import Check, Sign
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.rule import Rule
from oilpath.knowledge.testkind import TestKind, TestVariant
from oilpath.planning.troubleshooting import troubleshooting_tree
from oilpath.reports.words import Words
from oilpath.units import from_unit


def function(title: str, group: str, actuator: str, **more: Any) -> dict[str, Any]:
    return {"title": title, "group": group, "actuator": actuator, **more}


CIRCUIT = Circuit.model_validate(
    {
        "oilpath": "circuit/1",
        "id": "toy",
        "title": "Toy",
        "source": "invented for the tests",
        "control": "positive",
        "reservoir": "tank",
        "parts": {
            name: {"class": class_, "title": title, **more}
            for name, class_, title, more in (
                ("machine", "machine", "machine", {}),
                ("engine", "engine", "engine", {}),
                ("tank", "tank", "hydraulic tank", {}),
                ("pump-1", "main-pump", "main pump 1", {}),
                ("pump-1-regulator", "regulator", "regulator of main pump 1", {}),
                ("pump-2", "main-pump", "main pump 2", {}),
                ("boom-spool", "spool", "boom spool", {}),
                ("bucket-spool", "spool", "bucket spool", {}),
                ("travel-left-spool", "spool", "left travel spool", {"side": "left"}),
                ("travel-right-spool", "spool", "right travel spool", {"side": "right"}),
                ("boom-holding-valve", "holding-valve", "boom holding valve", {}),
                ("boom-cylinder", "cylinder", "boom cylinder", {}),
                ("bucket-cylinder", "cylinder", "bucket cylinder", {}),
                ("travel-left-motor", "travel-motor", "left travel motor", {"side": "left"}),
                ("travel-right-motor", "travel-motor", "right travel motor", {"side": "right"}),
            )
        },
        "lines": [
            {"kind": "suction", "through": ["tank", "pump-1"]},
            {"kind": "suction", "through": ["tank", "pump-2"]},
            {"kind": "drive", "through": ["machine", "engine", "pump-1"]},
            {"kind": "signal", "through": ["pump-1-regulator", "pump-1"]},
            *(
                {"kind": "work", "through": [*before, f"{actuator}.{port}"], "both_ways": True}
                for actuator, port, *before in (
                    ("boom-cylinder", "cap", "boom-spool", "boom-holding-valve"),
                    ("boom-cylinder", "rod", "boom-spool"),
                    ("bucket-cylinder", "cap", "bucket-spool"),
                    ("bucket-cylinder", "rod", "bucket-spool"),
                    *(
                        (f"travel-{side}-motor", way, f"travel-{side}-spool")
                        for side in ("left", "right")
                        for way in ("forward", "reverse")
                    ),
                )
            ),
            *(
                {"kind": "return", "through": [f"{spool}-spool", "tank"]}
                for spool in ("boom", "bucket", "travel-left", "travel-right")
            ),
        ],
        "functions": {
            "boom-raise": function("boom raise", "boom", "boom-cylinder", end="cap"),
            "boom-lower": function("boom lower", "boom", "boom-cylinder", end="rod"),
            "bucket-curl": function("bucket curl", "bucket", "bucket-cylinder", end="cap"),
            "bucket-dump": function("bucket dump", "bucket", "bucket-cylinder", end="rod"),
            **{
                f"travel-{side}-{way}": function(
                    f"{side} travel {way}",
                    f"travel-{side}",
                    f"travel-{side}-motor",
                    side=side,
                    direction=way,
                )
                for side in ("left", "right")
                for way in ("forward", "reverse")
            },
        },
        "feeds": {"pump-1": ["boom", "bucket", "travel-right"], "pump-2": ["travel-left"]},
    }
)

MACHINE = Machine.model_validate(
    {
        "name": "Gravel-pit trainer, [b]22 t[/b] class",
        "circuit": CIRCUIT,
        "codes": {"520201-4": {"says": "Flow signal of pump 2 below range", "part": "pump-2"}},
    }
)


def kind(title: str, ids: dict[str, str], quantity: str | None, unit: str | None, **more: Any) -> TestKind:
    return TestKind.model_validate(
        {
            "title": title,
            "says": title,
            "id": list(ids),
            "keys": {key: {"is": what} for key, what in ids.items()},
            "value": None if quantity is None else "value",
            "quantity": quantity,
            "unit": unit,
            "observe": "nothing",
            "source": "invented for the tests",
            **more,
        }
    )


SIDEWAYS = {"more-is": "right", "less-is": "left", "scale": "offset"}

TESTS = {
    "cycle-time": kind(
        "Cycle time",
        {"function": "function"},
        "time",
        "s",
        conditions={
            "oil-temperature": {"min": "50 °C"},
            "engine-speed": True,
            "attachment": ["empty"],
            "auto-idle": "off",
            "working-setting": "full",
        },
    ),
    "drift": kind(
        "Cylinder drift",
        {"cylinder": "cylinder"},
        "length",
        "mm",
        conditions={"oil-temperature": {"min": "50 °C", "max": "60 °C"}},
    ),
    "travel-veer": kind("Travel veer", {"direction": "word", "range": "word"}, "length", "m", **SIDEWAYS),
    "track-time": kind("Raised-track time", {"side": "word", "direction": "word", "range": "word"}, "time", "s"),
    "stall-pressure": kind("Stall pressure", {"pump": "pump", "function": "function"}, "pressure", "MPa"),
    "pressure": kind("Pressure at a point", {"at": "part", "state": "word", "function": "function"}, "pressure", "MPa"),
    "case-drain": kind("Case drain", {"part": "part"}, "flow", "L/min"),
    "engine-speed": kind("Engine speed", {"state": "word"}, "rotation", "rpm"),
    "temperature": kind("Temperature of a part", {"at": "part"}, "temperature", "°C"),
    "code": kind("Fault code", {"spn": "whole", "fmi": "whole"}, None, None),
    "sign": kind("Sign", {"sign": "word"}, None, None),
    "check": kind("Check made", {"check": "word", "part": "part"}, None, None),
    "condition": kind("Condition", {"condition": "word"}, None, None),
}


def known(cause: str, title: str, class_: str, **more: Any) -> Cause:
    return Cause.model_validate(
        {
            "cause": cause,
            "title": title,
            "at": {"class": class_},
            "disturbs": {"parameter": "leakage"},
            "frequency": "common",
            "mechanism": "Pistons and port plate worn; leakage grows with pressure.",
            "signature": "Everything that the pump feeds slow under load.",
            "remedy": "Overhaul or exchange the pump; flush, new filters.",
            "source": "invented for the tests",
            **more,
        }
    )


def check(name: str, title: str, class_: str) -> Check:
    return Check.model_validate(
        {
            "check": name,
            "title": title,
            "at": {"class": class_},
            "minutes": 20,
            "intrusiveness": 1,
            "tools": ["flow meter"],
            "cautions": ["hot-oil"],
            "how": ["Do it."],
            "outcomes": {"good": "as stated", "short": "short of it"},
            "tells": [{"causes": "pump.worn", "outcomes": {"good": 0.1, "short": 0.9}}],
            "otherwise": {"good": 0.9, "short": 0.1},
            "source": "invented for the tests",
        }
    )


def caution(says: str) -> Caution:
    return Caution.model_validate({"says": says, "hazard": "hot", "source": "invented for the tests"})


def unchecked(model: Any, **values: Any) -> Any:
    """A model with only what the reports look at."""
    return model.model_construct(**values)


KNOWLEDGE: Knowledge = unchecked(
    Knowledge,
    version="sha256:0123456789abcdef0123456789abcdef",
    variants={"cold": TestVariant.model_validate({"says": "with cold oil"})},
    tests=TESTS,
    circuits={"toy": CIRCUIT},
    causes=(
        known("pump.worn", "Worn {part}", "main-pump", against="A good flow at pressure."),
        known("regulator.stuck-low", "Stuck at small displacement: {part}", "regulator", frequency="occasional"),
        known("spool.short-stroke", "Short stroke of the {part}", "spool", checks=["swap-spools"]),
        known(
            "holding-valve.held-open",
            "{part} held open",
            "holding-valve",
            **{"stop-use": "The boom can fall at any time; nobody under it."},
        ),
        known("travel-motor.worn", "Worn {part}", "travel-motor"),
    ),
    rules=(
        unchecked(Rule, id="one-pump-slow", kind="pattern", title="Everything on one pump slow, stall pressure normal"),
        unchecked(Rule, id="foam", kind="pattern", title="Foamy oil"),
    ),
    checks=(
        check("flow-at-pressure", "Measure the flow of {part} against pressure", "main-pump"),
        check("swap-spools", "Exchange the {part} for its like", "spool"),
    ),
    signs={"foamy-oil": Sign.model_validate({"title": "Foamy oil", "look": "Look.", "source": "invented"})},
    cautions={
        "hot-oil": caution("Hot oil scalds: gloves and face shield."),
        "release-pressure-first": caution("Release the pressure before a line is opened, and prove that it is gone."),
        "never-feel-for-leaks": caution("Never feel for a leak by hand: a jet enters the skin."),
    },
    always=("never-feel-for-leaks",),
    sources={},
    priors=unchecked(Priors),
    scatter=(),
)

WORDS = Words(KNOWLEDGE, MACHINE)


def result(id_: str, value: float | bool | str, unit: str | None, verdict: Any, **more: Any) -> Any:
    """A result with its figures (value, new, min, max) in `unit`."""
    parts = read_id(id_)
    test, steps = parts.test, parts.steps
    keys = dict(zip(TESTS[test].id, steps, strict=False))
    if test == "sign":
        return sign_result(keys, bool(value))
    if test == "code":
        return code_result(steps[0], bool(value))
    if test == "check":
        return check_result(steps[0], steps[1], str(value))
    for name in ("new", "min", "max"):
        if name in more:
            more[name] = from_unit(more[name], str(unit))
    if unit is not None:
        assert isinstance(value, int | float)
        value = from_unit(value, unit)
    quantity = {"s": "time", "mm": "length", "m": "length", "MPa": "pressure", "L/min": "flow", "rpm": "rotation"}
    quantity["°C"] = "temperature"
    if test == "condition":
        more["condition"] = steps[0]
    kind: Any = ConditionFigure if test == "condition" else ReadingResult
    made: Measured = kind(id_, test, keys, verdict, value, quantity.get(unit or ""), **more)
    return made


COOLING = note(
    "cooling-is-a-part", length=Amount(0.002, "length"), spread=Amount(0.001, "length"),
    by=Amount(4.0, "temperature-difference"), share=Amount(0.22, "ratio"),
)  # fmt: skip


def timed(id_: str, value: float, top: float, new: float, verdict: Any, out: float, **more: Any) -> Any:
    more = {"uncertainty": 0.08, "count": 3, "basis": "limit", "new": new, "max": top, "probability_out": out, **more}
    return result(id_, value, "s", verdict, **more)


RESULTS = (
    timed("cycle-time/boom-raise", 4.7666667, 4.9, 4.2, "pass", 0.048, deviation="slow"),
    timed("cycle-time/boom-lower", 3.9, 3.9, 3.3, "near", 0.5, deviation="slow"),
    timed(
        "cycle-time/bucket-curl",
        4.1234567,
        3.6,
        3.1,
        "fail",
        0.9999999,
        deviation="slow",
        computed={"flow": Computed(from_unit(198.5, "L/min"), "flow")},
    ),
    timed("cycle-time/bucket-dump", 2.94, 2.6, 2.2, "fail", 0.998, deviation="slow"),
    timed("cycle-time/bucket-curl@cold", 5.6, 3.6, 3.1, "unjudged", 0.5, basis=None, variant="cold"),
    timed("cycle-time/boom-raise+bucket-curl", 6.1, 6.5, 5.9, "pass", 0.01, together_with=("bucket-curl",)),
    result(
        "drift/boom-cylinder", 9, "mm", "pass", uncertainty=0.0008, count=1, new=3, max=12, basis="limit",
        deviation="high", probability_out=0.02,
        computed={"leakage": Computed(from_unit(3.4, "mL/min"), "flow", from_unit(0.5, "mL/min"))},
        notes=(COOLING,),
    ),
    result(
        "drift/bucket-cylinder", 21, "mm", "invalid", uncertainty=0.0008, count=1, max=12, basis="limit",
        notes=(note("code-says", says=Quote("held for 2 min; at least three minutes are required")),),
    ),
    result(
        "travel-veer/forward/high", -0.4, "m", "pass", uncertainty=0.07, count=1, min=-1.2, max=1.2, basis="limit",
        deviation="left", probability_out=0.001,
    ),
    result(
        "track-time/left/forward/low", 31.0, "s", "pass", uncertainty=0.1, count=1, new=29.5, max=33.8,
        basis="estimate", deviation="slow", probability_out=0.03,
    ),
    result(
        "stall-pressure/pump-1/bucket-curl", 34.1, "MPa", "pass", uncertainty=2.4e5, count=1, new=34.3, min=33.3,
        max=35.3, basis="limit", deviation="low", probability_out=0.0004,
    ),
    result("pressure/boom-cylinder-rod/moving/boom-raise", 1.2, "MPa", "unjudged", uncertainty=1.8e5, count=1),
    result(
        "case-drain/pump-1", 31, "L/min", "fail", uncertainty=from_unit(1.9, "L/min"), count=1, max=24, basis="limit",
        deviation="high", probability_out=0.9998,
    ),
    result("engine-speed/stall-both-pumps", 1820, "rpm", "unjudged", uncertainty=0.1, count=1),
    result("temperature/travel-left-motor", 71, "°C", "unjudged", uncertainty=2.2, count=1),
    result(
        "condition/engine-speed", 1895, "rpm", "pass", uncertainty=0.1, min=1843, max=1957, basis="limit",
        probability_out=0.004,
    ),
    result("code/520201-4", True, None, "fail"),
    result("sign/foamy-oil", False, None, "pass"),
    result("check/flow-at-pressure/pump-1", "short", None, "unjudged"),
)  # fmt: skip


def severity(parameter: str, median: float, low: float, high: float) -> Severity:
    """Severity in L/min."""
    return Severity(parameter, from_unit(median, "L/min"), from_unit(low, "L/min"), from_unit(high, "L/min"), "flow")


def ranked(cause: str, part: str, title: str, share: float, prior: float | None = -16.2, **more: Any) -> RankedCause:
    return RankedCause(
        cause=cause,
        part=part,
        variant=more.pop("variant", None),
        title=title,
        probability=share,
        present=more.pop("present", share + 0.02),
        severity=more.pop("severity", None),
        prior=prior,
        total=more.pop("total", -10.0),
        **more,
    )


CAUSES = (
    ranked(
        "pump.worn", "pump-1", "Worn main pump 1", 0.5612345678, total=1.07,
        severity=severity("leakage", 34, 26, 45),
        speaks_for=(
            Weight("case-drain/pump-1", 12.4), Weight("cycle-time/bucket-curl", 9.1),
            Weight("cycle-time/bucket-dump", 2.3), Weight("stall-pressure/pump-1/bucket-curl", 0.4),
        ),
        speaks_against=(Weight("cycle-time/boom-raise", -3.2),),
    ),
    ranked(
        "regulator.stuck-low", "pump-1-regulator", "Stuck at small displacement: regulator of main pump 1", 0.25,
        severity=Severity("stroke", 0.78, 0.71, 0.86, "ratio"),
        speaks_for=(Weight("cycle-time/bucket-curl", 6.0),), speaks_against=(Weight("case-drain/pump-1", -12.0),),
    ),
    ranked("spool.short-stroke", "bucket-spool", "Short stroke of the bucket spool", 0.08, variant="bucket-curl"),
    ranked(
        "holding-valve.held-open", "boom-holding-valve", "Boom holding valve held open", 0.04,
        severity=Severity("held-leak", 7.0, 4.0, 12.0, "ratio"),
        speaks_for=(Weight("drift/boom-cylinder", 1.5),),
    ),
    ranked("unknown", "machine", "Something that the knowledge base does not hold", 0.03, None),
    ranked("none", "machine", "Nothing is wrong", 0.02, None, total=None),
    ranked("travel-motor.worn", "travel-left-motor", "Worn left travel motor", 0.0107654322),
    ranked("pump.worn", "pump-2", "Worn main pump 2", 0.005),
    ranked("travel-motor.worn", "travel-right-motor", "Worn right travel motor", 0.003),
)  # fmt: skip

GROUPS = (
    Group(0.8112345678, (0, 1), "flow-at-pressure"),
    Group(0.08, (2,)),
    Group(0.04, (3,)),
    Group(0.03, (4,)),
    Group(0.02, (5,)),
    Group(0.0187654322, (6, 7, 8)),
)

SUSPICIONS = (
    Suspicion(
        "one-pump-slow", "pattern", "pump.worn", "pump-1",
        Filled("what $pump feeds is slow while its stall pressure is in order", (("pump", "pump-1"),)),
        ("cycle-time/bucket-curl", "cycle-time/bucket-dump", "stall-pressure/pump-1/bucket-curl"),
    ),
    Suspicion(
        "one-pump-slow", "pattern", "regulator.stuck-low", "pump-1-regulator",
        Filled("what $pump feeds is slow while its stall pressure is in order", (("pump", "pump-1"),)),
        ("cycle-time/bucket-curl", "cycle-time/bucket-dump"),
    ),
)  # fmt: skip

CHECKS = (
    NextCheck(
        "flow-at-pressure", "pump-1", 50, 0.8123456789,
        ("flow meter with load valve", "rated hoses"), ("hot-oil", "release-pressure-first"),
        ("Meter behind the pump, load valve open at the start; flow near zero, at half and at full working pressure.",),
        (
            Outcome(
                "falls-with-pressure", "right at zero, falling with pressure", 0.58,
                (Remaining("pump.worn", "pump-1", 0.93), Remaining("regulator.stuck-low", "pump-1-regulator", 0.02)),
            ),
            Outcome("good", "as stated at every pressure", 0.42, (Remaining("pump.worn", "pump-1", 0.1),)),
        ),
    ),
    NextCheck(
        "swap-spools", "bucket-spool", 35, 0.2, (), ("hot-oil",), (), (),
    ),
)  # fmt: skip

PLAN = Plan(
    PlanStep(
        "flow-at-pressure", "pump-1", 50,
        (
            PlanBranch(
                "falls-with-pressure", "falling with pressure", 0.58, (Remaining("pump.worn", "pump-1", 0.93),), None
            ),
            PlanBranch(
                "good", "as stated", 0.42, (),
                PlanStep(
                    "swap-spools", "bucket-spool", 35,
                    (
                        PlanBranch(
                            "moves", "the fault moves", 1, (Remaining("spool.short-stroke", "bucket-spool", 0.9),), None
                        ),
                    ),
                ),
            ),
        ),
    ),
    64.7,
    (note("rule-warns", says=Quote("the pump is taken off only after its flow has proved it")),),
)  # fmt: skip

NASTY = (
    "Slow when digging,\x1b[31m worse\x1b[0m after \u202elunch\u202c "
    "<b>now</b> [red]x[/] | *really* \x07\n# not a title"
)

DIAGNOSIS = Diagnosis(
    sheet="pit/07.yaml",
    machine=MACHINE.name,
    unit_number="PIT-07",
    order_number="A-4711",
    serial_number="INV-0001",
    technician="somebody",
    hours=8450.0,
    date="2026-05-14",
    complaint=NASTY,
    history=("Bucket cylinder resealed in March", "Came on slowly"),
    stop_use=(StopUse("holding-valve.held-open", "boom-holding-valve", probability=0.12),),
    results=RESULTS,
    suspicions=SUSPICIONS,
    causes=CAUSES,
    groups=GROUPS,
    sets=(CauseSet((0, 3), 0.12),),
    checks=CHECKS,
    plan=PLAN,
    tree=troubleshooting_tree(
        Ranking(CAUSES, GROUPS, ()), RESULTS, Suspicions(SUSPICIONS), CHECKS, bench_for(MACHINE, KNOWLEDGE), NASTY
    ),
    not_measured=(NotMeasured("drift", invalid=True), NotMeasured("engine-speed", invalid=False)),
    cautions=("never-feel-for-leaks",),
    warnings=(
        note("rule-warns", says=Quote("The automatic idle is not stated: the times are judged as if it were off.")),
    ),
    knowledge_version=KNOWLEDGE.version,
    tool_version="0.1.0",
)

#: The same machine in order, hardly anything known.
SOUND = replace(
    DIAGNOSIS,
    sheet="-",
    unit_number=None,
    order_number=None,
    serial_number=None,
    hours=None,
    date=None,
    complaint=None,
    history=(),
    stop_use=(),
    results=RESULTS[:1],
    suspicions=(),
    causes=(
        ranked("none", "machine", "Nothing is wrong", 0.996, None, total=None),
        ranked("unknown", "machine", "Something that the knowledge base does not hold", 0.004, None),
    ),
    groups=(
        Group(0.996, (0,)),
        Group(0.004, (1,)),
    ),
    sets=(),
    checks=(),
    plan=Plan(None, None),
    tree=troubleshooting_tree(
        Ranking((ranked("none", "machine", "Nothing is wrong", 1.0, None),), (), ()),
        RESULTS[:1],
        Suspicions(),
        (),
        bench_for(MACHINE, KNOWLEDGE),
    ),
    not_measured=(),
    warnings=(),
)
