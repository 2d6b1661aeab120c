"""The check ``chart``: a file of readings against a voltage chart."""

from __future__ import annotations

from triage.measure.asked import Check, Given
from triage.measure.chart import Judged, judge_chart
from triage.measure.chart_files import Chart, Readings, read_chart, read_readings
from triage.measure.checks import Outcome, Param, plain
from triage.units import format_si


def opened(given: Given) -> tuple[Chart, Readings]:
    """Chart and readings out of the files that were named."""
    names = given.text("chart"), given.text("readings")
    chart = read_chart(given.shelf.files[names[0]], names[0])
    return chart, read_readings(given.shelf.files[names[1]], names[1], chart)


def _row(row: Judged) -> str:
    expected = row.by_supply or row.today
    unit = row.expected.unit
    wanted = format_si(expected.value, unit) if expected is not None else "-"
    read = "OL" if row.reading.over else format_si(row.reading.value, unit)
    sign = "*" if row.off else " "
    return f"{sign} {row.expected.point:<13} {read:>9} of {wanted:>9}  {row.says}"


def _chart(given: Given) -> Outcome:
    chart, readings = opened(given)
    result = judge_chart(chart, readings, given.shelf.meters)
    steps = [f"{row.expected.point}: {step}" for row in result.rows for step in row.steps]
    lines = [_row(row) for row in result.rows]
    lines += [f"  {point:<13} not read" for point in result.unread]
    marks = [*result.marks]
    marks += [f"{row.expected.point}: {mark}" for row in result.rows for mark in row.marks]
    return Outcome(
        plain(float(sum(row.off for row in result.rows))), result.summary,
        f"{chart.title}, each point against its own supply first", tuple(steps),
        tuple((row.expected.point, row.reading) for row in result.rows),
        tuple(marks), tuple(lines),
    )  # fmt: skip


CHARTS: tuple[Check, ...] = (
    Check(
        "chart", "a file of readings against a voltage chart",
        (
            Param("chart", "", "file of the chart (CSV or YAML)", sort="text"),
            Param("readings", "", "file of the readings", sort="text"),
        ),
        _chart, "linden_hall.csv linden_hall_readings.csv", files=True,
    ),
)  # fmt: skip
