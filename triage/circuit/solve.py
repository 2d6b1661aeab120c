"""Direct currents and volts of many variants of one circuit at once: damped Newton on its nodes.

Unknowns are the volts of every node against ground and the current of every supply. Members that
have settled leave the batch. Whoever does not settle is tried again from sources turned up slowly,
and, failing that, is reported as not solved: no volts are guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.circuit.netlist import LEAK_S, Netlist
from triage.circuit.supply import Curve
from triage.measure.koren import flow, grid_current

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
TURNS = 120
STEP_V = 60.0
"""Most volts that a node moves in one turn."""
CLOSE_V, CLOSE_A = 1e-6, 1e-10
NEAR_V = 1e-6
RAMP = (0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0)
"""Shares of all sources for those that did not settle at once."""
HELPS = (1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10, 0.0)
"""Conductances from every node to ground, S, for those that the ramp did not settle either."""


@dataclass(frozen=True)
class Variants:
    """Members of a batch: what differs from one to the next.

    Parameters
    ----------
    siemens : conductance of every branch, shape (members, branches), S.
    emission : share of its currents that each tube gives, shape (members, tubes).
    gas : reverse grid current as a share of the plate current, shape (members, tubes).
    curves : every supply's curve, one tuple for each member.
    line : line volts as a share of nominal, shape (members,).
    """

    siemens: Floats
    emission: Floats
    gas: Floats
    curves: Sequence[tuple[Curve, ...]]
    line: Floats

    @classmethod
    def sound(cls, net: Netlist, members: int = 1) -> Variants:
        """Members without any fault, all alike."""
        tubes = len(net.tubes)
        return cls(
            np.repeat(net.siemens[None, :], members, axis=0),
            np.ones((members, tubes)),
            np.zeros((members, tubes)),
            [net.curves] * members,
            np.ones(members),
        )

    def take(self, rows: NDArray[np.int_]) -> Variants:
        """Some of the members."""
        return Variants(
            self.siemens[rows],
            self.emission[rows],
            self.gas[rows],
            [self.curves[i] for i in rows.tolist()],
            self.line[rows],
        )


@dataclass(frozen=True)
class Solved:
    """Volts of every node, shape (members, nodes); supply currents (members, supplies) in A.

    ``settled`` tells which members are solved; the volts of the others are NaN. ``turns`` is what
    each took.
    """

    volts: Floats
    supply_a: Floats
    settled: Flags
    turns: NDArray[np.int_]


def solve(net: Netlist, variants: Variants, near: Solved | None = None) -> Solved:
    """Operating points of all members.

    ``near``: a point of one member to start from (the sound circuit's, for its faults); whoever does
    not settle from there is started afresh.

    Source
    ------
    Modified nodal analysis (Ho, Ruehli and Brennan 1975, from memory), Newton's method.
    """
    members = len(variants.line)
    start = np.zeros((members, len(net.nodes) + len(net.supplies)))
    start[:, : len(net.nodes)] = 1.0
    first = start
    if near is not None and near.settled[0]:
        point = np.concatenate([near.volts[0], near.supply_a[0]])
        first = np.repeat(point[None, :], members, axis=0)
    x, settled, turns = _newton(net, variants, first, np.ones(members))
    left = np.flatnonzero(~settled)
    if len(left):
        x[left], settled[left], more = _ramped(net, variants.take(left), start[left])
        turns[left] += more
    left = np.flatnonzero(~settled)
    if len(left):
        x[left], settled[left], more = _helped(net, variants.take(left), start[left])
        turns[left] += more
    x[~settled] = np.nan
    n = len(net.nodes)
    return Solved(x[:, :n], x[:, n:], settled, turns)


def _ramped(
    net: Netlist, variants: Variants, start: Floats
) -> tuple[Floats, Flags, NDArray[np.int_]]:
    """The same with all sources turned up in steps, each from where the last one settled."""
    x = start
    total = np.zeros(len(start), dtype=int)
    settled = np.ones(len(start), dtype=bool)
    for share in RAMP:
        x, settled, turns = _newton(net, variants, x, np.full(len(start), share))
        total += turns
    return x, settled, total


def _helped(
    net: Netlist, variants: Variants, start: Floats
) -> tuple[Floats, Flags, NDArray[np.int_]]:
    """The same with a conductance to ground at every node, which is then taken away in steps."""
    x = start
    total = np.zeros(len(start), dtype=int)
    settled = np.ones(len(start), dtype=bool)
    for help_s in HELPS:
        x, settled, turns = _newton(net, variants, x, np.ones(len(start)), help_s)
        total += turns
    return x, settled, total


def _newton(
    net: Netlist, variants: Variants, start: Floats, share: Floats, help_s: float = 0.0
) -> tuple[Floats, Flags, NDArray[np.int_]]:
    """Damped Newton of the members from ``start``; sources at ``share`` of full.

    ``help_s``: conductance from every node to ground, S.
    """
    x = start.copy()
    members, n = len(x), len(net.nodes)
    settled = np.zeros(members, dtype=bool)
    turns = np.zeros(members, dtype=int)
    going = np.arange(members)
    linear = _linear(net, variants.siemens) + help_s * np.eye(n)
    limit = np.full(members, STEP_V)
    for turn in range(TURNS):
        part = variants.take(going)
        miss, slope = _equations(net, part, linear[going], x[going], share[going])
        step = -_linear_solve(slope, miss)
        largest = np.abs(step[:, :n]).max(axis=1)
        damp = np.minimum(1.0, limit[going] / np.maximum(largest, 1e-300))
        moved = x[going] + step * damp[:, None]
        _hold_plates(net, x[going], moved)
        x[going] = moved
        turns[going] += 1
        done = (largest < CLOSE_V) & (np.abs(miss[:, :n]).max(axis=1) < CLOSE_A)
        settled[going[done]] = True
        going = going[~done]
        if not len(going):
            break
        if turn and turn % 30 == 0:  # those that swing to and fro go on in smaller steps
            limit[going] = np.maximum(limit[going] / 3.0, 0.5)
    return x, settled, turns


def _hold_plates(net: Netlist, before: Floats, after: Floats) -> None:
    """Let no plate jump below its cathode in one turn, where its current has no slope; in place."""
    for tube in net.tubes:
        if tube.plate < 0:
            continue
        was, now = (
            x[:, tube.plate] - (x[:, tube.cathode] if tube.cathode >= 0 else 0.0)
            for x in (before, after)
        )
        jumped = (was > NEAR_V) & (now < 0.0)
        after[jumped, tube.plate] += 0.1 * was[jumped] - now[jumped]


def _linear_solve(slope: Floats, miss: Floats) -> Floats:
    return np.asarray(np.linalg.solve(slope, miss[..., None])[..., 0])


def _linear(net: Netlist, siemens: Floats) -> Floats:
    """Nodal conductances of all members, shape (members, nodes, nodes)."""
    n = len(net.nodes)
    incidence = np.zeros((len(net.branches), n + 1))
    rows = np.arange(len(net.branches))
    incidence[rows, net.ends[:, 0]] += 1.0  # the last column is ground (-1)
    incidence[rows, net.ends[:, 1]] -= 1.0
    at = incidence[:, :n]
    found = np.einsum("pi,bp,pj->bij", at, siemens, at, optimize=True)
    return np.asarray(found + LEAK_S * np.eye(n))


def _equations(
    net: Netlist, variants: Variants, linear: Floats, x: Floats, share: Floats
) -> tuple[Floats, Floats]:
    """What is missing in every node (A) and supply (V), and the slopes of it."""
    members, n, s = len(x), len(net.nodes), len(net.supplies)
    volts = x[:, :n]
    miss = np.zeros((members, n + s))
    slope = np.zeros((members, n + s, n + s))
    slope[:, :n, :n] = linear
    miss[:, :n] = np.einsum("bij,bj->bi", linear, volts)
    for k, node in enumerate(net.fed):
        sign = net.curves[k].sign
        amps = x[:, n + k]
        factor = np.maximum(variants.line * share, 1e-6)
        given, fall = _supply(variants.curves, k, amps / factor)
        miss[:, node] -= sign * amps
        slope[:, node, n + k] -= sign
        miss[:, n + k] = sign * volts[:, node] - given * factor
        slope[:, n + k, node] = sign
        slope[:, n + k, n + k] = -fall
    for t in range(len(net.tubes)):
        _tube(net, t, variants, volts, miss, slope)
    return miss, slope


def _supply(curves: Sequence[tuple[Curve, ...]], k: int, amps: Floats) -> tuple[Floats, Floats]:
    """Volts and slope of supply ``k`` of every member; alike curves are taken together."""
    value, fall = np.empty_like(amps), np.empty_like(amps)
    by_curve: dict[int, list[int]] = {}
    for member, row in enumerate(curves):
        by_curve.setdefault(id(row[k]), []).append(member)
    for rows in by_curve.values():
        value[rows], fall[rows] = curves[rows[0]][k].at(amps[rows])
    return value, fall


def _tube(
    net: Netlist, t: int, variants: Variants, volts: Floats, miss: Floats, slope: Floats
) -> None:
    """Add the currents of one tube: plate, screen, grid, and gas."""
    tube, share, gas = net.tubes[t], variants.emission[:, t], variants.gas[:, t]

    def at(node: int) -> Floats:
        return volts[:, node] if node >= 0 else np.zeros(len(volts))

    k = at(tube.cathode)
    here = flow(tube.model, at(tube.plate) - k, at(tube.grid) - k, at(tube.screen) - k)
    into, steep = grid_current(tube.model, at(tube.grid) - k)
    p, g, s, c = tube.plate, tube.grid, tube.screen, tube.cathode
    by = {"gm": here.gm * share, "gp": here.gp * share, "gs": here.gs * share}
    plate = here.plate * share
    _current(miss, slope, p, c, plate, {g: by["gm"], p: by["gp"], s: by["gs"]}, c)
    _current(
        miss, slope, s, c, here.screen * share,
        {g: here.screen_gm * share, s: here.screen_gs * share}, c,
    )  # fmt: skip
    _current(miss, slope, g, c, into * share, {g: steep * share}, c)
    back = -gas * plate
    _current(
        miss, slope, g, c, back, {g: -gas * by["gm"], p: -gas * by["gp"], s: -gas * by["gs"]}, c
    )


def _current(
    miss: Floats,
    slope: Floats,
    into: int,
    out: int,
    amps: Floats,
    by: dict[int, Floats],
    cathode: int,
) -> None:
    """A current from node ``into`` to node ``out``, with its slopes by volts against the cathode."""
    for node, sign in ((into, 1.0), (out, -1.0)):
        if node < 0:
            continue
        miss[:, node] += sign * amps
        for other, steep in by.items():
            if other >= 0:
                slope[:, node, other] += sign * steep
            if cathode >= 0:
                slope[:, node, cathode] -= sign * steep
