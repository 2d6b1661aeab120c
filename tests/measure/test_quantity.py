"""Quantities carry value, uncertainty, unit, bounds, trend and conditions through arithmetic."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from triage.errors import OutOfRange
from triage.measure import maths
from triage.measure.quantity import Conditions, Quantity
from triage.measure.uncertainty import correlated, correlation, expanded, repeated, student_t
from triage.measure.worked import given as taken
from triage.measure.worked import work

VALUES = st.floats(-1e4, 1e4).filter(lambda x: abs(x) > 1e-3)
SMALL = st.floats(0.0, 50.0)


@given(VALUES, SMALL, SMALL)
def test_a_reading_entered_twice_cancels(value: float, u: float, spread: float) -> None:
    """x - x is 0 ± 0 and x / x is 1 ± 0, with a typed range too."""
    x = Quantity(value, u, "V", spread)
    zero, one = x - x, x / x
    assert (zero.value, zero.total_u, zero.unit) == (0.0, 0.0, "V")
    assert one.value == pytest.approx(1.0) and one.total_u == pytest.approx(0.0, abs=1e-12)


def test_two_equal_readings_do_not_cancel() -> None:
    """Two meters that show one value are still two readings."""
    x, y = Quantity(10.0, 0.1, "V"), Quantity(10.0, 0.1, "V")
    assert x == y and (x - y).u == pytest.approx(0.1 * math.sqrt(2.0))


def test_squares_and_sums_know_their_input() -> None:
    """u of x·x is 2x u, of x + x 2u; independent inputs add in quadrature."""
    x, y = Quantity(3.0, 0.1, "V"), Quantity(4.0, 0.2, "V")
    assert (x * x).u == pytest.approx(0.6) and (x + x).u == pytest.approx(0.2)
    assert (x + y).u == pytest.approx(math.hypot(0.1, 0.2))
    assert maths.sqrt(x * x).u == pytest.approx(0.1) and maths.sqrt(x * x).unit == "V"


def test_a_typed_range_stays_rectangular() -> None:
    """The range of a reading stays its spread through a factor and a quotient."""
    x = Quantity(10.0, 0.1, "V", 0.5) * 2.0 / Quantity(4.0, 0.0, "ohm")
    assert (x.value, x.unit) == (5.0, "A")
    assert x.spread == pytest.approx(0.25) and x.u == pytest.approx(0.05)


def test_units_multiply_as_they_should() -> None:
    """Ohm's law, power, reactance and transconductance give the unit they have on the bench."""
    v, a, ohm = Quantity(2.0, 0.0, "V"), Quantity(4.0, 0.0, "A"), Quantity(8.0, 0.0, "ohm")
    f, hz, h = Quantity(1.0, 0.0, "F"), Quantity(1.0, 0.0, "Hz"), Quantity(1.0, 0.0, "H")
    found = [v / ohm, v / a, v * a, v * v / ohm, ohm * f, a / v, 1.0 / (f * hz), hz * h, v / v,
             a / (f * hz), hz * ohm * f, v * a / hz]  # fmt: skip
    wanted = ["A", "ohm", "W", "W", "s", "S", "ohm", "ohm", "", "V", "", "J"]
    assert [q.unit for q in found] == wanted
    assert (v * v).unit == "V²" and (1.0 / (v * v)).unit == "V⁻²"
    assert ((v * v) * (1.0 / (v * v))).unit == "" and (Quantity(1, 0, "%") * v).unit == "%·V"


def test_a_budget_names_its_inputs() -> None:
    """Shares of the variance sum to one, the largest first, by name or by symbol."""
    v, r = Quantity(0.4, 0.004, "V", name="sense volts"), Quantity(10.0, 0.05, "ohm")
    worked = work("I", "V_s/R_s", v / r, V_s=v, R_s=r)
    assert [row.name for row in worked.budget()] == ["sense volts", "R_s"]
    assert sum(row.share for row in worked.budget()) == pytest.approx(1.0)
    assert worked.budget()[0].u == pytest.approx(0.0004)
    assert Quantity(1.0, 0.0, "V").budget() == ()
    ranged = work("V", "2 × V_s", Quantity(5.0, 0.1, "V", 0.5) * 2.0, V_s=Quantity(5.0, 0.0, "V"))
    assert [row.name for row in ranged.budget()] == ["typed range of input", "input"]


def test_correlation_of_results_is_known() -> None:
    """Results of one input are fully correlated, of different inputs not at all."""
    x, y = Quantity(3.0, 0.1, "V"), Quantity(4.0, 0.2, "V")
    assert correlation(x * 2.0, x * -3.0) == pytest.approx(-1.0)
    assert correlation(x, y) == 0.0 and correlation(x, Quantity(1.0, 0.0, "V")) == 0.0
    a, b = correlated([x, y], [[1.0, 0.6], [0.6, 1.0]])
    assert (a.u, b.u, correlation(a, b)) == pytest.approx((0.1, 0.2, 0.6))
    assert (a + b).u == pytest.approx(math.sqrt(0.01 + 0.04 + 2 * 0.6 * 0.02))


@pytest.mark.parametrize(
    "table", [[[1.0, 0.5]], [[1.0, 2.0], [2.0, 1.0]], [[1.0, 0.5], [0.4, 1.0]]]
)
def test_what_is_no_correlation_table_is_refused(table) -> None:
    """A table of the wrong shape, beyond one, or not symmetrical is refused by name."""
    with pytest.raises(OutOfRange, match="correlation table"):
        correlated([Quantity(1.0, 0.1, "V"), Quantity(2.0, 0.1, "V")], table)


def test_three_inputs_cannot_all_oppose_each_other() -> None:
    """Correlations of -0.9 among three are impossible and refused."""
    three = [Quantity(1.0, 0.1, "V") for _ in range(3)]
    with pytest.raises(OutOfRange, match="can be"):
        correlated(three, [[1.0, -0.9, -0.9], [-0.9, 1.0, -0.9], [-0.9, -0.9, 1.0]])


@given(st.floats(0.5, 0.999), st.integers(1, 200))
def test_students_t_agrees_with_scipy(level: float, dof: int) -> None:
    """The quantile is that of scipy.stats.t."""
    assert student_t(level, dof) == pytest.approx(stats.t.ppf((1 + level) / 2, dof), rel=1e-7)


def test_few_readings_widen_the_interval() -> None:
    """Three readings take t of two degrees of freedom; an exact factor changes nothing."""
    found = expanded(repeated([10.0, 10.2, 10.4], "V") * 2.0)
    assert found.k == pytest.approx(4.303, abs=1e-3) and found.dof == pytest.approx(2.0)
    assert "degrees of freedom" in str(found)
    many = expanded(Quantity(20.4, 0.1, "V"))
    assert many.k == pytest.approx(1.960, abs=1e-3) and math.isinf(many.dof)
    for readings in ([1.0], [1.0, math.nan]):
        with pytest.raises(OutOfRange):
            repeated(readings, "V")


def test_bounds_turn_with_the_sign() -> None:
    """At least 5 V becomes at most where it is subtracted, negated or divided by."""
    least = Quantity(5.0, 0.0, "V", at_least=True)
    assert (-least).at_most and (10.0 - least).at_most and (least - 1.0).at_least
    assert (Quantity(10.0, 0.0, "V") / least).at_most and (least * -2.0).at_most
    with pytest.raises(OutOfRange, match="bounds"):
        least - Quantity(1.0, 0.0, "V", at_least=True)


def test_trends_and_conditions_go_with_the_reading() -> None:
    """A rising reading subtracted is falling; results keep the conditions that operands share."""
    rising = Quantity(5.0, 0.0, "V", trend="rising")
    assert (-rising).trend == "falling" and (rising * 2.0).trend == "rising"
    assert (rising - rising).trend == "unsteady"
    x = Quantity(5.0, 0.1, "V").under(power="idle", line_v=120.0, meter="digital")
    y = Quantity(6.0, 0.1, "V").under(power="limited", line_v=120.0)
    assert (x + y).conditions == Conditions("", 120.0, "digital")
    assert (x - x).total_u == 0.0 and (x * 2.0).conditions == x.conditions


@pytest.mark.parametrize(
    "make",
    [
        lambda: Quantity(math.nan, 0.0, "V"),
        lambda: Quantity(math.inf, 0.0, "V"),
        lambda: Quantity(1.0, -0.1, "V"),
        lambda: Quantity(1.0, math.nan, "V"),
        lambda: Quantity(1.0, 0.0, "V") / 0.0,
        lambda: Quantity(1e200, 0.0, "V") * 1e200,
        lambda: Quantity(1e200, 0.0, "V") ** 3,
        lambda: -Quantity(math.inf, 0.0, "V", over=True),
        lambda: 1.0 / Quantity(math.inf, 0.0, "V", over=True),
        lambda: maths.sqrt(Quantity(-1.0, 0.0, "V²")),
        lambda: maths.sqrt(Quantity(0.0, 0.1, "V²")),
        lambda: maths.log(0.0),
        lambda: maths.log10(Quantity(2.0, 0.0, "V")),
        lambda: maths.exp(1e4),
        lambda: maths.power(-2.0, 0.5),
        lambda: taken("volts", math.nan, "V"),
        lambda: taken("volts", Quantity(1.0, 0.0, "A"), "V"),
    ],
)
def test_what_has_no_value_is_refused_by_name(make) -> None:
    """No NaN or infinity comes out; the error says quantity, value and what is allowed."""
    with pytest.raises(OutOfRange) as fault:
        make()
    assert fault.value.quantity and fault.value.allowed and isinstance(fault.value, ValueError)


def test_over_range_stays_over_range() -> None:
    """OL through a resistor's tolerance is still OL."""
    over = Quantity(math.inf, 0.0, "ohm", over=True)
    assert (over * 2.0).over and (over / 10.0).over and (over + 1.0).over
    assert str(over * 2.0) == "OL"


@given(st.floats(0.1, 100), st.floats(0.001, 0.05))
def test_functions_propagate_by_their_slope(value: float, share: float) -> None:
    """u of sqrt, log, exp, sin and a power is the slope times u."""
    x = Quantity(value, value * share, "")
    assert maths.log(x).u == pytest.approx(share)
    assert maths.log10(x).u == pytest.approx(share / math.log(10))
    assert maths.sqrt(x).u == pytest.approx(math.sqrt(value) * share / 2)
    assert maths.power(x, 2.5).u == pytest.approx(2.5 * value**2.5 * share)
    angle = Quantity(value % 1.5, 0.001, "rad")
    assert maths.sin(angle).u == pytest.approx(0.001 * abs(math.cos(value % 1.5)), abs=1e-12)
    assert maths.cos(angle).u == pytest.approx(0.001 * abs(math.sin(value % 1.5)), abs=1e-12)
    assert maths.atan(x).u == pytest.approx(value * share / (1 + value**2))
    assert maths.exp(x / 10.0).u == pytest.approx(math.exp(value / 10) * value * share / 10)
