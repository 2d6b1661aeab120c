"""Planning problems small enough to be solved exactly, with signs, rules and findings in groups.

Every joint outcome of all tests is written out, so nothing rests on the planner's own columns: a
cell's chance is the likelihood of its evidence. The optimum is over all adaptive orders of tests,
then over all subsets of repairs, each in p over c order, with a hand-over at the end.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping, Sequence
from itertools import product

import numpy as np

from tests.plan.bare import Bare, Free
from triage.infer.posterior import Evidence, Item, Model, State
from triage.plan.advise import Situation, advise, price
from triage.plan.candidates import answered
from triage.plan.costs import RepairGroups
from triage.plan.fast import cost_of_mass
from triage.plan.lookahead import Priced

Said = tuple[tuple[int, int], ...]
COMES_BEFORE = ("Before ", "The leading part may only be a victim")
"""How the reasons begin for steps that come before a repair whatever they are worth."""
ORDERS = ("gain per cost", "one step", "gain without cost")


@dataclasses.dataclass(frozen=True)
class Small:
    """Tests with their joint outcomes: ``whole[o1, ..., ok, row]`` is P(row, outcomes)."""

    model: Model
    groups: RepairGroups
    start: Evidence
    tests: tuple[Priced, ...]
    answers: tuple[tuple[Said, ...], ...]
    applicable: Mapping[int, bool | None]
    rows: np.ndarray
    whole: np.ndarray

    @property
    def costs(self) -> list[float]:
        return [test.cost for test in self.tests]

    def mass(self, joint: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Mass per repair group of the kept rows but the unknown, with wrong and right costs."""
        of_row = self.groups.of_row[self.rows]
        named = [g for g in sorted(set(of_row.tolist())) if g != self.groups.unknown]
        found = np.stack([joint[..., of_row == g].sum(axis=-1) for g in named], axis=-1)
        return found, self.groups.costs[named], self.groups.right[named]


def likelihood(start: State, said: Said) -> np.ndarray:
    """P(all these answers | row, what is known), silence counted; shape (rows,)."""
    evidence = start.evidence
    for f, a in said:
        before = start.evidence.items.get(f)
        plain = answered(start, f, a).weights
        weight = 1.0 if before is None else before.weights[a]
        evidence = evidence.plus(f, Item(tuple(weight * w for w in plain)))
    return np.exp(start.model.state(evidence).log - start.log)


def near(model: Model, findings: Sequence[int]) -> set[int]:
    """Blocks of the findings and of all that their rules look at."""
    blocks = {model.grounded.instances[f].block for f in findings}
    more = {
        b
        for block in blocks
        for c in model.touching.get(block, [])
        for b in model.components[c].blocks
    }
    return blocks | more


def clusters(model: Model, tests: Sequence[Priced]) -> list[list[int]]:
    """Tests in groups that share no sign and no rule, so that the groups are independent."""
    found: list[tuple[set[int], list[int]]] = []
    for j, test in enumerate(tests):
        blocks, members = near(model, test.findings), [j]
        apart = []
        for seen, others in found:
            if seen & blocks:
                blocks, members = blocks | seen, others + members
            else:
                apart.append((seen, others))
        found = [*apart, (blocks, members)]
    return [sorted(members) for _, members in found]


def outcomes_of(model: Model, findings: Sequence[int]) -> tuple[Said, ...]:
    """All joint answers of a test's findings."""
    sizes = [len(model.grounded.instances[f].answers) for f in findings]
    return tuple(
        tuple(zip(findings, chosen, strict=True)) for chosen in product(*map(range, sizes))
    )


def small(
    model: Model,
    groups: RepairGroups,
    start: Evidence,
    tests: Sequence[Priced],
    applicable: Mapping[int, bool | None] | None = None,
) -> Small:
    """Write out every joint outcome of ``tests`` from where the evidence stands."""
    state = model.state(start)
    rows = np.flatnonzero(state.posterior > 1e-100)
    answers = tuple(outcomes_of(model, test.findings) for test in tests)
    whole = state.posterior[rows].reshape((1,) * len(tests) + (-1,))
    for members in clusters(model, tests):
        shape = [len(answers[j]) if j in members else 1 for j in range(len(tests))]
        cells = [
            likelihood(state, tuple(pair for said in chosen for pair in said))[rows]
            for chosen in product(*(answers[j] for j in members))
        ]
        whole = whole * np.array(cells).reshape([*shape, len(rows)])
    return Small(model, groups, start, tuple(tests), answers, applicable or {}, rows, whole)


def from_bare(case: Bare) -> Small:
    """A bare problem, its tests written out."""
    return small(case.model, case.groups, Evidence(), price(case.situation({}), Free()))


def best_repairs(p: np.ndarray, c: np.ndarray, right: np.ndarray, hand_over: float) -> np.ndarray:
    """Least expected cost over all subsets of repairs, each in p over c order; (n, groups) -> (n,)."""
    order = np.argsort(-p / c, axis=1, kind="stable")
    p, c, saved = np.take_along_axis(p, order, axis=1), c[order], (c - right)[order]
    best = np.full(len(p), hand_over)
    for chosen in range(1, 2 ** p.shape[1]):
        left, spent = np.ones(len(p)), np.zeros(len(p))
        for i in range(p.shape[1]):
            if chosen >> i & 1:
                spent = spent + c[:, i] * left - p[:, i] * saved[:, i]
                left = left - p[:, i]
        best = np.minimum(best, spent + np.maximum(left, 0.0) * hand_over)
    return best


def settled(case: Small, joint: np.ndarray, *, exactly: bool) -> np.ndarray:
    """Cost of repairing now in every cell, times the cell's chance; shape of joint but its rows.

    ``exactly``: over all subsets of repairs; otherwise as the planner reckons it.
    """
    m = joint.sum(axis=-1)
    there = m > 1e-13
    mass, c, right = case.mass(joint[there] / m[there][:, None])
    pays = best_repairs if exactly else cost_of_mass
    found = np.zeros(m.shape)
    found[there] = m[there] * pays(mass, c, right, case.groups.hand_over_cost)
    return found


def subsets(case: Small) -> Iterator[tuple[tuple[int, ...], list[int], np.ndarray]]:
    """All sets of tests made, largest first: the set, the tests left, and the joint of its cells."""
    k = len(case.tests)
    for made in sorted(product((0, 1), repeat=k), key=sum, reverse=True):
        unmade = [j for j in range(k) if not made[j]]
        yield made, unmade, case.whole.sum(axis=tuple(unmade), keepdims=True)


def with_test(made: tuple[int, ...], j: int) -> tuple[int, ...]:
    return (*made[:j], 1, *made[j + 1 :])


def least(case: Small, *, exactly: bool = True) -> float:
    """Least expected cost over all adaptive orders of tests and all ways of repairing after."""
    value: dict[tuple[int, ...], np.ndarray] = {}
    for made, unmade, joint in subsets(case):
        m = joint.sum(axis=-1)
        best = settled(case, joint, exactly=exactly)
        for j in unmade:
            then = value[with_test(made, j)].sum(axis=j, keepdims=True)
            best = np.minimum(best, case.tests[j].cost * m + then)
        value[made] = best
    return float(value[(0,) * len(case.tests)].squeeze())


def entropy(x: np.ndarray) -> np.ndarray:
    return -x * np.log2(np.where(x > 0.0, x, 1.0))


def compared(case: Small, sure: float) -> dict[str, float]:
    """Expected cost of three plainer orders with the planner's repairs.

    All stop alike: where a repair is sure, or no test is worth its price by one step of look-ahead.
    """
    now: dict[tuple[int, ...], np.ndarray] = {}
    value: dict[str, dict[tuple[int, ...], np.ndarray]] = {name: {} for name in ORDERS}
    joints: dict[tuple[int, ...], np.ndarray] = {}
    for made, unmade, joint in subsets(case):
        joints[made], m = joint, joint.sum(axis=-1)
        now[made] = settled(case, joint, exactly=False)
        if not unmade:
            for name in ORDERS:
                value[name][made] = now[made]
            continue
        mass, _, _ = case.mass(joint)
        leader = np.maximum(mass.max(axis=-1), m - mass.sum(axis=-1))
        worth, bits = [], []
        for j in unmade:
            then = joints[with_test(made, j)]
            cost = case.tests[j].cost
            worth.append(now[made] - cost * m - now[with_test(made, j)].sum(axis=j, keepdims=True))
            after = (entropy(then).sum(axis=-1) - entropy(then.sum(axis=-1))).sum(
                axis=j, keepdims=True
            )
            bits.append(entropy(joint).sum(axis=-1) - entropy(m) - after)
        prices = np.array([case.tests[j].cost for j in unmade]).reshape((-1,) + (1,) * m.ndim)
        scores = {
            "gain per cost": np.array(bits) / prices,
            "one step": np.array(worth),
            "gain without cost": np.array(bits),
        }
        stops = (np.max(worth, axis=0) <= 1e-12) | (leader >= sure * m)
        for name in ORDERS:
            paid = np.array(
                [
                    case.tests[j].cost * m
                    + value[name][with_test(made, j)].sum(axis=j, keepdims=True)
                    for j in unmade
                ]
            )
            chosen = np.take_along_axis(paid, scores[name].argmax(axis=0)[None], axis=0)[0]
            value[name][made] = np.where(stops, now[made], chosen)
    return {name: float(value[name][(0,) * len(case.tests)].squeeze()) for name in ORDERS}


def planned(case: Small) -> float:
    """Expected cost of what ``advise`` says after every answer, repairing where it stops testing.

    What must come before a repair whatever it is worth (a root, a check) is not followed.
    """

    def follow(evidence: Evidence, joint: np.ndarray, open_: tuple[int, ...]) -> float:
        m = float(joint.sum())
        state = case.model.state(evidence)
        found = state.posterior[case.rows]
        cells = joint.reshape(-1, len(case.rows)).sum(axis=0)
        np.testing.assert_allclose(found, cells / m, atol=1e-7)
        situation = Situation(
            state=state,
            groups=case.groups,
            candidates=tuple(case.tests[j].candidate for j in open_),
            asked=frozenset(answered_in(evidence)),
            applicable=case.applicable,
            declined={},
        )
        advice = advise(situation, Free())
        if advice.move != "step" or advice.why.startswith(COMES_BEFORE):
            return m * float(case.groups.expected_cost(state.posterior)[0])
        j = next(i for i in open_ if case.tests[i].findings == advice.findings)
        rest = tuple(i for i in open_ if i != j)
        total = case.tests[j].cost * m
        for o, said in enumerate(case.answers[j]):
            there = np.take(joint, [o], axis=j)
            if there.sum() > 1e-13:
                then = evidence
                for f, a in said:
                    then = then.plus(f, answered(state, f, a))
                total += follow(then, there, rest)
        return total

    return follow(case.start, case.whole, tuple(range(len(case.tests))))


def answered_in(evidence: Evidence) -> set[int]:
    """Findings with a plain answer; silence leaves more than one answer open."""
    return {f for f, item in evidence.items.items() if sum(w > 0.0 for w in item.weights) == 1}
