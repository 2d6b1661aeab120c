"""Capacitors: insulation, reforming, discharge, couplings."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import OutOfRange
from triage.measure import capacitors as c
from triage.measure.formulas import leakage_limit


@given(st.floats(1e-6, 1e-3), st.floats(10, 500), st.floats(1e-4, 5e-3))
def test_a_reforming_never_passes_more_than_its_limit(f: float, v: float, i: float) -> None:
    """Shorted at full volts the resistor holds the current, and bears it twice over."""
    plan = c.reform_plan(f, v, i)

    assert v / plan.resistor_ohm <= i * (1 + 1e-9)
    assert plan.resistor_w >= 2 * plan.short_w * (1 - 1e-9)
    assert plan.limit_a == leakage_limit(f, v)
    assert [s.volts for s in plan.stages] == sorted(s.volts for s in plan.stages)
    assert plan.stages[-1].volts == v


def test_a_reforming_counts_as_energised_from_an_outside_source() -> None:
    """The plan names the power state that the gates look at."""
    assert c.reform_plan(40e-6, 450).power == "external"


@pytest.mark.parametrize("amps", [6e-3, 0.05])
def test_more_than_five_milliamperes_are_refused(amps: float) -> None:
    """10 kohm at 450 V would be 45 mA into a short."""
    with pytest.raises(OutOfRange, match="current limit"):
        c.reform_plan(40e-6, 450, amps)


def test_one_ohm_a_volt_is_refused_as_a_discharge_tool() -> None:
    """A test norm's resistor opens at 450 W and leaves the charge."""
    with pytest.raises(OutOfRange, match="10 kohm"):
        c.discharge_plan(47e-6, 450, 450)


@given(st.floats(1e-9, 1e-2), st.floats(60, 2000), st.floats(1e3, 1e6))
def test_a_discharge_takes_longer_to_fewer_volts(f: float, v: float, r: float) -> None:
    """10 V comes after 50 V, and what is left then is what is asked."""
    plan = c.discharge_plan(f, v, r)

    assert 0 < plan.to_50_s < plan.to_10_s <= plan.hold_s
    assert c.drawn_down(v, r, f, plan.to_10_s) == pytest.approx(10.0)
    assert plan.element_v == pytest.approx(1.5 * v)


def test_an_electrolytic_comes_back_by_more_than_a_film() -> None:
    """Dielectric absorption by kind; another kind is refused."""
    wet, film = (c.discharge_plan(1e-6, 400, kind=k).rebound_v for k in
                 ("electrolytic", "polypropylene"))  # fmt: skip

    assert wet == pytest.approx(40.0)
    assert film < 1.0
    with pytest.raises(OutOfRange, match="kind"):
        c.discharge_plan(1e-6, 400, kind="wood")  # type: ignore[arg-type]  # wrong


def test_an_electrolytic_has_no_insulation_limit() -> None:
    """It is judged by the one leakage limit."""
    with pytest.raises(OutOfRange, match="leakage limit"):
        c.insulation_limit(20e-6, "electrolytic")


@given(st.floats(1, 2000), st.floats(1e3, 1e8), st.floats(1e3, 1e14))
def test_a_coupling_shifts_by_less_than_its_source(v: float, r: float, leak: float) -> None:
    """A divider: current times return is the shift, and below the source."""
    found = c.coupling_leak(v, r, leak)

    assert found.shift_v == pytest.approx(found.leak_a * r)
    assert 0 < found.shift_v < v * (1 + 1e-9)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -5.0])
def test_what_is_no_number_is_refused(bad: float) -> None:
    """Every entry checks its volts."""
    for entry in (lambda: c.discharge_plan(1e-5, bad), lambda: c.reform_plan(1e-5, bad),
                  lambda: c.coupling_leak(bad, 1e5, 1e8), lambda: c.resistor_watts(bad)):  # fmt: skip
        with pytest.raises(OutOfRange):
            entry()
