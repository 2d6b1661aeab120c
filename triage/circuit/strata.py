"""A fault's range as a chain of points: the rows of the file, and points half-way between them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from triage.circuit.faults import Fault, FaultKind
from triage.units import value_of

GRADED = ("times", "emission", "gas", "reservoir", "volts")
"""What can be more or less; a resistance as well (``ohm``)."""
FROM_SOUND = ("times", "emission", "volts")
"""What is 1 in a sound part: a chain begins half-way from there."""
DEAR = "reservoir"
"""A supply's curve is anew for every size of this: its points are those of the file alone."""
LEAKS = ("15 Mohm", "150 Mohm")
"""What an open resistor may still let through (carbon, dirt, a damp board; judgement)."""
NEAR_SOUND = 1.25
"""No point is put nearer to sound than by this factor."""


@dataclass(frozen=True)
class Stratum:
    """One point of a fault's range. ``chain`` numbers the ranges; a chain stands in its order."""

    fault: Fault
    chain: int


def strata_of(faults: Sequence[Fault]) -> tuple[Stratum, ...]:
    """All faults that have a cause and a place, with the points between those of one mode."""
    chains: dict[tuple[str, str, str | None, str], list[Fault]] = {}
    for fault in faults:
        if fault.causes and fault.place is not None:
            field = next((f for f in (*GRADED, "ohm") if _size(fault.kind, f) is not None), "")
            # a loss and a rise of one part are two ranges
            up = field == "emission" and (_size(fault.kind, field) or 0.0) > 1.0
            key = (fault.part, fault.kind.mode, fault.place, f"{field}{'+' if up else ''}")
            chains.setdefault(key, []).append(fault)
    found: list[Stratum] = []
    for number, ((*_, name), members) in enumerate(chains.items()):
        field = name.rstrip("+")
        if field:
            members = sorted(members, key=lambda f: abs(_log(_size(f.kind, field))))
            if field == "ohm":
                members.reverse()
        row = [_leaking(f, ohm) for f in members if _breaks(f) for ohm in LEAKS]
        if field in FROM_SOUND:
            first = _between(None, members[0], field)
            row += [first] if first is not None else []
        for i, fault in enumerate(members):
            if i and field and field != DEAR:
                middle = _between(members[i - 1], fault, field)
                row += [middle] if middle is not None else []
            row.append(fault)
        found += [Stratum(fault, number) for fault in row]
    return tuple(found)


def _breaks(fault: Fault) -> bool:
    return fault.kind.part == "resistor" and fault.kind.open


def _leaking(fault: Fault, ohm: str) -> Fault:
    """An open part that still lets a little through."""
    kind = fault.kind.model_copy(update={"open": False, "ohm": ohm, "id": f"{fault.kind.id}_damp"})
    return Fault(fault.part, kind, fault.place, fault.causes)


def _size(kind: FaultKind, field: str) -> float | None:
    if field == "ohm":
        return value_of(kind.ohm, "ohm") if kind.ohm is not None else None
    size: float | None = getattr(kind, field)
    return size


def _log(size: float | None) -> float:
    return math.log(size) if size else 0.0


def _between(a: Fault | None, b: Fault, field: str) -> Fault | None:
    """The geometric middle of two points (or of sound and a point); None where there is none."""
    size = _size(b.kind, field)
    start = 1.0 if a is None else _size(a.kind, field)
    causes = b.causes if a is None else tuple(c for c in b.causes if c in a.causes)
    if size is None or start is None or not causes or size <= 0.0:
        return None
    middle = float((size * start) ** 0.5)
    if a is None and 1.0 / NEAR_SOUND < middle < NEAR_SOUND:
        return None
    value = f"{middle:.6g} ohm" if field == "ohm" else middle
    kind = b.kind.model_copy(update={field: value, "id": f"{b.kind.id}_less"})
    return Fault(b.part, kind, b.place, causes)
