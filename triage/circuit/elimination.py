"""Linear equations of many circuits with one pattern: eliminated once on paper, then in numbers.

A circuit is nearly a tree: few of its coefficients are not zero, and in a good order of elimination
few more arise. The order and every step of it are laid down once for a pattern; each step is then
taken for all members of a batch at once, the members being the last axis.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
FEW = 24
"""Batches below this are solved member by member, rows exchanged: that is quicker there."""


@dataclass(frozen=True)
class Row:
    """A row from which a pivot's row is taken: its number, the slot of its factor, and what changes.

    ``changes``: (slot that changes, slot of the pivot's row) for every column behind the pivot.
    """

    row: int
    factor: int
    changes: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Pivot:
    """One unknown: the slot on its diagonal, rows below, and (unknown, slot) of its own row."""

    at: int
    slot: int
    below: tuple[Row, ...]
    behind: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Pattern:
    """Where coefficients are not zero, and the steps that solve for the unknowns.

    Parameters
    ----------
    size : unknowns.
    slots : number of the coefficient at (row, column); those that arise are the last ones.
    given : how many slots hold coefficients of the equations themselves.
    pivots : in order of elimination.
    """

    size: int
    slots: Mapping[tuple[int, int], int]
    given: int
    pivots: tuple[Pivot, ...]

    @classmethod
    def of(cls, size: int, entries: Sequence[tuple[int, int]], after: Mapping[int, int]) -> Pattern:
        """Pattern with coefficients at ``entries`` (and on the whole diagonal).

        Parameters
        ----------
        after : unknown that must come later than another: a supply's current has no coefficient on
            its own diagonal before its node has been eliminated.

        Source
        ------
        Least products of row and column first (Markowitz 1957, from memory).
        """
        slots: dict[tuple[int, int], int] = {}
        for pair in [*((i, i) for i in range(size)), *entries]:
            slots.setdefault(pair, len(slots))
        given = len(slots)
        left = set(range(size))
        pivots: list[Pivot] = []

        def cost(k: int) -> tuple[int, int]:
            rows = sum((i, k) in slots for i in left)
            return (rows - 1) * (sum((k, j) in slots for j in left) - 1), k

        while left:
            k = min((k for k in left if after.get(k) not in left), key=cost)
            left.remove(k)
            columns = [j for j in sorted(left) if (k, j) in slots]
            below = []
            for i in [i for i in sorted(left) if (i, k) in slots]:
                changes = [(slots.setdefault((i, j), len(slots)), slots[k, j]) for j in columns]
                below.append(Row(i, slots[i, k], tuple(changes)))
            behind = tuple((j, slots[k, j]) for j in columns)
            pivots.append(Pivot(k, slots[k, k], tuple(below), behind))
        return cls(size, slots, given, tuple(pivots))

    def solve(self, values: Floats, right: Floats) -> Floats:
        """Unknowns, shape (size, members); not finite where a member has no solution.

        ``values``, shape (slots, members), and ``right``, shape (size, members), are used up. Rows
        are not exchanged in larger batches: a caller checks what it gets.
        """
        if right.shape[1] < FEW:
            try:
                return self._by_member(values, right)
            except np.linalg.LinAlgError:  # one member has no solution: the others are told apart
                pass
        with np.errstate(all="ignore"):
            return self._eliminated(values, right)

    def _eliminated(self, values: Floats, right: Floats) -> Floats:
        a, b = list(values), list(right)
        product = np.empty(right.shape[1])
        for pivot in self.pivots:
            inverse = np.divide(1.0, a[pivot.slot], out=a[pivot.slot])
            for row in pivot.below:
                factor = np.multiply(a[row.factor], inverse, out=a[row.factor])
                for changed, taken in row.changes:
                    np.multiply(factor, a[taken], out=product)
                    np.subtract(a[changed], product, out=a[changed])
                np.multiply(factor, b[pivot.at], out=product)
                np.subtract(b[row.row], product, out=b[row.row])
        for pivot in reversed(self.pivots):
            own = b[pivot.at]
            for unknown, slot in pivot.behind:
                np.multiply(a[slot], b[unknown], out=product)
                np.subtract(own, product, out=own)
            np.multiply(own, a[pivot.slot], out=own)
        return right

    def _by_member(self, values: Floats, right: Floats) -> Floats:
        whole = np.zeros((right.shape[1], self.size, self.size))
        rows, columns = np.array(list(self.slots)[: self.given]).T
        whole[:, rows, columns] = values[: self.given].T
        return np.asarray(np.linalg.solve(whole, right.T[..., None])[..., 0].T)
