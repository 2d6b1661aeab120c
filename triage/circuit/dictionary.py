"""What tells faults of one circuit apart by direct volts and currents, and which look alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.circuit.expected import HIGH, LOW, spread
from triage.circuit.faults import Fault, variants_of
from triage.circuit.netlist import Netlist
from triage.circuit.solve import solve
from triage.circuit.table import points

Floats = NDArray[np.float64]
VERSION = "1"
"""Part of the name of a kept dictionary: to be raised when the same circuit gives other values."""
LEAST_SHARE = 0.02
"""No meter and nobody tells two values apart that differ by less than this share."""
LEAST = {"V": 0.02, "A": 2e-5, "W": 0.05}
"""Nor by less than this, in SI of the point's unit."""


@dataclass(frozen=True)
class Dictionary:
    """Values of every point under every fault, the sound circuit first.

    ``values`` has shape (1 + faults, points), NaN where a member was not solved; ``widths`` is half
    the band of sound amplifiers, shape (points,): the measure of what can be told apart.
    """

    faults: tuple[Fault, ...]
    points: tuple[str, ...]
    units: tuple[str, ...]
    values: Floats
    widths: Floats

    def name(self, row: int) -> str:
        """Name of a row: the fault's, or 'sound'."""
        return "sound" if row == 0 else self.faults[row - 1].name

    def apart(self, a: int, b: int) -> Floats:
        """Difference of two rows at every point, in band halves, shape (points,)."""
        return np.asarray(np.abs(self.values[a] - self.values[b]) / self.widths)

    def best(self, a: int, b: int) -> tuple[str, float]:
        """The point that tells two rows apart best, and by how many band halves."""
        found = np.nan_to_num(self.apart(a, b))
        at = int(np.argmax(found))
        return self.points[at], float(found[at])

    def groups(self) -> list[list[int]]:
        """Rows that no point tells apart (ambiguity groups of IEEE 1522), largest first.

        A row joins the first group whose first member it is not told apart from.
        """
        found: list[list[int]] = []
        for row in range(len(self.values)):
            if np.isnan(self.values[row]).any():
                continue
            for group in found:
                if float(np.max(self.apart(group[0], row))) < 1.0:
                    group.append(row)
                    break
            else:
                found.append([row])
        return sorted(found, key=lambda group: (-len(group), group[0]))


def dictionary(net: Netlist, faults: Sequence[Fault]) -> Dictionary:
    """The dictionary of a circuit in its sound state of tubes and line."""
    loose = spread(net)
    sound = solve(net, loose)
    rows = points(net, sound, loose)
    good = sound.settled
    middle = np.array([values[0] for *_, values in rows])
    low, high = (
        np.array([np.percentile(values[good], at) for *_, values in rows]) for at in (LOW, HIGH)
    )
    units = tuple(unit for _, _, unit, _ in rows)
    least = np.array([LEAST[unit] for unit in units])
    widths = np.maximum(np.maximum((high - low) / 2.0, LEAST_SHARE * np.abs(middle)), least)
    variants = variants_of(net, [None, *faults])
    found = solve(net, variants, sound)
    values = np.array([values for *_, values in points(net, found, variants)]).T
    values[~found.settled] = np.nan
    return Dictionary(tuple(faults), tuple(name for name, *_ in rows), units, values, widths)
