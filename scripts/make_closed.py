# ruff: noqa: E501  (a job a row reads better than one over many lines)
"""Write the invented closed jobs of `cases/closed` anew: simulated readings of the invented machines, our own words.

    .venv/bin/python scripts/make_closed.py

A developer's tool: nothing of the package needs it. The same table gives the same files. What is said in a job (the
complaint, what was tried, how the cause was found) was written by hand, as a yard writes it.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from oilpath.bench import bench_for
from oilpath.documents.closed import closed_text, load_closed
from oilpath.documents.load import load_machine
from oilpath.documents.location import Location
from oilpath.documents.nodes import read_nodes
from oilpath.documents.sheet import Sheet
from oilpath.documents.sheet_reader import read_sheet
from oilpath.documents.yaml_data import top_of
from oilpath.judging import judge
from oilpath.knowledge.base import Knowledge
from oilpath.knowledge.compile import load_knowledge
from oilpath.lab.simulation import simulate
from oilpath.problems import Problems
from oilpath.session.closing import Ending, FoundHere, Proof, job_data

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "cases/closed"
HEADER = "# Invented: no real machine, no real job. Readings simulated by scripts/make_closed.py, words by hand.\n"
ONLY = {
    "D": ["cycle-time/*", "stall-pressure/*", "pilot-pressure"],
    "Q": ["cycle-time/boom-raise", "cycle-time/arm-in", "cycle-time/bucket-curl", "cycle-time/lift-raise",
          "cycle-time/tilt-back", "stall-pressure/*", "pilot-pressure"],
    "T": ["track-time/*/high", "travel-time/*/high", "pilot-pressure"],
    "L": ["track-time/*"],
    "S": ["swing-time/*", "cycle-time/boom-raise", "pilot-pressure"],
    "F": ["drift/*", "cycle-time/boom-raise", "cycle-time/boom-lower", "cycle-time/lift-raise"],
    "W": ["cycle-time/steer-*", "cycle-time/lift-raise", "stall-pressure/*", "pilot-pressure"],
    "P": ["case-drain/*"],
}  # fmt: skip
"""what a short visit measures"""

Row = tuple[str, str, str, int, str, str, str, str, str, str, dict[str, Any]]
"""machine, unit, date, hours, causes, grade, what was measured, complaint, history, how, more"""

JOBS: tuple[Row, ...] = (
    ("trainer-22t", "PIT-03", "2024-02-12", 7150, "pump.worn@pump-2=0.55", "torn-down", "DP",
     "arm and swing lazy since Xmas, fine first thing", "", "Pump 2 out, pistons slack in the barrel. Exchange unit fitted",
     {"checks": ["case-drain@pump-2=high"], "minutes": 540}),
    ("trainer-22t", "PIT-07", "2024-03-04", 6020, "suction.restricted@suction=0.5", "torn-down", "D",
     "everything slow and she whines", "hyd filters not done at 6000", "Strainer half shut with sealant and rag. Cleaned, tank washed",
     {"checks": ["suction-vacuum@suction=high"], "signs": ["suction-whine"], "minutes": 210}),
    ("trainer-22t", "PIT-09", "2024-03-21", 10870, "main-relief.low@main-relief=0.5", "retested", "Q",
     "no breakout, had it on 4 buckets of clay and it just stops", "", "Main relief backed off, lock nut loose. Set to plate and sealed",
     {"checks": ["relief-response@main-relief=follows"], "minutes": 70}),
    ("trainer-22t", "PIT-11", "2024-04-15", 5230, "travel-motor.worn@travel-left-motor=0.6", "torn-down", "TL",
     "LH track slow, crabs left on the haul road", "", "LH motor stripped: port plate scored. Service exchange motor",
     {"wrong": ("exchanged", "swivel-joint"), "checks": ["cross-travel-hoses-at-motors@swivel-joint=track-stays"], "minutes": 980}),
    ("trainer-22t", "PIT-02", "2024-05-06", 4410, "swivel.cross-leak@swivel-joint=0.6", "torn-down", "T",
     "right track dies when you turn the cab round", "", "Joint seals cut by a bit of swarf. Seal kit",
     {"checks": ["joint-test@swivel-joint=passes"], "signs": ["changes-with-slew-angle"], "minutes": 430}),
    ("trainer-22t", "PIT-07", "2024-06-10", 6390, "cylinder.seal-leak@arm-cylinder=0.6", "torn-down", "F",
     "stick creeps out on its own at dinner time", "", "Piston seal in two pieces. Kit, barrel honed",
     {"minutes": 300}),
    ("trainer-22t", "PIT-14", "2024-07-02", 8820, "holding-valve.leaking@boom-holding-valve=0.6", "retested", "F",
     "boom sinks, half a metre over a tea break", "boom cylinders resealed last week elsewhere",
     "Poppet of the holding valve pitted, new cartridge", {"wrong": ("repaired", "boom-cylinder"), "minutes": 260}),
    ("trainer-22t", "PIT-03", "2024-09-18", 7900, "regulator.stuck-low@pump-1-regulator=0.5", "torn-down", "D",
     "bucket and boom half speed hot or cold, engine not even trying", "", "Servo piston stuck with varnish, freed and polished",
     {"checks": ["regulator-signal-swap@machine=fault-stays"], "signs": ["engine-barely-loaded"], "minutes": 360}),
    ("trainer-22t", "PIT-20", "2024-10-07", 12100, "pumps.worn-alike@machine=0.6", "torn-down", "DP",
     "whole machine tired, bad after lunch", "12 000 h on the pumps", "Both pumps worn alike, exchange set fitted, both drains were up",
     {"signs": ["worse-when-hot"], "checks": ["case-drain@pump-1=high"], "minutes": 900}),
    ("trainer-22t", "PIT-09", "2024-11-25", 11050, "pilot-relief.low@pilot-relief=0.5", "symptom-gone", "D",
     "levers dead, have to pull to the stop to get anything", "", "Pilot relief spring broken, new cartridge",
     {"minutes": 120}),
    ("trainer-22t", "PIT-11", "2025-01-14", 6010, "travel-brake.dragging@travel-left-brake=0.6", "torn-down", "T",
     "left hub stinks and it pulls left again", "LH travel motor changed in April", "Brake plates burnt, release passage blocked by a bit of old seal",
     {"signs": ["hot-hub"], "minutes": 520}),
    ("trainer-22t", "PIT-05", "2025-02-03", 3310, "tank.low-level@tank=0.5", "symptom-gone", "Q",
     "jerky and slow nose down on the ramp", "hose burst Friday", "22 L low. Filled, bled, hose checked",
     {"checks": ["tank-look@tank=level-low"], "minutes": 40}),
    ("trainer-22t", "PIT-14", "2025-03-17", 9600, "swing-motor.worn@swing-motor=0.6; cylinder.seal-leak@bucket-cylinder=0.6", "torn-down", "SF",
     "slew slow both ways loaded up hill, bucket drops its load", "", "Swing motor worn, exchange | Bucket cylinder kit", {"checks": ["case-drain@swing-motor=high"], "minutes": 410}),
    ("trainer-22t", "PIT-02", "2025-04-08", 5200, "flow-signal.weak-demand@pump-2-flow-signal=0.5", "retested", "D",
     "arm slow, swing slow, no heat no noise", "", "Signal line of pump 2 kinked behind the clamp", {"minutes": 190}),
    ("trainer-22t", "PIT-20", "2025-05-19", 12480, "cylinder.seal-leak@boom-cylinder-left=0.6; main-relief.low@main-relief=0.4",
     "torn-down", "DF", "boom drops and it has no power to lift it again", "pumps changed in the autumn",
     "LH boom cylinder seal gone, kit | Relief 30 bar low, set", {"minutes": 480}),
    ("trainer-22t", "PIT-22", "2025-06-23", 7480, "pump.worn@pump-1=0.5; travel-crossover.leaking@travel-right-forward-crossover=0.6",
     "torn-down", "DT", "slow digging, RH track weak going forward only", "",
     "Pump 1 worn, exchanged | Chip under the crossover seat, cleaned", {"minutes": 760}),
    ("trainer-22t", "PIT-05", "2025-08-11", 3890, "setup.wrong-setting@machine=0.5", "symptom-gone", "Q",
     "hire lad says no go", "back from hire", "Attachment flow limit left on. Switched off, all times right", {"minutes": 25}),
    ("yard-12t", "YARD-01", "2024-02-26", 2210, "port-relief.leaking@bucket-rod-port-relief=0.6", "torn-down", "FQ",
     "bucket uncurls under a log", "", "Nick on the seat of the rod port relief, new one",
     {"wrong": ("repaired", "bucket-cylinder"), "checks": ["exchange-port-relief@bucket-rod-port-relief=follows"], "minutes": 230}),
    ("yard-12t", "YARD-02", "2024-04-02", 4120, "hose.restricted@arm-cap-hose=0.6", "torn-down", "D",
     "arm slow one way and hose jumps", "", "Inner of the hose come away like a flap. New hose", {"minutes": 100}),
    ("yard-12t", "YARD-05", "2024-05-27", 1630, "swing-relief.leaking@swing-left-relief=0.6", "retested", "S",
     "runs out of swing to the left, right is fine", "", "Left swing relief seat marked, pair renewed",
     {"checks": ["exchange-swing-relief@swing-left-relief=follows"], "minutes": 150}),
    ("yard-12t", "YARD-01", "2024-08-05", 2620, "oil.too-thin@oil=0.6", "symptom-gone", "D",
     "heatwave, everything soft by 2 pm", "topped up from an unmarked drum", "Oil was 22 grade. Drained, 46 in, filters", {"minutes": 240}),
    ("yard-12t", "YARD-04", "2024-09-30", 5340, "engine.low-speed@engine=0.5", "symptom-gone", "Q",
     "slow all over, sounds flat", "", "Throttle cable stretched, 120 rpm short. Adjusted", {"minutes": 35}),
    ("yard-12t", "YARD-02", "2025-01-20", 4760, "suction.air-leak@suction=0.5", "torn-down", "D",
     "froth in the glass, spongy and noisy", "suction hose off for the engine mount job", "O-ring at the suction flange left out. Fitted, bled",
     {"checks": ["suction-leak-grease@suction=sound-changes"], "signs": ["foamy-oil", "pump-rattle"], "minutes": 110}),
    ("yard-12t", "YARD-04", "2025-02-24", 5710, "final-drive.damaged@travel-right-final-drive=0.6", "torn-down", "T",
     "grinding right side and it drags", "", "Planet bearing gone, gear oil like paint. Drive exchanged",
     {"wrong": ("exchanged", "travel-right-motor"), "checks": ["final-drive-oil@travel-right-final-drive=metal-or-low"],
      "signs": ["final-drive-grind"], "minutes": 840}),
    ("yard-12t", "YARD-05", "2025-04-29", 2050, "pump.worn@pump-1=0.5", "retested", "DP",
     "boom and bucket down, arm good", "", "Pump 1 below half at pressure on the meter, exchanged", {"minutes": 420}),
    ("yard-12t", "YARD-06", "2025-06-16", 3010, "make-up-check.leaking@boom-cap-make-up-check=0.6; pilot-filter.blocked@pilot-filter=0.5",
     "torn-down", "DF", "boom falls back slow and levers heavy and late", "never had a pilot filter",
     "Dirt under the make-up check, cleaned | Pilot filter collapsed, new", {"minutes": 270}),
    ("yard-12t", "YARD-06", "2025-07-21", 3140, "spool.worn@bucket-spool=0.6; cylinder.seal-leak@arm-cylinder=0.6", "torn-down", "F",
     "bucket and stick both creep", "block off in June", "Bucket section worn, block exchanged | Arm cylinder kit", {"minutes": 690}),
    ("quarry-36t", "Q-12", "2024-03-12", 9900, "pump.worn@pump-1=0.6", "torn-down", "D",
     "cycle times up 20 percent per dispatcher", "", "Front pump shoes worn, both pumps exchanged on hours", {"minutes": 700}),
    ("quarry-36t", "Q-14", "2024-06-03", 11300, "cooler.ineffective@cooler=0.6", "symptom-gone", "Q",
     "hyd temp alarm every shift", "radiator crew jet washed engine only", "Hyd cooler matted behind the AC core. Blown out", {"minutes": 180}),
    ("quarry-36t", "Q-12", "2024-10-22", 10650, "main-relief.leaking@main-relief=0.5", "torn-down", "D",
     "hot and weak since the pumps were done", "pumps exchanged in March", "Chip from the old pump on the relief seat. Relief exchanged, flushed",
     {"wrong": ("adjusted", "main-relief"), "minutes": 380}),
    ("quarry-36t", "Q-15", "2025-01-28", 8700, "swing-brake.dragging@swing-brake=0.6; pump.worn@pump-2=0.5", "torn-down", "DS",
     "swing slow and hot, stick slow too", "", "Swing brake release line blocked, plates | Rear pump worn, exchanged", {"minutes": 900}),
    ("quarry-36t", "Q-16", "2025-05-05", 7600, "regulator.torque-low@pump-1-regulator=0.5", "retested", "D",
     "gutless in the face, light work OK", "regulator touched by others in April", "Torque screw of pump 1 two turns out, set by the book", {"minutes": 240}),
    ("compact-3t", "GW-2", "2024-04-22", 1900, "pump.worn@pump-1=0.6", "torn-down", "DP",
     "slow as treacle when warm", "", "Pump worn right through, hire life. New pump", {"checks": ["case-drain@pump-1=high"], "minutes": 330}),
    ("compact-3t", "GW-3", "2024-07-15", 1210, "section-compensator.stuck@arm-compensator=0.5", "torn-down", "D",
     "arm won't go when you track or slew with it", "", "Compensator of the arm section stuck with tape. Freed", {"minutes": 160}),
    ("compact-3t", "GW-1", "2024-11-11", 2480, "load-signal.lost@load-signal=0.5", "retested", "D",
     "no pressure nothing lifts", "", "Signal orifice blocked, blown out", {"minutes": 140}),
    ("compact-3t", "GW-3", "2025-03-31", 1590, "swivel.cross-leak@swivel-joint=0.6; cylinder.seal-leak@boom-cylinder=0.6", "torn-down", "TF",
     "tracks weak and the boom comes down on its own", "", "Joint seals hard, kit | Boom cylinder kit", {"minutes": 460}),
    ("compact-3t", "GW-2", "2025-06-30", 2330, "track.too-tight@track-left=0.6", "symptom-gone", "T",
     "goes round in circles", "", "Left track packed solid with clay and pumped drum tight. Cleaned, slackened", {"minutes": 60}),
    ("loader-11t", "GRAIN-1", "2024-05-13", 6400, "pump.worn@pump-1=0.5", "torn-down", "WP",
     "slow lift at harvest, ok in the morning", "", "Pump worn, exchange", {"checks": ["case-drain@pump-1=high"], "minutes": 400}),
    ("loader-11t", "GRAIN-2", "2024-08-19", 4870, "priority-valve.starving-steering@priority-valve=0.5", "torn-down", "W",
     "steering goes solid when you lift", "", "Priority spool stuck. Out of service at once. Valve exchanged",
     {"checks": ["priority-pressures@priority-valve=steering-short"], "minutes": 210}),
    ("loader-11t", "GRAIN-1", "2025-02-10", 7010, "cylinder.seal-leak@lift-cylinder-left=0.6; main-relief.low@main-relief=0.5", "torn-down", "WF",
     "won't hold the bucket up, won't lift a full one", "pump changed last May", "Left lift cylinder kit | Relief seat worn, cartridge and set",
     {"minutes": 350}),
    ("loader-11t", "GRAIN-3", "2025-05-26", 3020, "steering-unit.worn@steering-unit=0.6; tank.low-level@tank=0.4", "torn-down", "W",
     "wheel winds round at the stop, growls", "drip under the tilt cylinder since spring", "Steering unit worn, exchanged | 12 L low, gland resealed",
     {"signs": ["steering-slips"], "minutes": 290}),
    ("loader-11t", "GRAIN-2", "2025-07-07", 5560, "spool.off-centre@tilt-spool=0.6; hose.restricted@lift-cap-hose=0.6", "torn-down", "WF",
     "tilt creeps, lift slow", "", "Centring spring broken, new | Lift hose delaminated inside, new", {"minutes": 310}),
    ("loader-11t", "GRAIN-3", "2025-09-15", 3390, "none@machine", "unknown", "W",
     "driver says steering stiff", "", "Nothing found, tyres at half pressure", {"minutes": 90}),
)  # fmt: skip


def main() -> int:
    """Write every job; says which."""
    knowledge = load_knowledge()
    for old in FOLDER.glob("*.yaml"):
        old.unlink()
    for number, row in enumerate(JOBS):
        path = write(number, row, knowledge)
        load_closed(path, knowledge)
        print(path.name)
    return 0


def write(number: int, row: Row, knowledge: Knowledge) -> Path:
    """One job as a file."""
    machine_name, unit, date, hours, causes, grade, codes, complaint, history, how, more = row
    place = f"../machines/{machine_name}.yaml"
    machine = load_machine(ROOT / "cases/machines" / f"{machine_name}.yaml", knowledge)
    only = [pattern for code in codes for pattern in ONLY[code]]
    truths = [cause_of(text) for text in causes.split(";")]
    variants = {(h.cause.cause, h.part): h.variant for h in reversed(bench_for(machine, knowledge).hypotheses)}
    wrong: list[Any] = [((*key, variants[key]), size) for *key_, size in truths if (key := tuple(key_)) in variants]
    units: Any = "us" if machine_name == "quarry-36t" else "metric"

    def sheet_with(present: list[Any], seed: int) -> dict[str, Any]:
        found = simulate(machine, knowledge, present, seed, only=only, distort=0.25, units=units, path=place)
        head = {"oilpath": "sheet/1", "machine": place, "unit-number": unit, "hours": hours, "date": date}
        return {**head, **{key: value for key, value in found.items() if key not in head}}

    data = sheet_with(wrong, 400 + number)
    said = {"complaint": complaint, **({"history": [history]} if history else {})}
    conditions = data.pop("conditions")
    readings = [*data.pop("readings"), *noted(more)]
    data = {**data, **said, "conditions": conditions, "readings": readings}
    if "wrong" in more:
        action, part = more["wrong"]
        data["remedies"] = [{"action": action, "part": part, "helped": False}]
    sheet = bound(data, knowledge)
    bench = bench_for(sheet.machine, knowledge)
    hows = how.split(" | ")
    found = tuple(FoundHere(cause, part, text) for (cause, part, _), text in zip(truths, hows, strict=True))
    proof = None
    if grade == "retested":
        after = sheet_with([], 900 + number)
        proof = Proof(after, judge(bound(after, knowledge), bench), FOLDER)
    ending = Ending(found, grade, more["minutes"], proof)
    job = job_data(sheet, data, judge(sheet, bench), ending, FOLDER, FOLDER.parent)
    for key in ("sheet", "after"):
        if job[key] is not None:
            job[key] = {**job[key], "machine": place}
    path = FOLDER / f"{job['id']}.yaml"
    path.write_text(HEADER + closed_text(job).partition("\n")[2], encoding="utf-8")
    return path


def cause_of(text: str) -> tuple[str, str, float]:
    """`pump.worn@pump-1=0.5` as cause, part and severity."""
    where, _, size = text.strip().partition("=")
    cause, _, part = where.partition("@")
    return cause, part, float(size or 0.5)


def noted(more: dict[str, Any]) -> list[dict[str, Any]]:
    """Signs and checks of a job as readings."""
    signs = [{"test": "sign", "sign": name, "seen": True} for name in more.get("signs", ())]
    checks = []
    for text in more.get("checks", ()):
        where, _, outcome = text.partition("=")
        check, _, part = where.partition("@")
        checks.append({"test": "check", "check": check, "part": part, "outcome": outcome})
    return [*signs, *checks]


def bound(data: dict[str, Any], knowledge: Knowledge) -> Sheet:
    """Plain data as a sheet that stands in the folder. Raises UnusableInput."""
    from oilpath.documents.sheet_text import sheet_text

    problems = Problems()
    location: Location = top_of(read_nodes(sheet_text(data), "job"), "job", FOLDER, problems, FOLDER / "job.yaml")
    sheet = read_sheet(location, "job", knowledge)
    problems.raise_if_any()
    assert sheet is not None
    return sheet


if __name__ == "__main__":
    sys.exit(main())
