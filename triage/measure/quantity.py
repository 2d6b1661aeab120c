"""A value with its standard uncertainty. Comparing two of them is the judges' business alone.

Propagation is first order, by the ``uncertainties`` library, which keeps track of every input: the
same reading entered twice cancels as it should (x - x is 0 ± 0). Source: JCGM 100:2008, 5.1 and 5.2.
"""

from __future__ import annotations

import math
import operator
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple, NoReturn

from uncertainties.core import Variable

from triage.errors import OutOfRange
from triage.measure import dimension
from triage.units import Trend, format_si

_ROOT3 = math.sqrt(3.0)
Kind = Literal["reading", "range", "common"]


class Origin(NamedTuple):
    """Where an input of a result comes from: its name, kind, and degrees of freedom.

    ``range`` is a typed range taken as rectangular; ``common`` a part that correlated inputs share.
    """

    name: str
    kind: Kind = "reading"
    dof: float = math.inf


@dataclass(frozen=True)
class Contribution:
    """What one input adds to a result: its standard uncertainty there, and its share of u²."""

    name: str
    u: float
    share: float
    dof: float = math.inf


@dataclass(frozen=True)
class Conditions:
    """What a reading was taken under; empty where nobody said."""

    power: str = ""
    line_v: float | None = None
    meter: str = ""

    def shared(self, other: Conditions) -> Conditions:
        """Conditions of a result of two readings: what both share, or only one of them says."""
        return Conditions(
            _same(self.power, other.power),
            self.line_v if self.line_v == other.line_v or other.line_v is None else (
                other.line_v if self.line_v is None else None),
            _same(self.meter, other.meter),
        )  # fmt: skip


NOT_SAID = Conditions()


def _same(a: str, b: str) -> str:
    return a if a == b or not b else b if not a else ""


@dataclass(frozen=True, eq=True)
class Quantity:
    """SI ``value`` with standard uncertainty ``u``; ``spread`` is the half width of a typed range.

    ``at_least`` and ``at_most`` mark a one-sided reading (">400 mV"); ``over`` a meter showing OL.
    ``name`` and ``dof`` (degrees of freedom) describe a reading in the budget of what it enters.

    Raises
    ------
    OutOfRange : no number, or infinite without being over range; or a negative uncertainty.
    """

    value: float
    u: float
    unit: str
    spread: float = 0.0
    at_least: bool = False
    at_most: bool = False
    over: bool = False
    trend: Trend = ""
    conditions: Conditions = field(default=NOT_SAID, compare=False)
    name: str = field(default="", compare=False)
    dof: float = field(default=math.inf, compare=False)
    affine: Any = field(init=False, default=None, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not (0.0 <= self.u < math.inf and 0.0 <= self.spread < math.inf):
            raise OutOfRange("uncertainty", min(self.u, self.spread), "zero or more, finite,")
        if math.isnan(self.value) or (math.isinf(self.value) and not self.over):
            raise OutOfRange(self.name or "value", self.value, "a finite number")
        affine: Any = float(self.value)
        if self.u > 0.0:
            affine = Variable(self.value, self.u, Origin(self.name, "reading", self.dof))
        if self.spread > 0.0:
            affine = affine + Variable(0.0, self.spread / _ROOT3, Origin(self.name, "range"))
        object.__setattr__(self, "affine", affine)

    @property
    def one_sided(self) -> bool:
        """Whether only a bound is known."""
        return self.at_least or self.at_most or self.over

    @property
    def total_u(self) -> float:
        """Standard uncertainty with the typed range taken as rectangular."""
        return math.hypot(self.u, self.spread / _ROOT3)

    def under(self, power: str = "", line_v: float | None = None, meter: str = "") -> Quantity:
        """The same reading with the conditions it was taken under."""
        return derived(self.affine, self.unit, [(self, 1.0)], Conditions(power, line_v, meter))

    def budget(self, symbols: Mapping[Any, str] | None = None) -> tuple[Contribution, ...]:
        """Contributions of the inputs to the uncertainty, the largest first; empty if exact.

        Inputs without a name go by ``symbols`` (by variable), else as "input"; correlated inputs
        are one line together.
        """
        total = self.total_u**2
        parts: dict[object, tuple[str, float, float]] = {}
        for variable, part in components(self.affine).items():
            origin = variable.tag if isinstance(variable.tag, Origin) else Origin("")
            name = origin.name or (symbols or {}).get(variable, "input")
            key: object = name if origin.kind == "common" else variable
            if origin.kind == "range":
                name = f"typed range of {name}"
            parts[key] = (name, origin.dof, parts.get(key, ("", 0.0, 0.0))[2] + part**2)
        rows = [
            Contribution(name, math.sqrt(variance), variance / total, dof)
            for name, dof, variance in parts.values()
            if variance > 0.0
        ]
        return tuple(sorted(rows, key=lambda row: -row.u))

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
        if self.over or b.over:
            return _over(self.unit, [(self, 1.0), (b, 1.0)])
        return derived(_applied(operator.add, self, b), self.unit, [(self, 1.0), (b, 1.0)])

    __radd__ = __add__

    def __neg__(self) -> Quantity:
        if self.over:
            raise OutOfRange(self.name or "reading", "OL", "a number that has a negative")
        return derived(-self.affine, self.unit, [(self, -1.0)])

    def __sub__(self, other: Quantity | float) -> Quantity:
        return self + (-self._other(other, self.unit))

    def __rsub__(self, other: float) -> Quantity:
        return (-self) + other

    def __mul__(self, other: Quantity | float) -> Quantity:
        b = self._other(other, "")
        unit, pair = dimension.product(self.unit, b.unit), [(self, b.value), (b, self.value)]
        if self.over or b.over:
            return _over(unit, pair)
        return derived(_applied(operator.mul, self, b), unit, pair)

    __rmul__ = __mul__

    def __truediv__(self, other: Quantity | float) -> Quantity:
        b = self._other(other, "")
        if b.value == 0.0 or b.over:
            allowed = "a number other than zero"
            raise OutOfRange(b.name or "divisor", "OL" if b.over else 0.0, allowed)
        unit = dimension.quotient(self.unit, b.unit)
        pair = [(self, b.value), (b, -self.value * b.value)]
        if self.over:
            return _over(unit, pair)
        return derived(_applied(operator.truediv, self, b), unit, pair)

    def __rtruediv__(self, other: float) -> Quantity:
        return Quantity(float(other), 0.0, "") / self

    def __pow__(self, exponent: float) -> Quantity:
        """Power with an exact exponent, of a positive value (or any, to a whole exponent above 0).

        Raises
        ------
        OutOfRange : a base that has no such power, or no uncertainty of one.
        """
        whole = exponent == int(exponent) and exponent >= 1
        if self.over or (self.value <= 0.0 and not whole):
            raise OutOfRange(self.name or "base of a power", str(self), "a value above zero")
        try:
            slope = exponent * self.value ** (exponent - 1)
            raised = self.affine**exponent
        except ArithmeticError:
            raise OutOfRange("power", str(self), "a value whose power is finite") from None
        return derived(raised, dimension.power(self.unit, exponent), [(self, slope)])

    def __str__(self) -> str:
        """Render as '35.5 mA ± 0.4 mA' (standard uncertainty)."""
        if self.over:
            return "OL"
        mark = ">" if self.at_least else "<" if self.at_most else ""
        text = mark + format_si(self.value, self.unit, 4)
        if self.total_u > 0:
            text += f" ± {format_si(self.total_u, self.unit, 2)}"
        return text + (f", {self.trend}" if self.trend else "")


Signed = Sequence[tuple[Quantity, float]]
"""Operands, each with the sign (or slope) of the result against it."""


def components(affine: Any) -> dict[Any, float]:
    """Standard uncertainty that each independent input gives to a result."""
    return {} if isinstance(affine, float) else dict(affine.error_components())


def _applied(operation: Callable[[Any, Any], Any], a: Quantity, b: Quantity) -> Any:
    """Result of an operation on two affine functions; refused where it is not finite."""
    try:
        if math.isfinite(operation(a.value, b.value)):
            return operation(a.affine, b.affine)
    except ArithmeticError:
        pass
    raise OutOfRange(f"result of {operation.__name__}", f"{a} with {b}", "a finite number")


def _bounds(operands: Signed) -> tuple[bool, bool]:
    up = any((q.at_least and s > 0) or (q.at_most and s < 0) for q, s in operands)
    down = any((q.at_most and s > 0) or (q.at_least and s < 0) for q, s in operands)
    if up and down:
        shown = " and ".join(str(q) for q, _ in operands)
        raise OutOfRange("bounds", shown, "bounds that lie on one side of the result",
                         "read one of the two as a number")  # fmt: skip
    return up, down


def _trend(operands: Signed) -> Trend:
    turned: dict[Trend, Trend] = {"rising": "falling", "falling": "rising"}
    found = {turned.get(q.trend, q.trend) if s < 0 else q.trend for q, s in operands if q.trend}
    return found.pop() if len(found) == 1 else "unsteady" if found else ""


def _over(unit: str, operands: Signed) -> Quantity:
    """Over range, where the result rises with what is over range."""
    if any(q.over and s <= 0 for q, s in operands):
        raise OutOfRange("reading", "OL", "a number, for this formula")
    return Quantity(math.inf, 0.0, unit, over=True, trend=_trend(operands))


def derived(
    affine: Any, unit: str, operands: Signed, conditions: Conditions | None = None
) -> Quantity:
    """Quantity out of an affine function of others; ``operands`` carry over bounds and trends.

    The widest typed range in it stays the result's ``spread``; what else there is becomes ``u``.

    Raises
    ------
    OutOfRange : the result is not finite, or its operands bound it from both sides.
    """
    parts = components(affine)
    value = affine if isinstance(affine, float) else float(affine.nominal_value)
    ranges = [p for v, p in parts.items() if isinstance(v.tag, Origin) and v.tag.kind == "range"]
    spread = max(ranges, default=0.0)
    u = math.sqrt(max(0.0, math.fsum(p * p for p in parts.values()) - spread * spread))
    if conditions is None:
        conditions = NOT_SAID
        for operand, _ in operands:
            conditions = conditions.shared(operand.conditions)
    at_least, at_most = _bounds(operands)
    made = Quantity(value, u if len(parts) > (spread > 0) else 0.0, unit, spread * _ROOT3,
                    at_least, at_most, trend=_trend(operands), conditions=conditions)  # fmt: skip
    object.__setattr__(made, "affine", affine)
    return made
