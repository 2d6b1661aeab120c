"""Voltage charts: own supply first, today's line, both meters; files with their errors by line."""

import math
from pathlib import Path

import pytest

from triage.cli.reckon import shelf as real_shelf
from triage.errors import KnowledgeError
from triage.knowledge.paths import knowledge_dir
from triage.measure.chart import ChartResult, Judged, judge_chart, told, unknown_findings
from triage.measure.chart_files import Chart, read_chart, read_readings

SHELF = real_shelf()
CHART = """\
title: bench
line: 120 V
meter: digital
point, value, tolerance, supply
B1, 400 V, 10 %,
B2, 300 V, 10 %, B1
plate, 150 V, 20 %, B2
"""


def chart_of(text: str = CHART, name: str = "bench.csv") -> Chart:
    return read_chart(text, name)


def judged(chart: Chart, head: str = "line: 120 V\n", **volts: str) -> ChartResult:
    rows = "".join(f"{point}, {text}\n" for point, text in volts.items())
    readings = read_readings(f"{head}point, reading\n{rows}", "today.csv", chart)
    return judge_chart(chart, readings, SHELF.meters)


def row(result: ChartResult, point: str) -> Judged:
    return next(row for row in result.rows if row.expected.point == point)


def problems(make) -> list[tuple[str, int, str]]:
    with pytest.raises(KnowledgeError) as caught:
        make()
    return [(p.file, p.line, p.what) for p in caught.value.problems]


def test_a_point_that_falls_with_its_supply_is_right_for_it() -> None:
    """B1 sags to 70 %: what hangs on it reads right for its supply, and B1 alone is off."""
    result = judged(chart_of(), B1="280 V", B2="210 V", plate="105 V")
    assert [r.off for r in result.rows] == [True, False, False]
    assert row(result, "B2").word == "right" and "with which it is" in row(result, "B2").says
    assert "Look first at B1" in result.summary


def test_a_point_that_does_not_follow_its_supply_is_off_though_near_the_chart() -> None:
    """B2 at 60 %, the plate still at its chart value: too high for what feeds it."""
    result = judged(chart_of(), B1="400 V", B2="180 V", plate="150 V")
    assert row(result, "plate").word == "high"
    assert "though near the chart" in row(result, "plate").says
    assert "Look first at B2" in result.summary


def test_the_line_moves_what_is_expected_and_not_what_is_regulated() -> None:
    """At 132 V everything is expected a tenth up, a regulated point as it was."""
    text = CHART.replace("tolerance, supply", "tolerance, supply, regulated").replace(
        "B1, 400 V, 10 %,", "B1, 400 V, 10 %, , \nV, 150 V, 5 %, , yes"
    )
    result = judged(chart_of(text), "line: 132 V\n", B1="440 V", V="150 V")
    today = {r.expected.point: r.today for r in result.rows}
    assert today["B1"] is not None and today["B1"].value == pytest.approx(440)
    assert today["V"] is not None and today["V"].value == pytest.approx(150)
    assert not any(r.off for r in result.rows)


def test_an_unread_line_is_allowed_for_and_said() -> None:
    """7 % high with no line read is not called off; with 120 V read, 18 % is."""
    loose = judged(chart_of(), "", B1="430 V")
    assert not row(loose, "B1").off and any("line was not read" in m for m in loose.marks)
    assert row(judged(chart_of(), B1="490 V"), "B1").off


def test_both_meters_loading_is_taken_out() -> None:
    """Behind 500k a 20 kΩ/V meter on 50 V (1 MΩ) showed 20 V of 30 V; a digital one shows 28.6 V.

    Source: divider arithmetic, as in the published 400 kΩ example of meter loading.
    """
    text = (
        "line: 120 V\nmeter: moving_coil_20k\npoint, value, tolerance, source, range\n"
        "grid, 20 V, 5 %, 500k, 50 V\n"
    )
    result = judged(chart_of(text), "line: 120 V\nmeter: digital\n", grid="28.6 V")
    today = row(result, "grid").today
    assert today is not None and today.value == pytest.approx(30 * 10 / 10.5, rel=1e-9)
    assert not row(result, "grid").off
    assert row(judged(chart_of(text), grid="20 V"), "grid").off


def test_a_meter_that_changes_the_circuit_is_named() -> None:
    """A 1 kΩ/V meter at a 500k point takes most of the volts: said beside the row."""
    text = "line: 120 V\nmeter: digital\npoint, value, tolerance, source\ngrid, 28.6 V, 5 %, 500k\n"
    result = judged(chart_of(text), "line: 120 V\nmeter: moving_coil_1k\n", grid="2.7 V")
    assert any("this meter takes" in mark for mark in row(result, "grid").marks)
    assert not row(result, "grid").off


def test_within_twice_the_tolerance_is_unusual_and_not_off() -> None:
    """15 % off at 10 % tolerance: a little low, no fault by itself; 30 % is off."""
    some = row(judged(chart_of(), B1="345 V"), "B1")
    assert some.word == "a little low" and not some.off
    assert row(judged(chart_of(), B1="270 V"), "B1").off


def test_next_to_nothing_is_absent_and_over_range_is_high() -> None:
    """0 V is absent, OL is high and off."""
    result = judged(chart_of(), B1="0.2 V", plate="OL")
    assert row(result, "B1").word == "absent" and row(result, "B1").off
    assert row(result, "plate").word == "high" and row(result, "plate").off


def test_another_state_than_the_charts_leaves_only_ratios() -> None:
    """On a limiter B1 is not judged, B2 against B1 is."""
    result = judged(chart_of(), "line: 70 V\npower: limited\n", B1="230 V", B2="100 V")
    assert row(result, "B1").word == "open" and not row(result, "B1").off
    assert row(result, "B2").off and row(result, "B2").chart is None


def test_negative_bias_keeps_its_side() -> None:
    """-20 V of -38 V is low, +1 V is low (and never high)."""
    text = "line: 120 V\npoint, value, tolerance\ngrid, -38 V, 10 %\n"
    assert row(judged(chart_of(text), grid="-20 V"), "grid").word == "low"
    assert row(judged(chart_of(text), grid="-56 V"), "grid").word == "high"
    assert row(judged(chart_of(text), grid="12 V"), "grid").word == "low"


def test_what_was_not_read_is_listed() -> None:
    """Two of three points are not there."""
    result = judged(chart_of(), B1="400 V")
    assert result.unread == ("B2", "plate")
    assert "right for their supplies" in result.summary


def test_yaml_and_csv_say_the_same() -> None:
    """The same chart in both forms gives the same points."""
    text = """\
title: bench
line: 120 V
meter: digital
points:
  - {point: B1, value: 400 V, tolerance: 10 %}
  - {point: B2, value: 300 V, tolerance: 10 %, supply: B1}
  - {point: plate, value: 150 V, tolerance: 20 %, supply: B2}
"""
    one, other = chart_of(text, "bench.yaml").points, chart_of().points
    assert {k: (v.value, v.tolerance, v.supply) for k, v in one.items()} == {
        k: (v.value, v.tolerance, v.supply) for k, v in other.items()
    }
    readings = read_readings(
        "line: 120 V\nreadings:\n  - {point: B1, reading: 401 V}\n", "t.yml", chart_of()
    )
    assert readings.rows["B1"].text == "401 V" and readings.line == "120 V"


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("B2, 300 V", "B2, 300", 6, "no unit"),
        ("B2, 300 V", "B2, lots", 6, "no number"),
        ("B2, 300 V", ", 300 V", 6, "'point' is missing"),
        ("B2, 300 V", "B1, 300 V", 6, "stands twice"),
        ("B2, 300 V, 10 %, B1", "B2, 300 V, 10 %, B7", 6, "is no point"),
        ("B2, 300 V, 10 %, B1", "B2, 300 V, 10 %, B2", 6, "feeds itself"),
        ("B2, 300 V, 10 %", "B2, 300 V, 0 %", 6, "above 0"),
        ("B2, 300 V, 10 %", "B2, 300 V, 5 A", 6, "tolerance"),
        ("B2, 300 V", "B2, 0 V", 6, "zero has no tolerance"),
        ("tolerance, supply", "tolerance, suply", 4, "unknown key 'suply'"),
        ("title: bench", "titel: bench", 1, "unknown key 'titel'"),
        ("10 %, B1", "10 %, B1, extra", 6, "5 cells for 4 columns"),
    ],
)
def test_each_wrong_line_of_a_chart_is_told_with_its_number(
    old: str, new: str, line: int, words: str
) -> None:
    """File, line and what is wrong, for every slip; other lines stay out of it."""
    found = problems(lambda: chart_of(CHART.replace(old, new)))
    assert any(f == "bench.csv" and at == line and words in what for f, at, what in found), found


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("point, reading\nB1, 400 V\nB9, 3 V\n", 3, "no point of bench.csv"),
        ("point, reading\nB1, 400 A\n", 2, "V is asked for"),
        ("point, reading\nB1, 400 V\nB1, 401 V\n", 3, "read twice"),
        ("line: lots\npoint, reading\nB1, 400 V\n", 1, "no number"),
        ("\n\nline: 120 A\npoint, reading\n", 3, "V is asked for"),
    ],
)
def test_each_wrong_line_of_the_readings_is_told_with_its_number(
    text: str, line: int, words: str
) -> None:
    """The readings' file and line."""
    found = problems(lambda: read_readings(text, "today.csv", chart_of()))
    assert any(f == "today.csv" and at == line and words in what for f, at, what in found), found


def test_a_meter_that_is_not_known_is_told_where_it_stands() -> None:
    """In the chart at its row, in the readings at theirs."""
    chart = chart_of(CHART.replace("meter: digital", "meter: crystal"))
    found = problems(lambda: judged(chart, B1="400 V"))
    assert any(what.startswith("no such meter 'crystal'") for _, _, what in found)
    found = problems(lambda: judged(chart_of(), "meter: crystal\n", B1="400 V"))
    assert ("today.csv", 3) in [(f, at) for f, at, _ in found]


@pytest.mark.parametrize("text", ["- a\n- b\n", "points: [1, 2]\n", "a: [\n", "points: []\n"])
def test_yaml_that_is_no_chart_is_refused_by_line(text: str) -> None:
    """A list, rows that are no mappings, broken YAML, no rows."""
    found = problems(lambda: chart_of(text, "bench.yaml"))
    assert all(f == "bench.yaml" and at >= 1 for f, at, _ in found)


# --- the chart that comes along, and what it tells a job


def linden() -> tuple[Chart, ChartResult]:
    folder: Path = knowledge_dir() / "charts"
    texts = {p.name: p.read_text(encoding="utf-8") for p in folder.glob("linden_hall*.csv")}
    chart = read_chart(texts["linden_hall.csv"], "linden_hall.csv")
    name = "linden_hall_readings.csv"
    return chart, judge_chart(chart, read_readings(texts[name], name, chart), SHELF.meters)


def test_the_example_finds_its_planted_fault_and_nothing_else() -> None:
    """The open plate resistor's stage: plate at its supply, cathode at nothing."""
    _, result = linden()
    assert [r.expected.point for r in result.rows if r.off] == ["V2a plate", "V2a cathode"]
    assert "Look first at V2a plate" in result.summary


def test_the_examples_findings_exist_and_tell_the_fault() -> None:
    """V2a draws nothing, everything else is as it should be."""
    chart, result = linden()
    assert unknown_findings(chart, SHELF.findings) == []
    rows = told(result, SHELF.findings)
    assert len(rows) >= 18 and all(0.3 < r.probability <= 1 for r in rows)
    odd = {
        (r.finding, r.place, r.answer) for r in rows if r.answer != SHELF.findings[r.finding].normal
    }
    assert odd == {("plate_share", "V2a", "at_supply"), ("cathode_volts", "V2a", "zero")}


def test_a_chart_that_names_a_finding_that_is_not_there_is_told_by_line() -> None:
    """The line of the row."""
    text = "line: 120 V\npoint, value, finding, place\nB1, 400 V, b_pluss, amp\n"
    found = unknown_findings(chart_of(text), SHELF.findings)
    assert [(p.file, p.line) for p in found] == [("bench.csv", 3)]


def test_a_row_whose_judge_lacks_something_tells_nothing() -> None:
    """A plate share without its supply read is not handed on."""
    text = (
        "line: 120 V\npoint, value, supply, finding, place\nB3, 344 V, , node_volts, B3\n"
        "p, 166 V, B3, plate_share, V2a\n"
    )
    assert [r.finding for r in told(judged(chart_of(text), p="160 V"), SHELF.findings)] == []
    both = told(judged(chart_of(text), B3="340 V", p="160 V"), SHELF.findings)
    assert [(r.finding, r.answer) for r in both] == [("plate_share", "normal")]


def test_every_judged_number_is_finite_or_open() -> None:
    """No NaN in any row of the example."""
    _, result = linden()
    for r in result.rows:
        for q in (r.reading, r.today, r.by_supply):
            assert q is None or math.isfinite(q.value)
