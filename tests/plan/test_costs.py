"""Expected cost of repairing in best order, against every order tried out."""

from __future__ import annotations

import random
from itertools import permutations

import numpy as np
import pytest

from tests.plan.bare import bare


def every_order(p: list[float], c: list[float], hand_over: float) -> float:
    """Cheapest over all orders and all points of giving up."""
    best = hand_over
    for n in range(1, len(p) + 1):
        for order in permutations(range(len(p)), n):
            left, spent = 1.0, 0.0
            for i in order:
                spent += left * c[i]
                left -= p[i]
            best = min(best, spent + left * hand_over)
    return best


@pytest.mark.parametrize("seed", range(12))
def test_expected_cost_equals_the_best_of_all_orders_with_hand_over(seed: int) -> None:
    """p over c with one cut-off is the best of all orders of all subsets, up to six repairs."""
    rng = random.Random(seed)
    n = rng.randint(1, 6)
    p = [rng.random() ** 2 + 0.01 for _ in range(n)]
    p = [x / sum(p) for x in p]
    c = [rng.uniform(1, 120) for _ in range(n)]
    hand_over = rng.choice([20.0, 80.0, 240.0])
    case = bare(p, [], [], c, hand_over=hand_over)
    found = float(case.groups.expected_cost(case.prior)[0])
    assert found == pytest.approx(every_order(p, c, hand_over), rel=1e-12)


def test_the_unknown_share_is_paid_by_handing_over() -> None:
    """Mass on the unknown row always costs the hand-over, whatever is repaired before."""
    case = bare([0.6, 0.4], [], [], [10.0, 30.0], hand_over=200.0)
    posterior = np.array([0.5, 0.2, 0.0, 0.3])
    by_hand = min(200.0, 10 + 0.5 * 200, 10 + 0.5 * 30 + 0.3 * 200, 30 + 0.8 * 200)
    assert float(case.groups.expected_cost(posterior)[0]) == pytest.approx(by_hand)


def test_the_order_of_three_parts_is_that_of_the_published_rule() -> None:
    """Smallest C/p first: p .5 .3 .2, C 5 1 2 gives order 2, then 1 and 3 tied.

    Source: J. Kalagnanam and M. Henrion, UAI-4 (1988), arXiv 1304.2362 (smallest C_i/p_i first);
    the ordering is Kadane and Simon's. Numbers from memory (Heckerman, Breese and Rommelse 1995).
    """
    case = bare([0.5, 0.3, 0.2], [], [], [5.0, 1.0, 2.0], hand_over=1e6)
    best = 1 + 0.7 * 5 + 0.2 * 2
    assert float(case.groups.expected_cost(case.prior)[0]) == pytest.approx(best)
    assert best == pytest.approx(1 + 0.7 * 2 + 0.5 * 5)
    worst = max(
        sum(
            c * left
            for c, left in zip(
                [[5.0, 1.0, 2.0][i] for i in order],
                np.cumsum([1.0, *[-[0.5, 0.3, 0.2][i] for i in order]])[:3],
                strict=True,
            )
        )
        for order in permutations(range(3))
    )
    assert worst > best


def test_causes_with_one_repair_at_one_place_share_their_probability() -> None:
    """Repairs, not causes, are ordered: the mass of rows with the same repair is summed."""
    from tests.toy import toy
    from triage.plan.costs import RepairGroups

    grounded = toy()
    groups = RepairGroups(grounded)
    mass = groups.mass(grounded.prior)
    assert mass.sum() == pytest.approx(1.0)
    at = groups.keys.index(("new_tube", "V3"))
    rows = [
        i
        for i, h in enumerate(grounded.hypotheses)
        if h.place == "V3" and h.cause in ("tube_gassy", "tube_shorted", "tube_weak")
    ]
    assert mass[at] == pytest.approx(float(grounded.prior[rows].sum()))
