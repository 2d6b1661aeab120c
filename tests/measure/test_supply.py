"""Filter sections behind a reservoir, and chokes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.errors import CircuitError, OutOfRange
from triage.measure import supply as s
from triage.measure.child import silicon
from triage.measure.rectifier import Load, Steady, Supply, steady

FOUND: Steady = steady(Supply("full_wave", 300.0, 60.0, 50.0, silicon(), 47e-6, Load(amps=0.1)))


def test_harmonics_add_up_to_the_ripple() -> None:
    """Power of the lines is the square of the RMS ripple (Parseval)."""
    lines = s.spectrum(FOUND, 100)

    assert math.sqrt(float(np.sum(np.abs(lines) ** 2)) / 2) == pytest.approx(
        FOUND.ripple_rms_v, rel=1e-3
    )


def test_one_section_leaves_what_the_simple_formula_says() -> None:
    """A lone LC section of small resistance: 1/(w^2 L C - 1)."""
    (node,) = s.filtered(FOUND, [s.Section(1.0, 20e-6, 0.1, 10.0)])

    assert node.left == pytest.approx(1.0 / ((2 * math.pi * 120) ** 2 * 10 * 20e-6 - 1), rel=1e-3)
    assert node.dc_v == pytest.approx(FOUND.dc_v - 0.1)


def test_two_rc_sections_load_each_other() -> None:
    """Equal sections in a row leave less than the square, by the ladder 1 + 3x + x^2."""
    x = 2j * math.pi * 120 * 1e3 * 10e-6

    nodes = s.filtered(FOUND, [s.Section(1e3, 10e-6, 0.01), s.Section(1e3, 10e-6, 0.01)])

    assert nodes[0].left * nodes[1].left == pytest.approx(1 / abs(1 + 3 * x + x * x), rel=1e-6)


def test_esr_spoils_a_section() -> None:
    """A dried capacitor leaves more ripple."""
    good, dried = (s.filtered(FOUND, [s.Section(1e3, 47e-6, 0.1, 0.0, r)])[0] for r in (0, 200))

    assert dried.ripple_rms_v > 5 * good.ripple_rms_v


def test_a_section_that_eats_all_volts_is_refused() -> None:
    """100 mA through 10 kohm are more volts than there are."""
    with pytest.raises(CircuitError, match="section 1"):
        s.filtered(FOUND, [s.Section(10e3, 20e-6, 0.1)])


def test_nothing_in_series_is_no_section() -> None:
    """A capacitor alone is the reservoir's part."""
    with pytest.raises(OutOfRange, match="series part"):
        s.Section(0.0, 20e-6)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.floats(10, 1e4), st.floats(1e-6, 1e-3), st.floats(1.1, 5.0))
def test_a_larger_capacitor_leaves_less(ohm: float, farad: float, more: float) -> None:
    """RC section: monotone in C."""
    a, b = (s.filtered(FOUND, [s.Section(ohm, c, 1e-3)])[0] for c in (farad, farad * more))

    assert b.ripple_rms_v < a.ripple_rms_v


@given(st.floats(0.01, 1000), st.sampled_from([50.0, 60.0]))
def test_the_largest_bleeder_makes_the_choke_critical(henry: float, hertz: float) -> None:
    """The two are one formula turned round."""
    assert s.critical_inductance(max(s.largest_bleeder(henry, hertz), 1.0), hertz) == (
        pytest.approx(henry)
    )


def test_formulas_refuse_where_they_do_not_hold() -> None:
    """Ripple above a fifth, and a section that does not smooth."""
    with pytest.raises(OutOfRange, match="ripple factor"):
        s.ripple_factor_capacitor(1e-6, 1e3, 120)
    with pytest.raises(OutOfRange, match="L C"):
        s.ripple_factor_choke(0.1, 1e-6, 60)
