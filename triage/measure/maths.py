"""Root, logarithm, exponential and trigonometry of quantities, with their uncertainty.

Outside their domain each of them refuses by name; none gives NaN or infinity.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from uncertainties import umath

from triage.errors import OutOfRange
from triage.measure.quantity import Quantity, derived

Number = Quantity | float


def _plain(x: Number, what: str, allowed: str) -> Quantity:
    q = x if isinstance(x, Quantity) else Quantity(float(x), 0.0, "")
    if q.over:
        raise OutOfRange(what, "OL", allowed)
    if q.unit not in ("", "rad"):
        raise OutOfRange(what, str(q), f"{allowed}, without unit,", "divide it by its reference")
    return q


def _above_zero(x: Number, what: str) -> Quantity:
    q = _plain(x, what, "a number above zero")
    if q.value <= 0.0:
        raise OutOfRange(what, q.value, "a number above zero")
    return q


def _applied(function: Callable[[Any], Any], q: Quantity, slope: float, unit: str = "") -> Quantity:
    return derived(function(q.affine), unit, [(q, slope)])


def sqrt(x: Number) -> Quantity:
    """Square root; the unit's root too (``V²`` gives ``V``). Zero is allowed if it is exact.

    Raises
    ------
    OutOfRange : below zero, or zero with an uncertainty.
    """
    q = x if isinstance(x, Quantity) else Quantity(float(x), 0.0, "")
    if q.value == 0.0 and q.total_u == 0.0:
        return Quantity(0.0, 0.0, (Quantity(1.0, 0.0, q.unit) ** 0.5).unit)
    if q.over or q.value <= 0.0:
        raise OutOfRange("value under a root", str(q), "a value above zero")
    return q**0.5


def power(x: Number, exponent: float) -> Quantity:
    """``x`` to an exact exponent.

    Raises
    ------
    OutOfRange : the power does not exist, or is not finite.
    """
    q = x if isinstance(x, Quantity) else Quantity(float(x), 0.0, "")
    return q**exponent


def log(x: Number) -> Quantity:
    """Natural logarithm of a plain number above zero, else OutOfRange."""
    q = _above_zero(x, "value under a logarithm")
    return _applied(umath.log, q, 1.0)


def log10(x: Number) -> Quantity:
    """Decimal logarithm of a plain number above zero, else OutOfRange."""
    q = _above_zero(x, "value under a logarithm")
    return _applied(umath.log10, q, 1.0)


def exp(x: Number) -> Quantity:
    """Exponential of a plain number at most 700, else OutOfRange."""
    q = _plain(x, "exponent", "a plain number of at most 700")
    if q.value > 700.0:
        raise OutOfRange("exponent", q.value, "a plain number of at most 700")
    return _applied(umath.exp, q, 1.0)


def sin(x: Number) -> Quantity:
    """Sine of an angle in rad."""
    q = _plain(x, "angle", "an angle in rad")
    return _applied(umath.sin, q, math.cos(q.value))


def cos(x: Number) -> Quantity:
    """Cosine of an angle in rad."""
    q = _plain(x, "angle", "an angle in rad")
    return _applied(umath.cos, q, -math.sin(q.value))


def atan(x: Number) -> Quantity:
    """Angle in rad whose tangent is ``x``."""
    return _applied(umath.atan, _plain(x, "tangent", "a plain number"), 1.0, "rad")
