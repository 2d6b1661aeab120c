"""Verdicts: where a value lies, how sure that is, and what is unusual without being bad."""

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.errors import OutOfRange
from triage.knowledge.paths import knowledge_dir
from triage.measure.judges import JUDGES, accepts, judge
from triage.measure.meters import UNITS, load_meters, take
from triage.measure.placing import place
from triage.measure.quantity import Quantity
from triage.measure.worked import MEMORY
from triage.model.entries import Finding
from triage.units import parse

RATIO = {"against": "expected", "edges": "0.85, 1.15", "spread": "0.7, 1.3"}
ANSWERS = ["low", "normal", "high"]
KNOWN = {"expected": 40e-3}


def rows(pattern: str) -> list[dict]:
    files = sorted(knowledge_dir().glob(pattern))
    return [row for file in files for row in yaml.safe_load(file.read_text(encoding="utf-8"))]


def ma(value: float, u: float = 0.1) -> Quantity:
    return Quantity(value / 1e3, u / 1e3, "A")


def test_unusual_within_the_spread_is_not_called_bad() -> None:
    """48 mA for 30 to 45 mA is unusual and no fault; 60 mA is beyond what sound tubes show."""
    edges = {"spread_low": 28e-3, "spread_high": 52e-3}
    usual, odd, bad = (
        place(ma(x), 30e-3, 45e-3, "a pair of this type", **edges) for x in (38, 48, 60)
    )
    assert (usual.lies, odd.lies, bad.lies) == ("within", "above", "far_above")
    assert "is usual" in usual.says and "well inside" in usual.says
    assert "unusual" in odd.says and "no fault by itself" in odd.says and odd.unusual
    assert "beyond" in bad.says and bad.bad and not odd.bad and not usual.bad
    assert not any(found.opens_gate for found in (usual, odd, bad))


def test_a_value_on_an_edge_is_not_called() -> None:
    """At the edge the sentence gives both shares, and position tells the place in the band."""
    found = place(ma(45.0, 0.5), 30e-3, 45e-3, "band")
    assert "cannot be placed for sure" in found.says and found.probability == pytest.approx(0.5)
    assert found.position == pytest.approx(1.0) and not found.bad


def test_a_band_from_memory_says_so() -> None:
    """The mark stands on the screen beside the limit."""
    assert MEMORY in place(ma(38), 30e-3, 45e-3, "sheet", from_memory=True).says
    known = {"plate_v": 450.0, "plate_w": 30.0, "bias": "fixed"}
    edges = {"edges_fixed": "0.03, 0.30, 0.75, 1.0", "edges_cathode": "0.03, 0.50, 1.02, 1.25"}
    answers = ["none", "low", "normal", "high", "far_high"]
    assert MEMORY not in judge("idle_share", ma(40), edges, known, answers).says
    marked = judge("idle_share", ma(40), edges, known | {"plate_w_memory": "yes"}, answers)
    assert MEMORY in marked.says and marked.answer == "normal" and not marked.opens_gate


def test_edges_that_do_not_rise_are_refused() -> None:
    """A band turned round is an error with its edges."""
    with pytest.raises(OutOfRange, match="edges"):
        place(ma(38), 45e-3, 30e-3, "band")


@given(st.floats(-100, 100), st.floats(0, 10), st.floats(0, 5))
def test_places_share_out_all_of_a_reading(value: float, u: float, spread: float) -> None:
    """Whatever is read, the shares of the five places sum to one."""
    found = place(Quantity(value, u, "V", spread), 10, 20, "b", spread_low=5, spread_high=30)
    assert sum(found.probs.values()) == pytest.approx(1.0)
    assert found.probability == max(found.probs.values())


@given(st.floats(0, 40), st.floats(0.1, 5))
def test_a_higher_reading_never_lies_lower(value: float, more: float) -> None:
    """The share at or below each place falls as the reading rises."""
    low, high = (
        place(Quantity(x, 1.0, "V"), 10, 20, "b", spread_low=5, spread_high=30)
        for x in (value, value + more)
    )
    names = list(low.probs)
    for count in range(1, 5):
        first = sum(low.probs[name] for name in names[:count])
        assert first >= sum(high.probs[name] for name in names[:count]) - 1e-12


def test_a_judge_weakens_what_lies_within_the_spread() -> None:
    """125 % of the expected current is "unusual", half the evidence; 150 % is high."""
    inside = judge("ratio_band", ma(50), RATIO, KNOWN, ANSWERS)
    outside = judge("ratio_band", ma(60), RATIO, KNOWN, ANSWERS)
    assert inside.unusual and "unusual" in inside.says
    assert inside.probs["high"] == pytest.approx(0.5, abs=0.01)
    assert outside.answer == "high" and outside.probs["high"] > 0.99 and not outside.unusual
    normal = judge("ratio_band", ma(41), RATIO, KNOWN, ANSWERS)
    assert normal.answer == "normal" and not normal.unusual and normal.where == "well inside"
    assert judge("ratio_band", ma(45.5), RATIO, KNOWN, ANSWERS).where == "near its high end"
    assert outside.where == "30% from the limit"
    falling = judge("ratio_band", ma(50), RATIO | {"order": "falling"}, KNOWN, ANSWERS[::-1])
    assert falling.unusual and falling.probs["high"] == pytest.approx(0.5, abs=0.01)


def test_a_spread_that_cannot_be_is_told_by_the_check() -> None:
    """The knowledge check says what is wrong with a spread."""
    assert "spread" in accepts("ratio_band", {**RATIO, "spread": "1.3, 0.7"}, "A", 3)
    assert "spread" in accepts("ratio_band", {**RATIO, "spread": "1.3"}, "A", 3)
    assert accepts("ratio_band", RATIO, "A", 3) == ""


def test_halving_the_meters_error_moves_the_probability() -> None:
    """Near an edge, a meter twice as good makes the verdict surer."""
    meter = load_meters(rows("meters.yaml"))["digital"]
    plain, sharp = (
        place(take(parse("100.4", "V"), "dc_volts", which), 50, 100, "band").probability
        for which in (meter, meter.sharper(0.5))
    )
    assert 0.5 < plain < sharp < 1.0 and sharp - plain > 0.05


FINDINGS = [Finding.model_validate(row) for row in rows("findings/*.yaml") if "takes" in row]
KEYS = ["line_v", "line_nominal_v", "hertz", "plate_v", "plate_w", "gm", "own_node", "mate",
        "expected", "idle", "marked", "nominal_ohm", "other_half", "earlier", "source_v",
        "return_ohm", "rated_v", "heater_v", "node_before", "screen_a"]  # fmt: skip
ODD = st.one_of(
    st.floats(-1e4, 1e4), st.just(0.0), st.just(float("nan")), st.just("no number"),
    st.just("OL"), st.just(">5 V"),
)  # fmt: skip


@settings(max_examples=150, derandomize=True)
@given(st.data())
def test_any_reading_in_any_context_gives_a_verdict(data) -> None:
    """No finding's judge crashes, whatever is read and known; its shares sum to one."""
    finding = data.draw(st.sampled_from(FINDINGS))
    unit = UNITS[finding.takes.reading]
    context = data.draw(st.dictionaries(st.sampled_from(KEYS), ODD, max_size=8))
    context |= {"bias": data.draw(st.sampled_from(["fixed", "cathode", "unknown"]))}
    if data.draw(st.booleans()):
        reading = Quantity(float("inf"), 0.0, unit, over=True)
    else:
        side = data.draw(st.sampled_from([{}, {"at_least": True}, {"at_most": True}]))
        reading = Quantity(
            data.draw(st.floats(-1e6, 1e6)), data.draw(st.floats(0, 10)), unit, **side
        )
    found = judge(finding.takes.judge, reading, finding.takes.settings, context, finding.answers)
    assert sum(found.probs.values()) == pytest.approx(1.0) and found.says
    assert set(found.probs) == set(finding.answers) and finding.takes.judge in JUDGES
