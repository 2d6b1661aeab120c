"""Direct currents and volts of many variants of one circuit at once: damped Newton on its nodes.

Unknowns are the volts of every node against ground and the current of every supply. Members go in
blocks that fit the processor's cache; the slow ones of all blocks go on together. Whoever does not
settle is tried again from sources turned up slowly, and, failing that, is reported as not solved: no
volts are guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.circuit.equations import Batch, Equations
from triage.circuit.netlist import Netlist
from triage.circuit.supply import Curve, Curves

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int_]
BLOCK = 1024
"""Members that are solved together: what they need stays in the processor's cache."""
FEW = 8
"""A block ends when only this part of it (one in so many) is left; the rest join other blocks'."""
TURNS, FIRST_TURNS = 120, 40
"""Most turns of one search, and of the first one: whoever settles there does so in some 30."""
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

    def take(self, rows: Ints) -> Variants:
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
    turns: Ints


def solve(
    net: Netlist, variants: Variants, near: Solved | None = None, rows: Ints | None = None
) -> Solved:
    """Operating points of all members.

    Parameters
    ----------
    near : points to start from (the sound circuit's, for its faults); whoever does not settle from
        there is started afresh.
    rows : member of ``near`` that each member starts from, shape (members,); the first one by
        default.

    Source
    ------
    Modified nodal analysis (Ho, Ruehli and Brennan 1975, from memory), Newton's method.
    """
    members, n = len(variants.line), len(net.nodes)
    equations = Equations.of(net)
    whole = _Whole(variants)
    afresh = np.zeros((n + len(net.supplies), members))
    afresh[:n] = 1.0
    start, full = _first(afresh, near, rows), np.ones(members)
    x, settled, turns = _newton(equations, whole, start, full, most=FIRST_TURNS)
    for again in (_ramped, _helped):
        left = np.flatnonzero(~settled)
        if len(left):
            some = _Whole(variants.take(left))
            x[:, left], settled[left], more = again(equations, some, afresh[:, left])
            turns[left] += more
    x[:, ~settled] = np.nan
    return Solved(x[:n].T.copy(), x[n:].T.copy(), settled, turns)


def _first(afresh: Floats, near: Solved | None, rows: Ints | None) -> Floats:
    """Where each member starts, shape (unknowns, members)."""
    if near is None:
        return afresh
    rows = np.zeros(afresh.shape[1], dtype=int) if rows is None else np.asarray(rows)
    start = np.concatenate([near.volts, near.supply_a], axis=1).T[:, rows]
    return np.where(near.settled[rows], start, afresh)


def _ramped(equations: Equations, whole: _Whole, start: Floats) -> tuple[Floats, Flags, Ints]:
    """The same with all sources turned up in steps, each from where the last one settled."""
    x, members = start, start.shape[1]
    total = np.zeros(members, dtype=int)
    settled = np.ones(members, dtype=bool)
    for share in RAMP:
        x, settled, turns = _newton(equations, whole, x, np.full(members, share))
        total += turns
    return x, settled, total


def _helped(equations: Equations, whole: _Whole, start: Floats) -> tuple[Floats, Flags, Ints]:
    """The same with a conductance to ground at every node, which is then taken away in steps."""
    x, members = start, start.shape[1]
    total = np.zeros(members, dtype=int)
    settled = np.ones(members, dtype=bool)
    for help_s in HELPS:
        x, settled, turns = _newton(equations, whole, x, np.ones(members), help_s=help_s)
        total += turns
    return x, settled, total


class _Whole:
    """All members, and blocks of them with the members last."""

    def __init__(self, variants: Variants) -> None:
        self.variants = variants
        self.curves = Curves.of(variants.curves)

    def block(self, members: Ints, share: Floats, help_s: float) -> Batch:
        """Numbers of some members; sources at ``share`` of full."""
        v = self.variants
        return Batch(
            v.siemens[members].T.copy(),
            v.emission[members].T.copy(),
            v.gas[members].T.copy(),
            self.curves.take(members),
            np.maximum(v.line[members] * share[members], 1e-6),
            help_s,
        )


def _newton(
    equations: Equations,
    whole: _Whole,
    start: Floats,
    share: Floats,
    *,
    help_s: float = 0.0,
    most: int = TURNS,
) -> tuple[Floats, Flags, Ints]:
    """Damped Newton of the members from ``start``; sources at ``share`` of full.

    ``start``: shape (unknowns, members). ``help_s``: conductance from every node to ground, S.
    ``most``: turns after which a member is given up.
    """
    run = _Run(start.copy(), np.zeros(start.shape[1], dtype=bool), most)
    going = np.arange(start.shape[1])
    while len(going):
        few = BLOCK // FEW if len(going) > BLOCK else 0
        for at in range(0, len(going), BLOCK):
            members = going[at : at + BLOCK]
            run.turn(equations, whole.block(members, share, help_s), members, few)
        going = going[~run.settled[going] & (run.turns[going] < most)]
    return run.x, run.settled, run.turns


class _Run:
    """Where all members are in their search; every member keeps its own count of turns."""

    def __init__(self, x: Floats, settled: Flags, most: int) -> None:
        self.x, self.settled, self.most = x, settled, most
        self.turns = np.zeros(len(settled), dtype=int)
        self.limit = np.full(len(settled), STEP_V)

    def turn(self, equations: Equations, batch: Batch, going: Ints, few: int) -> None:
        """Let these members go on until no more than ``few`` of them are left."""
        n = len(equations.net.nodes)
        linear, x = equations.linear(batch), self.x[:, going]
        while len(going) > few:
            miss, slopes = equations.at(batch, linear, x)
            off = np.abs(miss[:n]).max(axis=0)
            step = equations.pattern.solve(slopes, np.negative(miss, out=miss))
            largest = np.abs(step[:n]).max(axis=0)
            found = np.isfinite(largest)
            damp = np.minimum(1.0, self.limit[going] / np.maximum(largest, 1e-300))
            moved = x + step * damp
            _hold_plates(equations.net, x, moved)
            x = moved
            self.turns[going] += 1
            self.turns[going[~found]] = self.most  # no direction to go in: left for other ways
            done = (largest < CLOSE_V) & (off < CLOSE_A)
            self.settled[going[done]] = True
            self._slow_down(going[~done])
            stay = ~done & (self.turns[going] < self.most)
            if not stay.all():
                self.x[:, going[~stay]] = x[:, ~stay]
                kept = np.flatnonzero(stay)
                going, x = going[kept], x[:, kept]
                linear, batch = np.take(linear, kept, axis=1), batch.take(kept)
        self.x[:, going] = x

    def _slow_down(self, going: Ints) -> None:
        """Those that swing to and fro go on in smaller steps."""
        turns = self.turns[going]
        slow = going[(turns > 1) & (turns % 30 == 1)]
        self.limit[slow] = np.maximum(self.limit[slow] / 3.0, 0.5)


def _hold_plates(net: Netlist, before: Floats, after: Floats) -> None:
    """Let no plate jump below its cathode in one turn, where its current has no slope; in place."""
    for tube in net.tubes:
        if tube.plate < 0:
            continue
        was, now = (
            x[tube.plate] - (x[tube.cathode] if tube.cathode >= 0 else 0.0) for x in (before, after)
        )
        jumped = (was > NEAR_V) & (now < 0.0)
        if jumped.any():
            after[tube.plate, jumped] += 0.1 * was[jumped] - now[jumped]
