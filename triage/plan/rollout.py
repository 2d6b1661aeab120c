"""Going on to the end: what a long series of readings would come to, where no short one pays.

Looking two readings ahead stops too early where only many readings together name the fault. Here a
simple order (most bits a minute) is followed to its end for rows drawn from the posterior, all at
once as matrix products; its first step is worth taking if the whole way costs less than settling now.
Tests that share a sign or a rule with one that was made are left out, so the way is understated.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.infer.posterior import State
from triage.plan.candidates import outcomes
from triage.plan.costs import RepairGroups
from triage.plan.lookahead import Priced, blocks_of

Floats = NDArray[np.float64]
WAYS = 48
LONGEST = 16
TELLS_NOTHING = 0.003
TINY = 1e-12
SQRT_2, GOLDEN = 2.0**0.5, (5.0**0.5 - 1.0) / 2.0
"""Steps of an even spread over 0..1, so that the same state gives the same way."""


@dataclass(frozen=True)
class Way:
    """The first step of a series of readings, and what the series saves over settling now."""

    first: Priced
    saves: float


class _Tests:
    """Columns of all candidates stacked, shape (outcomes, rows), with the candidate of each row."""

    def __init__(self, state: State, priced: Sequence[Priced]) -> None:
        found = [outcomes(state, item.findings) for item in priced]
        self.columns = np.concatenate([f.columns for f in found])
        self.sharpness = np.array([f.sharpness for f in found])
        sizes = np.array([len(f.columns) for f in found])
        self.starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
        self.sizes = sizes
        self.cost = np.array([item.cost for item in priced])
        blocks = [blocks_of(state, item.findings) for item in priced]
        self.clash = np.array([[bool(a & b) for b in blocks] for a in blocks])

    def bits(self, posteriors: Floats) -> Floats:
        """Bits that each candidate tells, shape (ways, candidates)."""
        m = posteriors @ self.columns.T
        plogp = m * np.log2(np.maximum(m, TINY))
        told = posteriors @ self.sharpness.T - np.add.reduceat(plogp, self.starts, axis=1)
        return np.asarray(told)


def best_way(
    state: State,
    groups: RepairGroups,
    priced: Sequence[Priced],
    sure: float,
    settle: Callable[[Floats], Floats] | None = None,
) -> Way | None:
    """The series of readings that most bits a minute gives, or None where it saves nothing.

    ``settle``: what it costs to settle at these posteriors, (n, rows) to (n,); by default the
    expected cost of repairing in best order.
    """
    if not priced:
        return None
    p = state.posterior
    settle = settle or groups.expected_cost
    now = float(settle(p[None, :])[0])
    useful = [item for item in priced if item.cost < now]
    if not useful:
        return None
    tests = _Tests(state, useful)
    spent, posteriors, first = _follow(p, groups, tests, sure, now)
    saves = now - spent - settle(posteriors)
    noise = float(saves.std()) / np.sqrt(len(saves))
    mean = float(saves.mean())
    return Way(useful[first], mean) if first >= 0 and mean > noise else None


def _follow(
    p: Floats, groups: RepairGroups, tests: _Tests, sure: float, now: float
) -> tuple[Floats, Floats, int]:
    """Minutes spent on each way, the posteriors at their ends, and the first candidate."""
    places = (np.arange(WAYS) + 0.5) / WAYS
    hidden = np.minimum(np.searchsorted(np.cumsum(p), places), len(p) - 1)
    turns, ways = np.arange(LONGEST)[:, None] + 1.0, np.arange(WAYS)[None, :] + 0.5
    luck = (turns * SQRT_2 + ways * GOLDEN * turns) % 1.0
    posteriors = np.repeat(p[None, :], WAYS, axis=0)
    spent = np.zeros(WAYS)
    open_ = np.ones((WAYS, len(tests.cost)), dtype=bool)
    going = np.ones(WAYS, dtype=bool)
    first = -1
    for turn in range(LONGEST):
        bits = np.where(open_, tests.bits(posteriors), 0.0)
        chosen = np.argmax(bits / (tests.cost + 0.5), axis=1)
        going &= bits[np.arange(WAYS), chosen] > TELLS_NOTHING
        going &= groups.mass(posteriors).max(axis=1) < sure
        going &= spent + tests.cost[chosen] < now
        if not going.any():
            break
        if turn == 0:
            first = int(chosen[0])
        for way in np.flatnonzero(going):
            c = int(chosen[way])
            rows = slice(int(tests.starts[c]), int(tests.starts[c] + tests.sizes[c]))
            chances = np.cumsum(tests.columns[rows, hidden[way]])
            o = min(int(np.searchsorted(chances, luck[turn, way] * chances[-1])), len(chances) - 1)
            after = posteriors[way] * tests.columns[rows][o]
            posteriors[way] = after / max(float(after.sum()), TINY)
            spent[way] += tests.cost[c]
            open_[way] &= ~tests.clash[c]
    return spent, posteriors, first
