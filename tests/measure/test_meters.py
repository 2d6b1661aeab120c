"""Meters, doubts about readings and tube data behave as their files say."""

import math

import pytest
import yaml

from triage.errors import BadReading, KnowledgeError, OutOfRange, SafetyRefusal
from triage.knowledge.paths import knowledge_dir
from triage.measure.meters import (
    Meter,
    bears,
    corrected,
    effect_of,
    load_meters,
    right_socket,
    take,
    true_ac,
)
from triage.measure.plausible import doubt
from triage.measure.quantity import Quantity
from triage.measure.tubes import TubeType, find_tube, load_tubes
from triage.units import parse


def rows(pattern: str) -> list[dict]:
    files = sorted(knowledge_dir().glob(pattern))
    return [row for file in files for row in yaml.safe_load(file.read_text(encoding="utf-8"))]


def test_a_digital_reading_carries_its_limit_as_rectangular() -> None:
    """100.0 V on 0.5 % and 2 digits of 2000 counts has u = (0.5 + 0.2) V/√3."""
    found = take(parse("100", "V"), "dc_volts", load_meters(rows("meters.yaml"))["digital"])
    assert found.u == pytest.approx(0.7 / math.sqrt(3))


def test_bare_numbers_take_the_units_of_the_prompt() -> None:
    """35 typed where mA are asked is 35 mA; 35 V there is refused."""
    digital = load_meters(rows("meters.yaml"))["digital"]
    assert take(parse("35", "A"), "dc_ma", digital).value == pytest.approx(0.035)
    assert take(parse("40", "F"), "microfarad", digital).value == pytest.approx(40e-6)
    with pytest.raises(BadReading):
        take(parse("35 V"), "dc_ma", digital)
    with pytest.raises(BadReading):
        take(parse("rising", "V"), "dc_volts", digital)


def test_slips_are_asked_and_the_reading_stays() -> None:
    """Millivolts for volts, a lost minus, AC for DC, OL: each becomes a question, no change."""
    typed = parse("400", "V")
    asked = doubt(typed, {"expected": 0.4})
    assert asked is not None and asked.slip == "thousandfold" and asked.meant == 0.4
    assert typed.low == 400.0 and "?" in asked.ask
    lost = doubt(parse("38", "V"), {"point": "output_grid", "bias": "fixed"})
    assert lost is not None and (lost.slip, lost.meant) == ("sign", -38.0)
    over = doubt(parse("OL", "V"), {"reading": "dc_volts"})
    assert over is not None and over.slip == "over_range"
    assert doubt(parse("OL", "ohm"), {"reading": "ohms"}) is None
    ac = doubt(parse("444 V"), {"reading": "ac_volts", "node_v": 400.0})
    assert ac is not None and ac.slip == "ac_for_dc" and ac.meant is None
    high = doubt(parse("900 V"), {"max_v": 500.0})
    assert high is not None and high.slip == "above_all"
    assert doubt(parse("-38", "V"), {"point": "output_grid", "bias": "fixed"}) is None
    assert doubt(parse("410", "V"), {"expected": 400.0, "max_v": 500.0}) is None


def test_arithmetic_carries_units_and_uncertainty() -> None:
    """Volts over ohms are amperes, with relative uncertainties in quadrature."""
    amps = Quantity(0.4, 0.004, "V") / Quantity(10.0, 0.1, "ohm")
    assert (amps.unit, amps.value) == ("A", pytest.approx(0.04))
    assert amps.u / amps.value == pytest.approx(math.hypot(0.01, 0.01))
    with pytest.raises(ValueError, match="cannot add"):
        Quantity(1.0, 0.0, "V") + Quantity(1.0, 0.0, "A")


def test_tubes_are_found_by_any_spelling() -> None:
    """ECC83, ecc83 and 12AX7 are one type; each of eighteen types has heater, limits and pins."""
    tubes = load_tubes(rows("tubes/*.yaml"))
    assert find_tube(tubes, "ecc 83") is find_tube(tubes, "12AX7")
    assert find_tube(tubes, "5AR4") is find_tube(tubes, "gz34")
    assert find_tube(tubes, "nothing") is None and find_tube(tubes, None) is None
    assert len({tube.id for tube in tubes.values()}) >= 18


def test_every_tubes_sources_are_listed() -> None:
    """Every number of every tube names a source that sources.yaml lists."""
    known = {row["id"] for row in rows("sources.yaml")}
    for tube in load_tubes(rows("tubes/*.yaml")).values():
        used = {tube.heater.from_, tube.pins.from_, *(source.id for source in tube.source)}
        used |= {limit.from_ for limit in tube.limits.values()}
        used |= {point.from_ for point in tube.points}
        assert used <= known, tube.type


def test_two_types_with_one_name_are_refused() -> None:
    """An alias that another type has is an error."""
    first, second = rows("tubes/small.yaml")[:2]
    with pytest.raises(KnowledgeError, match="both claim"):
        load_tubes([first, second | {"aliases": [first["type"]]}])


def test_a_pin_off_the_base_is_refused() -> None:
    """A nine-pin number on a seven-pin base is an error."""
    row = rows("tubes/small.yaml")[0]
    with pytest.raises(ValueError, match="outside"):
        TubeType.model_validate(row | {"base_pins": 7})


def test_grid_return_limits_depend_on_bias() -> None:
    """Unknown bias takes the lower limit, for it is the safe one."""
    tube = find_tube(load_tubes(rows("tubes/*.yaml")), "6550")
    assert tube is not None
    assert (tube.return_limit("fixed"), tube.return_limit("cathode")) == (50e3, 250e3)
    assert tube.return_limit("unknown") == 50e3


def meters() -> dict[str, Meter]:
    return load_meters(rows("meters.yaml"))


def test_every_meter_says_what_it_bears_and_responds_to() -> None:
    """Each class has rating, AC response and loading; moving coils take the range times ohm/V."""
    found = meters()
    assert {"digital", "digital_true_rms", "moving_coil_20k", "moving_coil_1k"} <= set(found)
    for meter in found.values():
        assert meter.rated_v and meter.rated_ac_v and meter.ac in ("true_rms", "average")
        assert meter.input_ohm(100.0) > 0 and meter.input_ohm(100.0, ac=True) > 0
    coil = found["moving_coil_20k"]
    assert (coil.input_ohm(50.0), coil.input_ohm(50.0, ac=True)) == (1e6, 400e3)
    with pytest.raises(OutOfRange, match="range of meter"):
        coil.input_ohm()


@pytest.mark.parametrize(
    ("meter", "volts", "ac", "place", "why"),
    [
        ("digital_cheap", 509.0, False, "circuit", "rated 500 V"),
        ("digital", 720.0, True, "circuit", "rated 750 V"),
        ("scope_10x", 400.0, False, "circuit", "rated 400 V"),
        ("digital_cheap", 120.0, True, "outlet", "no category"),
        ("moving_coil_20k", 230.0, True, "panel", "CAT III"),
        ("digital", 620.0, False, "outlet", "to 600 V only"),
        ("small_mv", 60.0, False, "circuit", "rated 20 V"),
    ],
)
def test_a_meter_that_does_not_bear_the_volts_is_refused(
    meter: str, volts: float, ac: bool, place, why: str
) -> None:
    """Rating with its margin and category of the place are asked before any reading."""
    with pytest.raises(SafetyRefusal, match=why):
        bears(meters()[meter], volts, ac, place)


def test_a_meter_that_bears_the_volts_is_let_be() -> None:
    """1000 V bears 509 V of B+, CAT III to 600 V an outlet, the 2 kV probe a driven plate."""
    found = meters()
    bears(found["digital"], 509.0)
    bears(found["digital"], 230.0, True, "outlet")
    bears(found["digital_true_rms"], 230.0, True, "panel")
    bears(found["probe_2kv"], 1500.0)
    unknown = found["digital"].model_copy(update={"rated_v": None})
    with pytest.raises(SafetyRefusal, match="not known"):
        bears(unknown, 12.0)


def test_volts_with_the_lead_in_the_current_socket_are_refused() -> None:
    """Only a current is read there; after one, zero volts are asked about."""
    right_socket("dc_ma", "current")
    right_socket("dc_volts", "volts")
    for reading in ("dc_volts", "ac_volts", "ohms"):
        with pytest.raises(SafetyRefusal, match="short"):
            right_socket(reading, "current")
    before = {"reading": "dc_volts", "last_reading": "dc_ma"}
    asked = doubt(parse("0 V"), before)
    assert asked is not None and asked.slip == "current_socket" and asked.meant is None
    assert doubt(parse("0 V"), {"reading": "dc_volts"}) is None
    assert doubt(parse("0 V"), before | {"expected": 0.2}) is None
    assert doubt(parse("250 V"), before) is None


def test_a_reading_off_by_the_bias_between_grounds_is_asked_about() -> None:
    """With 43 V between chassis and B-, 359 V for 402 V is asked about, 395 V is not."""
    known = {"expected": 402.0, "between_grounds": 43.0}
    asked = doubt(parse("359 V"), known)
    assert asked is not None and asked.slip == "wrong_ground"
    assert doubt(parse("395 V"), known) is None


def test_a_reading_knows_its_meter_and_is_corrected_for_it() -> None:
    """130 V behind 38.5 kΩ, read on 250 V of a 20 kΩ/V meter, is found again with its u."""
    coil = meters()["moving_coil_20k"]
    shown = take(parse("129.01", "V"), "dc_volts", coil)
    assert shown.conditions.meter == "moving_coil_20k"
    found = corrected(shown, coil, Quantity(38.5e3, 2e3, "ohm"))
    assert found.value == pytest.approx(130.0, abs=0.01)
    assert found.u > shown.u and {row.name for row in found.budget()} == {"V_m", "R_s"}


def test_what_a_meter_does_to_the_circuit_is_said() -> None:
    """10 MΩ on a plate is let out of account; 1 kΩ/V on a grid is refused with its tube in."""
    found = meters()
    assert "leave it out" in effect_of(found["digital"], 130.0, 38.5e3).says
    assert "correct for it" in effect_of(found["moving_coil_20k"], 100.0, 200e3).says
    assert "another one" in effect_of(found["moving_coil_1k"], 40.0, 220e3).says
    with pytest.raises(SafetyRefusal, match="cooks"):
        effect_of(found["moving_coil_1k"], -40.0, 220e3, output_grid=True)
    assert effect_of(found["digital"], -40.0, 220e3, output_grid=True).loss < 0.05


def test_ripple_is_corrected_for_an_average_responding_meter() -> None:
    """4.04 V of sawtooth on an average meter are 4.2 V; DC under it wants a blocking capacitor."""
    found = meters()
    shown = take(parse("4.04", "V"), "ac_volts", found["digital"])
    assert true_ac(shown, found["digital"], "sawtooth", 406.0).value == pytest.approx(4.2, abs=0.01)
    assert true_ac(shown, found["digital_true_rms"], "sawtooth").value == pytest.approx(4.04)
    with pytest.raises(OutOfRange, match="blocking capacitor"):
        true_ac(shown, found["moving_coil_20k"], "sawtooth", 406.0)
