"""What a sound amplifier should read at each place, with the spread of its parts and tubes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from triage.circuit.netlist import Netlist
from triage.circuit.solve import Solved, Variants, solve
from triage.units import value_of

Floats = NDArray[np.float64]
SAMPLES = 96
TUBE_SPREAD = 0.13
"""Standard deviation of the log of a tube's current: sound tubes differ by about 30 % at most."""
LOW, HIGH = 5.0, 95.0
"""Percentiles of the band: nine of ten sound amplifiers read inside."""
KEPT = 8


@dataclass(frozen=True)
class Band:
    """What the middling amplifier reads, and the band of nine in ten. SI units."""

    mid: float
    low: float
    high: float


def spread(net: Netlist, members: int = SAMPLES, line: float = 1.0) -> Variants:
    """Sound amplifiers as they come: parts within their tolerance, tubes within their spread.

    The first member is the middling one. A tolerance is taken as two standard deviations.
    """
    sound = Variants.sound(net, members)
    parts = list(net.spec.parts.values())
    spread_of = _spread(members, len(parts) + len(net.tubes))
    for i, part in enumerate(parts):
        share = value_of(part.tol, "%") / 100.0
        sound.siemens[:, i] *= np.exp(-spread_of[:, i] * share / 2.0)
    sound.emission[:] = np.exp(spread_of[:, len(parts) :] * TUBE_SPREAD)
    sound.siemens[0], sound.emission[0] = net.siemens, 1.0
    sound.line[:] = line
    return sound


def _spread(members: int, parts: int) -> Floats:
    """Standard normal values, (members, parts), evenly spread in every column and without chance.

    Each column holds the same quantiles, in an order of its own: multiples of the square root of a
    prime, taken modulo one.
    """
    quantile = NormalDist().inv_cdf
    evenly = np.array([quantile((i + 0.5) / members) for i in range(members)])
    found = np.empty((members, parts))
    for part, root in enumerate(_roots(parts)):
        found[:, part] = evenly[np.argsort((np.arange(1, members + 1) * root) % 1.0)]
    return found


def _roots(count: int) -> list[float]:
    """Square roots of the first primes."""
    primes: list[int] = []
    n = 2
    while len(primes) < count:
        if all(n % p for p in primes):
            primes.append(n)
        n += 1
    return [float(np.sqrt(p)) for p in primes]


@dataclass(frozen=True)
class Expected:
    """Expected readings of one circuit, by finding and place; kept for the line volts asked last."""

    net: Netlist
    kept: dict[float, dict[tuple[str, str], Band]] = field(default_factory=dict)

    def readings(self, line: float = 1.0) -> Mapping[tuple[str, str], Band]:
        """Bands by (finding, place) at ``line`` volts as a share of nominal."""
        line = round(line, 2)
        if line not in self.kept:
            if len(self.kept) >= KEPT:
                self.kept.clear()
            self.kept[line] = self._readings(solve(self.net, spread(self.net, line=line)))
        return self.kept[line]

    def _readings(self, found: Solved) -> dict[tuple[str, str], Band]:
        spec, ok = self.net.spec, found.settled
        bands: dict[tuple[str, str], Band] = {}

        def put(finding: str, place: str | None, values: Floats) -> None:
            if place is not None and ok[0]:
                low, high = np.percentile(values[ok], [LOW, HIGH])
                bands[(finding, place)] = Band(float(values[0]), float(low), float(high))

        def volts(node: str) -> Floats:
            at = self.net.node(node)
            return found.volts[:, at] if at >= 0 else np.zeros(len(ok))

        for k, supply in enumerate(spec.supplies.values()):
            if k == 0:
                put("b_plus", "amp", volts(supply.node))
            curve, amps = self.net.curves[k], found.supply_a[:, k]
            ripple = np.array([curve.ripple_at(float(a)) for a in np.nan_to_num(amps)])
            put("ripple", supply.reservoir_place, ripple)
        for node, place in spec.names.items():
            finding = "bias_source" if place in self.net.spec.minus_places else "node_volts"
            put(finding, place, volts(node))
        fixed = any(supply.minus for supply in spec.supplies.values())
        for tube in spec.tubes.values():
            put("cathode_volts", tube.place, volts(tube.cathode))
            put("plate_volts", tube.place, volts(tube.plate))
            if fixed and tube.screen is not None:
                put("bias_at_pin", tube.place, volts(tube.grid))
        return bands
