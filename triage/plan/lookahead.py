"""Which reading is worth its price: one step for all, two steps for the best few.

Value of a candidate j: ECR(p) - sum over outcomes o of m_o ECR(p_o) - cost(j), ECR being the
expected cost of repairing in best order. Entropy only makes the short list.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.infer.posterior import State
from triage.plan.candidates import Candidate, Outcomes, answered, outcomes
from triage.plan.costs import RepairGroups

Floats = NDArray[np.float64]
SHORT = 8
LONG = 24
LIKELIEST = 6
TINY = 1e-12


@dataclass(frozen=True)
class Priced:
    """A candidate with what is still open in it and its whole cost (gates and power included)."""

    candidate: Candidate
    findings: tuple[int, ...]
    cost: float


@dataclass(frozen=True)
class Valued:
    """A priced candidate with its looked-ahead value (minutes saved; may be negative)."""

    priced: Priced
    outcomes: Outcomes
    one_step: float
    value: float
    bits: float


def information(posterior: Floats, found: Outcomes) -> float:
    """Mutual information in bits between the rows and the outcomes."""
    m = found.columns @ posterior
    return float(found.sharpness @ posterior - (m * np.log2(np.maximum(m, TINY))).sum())


def updated(posterior: Floats, columns: Floats) -> tuple[Floats, Floats]:
    """Outcome chances (outcomes,) and posteriors (outcomes, rows)."""
    joint = columns * posterior
    m = joint.sum(axis=1)
    return m, joint / np.maximum(m, TINY)[:, None]


Told = tuple[float, Outcomes]
"""Bits that a candidate tells now, and its outcomes."""


def tell(state: State, priced: Sequence[Priced]) -> list[Told]:
    """What every candidate tells now, in their order."""
    found = [outcomes(state, item.findings) for item in priced]
    return [(information(state.posterior, there), there) for there in found]


def value_candidates(
    state: State,
    groups: RepairGroups,
    priced: Sequence[Priced],
    told: Sequence[Told] | None = None,
    *,
    short: int = SHORT,
    long: int = LONG,
    two_step: bool = True,
) -> list[Valued]:
    """Candidates with their values, best first. ``two_step`` looks one reading further.

    ``told`` is what ``tell`` says of them, if that is known already.
    """
    if not priced:
        return []
    p = state.posterior
    now = float(groups.expected_cost(p)[0])
    told = tell(state, priced) if told is None else told
    scored = [(bits, i, found) for i, (bits, found) in enumerate(told)]
    chosen = _short_list(scored, priced, long)
    first: list[tuple[float, float, Priced, Outcomes, Floats, Floats]] = []
    for bits, i, found in chosen:
        m, after = updated(p, found.columns)
        gain = now - float(m @ groups.expected_cost(after))
        first.append((gain - priced[i].cost, bits, priced[i], found, m, after))
    first.sort(key=lambda row: (-row[0], row[2].candidate.key))
    valued: list[Valued] = []
    deep = _deep(first, short)
    for n, (one, bits, item, found, m, after) in enumerate(first):
        value = one
        if two_step and n in deep:
            value += float(m @ _second(state, groups, item, found, m, after, first))
        valued.append(Valued(item, found, one, value, bits))
    return sorted(valued, key=lambda v: (-v.value, -v.bits, v.priced.candidate.key))


def _short_list(
    scored: list[tuple[float, int, Outcomes]], priced: Sequence[Priced], long: int
) -> list[tuple[float, int, Outcomes]]:
    by_rate = sorted(scored, key=lambda row: (-row[0] / (priced[row[1]].cost + 1.0), row[1]))
    by_bits = sorted(scored, key=lambda row: (-row[0], priced[row[1]].cost, row[1]))
    keep = {row[1]: row for row in [*by_rate[: (2 * long) // 3], *by_bits[: long // 3]]}
    return list(keep.values())


def _deep(
    first: list[tuple[float, float, Priced, Outcomes, Floats, Floats]], short: int
) -> set[int]:
    by_bits = sorted(range(len(first)), key=lambda i: -first[i][1] / (first[i][2].cost + 1.0))
    return set(range(min(short, len(first)))) | set(by_bits[: short // 2])


def _second(
    state: State,
    groups: RepairGroups,
    item: Priced,
    found: Outcomes,
    m: Floats,
    after: Floats,
    first: list[tuple[float, float, Priced, Outcomes, Floats, Floats]],
) -> Floats:
    """Best further saving after each outcome, shape (outcomes,)."""
    others = [row for row in first if row[2] is not item][:SHORT]
    heavy = set(np.argsort(-m)[:LIKELIEST].tolist())
    base = groups.expected_cost(after)
    best = np.zeros(len(after))
    if not others:
        return best
    blocks = blocks_of(state, item.findings)
    stacked: list[Floats] = []
    spans: list[tuple[int, int, float]] = []
    at = 0
    rows: list[Floats] = []
    for _, _, other, there, _, _ in others:
        coupled = bool(blocks & blocks_of(state, other.findings))
        for o in range(len(after)):
            if o not in heavy or m[o] < 0.005:
                continue
            columns = there.columns
            if coupled and found.answers[o]:
                columns = _conditional(state, found.answers[o], other)
            chance, posteriors = updated(after[o], columns)
            rows.append(posteriors)
            stacked.append(chance)
            spans.append((o, at, other.cost))
            at += len(chance)
    if not rows:
        return best
    costs = groups.expected_cost(np.concatenate(rows))
    for (o, start, price), chance in zip(spans, stacked, strict=True):
        saving = float(base[o] - chance @ costs[start : start + len(chance)]) - price
        best[o] = max(best[o], saving)
    return best


def _conditional(state: State, said: tuple[tuple[int, int], ...], other: Priced) -> Floats:
    evidence = state.evidence
    for f, a in said:
        evidence = evidence.plus(f, answered(state, f, a))
    left = tuple(f for f in other.findings if f not in {g for g, _ in said})
    if not left:
        return np.ones((1, len(state.model.grounded.prior)))
    return outcomes(state.model.state(evidence), left).columns


def blocks_of(state: State, findings: Sequence[int]) -> set[int]:
    """Blocks (signs, findings apart) that these findings lie on or are joined to (see State.near)."""
    return {block for f in findings for block in state.near(f)}
