"""The knowledge base as one frozen object, and the small files of `kb/`: priors, scatter, signs, cautions, sources."""

from collections.abc import Mapping
from typing import Annotated, Final, Literal, Self, get_args

from pydantic import AfterValidator, ValidationInfo, field_validator

from oilpath.knowledge.cause import Cause, Frequency
from oilpath.knowledge.check import Check, Sign
from oilpath.knowledge.circuit import Circuit
from oilpath.knowledge.closed import Closed, Grade
from oilpath.knowledge.fields import (
    Entry,
    Id,
    Keyed,
    NonnegativeNumber,
    PositiveNumber,
    Probability,
    Share,
    Text,
    problem,
)
from oilpath.knowledge.plausible import SlipKind
from oilpath.knowledge.rule import Rule
from oilpath.knowledge.stance import Pose
from oilpath.knowledge.testkind import Day, TestKind, TestVariant
from oilpath.knowledge.words import Vocabulary

_WIDEST: Final = 100.0  # beside instruments of some percent a wider one leaves the likelihood no digits
Noted = Literal["sign", "code"]


class Observed(Entry):
    """How probable it is that a sheet has a sign or a code. Simulated sheets are drawn from it."""

    looked_for: Share
    """probability that anybody looks"""
    astray: Share
    """probability that it is there without any cause that a rule knows; with one, times the rule's likelihood"""
    at_most: Share
    """most that it is there with its cause"""


class Wear(Entry):
    """How wear comes with a machine's hours: its rate grows with a power of the age."""

    power: NonnegativeNumber = 2.0
    usual_hours: PositiveNumber = 5000.0
    """of a machine whose hours are not stated"""
    early: Share = 0.05
    """least share of the frequency, on a new machine"""


class Learning(Entry):
    """How much closed jobs count, compared with the stated figures."""

    jobs: PositiveNumber = 300.0
    """so many closed jobs weigh as much as the stated frequencies of all causes together"""
    outcomes: PositiveNumber = 20.0
    """so many outcomes of a check weigh as much as the probabilities that it declares"""
    grades: Mapping[Grade, Share] = {"torn-down": 1.0, "retested": 0.8, "symptom-gone": 0.4, "unknown": 0.0}
    """what a job counts by how its cause is known"""


class Priors(Entry):
    """`kb/priors.yaml`: how often things are wrong, before any reading."""

    oilpath: Literal["priors/1"]
    frequency: Mapping[Frequency, PositiveNumber]
    """relative frequency of the words of the cause files"""
    wear: Wear = Wear()
    none_routine: Probability
    """probability that nothing is wrong at a routine check"""
    none_complaint: Probability
    """the same with a complaint"""
    routine_words: tuple[Text, ...]
    """a complaint that holds one of these words is none"""
    out_by_chance: Probability = 1.0
    """of the sound machines that the scatter would let be beyond a stated limit, the share that there is"""
    several: Probability
    """how likely two causes at once are, as against one"""
    silent: PositiveNumber
    """factor on the odds of a cause that no test could show, where no sign of it was found either"""
    unknown: Probability
    """prior probability of something the knowledge base does not hold"""
    unknown_spread: PositiveNumber
    """ln ratio to which `unknown` widens the readings that are out"""
    model_error: NonnegativeNumber
    """what the model does not know, as a share of the predicted effect"""
    freedom: PositiveNumber
    """degrees of freedom of the scale of the scatter"""
    gross: Probability
    """probability that one given reading is a gross mistake"""
    tempering: Probability = 1.0
    """power to which the likelihood of the readings is raised: how far they count, as the model is not quite right"""
    observed: Mapping[Noted, Observed]
    hearsay: Probability = 0.1
    """how often words say a sign that is not there, as a share of how often they say one that is"""
    in_vain: Mapping[Id, Probability] = {}
    """for each action of a remedy: probability that it does not help though the cause was at that part"""
    by_chance: Probability = 0.05
    """probability that a remedy seems to help though the cause is elsewhere"""
    learning: Learning = Learning()
    because: Text

    @field_validator("frequency", "observed")
    @classmethod
    def _whole(cls, value: Mapping[str, object], info: ValidationInfo) -> Mapping[str, object]:
        """Every word is asked for somewhere."""
        words = get_args(Frequency if info.field_name == "frequency" else Noted)
        if lacking := [word for word in words if word not in value]:
            raise problem(f"says nothing of {', '.join(lacking)}", f"all of {', '.join(words)}")
        return value

    def on(self, circuit: Circuit) -> Self:
        """Those of one kind of machine: where its scatter is well known (built-in instruments) its circuit says so."""
        freedom = circuit.values.get("scatter-freedom", self.freedom)
        tempering = circuit.values.get("tempering", self.tempering)
        if (freedom, tempering) == (self.freedom, self.tempering):
            return self
        return self.model_copy(update={"freedom": freedom, "tempering": tempering})


def _spread(value: float) -> float:
    if value > _WIDEST:
        raise problem("is wider than anything that is measured", f"at most {_WIDEST:g}")
    return value


class SharedScatter(Entry):
    """Scatter that several readings of a sound machine share. There is one common factor for each value of `by`."""

    id: Id
    sd: Annotated[NonnegativeNumber, AfterValidator(_spread)]
    observes: tuple[Id, ...]
    by: tuple[Id, ...] = ()
    """keys of the reading (function, side, range, direction …), or `pump`, that split it"""
    of: Literal["reading", "effect"] = "reading"
    """`reading`: sd as above. `effect`: a share of the effect that the model predicts, which all these readings have in
    error alike; each reading takes the first entry that fits it"""
    loads: tuple[Id, ...] = ()
    because: Text


class ScatterFile(Entry):
    """`kb/scatter.yaml`."""

    oilpath: Literal["scatter/1"]
    shared: tuple[SharedScatter, ...]


class Caution(Entry):
    """One caution, said before the test or check that names it."""

    says: Text
    brief: Text | None = None
    """the same in a few words, where there is room for no more"""
    needs: tuple[Id, ...] = ()
    """classes of parts; shown only for a machine that has a part of any of them, where left out for every machine"""
    hazard: Literal["jet", "falling", "moving", "hot", "heat-at-relief", "stored", "rotating", "electric", "general"]
    source: Text


class CautionFile(Entry):
    """`kb/cautions.yaml`."""

    oilpath: Literal["cautions/1"]
    always: tuple[Id, ...] = ()
    """cautions that every answer shows; a layer can add to them, never take any away"""
    cautions: Mapping[Id, Caution]


class SourceFile(Entry):
    """`kb/sources.yaml`: what entries may name as their source, beside `common practice` and `from memory`."""

    oilpath: Literal["sources/1"]
    sources: Mapping[Id, Text]


class Held(Entry):
    """Something in an entry that protects people: a reason to stop the machine, a caution, a place."""

    what: Literal["stop-use", "place", "caution", "hazard", "words", "shown-for", "warning"]
    of: str = ""
    """the id of the caution, the part, the class"""
    says: str = ""


class Replaced(Entry):
    """An entry of a layer that replaces one with the same id below it."""

    kind: str
    id: str
    file: str
    """file of the layer"""
    line: int
    held: tuple[Held, ...] = ()
    """what those that it replaces held"""
    lost: tuple[Held, ...] = ()
    """what of this it does not hold"""


class Layer(Entry):
    """A folder of a workshop's own knowledge, used on top of the knowledge that ships."""

    folder: str
    """its path, for machine files that are sought in it"""
    shown: str
    """as it was given"""
    added: tuple[tuple[str, str], ...] = ()
    """(kind, id) of the entries that are new"""


class Knowledge(Keyed):
    """All that the trade knows, checked and frozen. `version` is the hash of its content."""

    version: str
    variants: Mapping[str, TestVariant]
    poses: Mapping[str, Pose] = {}
    tests: Mapping[str, TestKind]
    asked_of: Mapping[str, tuple[str, ...]] = {}
    """conditions → classes of parts; asked for only on a machine that has one of them, or whose file states it"""
    day: Day = Day()
    slips: tuple[SlipKind, ...] = ()
    """slips of writing that are looked for"""
    circuits: Mapping[str, Circuit]
    causes: tuple[Cause, ...]
    rules: tuple[Rule, ...]
    checks: tuple[Check, ...]
    signs: Mapping[str, Sign]
    vocabulary: Vocabulary = Vocabulary()
    """words of a complaint that say a sign"""
    cautions: Mapping[str, Caution]
    always: tuple[str, ...]
    sources: Mapping[str, str]
    priors: Priors
    scatter: tuple[SharedScatter, ...]
    closed: tuple[Closed, ...] = ()
    """jobs that were closed, of the layers alone, in order of their ids"""
    layers: tuple[Layer, ...] = ()
    """from the lowest to the highest; none: what ships alone"""
    replaced: tuple[Replaced, ...] = ()
    """entries of layers that replace others"""

    def as_read(self) -> Self:
        """Mark as read from the files of `version`, whose hash then stands for the content."""
        self.__dict__["content"] = self.version
        return self
