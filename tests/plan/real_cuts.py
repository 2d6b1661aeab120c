"""Small problems cut from the real knowledge: a complaint, the heaviest repairs, a few real tests.

Prices are the procedures' own (what safety adds depends on the moment and is left out); columns are
the real ones, with signs, rules, slips and silence. Rows outside the heaviest repair groups get no
prior; the cause that is not in the knowledge stays.
"""

from __future__ import annotations

import dataclasses
import math
from functools import cache

import numpy as np

from tests.plan.bare import Free
from tests.plan.small import Small, answered_in, clusters, small
from triage.infer.gather import Gathered, Observation, gather
from triage.infer.ground import Grounded, ground
from triage.infer.posterior import Model, State
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.plan.advise import Situation, price
from triage.plan.candidates import ground_procedures, outcomes
from triage.plan.costs import RepairGroups
from triage.plan.lookahead import Priced, information
from triage.world.rules import RulesWorld

AMPLIFIERS = ("linden_hall", "grandmothers_console", "practice_amp", "shelf_set", "dance_band")
MOST_CELLS = 4000
MOST_TOGETHER = 400
MOST_OUTCOMES = 12
LOOKED_AT = 30


@cache
def amplifier(name: str) -> Grounded:
    knowledge = load(knowledge_dir())
    return ground(knowledge, knowledge.profiles[name])


@cache
def groups_of(name: str) -> RepairGroups:
    return RepairGroups(amplifier(name))


def complaint(grounded: Grounded, seed: int) -> Gathered:
    """What an owner volunteers of a drawn fault; at least one thing is off."""
    for attempt in range(1000):
        world = RulesWorld(grounded, 1000 * seed + attempt)
        if world.row >= grounded.healthy:
            continue
        told = [
            Observation(*key, reply.answer, happening=reply.happening)
            for key, reply in world.complaint()
        ]
        if told:
            return gather(grounded, told, complaint_told=True)
    raise AssertionError("no drawn fault is complained of")


def cut(seed: int, which: int = 0) -> Small:
    """One problem: 4 to 8 repair groups, 4 to 7 procedures, from a drawn complaint."""
    name = AMPLIFIERS[which]
    grounded, groups = amplifier(name), groups_of(name)
    rng = np.random.default_rng([seed, 3])
    for attempt in range(50):
        gathered = complaint(grounded, 50 * seed + attempt)
        state = Model(grounded).state(gathered.evidence)
        mass = groups.mass(state.posterior)
        mass[groups.unknown] = 0.0
        heaviest = np.argsort(-mass)[: int(rng.integers(4, 9))]
        kept = np.isin(groups.of_row, heaviest)
        kept[grounded.unknown] = True
        prior = np.where(kept, grounded.prior, 0.0)
        model = Model(dataclasses.replace(grounded, prior=prior / prior.sum()))
        tests = _tests(model.state(gathered.evidence), groups, gathered, rng)
        if len(tests) >= 4:
            return small(model, groups, gathered.evidence, tests, gathered.applicable)
    raise AssertionError("no complaint leaves four tests that can be solved exactly")


def count(model: Model, test: Priced) -> int:
    """How many joint outcomes a test has."""
    return math.prod(len(model.grounded.instances[f].answers) for f in test.findings)


def _tests(
    state: State, groups: RepairGroups, gathered: Gathered, rng: np.random.Generator
) -> list[Priced]:
    """4 to 7 of the procedures that tell most, findings apart, all outcomes exact and countable."""
    model = state.model
    situation = Situation(
        state=state,
        groups=groups,
        candidates=tuple(ground_procedures(model.grounded)),
        asked=frozenset(answered_in(gathered.evidence)),
        applicable=gathered.applicable,
        declined={},
    )
    exact = [p for p in price(situation, Free()) if count(model, p) <= MOST_OUTCOMES]
    exact.sort(key=lambda p: -information(state.posterior, outcomes(state, p.findings)))
    wanted = int(rng.integers(4, 8))
    chosen: list[Priced] = []
    for i in rng.permutation(min(LOOKED_AT, len(exact))):
        more = [*chosen, exact[int(i)]]
        findings = [f for p in more for f in p.findings]
        if len(set(findings)) < len(findings):
            continue
        sizes = [count(model, p) for p in more]
        together = max(math.prod(sizes[j] for j in group) for group in clusters(model, more))
        if math.prod(n + 1 for n in sizes) <= MOST_CELLS and together <= MOST_TOGETHER:
            chosen = more
        if len(chosen) == wanted:
            break
    return chosen
