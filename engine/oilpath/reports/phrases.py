"""The sentence for every note: what the steps have to say, for people to read.

Braces hold the name of a value, then how it is shown: the significant digits of a figure (default 3) and its unit, if
not the usual one (`{usual:2 mL/min}`); `n reading` counts (`3 readings`); `;` separates a list with semicolons instead
of commas and `and`; `or` joins it with `or`; `bare` leaves out what a stretch is called. `reports.notes` fills in the
names of results, parts and causes, and the figures in the units the reader chose.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

#: Titles of the two hypotheses that are not causes.
STANDING: Final[Mapping[str, str]] = {
    "none": "Nothing wrong that these tests show",
    "unknown": "Something not in the knowledge base",
}

PHRASES: Final[Mapping[str, str]] = {
    # conditions of a test
    "attachment-wrong": "attachment {word}, but the test requires {accepted:or}; change it and repeat",
    "auto-idle-wrong": "auto idle {word}, but the test requires {accepted:or}; change it and repeat",
    "working-setting-wrong": ("working setting {word}, but the test requires {accepted:or}; change it and repeat"),
    "oil-too-cold": "oil at {oil}, but the test requires {window}; warm it up and repeat",
    "oil-too-hot": "oil at {oil}, but the test requires {window}; let it cool and repeat",
    "too-little": "{made}, but the test requires at least {asked:bare}; repeat with {asked:bare} or more",
    "not-stated": "not stated: {conditions:,}; judged as if in order",
    "engine-speed-wrong": (
        "engine at {speed:4}, {share} of the test speed; bring it to the test speed, or find out why it does not reach"
        " it; then repeat"
    ),
    "engine-speed-does-not-matter": "engine at {speed:4}, {share} of the test speed: judged as measured",
    "engine-speed-not-corrected": (
        "engine at {speed:4}, {share} of the test speed: not corrected, because weight sets most of the time; less"
        " certain"
    ),
    "engine-speed-corrected": (
        "engine at {speed:4}, {share} of the test speed: the value is converted to the test speed, {factor:4} times the"
        " measured one; less certain"
    ),
    # the conditions themselves
    "no-test-speed": "the machine file states no test speed of the engine; times are judged as measured",
    "other-readings-at-other-speeds": "stated with a reading; other readings were taken at other speeds",
    "share-of-test-speed": "{share} of the test speed",
    "makes-readings-invalid": "makes {count:n reading} invalid",
    # words of the sheet
    "heard-in-complaint": "said in the complaint: “{text}”",
    "heard-in-history": "said in the history: “{text}”",
    "heard-in-note": "said in a note: “{text}”",
    # where rules and figures differ
    "rules-against-figures": "the rules point at {rules:or}, the figures at {figures}, because {because}",
    "speaks-most": "{result} speaks most for it",
    "all-together": "that fits {results} and the other readings together better",
    "cleared-against-figures": (
        "{results} should clear {cause}, but the figures leave it possible; it may be there beside another fault"
    ),
    # limits
    "no-limit": "the machine file states no limit for it",
    "only-new-is-known": "only the value of a new machine is known; there is no limit to judge by",
    "limit-scaled": "limit for {limit} scaled to {made}",
    "limit-scaled-less-sure": "limit for {limit} scaled to {made}, less certain",
    "limit-cannot-be-scaled": "{key} {word}: the limit for {limit} cannot be scaled to {made}; repeat with {limit}",
    # what is asked about
    "perhaps-unit": "{value}: was {likely} meant? The unit, or the decimal point, may be another",
    "perhaps-decimal": "{value}: was {likely} meant? The decimal point may be one place off",
    "perhaps-turns": "{value}: the time of one turn? Then it is {likely} for all of them",
    "perhaps-side": (
        "{value}: are left and right exchanged here, or at the raised tracks? A machine pulls to its slow side"
    ),
    "repeat-far-off": "one repeat of {one} lies far from the others, {others}: repeat this reading; the others count",
    "repeats-apart": "{one} and {other} lie far apart: repeat this reading",
    "hardly-shown": "{value}: hardly any machine shows this. Read it again; if it is right it counts as it is",
    "hardly-shown-if-meant": "{value}: hardly any machine shows this. Read it again; if it is right {says}",
    "more-than-there-is": "{value}: more than there is to move. Read it again; it does not count",
    "figure-perhaps": "{key} {value}: was {likely} meant?",
    "figure-hardly-shown": "{key} {value}: hardly any machine shows this. Read it again",
    "limit-perhaps": "the machine file's limit (line {line}) says {key} {value}: is {likely} meant?",
    "limit-hardly-meant": (
        "the machine file's limit (line {line}) says {key} {value}: no sound machine shows this. Look it up again"
    ),
    # this machine's earlier readings
    "judged-by-one-earlier-reading": (
        "no limit: judged by one earlier reading of this machine when it was sound, {mean}"
    ),
    "judged-by-earlier-readings": (
        "no limit: judged by {count} earlier readings of this machine when it was sound, {mean} on average"
    ),
    "converted-from-other-speed": "earlier readings taken with the engine at {past:4} are converted to {now:4}",
    "converted-from-other-oil": "earlier readings taken with the oil at {past:4} are converted to {now:4}",
    "unchanged-since-sound": "when it was sound, this machine showed {mean}: no significant change",
    "more-than-when-sound": (
        "when it was sound, this machine showed {mean}: {by:2} more, beyond the scatter of its readings"
    ),
    "less-than-when-sound": (
        "when it was sound, this machine showed {mean}: {by:2} less, beyond the scatter of its readings"
    ),
    "not-comparable": "not comparable: {key} {own:4}, {theirs:4} in the earlier readings; repeat with the same {key}",
    "baseline-of-another-machine": "baseline {sheet} is not used: it does not match this sheet in {differing}",
    "baseline-is-later": "baseline {sheet} is not an earlier sheet: its hours or date are later than this one's",
    # work on the machine
    "setting-moved": (
        "{part}: its setting {how} while the machine was tested; {count:n reading} depend on it, most of all {results}."
        " Repeat what was taken before"
    ),
    "setting-moved-alone": "{part}: its setting {how} while the machine was tested",
    "was-moved": "was moved",
    "was-turned-in": "was turned {turns} turn in",
    "was-turned-out": "was turned {turns} turn out",
    # sister machines
    "judged-by-sister": (
        "no limit: judged against a sister machine, {mean}; accurate to ± {share:2}, for no two machines are alike"
    ),
    "judged-by-sister-roughly": (
        "no limit: judged against a sister machine, {mean}; accurate to ± {off}, for no two machines are alike"
    ),
    "sister-of-another-kind": "sister sheet {sheet} is not used: its machine is of another kind, {circuit}",
    # estimates from dimensions
    "no-estimate": "no estimate: {why}",
    "pump-or-speed-not-known": "its pump's displacement and the engine's test speed are not both known",
    "pumps-or-speed-not-known": "the displacement of its pumps and the engine's test speed are not all known",
    "cylinder-not-known": "bore, rod and stroke of the cylinder are not all known",
    "bore-not-known": "bore and rod of the cylinder are not known",
    "weight-sets-the-time": "weight and the valve in the return path set this time, not the pumps",
    "estimate-sure-to": "the estimate is accurate to ± {share:2}",
    "estimate-sure-to-factor": (
        "the estimate is accurate to a factor of {factor:2}: usually {usual:2 mL/min}, at most {most:2 mL/min} leak"
        " from the {end} end past {past}"
    ),
    "past-the-valve": "the {valve}",
    "past-the-spool": "the spool, as there is no holding valve",
    # counterparts: left and right, one pump and the other
    "compared-with-counterpart": "no limit: compared with its counterpart {other}",
    "counterpart-is-worse": "no limit: compared with its counterpart {other}, the worse of the two; both may be off",
    "droop-from": "no limit: judged by {other} as it was measured; more than {most:2} below it is out",
    "shares-flow-together": "judged by {other}: movements share a pump's flow, but seldom slow each other so far",
    "served-first-together": "judged by {other}: it gets its oil first, whatever else is moved",
    "differs-from-counterpart": ("{by} {way} than {other} ({value:4}), more than the allowed difference of {allowed}"),
    "may-differ-from-counterpart": (
        "{by} {way} than {other} ({value:4}), perhaps more than the allowed difference of {allowed}"
    ),
    # variants: readings taken differently on purpose
    "nothing-to-compare-with": "nothing to compare it with: the sheet has no standard reading of this test",
    "not-compared-invalid": "not compared: {other} is invalid",
    "not-compared-other-stretch": "not compared: {other} was taken over a different stretch from rest",
    "more-than-plain": "{by} more than {other} ({value:4}); not compared with a limit",
    "less-than-plain": "{by} less than {other} ({value:4}); not compared with a limit",
    "no-ratio-to-plain": "not compared with {other} ({value:4}): there is no ratio to zero",
    "times-plain": "{factor} times {other} ({value:4}); not compared with a limit",
    # what else is known about a reading
    "weight-moves-it": "its weight moves it: the flow may be more than the pumps deliver",
    "flow-led-back": "assumes that {share:2} of the flow comes back from the other end, not from the pumps",
    "sound-takes-less": "a sound one takes {share:2} of the flow available, because {why}",
    "other-end-gives-back-more": "the other end gives back more than goes in",
    "section-built-for-less": "its section may be built for less than the pump delivers",
    "power-under-usual-torque-limit": "power left by a typical torque limit for this kind of machine",
    "cooling-not-known": (
        "the oil cooled by {fall}: how much of the drift this explains is not known, because the length of the oil"
        " column is not known (state the extension)"
    ),
    "cooling-not-stated": (
        "the oil temperatures at the start and the end are not stated: how much of it is cooling is not known"
    ),
    "oil-did-not-cool": "the oil was as warm at the end as at the start: cooling explains none of it",
    "warming-hides-drift": "the oil warmed by {by}, which hides about {hidden:2} of drift",
    "cooling-is-all": "cooling of the oil by {by} can explain about {length:2} (± {spread:2}), the whole of the drift",
    "cooling-is-a-part": (
        "cooling of the oil by {by} can explain about {length:2} (± {spread:2}), {share:2} of the drift; the limit is"
        " for the value as measured"
    ),
    # veer
    "offset-only-says-much": "beyond {most}, an offset only shows a large veer: the operator corrects or stops",
    "offset-from-chord": "{measured} as the gap to the chord, {found} from the start line",
    "offset-from-run-up": "{measured} from the line of the run-up, {found} from the start line",
    "offset-from-unknown-run-up": (
        "{measured} from the line of the run-up, {found} from the start line; the run-up is not stated"
    ),
    "veer-limit-scaled": "limit for {limit} scaled with the square of the distance to {made}",
    "tracks-compared": "no limit: the two tracks are compared with each other; {share} of their speed is {offset:2}",
    "tracks-compared-gauge-not-stated": (
        "no limit: the two tracks are compared with each other; {share} of their speed is about {offset:2}, as the"
        " track gauge is not stated"
    ),
    # what cannot be made here
    "check-not-possible": "{check}: not possible here, needs {needs}",
    "so-many-people": "{people} people",
    "so-much-room": "{room} of clear ground",
    # what rules and ranking say
    "rule-warns": "{says}",
    "not-foreseen": "{cause}: no rule suspects it.",
    "suspected-but": "{cause}: suspected by a rule, but {result} speaks against it.",
    # the tree
    "results-near": "{count:n result} near the limit",
    "nothing-out": "no measured result is out",
    "results-out": "{count:n result} of {of} out",
    "other-causes": "others ({count:n cause})",
    "not-shown-by-what-is-out": "not shown by any result that is out",
    "not-shown-by-any-reading": "not shown by any reading",
    "on-every-way": "in the path of everything measured slow and of nothing measured in order: {parts}",
    "on-every-way-and": (
        "in the path of everything measured slow and of nothing measured in order: {parts:,} and {count:n other part}"
    ),
    "one-part-alone": "{part}",
    "functions-alone": "{functions}",
    "one-side": "{side} side",
    "one-pump-feeds-them": "{pump} feeds them",
    # the plan
    "one-part-already": "One part already stands out: {causes:;}. Confirm it before replacing anything.",
    "no-check-tells-apart": "No remaining check tells these apart: {causes:;}.",
    "no-check-tells-any-apart": "No remaining check tells the causes apart.",
    "comes-down-to-one-part": "The plan narrows down to one part in {share:0} of cases.",
    "ends-not-told-apart": "No remaining check tells these apart: {causes:;} ({share:0} of cases end here).",
    "stops-after-checks": "The plan stops after {checks} checks in a row ({share:0} of cases); then diagnose again.",
    "unlikely-not-followed": "Outcomes less likely than {least:0} are not followed ({share:0} of cases).",
    # the trend
    "other-stretches-not-counted": (
        "readings with another hold, distance or number of turns are shown as they are and not counted"
    ),
    # fault codes
    "active-not-stated": "not stated whether active",
    "code-says": "{says}",
    "code-names-part": "it names the {part}",
    "failure-mode": "FMI {number}: {says}",
    "code-not-known": "the machine file does not say what this code means; look it up in the service information",
}
