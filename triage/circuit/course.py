"""Slow courses: volts while the tubes warm up, and how long the capacitors stay charged afterwards.

Warming is a row of resting points, each with the share of their current that the tubes give by then;
the rectifier is taken as awake from the start, which is the worst for the parts behind it. Bleeding
is the circuit without its mains and with cold tubes, so that only resistors discharge it: that is the
slow case. It is a figure for a part's rating or for patience, never a proof that nothing is charged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.circuit.netlist import LEAK_S, Netlist, join
from triage.circuit.solve import Variants, solve
from triage.errors import CircuitError
from triage.units import value_of

Floats = NDArray[np.float64]
AT_S = (0.0, 2.0, 5.0, 8.0, 11.0, 15.0, 20.0, 30.0, 60.0)
WARM_S, SPREAD_S = 11.0, 1.8
"""When an indirectly heated tube gives half of its current, and how quickly that grows."""
LEAST_SHARE = 1e-6
SAFE_V = (50.0, 10.0)
"""Volts whose time is told: a limit that is often named, and the one to which the gates want every
capacitor read. Common practice, no source. Neither time stands in for the reading."""
STEPS = 2000
LONGEST_S = 36_000.0


@dataclass(frozen=True)
class Warming:
    """Volts of nodes by time. ``volts`` has shape (times, nodes); ``nodes`` are their names."""

    seconds: tuple[float, ...]
    nodes: tuple[str, ...]
    volts: Floats

    def most(self, node: str) -> float:
        """The highest volts, without its sign, that a node sees on the way."""
        return float(np.max(np.abs(self.volts[:, self.nodes.index(node)])))


@dataclass(frozen=True)
class Bleeding:
    """Of one supply, or of the node that stays charged longest: volts at switching off, and times.

    ``seconds``: until below each of ``SAFE_V``; None where it takes more than ten hours.
    """

    point: str
    from_v: float
    seconds: tuple[float | None, ...]


def share_at(seconds: float) -> float:
    """Share of its current that an indirectly heated tube gives after switching on.

    Source: common practice, no source (about 11 s to half of it).
    """
    return float(1.0 / (1.0 + np.exp(-(seconds - WARM_S) / SPREAD_S)))


def warming(net: Netlist, line: float = 1.0) -> Warming:
    """Resting points while the tubes warm up. ``line``: share of nominal line volts.

    Raises
    ------
    CircuitError : a point on the way was not found; none is guessed.
    """
    sound = Variants.sound(net, len(AT_S))
    shares = np.array([max(share_at(t), LEAST_SHARE) for t in AT_S])
    shares[0] = LEAST_SHARE
    variants = replace(
        sound, emission=sound.emission * shares[:, None], line=np.full(len(AT_S), line)
    )
    found = solve(net, variants)
    if not found.settled.all():
        at = ", ".join(f"{t:g} s" for t, ok in zip(AT_S, found.settled, strict=True) if not ok)
        raise CircuitError([f"no resting point was found at {at} after switching on"])
    return Warming(AT_S, net.nodes, found.volts)


def bleeding(net: Netlist, line: float = 1.0) -> list[Bleeding]:
    """How long the supplies stay charged once the mains is off and the tubes are cold.

    The last row is of the node that takes longest, which may lie far behind them. Implicit Euler in
    steps that grow with time; switched off at the highest volts, before any tube has warmed up.

    Raises
    ------
    CircuitError : the point to start from was not found.
    """
    start = warming(net, line).volts[0]
    n = len(net.nodes)
    g = LEAK_S * np.eye(n)
    c = np.zeros((n, n))
    for i, part in enumerate(net.spec.parts.values()):
        farad = (
            value_of(part.value, "F") if part.kind == "capacitor" and part.value is not None else 0
        )
        join(g, net.ends[i].tolist(), float(net.siemens[i]))
        join(c, net.ends[i].tolist(), farad)
    for node, supply in zip(net.fed, net.spec.supplies.values(), strict=True):
        c[node, node] += value_of(supply.reservoir, "F")
    times = np.geomspace(1e-3, LONGEST_S, STEPS)
    volts = start.copy()
    course = [np.abs(volts)]
    for before, now in zip([0.0, *times[:-1].tolist()], times.tolist(), strict=True):
        step = now - before
        volts = np.linalg.solve(c / step + g, c @ volts / step)
        course.append(np.abs(volts))
    table, at = np.array(course), np.concatenate([[0.0], times])

    def row(node: int, name: str) -> Bleeding:
        below = tuple(_below(table[:, node], at, v) for v in SAFE_V)
        return Bleeding(name, float(start[node]), below)

    def waits(one: Bleeding) -> float:
        return np.inf if one.seconds[-1] is None else one.seconds[-1]

    found = [row(node, name) for node, name in zip(net.fed, net.supplies, strict=True)]
    longest = max((row(node, f"longest: {name}") for node, name in enumerate(net.nodes)), key=waits)
    return [*found, longest]


def _below(volts: Floats, times: Floats, limit: float) -> float | None:
    """The time from which the volts stay below the limit, between two steps by their logarithm."""
    above = np.flatnonzero(volts > limit)
    if not len(above):
        return 0.0
    last = int(above[-1])
    if last + 1 >= len(volts):
        return None
    a, b = np.log(volts[last]), np.log(max(float(volts[last + 1]), 1e-12))
    share = (a - np.log(limit)) / (a - b)
    return float(times[last] + share * (times[last + 1] - times[last]))
