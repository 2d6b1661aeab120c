"""Meters, doubts about readings and tube data behave as their files say."""

import math

import pytest
import yaml

from triage.errors import BadReading, KnowledgeError
from triage.knowledge.paths import knowledge_dir
from triage.measure.meters import load_meters, take
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
