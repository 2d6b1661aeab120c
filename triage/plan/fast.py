"""Expected cost of repair with less work: the same numbers as the plain form.

Equality with the plain form is tested to 1e-9 (``tests/plan/test_fast.py``).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def cost_of_mass(mass: Floats, costs: Floats, right: Floats, hand_over: float) -> Floats:
    """Expected cost of repairing in best order (p over c), handing over the rest, shape (n,).

    Same as ``RepairGroups.expected_cost`` from ``mass``, shape (n, groups), whose column of the
    unknown is zero. ``costs`` is what a group costs where it does not cure, ``right`` where it does.
    One more repair lowers the cost only where p x (hand_over + cost - right) > cost x left, and
    what is left never falls below the share that no repair holds. Groups behind the last one in p
    over c order that meets this cannot stand before the hand-over: they are dropped before sorting,
    and nothing is approximated. Source: derived here from the cost of one more repair.
    """
    costs_ = np.maximum(costs, 1e-9)
    rate = mass / costs_
    unheld = np.maximum(1.0 - mass.sum(axis=1), 0.0)
    pays = mass * ((hand_over + costs - right) / costs_) > unheld[:, None]
    last = np.where(pays, rate, np.inf).min(axis=1)
    wanted = (rate >= last[:, None]).any(axis=0)
    if not wanted.any():
        return np.full(len(mass), hand_over)
    p, rate, c, saved = mass[:, wanted], rate[:, wanted], costs[wanted], (costs - right)[wanted]
    order = np.argsort(-rate, axis=1, kind="stable")
    p = np.take_along_axis(p, order, axis=1)
    left = np.ones((len(p), p.shape[1] + 1))
    np.cumsum(p, axis=1, out=left[:, 1:])
    left[:, 1:] = np.maximum(1.0 - left[:, 1:], 0.0)
    total = left * hand_over
    total[:, 1:] += np.cumsum(c[order] * left[:, :-1] - p * saved[order], axis=1)
    return np.asarray(total.min(axis=1))
