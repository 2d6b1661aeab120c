"""Diodes of a supply: silicon with a knee, tubes by Child's law, and perveance out of a sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from triage.errors import OutOfRange
from triage.measure.worked import given

KNEE_V = 0.8
"""Forward drop of a silicon rectifier at the currents of a tube supply (from memory)."""
MOST_PERVEANCE = 1.0
"""A/V^1.5; the largest audio rectifiers have about 0.004 (from memory)."""


@dataclass(frozen=True)
class Diode:
    """One diode or one plate: volts lost at current i are knee + R i + (i/G)^(2/3).

    Parameters
    ----------
    knee_v : V, 0 to 10 (silicon; selenium stacks higher than silicon).
    perveance : G in A/V^1.5 of one plate, above 0 and at most 1; None for silicon.
    ohm : ohm in series inside the diode, 0 to 10 000.

    Raises
    ------
    OutOfRange : a value outside its range, named.

    Source
    ------
    Child and Langmuir's law; form as in public rectifier models for SPICE.
    """

    knee_v: float = 0.0
    perveance: float | None = None
    ohm: float = 0.0

    def __post_init__(self) -> None:
        given("knee of the diode", self.knee_v, "V", least=0.0, most=100.0)
        given("resistance of the diode", self.ohm, "ohm", least=0.0, most=1e4)
        if self.perveance is not None:
            given("perveance", self.perveance, "A/V^1.5", above=1e-7, most=MOST_PERVEANCE)

    def drop(self, amps: float) -> float:
        """Volts lost at a forward current in A, from 0 to 1000.

        Raises
        ------
        OutOfRange : a current outside that range.
        """
        i = given("current", amps, "A", least=0.0, most=1e3).value
        return self.knee_v + self.ohm * i + self.space_charge(i)

    def space_charge(self, amps: float) -> float:
        """Volts of Child's law alone, (i/G)^(2/3); 0 for silicon."""
        if self.perveance is None or amps <= 0.0:
            return 0.0
        return float((amps / self.perveance) ** (2.0 / 3.0))

    def current(self, volts: float, series_ohm: float) -> float:
        """Current in A when ``volts`` stand across the diode and ``series_ohm`` in series.

        0 below the knee. Newton on s = (i/G)^(1/3) from above, where the cubic is convex.
        """
        y = volts - self.knee_v
        if y <= 0.0:
            return 0.0
        ohm = series_ohm + self.ohm
        if self.perveance is None:
            return y / ohm
        g = self.perveance
        b = ohm * g
        s = math.sqrt(y)
        if b > 0.0:
            s = min(s, (y / b) ** (1.0 / 3.0))
        for _ in range(40):
            step = (s * s * (1.0 + b * s) - y) / (s * (2.0 + 3.0 * b * s))
            s -= step
            if abs(step) < 1e-13 * s:
                break
        return g * s * s * s

    def in_series(self) -> Diode:
        """Two of these in series, as one diode: a bridge conducts through two."""
        g = None if self.perveance is None else self.perveance / 2.0**1.5
        return Diode(2.0 * self.knee_v, g, 2.0 * self.ohm)


def silicon(ohm: float = 0.0) -> Diode:
    """Silicon rectifier: knee of 0.8 V (from memory) and series resistance in ohm.

    Raises
    ------
    OutOfRange : a resistance below 0 or above 10 kohm.
    """
    return Diode(KNEE_V, None, ohm)


def tube(perveance: float, ohm: float = 0.0) -> Diode:
    """One plate of a rectifier tube with ``perveance`` in A/V^1.5 and ohm in series.

    Raises
    ------
    OutOfRange : a value outside the range of ``Diode``.
    """
    return Diode(0.0, perveance, ohm)


def perveance(points: Sequence[tuple[float, float]]) -> float:
    """Perveance G in A/V^1.5 of one plate out of drops on a sheet: pairs (V, A).

    G = geometric mean of I/V^1.5, so that relative misses count alike. One point is enough.
    Valid for drops of 1 to 500 V at 0.1 mA to 10 A.

    Raises
    ------
    OutOfRange : no point, or one outside that range.

    Source
    ------
    Child's law; the fit is derived here.
    """
    if not points:
        raise OutOfRange("drops of the sheet", "none", "at least one pair of volts and amperes")
    logs = []
    for volts, amps in points:
        v = given("drop", volts, "V", least=1.0, most=500.0).value
        i = given("current at the drop", amps, "A", least=1e-4, most=10.0).value
        logs.append(math.log(i) - 1.5 * math.log(v))
    return math.exp(math.fsum(logs) / len(logs))
