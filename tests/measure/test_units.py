"""Engineers' forms are read as written, print so that they read back, are refused when unclear."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import BadReading
from triage.units import format_si, parse, value_of


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("4k7", "ohm", 4700.0),
        ("R47", "ohm", 0.47),
        ("4R7", "ohm", 4.7),
        ("1M", "ohm", 1e6),
        ("1 meg", "ohm", 1e6),
        ("470 kΩ", "ohm", 470e3),
        ("47 mV", "V", 0.047),
        (".022 mfd", "F", 22e-9),
        ("0.022 µF", "F", 22e-9),
        ("0,47 uF", "F", 0.47e-6),
        ("2n2", "F", 2.2e-9),
        ("50 mmf", "F", 50e-12),
        ("-38", "V", -38.0),
        ("\u221238 V", "V", -38.0),
        ("35 mA", "A", 0.035),
        ("120 c/s", "Hz", 120.0),
        ("2 min", "s", 120.0),
        ("5 %", "%", 5.0),
        ("45 °C", "degC", 45.0),
        ("4.4 mA/V", "S", 4.4e-3),
        ("1600 µmho", "S", 1.6e-3),
        ("-12 dB", "dB", -12.0),
    ],
)
def test_engineers_forms_are_read(text: str, unit: str, value: float) -> None:
    """Each common way of writing a value gives its SI number."""
    assert value_of(text, unit) == pytest.approx(value, rel=1e-12)


def test_open_is_over_range_and_not_a_number() -> None:
    """OL is kept as over range."""
    typed = parse("OL", "ohm")
    assert typed.over and not typed.exact
    with pytest.raises(BadReading):
        _ = typed.value


def test_bounds_ranges_and_trends_are_kept() -> None:
    """An inequality, a range and a trend are read as such and not as one number."""
    assert (parse(">400 mV", "V").low, parse(">400 mV", "V").high) == (0.4, math.inf)
    assert (parse("<1", "V").low, parse("<1", "V").high) == (-math.inf, 1.0)
    assert (parse("12 to 15 V").low, parse("12 to 15 V").high) == (12.0, 15.0)
    assert (parse("300 mV to 1.2 V").low, parse("300 mV to 1.2 V").high) == (0.3, 1.2)
    assert (parse("300 to 400 mV").low, parse("300 to 400 mV").high) == (0.3, 0.4)
    assert parse("-3 to -5 V").low == -5.0
    assert parse("400 mV rising", "V").trend == "rising"
    assert parse("400 mV rising", "V").value == 0.4
    assert parse("rising", "V").trend == "rising" and not parse("rising", "V").exact


@pytest.mark.parametrize(
    ("text", "unit"),
    [("", "V"), ("hum", "V"), ("35 mA", "V"), ("1,234", "V"), ("47 XV", "V"), ("1e999", "V"),
     ("5..6..7 V", "V"), ("100 mF", "F"), ("nan", "V")],
)  # fmt: skip
def test_unclear_readings_are_refused_with_an_example(text: str, unit: str) -> None:
    """What cannot be taken is refused, and the message shows a form that can."""
    with pytest.raises(BadReading, match="Write for example"):
        parse(text, unit)


@given(
    st.floats(min_value=1e-11, max_value=1e10),
    st.sampled_from(["V", "A", "ohm", "F", "H", "W", "Hz", "J", "S", "%", "dB", "degC"]),
    st.sampled_from([1, -1]),
)
def test_a_printed_value_reads_back(size: float, unit: str, sign: int) -> None:
    """Printing with seven figures and reading again returns the value to seven figures."""
    value = sign * size
    assert value_of(format_si(value, unit, digits=7), unit) == pytest.approx(value, rel=2e-6)


@given(st.text(max_size=20))
def test_no_text_crashes_the_reader(text: str) -> None:
    """Whatever is typed gives a value or a BadReading and nothing else."""
    try:
        typed = parse(text, "V")
    except BadReading:
        return
    assert typed.low <= typed.high


def test_printing_uses_the_usual_prefixes() -> None:
    """Values print as a person would write them."""
    assert format_si(4700, "ohm") == "4.7 kΩ"
    assert format_si(2.2e-8, "F") == "22 nF"
    assert format_si(1e-4, "F") == "100 µF"
    assert format_si(0.0355, "A") == "35.5 mA"
    assert format_si(999.9, "V") == "1 kV"
    assert format_si(4.4e-3, "S") == "4.4 mS"
    assert format_si(0.5, "dB") == "0.5 dB"
    assert format_si(0.0, "V") == "0 V"
    assert format_si(math.inf, "ohm") == "OL"
