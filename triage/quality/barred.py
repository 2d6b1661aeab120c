"""Whether what is left to do about a fault is closed to the person at the bench.

Closed is what skill or safety forbids; a tool that is not there, or a price not worth paying, is not.
"""

from __future__ import annotations

from dataclasses import replace

from triage.assess import Bench
from triage.job.desk import Moment
from triage.job.gatekeeper import SafetyPrices
from triage.plan.candidates import ground_procedures
from triage.safety.facts import StepFacts
from triage.safety.gates import forbidden


def repair_barred(moment: Moment, row: int) -> bool:
    """Whether the repair of this row is handed over by this person, or forbidden on this amplifier."""
    bench = moment.bench
    cause = bench.knowledge.causes.get(bench.grounded.hypotheses[row].cause)
    if cause is None:
        return False
    repair = bench.knowledge.repairs[cause.repair]
    if repair.hand_over and bench.profile.owner.skill != "technician":
        return True
    return bool(forbidden(StepFacts.of(repair), moment.state.safety, moment.facts))


def steps_barred(moment: Moment, row: int) -> bool:
    """Whether all that could still be found out about this row is closed to this person.

    True where some step, that skill or safety forbids, looks at what the cause itself changes and was
    not asked yet, and no step that is allowed does.
    """
    bench = moment.bench
    asked = {bench.grounded.index.get(o.key) for o in moment.observations if not o.stale}
    applicable = moment.assessment.gathered.applicable
    left = {
        f for f in _worded(bench, row) if f not in asked and applicable.get(f, True) is not False
    }
    prices = SafetyPrices(bench.knowledge, moment.state.safety, moment.facts)
    own = {c.key: c for c in bench.candidates if prices.extra_cost(c.procedure) is not None}
    if any(left & set(candidate.yields) for candidate in own.values()):
        return False
    owner = bench.profile.owner.model_copy(update={"skill": "technician"})
    profile = bench.profile.model_copy(update={"owner": owner})
    skilled = ground_procedures(replace(bench.grounded, profile=profile))
    return any(left & set(c.yields) for c in skilled if c.key not in own)


def _worded(bench: Bench, row: int) -> set[int]:
    """Findings whose answers the cause itself changes."""
    grounded = bench.grounded
    direct = {finding for finding, r in grounded.words if r == row}
    signs = {sign for sign, r in grounded.sign_words if r == row}
    return direct | {f for sign in signs for f in grounded.blocks[sign]}
