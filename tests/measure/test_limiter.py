"""Series-lamp limiter."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import OutOfRange
from triage.measure import limiter as m

LAMP = m.Lamp(100, 120)


@given(st.floats(5, 1000), st.floats(1, 2000), st.floats(0.3, 2.0))
def test_lamp_and_load_share_the_line_at_one_current(lamp: float, load: float, p: float) -> None:
    """Kirchhoff: volts add up, currents are one."""
    bulb = m.Lamp(lamp, 120)
    found = m.expect(bulb, load, 120, p)

    assert found.lamp_v + found.load_v == pytest.approx(120)
    assert found.amps == pytest.approx(bulb.current(found.lamp_v), rel=1e-6, abs=1e-9)


@given(st.floats(5, 900), st.floats(1.05, 2.0))
def test_more_load_lights_the_lamp_more(load: float, more: float) -> None:
    """Monotone in the load."""
    assert m.expect(LAMP, load * more, 120).lamp_v > m.expect(LAMP, load, 120).lamp_v


def test_no_load_leaves_the_lamp_dark_and_the_line_at_the_load() -> None:
    """With nothing drawn, all of the line stands behind the lamp: it limits no volts."""
    found = m.expect(LAMP, 0, 120)

    assert (found.load_v, found.glow) == (120, "dark")
    assert "FULL voltage" in found.says


def test_a_short_lights_the_lamp_fully() -> None:
    """All of the line at the lamp, at its rated current."""
    found = m.shorted(LAMP, 120)

    assert found.glow == "full"
    assert found.amps == pytest.approx(100 / 120)


def test_glow_goes_up_in_order() -> None:
    """Five words, none left out."""
    assert [m.lamp_glow(x) for x in (0.05, 0.2, 0.4, 0.7, 1.0)] == [
        "dark", "dull_red", "orange", "bright", "full"]  # fmt: skip


def test_the_next_bulb_gives_the_share_asked_and_a_smaller_one_does_not() -> None:
    """Smallest usual lamp."""
    bulb = m.next_bulb(95, 120)
    smaller = m.BULBS_W[m.BULBS_W.index(bulb.watts) - 1]

    assert m.expect(bulb, 95, 120).load_share >= 0.75
    assert m.expect(m.Lamp(smaller, 120), 95, 120).load_share < 0.75


def test_readings_that_mean_nothing_are_listed_with_their_reason() -> None:
    """Bias current, dissipation, emission and hum among them; none is in both lists."""
    assert {"bias_current", "plate_dissipation", "emission", "hum"} <= set(m.MEANINGLESS)
    assert all(m.MEANINGLESS.values())
    assert not set(m.MEANINGLESS) & set(m.STILL_MEANS)


def test_a_lamp_of_another_line_is_refused() -> None:
    """A 120 V lamp is no limiter on 230 V."""
    with pytest.raises(OutOfRange, match="line volts"):
        m.expect(LAMP, 95, 230)
    with pytest.raises(OutOfRange, match="lamp"):
        m.Lamp(0, 120)
