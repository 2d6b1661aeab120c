"""Kirchhoff's equations of many members of a batch at once, and their slopes.

Unknowns are the volts of every node and, behind them, the current of every supply. Arrays have the
members as their last axis, so that each step runs through all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from triage.circuit.elimination import Pattern
from triage.circuit.netlist import LEAK_S, Netlist, Tube
from triage.circuit.supply import Curves
from triage.measure.koren import Bank, flow, grid_current

Floats = NDArray[np.float64]
Ints = NDArray[np.int_]
PLATE, GRID, SCREEN, CATHODE = range(4)


class Wiring(NamedTuple):
    """What is joined to what, by numbers; -1 is ground.

    ``branches``: both ends; ``tubes``: plate, grid, screen, cathode; ``fed``: each supply's node.
    """

    nodes: int
    branches: tuple[tuple[int, int], ...]
    tubes: tuple[tuple[int, int, int, int], ...]
    fed: tuple[int, ...]


@dataclass(frozen=True)
class Batch:
    """Numbers of some members; see ``Variants``, here with the members last.

    ``factor``: share of nominal line volts, shape (members,); ``help_s``: conductance from every
    node to ground, S.
    """

    siemens: Floats
    emission: Floats
    gas: Floats
    curves: Curves
    factor: Floats
    help_s: float = 0.0

    def take(self, members: Ints) -> Batch:
        """Some of the members."""
        return Batch(
            np.take(self.siemens, members, axis=1),
            np.take(self.emission, members, axis=1),
            np.take(self.gas, members, axis=1),
            self.curves.take(members),
            self.factor[members],
            self.help_s,
        )


@dataclass(frozen=True)
class Group:
    """Tubes of one kind: which, their parameters, and the node of each electrode.

    ``electrodes`` has shape (4, tubes). ``places``: (slot, row, column, tube of the group) for every
    slope of a tube's currents, electrodes as rows and columns.
    """

    tubes: Ints
    bank: Bank
    electrodes: Ints
    places: tuple[tuple[int, int, int, int], ...]


@dataclass(frozen=True)
class Equations:
    """The equations of a netlist, laid out once.

    ``incidence`` has shape (nodes, branches): +1 where a branch begins, -1 where it ends.
    ``spots``: (slot, branch, sign) of what every branch adds to the slopes.
    """

    net: Netlist
    pattern: Pattern
    incidence: Floats
    spots: tuple[tuple[int, int, float], ...]
    groups: tuple[Group, ...]

    @classmethod
    def of(cls, net: Netlist) -> Equations:
        """Lay out the equations of a netlist."""
        wiring = Wiring(
            len(net.nodes),
            tuple((int(a), int(b)) for a, b in net.ends),
            tuple((t.plate, t.grid, t.screen, t.cathode) for t in net.tubes),
            net.fed,
        )
        pattern = _pattern(wiring)
        incidence = np.zeros((wiring.nodes + 1, len(wiring.branches)))
        spots = []
        for at, (a, b) in enumerate(wiring.branches):
            incidence[a, at] += 1.0  # the last row is ground (-1)
            incidence[b, at] -= 1.0
            for i, j, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
                if i >= 0 and j >= 0:
                    spots.append((pattern.slots[i, j], at, sign))
        groups = []
        for kind in ("triode", "pentode"):
            tubes = [t for t, tube in enumerate(net.tubes) if tube.model.kind == kind]
            if tubes:
                groups.append(_group([net.tubes[t] for t in tubes], tubes, pattern))
        return cls(net, pattern, incidence[:-1], tuple(spots), tuple(groups))

    def linear(self, batch: Batch) -> Floats:
        """Slopes that do not change from turn to turn, shape (slots, members)."""
        n, s = len(self.net.nodes), len(self.net.fed)
        values = np.zeros((len(self.pattern.slots), len(batch.factor)))
        for slot, branch, sign in self.spots:
            (np.add if sign > 0 else np.subtract)(
                values[slot], batch.siemens[branch], out=values[slot]
            )
        for node in range(n):
            values[self.pattern.slots[node, node]] += LEAK_S + batch.help_s
        for k in range(s):
            node, sign = self.net.fed[k], self.net.curves[k].sign
            values[self.pattern.slots[node, n + k]] -= sign
            values[self.pattern.slots[n + k, node]] += sign
        return values

    def at(self, batch: Batch, linear: Floats, x: Floats) -> tuple[Floats, Floats]:
        """What is missing in every node (A) and supply (V) at ``x``, and the slopes of it.

        ``x`` and what is missing have shape (nodes + supplies, members), slopes (slots, members).
        """
        net, n = self.net, len(self.net.nodes)
        volts = np.concatenate([x[:n], np.zeros((1, x.shape[1]))])  # the last one is ground (-1)
        ends = net.ends.T
        values = linear.copy()
        miss = np.empty_like(x)
        np.matmul(self.incidence, batch.siemens * (volts[ends[0]] - volts[ends[1]]), out=miss[:n])
        miss[:n] += (LEAK_S + batch.help_s) * x[:n]
        amps = x[n:]
        given, fall = batch.curves.at(amps / batch.factor)
        for k, node in enumerate(net.fed):
            sign = net.curves[k].sign
            miss[node] -= sign * amps[k]
            miss[n + k] = sign * x[node] - given[k] * batch.factor
            values[self.pattern.slots[n + k, n + k]] -= fall[k]
        for group in self.groups:
            _add(group, batch, volts, miss, values)
        return miss, values


@lru_cache(maxsize=32)
def _pattern(wiring: Wiring) -> Pattern:
    """Where the equations of a circuit have slopes."""
    n = wiring.nodes
    entries = [(i, j) for a, b in wiring.branches for i, j in ((a, b), (b, a))]
    entries += [(i, j) for tube in wiring.tubes for i in tube for j in tube]
    entries += [
        pair for k, node in enumerate(wiring.fed) for pair in ((n + k, node), (node, n + k))
    ]
    found = [(i, j) for i, j in entries if i >= 0 and j >= 0]
    return Pattern.of(
        n + len(wiring.fed), found, {n + k: node for k, node in enumerate(wiring.fed)}
    )


def _group(tubes: list[Tube], which: list[int], pattern: Pattern) -> Group:
    electrodes = np.array([[t.plate, t.grid, t.screen, t.cathode] for t in tubes], dtype=int).T
    places = []
    for t in range(len(tubes)):
        for row, i in enumerate(electrodes[:, t].tolist()):
            for column, j in enumerate(electrodes[:, t].tolist()):
                if i >= 0 and j >= 0:
                    places.append((pattern.slots[i, j], row, column, t))
    return Group(
        np.array(which, dtype=int), Bank.of([t.model for t in tubes]), electrodes, tuple(places)
    )


def _add(group: Group, batch: Batch, volts: Floats, miss: Floats, values: Floats) -> None:
    """Add the currents of a group's tubes and their slopes: plate, screen, grid, and gas; in place."""
    plate_v, grid_v, screen_v, cathode_v = (volts[nodes] for nodes in group.electrodes)
    share, gas = batch.emission[group.tubes], batch.gas[group.tubes]
    grid_v -= cathode_v
    here = flow(group.bank, plate_v - cathode_v, grid_v, screen_v - cathode_v)
    into, steep = grid_current(group.bank, grid_v)
    amps: dict[int, Floats] = {PLATE: here.plate * share, GRID: into * share}
    slopes: dict[tuple[int, int], Floats] = {
        (PLATE, PLATE): here.gp * share,
        (PLATE, GRID): here.gm * share,
        (GRID, GRID): steep * share,
    }
    if group.bank.kind == "pentode":
        amps[SCREEN] = here.screen * share
        slopes[PLATE, SCREEN] = here.gs * share
        slopes[SCREEN, GRID] = here.screen_gm * share
        slopes[SCREEN, SCREEN] = here.screen_gs * share
    if gas.any():  # ions that the plate current makes flow from the grid to the cathode
        amps[GRID] -= gas * amps[PLATE]
        for by in [column for row, column in slopes if row == PLATE]:
            back = gas * slopes[PLATE, by]
            slopes[GRID, by] = slopes[GRID, by] - back if (GRID, by) in slopes else -back
    for row in list(amps):  # what depends on volts against the cathode falls with the cathode's
        slopes[row, CATHODE] = -_total([slopes[r, c] for r, c in slopes if r == row])
    amps[CATHODE] = -_total(list(amps.values()))
    for column in sorted({c for _, c in slopes}):
        slopes[CATHODE, column] = -_total([v for (_, c), v in slopes.items() if c == column])
    for row, lines in amps.items():
        for t, node in enumerate(group.electrodes[row].tolist()):
            if node >= 0:
                miss[node] += lines[t]
    for slot, row, column, t in group.places:
        if (row, column) in slopes:
            values[slot] += slopes[row, column][t]


def _total(lines: list[Floats]) -> Floats:
    found = lines[0].copy()
    for line in lines[1:]:
        found += line
    return found
