"""The roll-out in arrays goes where a plain one goes, one way at a time."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from tests.benchmarks.bench_scale import Job
from tests.benchmarks.drawn import drawn
from tests.plan.bare import Free
from triage.infer.gather import gather
from triage.infer.ground import Grounded
from triage.plan import rollout
from triage.plan.advise import Situation, price
from triage.plan.costs import RepairGroups
from triage.plan.lookahead import tell

SURE = 0.9


@cache
def knowledge() -> Grounded:
    return drawn(120, 60)


def made(seed: int) -> tuple[rollout.Tests, RepairGroups]:
    """Candidates of a job with its complaint told."""
    job = Job(knowledge(), seed)
    gathered = gather(job.grounded, job.seen, complaint_told=True)
    state = job.model.state(gathered.evidence)
    asked = frozenset(job.grounded.index[o.key] for o in job.seen)
    situation = Situation(state, job.groups, job.candidates, asked, gathered.applicable, {})
    priced = price(situation, Free())
    return rollout.Tests(state, priced, tell(state, priced)), job.groups


def bits_of(tests: rollout.Tests, p: np.ndarray) -> np.ndarray:
    """Mutual information of each candidate with the rows, as the sum over both says it."""
    found = []
    for start, size in zip(tests.starts, tests.sizes, strict=True):
        joint = tests.columns[start : start + size] * p
        apart = joint.sum(axis=1, keepdims=True) * p
        there = joint > 0.0
        found.append(float((joint[there] * np.log2(joint[there] / apart[there])).sum()))
    return np.array(found)


def one_way(
    tests: rollout.Tests, groups: RepairGroups, way: int, now: float
) -> tuple[float, np.ndarray, list[int]]:
    """Minutes, posterior at the end and candidates of one way, in double precision."""
    p, spent, done = tests.p, 0.0, []
    open_ = tests.cost < now
    row = min(int(np.searchsorted(np.cumsum(p), (way + 0.5) / rollout.WAYS)), len(p) - 1)
    for turn in range(rollout.LONGEST):
        bits = np.where(open_, bits_of(tests, p), 0.0)
        c = int(np.argmax(bits / (tests.cost + 0.5)))
        sure = groups.mass(tests.full(p[None, :])[0]).max() >= SURE
        if bits[c] <= rollout.TELLS_NOTHING or sure or spent + tests.cost[c] >= now:
            break
        columns = tests.columns[tests.starts[c] : tests.starts[c] + tests.sizes[c]]
        luck = ((turn + 1.0) * rollout.SQRT_2 + (way + 0.5) * rollout.GOLDEN * (turn + 1.0)) % 1.0
        chances = np.cumsum(columns[:, row])
        p = p * columns[int(np.searchsorted(chances, luck * chances[-1]))]
        p, spent = p / p.sum(), spent + float(tests.cost[c])
        open_ = open_ & ~tests.clash[c]
        done.append(c)
    return spent, p, done


@pytest.mark.parametrize("seed", range(6))
def test_ways_end_where_one_at_a_time_ends(seed: int) -> None:
    """Minutes, posteriors and first candidate agree; so do they when bits are kept already."""
    tests, groups = made(seed)
    tests.cost += np.random.default_rng(seed).uniform(0.0, 0.5, len(tests.cost))  # no two equal
    plain = [one_way(tests, groups, way, 200.0) for way in range(rollout.WAYS)]
    assert len(plain[0][2]) >= 2

    for _ in range(2):
        spent, ends, first = rollout._follow(groups, tests, SURE, 200.0)

        np.testing.assert_allclose(spent, [found[0] for found in plain], atol=1e-9)
        np.testing.assert_allclose(ends[:, tests.rows], [f[1] for f in plain], atol=1e-9)
        assert first == plain[0][2][0]


def test_bits_in_single_precision_are_mutual_information() -> None:
    """Within 1e-5 bits, far below what counts as telling nothing; again when they are kept."""
    tests, _ = made(1)
    nodes = np.random.default_rng(0).dirichlet(np.full(len(tests.p), 0.2), size=5)
    paths = [(i,) for i in range(5)]
    wanted = [bits_of(tests, p) for p in nodes]
    for _ in range(2):
        np.testing.assert_allclose(tests.bits(nodes, paths), wanted, atol=1e-5)
