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
Ints = NDArray[np.int_]
Flags = NDArray[np.bool_]
Path = tuple[int, ...]
"""What was seen on the way to a node: rows of the stacked columns, in order."""
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

    Only the ``rows`` that together hold nearly all of the posterior are looked at. Bits are single
    precision (they rank, and differ far more than by 1e-6) and are kept by what was seen.
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
        sharpness = np.array([f.sharpness[self.rows] for f in found])
        self._weights = np.concatenate([self.columns, sharpness]).astype(np.float32).T
        self._bits: dict[Path, NDArray[np.float32]] = {}
        self.sizes = np.array([len(f.columns) for f in found])
        self.starts = np.concatenate([[0], np.cumsum(self.sizes)[:-1]])
        self.cost = np.array([item.cost for item in priced])
        on = np.zeros((len(priced), len(state.model.grounded.blocks)), dtype=np.float32)
        for i, item in enumerate(priced):
            on[i, list(blocks_of(state, item.findings))] = 1.0
        self.clash = on @ on.T > 0.0

    def bits(self, posteriors: Floats, paths: Sequence[Path]) -> NDArray[np.float32]:
        """Bits that each candidate tells, shape (nodes, candidates); kept by path."""
        new = [i for i, path in enumerate(paths) if path not in self._bits]
        if new:
            both = posteriors[new].astype(np.float32) @ self._weights
            m, sharp = both[:, : len(self.columns)], both[:, len(self.columns) :]
            plogp = m * np.log2(np.maximum(m, TINY))
            told = sharp - np.add.reduceat(plogp, self.starts, axis=1)
            self._bits.update(zip((paths[i] for i in new), told, strict=True))
        return np.array([self._bits[path] for path in paths])

    def grouped(self, groups: RepairGroups) -> tuple[Ints, Ints]:
        """Order that brings rows of one repair together, and where each repair starts in it."""
        group = groups.of_row[self.rows]
        order = np.argsort(group, kind="stable")
        return order, np.unique(group[order], return_index=True)[1]

    def drawn(self, hidden: Ints) -> Floats:
        """Chances of at most this outcome at drawn rows, (candidates, most outcomes, ways).

        Beyond a candidate's last outcome they stand at its whole.
        """
        at = np.minimum(np.arange(self.sizes.max())[None, :], self.sizes[:, None] - 1)
        chances = self.columns[:, hidden][self.starts[:, None] + at]
        chances[np.arange(self.sizes.max())[None, :] >= self.sizes[:, None]] = 0.0
        return np.asarray(np.cumsum(chances, axis=1))

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
    chances = tests.drawn(hidden)
    order, starts = tests.grouped(groups)
    turns, ways = np.arange(LONGEST)[:, None] + 1.0, np.arange(WAYS)[None, :] + 0.5
    luck = (turns * SQRT_2 + ways * GOLDEN * turns) % 1.0
    nodes = _Nodes(p[None, :], (tests.cost < now)[None, :], [()])
    at = np.zeros(WAYS, dtype=int)
    spent = np.zeros(WAYS)
    going = np.ones(WAYS, dtype=bool)
    ended: Floats = np.zeros((WAYS, len(p)))
    first = -1
    for turn in range(LONGEST):
        bits = np.where(nodes.open, tests.bits(nodes.posteriors, nodes.paths), 0.0)
        chosen = np.argmax(bits / (tests.cost + 0.5), axis=1)
        worth = bits[np.arange(len(chosen)), chosen] > TELLS_NOTHING
        mass = np.add.reduceat(nodes.posteriors[:, order], starts, axis=1)
        worth &= mass.max(axis=1) < sure
        on = going & worth[at] & (spent + tests.cost[chosen][at] < now)
        ended[going & ~on] = nodes.posteriors[at[going & ~on]]
        going = on
        if not going.any():
            break
        first = int(chosen[0]) if turn == 0 else first
        spent[going] += tests.cost[chosen][at[going]]
        c = chosen[at]
        lot = chances[c, :, np.arange(WAYS)]
        outcome = np.minimum(
            (lot < (luck[turn] * lot[:, -1])[:, None]).sum(axis=1), tests.sizes[c] - 1
        )
        nodes, at = _step(tests, nodes, at, going, chosen, outcome)
    ended[going] = nodes.posteriors[at[going]]
    return spent, tests.full(ended), first


@dataclass(frozen=True)
class _Nodes:
    """Where ways stand: those that saw the same stand at one node."""

    posteriors: Floats
    open: Flags
    paths: list[Path]


def _step(
    tests: Tests, nodes: _Nodes, at: Ints, going: Flags, chosen: Ints, outcome: Ints
) -> tuple[_Nodes, Ints]:
    """Nodes after each going way has seen ``outcome`` of its node's test; and where each way is."""
    most = int(tests.sizes.max())
    which, back = np.unique(at[going] * most + outcome[going], return_inverse=True)
    node, seen = which // most, tests.starts[chosen[which // most]] + which % most
    after = nodes.posteriors[node] * tests.columns[seen]
    after /= np.maximum(after.sum(axis=1), TINY)[:, None]
    paths = [(*nodes.paths[n], int(row)) for n, row in zip(node, seen, strict=True)]
    place = np.zeros_like(at)
    place[going] = back
    return _Nodes(after, nodes.open[node] & ~tests.clash[chosen[node]], paths), place
