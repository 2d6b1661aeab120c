"""Tube data against numbers read in a source that each case names, or recalled from one."""

import pytest
import yaml

from triage.knowledge.paths import knowledge_dir
from triage.measure.rectifier_swap import b_plus_shift
from triage.measure.substitutes import SPREAD, substitute
from triage.measure.swap_reasons import SYSTEM_STEP
from triage.measure.tube_entry import LIMIT_UNITS, TubeType
from triage.measure.tubes import find_tube, load_tubes
from triage.units import value_of

SHEETS = "makers' sheets"
RECORD = "record of a public tube database"
MODELS = "public table of tube model parameters with limits"
SYMBOLS = "public library of schematic symbols, valve part"
ARTICLE = "encyclopaedia article"
SHEET_300B = "300B data sheet as reprinted"
SHEET_6X4 = "6X4 data sheet, scanned text"
TRIODES = "article on the 6DJ8 for audio"
SPLITTERS = "page on converting 7199 sockets for the 6U8 family"
CHART = "rectifier comparison chart, by output volts"
SUBS = "list of stand-ins after a substitution handbook"
FITS = "public library of rectifier models, Child-law constant"


def rows(pattern: str) -> list[dict]:
    files = sorted(knowledge_dir().glob(pattern))
    return [row for file in files for row in yaml.safe_load(file.read_text(encoding="utf-8"))]


TUBES = load_tubes(rows("tubes/*.yaml"))


def tube(name: str) -> TubeType:
    found = find_tube(TUBES, name)
    assert found is not None
    return found


def case(kind: str, source: str, *values):
    """One case with its kind of source."""
    name = "-".join(str(value) for value in values[:2])
    return pytest.param(*values, id=name, marks=pytest.mark.published(kind, source))


def seen(source: str, *values):
    return case("seen", source, *values)


def memory(source: str, *values):
    return case("memory", source, *values)


@pytest.mark.parametrize(
    ("name", "limit", "value"),
    [
        seen(SHEET_6X4, "6X4", "inverse_v", 1250.0),
        seen(SHEET_6X4, "6X4", "heater_cathode_v", 450.0),
        seen(f"{RECORD}, 6X4", "6X4", "dc_ma", 0.070),
        seen(f"{RECORD}, 6X4", "6X4", "supply_vrms", 325.0),
        seen(f"{RECORD}, 6X4", "6X4", "source_ohm_min", 525.0),
        seen(f"{RECORD}, 5Y3", "5Y3GT", "dc_ma", 0.125),
        seen(f"{RECORD}, 5Y3", "5Y3GT", "first_cap", 20e-6),
        seen(f"{RECORD}, 5Z3", "5Z3", "dc_ma", 0.225),
        seen(f"{RECORD}, 5Z3", "5Z3", "source_ohm_min", 75.0),
        seen(f"{RECORD}, 5Z3", "5U4G", "first_cap", 40e-6),
        seen(f"{RECORD}, 5R4GY: 2100 V at 250 mA", "5R4GY", "inverse_v", 2100.0),
        seen(f"{RECORD}, 5R4GY: 150 mA at 2800 V", "5R4GY", "dc_ma", 0.150),
        seen(f"{RECORD}, 5R4GY", "5R4GY", "peak_ma", 0.650),
        seen(f"{RECORD}, 5R4GY", "5R4GY", "source_ohm_min", 250.0),
        seen(f"{RECORD}, 5R4GY", "5R4GY", "first_cap", 4e-6),
        seen(f"{RECORD}, GZ37", "GZ37", "first_cap", 4e-6),
        seen(f"{RECORD}, GZ37", "GZ37", "inverse_v", 1600.0),
        seen(f"{RECORD}, GZ37", "GZ37", "dc_ma", 0.250),
        seen(f"{RECORD}, GZ37", "GZ37", "source_ohm_min", 75.0),
        seen(f"{RECORD}, 12SX7: the lower of two sheets", "6SN7GT", "plate_w", 2.5),
        seen(f"{RECORD}, 12SX7: the lower of two sheets", "6SN7GT", "plate_v", 300.0),
        seen(f"{RECORD}, 12AZ7, of the 12AT7", "12AT7", "heater_cathode_v", 90.0),
        seen(f"{MODELS}, 12AY7", "12AY7", "plate_w", 1.5),
        seen(f"{MODELS}, 12AY7", "12AY7", "plate_v", 300.0),
        seen(f"{MODELS}, EF80", "EF80", "cathode_ma", 0.015),
        seen("article on choosing a power tube", "6L6GB", "plate_w", 19.0),
        seen(f"{ARTICLE}, KT66", "KT66", "plate_w", 25.0),
        seen(f"{ARTICLE}, KT66", "KT66", "plate_v", 500.0),
        seen(f"{SHEET_300B}: fixed grid bias", "300B", "cathode_ma", 0.070),
        seen("trade article on the 5U4, of the GB kind", "5U4GB", "peak_ma", 1.0),
        seen("article on a 6973 power amplifier", "6973", "plate_v", 440.0),
        seen("article on a 6973 power amplifier", "6973", "screen_v", 330.0),
        seen("article on the 7591", "7591", "plate_w", 19.0),
        memory("receiving tube manual RC-30", "2A3", "plate_w", 15.0),
        memory("receiving tube manual RC-30", "6K6GT", "plate_w", 8.5),
        memory("receiving tube manual RC-30", "6F6", "plate_v", 375.0),
        memory("receiving tube manual RC-30", "35Z5GT", "inverse_v", 700.0),
        memory(f"{SHEETS}, EZ80", "EZ80", "dc_ma", 0.090),
        memory(f"{SHEETS}, 7199", "7199", "plate_w", 3.0),
    ],
)
def test_limits_are_those_of_the_source(name: str, limit, value: float) -> None:
    """A limit is in the files as its source prints it."""
    assert tube(name).limit(limit) == pytest.approx(value)


@pytest.mark.parametrize(
    ("name", "limit", "value"),
    [
        seen(f"{MODELS}, 12AX7", "12AX7", "plate_w", 1.2),
        seen(f"{MODELS}, 12AX7", "12AX7", "plate_v", 330.0),
        seen(f"{MODELS}, EF80", "EF80", "plate_w", 3.8),
        seen(SHEET_300B, "300B", "plate_w", 40.0),
        seen(SHEET_300B, "300B", "plate_v", 450.0),
        seen(f"{SHEET_300B}: self-bias", "300B", "cathode_ma", 0.100),
        seen(SHEET_6X4, "6X4", "peak_ma", 0.245),
        seen(f"{RECORD}, GZ37: choke input", "GZ37", "inverse_v", 1850.0),
        seen(f"{RECORD}, 12SX7: the higher of two sheets", "6SN7GT", "plate_w", 2.75),
    ],
)
def test_the_less_safe_of_two_sources_is_told_but_not_used(name: str, limit, value: float) -> None:
    """Where sources differ both are kept and the lower one counts."""
    also = tube(name).limits[limit].also
    assert also is not None
    assert value_of(also.is_, LIMIT_UNITS[limit]) == pytest.approx(value)
    used = tube(name).limit(limit)
    assert used is not None and used < value


@pytest.mark.parametrize(
    ("name", "volts", "amps"),
    [
        seen(SHEET_6X4, "6X4", 6.3, 0.6),
        seen(SHEET_300B, "300B", 5.0, 1.2),
        seen(f"{ARTICLE}, KT66", "KT66", 6.3, 1.27),
        seen(f"{ARTICLE}, 25L6", "25L6GT", 25.0, 0.3),
        seen(f"{ARTICLE}, 25L6", "50L6GT", 50.0, 0.15),
        seen(f"{ARTICLE}, 25L6", "35L6GT", 35.0, 0.15),
        seen(f"{ARTICLE}, 6L6", "6L6GB", 6.3, 0.9),
        seen("trade article on the 5U4", "5U4GB", 5.0, 3.0),
        seen(f"{RECORD}, 5T4, of the 5U4G", "5U4G", 5.0, 3.0),
        seen(f"{RECORD}, GZ37", "GZ37", 5.0, 2.8),
        seen(f"{RECORD}, 5Z3, of the 80", "80", 5.0, 2.0),
        memory(f"{SHEETS}, ECC88", "ECC88", 6.3, 0.365),
        memory(f"{SHEETS}, 5751", "5751", 12.6, 0.175),
    ],
)
def test_heaters_are_those_of_the_source(name: str, volts: float, amps: float) -> None:
    """Heater volts and amperes are in the files as printed."""
    assert tube(name).heater_ways()[0] == pytest.approx((volts, amps))


@pytest.mark.parametrize(
    ("name", "pins"),
    [
        seen(f"{SYMBOLS}, ECC83", "ECC83", {"plate": [1, 6], "grid": [2, 7], "cathode": [3, 8],
                                           "heater": [4, 5], "heater_tap": [9]}),
        seen(f"{SYMBOLS}, ECC88", "ECC88", {"plate": [1, 6], "grid": [2, 7], "cathode": [3, 8],
                                           "heater": [4, 5]}),
        seen(f"{SYMBOLS}, ECL82", "ECL82", {"cathode": [2], "grid": [3], "plate": [6],
                                           "screen": [7], "heater": [4, 5]}),
        seen(f"{SYMBOLS}, ECL86", "ECL86", {"screen": [3], "plate": [6], "cathode": [7],
                                           "grid": [8], "heater": [4, 5]}),
        seen(f"{SYMBOLS}, EF80", "EF80", {"grid": [2], "plate": [7], "screen": [8],
                                         "suppressor": [9], "shield": [6], "heater": [4, 5]}),
        seen(f"{SYMBOLS}, EF86", "EF86", {"screen": [1], "cathode": [3], "plate": [6],
                                         "suppressor": [8], "grid": [9], "heater": [4, 5]}),
        seen(f"{SYMBOLS}, EL34", "EL34", {"suppressor": [1], "plate": [3], "screen": [4],
                                         "grid": [5], "cathode": [8], "heater": [2, 7]}),
        seen(f"{SYMBOLS}, EL84", "EL84", {"grid": [2], "cathode": [3], "plate": [7],
                                         "screen": [9], "heater": [4, 5]}),
        seen(f"{ARTICLE}, 6L6", "6L6GC", {"heater": [2, 7], "plate": [3], "screen": [4],
                                         "grid": [5], "cathode": [8]}),
        seen(SHEET_6X4, "6X4", {"heater": [3, 4], "plate": [6, 1], "cathode": [7]}),
        seen(f"{RECORD}, 5R4GY", "5R4GY", {"heater": [2, 8], "plate": [4, 6]}),
        memory("tube manual RC-30, 8BD", "6SN7GT", {"grid": [1, 4], "plate": [2, 5], "cathode": [3, 6],
                                           "heater": [7, 8]}),
        seen(SPLITTERS, "7199", {"plate": [2], "grid": [7], "cathode": [6]}),
        seen(SPLITTERS, "6U8A", {"plate": [6], "grid": [2], "cathode": [7]}),
        seen(SPLITTERS, "6BL8", {"plate": [6], "grid": [2], "cathode": [7]}),
        seen("forum thread on the 6973: pin 8 does the same as pin 2", "6973", {"screen": [2, 8]}),
    ],
)  # fmt: skip
def test_pins_are_those_of_the_source(name: str, pins: dict[str, list[int]]) -> None:
    """Each electrode stands at the pins the source gives."""
    found = tube(name).pins.by_role()
    assert {role: found.get(role) for role in pins} == pins


@pytest.mark.parametrize(
    ("name", "pins"),
    [
        seen(f"{SYMBOLS}, ECL82", "ECL82", (9, 1, 8)),
        seen(f"{SYMBOLS}, ECL86", "ECL86", (9, 1, 2)),
    ],
)
def test_the_triode_beside_stands_where_the_source_says(name: str, pins) -> None:
    """Plate, grid and cathode of the small triode."""
    triode = tube(name).triode
    assert triode is not None and (triode.plate, triode.grid, triode.cathode) == pins


@pytest.mark.parametrize(
    ("name", "mu"),
    [
        seen(TRIODES, "6J5", 20),
        seen(TRIODES, "6SN7", 20),
        seen(TRIODES, "6SL7", 70),
        seen(TRIODES, "12AU7", 17),
        seen(TRIODES, "12AT7", 60),
        seen(TRIODES, "12AX7", 100),
        seen(TRIODES, "6DJ8", 33),
        seen(SHEET_300B, "300B", 3.85),
        memory("receiving tube manual RC-30", "45", 3.5),
    ],
)
def test_amplification_factors_are_those_of_the_source(name: str, mu: float) -> None:
    """mu of the first point."""
    assert tube(name).points[0].mu == mu


@pytest.mark.parametrize(
    ("name", "volts", "grid", "amps"),
    [
        seen(SHEET_300B, "300B", 300.0, "-61 V", 0.060),
        seen(f"{ARTICLE}, KT66", "KT66", 250.0, "-15 V", 0.085),
        seen(f"{ARTICLE}, 6SN7", "6SN7GT", 250.0, "-8 V", 0.009),
        seen(f"{ARTICLE}, 12AX7", "12AX7", 250.0, "-2 V", 0.0012),
        memory(f"{SHEETS}, 7591", "7591", 300.0, "-10 V", 0.060),
        memory("receiving tube manual RC-30", "2A3", 250.0, "-45 V", 0.060),
    ],
)
def test_points_are_those_of_the_source(name: str, volts: float, grid: str, amps: float) -> None:
    """The first operating point is the published one."""
    point = tube(name).points[0]
    assert point.grid_v == grid
    assert (point.volts()[0], value_of(point.plate_ma, "A")) == pytest.approx((volts, amps))


@pytest.mark.parametrize(
    ("name", "volts", "amps"),
    [
        seen(f"{RECORD}, 5Z3", "5U4G", 58.0, 0.225),
        seen(f"{RECORD}, 5R4GY", "5R4GY", 67.0, 0.250),
        seen(f"{RECORD}, 6X4", "6X4", 22.0, 0.070),
        seen(f"{RECORD}, 5Y3, called approximate there", "5Y3GT", 60.0, 0.125),
        memory(f"{SHEETS}, GZ34", "GZ34", 17.0, 0.225),
        memory(f"{SHEETS}, 5U4GB", "5U4GB", 50.0, 0.275),
    ],
)
def test_drops_are_those_of_the_source(name: str, volts: float, amps: float) -> None:
    """Volts lost at the current the source names."""
    assert tube(name).drop_at(amps) == pytest.approx(volts)


@pytest.mark.parametrize(
    ("name", "perveance"),
    [
        seen(FITS, "5U4GB", 0.783455e-3),
        seen(FITS, "5V4G", 1.480822e-3),
        seen(FITS, "6X4", 0.702260e-3),
        seen(FITS, "GZ34", 3.961806e-3),
        seen(FITS, "EZ81", 1.708538e-3),
        seen(FITS, "EZ80", 0.730451e-3),
        seen(FITS, "5Y3GT", 0.352292e-3),
    ],
)
def test_drops_agree_with_constants_fitted_by_others(name: str, perveance: float) -> None:
    """V = (I/G)^(2/3) with G fitted to another maker's sheet: within a quarter at full current."""
    dc_a = tube(name).limit("dc_ma")
    assert dc_a is not None
    assert tube(name).drop_at(dc_a) == pytest.approx((dc_a / perveance) ** (2 / 3), rel=0.25)


@pytest.mark.parametrize(
    ("name", "other"),
    [
        seen(f"{RECORD}, 6X4", "6X4", "CV493"),
        seen(f"{RECORD}, 6X4", "6X4", "EZ90"),
        seen(f"{RECORD}, GZ37", "GZ37", "CV378"),
        seen("article on the 6X5GT", "6X5GT", "VT-126B"),
        seen(f"{ARTICLE}, 6SN7", "6SN7GT", "CV1988"),
        seen(f"{ARTICLE}, EL84", "EL84", "6BQ5"),
        seen(f"{ARTICLE}, 12AX7 family", "ECC83", "CV4004"),
        seen(SUBS, "12AT7", "6201"),
        seen(SUBS, "12AT7", "CV4024"),
        seen(SUBS, "12AU7", "6189"),
        seen(SUBS, "12AY7", "6072"),
        memory(f"{SHEETS}, 12AT7", "12AT7", "CV455"),
    ],
)
def test_other_numbers_find_the_type(name: str, other: str) -> None:
    """A number that the source calls the same tube finds it."""
    assert find_tube(TUBES, other) is tube(name)


@pytest.mark.parametrize(
    ("fixed", "cathode"),
    [seen(f"{RECORD}, 12AZ7, electrically the 12AT7", 0.25e6, 1e6)],
)
def test_grid_returns_are_those_of_the_source(fixed: float, cathode: float) -> None:
    """12AT7: 0.25 Mohm with fixed and 1 Mohm with cathode bias."""
    found = tube("12AT7")
    assert (found.return_limit("fixed"), found.return_limit("cathode")) == (fixed, cathode)


@pytest.mark.published("seen", "web journal on tube ratings, December 2000")
def test_a_rating_system_is_a_tenth() -> None:
    """7189 to 7189A is exactly a tenth up in plate watts and volts, as that page says."""
    assert pytest.approx(1.1) == SYSTEM_STEP
    for name in ("plate_w", "plate_v"):
        also = tube("7189").limits[name].also
        used = tube("7189").limit(name)
        assert also is not None and used is not None
        assert value_of(also.is_, LIMIT_UNITS[name]) == pytest.approx(SYSTEM_STEP * used)


@pytest.mark.published("seen", "forum on what data sheets mean: +-30 % among new tubes")
def test_gain_within_the_spread_of_new_tubes_is_no_change() -> None:
    """mu 70 for mu 100 is within 30 %, mu 60 is not."""
    assert pytest.approx(0.30) == SPREAD
    for name, level in (("5751", "good"), ("12AT7", "change")):
        reasons = substitute(tube("12AX7"), tube(name)).reasons
        assert [reason.level for reason in reasons if reason.about == "gain"] == [level]


@pytest.mark.published(
    "seen", CHART + "; its GZ37 is left out, for the fitted model says otherwise"
)
def test_rectifiers_stand_in_the_order_of_the_chart() -> None:
    """At 100 mA GZ34, 5V4G, 5U4G, 5R4GY and 5Y3GT drop more and more, as the chart has it."""
    drops = [tube(name).drop_at(0.1) or 0.0 for name in ("GZ34", "5V4G", "5U4G", "5R4GY", "5Y3GT")]
    assert drops[0] > 0 and drops == sorted(set(drops))


@pytest.mark.published("seen", SPLITTERS + ": do not substitute without rewiring")
def test_a_6u8_in_a_7199_socket_is_unsafe() -> None:
    """Exactly the three pins that the page has rewired are told."""
    for name in ("6U8A", "6BL8"):
        found = substitute(tube("7199"), tube(name)).why("bad")
        assert [says.split(":")[0] for says in found] == ["pin 2", "pin 6", "pin 7"]


@pytest.mark.published("seen", CHART + ": most want 2 A, the 5U4 3 A; rebias, mind the capacitors")
def test_the_charts_cautions_are_said() -> None:
    """5Y3GT to 5U4G: the ampere more for the winding, and B+ up for capacitors and bias."""
    found = substitute(tube("5Y3GT"), tube("5U4G")).why("change")
    assert any("heater takes 1 A more" in says for says in found)
    assert any("B+ moves by +" in says and "capacitors" in says for says in found)


@pytest.mark.published("practice", "5AR4 for 5U4GB: B+ up by some 40 to 50 V")
def test_b_plus_rises_as_the_trade_says() -> None:
    """At 105 to 150 mA the estimate for 5U4GB to GZ34 lies in the trade's figure, give or take 5 V."""
    for dc_a in (0.105, 0.125, 0.150):
        shift = b_plus_shift(tube("5U4GB"), tube("GZ34"), dc_a)
        assert shift is not None and 35 <= shift.low_v <= shift.high_v <= 55


@pytest.mark.published("practice", "5Y3GT wants a bias and capacitor check before a GZ34 goes in")
def test_the_trades_warning_of_small_amplifiers_is_said() -> None:
    """A GZ34 in a 5Y3GT socket: the rise of B+ is among what must be looked after."""
    found = substitute(tube("5Y3GT"), tube("GZ34"))
    assert any("B+ moves by +" in says for says in found.why("change"))
