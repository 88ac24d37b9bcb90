"""Rules and ranking side by side."""

from oilpath.flow import RankedCause, Suspicions, Weight
from oilpath.flow.notes import Named, note
from oilpath.ranking.remarks import MOST, came_to_nothing, remarks

from .conftest import finding


def cause(name: str, part: str, present: float) -> RankedCause:
    return RankedCause(name, part, None, f"{name} at {part}", present, present, None, None, None)


def test_a_suspicion_that_comes_to_nothing_is_told_with_what_speaks_against_it() -> None:
    told = Suspicions((finding("r", "pump.worn", "pump-1", None), finding("r", "pump.worn", "pump-2", None)))
    present = {("pump.worn", "pump-1"): 0.001, ("pump.worn", "pump-2"): 0.1}
    assert came_to_nothing(present, told) == (("pump.worn", "pump-1"),)
    against = {("pump.worn", "pump-1"): ((), (Weight("swing-time/left", -9.0),))}
    said = remarks([cause("pump.worn", "pump-1", 0.001)], told, against)
    worn = Named("cause", "pump.worn", "pump-1")
    assert said == (note("suspected-but", cause=worn, result=Named("result", "swing-time/left")),)
    assert remarks([cause("pump.worn", "pump-1", 0.001)], told, {("pump.worn", "pump-1"): ((), ())}) == ()


def test_a_rule_of_which_one_suspicion_leads_has_done_its_work() -> None:
    told = Suspicions((finding("r", "pump.worn", "pump-1", None), finding("r", "pump.worn", "pump-2", None)))
    assert came_to_nothing({("pump.worn", "pump-1"): 0.9, ("pump.worn", "pump-2"): 0.001}, told) == ()


def test_what_speaks_against_a_cause_is_no_suspicion() -> None:
    told = Suspicions((finding("r", "pump.worn", "pump-1", 0.2),))
    assert came_to_nothing({("pump.worn", "pump-1"): 0.001}, told) == ()
    said = remarks([cause("pump.worn", "pump-1", 0.5)], told, {})
    assert said == (note("not-foreseen", cause=Named("cause", "pump.worn", "pump-1")),)


def test_remarks_stay_few() -> None:
    told = Suspicions(tuple(finding("r", "pump.worn", f"pump-{n}", None) for n in range(9)))
    causes = [cause("pump.worn", f"pump-{n}", 0.001) for n in range(9)]
    against = {(c.cause, c.part): ((), (Weight("swing-time/left", -9.0),)) for c in causes}
    assert len(remarks(causes, told, against)) == MOST
    assert remarks([cause("none", "machine", 0.9), cause("unknown", "machine", 0.9)], Suspicions(()), {}) == ()
