"""Formulas of the bench: they show their steps, refuse by name, and move as physics does."""

import inspect
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.errors import BadReading, OutOfRange, SafetyRefusal, TriageError
from triage.measure import (
    currents,
    decibels,
    formulas,
    grids,
    line,
    loading,
    markings,
    output,
    ripple,
    safety_checks,
    stages,
    waveform,
)
from triage.measure.quantity import Quantity
from triage.measure.worked import MEMORY, Worked

ROOMS = (
    currents,
    decibels,
    formulas,
    grids,
    line,
    loading,
    output,
    ripple,
    safety_checks,
    stages,
    waveform,
)
FORMULAS = {
    f"{room.__name__.rsplit('.', 1)[1]}.{name}": function
    for room in ROOMS
    for name, function in inspect.getmembers(room, inspect.isfunction)
    if function.__module__ == room.__name__ and not name.startswith("_")
}
WORDS = {
    "rectifying": ["half_wave", "full_wave", "bridge", "doubler", "none"],
    "network": ["body", "plain", "iec_500", "none"],
    "kind": ["earthed", "double_square", "two_wire"],
    "stage": ["single_ended", "push_pull_ab", "push_pull_b", "none"],
    "bias": ["fixed", "cathode", "none"],
    "shape": ["sine", "sawtooth", "half_sine", "none"],
    "responds": ["true_rms", "average", "none"],
    "name": ["dBu", "dBV", "none"],
    "unit": ["ohm", "V", "kg"],
    "electrode": ["a", "g2"],
}
NUMBERS = st.one_of(
    st.floats(1e-6, 1e6),
    st.floats(-1e3, 1e3),
    st.sampled_from([0.0, -1.0, math.nan, math.inf, -math.inf, 1e300, -1e-300]),
)
UNITS = st.sampled_from(["V", "A", "ohm", "W", "S", "F", "Hz", ""])


@st.composite
def readings(draw) -> Quantity | float:
    """A number, a quantity of any unit, a bound, or OL."""
    number = draw(NUMBERS)
    if draw(st.booleans()) or not math.isfinite(number):
        return number
    return Quantity(
        number, draw(st.sampled_from([0.0, 0.01, 1.0])), draw(UNITS), draw(st.sampled_from([0, 0.1])),
        at_least=draw(st.booleans()),
    )  # fmt: skip


def argument(draw, name: str, parameter: inspect.Parameter):
    if name in WORDS:
        return draw(st.sampled_from(WORDS[name]))
    if name in ("sharing", "tubes"):
        return draw(st.integers(-1, 4))
    if name == "currents":
        return draw(st.lists(readings().filter(lambda x: isinstance(x, Quantity)), max_size=3))
    if name == "volts" and parameter.annotation == "list[float]":
        return draw(st.lists(NUMBERS, max_size=3))
    if "bool" in str(parameter.annotation):
        return draw(st.booleans())
    if parameter.annotation == "Worked":
        return Worked(Quantity(draw(st.floats(0, 1)), 0.0, "A"), ())
    if parameter.annotation in ("float", "Quantity", "Quantity | None"):
        wanted = draw(readings())
        if parameter.annotation == "float":
            return draw(NUMBERS)
        return wanted if isinstance(wanted, Quantity) else Quantity(1.0, 0.1, draw(UNITS))
    return draw(readings())


def numbers_in(found) -> list[float]:
    """All numbers of a result."""
    if isinstance(found, Worked):
        return [found.value, found.u]
    if isinstance(found, Quantity):
        return [found.value, found.total_u] if not found.over else []
    if isinstance(found, float):
        return [found]
    fields = getattr(found, "__dataclass_fields__", {})
    return [number for field in fields for number in numbers_in(getattr(found, field))]


@pytest.mark.parametrize("name", FORMULAS)
@settings(max_examples=30, derandomize=True)
@given(data=st.data())
def test_any_input_gives_a_finite_result_or_a_named_error(name: str, data) -> None:
    """Whatever is put in, out comes a finite number, or an error that names what is wrong."""
    function = FORMULAS[name]
    arguments: dict = {}
    positional: list = []
    for key, parameter in inspect.signature(function).parameters.items():
        if parameter.kind is inspect.Parameter.VAR_POSITIONAL:
            positional = data.draw(st.lists(readings(), max_size=3))
        else:
            arguments[key] = argument(data.draw, key, parameter)
    try:
        found = function(*positional, **arguments)
    except TriageError as fault:
        assert isinstance(fault, (OutOfRange, SafetyRefusal, BadReading)) and str(fault)
        return
    except ValueError as fault:
        pytest.fail(f"{name} raised a plain ValueError: {fault}")
    assert all(math.isfinite(number) for number in numbers_in(found))


def test_every_formula_with_one_result_shows_its_steps() -> None:
    """Each function that gives a Worked says formula, numbers and what it rests on."""
    worked = {name for name, f in FORMULAS.items() if f.__annotations__.get("return") == "Worked"}
    assert len(worked) >= 45
    sample = ripple.ripple_vpp(Quantity(0.1, 0.001, "A"), 47e-6, 120.0)
    line_ = str(sample.steps[0])
    assert line_ == "V_pp = I/(f × C) = 100 mA/(120 Hz × 47 µF) = 17.73 V ± 180 mV"
    assert all("Source" in (FORMULAS[name].__doc__ or "") or "practice" in
               (FORMULAS[name].__doc__ or "") or "memory" in (FORMULAS[name].__doc__ or "")
               for name in worked)  # fmt: skip


def test_steps_of_a_chain_stand_in_order() -> None:
    """A result built on others shows theirs first."""
    found = currents.share_of_rating(
        currents.dissipation(400.0, currents.cathode_bias_current(0.44, 10.0)), 30.0
    )
    assert [step.symbol for step in found.steps] == ["I", "P_a", "share"]
    assert found.value == pytest.approx(400 * 0.044 / 30)


def test_screen_and_plate_current_add_up_to_the_cathode() -> None:
    """The screen is told apart, and the sum has the cathode's uncertainty."""
    found = currents.sense_current(Quantity(0.47, 0.004, "V"), Quantity(10.0, 0.1, "ohm"))
    total = found.plate + found.screen
    assert total.value == pytest.approx(found.cathode.value)
    assert total.u == pytest.approx(found.cathode.u) and not found.screen_known
    known = currents.sense_current(Quantity(0.47, 0.0, "V"), 10.0, Quantity(2.4e-3, 0.0, "A"))
    assert known.plate.value == pytest.approx(44.6e-3) and known.screen_known
    triode = currents.sense_current(Quantity(0.47, 0.0, "V"), 10.0, screen_grid=False)
    assert triode.plate is triode.cathode
    with pytest.raises(OutOfRange, match="screen current"):
        currents.sense_current(Quantity(0.1, 0.0, "V"), 10.0, Quantity(0.02, 0.0, "A"))


def test_grid_return_counts_what_tubes_share() -> None:
    """Two tubes on one 47 kΩ leak count it twice, and the limit of 50 kΩ is passed."""
    alone = grids.grid_return(47e3, 1.5e3)
    shared = grids.grid_return(47e3, 1.5e3, sharing=2)
    assert (alone.value, shared.value) == (48.5e3, 95.5e3)
    share = grids.return_share(shared, 50e3)
    assert share.value == pytest.approx(1.91)
    assert any("watch for drift" in note for note in share.notes) and MEMORY in share.notes
    assert MEMORY not in grids.return_share(alone, 50e3, from_memory=False).notes


def test_an_output_grid_is_refused_to_a_meter_that_takes_its_bias() -> None:
    """50 kΩ and 1 MΩ on a 220 kΩ leak are refused with what they would do; 10 MΩ is not."""
    for ohm, left in ((50e3, "-7.41 V"), (1e6, "-32.8 V")):
        with pytest.raises(SafetyRefusal, match=left):
            loading.output_grid_effect(-40.0, 220e3, ohm)
    assert loading.output_grid_effect(-40.0, 220e3, 10e6).loss == pytest.approx(0.0215, abs=1e-3)
    with pytest.raises(SafetyRefusal):
        loading.output_grid_effect(-40.0, 1e6, 10e6)


def test_loading_is_undone_by_its_correction() -> None:
    """What a meter shows, corrected, is what was there; beyond half it is refused."""
    shown = loading.loaded(130.0, 38.5e3, 400e3)
    assert loading.unloaded(shown.quantity, 38.5e3, 400e3).value == pytest.approx(130.0)
    with pytest.raises(OutOfRange, match="source resistance"):
        loading.unloaded(10.0, 500e3, 400e3)


def test_hum_rates_are_judged_by_the_rectifier() -> None:
    """Mains rate is as built in a half-wave set and half missing in a full-wave one."""
    assert ripple.rate_says(60.0, 60.0, "half_wave").says == "as_built"
    assert ripple.rate_says(60.0, 60.0, "full_wave").says == "half_missing"
    assert ripple.rate_says(120.0, 60.0, "bridge").says == "as_built"
    assert ripple.rate_says(400.0, 60.0, "bridge").says == "not_the_supply"
    assert ripple.rate_says(85.0, 60.0, "bridge").says == "unclear"


def test_usual_hum_goes_by_stage_feedback_and_load() -> None:
    """20 mV is usual of a single-ended stage without feedback, and far too much of push-pull."""
    single, pair = ripple.hum_band(True, False), ripple.hum_band(False, True)
    assert single.low < 20e-3 < single.high and 20e-3 > pair.high
    assert ripple.hum_band(True, False, 16.0).high == pytest.approx(single.high * math.sqrt(2.0))


def test_feedback_hides_a_weak_tube() -> None:
    """With 20 dB of feedback a 20 % loss of open gain leaves about 2 %."""
    left = stages.feedback_steadies(400.0, 9.0 / 400.0)
    assert left.value == pytest.approx(0.1)
    full, weak = (stages.gain_with_feedback(a, 9.0 / 400.0).value for a in (400.0, 320.0))
    assert 1 - weak / full == pytest.approx(0.2 * left.value, rel=0.3)


def test_a_limit_from_memory_stops_and_never_allows() -> None:
    """The touch verdict says where its limit is from; a two-wire chassis has no limit at all."""
    found = safety_checks.judge_touch(safety_checks.touch_current(1.2, 60.0), "earthed")
    assert found.above and "memory" in found.says and not found.opens_gate
    with pytest.raises(OutOfRange, match="class of protection"):
        safety_checks.judge_touch(safety_checks.touch_current(0.1, 60.0), "two_wire")


def test_reversed_feedback_is_noticed() -> None:
    """More gain with the loop closed is negative decibels and says so."""
    found = stages.feedback_db(50.0, 100.0)
    assert found.value < 0 and "reversed" in found.notes[0]


RISING = [
    ("gain rises with the load", lambda x: stages.triode_gain(100, 62.5e3, 1e4 * x), 1),
    ("gain falls with an open cathode", lambda x: stages.triode_gain(100, 6e4, 1e5, 1e3 * x), -1),
    ("ripple rises with the current", lambda x: ripple.ripple_vpp(0.01 * x, 40e-6, 120), 1),
    ("ripple falls with the capacitor", lambda x: ripple.ripple_vpp(0.1, 1e-5 * x, 120), -1),
    ("a section smooths more with more ohms", lambda x: ripple.rc_attenuation(1e3 * x, 4e-5, 120), -1),
    ("watts rise with the line", lambda x: line.dissipation_factor(0.5 + x / 10), 1),
    ("power falls with the load's ohms", lambda x: output.output_power(10, x), -1),
    ("the load seen rises with the ratio", lambda x: output.reflected_load(x, 8), 1),
    ("a meter shows more with more ohms", lambda x: loading.loaded(15, 2e5, 1e5 * x), 1),
    ("shift falls with a better capacitor", lambda x: grids.shift_of_leak(250, 1e7 * x, 82e3), -1),
    ("a smaller shift is a better capacitor",
     lambda x: grids.leak_resistance(250, -30, 82e3, Quantity(x, 0.0, "V")), -1),
    ("more feedback is less gain", lambda x: stages.gain_with_feedback(400, 0.01 * x), -1),
    ("touch current rises with frequency", lambda x: safety_checks.touch_current(0.3, 50 * x), 1),
    ("decibels rise with volts", lambda x: decibels.db_of_volts(x, 1.0), 1),
]  # fmt: skip


@pytest.mark.parametrize(("says", "formula", "sign"), RISING, ids=[row[0] for row in RISING])
@given(x=st.floats(0.1, 9.0), more=st.floats(1.01, 1.1))
def test_results_move_as_physics_does(says: str, formula, sign: int, x: float, more: float) -> None:
    """More of the one is more, or less, of the other, always."""
    assert sign * formula(x * more).value > sign * formula(x).value


@given(st.integers(10, 99), st.integers(-1, 9), st.sampled_from([0.05, 0.10, 0.01, 0.20]))
def test_colour_bands_read_back(figures: int, zeros: int, tolerance: float) -> None:
    """A resistance written in bands is read as itself, with its tolerance."""
    ohm = figures * 10.0**zeros
    if not 0.1 <= ohm < 99.5e9:
        return
    found = markings.resistor_bands(markings.bands_of(ohm, tolerance))
    assert found.value == pytest.approx(ohm) and found.plus == tolerance


@given(st.text(max_size=6))
def test_no_marking_crashes_the_reader(text: str) -> None:
    """Whatever stands on a part gives a value above zero or a BadReading with an example."""
    for reader in (markings.resistor_code, markings.capacitor_code):
        try:
            assert 0.0 < reader(text).value < math.inf
        except BadReading as fault:
            assert fault.accepted


@pytest.mark.parametrize(
    "bands",
    ["red red", "red red red red red red red", "gold red red", "red red white gold silver silver",
     "mauve red red gold", "red red red black"],
)  # fmt: skip
def test_impossible_bands_are_refused(bands: str) -> None:
    """Too few, too many, unknown colours or colours without meaning there are refused."""
    with pytest.raises(BadReading, match="Write for example"):
        markings.resistor_bands(bands.split())


def test_average_meter_constants_are_the_integrals() -> None:
    """RMS and mean of the AC part of each wave agree with a sum over one period."""
    n = 20000
    t = [2 * math.pi * (k + 0.5) / n for k in range(n)]
    waves = {
        "full_sine": [abs(math.sin(x)) for x in t],
        "half_sine": [max(0.0, math.sin(x)) for x in t],
        "triangle": [2 / math.pi * math.asin(math.sin(x)) for x in t],
        "sawtooth": [x / math.pi - 1 for x in t],
        "sine": [math.sin(x) for x in t],
    }
    for name, wave in waves.items():
        mean = math.fsum(wave) / n
        rms = math.sqrt(math.fsum((y - mean) ** 2 for y in wave) / n)
        rectified = math.fsum(abs(y - mean) for y in wave) / n
        assert waveform.AC_PART[name] == pytest.approx((rms, rectified), rel=1e-4)
