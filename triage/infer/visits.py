"""What was seen, and in which visit: a fault that comes and goes was there for all of it or none.

A visit is one look at the amplifier, from one power-up (or swap, or repair) to the next. All that was
seen in a visit without seeing the fault happen shares one hidden state (semantics 1.2.8). For a cause
with share i of time away, and pi = 1, 0 or 0.3 by whether it happened while one looked,

    P(visit | cause) = w P(findings | cause) + (1 - w) prod b(finding),    w = 1 - i (1 - pi).

While a fault is away its amplifier answers as usual: its signs and rules bear only on visits in which
it was there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from triage.infer.circuit_joint import Joint

Floats = NDArray[np.float64]
MOST = 6
"""Visits with a state of their own; of more, the earliest are held to have been alike."""
TINY = 1e-300


@dataclass(frozen=True)
class Item:
    """Evidence on one finding instance.

    ``present``: chance that the fault was there when it was seen; ``visit``: which look it was.
    """

    weights: tuple[float, ...]
    present: float = 1.0
    visit: int = 0


@dataclass(frozen=True)
class RepairProof:
    """A repair that was made and tried: rows it would have cured, and what the proof said."""

    rows: frozenset[int]
    passed: bool


@dataclass(frozen=True)
class Evidence:
    """All evidence of a job at one moment."""

    items: Mapping[int, Item] = field(default_factory=dict)
    proofs: tuple[RepairProof, ...] = ()
    joint: Joint | None = None

    def plus(self, index: int, item: Item) -> Evidence:
        """Evidence with one finding set (replacing what was there)."""
        return Evidence({**self.items, index: item}, self.proofs, self.joint)

    def only(self, findings: frozenset[int], *, but: bool = False) -> Evidence:
        """Evidence by words on these findings alone; with ``but``, on all others."""
        kept = {f: item for f, item in self.items.items() if (f in findings) != but}
        return Evidence(kept, self.proofs)


@dataclass(frozen=True)
class Visit:
    """A look in which the fault may have been away: its findings, and the chance it was not."""

    present: float
    findings: frozenset[int]


@dataclass(frozen=True)
class Way:
    """One way in which it may have been: findings seen while the fault was away.

    ``weight``: log of its chance, shape as the shares it was made from.
    """

    away: frozenset[int]
    weight: Floats


def visits(items: Mapping[int, Item]) -> tuple[Visit, ...]:
    """Looks in which the fault may have been away, earliest first.

    What was seen while it happened (``present`` 1) belongs to none of them. Where one look says both
    'no' and 'unknown', the 'no' holds for the whole of it.
    """
    found: dict[int, Visit] = {}
    for f, item in items.items():
        if item.present < 1.0:
            was = found.get(item.visit, Visit(1.0, frozenset()))
            found[item.visit] = Visit(min(was.present, item.present), was.findings | {f})
    ordered = [found[visit] for visit in sorted(found)]
    early, late = ordered[: -MOST + 1], ordered[-MOST + 1 :]
    if len(ordered) > MOST:
        joined = frozenset(f for visit in early for f in visit.findings)
        return (Visit(min(visit.present for visit in early), joined), *late)
    return tuple(ordered)


def ways(looks: tuple[Visit, ...], goes: Floats) -> tuple[Way, ...]:
    """All ways in which the fault may have been there or away, first the one where it never was away.

    Parameters
    ----------
    goes : shares of time away, shape (rows,).
    """
    away = [np.log(np.maximum(goes * (1.0 - look.present), TINY)) for look in looks]
    there = [np.log(np.maximum(1.0 - goes * (1.0 - look.present), TINY)) for look in looks]
    found = []
    for n in range(len(looks) + 1):
        for chosen in combinations(range(len(looks)), n):
            weight = np.zeros(len(goes))
            for i in range(len(looks)):
                weight = weight + (away[i] if i in chosen else there[i])
            findings = frozenset(f for i in chosen for f in looks[i].findings)
            found.append(Way(findings, weight))
    return tuple(found)
