"""Bench arithmetic against numbers printed elsewhere. Each row names its source beside it.

"arithmetic" marks a number that follows from a formula without being printed itself; it counts as
from memory.
"""

import math

import pytest
import yaml

from tests.published.rows import memory, seen
from triage.knowledge.paths import knowledge_dir
from triage.measure import currents, grids, line, loading, ripple
from triage.measure import formulas as f
from triage.measure.judges import judge
from triage.measure.meters import load_meters
from triage.measure.quantity import Quantity
from triage.measure.tube_entry import LIMIT_UNITS
from triage.measure.tubes import find_tube, load_tubes
from triage.units import value_of

NEETS_7 = "NEETS module 7 (NAVEDTRA 14179), assignment"
SHEETS = "makers' sheets, from memory"


def rows(pattern: str) -> list[dict]:
    files = sorted(knowledge_dir().glob(pattern))
    return [row for file in files for row in yaml.safe_load(file.read_text(encoding="utf-8"))]


TUBES = load_tubes(rows("tubes/*.yaml"))
METERS = load_meters(rows("meters.yaml"))


def volts(value: float, u: float = 0.0) -> Quantity:
    return Quantity(value, u, "V")


def amps(value: float) -> Quantity:
    return Quantity(value, 0.0, "A")


def coil() -> float:
    return METERS["moving_coil_20k"].input_ohm(20.0)


CHECKS = [
    # kind of source(source, ours, published, relative tolerance)
    seen("published meter-loading example: 400 kΩ on the 20 V range", coil(), 400e3, 0),
    seen(
        "same: 30 V over two 400 kΩ reads 10 V",
        loading.loaded(15.0, loading.parallel(400e3, 400e3), coil()).value,
        10,
        1e-9,
    ),
    seen(
        f"{NEETS_7} item 4-26: 25 µF at 120 Hz is 53 Ω",
        ripple.capacitor_reactance(25e-6, 120).value,
        53,
        0.01,
    ),
    seen(
        f"{NEETS_7} item 4-34: 10 H at 120 Hz is 7.5 kΩ",
        ripple.inductor_reactance(10, 120).value,
        7.5e3,
        0.01,
    ),
    seen(
        "JAN-C-62 worked answer: 20 µF 450 V is 1.1 mA", f.leakage_limit(20e-6, 450), 1.1e-3, 1e-9
    ),
    seen(
        "JAN-C-62 worked answer: 20 µF 250 V is 0.7 mA", f.leakage_limit(20e-6, 250), 0.7e-3, 1e-9
    ),
    seen(
        "IEC 60335-1: 0.1 µF at 450 V meets the 45 µC limit",
        f.stored_coulomb(450, 0.1e-6),
        45e-6,
        1e-9,
    ),
    seen(
        "IEC 61010-1 discussion: 4.4 µF at 80 V is 352 µC",
        f.stored_coulomb(80, 4.4e-6),
        352e-6,
        1e-9,
    ),
    seen(
        "NEETS 7: one time constant leaves 36.8 %",
        f.discharge_time(100, 36.79, 1e3, 1e-3),
        1.0,
        1e-3,
    ),
    seen(
        "NEETS 7: five time constants leave under 1 %",
        f.discharge_time(100, 0.674, 1e3, 1e-3),
        5.0,
        1e-3,
    ),
    memory(
        "arithmetic: 450 to 50 V takes 2.197 RC", f.discharge_time(450, 50, 1e3, 1e-3), 2.197, 1e-3
    ),
    memory(
        "arithmetic: 450 to 60 V, 220 kΩ and 100 µF",
        f.discharge_time(450, 60, 220e3, 100e-6),
        44.3,
        2e-3,
    ),
    memory("arithmetic, CV²/2: 50 µF at 450 V is 5.06 J", f.stored_joule(450, 50e-6), 5.06, 1e-3),
    memory("arithmetic, CV²/2: 100 µF at 500 V is 12.5 J", f.stored_joule(500, 100e-6), 12.5, 1e-9),
    memory("arithmetic, CV²/2: 100 µF at 450 V", f.discharge(450, 1e3, 100e-6).joule, 10.1, 3e-3),
    seen(
        "reforming page, K C + 0.3: 450 V over 90 kΩ is 5 mA",
        (volts(450) / Quantity(90e3, 0, "ohm")).value,
        5e-3,
        1e-9,
    ),
    seen(
        "IEC 60065: 0.35 V on 500 Ω is 0.7 mA",
        (volts(0.35) / Quantity(500, 0, "ohm")).value,
        0.7e-3,
        1e-9,
    ),
    seen(
        "IEC 61347-1: 34 V on 50 kΩ is 0.68 mA",
        (volts(34) / Quantity(50e3, 0, "ohm")).value,
        0.68e-3,
        1e-9,
    ),
    memory(
        "Ohm's law, arithmetic: 0.400 V over 10 Ω is 40 mA",
        currents.sense_current(volts(0.4), 10.0).cathode.value,
        0.040,
        1e-9,
    ),
    memory(
        "Millman & Halkias formula: 100 mA, 47 µF, 60 Hz full wave",
        ripple.ripple_vpp(0.1, 47e-6, ripple.ripple_hertz(60, "full_wave")).value,
        17.7,
        2e-3,
    ),
    memory(
        "same at 50 Hz",
        ripple.ripple_vpp(0.1, 47e-6, ripple.ripple_hertz(50, "full_wave")).value,
        21.3,
        2e-3,
    ),
    memory("same, RMS of the sawtooth", ripple.sawtooth_rms(volts(17.73)).value, 5.12, 2e-3),
    memory(
        "IEC 60038 and old 240 V: factor 240/230",
        line.line_factor(240.0, 230.0).value,
        1.0435,
        1e-4,
    ),
    memory(
        f"6.3 V heaters at 120 V for 117 V ({SHEETS})",
        line.line_corrected(6.3, 120.0, 117.0).value,
        6.46,
        1e-3,
    ),
    memory("B+ factor 125/117, from memory", line.line_factor(125.0, 117.0).value, 1.068, 1e-3),
    memory(
        "arithmetic on 350 V and 54 mA of the 6L6 article: 18.9 W",
        currents.dissipation(350.0, amps(0.054)).value,
        18.9,
        1e-9,
    ),
    memory(
        "same as share of 30 W",
        currents.share_of_rating(Quantity(18.9, 0, "W"), 30.0).value,
        0.63,
        1e-9,
    ),
    memory(
        f"6L6GC screen 250 V 2.5 mA ({SHEETS})",
        currents.dissipation(250.0, amps(0.0025)).value,
        0.63,
        0.01,
    ),
    memory(
        f"EL84 250 V 48 mA ({SHEETS}) is its 12 W",
        currents.dissipation(250.0, amps(0.048)).value,
        12.0,
        1e-9,
    ),
    memory(
        f"6V6GT 250 V 45 mA ({SHEETS})", currents.dissipation(250.0, amps(0.045)).value, 11.25, 1e-9
    ),
    memory(
        f"EL84: 7.3 V over 135 Ω gives 48 + 5.5 mA ({SHEETS})",
        currents.cathode_bias_current(volts(7.3), 135.0).value,
        0.0535,
        0.015,
    ),
    memory(
        f"6V6GT: 12.5 V over 252 Ω gives 45 + 4.5 mA ({SHEETS})",
        currents.cathode_bias_current(volts(12.5), 252.0).value,
        0.0495,
        0.01,
    ),
    seen(
        "D. Steck, ch. 6, p. 176: 1.61 V over 1.5 kΩ is 1.07 mA",
        currents.cathode_bias_current(volts(1.61), 1500.0).value,
        1.07e-3,
        0.005,
    ),
    memory(
        "arithmetic, grid divider: +1.98 V from 200 V by 47 MΩ over 470 kΩ is 47 MΩ",
        grids.leak_resistance(200.0, 1.98, 470e3, volts(1.98)).value,
        47e6,
        2e-3,
    ),
    memory(
        "same, +8.98 V by 10 MΩ",
        grids.leak_resistance(200.0, 8.98, 470e3, volts(8.98)).value,
        10e6,
        2e-3,
    ),
    memory(
        "arithmetic: 0.5 V from 250 V at 82 kΩ is 41 MΩ",
        grids.leak_resistance(250.0, 0.5, 82e3, volts(0.5)).value,
        41e6,
        5e-3,
    ),
    memory(
        "grid-current arithmetic (RDH4 3.3, from memory): 0.25 V at 5.2 mA/V is 1.3 mA",
        currents.current_change(5.2e-3, volts(0.25)).value,
        1.3e-3,
        1e-9,
    ),
    memory(
        "half-wave ripple at line frequency (NEETS 7)", ripple.ripple_hertz(60, "half_wave"), 60, 0
    ),
    seen(
        "full-wave rectified mains is DC and twice the line (harpamps.com, choke input)",
        ripple.ripple_hertz(60, "full_wave"),
        120,
        0,
    ),
]


@pytest.mark.parametrize(("ours", "published", "rel"), CHECKS)
def test_arithmetic_agrees_with_the_published_number(
    ours: float, published: float, rel: float
) -> None:
    """Our number is the published one within its printed digits."""
    assert ours == pytest.approx(published, rel=rel or 1e-12)


@pytest.mark.published("seen", "GTC documentation, Ohm's law example")
def test_ohms_law_uncertainty_is_the_published_one() -> None:
    """6.67(23) Ω from 0.1 V and 15 mA: Ohm's-law example in the documentation of GTC."""
    found = Quantity(0.1, 0.001, "V") / Quantity(15e-3, 0.5e-3, "A")
    assert found.unit == "ohm"
    assert round(found.value, 2) == 6.67 and round(found.u, 2) == 0.23


@pytest.mark.parametrize(
    ("nominal", "line", "answer"),
    [
        seen("IEC 60038, encyclopaedia: 200 V is below 207 V", 230.0, 200.0, "low"),
        seen("IEC 60038, encyclopaedia: 210 V is above 207 V", 230.0, 210.0, "normal"),
        seen("IEC 60038, encyclopaedia: 250 V is below 253 V", 230.0, 250.0, "normal"),
        seen("IEC 60038, encyclopaedia: 256 V is above 253 V", 230.0, 256.0, "high"),
        memory("ten per cent at 120 V: 111 V", 120.0, 111.0, "normal"),
        memory("ten per cent at 120 V: 134 V", 120.0, 134.0, "high"),
    ],
)
def test_line_bands_follow_iec_60038(nominal: float, line: float, answer: str) -> None:
    """IEC 60038: ten per cent either way of the nominal voltage."""
    known = {"line_nominal_v": nominal}
    edges = {"edges": "0.9, 1.1"}
    found = judge("line_band", volts(line, 0.2), edges, known, ["low", "normal", "high"])
    assert found.answer == answer and found.probs[answer] > 0.95


@pytest.mark.parametrize(
    ("type_name", "limit", "value"),
    [
        seen("encyclopaedia article on the 6L6 family: 6L6GC plate_w", "6L6GC", "plate_w", 30.0),
        seen("encyclopaedia article on the 6L6 family: 6L6GC plate_v", "6L6GC", "plate_v", 500.0),
        seen("public thread quoting 12 W, later 14 W: 6V6GT plate_w", "6V6GT", "plate_w", 14.0),
        seen("encyclopaedia article on the EL84: EL84 plate_w", "EL84", "plate_w", 12.0),
        seen("encyclopaedia article on the EL84: EL84 cathode_ma", "EL84", "cathode_ma", 0.065),
        seen("encyclopaedia article on the 12AX7: 12AX7 plate_w", "12AX7", "plate_w", 1.0),
        seen("tube database, ECC81: 12AT7 cathode_ma", "12AT7", "cathode_ma", 0.015),
        seen("tube database, ECC82: 12AU7 plate_w", "12AU7", "plate_w", 2.75),
        seen("tube database, GZ37 page (comparison): GZ34 first_cap", "GZ34", "first_cap", 60e-6),
        seen("tube database, 5Z3 page (comparison): 5Y3GT dc_ma", "5Y3GT", "dc_ma", 0.125),
    ],
)
def test_limits_are_those_of_the_pages_read(type_name: str, limit, value: float) -> None:
    """Limits read on a page are in the files as printed, if only as what another source says."""
    tube = find_tube(TUBES, type_name)
    assert tube is not None
    entry = tube.limits[limit]
    printed = [entry.is_] + ([entry.also.is_] if entry.also is not None else [])
    assert pytest.approx(value) in [value_of(text, LIMIT_UNITS[limit]) for text in printed]


@pytest.mark.published("seen", "encyclopaedia article on the 12AX7")
def test_centre_tapped_heaters_take_one_power_both_ways() -> None:
    """12AX7 article: 12.6 V at 0.15 A, or 6.3 V at 0.3 A."""
    for name in ("12AX7", "12AT7", "12AU7"):
        tube = find_tube(TUBES, name)
        assert tube is not None
        series, both = tube.heater_ways()
        assert math.prod(series) == pytest.approx(math.prod(both)) == pytest.approx(1.89)


@pytest.mark.published("memory", "arithmetic on the 6L6 article's heater")
def test_four_heaters_add_up() -> None:
    """Arithmetic on the article's 6.3 V and 0.9 A: four 6L6GC take 3.6 A and 22.7 W."""
    tube = find_tube(TUBES, "6L6GC")
    assert tube is not None
    heater_v, heater_a = tube.heater_ways()[0]
    assert 4 * heater_a == pytest.approx(3.6)
    assert 4 * heater_v * heater_a == pytest.approx(22.7, rel=1e-3)


@pytest.mark.published("memory", "makers' sheets, from memory")
def test_typical_points_stay_within_limits() -> None:
    """No published operating point of a tube exceeds its own published limits by over a tenth."""
    rated = {t.id: t for t in TUBES.values() if t.limit("plate_w") is not None}
    assert len(rated) > 15
    for tube in rated.values():
        for point in tube.points:
            watts = value_of(point.plate_v, "V") * value_of(point.plate_ma, "A")
            assert watts <= 1.1 * tube.limit("plate_w"), tube.type
