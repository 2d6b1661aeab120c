"""The planner against the exact optimum, on random problems and on cuts of the real knowledge."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import pytest

from tests.plan.bare import bare
from tests.plan.draws import drawn_bare, drawn_worded
from tests.plan.policy import optimum
from tests.plan.policy import planned as planned_plainly
from tests.plan.real_cuts import AMPLIFIERS, cut
from tests.plan.small import (
    ORDERS,
    Small,
    best_repairs,
    clusters,
    compared,
    from_bare,
    least,
    planned,
    settled,
)

MEAN, TAIL = 1.02, 1.06


def ratios(cases: Iterable[Small], name: str) -> np.ndarray:
    """Cost of the planner over the optimum, per case; prints it beside the plainer orders."""
    found, plainer = [], []
    for case in cases:
        best = least(case)
        sure = case.model.grounded.knowledge.weights()["sure_enough"]
        found.append(planned(case) / best)
        costs = compared(case, sure)
        plainer.append([costs[order] / best for order in ORDERS])
    all_ = np.column_stack([found, plainer])
    for label, column in zip(["planner", *ORDERS], all_.T, strict=True):
        print(
            f"{name}, {len(column)}: {label}: mean {column.mean():.4f}, "
            f"95th percentile {np.percentile(column, 95):.4f}, most {column.max():.3f}"
        )
    return np.array(found)


def paying(make: Callable[[int], Small], seed: int) -> Small:
    """The first problem drawn from this seed in which some test pays: the others prove nothing."""
    for attempt in range(100):
        case = make(100 * seed + attempt)
        at_once = settled(case, case.whole.sum(axis=tuple(range(len(case.tests)))), exactly=True)
        if least(case) < 0.98 * float(at_once):
            return case
    raise AssertionError("no problem in which a test pays")


def random_problem(seed: int) -> Small:
    """Two in three with bare tables, one in three with words, signs and rules."""
    return paying(drawn_worded if seed % 3 == 2 else drawn_bare, seed)


def real_problem(seed: int) -> Small:
    """A cut of the amplifier whose turn it is."""
    return paying(lambda n: cut(n, seed % len(AMPLIFIERS)), seed)


def near_the_optimum(found: np.ndarray) -> None:
    assert found.min() >= 1.0 - 1e-9
    assert found.mean() <= MEAN
    assert np.percentile(found, 95) <= TAIL


def many(make: Callable[[int], Small], seeds: Iterable[int]) -> Iterable[Small]:
    return (make(seed) for seed in seeds)


def test_the_planner_is_near_the_optimum_on_forty_random_problems() -> None:
    """Mean within 1.02 of exact dynamic programming, 95th percentile within 1.06."""
    near_the_optimum(ratios(many(random_problem, range(1000, 1040)), "random"))


@pytest.mark.slow
def test_the_planner_is_near_the_optimum_on_three_hundred_random_problems() -> None:
    """Mean within 1.02 of exact dynamic programming, 95th percentile within 1.06."""
    near_the_optimum(ratios(many(random_problem, range(300)), "random"))


def test_the_planner_is_near_the_optimum_on_cuts_of_the_real_knowledge() -> None:
    """Five problems, one an amplifier: mean within 1.02, none above 1.06."""
    near_the_optimum(ratios(many(real_problem, range(100, 105)), "real"))


@pytest.mark.slow
def test_the_planner_is_near_the_optimum_on_fifty_cuts_of_the_real_knowledge() -> None:
    """Real complaints, causes, columns and prices: mean within 1.02, 95th percentile in 1.06."""
    near_the_optimum(ratios(many(real_problem, range(50)), "real"))


@pytest.mark.parametrize("seed", range(6))
def test_both_exact_programmes_agree(seed: int) -> None:
    """Tensors over all sets of tests, and a recursion over what is known, give one optimum."""
    rng = np.random.default_rng(seed)
    n, tests = int(rng.integers(2, 6)), int(rng.integers(2, 5))
    tables = [
        rng.dirichlet(np.full(int(rng.integers(2, 4)), 0.4), size=n).T.copy() for _ in range(tests)
    ]
    case = bare(rng.dirichlet(np.ones(n)), tables, rng.uniform(1, 9, tests), rng.uniform(5, 80, n))
    whole = from_bare(case)
    assert least(whole, exactly=False) == pytest.approx(optimum(case), rel=1e-9)
    assert least(whole) <= optimum(case) + 1e-9
    assert planned(whole) == pytest.approx(planned_plainly(case), rel=1e-9)


@pytest.mark.parametrize("make", [drawn_bare, drawn_worded, cut])
def test_cells_of_a_small_problem_are_a_distribution(make: Callable[[int], Small]) -> None:
    """The chances of all joint outcomes sum to one, and to the posterior over the rows."""
    case = make(7)
    assert case.whole.sum() == pytest.approx(1.0, abs=1e-9)
    rows = case.whole.sum(axis=tuple(range(len(case.tests))))
    posterior = case.model.state(case.start).posterior[case.rows]
    np.testing.assert_allclose(rows, posterior, atol=1e-9)


def test_some_problems_hold_tests_that_share_a_sign_or_a_rule() -> None:
    """The worded problems and the cuts do exercise conditional columns."""
    worded = [drawn_worded(seed) for seed in range(10)]
    assert sum(len(clusters(c.model, c.tests)) < len(c.tests) for c in worded) >= 5


def test_repairs_after_testing_are_the_best_of_all_subsets() -> None:
    """A dear repair that is not worth its price is skipped."""
    p, c = np.array([[0.5, 0.3, 0.2]]), np.array([100.0, 300.0, 10.0])
    by_hand = min(150, 10 + 0.8 * 150, 100 + 0.5 * 150, 10 + 0.8 * 100 + 0.3 * 150)
    assert best_repairs(p, c, c, 150.0)[0] == pytest.approx(by_hand)
