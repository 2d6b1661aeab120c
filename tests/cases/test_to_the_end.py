"""Whole jobs in the rules world: drawn faults, asked, repaired and proven, without a dead end."""

from __future__ import annotations

from collections import Counter

import pytest

from triage.assess import Bench
from triage.infer.pairs import rank_pairs
from triage.job.assumed import assumed_fields
from triage.job.session import Session
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.world.rules import RulesWorld

SEEDS = range(6)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """The real knowledge."""
    return load(knowledge_dir())


def cures(session: Session, world: RulesWorld, repair: str, place: str) -> bool:
    """Whether this repair at this place mends the drawn fault."""
    truth = world.truth
    if truth is None or truth.place != place:
        return False
    cause = session.bench.knowledge.causes.get(truth.cause)
    return cause is not None and cause.repair == repair


def play(bench: Bench, seed: int) -> str:
    """How a job on a drawn fault ends."""
    world = RulesWorld(bench.grounded, seed)
    clock = iter(range(0, 10_000_000, 30))
    session = Session(bench, lambda event: None, lambda: float(next(clock)))
    session.begin()
    for (finding, place), reply in world.complaint():
        session.tell(finding, place, reply.answer)
    session.complaint_over()
    cured = False
    for _ in range(600):
        view = session.view()
        if view.sort == "step":
            for question in view.questions:
                said = world.ask(question.finding, question.place)
                session.put(question.finding, question.place, said.answer, ident=view.ident)
        elif view.sort in ("act", "hazard"):
            wanted = {name for name, _ in view.fields}
            fields = assumed_fields(view, session.moment.facts)
            fields = {name: said for name, said in fields.items() if name in wanted}
            if not session.confirm(fields).ok:
                session.cannot()
        elif view.sort == "repair":
            cured = cures(session, world, view.ident, view.place)
            session.done()
        elif view.sort == "proof":
            session.proof("passed" if cured else "failed")
        else:
            return session.state.closed or view.title
    return "never ended"


@pytest.mark.parametrize("amplifier", ["linden_hall", "grandmothers_console"])
def test_jobs_end_repaired_or_handed_over_never_in_a_corner(
    knowledge: Knowledge, amplifier: str
) -> None:
    """Every job ends; most end with the drawn fault repaired and proven."""
    bench = Bench.make(knowledge, knowledge.profiles[amplifier])
    ends = Counter(play(bench, seed) for seed in SEEDS)
    bench.close()

    assert not [end for end in ends if end.startswith(("Not possible", "never"))]
    assert ends["repaired"] >= len(SEEDS) // 2


def test_pairs_with_many_coupled_rules_are_still_ranked(knowledge: Knowledge) -> None:
    """Two causes at one output tube share nine findings in their rules: no fault, a ranking."""
    bench = Bench.make(knowledge, knowledge.profiles["linden_hall"])
    world = RulesWorld(bench.grounded, 3)
    session = Session(bench, lambda event: None, lambda: 0.0)
    session.begin()
    findings = (
        "grid_shift_tube_in",
        "grid_shift_tube_out",
        "idle_trend",
        "plate_colour",
        "after_swap",
    )
    for finding in findings:
        session.tell(finding, "V3", world.ask(finding, "V3").answer)
    pairs = rank_pairs(session.moment.assessment.state)
    bench.close()

    assert pairs
    assert all(a.log >= b.log for a, b in zip(pairs, pairs[1:], strict=False))
