"""Two faults at once: answers composed by the same form, the more severe answer first.

Used where one fault does not explain the findings; otherwise two faults are found by repair,
proof and going on (semantics 1.2.5).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.errors import EngineFault
from triage.infer.components import Component, build, joint
from triage.infer.ground import Grounded, RuleInstance, confuse, floor_of
from triage.infer.posterior import Evidence, State
from triage.infer.proofs import PROOF_IF_CURED, PROOF_OTHERWISE

Floats = NDArray[np.float64]
SINGLES = 20
EXACT = 16
LARGEST_OF_PAIR = 60000


@dataclass(frozen=True)
class Pair:
    """Two rows with their posterior odds against the best single row (log10)."""

    a: int
    b: int
    log: float


def severity(n: int, normal: int) -> list[int]:
    """Answer indices from the mildest to the most severe (farthest from normal; ties upward)."""
    return sorted(range(n), key=lambda i: (abs(i - normal), i))


def noisy_or(made_a: Floats, made_b: Floats, rest: Floats, order: list[int]) -> Floats:
    """P(answer) where either cause may make an answer and the more severe one is seen."""
    rank = {answer: i for i, answer in enumerate(order)}
    none_a, none_b = 1.0 - made_a.sum(), 1.0 - made_b.sum()
    found = made_a * none_b + made_b * none_a + none_a * none_b * rest
    for i, x in enumerate(made_a):
        for j, y in enumerate(made_b):
            if x > 0.0 and y > 0.0:
                found[i if rank[i] >= rank[j] else j] += x * y
    return np.asarray(found)


def pair_table(grounded: Grounded, finding: int, a: int, b: int) -> Floats:
    """Reported-answer table of a direct finding for two rows together, shape (answers,)."""
    instance = grounded.instances[finding]
    base = np.array([instance.finding.usual[x] for x in instance.answers], dtype=float)
    base = base / base.sum()
    none = (np.zeros(len(base)), base)
    made_a, rest_a = grounded.words.get((finding, a), none)
    made_b, rest_b = grounded.words.get((finding, b), none)
    rest = rest_a * rest_b / base
    rest = rest / rest.sum()
    true = noisy_or(made_a, made_b, rest, severity(len(base), instance.normal))
    return confuse(true[:, None], floor_of(instance.finding, grounded.profile))[:, 0]


def pair_sign(grounded: Grounded, sign: int, a: int, b: int) -> float:
    """P(sign present) for two rows together."""
    usual = grounded.knowledge.signs[grounded.signs[sign][0]].usual
    made_a, base_a = grounded.sign_words.get((sign, a), (0.0, usual))
    made_b, base_b = grounded.sign_words.get((sign, b), (0.0, usual))
    return 1.0 - (1.0 - made_a) * (1.0 - made_b) * (1.0 - min(base_a, base_b))


def pair_prior(grounded: Grounded, a: int, b: int) -> float:
    """Prior of two faults together.

    Their product, times the share of jobs with a second fault, raised to a stated
    chance where one is known to damage the other.
    """
    share = grounded.knowledge.weights()["second_fault"]
    prior = grounded.prior
    joined = share * float(prior[a] * prior[b])
    for first, second in ((a, b), (b, a)):
        cause = grounded.hypotheses[first]
        for ref in grounded.knowledge.causes[cause.cause].damages:
            other = grounded.hypotheses[second]
            if ref.cause == other.cause and other.place in grounded.places.walk(
                cause.place, ref.of
            ):
                joined = max(joined, float(prior[first]) * ref.chance * share)
    return joined


def pair_log(state: State, a: int, b: int) -> float:
    """Log of prior x P(evidence | both), exact, rule interactions of both included.

    A repair that was tried cures a pair only where it cures both. Both faults are taken to have
    been there at every reading, so a pair with an intermittent cause is understated.
    """
    model, grounded, evidence = state.model, state.model.grounded, state.evidence
    sign_p = np.array([pair_sign(grounded, s, a, b) for s in range(len(grounded.signs))])
    rules = tuple(rule for c in model.components if c.row in (a, b) for rule in c.rules)
    named = {lit.finding for rule in rules for lit in rule.literals}
    tables = {f: _table(grounded, f, a, b) for f in named}
    components = _together(grounded, rules, a, sign_p, tables)
    log = float(np.log(max(pair_prior(grounded, a, b), 1e-300)))
    done: set[int] = set()
    for component in components:
        if any(f in evidence.items for block in component.blocks for f in grounded.blocks[block]):
            log += float(np.log(_component(grounded, component, evidence, sign_p, tables)))
        done |= set(component.blocks)
    for block in {grounded.instances[f].block for f in evidence.items} - done:
        log += float(np.log(max(_block(grounded, block, evidence, a, b, sign_p), 1e-300)))
    for proof in evidence.proofs:
        good = PROOF_IF_CURED if {a, b} <= proof.rows else PROOF_OTHERWISE
        log += float(np.log(good if proof.passed else 1.0 - good))
    if evidence.joint is not None:
        log += evidence.joint.of_pair(a, b)
    return log


def _together(
    grounded: Grounded,
    rules: tuple[RuleInstance, ...],
    row: int,
    sign_p: Floats,
    tables: dict[int, Floats],
) -> list[Component]:
    """Components of two rows' rules; where too many are coupled, those of the first few only.

    Rules are dropped from the end until the joint table can be held: the pair is then judged by its
    words and fewer rules, never left out.
    """
    for kept in range(len(rules), 0, -1):
        try:
            return build(grounded, rules[:kept], row, sign_p, tables, largest=LARGEST_OF_PAIR)
        except EngineFault:
            continue
    return []


def _table(grounded: Grounded, finding: int, a: int, b: int) -> Floats:
    instance = grounded.instances[finding]
    return instance.table if instance.sign is not None else pair_table(grounded, finding, a, b)


def _component(
    grounded: Grounded,
    component: Component,
    evidence: Evidence,
    sign_p: Floats,
    tables: dict[int, Floats],
) -> float:
    given: dict[int, Floats] = {}
    extra: dict[int, Floats] = {}
    for block in component.blocks:
        for f in grounded.blocks[block]:
            item = evidence.items.get(f)
            weights = np.array(item.weights) if item is not None else None
            if f in component.findings:
                table = tables[f]
                if weights is not None:
                    table = table * (weights[:, None] if table.ndim == 2 else weights)
                given[f] = table
            elif weights is not None:
                extra[block] = extra.get(block, np.ones(2)) * (
                    weights @ grounded.instances[f].table
                )
    whole = joint(component, grounded, component.row, sign_p, given, extra) * component.bonus
    return max(float(whole.sum()) / component.mean, 1e-300)


def _block(
    grounded: Grounded, block: int, evidence: Evidence, a: int, b: int, sign_p: Floats
) -> float:
    if block >= len(grounded.signs):
        (f,) = grounded.blocks[block]
        return float(np.array(evidence.items[f].weights) @ pair_table(grounded, f, a, b))
    both = np.ones(2)
    for f in grounded.blocks[block]:
        item = evidence.items.get(f)
        if item is not None:
            both = both * (np.array(item.weights) @ grounded.instances[f].table)
    return float((1.0 - sign_p[block]) * both[0] + sign_p[block] * both[1])


def rank_pairs(state: State, *, singles: int = SINGLES, exact: int = EXACT) -> list[Pair]:
    """Best pairs by posterior, best first: the best singles with every other row.

    A cheap score (each block by whichever of the two explains it better) chooses ``exact`` pairs,
    which are then computed exactly.
    """
    grounded = state.model.grounded
    n = grounded.healthy
    if n < 2:
        return []
    best = [int(i) for i in np.argsort(-state.posterior[:n])[:singles]]
    logs = np.array(list(state.block_logs.values())) if state.block_logs else np.zeros((1, n + 2))
    prior = np.log(np.maximum(grounded.prior[:n], 1e-300))
    rough: list[tuple[float, int, int]] = []
    for a in best:
        score = prior + prior[a] + np.maximum(logs[:, :n], logs[:, a : a + 1]).sum(axis=0)
        score[a] = -np.inf
        for b in np.argsort(-score)[:exact]:
            low, high = min(a, int(b)), max(a, int(b))
            rough.append((float(score[b]), low, high))
    top: dict[tuple[int, int], float] = {}
    for score, a, b in rough:
        top[(a, b)] = max(score, top.get((a, b), -np.inf))
    chosen = sorted(top, key=lambda pair: (-top[pair], pair))[:exact]
    found = [Pair(a, b, pair_log(state, a, b)) for a, b in chosen]
    return sorted(found, key=lambda pair: -pair.log)
