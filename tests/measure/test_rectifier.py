"""Rectifier and reservoir: balances, directions, ends of the range, limits."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.errors import CircuitError, OutOfRange
from triage.measure.child import Diode, perveance, silicon, tube
from triage.measure.rectifier import (
    Kind,
    Load,
    Supply,
    dc_uncertainty,
    mean,
    regulate,
    source_resistance,
    steady,
    switch_on,
)
from triage.measure.rectifier_limits import (
    RectifierLimits,
    cold_start,
    judge_rectifier,
    surge,
)

G_5U4GB = 0.783455e-3
HALL = Supply("full_wave", 360.0, 60.0, 76.0, tube(G_5U4GB), 40e-6, Load(amps=0.105))

quick = settings(max_examples=25, deadline=None, derandomize=True)
diodes = st.sampled_from([silicon(), tube(G_5U4GB), tube(1.7e-3), silicon(5.0)])
supplies = st.builds(
    Supply,
    kind=st.sampled_from(["full_wave", "bridge", "half_wave"]),
    secondary_v=st.floats(100.0, 600.0),
    line_hz=st.sampled_from([50.0, 60.0]),
    source_ohm=st.floats(5.0, 300.0),
    diode=diodes,
    reservoir_f=st.floats(8e-6, 200e-6),
    load=st.builds(Load, ohm=st.floats(2e3, 50e3)),
)


@quick
@given(supplies)
def test_mean_current_of_the_plates_is_the_current_of_the_load(supply: Supply) -> None:
    """Charge is kept: what comes out of the rectifier goes into the load."""
    found = steady(supply)

    assert mean(found.t_s, found.total_a) == pytest.approx(found.load_a, rel=2e-3)


@quick
@given(supplies)
def test_energy_taken_from_the_source_is_spent(supply: Supply) -> None:
    """EMF times current over a cycle is load, source resistance and diode together."""
    found = steady(supply)
    emf = supply.peak_v * np.sin(2 * math.pi * supply.line_hz * found.t_s)
    emf = np.maximum(emf, 0.0) if supply.kind == "half_wave" else np.abs(emf)
    lost = np.array([supply.path.drop(i) * i for i in found.total_a])

    taken = mean(found.t_s, emf * found.total_a)
    spent = mean(found.t_s, found.total_a**2) * supply.source_ohm + mean(found.t_s, lost)
    spent += mean(found.t_s, found.reservoir_v**2) * supply.load.siemens

    assert spent == pytest.approx(taken, rel=5e-3)


@quick
@given(supplies, st.floats(1.2, 4.0))
def test_more_load_lowers_the_supply_and_raises_its_ripple(supply: Supply, more: float) -> None:
    """A heavier load never gains volts; ripple grows while it is a small part of the supply."""
    assert supply.load.ohm is not None
    light = steady(supply)
    heavy = steady(replace(supply, load=Load(ohm=supply.load.ohm / more)))

    assert heavy.dc_v < light.dc_v
    if heavy.ripple_pp_v < 0.2 * heavy.dc_v:
        assert heavy.ripple_pp_v > light.ripple_pp_v


@quick
@given(supplies, st.floats(1.2, 4.0))
def test_a_larger_reservoir_lowers_the_ripple(supply: Supply, more: float) -> None:
    """More capacitance, less ripple."""
    found = steady(replace(supply, reservoir_f=supply.reservoir_f * more))

    assert found.ripple_pp_v < steady(supply).ripple_pp_v


@quick
@given(supplies, st.floats(1.2, 4.0))
def test_more_source_resistance_lowers_peak_current_and_volts(supply: Supply, more: float) -> None:
    """Resistance in the source spreads the current and costs volts."""
    found, plain = steady(replace(supply, source_ohm=supply.source_ohm * more)), steady(supply)

    assert found.peak_a < plain.peak_a
    assert found.dc_v < plain.dc_v
    assert found.conduction_deg > plain.conduction_deg - 0.5


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.sampled_from(["full_wave", "bridge", "half_wave", "mesh"]),
    st.floats(-10.0, 6000.0),
    st.floats(0.0, 2000.0),
    st.floats(0.0, 1e6),
    st.floats(0.0, 2e-3),
    st.one_of(st.just(0.0), st.floats(0.0, 0.2), st.floats(0.0, 30.0)),
    st.one_of(st.none(), st.floats(0.1, 1e9)),
    st.one_of(st.none(), st.floats(0.0, 2000.0)),
)
def test_any_input_gives_finite_numbers_or_a_named_error(
    kind: Kind,
    volts: float,
    hertz: float,
    source: float,
    farad: float,
    amps: float,
    ohm: float | None,
    choke: float | None,
) -> None:
    """Never NaN: a steady state with finite numbers, or an error that names what is wrong."""
    try:
        supply = Supply(kind, volts, hertz, source, tube(1e-3), farad, Load(ohm, amps), choke)
        found = steady(supply)
    except (OutOfRange, CircuitError) as error:
        assert str(error)
        return

    numbers = [found.dc_v, found.ripple_pp_v, found.peak_a, found.plate_rms_a, found.inverse_v]
    assert all(math.isfinite(x) and x >= 0.0 for x in numbers)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0, 0.0])
def test_a_source_resistance_that_is_none_is_refused_by_name(bad: float) -> None:
    """The error names the quantity."""
    with pytest.raises(OutOfRange, match="source resistance"):
        replace(HALL, source_ohm=bad)


def test_a_load_that_is_too_much_is_refused() -> None:
    """A constant current that the supply cannot give has no steady state."""
    with pytest.raises(CircuitError, match="more current"):
        steady(replace(HALL, load=Load(amps=8.0)))


def test_choke_input_after_half_wave_is_refused() -> None:
    """There is no path for the choke's current in the other half cycle."""
    with pytest.raises(OutOfRange, match="half-wave"):
        replace(HALL, kind="half_wave", choke_h=10.0)


@pytest.mark.parametrize("choke", [None, 10.0])
def test_without_load_the_reservoir_holds_the_peak(choke: float | None) -> None:
    """No load: peak of the EMF, no ripple, no current, capacitor and choke input alike."""
    found = steady(replace(HALL, load=Load(), choke_h=choke))

    assert found.dc_v == pytest.approx(math.sqrt(2) * 360.0)
    assert (found.ripple_pp_v, found.peak_a) == (0.0, 0.0)


def test_half_wave_equals_full_wave_of_double_resistance_at_large_reservoirs() -> None:
    """Ideal diodes, ripple-free: half wave with R behaves as full wave with 2 R (derived)."""
    big = Supply("full_wave", 300.0, 60.0, 100.0, Diode(), 5e-3, Load(ohm=5e3))
    full = steady(big)
    half = steady(replace(big, kind="half_wave", source_ohm=50.0))

    assert half.dc_v == pytest.approx(full.dc_v, rel=2e-3)


def test_steps_are_fine_enough() -> None:
    """Forty cycles of plain stepping on an even grid come to the same steady state."""
    found = steady(HALL)
    ran = switch_on(replace(HALL, load=Load(ohm=found.dc_v / 0.105)), 40, 0.0)
    last = np.asarray(ran.v)[-1440:]

    assert float(last.mean()) == pytest.approx(found.dc_v, rel=2e-3)
    assert float(np.ptp(last)) == pytest.approx(found.ripple_pp_v, rel=1e-2)


def test_current_never_stops_above_critical_inductance_and_stops_below() -> None:
    """At 60 Hz 10 H keep conducting to about 11.3 kohm."""
    choke = replace(HALL, choke_h=10.0, choke_ohm=100.0)

    assert steady(replace(choke, load=Load(ohm=8e3))).continuous
    assert not steady(replace(choke, load=Load(ohm=15e3))).continuous


def test_switching_on_meets_no_more_than_the_surge() -> None:
    """The transient's first peak at the crest stays at or below the closed form."""
    ran = switch_on(HALL, 3)

    assert max(ran.i) == pytest.approx(surge(HALL, 1.0), rel=1e-3)


def test_regulation_names_its_parts() -> None:
    """The light load must be the lighter; steps show all numbers."""
    found = regulate(HALL, Load(amps=0.105), Load(amps=0.155))

    assert 0.0 < found.percent < 10.0
    assert found.source_ohm == pytest.approx((found.light.dc_v - found.heavy.dc_v) / 0.05)
    assert f"{found.heavy.dc_v:.1f} V" in found.steps[1]
    with pytest.raises(OutOfRange, match="heavy load"):
        regulate(HALL, Load(amps=0.155), Load(amps=0.105))


def test_uncertainty_of_the_winding_goes_into_the_supply_at_about_its_ratio() -> None:
    """One per cent of EMF is a little more than one per cent of B+."""
    u = dc_uncertainty(HALL, {"secondary_v": 3.6})

    assert 0.01 * 409.9 < u < 0.013 * 409.9
    assert dc_uncertainty(HALL, {"secondary_v": 3.6, "source_ohm": 8.0}) > u
    with pytest.raises(OutOfRange, match="colour"):
        dc_uncertainty(HALL, {"colour": 1.0})


def test_limits_are_judged_where_they_are_known() -> None:
    """Within, at the limit and over are told apart; unknown limits are left out."""
    found = steady(HALL)
    limits = RectifierLimits(inverse_v=1550.0, peak_a=0.4, first_f=40e-6, source_ohm=67.0)

    says = {check.name: check.says for check in judge_rectifier(found, limits)}

    assert says == {
        "inverse volts": "within", "peak current a plate": "over",
        "first capacitor": "at_the_limit", "source resistance": "within",
    }  # fmt: skip
    assert judge_rectifier(found, RectifierLimits()) == ()


def test_a_450_volt_can_is_over_volted_at_each_switch_on() -> None:
    """360 V of winding reach 509 V cold, 535 V at high line; a 700 V stack bears it."""
    assert not cold_start(HALL, 450.0).enough
    assert cold_start(HALL, 700.0).enough
    assert "over-volted" in cold_start(HALL, 450.0).steps[2]


@given(st.floats(0.5e-4, 5e-3), st.floats(0.0, 2.0), st.floats(0.0, 500.0))
def test_a_diode_gives_back_the_current_whose_drop_it_has(g: float, i: float, r: float) -> None:
    """current(drop(i) + R i) is i."""
    diode = tube(g, 3.0)

    assert diode.current(diode.drop(i) + r * i, r) == pytest.approx(i, rel=1e-9, abs=1e-12)


def test_perveance_of_exact_points_is_found_again() -> None:
    """Two points of one law give the law."""
    assert perveance([(20.0, 1e-3 * 20**1.5), (50.0, 1e-3 * 50**1.5)]) == pytest.approx(1e-3)
    with pytest.raises(OutOfRange, match="drops of the sheet"):
        perveance([])


def test_source_resistance_reflects_the_primary() -> None:
    """Primary resistance counts by the square of the ratio."""
    assert source_resistance(60.0, 1.8, 3.0) == pytest.approx(76.2)
