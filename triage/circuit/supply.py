"""A rectifier and its reservoir as a curve: volts at the node against the current it gives.

The curve is taken from the supply solver of the measurement core at a few currents and joined by
monotone cubics, so that the solver of the whole circuit can use it. What it costs: about 0.1 V
against the supply solver between its points (a test holds it).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.measure.child import KNEE_V, Diode, perveance
from triage.measure.rectifier import Load, Supply, steady
from triage.model.circuit import SupplySpec
from triage.units import value_of

Floats = NDArray[np.float64]
SHARES = (0.0, 0.002, 0.01, 0.03, 0.07, 0.13, 0.22, 0.34, 0.5, 0.7, 1.0)
"""Currents of the curve's points as shares of the largest one."""
SAG = 0.55
"""The largest current of the curve is one that leaves about this share of the peak."""


@dataclass(frozen=True)
class Curve:
    """Volts and ripple (V RMS) against current in A, rising current; ``sign`` -1 for a minus supply.

    ``slopes`` are those of the monotone cubic through the points.
    """

    amps: Floats
    volts: Floats
    ripple: Floats
    slopes: Floats
    sign: float
    ripple_hz: float

    @classmethod
    def of(cls, spec: SupplySpec, line: Mapping[str, str], **changed: float | str) -> Curve:
        """Curve of a supply as the file has it.

        ``changed``: ``reservoir`` in F, or ``kind``, in place of the file's (faults).
        """
        nominal = supply_of(spec, line)
        known = dict(changed)
        kind = str(known.get("kind", nominal.kind))
        farad = float(known.get("reservoir", nominal.reservoir_f))
        return _curve(
            kind, nominal.secondary_v, nominal.line_hz, nominal.source_ohm, nominal.diode, farad,
            -1.0 if spec.minus else 1.0,
        )  # fmt: skip

    def at(self, amps: Floats) -> tuple[Floats, Floats]:
        """Volts at these currents, and the slope dV/dI; straight on beyond both ends."""
        x, y, d = self.amps, self.volts, self.slopes
        i = np.clip(np.searchsorted(x, amps, side="right") - 1, 0, len(x) - 2)
        return _cubic(amps, (x[i], x[i + 1]), (y[i], y[i + 1]), (d[i], d[i + 1]))

    def ripple_at(self, amps: float) -> float:
        """Ripple in V RMS at a current."""
        return float(np.interp(amps, self.amps, self.ripple))


@dataclass(frozen=True)
class Curves:
    """Curves of many members as one table, one row for each that differs.

    ``which`` has shape (supplies, members): the row of each supply of each member.
    """

    amps: Floats
    volts: Floats
    slopes: Floats
    which: NDArray[np.int_]

    @classmethod
    def of(cls, members: Sequence[tuple[Curve, ...]]) -> Curves:
        """Table of the curves of every member."""
        rows = {id(row): row for row in members}
        kinds = {id(curve): curve for row in rows.values() for curve in row}
        number = {ident: n for n, ident in enumerate(kinds)}
        numbers = {ident: [number[id(curve)] for curve in row] for ident, row in rows.items()}
        longest = max((len(curve.amps) for curve in kinds.values()), default=0)

        def table(lines: Iterable[Floats]) -> Floats:
            return np.array([np.pad(line, (0, longest - len(line)), mode="edge") for line in lines])

        return cls(
            table(curve.amps for curve in kinds.values()),
            table(curve.volts for curve in kinds.values()),
            table(curve.slopes for curve in kinds.values()),
            np.array([numbers[id(row)] for row in members], dtype=int).reshape(len(members), -1).T,
        )

    def take(self, members: NDArray[np.int_]) -> Curves:
        """The curves of some of the members."""
        return Curves(self.amps, self.volts, self.slopes, self.which[:, members])

    def at(self, amps: Floats) -> tuple[Floats, Floats]:
        """Volts and slopes dV/dI at these currents, all of shape (supplies, members)."""
        which = self.which
        if not amps.size:
            return np.zeros_like(amps), np.zeros_like(amps)
        last = self.amps.shape[1] - 1
        ends = (self.amps < self.amps[:, -1:]).sum(axis=1)  # the last point, before any padding
        below = np.zeros(amps.shape, dtype=int)
        for point in self.amps.T[1:last]:
            below += point[which] <= amps
        i = np.minimum(below, ends[which] - 1) + which * (last + 1)
        x, y, d = (line.ravel() for line in (self.amps, self.volts, self.slopes))
        return _cubic(amps, (x[i], x[i + 1]), (y[i], y[i + 1]), (d[i], d[i + 1]))


Pair = tuple[Floats, Floats]


def _cubic(amps: Floats, ends: Pair, volts: Pair, slopes: Pair) -> Pair:
    """Value and slope of a cubic between two points; straight on outside of them."""
    (low, high), (a, b) = ends, volts
    h = high - low
    inside = np.clip(amps, low, high)
    t = (inside - low) / h
    p, q = slopes[0] * h, slopes[1] * h
    rest = 1.0 - t
    value = (a * (1 + 2 * t) + p * t) * rest**2 + (b * (3 - 2 * t) - q * rest) * t**2
    slope = (6 * t * rest * (b - a) + p * rest * (1 - 3 * t) + q * t * (3 * t - 2)) / h
    return np.asarray(value + (amps - inside) * slope), np.asarray(slope)


def supply_of(spec: SupplySpec, line: Mapping[str, str]) -> Supply:
    """The supply of the measurement core for a file's supply, unloaded."""
    silicon = Diode(knee_v=KNEE_V)
    diode = silicon
    if spec.drop is not None:
        point = (value_of(spec.drop.volts, "V"), value_of(spec.drop.at, "A"))
        diode = Diode(perveance=perveance([point]))
    return Supply(
        spec.kind,
        value_of(spec.winding, "V"),
        value_of(line["hertz"], "Hz"),
        value_of(spec.source, "ohm"),
        diode,
        value_of(spec.reservoir, "F"),
        Load(),
    )


KNOWN: dict[str, Curve] = {}
"""Curves made or recalled, by what they were made of; a curve takes half a second to make."""


def _curve(
    kind: str, volts: float, hertz: float, ohm: float, diode: Diode, farad: float, sign: float
) -> Curve:
    of = repr((kind, volts, hertz, ohm, diode, farad, sign))
    if of not in KNOWN:
        KNOWN[of] = _made(kind, volts, hertz, ohm, diode, farad, sign)
    return KNOWN[of]


def _made(
    kind: str, volts: float, hertz: float, ohm: float, diode: Diode, farad: float, sign: float
) -> Curve:
    bare = Supply(kind, volts, hertz, ohm, diode, farad, Load())  # type: ignore[arg-type]  # one of its kinds
    least = bare.peak_v * SAG / _most(bare)  # ohm that takes the largest current of the curve
    found = [steady(bare)]
    for share in SHARES[1:]:
        found.append(steady(replace(bare, load=Load(ohm=least / (SAG * share)))))
    amps = np.array([0.0, *(s.load_a for s in found[1:])])
    dc = np.array([s.dc_v for s in found])
    ripple = np.array([s.ripple_rms_v for s in found])
    return Curve(amps, dc, ripple, _monotone(amps, dc), sign, bare.ripple_hz)


def _most(bare: Supply) -> float:
    """A current that leaves about ``SAG`` of the peak volts."""
    amps = bare.peak_v / (40.0 * bare.source_ohm)
    for _ in range(40):
        left = steady(replace(bare, load=Load(ohm=bare.peak_v * SAG / amps))).dc_v / bare.peak_v
        if abs(left - SAG) < 0.05:
            return amps * left / SAG
        amps *= (1.0 - SAG) / max(1.0 - left, 0.1)  # the fall grows about as the current
    return amps


def _monotone(x: Floats, y: Floats) -> Floats:
    """Slopes of the monotone cubic through the points (Fritsch and Carlson's harmonic mean)."""
    step = np.diff(y) / np.diff(x)
    slopes = np.empty_like(y)
    slopes[0], slopes[-1] = step[0], step[-1]
    both = step[:-1] * step[1:]
    total = step[:-1] + step[1:]
    slopes[1:-1] = np.where(both > 0.0, 2.0 * both / np.where(total == 0.0, 1.0, total), 0.0)
    return slopes
