"""Judges turn a reading with its uncertainty into shares over a finding's answers."""

import operator

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from triage.knowledge.paths import knowledge_dir
from triage.measure.judges import JUDGES, accepts, judge
from triage.measure.meters import UNITS, Meter, load_meters, take
from triage.measure.quantity import Quantity
from triage.units import parse

SHIFT = {"edges": "0.5 V, 5 V"}
SHIFTED = ["normal", "raised", "far_raised"]


def meter(name: str = "digital") -> Meter:
    rows = yaml.safe_load((knowledge_dir() / "meters.yaml").read_text(encoding="utf-8"))
    return load_meters(rows)[name]


def volts(text: str, with_meter: Meter | None = None) -> Quantity:
    return take(parse(text, "V"), "dc_volts", with_meter or meter())


def findings() -> list[dict]:
    files = sorted((knowledge_dir() / "findings").glob("*.yaml"))
    rows = [row for file in files for row in yaml.safe_load(file.read_text(encoding="utf-8"))]
    return [row for row in rows if "takes" in row]


@pytest.mark.parametrize("compare", [operator.lt, operator.le, operator.gt, operator.ge])
def test_comparing_quantities_is_refused(compare) -> None:
    """Quantities cannot be compared with < outside the judges, nor with a plain number."""
    with pytest.raises(TypeError, match="judge"):
        compare(Quantity(1.0, 0.1, "V"), Quantity(2.0, 0.1, "V"))
    with pytest.raises(TypeError, match="judge"):
        compare(Quantity(1.0, 0.1, "V"), 2.0)


def test_halving_the_meters_accuracy_moves_the_verdict() -> None:
    """A reading near a limit is surer with a meter twice as good."""
    answers = ["low", "high"]
    plain = judge("band", volts("0.997"), {"edges": "1 V"}, {}, answers).probs["low"]
    sharp = judge("band", volts("0.997", meter().sharper(0.5)), {"edges": "1 V"}, {}, answers)
    assert 0.5 < plain < sharp.probs["low"] < 1.0
    assert sharp.probs["low"] - plain > 0.05


@given(st.floats(-600, 600), st.floats(0, 50), st.floats(0, 20))
def test_shares_sum_to_one(value: float, u: float, spread: float) -> None:
    """Whatever is read, the shares over the answers are a distribution."""
    found = judge("grid_shift", Quantity(value, u, "V", spread), SHIFT, {"mate": -40.0}, SHIFTED)
    assert sum(found.probs.values()) == pytest.approx(1.0)
    assert min(found.probs.values()) >= -1e-12


@given(st.floats(0.1, 100), st.floats(0.001, 10))
def test_raising_a_reading_never_favours_a_lower_answer(value: float, more: float) -> None:
    """The share at or below each answer falls as the reading rises."""
    settings, answers = {"edges": "1 V, 10 V, 50 V"}, ["a", "b", "c", "d"]
    low = judge("band", Quantity(value, 0.5, "V"), settings, {}, answers)
    high = judge("band", Quantity(value + more, 0.5, "V"), settings, {}, answers)
    for count in (1, 2, 3):
        first = sum(low.probs[name] for name in answers[:count])
        assert first >= sum(high.probs[name] for name in answers[:count]) - 1e-12


def test_every_findings_settings_suit_its_judge() -> None:
    """No finding in the files names a judge or limits that cannot work."""
    faults = [
        (row["id"], said)
        for row in findings()
        if (
            said := accepts(
                row["takes"]["judge"],
                row["takes"].get("settings", {}),
                UNITS[row["takes"]["reading"]],
                len(row["answers"]),
            )
        )
    ]
    assert findings() and faults == []


def test_no_judge_crashes_without_context() -> None:
    """With nothing known, a judge leaves the answers open or decides, and shares sum to one."""
    for row in findings():
        takes = row["takes"]
        reading = Quantity(100.0, 1.0, UNITS[takes["reading"]])
        found = judge(takes["judge"], reading, takes.get("settings", {}), {}, row["answers"])
        assert set(found.probs) == set(row["answers"])
        assert sum(found.probs.values()) == pytest.approx(1.0)
        if not found.informative:
            assert len(set(found.probs.values())) == 1 and "No verdict" in found.says


def test_unknown_judges_are_named() -> None:
    """A judge that does not exist is refused, and those that do are listed."""
    with pytest.raises(KeyError, match="grid_shift"):
        judge("astrology", volts("1"), {}, {}, ["a", "b"])
    assert "no judge" in accepts("astrology", {}, "V", 2)
    assert "must rise" in accepts("band", {"edges": "5 V, 1 V"}, "V", 3)
    assert "need 2" in accepts("band", {"edges": "5 V"}, "V", 3)


def test_a_raised_grid_is_told_with_leak_and_current() -> None:
    """A grid 12 V above its mate reads far raised, with the leak and the current that follow."""
    known = {"mate": "-38 V", "gm": 4.4e-3, "source_v": 250.0, "return_ohm": 82e3}
    found = judge("grid_shift", volts("-26"), SHIFT, known, SHIFTED)
    assert found.answer == "far_raised" and found.probs["far_raised"] > 0.99
    assert any("52.8 mA" in step for step in found.steps)
    assert any("1.89 MΩ" in step for step in found.steps)


def test_line_unknown_widens_an_expected_value() -> None:
    """B+ of 445 V for 400 V expected is surer once the line is known to be nominal."""
    answers, settings = (
        ["absent", "low", "normal", "high"],
        {"against": "expected", "edges": "0.1, 0.88, 1.12"},
    )
    blind = judge("ratio_band", volts("445"), settings, {"expected": 400.0}, answers)
    line = {"expected": 400.0, "line_v": 120.0, "line_nominal_v": 120.0}
    known = judge("ratio_band", volts("445"), settings, line, answers)
    high_line = judge("ratio_band", volts("455"), settings, line | {"line_v": 128.0}, answers)
    assert blind.probs["high"] > 0.3 and known.probs["normal"] > 0.85
    assert high_line.answer == "normal"


def test_dissipation_is_judged_by_kind_of_bias() -> None:
    """Ninety per cent of the rating is high with fixed bias and normal with cathode bias."""
    settings = {"edges_fixed": "0.03, 0.30, 0.75, 1.0", "edges_cathode": "0.03, 0.50, 1.02, 1.25"}
    answers = ["none", "low", "normal", "high", "far_high"]
    amps = take(parse("60 mA", "A"), "dc_ma", meter())
    known = {"plate_v": 450.0, "plate_w": 30.0}
    fixed = judge("idle_share", amps, settings, known | {"bias": "fixed"}, answers)
    cathode = judge("idle_share", amps, settings, known | {"bias": "cathode"}, answers)
    unknown = judge("idle_share", amps, settings, known, answers)
    assert (fixed.answer, cathode.answer) == ("high", "normal")
    assert unknown.probs["high"] == pytest.approx(unknown.probs["normal"], abs=0.05)


def test_low_ohms_in_circuit_stay_open() -> None:
    """High in circuit condemns; low may be a parallel path unless the part is lifted."""
    settings, answers = {"edges": "0.8, 1.2, 5"}, ["low", "right", "high", "open"]
    known = {"nominal_ohm": "100 kohm"}

    def ohms(text: str, **more: str):
        reading = take(parse(text, "ohm"), "ohms", meter())
        return judge("ohms_nominal", reading, settings, known | more, answers)

    assert ohms("180k").answer == "high" and ohms("OL").answer == "open"
    assert ohms("40k").probs["right"] == pytest.approx(0.5, abs=0.01)
    assert ohms("40k", in_circuit="no").probs["low"] > 0.99


def test_a_bound_leaves_open_what_it_cannot_exclude() -> None:
    """More than 2 V of shift cannot be normal, and may be raised or far raised."""
    found = judge("grid_shift", volts(">-36"), SHIFT, {"mate": -38.0}, SHIFTED)
    assert found.probs["normal"] == 0.0
    assert found.probs["raised"] == found.probs["far_raised"] == 0.5


def test_falling_order_runs_from_high_to_low() -> None:
    """Insulation of 20 MΩ is good and of 200 kΩ poor; OL is good."""
    settings, answers = {"edges": "1 Mohm", "order": "falling"}, ["good", "poor"]
    for text, answer in (("20M", "good"), ("200k", "poor"), ("OL", "good")):
        reading = take(parse(text, "ohm"), "ohms", meter())
        assert judge("band", reading, settings, {}, answers).answer == answer


def test_ripple_rate_is_judged_by_rectifier() -> None:
    """Ripple at line frequency is a fault of full wave and as built in half wave."""
    at_line, answers = Quantity(60.0, 0.1, "Hz"), ["as_built", "half_missing"]
    for kind, answer in (("full_wave", "half_missing"), ("half_wave", "as_built")):
        known = {"hertz": 60.0, "rectifying": kind}
        assert judge("hum_rate", at_line, {}, known, answers).answer == answer
    pitches = ["no_pitch", "mains", "double", "rasp"]
    for hertz, answer in ((50.0, "mains"), (100.0, "double"), (300.0, "rasp"), (0.0, "no_pitch")):
        found = judge("hum_rate", Quantity(hertz, 0.5, "Hz"), {}, {"hertz": 50.0}, pitches)
        assert found.answer == answer


def test_halves_unlike_either_way_are_uneven() -> None:
    """A ratio off one either way is uneven, and near one even."""
    settings = {"against": "other_half", "edges": "0.95, 1.05", "fold": "uneven"}
    for value, answer in ((10.0, "even"), (8.0, "uneven"), (12.0, "uneven")):
        known = {"other_half": 10.0}
        found = judge("ratio_band", Quantity(value, 0.05, "V"), settings, known, ["even", "uneven"])
        assert found.answer == answer and found.probs[answer] > 0.95


def test_leakage_line_and_heater_are_judged() -> None:
    """The remaining judges give the expected answer well inside each band."""
    known = {"marked": "20 uF", "rated_v": "450 V", "line_nominal_v": 120.0}
    for amps, answer in ((0.4e-3, "small"), (3e-3, "large")):
        found = judge("leakage", Quantity(amps, 1e-5, "A"), {}, known, ["small", "large"])
        assert found.answer == answer
    lines, line_edges = ["low", "normal", "high"], {"edges": "0.94, 1.06"}
    assert judge("line_band", Quantity(130.0, 0.5, "V"), line_edges, known, lines).answer == "high"
    heats, edges = ["absent", "low", "normal", "high"], {"edges": "0.2, 0.9, 1.1"}
    assert judge("heater_band", Quantity(5.2, 0.05, "V"), edges, known, heats).answer == "low"
    lamp = {"power": "limited_bare", "line_v": 80.0, "line_nominal_v": 120.0}
    assert judge("heater_band", Quantity(4.2, 0.05, "V"), edges, lamp, heats).answer == "normal"
    assert set(JUDGES) >= {"band", "ratio_band", "line_band", "heater_band", "idle_share"}
