"""Planning and diagnosis against published results; the source stands beside each."""

from __future__ import annotations

import math
from itertools import combinations, permutations
from typing import Any

import numpy as np
import pytest

from tests.plan.bare import Bare, Free, bare
from tests.plan.policy import next_test, optimum
from tests.toy import SOURCE, WEIGHTS
from triage.infer.gather import Observation, gather
from triage.infer.ground import ground
from triage.infer.pairs import rank_pairs
from triage.infer.posterior import Model, State
from triage.knowledge.load import Knowledge
from triage.model.entries import Cause, Finding, Kind, Repair
from triage.model.profile import Profile
from triage.plan.advise import price
from triage.plan.lookahead import value_candidates

ORDER = (
    "Smallest C/p first: J. Kalagnanam and M. Henrion, UAI-4 (1988), arXiv 1304.2362 (seen); the"
    " order is J. Kadane and H. Simon's, as quoted by Ottosen and Jensen, arXiv 1203.3502"
)
HECKERMAN = (
    "ECR = sum C_i (1 - sum of p before): D. Heckerman, J. Breese, K. Rommelse, CACM 38(3) (1995)"
    " 49-57; formula and numbers from memory"
)
POLYBOX = (
    "J. de Kleer, B. C. Williams, AI 32 (1987) 97-130: circuit and values seen in a course copy;"
    " conflicts, diagnoses and best probe from memory, reckoned again here"
)
HALVES = "Half-split rule of the US Navy training series (NEETS Module 19), from memory"
JOHNSON = (
    "Most information per cost: R. A. Johnson, IRE Trans. RQC-9 (1960) 35, from memory; exclusive"
    " or as the case it fails is arithmetic"
)


def spent(p: list[float], c: list[float], order: tuple[int, ...]) -> float:
    """Expected cost of repairing in this order until the fault is gone."""
    left, total = 1.0, 0.0
    for i in order:
        total += c[i] * left
        left -= p[i]
    return total


@pytest.mark.published("seen", ORDER)
@pytest.mark.parametrize("seed", range(12))
def test_the_best_permutation_is_that_of_probability_over_cost(seed: int) -> None:
    """No order of two to six repairs costs less than falling p/c, and the planner reckons that."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 7))
    p, c = rng.dirichlet(np.ones(n)).tolist(), rng.uniform(1, 60, n).tolist()
    best = min(permutations(range(n)), key=lambda order: spent(p, c, order))
    rates = [p[i] / c[i] for i in best]
    assert rates == sorted(rates, reverse=True)
    case = bare(p, [], [], c, hand_over=1e7)
    assert case.groups.expected_cost(case.prior)[0] == pytest.approx(spent(p, c, best), rel=1e-9)


@pytest.mark.published("seen", ORDER)
@pytest.mark.parametrize("seed", range(6))
def test_the_order_stays_the_same_where_a_wrong_repair_costs_more(seed: int) -> None:
    """With repairs dearer by a factor where they do not cure, falling p/c is still the best order."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 6))
    p, c = rng.dirichlet(np.ones(n)).tolist(), rng.uniform(1, 60, n).tolist()
    case = bare(p, [], [], c, hand_over=1e7, wrong=3.0)
    cured = sum(p[i] * c[i] for i in range(n))
    all_ = [3.0 * (spent(p, c, order) - cured) + cured for order in permutations(range(n))]
    assert case.groups.expected_cost(case.prior)[0] == pytest.approx(min(all_), rel=1e-9)


@pytest.mark.published("memory", HECKERMAN)
def test_three_parts_cost_what_the_formula_says() -> None:
    """p .5 .3 .2 and C 5 1 2: part 2 first, then 1 and 3 tied; 4.9 in all."""
    p, c = [0.5, 0.3, 0.2], [5.0, 1.0, 2.0]
    case = bare(p, [], [], c, hand_over=1e6)
    assert spent(p, c, (1, 0, 2)) == pytest.approx(spent(p, c, (1, 2, 0)))
    assert case.groups.expected_cost(case.prior)[0] == pytest.approx(1 + 0.7 * 5 + 0.2 * 2)


@pytest.mark.published("memory", HALVES)
@pytest.mark.parametrize("stages", [5, 7, 11])
def test_a_chain_that_is_no_power_of_two_is_halved(stages: int) -> None:
    """Every stage is found with at most ceil(log2 n) tests, and with the fewest on average."""
    points = [[int(stage <= point) for stage in range(stages)] for point in range(stages - 1)]
    tables = [np.array([1.0 - np.array(row), row]) for row in points]
    case = bare(
        [1 / stages] * stages,
        tables,
        [1.0] * len(tables),
        [1000.0] * stages,
        hand_over=50000.0,
        sure=1.0,
    )
    made = []
    for stage in range(stages):
        known: dict[int, int] = {}
        while (test := next_test(case, known)) is not None:
            known[test] = points[test][stage]
        made.append(len(known))
    down = math.floor(math.log2(stages))
    assert max(made) == math.ceil(math.log2(stages))
    assert sum(made) == stages * down + 2 * (stages - 2**down)


@pytest.mark.published("memory", JOHNSON)
def test_two_tests_that_tell_nothing_apart_are_chosen_for_what_they_tell_together() -> None:
    """Exclusive or: no information in either, all of it in both; the planner takes them."""
    case = exclusive_or()
    situation = case.situation({})
    valued = value_candidates(situation.state, case.groups, price(situation, Free()))
    assert max(v.one_step for v in valued) < 0.0 < max(v.value for v in valued)
    assert next_test(case, {}) in (0, 1)
    assert optimum(case) == pytest.approx(52.0)


def exclusive_or() -> Bare:
    """Causes 0 and 3 share one repair, 1 and 2 the other."""
    tables = [
        np.array([[1.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 1.0]]),
        np.array([[1.0, 0.0, 1.0, 0.0], [0.0, 1.0, 0.0, 1.0]]),
    ]
    return bare([0.25] * 4, tables, [1.0] * 2, [50.0] * 4, hand_over=200.0, repair_of=[0, 1, 1, 0])


PARTS = ("M1", "M2", "M3", "A1", "A2")
INPUTS = {"A": 3, "B": 2, "C": 2, "D": 3, "E": 3}
SEEN = {"F": 10, "G": 12}


def consistent(sound: set[str]) -> bool:
    """Whether the values seen can hold with these parts working and the others doing anything.

    M1 = A x C, M2 = B x D, M3 = C x E; A1: F = X + Y; A2: G = Y + Z. Linear in X, Y, Z: it can hold
    where the equations of the sound parts have a solution.
    """
    value = INPUTS
    equations = {
        "M1": ([1, 0, 0], value["A"] * value["C"]),
        "M2": ([0, 1, 0], value["B"] * value["D"]),
        "M3": ([0, 0, 1], value["C"] * value["E"]),
        "A1": ([1, 1, 0], SEEN["F"]),
        "A2": ([0, 1, 1], SEEN["G"]),
    }
    held = [equations[part] for part in PARTS if part in sound]
    left = np.array([row for row, _ in held]).reshape(-1, 3)
    both = np.column_stack([left, [right for _, right in held]])
    return bool(np.linalg.matrix_rank(left) == np.linalg.matrix_rank(both))


def smallest(sets: list[frozenset[str]]) -> set[frozenset[str]]:
    """Those that hold no other of them."""
    return {one for one in sets if not any(other < one for other in sets)}


def all_sets() -> list[frozenset[str]]:
    return [frozenset(c) for n in range(len(PARTS) + 1) for c in combinations(PARTS, n)]


def conflicts() -> set[frozenset[str]]:
    """Smallest sets of parts that cannot all be sound."""
    return smallest([parts for parts in all_sets() if not consistent(set(parts))])


def diagnoses() -> set[frozenset[str]]:
    """Smallest sets of parts whose failing explains what is seen."""
    return smallest([parts for parts in all_sets() if consistent(set(PARTS) - parts)])


FOUR = {frozenset(d) for d in (("A1",), ("M1",), ("A2", "M2"), ("M2", "M3"))}


@pytest.mark.published("memory", POLYBOX)
def test_the_four_smallest_diagnoses_hit_the_two_smallest_conflicts() -> None:
    """Values 10 and 12 where 12 and 12 are due: A1, M1, A2 with M2, M2 with M3, and no others."""
    assert conflicts() == {frozenset(("A1", "M1", "M2")), frozenset(("A1", "A2", "M1", "M3"))}
    assert diagnoses() == FOUR
    hitting = [parts for parts in all_sets() if all(parts & c for c in conflicts())]
    assert smallest(hitting) == FOUR


def polybox() -> tuple[State, float]:
    """Our own model of it: each smallest conflict is a finding that any of its parts makes.

    Slips of reading are in it as everywhere; a finding that no faulty part makes is nearly never
    seen. Returns the state with both conflicts seen.
    """
    found = sorted(conflicts(), key=sorted)
    entries: dict[str, tuple[Any, list[dict[str, Any]]]] = {
        "findings": (
            Finding,
            [
                {
                    "id": f"conflict{i}",
                    "at": ["amp"],
                    "asks": "?",
                    "answers": ["no", "yes"],
                    "normal": "no",
                    "usual": {"no": 0.999, "yes": 0.001},
                    "path": "reading",
                }
                for i in range(len(found))
            ],
        ),
        "causes": (
            Cause,
            [
                {
                    "id": part,
                    "at": ["amp"],
                    "says": "x",
                    "rate": 1.0,
                    "repair": "mend",
                    "makes": [
                        {"finding": f"conflict{i}", "answer": "yes", "word": "always"}
                        for i, conflict in enumerate(found)
                        if part in conflict
                    ],
                }
                for part in PARTS
            ],
        ),
        "repairs": (
            Repair,
            [{"id": "mend", "says": "x", "steps": ["x"], "minutes": 5, "money": 0, "proof": ["x"]}],
        ),
    }
    made = {
        sort: {row["id"]: schema.model_validate({"source": SOURCE, **row}) for row in rows}
        for sort, (schema, rows) in entries.items()
    }
    weights = WEIGHTS | {"second_fault": 1.0}
    kb = Knowledge(
        kinds={"amp": Kind(id="amp", source=SOURCE, label="amp")},
        **made,
        signs={},
        procedures={},
        rules={},
        layouts={},
        profiles={},
        gates={},
        hazards={},
        plain={"weights": [{"id": k, "is": v} for k, v in weights.items()]},
        content_hash="polybox",
    )
    profile = Profile(amplifier="polybox", channels="mono", complete=True)
    grounded = ground(kb, profile, healthy=0.94, unknown=0.01)
    seen = [Observation(f"conflict{i}", "amp", "yes") for i in range(len(found))]
    state = Model(grounded).state(gather(grounded, seen, complaint_told=False).evidence)
    return state, float(grounded.prior[0])


@pytest.mark.published("memory", POLYBOX)
def test_our_ranking_names_both_singles_and_both_doubles() -> None:
    """Singles A1 and M1 lead alike; of the pairs that hold neither, A2 + M2 and M2 + M3 lead."""
    state, prior = polybox()
    assert prior == pytest.approx(0.01)
    names = [h.cause for h in state.model.grounded.hypotheses]
    p = dict(zip(names, state.posterior.tolist(), strict=True))
    assert p["A1"] == pytest.approx(p["M1"])
    assert p["A1"] > 20 * max(p["M2"], p["M3"], p["A2"])
    pairs = [(frozenset((names[x.a], names[x.b])), x.log) for x in rank_pairs(state)]
    apart = [(parts, log) for parts, log in pairs if not parts & {"A1", "M1"}]
    assert {parts for parts, _ in apart[:2]} == {d for d in FOUR if len(d) == 2}
    (_, first), (_, second), (_, third) = apart[:3]
    assert first == pytest.approx(second)
    assert first - third > math.log(20)


@pytest.mark.published("memory", POLYBOX)
def test_a_double_stands_to_a_single_as_its_prior() -> None:
    """At priors of 0.01 a single has 0.478 of the four's weight and more, a double 0.0048 and less.

    The figures are reckoned from the priors alone: p against p x p / (1 - p).
    """
    state, _ = polybox()
    names = [h.cause for h in state.model.grounded.hypotheses]
    logs = {frozenset((names[x.a], names[x.b])): x.log for x in rank_pairs(state)}
    logs |= {frozenset((name,)): float(state.log[i]) for i, name in enumerate(names)}
    four = np.array([math.exp(logs[d]) for d in sorted(FOUR, key=lambda d: (len(d), sorted(d)))])
    shares = four / four.sum()
    by_hand = np.array([0.01, 0.01, 0.0001, 0.0001])
    np.testing.assert_allclose(shares, by_hand / by_hand.sum(), rtol=0.05)


@pytest.mark.published("memory", POLYBOX)
def test_the_best_probe_splits_the_two_singles() -> None:
    """Least entropy is expected after probing X, where A1 leaves 6 and M1 leaves 4."""
    weights = {d: 0.01 ** len(d) for d in FOUR}
    expected = {probe: after(probe, weights) for probe in ("X", "Y", "Z")}
    assert min(expected, key=lambda probe: expected[probe]) == "X"
    assert expected["X"] < 0.1 < 0.9 < min(expected["Y"], expected["Z"])


def after(probe: str, weights: dict[frozenset[str], float]) -> float:
    """Expected entropy in bits of the four diagnoses once the probe has been read."""
    part = {"X": "M1", "Y": "M2", "Z": "M3"}[probe]
    value = {
        "M1": {True: INPUTS["A"] * INPUTS["C"], False: SEEN["F"] - INPUTS["B"] * INPUTS["D"]},
        "M2": {True: INPUTS["B"] * INPUTS["D"], False: SEEN["F"] - INPUTS["A"] * INPUTS["C"]},
        "M3": {True: INPUTS["C"] * INPUTS["E"], False: SEEN["G"] - 4},
    }[part]
    found: dict[int, list[float]] = {}
    for diagnosis, weight in weights.items():
        found.setdefault(value[part not in diagnosis], []).append(weight)
    total = sum(weights.values())
    return sum(
        -sum(w / total * math.log2(w / sum(group)) for w in group) for group in found.values()
    )
