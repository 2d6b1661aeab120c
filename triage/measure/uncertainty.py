"""Readings that belong together: repeated, correlated, and how far a result may be off.

Source: JCGM 100:2008 (the Guide), 4.2 (type A), 5.2 (correlation), G.3 and G.4 (Student's t).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from uncertainties.core import Variable

from triage.errors import OutOfRange
from triage.measure.quantity import Origin, Quantity, derived
from triage.units import format_si


def repeated(readings: Sequence[float], unit: str, name: str = "") -> Quantity:
    """Mean of repeated readings; u = s/√n with n - 1 degrees of freedom (type A, the Guide 4.2).

    Raises
    ------
    OutOfRange : fewer than two readings, or one that is no finite number.
    """
    n = len(readings)
    if n < 2:
        raise OutOfRange("number of readings", n, "two or more", "read it again, or give its u")
    if not all(math.isfinite(x) for x in readings):
        raise OutOfRange("a repeated reading", str(list(readings)), "a list of finite numbers")
    mean = math.fsum(readings) / n
    s = math.sqrt(math.fsum((x - mean) ** 2 for x in readings) / (n - 1))
    return Quantity(mean, s / math.sqrt(n), unit, name=name, dof=float(n - 1))


def correlated(
    inputs: Sequence[Quantity], coefficients: Sequence[Sequence[float]]
) -> tuple[Quantity, ...]:
    """The same inputs with correlation ``coefficients`` (n x n, ones on the diagonal).

    Shape: as many results as inputs, in their order. In a budget they stand as one line.

    Raises
    ------
    OutOfRange : the table is no correlation matrix of these inputs.
    """
    n = len(inputs)
    lower = _root(coefficients, n)
    label = ", ".join(q.name or "input" for q in inputs) + " (correlated)"
    dof = min((q.dof for q in inputs), default=math.inf)
    common = [Variable(0.0, 1.0, Origin(label, "common", dof)) for _ in range(n)]
    made = []
    for q, row in zip(inputs, lower, strict=True):
        affine: Any = q.value
        for factor, part in zip(row, common, strict=True):
            if factor and q.total_u:
                affine = affine + factor * q.total_u * part
        made.append(derived(affine, q.unit, [(q, 1.0)]))
    return tuple(made)


def _root(table: Sequence[Sequence[float]], n: int) -> list[list[float]]:
    """Lower triangular root of a correlation matrix (Cholesky)."""
    square = len(table) == n and all(len(row) == n for row in table)
    if not square or any(
        table[i][i] != 1.0 or table[i][j] != table[j][i] or not -1.0 <= table[i][j] <= 1.0
        for i in range(n)
        for j in range(n)
    ):
        raise OutOfRange(
            "correlation table", str(table), f"{n} x {n}, symmetrical, 1 on the diagonal,"
        )
    lower = [[0.0] * n for _ in range(n)]
    for i in range(n):
        for j in range(i + 1):
            rest = table[i][j] - math.fsum(lower[i][k] * lower[j][k] for k in range(j))
            if i != j:
                lower[i][j] = rest / lower[j][j] if lower[j][j] > 1e-9 else 0.0
            elif rest < -1e-9:
                raise OutOfRange(
                    "correlation table", str(table), "one that can be (no negative root)"
                )
            else:
                lower[i][i] = math.sqrt(max(rest, 0.0))
    return lower


def correlation(a: Quantity, b: Quantity) -> float:
    """Correlation coefficient of two results, -1 to 1; 0 if one of them is exact."""
    if not (a.total_u and b.total_u):
        return 0.0
    slopes_a, slopes_b = _slopes(a.affine), _slopes(b.affine)
    shared = math.fsum(
        slopes_a[v] * slopes_b[v] * v.std_dev**2 for v in slopes_a if v in slopes_b
    )  # fmt: skip
    return shared / (a.total_u * b.total_u)


def _slopes(affine: Any) -> dict[Any, float]:
    return {} if isinstance(affine, float) else dict(affine.derivatives)


@dataclass(frozen=True)
class Expanded:
    """Interval half width at a level of confidence: ``half`` = ``k`` x u, with the t of ``dof``."""

    half: float
    k: float
    dof: float
    level: float
    quantity: Quantity

    def __str__(self) -> str:
        """Render as '100.1 V ± 0.7 V (95 %, k = 2.09, 19 degrees of freedom)'."""
        dof = "many" if math.isinf(self.dof) else f"{self.dof:.3g}"
        half = format_si(self.half, self.quantity.unit, 2)
        value = format_si(self.quantity.value, self.quantity.unit, 4)
        return f"{value} ± {half} ({self.level:.0%}, k = {self.k:.3g}, {dof} degrees of freedom)"


def effective_dof(quantity: Quantity) -> float:
    """Degrees of freedom of a result by the Welch-Satterthwaite formula (the Guide, G.2b)."""
    parts = [row for row in quantity.budget() if math.isfinite(row.dof)]
    rest = math.fsum(row.u**4 / row.dof for row in parts)
    return quantity.total_u**4 / rest if rest > 0.0 else math.inf


def expanded(quantity: Quantity, level: float = 0.95) -> Expanded:
    """Expanded uncertainty at a level of confidence, by Student's t (the Guide, G.6.4).

    The degrees of freedom are rounded down to a whole number, which errs on the wide side.

    Raises
    ------
    OutOfRange : a level that is not between 0 and 1 (0.9999), or a one-sided quantity.
    """
    if quantity.one_sided:
        raise OutOfRange(quantity.name or "quantity", str(quantity), "one number, no bound,")
    dof = effective_dof(quantity)
    whole = math.floor(dof + 1e-9) if math.isfinite(dof) else math.inf
    k = student_t(level, max(1.0, whole))
    return Expanded(k * quantity.total_u, k, dof, level, quantity)


def student_t(level: float, dof: float) -> float:
    """Two-sided quantile of Student's t: |t| is below it with probability ``level``.

    Valid for 0 < level <= 0.9999 and 1 or more degrees of freedom (infinite: the normal one).

    Raises
    ------
    OutOfRange : outside of that.
    """
    if not 0.0 < level <= 0.9999:
        raise OutOfRange("level of confidence", level, "above 0, up to 0.9999,")
    if not dof >= 1.0:
        raise OutOfRange("degrees of freedom", dof, "1 or more")
    low, high = 0.0, 1e4
    for _ in range(100):
        middle = (low + high) / 2
        if _inside(middle, dof) < level:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _inside(t: float, dof: float) -> float:
    """Probability that |T| < t."""
    if dof > 1e6:
        return math.erf(t / math.sqrt(2.0))
    return 1.0 - _beta(dof / 2.0, 0.5, dof / (dof + t * t))


def _beta(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function, by its continued fraction (Lentz)."""
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - _beta(b, a, 1.0 - x)
    scale = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    front = math.exp(scale + a * math.log(x) + b * math.log1p(-x)) / a
    c, d = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0))
    total = d
    for m in range(1, 300):
        for part in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1.0 / (1.0 + part * d)
            c = 1.0 + part / c
            total *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return front * total
