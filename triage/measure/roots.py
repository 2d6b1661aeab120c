"""A bracketed root for the load lines: sure, quick, and without any library."""

from __future__ import annotations

from collections.abc import Callable

TURNS = 200


def root(of: Callable[[float], float], low: float, high: float, close: float = 1e-12) -> float:
    """Where ``of`` crosses zero between ``low`` and ``high``: false position, Illinois variant.

    Parameters
    ----------
    of : continuous function with unlike signs at both ends (zero at an end counts).
    close : width of the bracket, as a share of the first one, at which it stops.

    Raises
    ------
    ValueError : both ends have one sign, so that nothing is bracketed.
    """
    at_low, at_high = of(low), of(high)
    if at_low == 0.0 or at_high == 0.0:
        return low if at_low == 0.0 else high
    if (at_low > 0) == (at_high > 0):
        raise ValueError(f"no root between {low:g} and {high:g}")
    least = close * abs(high - low)
    up = at_low > 0  # kept apart: the halvings below may take a tiny value to zero
    kept = ""
    for turn in range(TURNS):
        if abs(high - low) <= least:
            break
        at = high - at_high * (high - low) / (at_high - at_low)
        if turn % 3 == 2 or not min(low, high) < at < max(low, high):
            at = (low + high) / 2.0
        found = of(at)
        if found == 0.0:
            return at
        if (found > 0) == up:
            low, at_low = at, found
            at_high = at_high / 2.0 if kept == "high" else at_high
            kept = "high"
        else:
            high, at_high = at, found
            at_low = at_low / 2.0 if kept == "low" else at_low
            kept = "low"
    return (low + high) / 2.0
