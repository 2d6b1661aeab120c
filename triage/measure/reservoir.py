"""Periodic steady state of a rectifier into a reservoir, by implicit steps and the period map.

Each implicit stage (TR-BDF2, second order, damped at any step) leaves a linear relation
``v_r = alpha + rho i`` between the rectified node and the current into it; the diode is solved
against that, so nothing stiff is ever stepped explicitly.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from triage.errors import CircuitError
from triage.measure.child import Diode

Array = NDArray[np.float64]
_GAMMA = 2.0 - math.sqrt(2.0)
_COEF = _GAMMA / 2.0
_W1 = 1.0 / (_GAMMA * (2.0 - _GAMMA))
_W0 = (1.0 - _GAMMA) ** 2 / (_GAMMA * (2.0 - _GAMMA))
COARSE = 240
FINE = 280
CHOKE_STEPS = 720


@dataclass(frozen=True)
class Net:
    """What stands behind the diodes, SI; ``choke_h`` 0 means capacitor input.

    ``peak_v`` is the peak of the EMF of one path, ``both`` whether both half cycles are used.
    """

    peak_v: float
    omega: float
    both: bool
    source_ohm: float
    diode: Diode
    farad: float
    siemens: float
    amps: float
    choke_h: float = 0.0
    choke_ohm: float = 0.0

    @property
    def period(self) -> float:
        """Seconds after which the supply repeats: half a cycle where both halves are used."""
        return (math.pi if self.both else 2.0 * math.pi) / self.omega

    def emf(self, t: Array) -> Array:
        """EMF in V of the plate that is driven at each time."""
        wave = self.peak_v * np.sin(self.omega * t)
        return np.abs(wave) if self.both else wave


@dataclass
class Run:
    """Waves of one period: seconds, reservoir volts, current out of the diodes, node volts."""

    t: Array
    v: list[float] = field(default_factory=list)
    i: list[float] = field(default_factory=list)
    node: list[float] = field(default_factory=list)


def run(net: Net, t: Array, v0: float, i0: float = 0.0) -> Run:
    """Waves over the times ``t`` from reservoir volts ``v0`` and choke current ``i0``."""
    mids = t[:-1] + _GAMMA * np.diff(t)
    emfs = np.column_stack((net.emf(mids), net.emf(t[1:]))).tolist()
    steps = np.diff(t).tolist()
    start = float(net.emf(t[:1])[0])
    if net.choke_h > 0.0:
        return _run_choke(net, t, steps, emfs, start, v0, i0)
    return _run_capacitor(net, t, steps, emfs, start, v0)


def _run_capacitor(
    net: Net, t: Array, steps: list[float], emfs: list[list[float]], start: float, v0: float
) -> Run:
    found = Run(t)
    current, ohm, g, amps, farad = (
        net.diode.current, net.source_ohm, net.siemens, net.amps, net.farad,
    )  # fmt: skip
    v = v0
    i = current(start - v, ohm)
    slope = (i - amps - g * v) / farad
    found.v.append(v)
    found.i.append(i)
    for h, (e_mid, e_end) in zip(steps, emfs, strict=True):
        c = _COEF * h
        kappa = c / farad
        den = 1.0 + kappa * g
        rho = kappa / den
        alpha = (v + c * slope - kappa * amps) / den
        mid = alpha + rho * current(e_mid - alpha, ohm + rho)
        star = _W1 * mid - _W0 * v
        alpha = (star - kappa * amps) / den
        i = current(e_end - alpha, ohm + rho)
        v = alpha + rho * i
        slope = (v - star) / c
        found.v.append(v)
        found.i.append(i)
    found.node = found.v
    return found


def _node(net: Net, emf: float, alpha: float, rho: float) -> tuple[float, float]:
    """Current into, and volts at, the node before a choke; both plates may conduct."""
    current, ohm = net.diode.current, net.source_ohm
    i = current(emf - alpha, ohm + rho)
    node = alpha + rho * i
    if not net.both or -emf - node <= net.diode.knee_v:
        return i, node
    low, high = node, emf
    for _ in range(60):
        node = 0.5 * (low + high)
        i = current(emf - node, ohm) + current(-emf - node, ohm)
        if i > (node - alpha) / rho:
            low = node
        else:
            high = node
        if high - low < 1e-9 * net.peak_v:
            break
    return (node - alpha) / rho, node


def _run_choke(
    net: Net,
    t: Array,
    steps: list[float],
    emfs: list[list[float]],
    start: float,
    v0: float,
    i0: float,
) -> Run:
    found = Run(t)
    g, amps, farad, henry, ohm = net.siemens, net.amps, net.farad, net.choke_h, net.choke_ohm
    v, i = v0, max(i0, 0.0)
    share = 0.5 if net.both else 1.0
    node = start - net.diode.drop(share * i) - net.source_ohm * share * i if i > 0.0 else v
    di = (node - ohm * i - v) / henry if i > 0.0 else 0.0
    dv = (i - amps - g * v) / farad
    found.v.append(v)
    found.i.append(i)
    found.node.append(node)
    for h, pair in zip(steps, emfs, strict=True):
        c = _COEF * h
        lam, kappa = c / henry, c / farad
        den = 1.0 + kappa * g
        rho = (1.0 + lam * ohm) / lam + kappa / den
        i_star, v_star = i + c * di, v + c * dv
        before_i, before_v = i, v
        for stage, emf in enumerate(pair):
            alpha = -i_star / lam + (v_star - kappa * amps) / den
            i, node = _node(net, emf, alpha, rho)
            v = (v_star + kappa * (i - amps)) / den
            if stage == 0:
                i_star, v_star = _W1 * i - _W0 * before_i, _W1 * v - _W0 * before_v
        di = (i - i_star) / c if i > 0.0 else 0.0
        dv = (v - v_star) / c
        found.v.append(v)
        found.i.append(i)
        found.node.append(node)
    return found


def _root(of: Callable[[float], float], low: float, high: float, close: float) -> float:
    """Root of a falling function between two bounds, by the Illinois rule."""
    at_low, at_high = of(low), of(high)
    if at_low <= 0.0:
        return low
    if at_high >= 0.0:
        return high
    for turn in range(80):
        x = high - at_high * (high - low) / (at_high - at_low)
        if turn % 8 == 7 or not low < x < high:
            x = 0.5 * (low + high)
        y = of(x)
        if abs(y) < close * 1e-3 or high - low < close:
            return x
        if y > 0.0:
            low, at_low, at_high = x, y, 0.5 * at_high
        else:
            high, at_high, at_low = x, y, 0.5 * at_low
    return 0.5 * (low + high)


def _grid(net: Net, first: float, last: float) -> Array:
    """Times of one period, most of them where current flows."""
    width = last - first
    low, high = max(first - 0.2 * width, 0.0), min(last + 0.1 * width, net.period)
    parts = [np.linspace(low, high, FINE + 1)]
    for start, end in ((0.0, low), (high, net.period)):
        if end - start > 1e-9 * net.period:
            parts.append(np.linspace(start, end, 61))
    return np.unique(np.concatenate(parts))


def steady_capacitor(net: Net) -> Run:
    """Waves of the steady state of a capacitor-input supply, over one period.

    Raises
    ------
    CircuitError : the load takes more than the supply can give at any voltage.
    """
    top = net.peak_v - net.diode.knee_v
    close = 1e-9 * net.peak_v
    t = np.linspace(0.0, net.period, COARSE + 1)
    found = Run(t)
    for _ in range(4):
        times = t

        def gain(v0: float, times: Array = times) -> float:
            return run(net, times, v0).v[-1] - v0

        found = run(net, t, _root(gain, 0.0, top, close))
        flows = [k for k, i in enumerate(found.i) if i > 0.0]
        if not flows:
            middle = math.pi / 2.0 / net.omega
            half = 0.02 / net.omega
            t = _grid(net, middle - half, middle + half)
            continue
        first, last = t[max(flows[0] - 1, 0)], t[min(flows[-1] + 1, len(t) - 1)]
        if len(t) != COARSE + 1 and len(flows) > FINE // 3:
            break
        t = _grid(net, float(first), float(last))
    if min(found.v) < 0.0 or abs(found.v[-1] - found.v[0]) > 1e-5 * net.peak_v:
        raise CircuitError(["the load takes more current than this supply can give"])
    return found


def steady_choke(net: Net) -> Run:
    """Waves of the steady state of a choke-input supply, over one period.

    Newton on the map of (choke current, reservoir volts) over a period, damped.

    Raises
    ------
    CircuitError : the load takes more than the supply can give.
    """
    t = np.linspace(0.0, net.period, CHOKE_STEPS + 1)
    scale = np.array([max(net.peak_v * net.siemens + net.amps, 1e-6), net.peak_v])

    def miss(x: Array) -> Array:
        ran = run(net, t, float(x[1] * scale[1]), float(x[0] * scale[0]))
        ends: Array = np.array([ran.i[-1], ran.v[-1]])
        gained: Array = ends / scale - x
        return gained

    x = np.array([0.6, 0.6])
    r = miss(x)
    for _ in range(60):
        if float(np.abs(r).max()) < 1e-8:
            break
        x, r = _newton_step(miss, x, r)
    found = run(net, t, float(x[1] * scale[1]), float(x[0] * scale[0]))
    if float(np.abs(r).max()) > 1e-5 or min(found.v) < 0.0:
        raise CircuitError(["the load takes more current than this supply can give"])
    return found


def _newton_step(miss: Callable[[Array], Array], x: Array, r: Array) -> tuple[Array, Array]:
    """One damped Newton step; where it gains nothing, a few plain periods instead."""
    jacobian = np.empty((2, 2))
    for k in range(2):
        moved = x.copy()
        moved[k] += 1e-5
        jacobian[:, k] = (miss(moved) - r) / 1e-5
    try:
        step = np.linalg.solve(jacobian, -r)
    except np.linalg.LinAlgError:
        step = r
    size = float(np.abs(r).max())
    for damp in (1.0, 0.5, 0.25, 0.1):
        new = x + damp * step
        new[0] = max(float(new[0]), 0.0)
        r_new = miss(new)
        if float(np.abs(r_new).max()) < 0.9 * size:
            return new, r_new
    for _ in range(8):
        x = x + r
        r = miss(x)
    return x, r
