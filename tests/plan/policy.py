"""The planner followed to the end, and exact dynamic programming, on the same problem.

Both pay for tests, then for repairing in best order (with hand-over): the costs differ only in
which test is made, and when testing stops.
"""

from __future__ import annotations

import numpy as np

from tests.plan.bare import Bare, Free
from triage.plan.advise import advise

Known = frozenset[tuple[int, int]]


def posterior(case: Bare, known: Known) -> np.ndarray:
    p = case.prior.copy()
    for test, answer in known:
        p = p * case.tables[test][answer]
    return p / p.sum()


def settle(case: Bare, p: np.ndarray) -> float:
    return float(case.groups.expected_cost(p)[0])


def branches(case: Bare, p: np.ndarray, test: int) -> list[tuple[int, float]]:
    chances = case.tables[test] @ p
    return [(a, float(m)) for a, m in enumerate(chances) if m > 1e-12]


def optimum(case: Bare) -> float:
    """Least expected cost over all adaptive orders of tests."""
    kept: dict[Known, float] = {}

    def best(known: Known) -> float:
        if known not in kept:
            p = posterior(case, known)
            found = settle(case, p)
            made = {test for test, _ in known}
            for test in range(len(case.tables)):
                if test not in made and case.costs[test] < found:
                    found = min(
                        found,
                        case.costs[test]
                        + sum(m * best(known | {(test, a)}) for a, m in branches(case, p, test)),
                    )
            kept[known] = found
        return kept[known]

    return best(frozenset())


def planned(case: Bare, choose=None) -> float:
    """Expected cost of doing what the planner says after every answer."""
    choose = choose or next_test

    def follow(known: Known) -> float:
        p = posterior(case, known)
        test = choose(case, dict(known))
        if test is None:
            return settle(case, p)
        return case.costs[test] + sum(
            m * follow(known | {(test, a)}) for a, m in branches(case, p, test)
        )

    return follow(frozenset())


def next_test(case: Bare, known: dict[int, int]) -> int | None:
    """The test that ``advise`` chooses, or None where it settles."""
    advice = advise(case.situation(known), Free())
    return advice.findings[0] if advice.move == "step" else None
