"""A value with its standard uncertainty. Comparing two of them is the judges' business alone."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import NoReturn

from triage.units import Trend, format_si

_PRODUCT = {("V", "A"): "W", ("A", "ohm"): "V", ("ohm", "F"): "s", ("W", "s"): "J"}
_QUOTIENT = {
    ("V", "ohm"): "A", ("V", "A"): "ohm", ("W", "V"): "A", ("W", "A"): "V", ("J", "s"): "W",
}  # fmt: skip


def _product(a: str, b: str) -> str:
    if not a or not b:
        return a or b
    return _PRODUCT.get((a, b)) or _PRODUCT.get((b, a)) or f"{a}·{b}"


def _quotient(a: str, b: str) -> str:
    if a == b:
        return ""
    return a if not b else _QUOTIENT.get((a, b)) or f"{a or 1}/{b}"


@dataclass(frozen=True, eq=True)
class Quantity:
    """SI ``value`` with standard uncertainty ``u``; ``spread`` is the half width of a typed range.

    ``at_least`` and ``at_most`` mark a one-sided reading (">400 mV"); ``over`` a meter showing OL.
    Propagation is first order and takes the operands as independent (JCGM 100, 5.1.2).
    """

    value: float
    u: float
    unit: str
    spread: float = 0.0
    at_least: bool = False
    at_most: bool = False
    over: bool = False
    trend: Trend = ""

    def __post_init__(self) -> None:
        if not (self.u >= 0.0 and self.spread >= 0.0):
            raise ValueError("an uncertainty cannot be negative")

    @property
    def one_sided(self) -> bool:
        """Whether only a bound is known."""
        return self.at_least or self.at_most or self.over

    @property
    def total_u(self) -> float:
        """Standard uncertainty with the typed range taken as rectangular."""
        return math.hypot(self.u, self.spread / math.sqrt(3))

    def _refuse(self, other: object) -> NoReturn:
        raise TypeError(
            "quantities have uncertainty: use a judge of triage.measure to compare them"
        )

    def __lt__(self, other: object) -> bool:
        self._refuse(other)

    def __le__(self, other: object) -> bool:
        self._refuse(other)

    def __gt__(self, other: object) -> bool:
        self._refuse(other)

    def __ge__(self, other: object) -> bool:
        self._refuse(other)

    def _other(self, other: Quantity | float, unit: str) -> Quantity:
        return other if isinstance(other, Quantity) else Quantity(float(other), 0.0, unit)

    def __add__(self, other: Quantity | float) -> Quantity:
        b = self._other(other, self.unit)
        if b.unit != self.unit:
            raise ValueError(f"cannot add {b.unit or 'a plain number'} to {self.unit}")
        return replace(self, value=self.value + b.value, u=math.hypot(self.u, b.total_u))

    def __neg__(self) -> Quantity:
        return replace(self, value=-self.value, at_least=self.at_most, at_most=self.at_least)

    def __sub__(self, other: Quantity | float) -> Quantity:
        return self + (-self._other(other, self.unit))

    def __mul__(self, other: Quantity | float) -> Quantity:
        b = self._other(other, "")
        u = math.hypot(self.u * b.value, b.total_u * self.value)
        flip = b.value < 0
        return replace(
            self, value=self.value * b.value, u=u, unit=_product(self.unit, b.unit),
            spread=self.spread * abs(b.value),
            at_least=self.at_most if flip else self.at_least,
            at_most=self.at_least if flip else self.at_most,
        )  # fmt: skip

    def __truediv__(self, other: Quantity | float) -> Quantity:
        b = self._other(other, "")
        inverse = Quantity(1.0 / b.value, b.total_u / b.value**2, "")
        return replace(self * inverse, unit=_quotient(self.unit, b.unit))

    def __str__(self) -> str:
        """Render as '35.5 mA ± 0.4 mA' (standard uncertainty)."""
        if self.over:
            return "OL"
        mark = ">" if self.at_least else "<" if self.at_most else ""
        text = mark + format_si(self.value, self.unit, 4)
        if self.total_u > 0:
            text += f" ± {format_si(self.total_u, self.unit, 2)}"
        return text + (f", {self.trend}" if self.trend else "")
