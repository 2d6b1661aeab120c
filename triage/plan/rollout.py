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
from triage.plan.costs import RepairGroups
from triage.plan.lookahead import Priced, Told, blocks_of

Floats = NDArray[np.float64]
WAYS = 48
LONGEST = 16
TELLS_NOTHING = 0.003
TINY = 1e-12
MOST = 48
"""Candidates that are looked at: those that tell most bits a minute now."""
HELD = 0.995
"""Share of the posterior that the rows looked at hold together; the rest is left out."""
SQRT_2, GOLDEN = 2.0**0.5, (5.0**0.5 - 1.0) / 2.0
"""Steps of an even spread over 0..1, so that the same state gives the same way."""


@dataclass(frozen=True)
class Way:
    """The first step of a series of readings, and what the series saves over settling now."""

    first: Priced
    saves: float


class Tests:
    """Columns of all candidates stacked, shape (outcomes, rows), with the candidate of each row.

    Only the ``rows`` that together hold nearly all of the posterior are looked at.
    """

    def __init__(self, state: State, priced: Sequence[Priced], told: Sequence[Told]) -> None:
        p = state.posterior
        heavy = np.argsort(-p, kind="stable")
        enough = int(np.searchsorted(np.cumsum(p[heavy]), HELD)) + 1
        self.rows = np.sort(heavy[:enough])
        self.p = p[self.rows] / p[self.rows].sum()
        self.posterior = p
        best = list(range(len(priced)))
        if len(priced) > MOST:
            rate = [-bits / (i.cost + 0.5) for (bits, _), i in zip(told, priced, strict=True)]
            best = sorted(np.argsort(rate, kind="stable")[:MOST].tolist())
        priced, found = [priced[i] for i in best], [told[i][1] for i in best]
        self.priced = priced
        self.columns = np.concatenate([f.columns[:, self.rows] for f in found])
        self.sharpness = np.array([f.sharpness[self.rows] for f in found])
        self.sizes = np.array([len(f.columns) for f in found])
        self.starts = np.concatenate([[0], np.cumsum(self.sizes)[:-1]])
        self.cost = np.array([item.cost for item in priced])
        on = np.zeros((len(priced), len(state.model.grounded.blocks)), dtype=np.float32)
        for i, item in enumerate(priced):
            on[i, list(blocks_of(state, item.findings))] = 1.0
        self.clash = on @ on.T > 0.0

    def bits(self, posteriors: Floats) -> Floats:
        """Bits that each candidate tells, shape (ways, candidates)."""
        m = posteriors @ self.columns.T
        plogp = m * np.log2(np.maximum(m, TINY))
        told = posteriors @ self.sharpness.T - np.add.reduceat(plogp, self.starts, axis=1)
        return np.asarray(told)

    def full(self, posteriors: Floats) -> Floats:
        """Posteriors over all rows again, shape (ways, rows)."""
        found = np.zeros((len(posteriors), len(self.posterior)))
        found[:, self.rows] = posteriors
        return found


def best_way(
    tests: Tests,
    groups: RepairGroups,
    sure: float,
    settle: Callable[[Floats], Floats] | None = None,
) -> Way | None:
    """The series of readings that most bits a minute gives, or None where it saves nothing.

    ``settle``: what it costs to settle at these posteriors, (n, rows) to (n,); by default the
    expected cost of repairing in best order.
    """
    settle = settle or groups.expected_cost
    now = float(settle(tests.posterior[None, :])[0])
    if not (tests.cost < now).any():
        return None
    spent, posteriors, first = _follow(groups, tests, sure, now)
    saves = now - spent - settle(posteriors)
    noise = float(saves.std()) / np.sqrt(len(saves))
    mean = float(saves.mean())
    return Way(tests.priced[first], mean) if first >= 0 and mean > noise else None


def _follow(
    groups: RepairGroups, tests: Tests, sure: float, now: float
) -> tuple[Floats, Floats, int]:
    """Minutes spent on each way, the posteriors at their ends, and the first candidate."""
    p = tests.p
    places = (np.arange(WAYS) + 0.5) / WAYS
    hidden = np.minimum(np.searchsorted(np.cumsum(p), places), len(p) - 1)
    turns, ways = np.arange(LONGEST)[:, None] + 1.0, np.arange(WAYS)[None, :] + 0.5
    luck = (turns * SQRT_2 + ways * GOLDEN * turns) % 1.0
    nodes, at = p[None, :], np.zeros(WAYS, dtype=int)  # ways that saw the same stand at one node
    open_ = (tests.cost < now)[None, :]
    spent = np.zeros(WAYS)
    going = np.ones(WAYS, dtype=bool)
    ended: Floats = np.zeros((WAYS, len(p)))
    first = -1
    for turn in range(LONGEST):
        bits = np.where(open_, tests.bits(nodes), 0.0)
        chosen = np.argmax(bits / (tests.cost + 0.5), axis=1)
        worth = bits[np.arange(len(nodes)), chosen] > TELLS_NOTHING
        worth &= groups.mass(tests.full(nodes)).max(axis=1) < sure
        on = going & worth[at] & (spent + tests.cost[chosen][at] < now)
        ended[going & ~on] = nodes[at[going & ~on]]
        going = on
        if not going.any():
            break
        first = int(chosen[0]) if turn == 0 else first
        spent[going] += tests.cost[chosen][at[going]]
        nodes, open_, at = _step(tests, nodes, open_, at, going, chosen, hidden, luck[turn])
    ended[going] = nodes[at[going]]
    return spent, tests.full(ended), first


def _step(
    tests: Tests,
    nodes: Floats,
    open_: NDArray[np.bool_],
    at: NDArray[np.int_],
    going: NDArray[np.bool_],
    chosen: NDArray[np.int_],
    hidden: NDArray[np.int_],
    luck: Floats,
) -> tuple[Floats, NDArray[np.bool_], NDArray[np.int_]]:
    """Nodes after each going way has seen an outcome of its node's test; and where each way is."""
    found: dict[tuple[int, int], int] = {}
    after: list[Floats] = []
    left: list[NDArray[np.bool_]] = []
    place = np.zeros_like(at)
    for way in np.flatnonzero(going):
        node = int(at[way])
        c = int(chosen[node])
        rows = slice(int(tests.starts[c]), int(tests.starts[c] + tests.sizes[c]))
        chances = np.cumsum(tests.columns[rows, hidden[way]])
        o = min(int(np.searchsorted(chances, luck[way] * chances[-1])), len(chances) - 1)
        if (node, o) not in found:
            found[(node, o)] = len(after)
            seen = nodes[node] * tests.columns[rows][o]
            after.append(seen / max(float(seen.sum()), TINY))
            left.append(open_[node] & ~tests.clash[c])
        place[way] = found[(node, o)]
    return np.array(after), np.array(left), place
