"""Uncertainty by first-order propagation against sampling of the inputs."""

import math

import numpy as np
import pytest

from triage.measure import currents, grids, line, loading, maths, output, ripple, stages
from triage.measure.quantity import Quantity
from triage.measure.uncertainty import correlated, correlation

DRAWS = 2000
V, A, OHM, F, HZ, S, ONE = "V", "A", "ohm", "F", "Hz", "S", ""

CASES = {
    "sense current": (
        lambda v, r: currents.sense_current(v, r).cathode, [(0.4, 0.004, V), (10, 0.1, OHM)],
    ),
    "dissipation": (
        lambda v, i, k: currents.dissipation(v, i, k).quantity,
        [(402, 2, V), (0.044, 0.0006, A), (0.47, 0.01, V)],
    ),
    "mismatch of tubes": (
        lambda a, b: currents.mismatch([a, b]).quantity, [(0.044, 4e-4, A), (0.035, 4e-4, A)],
    ),
    "watts at the line": (
        lambda v, n: line.dissipation_factor(line.line_factor(v, n)).quantity,
        [(126, 0.8, V), (120, 0.1, V)],
    ),
    "ripple": (
        lambda i, c: ripple.sawtooth_rms(ripple.ripple_vpp(i, c, 120.0)).quantity,
        [(0.1, 0.001, A), (40e-6, 0.8e-6, F)],
    ),
    "regulation": (
        lambda a, b: ripple.regulation(a, b).quantity, [(450, 0.9, V), (400, 0.8, V)],
    ),
    "leak of a coupling capacitor": (
        lambda s, d, r: grids.leak_resistance(s, d, r, d).quantity,
        [(250, 1.5, V), (5.0, 0.06, V), (82e3, 1e3, OHM)],
    ),
    "triode gain": (
        lambda m, p, r, k: stages.triode_gain(m, p, r, k).quantity,
        [(100, 2, ONE), (62.5e3, 1e3, OHM), (100e3, 1e3, OHM), (1.5e3, 20, OHM)],
    ),
    "gain with feedback": (
        lambda a, r, s: stages.gain_with_feedback(a, stages.feedback_fraction(r, s)).quantity,
        [(400, 8, ONE), (4.7e3, 50, OHM), (100, 1, OHM)],
    ),
    "decibels of feedback": (
        lambda a, b: stages.feedback_db(a, b).quantity, [(400, 6, ONE), (50, 0.5, ONE)],
    ),
    "output power": (
        lambda v, r: output.output_power(v, r).quantity, [(16, 0.15, V), (8, 0.1, OHM)],
    ),
    "damping factor": (
        lambda a, b: output.damping_factor(a, b).quantity, [(2.2, 0.004, V), (2.0, 0.004, V)],
    ),
    "correction of loading": (
        lambda v, s, m: loading.unloaded(v, s, m).quantity,
        [(129, 0.5, V), (38.5e3, 1e3, OHM), (1e6, 2e4, OHM)],
    ),
    "RC section": (
        lambda r, c: ripple.rc_attenuation(r, c, 120.0).quantity,
        [(1e3, 15, OHM), (47e-6, 0.9e-6, F)],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_propagated_u_is_that_of_sampled_inputs(name: str) -> None:
    """The spread of results from sampled inputs is the propagated u, within sampling error."""
    formula, inputs = CASES[name]
    found = formula(*(Quantity(value, u, unit) for value, u, unit in inputs))
    rng = np.random.default_rng(20260)
    drawn = [rng.normal(value, u, DRAWS) for value, u, _ in inputs]
    units = [unit for _, _, unit in inputs]
    sample = np.array(
        [
            formula(
                *(Quantity(float(x), 0.0, unit) for x, unit in zip(row, units, strict=True))
            ).value
            for row in zip(*drawn, strict=True)
        ]
    )
    off = 4.0 / math.sqrt(2 * DRAWS)
    low, high = sample.std(ddof=1) * (1 - off), sample.std(ddof=1) * (1 + off)
    assert low <= found.u <= high
    assert abs(sample.mean() - found.value) <= 5.0 * found.u / math.sqrt(DRAWS) + 0.05 * found.u


def test_correlated_inputs_propagate_as_sampled_together() -> None:
    """R = V/I cos(phi) of correlated inputs has the u and correlation of joint samples."""
    table = np.array([[1.0, -0.36, 0.86], [-0.36, 1.0, -0.65], [0.86, -0.65, 1.0]])
    means, us = np.array([4.999, 19.661e-3, 1.04446]), np.array([3.2e-3, 9.5e-6, 7.5e-4])
    v, i, phi = correlated(
        [Quantity(m, u, unit) for m, u, unit in zip(means, us, (V, A, "rad"), strict=True)],
        table.tolist(),
    )
    r, x = v / i * maths.cos(phi), v / i * maths.sin(phi)
    rng = np.random.default_rng(4)
    drawn = rng.multivariate_normal(means, table * np.outer(us, us), 200_000)
    rs = drawn[:, 0] / drawn[:, 1] * np.cos(drawn[:, 2])
    xs = drawn[:, 0] / drawn[:, 1] * np.sin(drawn[:, 2])
    off = 4.0 / math.sqrt(2 * 200_000)
    assert r.u == pytest.approx(rs.std(ddof=1), rel=off + 1e-3)
    assert x.u == pytest.approx(xs.std(ddof=1), rel=off + 1e-3)
    assert correlation(r, x) == pytest.approx(np.corrcoef(rs, xs)[0, 1], abs=0.01)
