"""Expected cost with less work says what the plain form says."""

from __future__ import annotations

import numpy as np
import pytest

from triage.plan.fast import cost_of_mass


def plainly(
    mass: np.ndarray, costs: np.ndarray, right: np.ndarray, hand_over: float
) -> list[float]:
    """One posterior at a time: repair in p over c order, hand over after the best number of them."""
    found = []
    for p in mass:
        order = sorted(range(len(p)), key=lambda i: -p[i] / costs[i])
        spent, left = 0.0, 1.0
        best = hand_over
        for i in order:
            spent += costs[i] * (left - p[i]) + right[i] * p[i]
            left -= p[i]
            best = min(best, spent + left * hand_over)
        found.append(best)
    return found


@pytest.mark.parametrize("seed", range(24))
def test_dropping_repairs_that_cannot_pay_changes_no_expected_cost(seed: int) -> None:
    """Pruned and plain expected cost agree to 1e-9 on random posteriors, costs and hand-overs."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(1, 60))
    hand_over = float(rng.choice([10.0, 60.0, 240.0]))
    costs = rng.uniform(1, 200, n)
    right = costs * rng.uniform(0.2, 1.0, n)
    mass = rng.dirichlet(np.full(n, rng.choice([0.05, 0.3, 2.0])), size=40)
    mass *= rng.choice([1.0, 0.98, 0.7], size=40)[:, None]
    fast = cost_of_mass(mass, costs, right, hand_over)
    np.testing.assert_allclose(fast, plainly(mass, costs, right, hand_over), atol=1e-9)


def test_where_no_repair_pays_all_is_handed_over() -> None:
    """With every repair dearer than what it could save, the cost is the hand-over's."""
    mass, costs = np.array([[0.1, 0.1], [0.2, 0.0]]), np.array([500.0, 900.0])
    assert cost_of_mass(mass, costs, costs, 100.0).tolist() == [100.0, 100.0]
