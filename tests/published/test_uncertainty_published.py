"""Uncertainty and its intervals against numbers printed elsewhere.

Each case names what was read, or says "from memory" or "common practice, no source".
"""

import math

import pytest

from tests.published.rows import memory, seen
from triage.measure import (
    maths,
)
from triage.measure.quantity import Quantity
from triage.measure.uncertainty import correlated, correlation, expanded, repeated, student_t

NIST = "NIST TN 1297, table B.1"


def q(value: float, unit: str, u: float = 0.0) -> Quantity:
    return Quantity(value, u, unit)


def impedance() -> tuple[Quantity, Quantity, Quantity]:
    """R, X and Z of the Guide's example H.2, out of the inputs printed there."""
    v, i, phi = correlated(
        [
            Quantity(4.9990, 0.0032, "V", name="V", dof=4),
            Quantity(19.6610e-3, 0.0095e-3, "A", name="I", dof=4),
            Quantity(1.04446, 0.00075, "rad", name="phi", dof=4),
        ],
        [[1.0, -0.36, 0.86], [-0.36, 1.0, -0.65], [0.86, -0.65, 1.0]],
    )
    return v / i * maths.cos(phi), v / i * maths.sin(phi), v / i


R, X, Z = impedance()
GTC = "GUM H.2 as printed in gtc.readthedocs.io, GUM_H2"


@pytest.mark.parametrize(
    ("ours", "published", "within"),
    [
        seen(f"{GTC}: R 127.732", R.value, 127.732, 5e-4),
        seen(f"{GTC}: u(R) 0.070", R.u, 0.070, 5e-4),
        seen(f"{GTC}: X 219.85", X.value, 219.85, 5e-3),
        seen(f"{GTC}: u(X) 0.30", X.u, 0.30, 5e-3),
        seen(f"{GTC}: Z 254.26", Z.value, 254.26, 5e-3),
        seen(f"{GTC}: u(Z) 0.24", Z.u, 0.24, 5e-3),
        seen(f"{GTC}: r(R, X) -0.59", correlation(R, X), -0.59, 5e-3),
        seen(f"{GTC}: r(R, Z) -0.49", correlation(R, Z), -0.49, 5e-3),
        memory("GUM table H.4: X 219.847", X.value, 219.847, 1e-3),
        memory("GUM table H.4: Z 254.260", Z.value, 254.260, 1e-3),
        memory("GUM table H.4: u(R) 0.071, u from rounded inputs", R.u, 0.071, 1.5e-3),
        memory("GUM table H.4: u(X) 0.295", X.u, 0.295, 1.5e-3),
        memory("GUM table H.4: u(Z) 0.236", Z.u, 0.236, 1.5e-3),
        memory("GUM table H.4: r(X, Z) 0.993", correlation(X, Z), 0.993, 1e-3),
    ],
)
def test_correlated_inputs_give_the_guides_result(ours: float, published: float, within: float):
    """V, I and phi with their correlations give the printed R, X, Z, their u and correlations."""
    assert ours == pytest.approx(published, abs=within)


@pytest.mark.parametrize(
    ("level", "dof", "published", "within"),
    [
        seen(f"{NIST}: 95 %, 1", 0.95, 1, 12.71, 5e-3),
        seen(f"{NIST}: 95 %, 4", 0.95, 4, 2.78, 5e-3),
        seen(f"{NIST}: 95 %, 19", 0.95, 19, 2.09, 5e-3),
        seen(f"{NIST}: 99 %, 16 (k of GUM H.1)", 0.99, 16, 2.92, 5e-3),
        seen(f"{NIST}: 68.27 %, 2", 0.6827, 2, 1.32, 5e-3),
        seen(f"{NIST}: 99.73 %, 3", 0.9973, 3, 9.22, 5e-3),
        seen(f"{NIST}: 95 %, 100", 0.95, 100, 1.984, 5e-4),
        seen(f"{NIST}: 95 %, infinite", 0.95, math.inf, 1.960, 5e-4),
        seen("NAG library manual, g01tbc: 99 %, 45", 0.99, 45, 2.6896, 5e-5),
        seen("NAG library manual, g01tbc: 99 %, 20", 0.99, 20, 2.8453, 5e-5),
    ],
)
def test_students_t_is_the_printed_one(level: float, dof: float, published: float, within: float):
    """Two-sided t of few readings is the printed one to its last digit."""
    assert student_t(level, dof) == pytest.approx(published, abs=within)


@pytest.mark.published("seen", "l4labs.soton.ac.uk, Student's t: 23.471, SE 0.799, n 5")
def test_five_readings_have_the_printed_interval() -> None:
    """Standard error 0.799 of five readings is 2.218 at 95 %."""
    found = expanded(Quantity(23.471, 0.799, "s", dof=4.0))
    assert found.half == pytest.approx(2.218, abs=1e-3)


@pytest.mark.published("memory", "GUM 4.2.3 and 4.3.7 by hand: s/√n and a/√3")
def test_repeated_readings_have_the_u_of_their_mean() -> None:
    """Five readings 1 to 5: mean 3, u = √(2.5/5)."""
    found = repeated([1.0, 2.0, 3.0, 4.0, 5.0], "V")
    assert (found.value, found.dof) == (3.0, 4.0)
    assert found.u == pytest.approx(math.sqrt(0.5))
