"""A voltage chart judged: each reading against its own supply first, and at today's line.

Expected and read values are brought to one meter and one line before they are compared: the chart's
meter loaded the point then, today's loads it now, and the line moves everything but regulated
points. What is off together with the supply that feeds it is not called wrong.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast

from triage.errors import BadReading, KnowledgeError, OutOfRange, Problem
from triage.measure.bands import quantity_of
from triage.measure.chart_files import Chart, Expected, Read, Readings
from triage.measure.judges import LINE_UNKNOWN, judge
from triage.measure.meters import Meter, Reading, take
from triage.measure.placing import Placed, place
from triage.measure.quantity import Quantity
from triage.model.entries import Finding
from triage.units import format_si, parse

WIDER = 2.0
"""Sound parts may lie this many tolerances off: unusual, no fault by itself (common practice)."""
HEAVY = 1.0 / 11.0
"""Share taken by a meter from which on the point is another circuit with it (the ten-times rule)."""


@dataclass(frozen=True)
class Judged:
    """One point read and judged; all values as today's meter would show them.

    ``today`` is what the chart means at today's line, ``by_supply`` what it means with its own
    supply as it is (None where that was not read). ``chart`` and ``own`` are the two placings.
    """

    expected: Expected
    reading: Quantity
    typed: str
    today: Quantity | None
    by_supply: Quantity | None
    chart: Placed | None
    own: Placed | None
    word: str
    says: str
    steps: tuple[str, ...]
    marks: tuple[str, ...]
    supply_reading: Quantity | None = None

    @property
    def off(self) -> bool:
        """Whether it is surely beyond its tolerance for its own supply (or, without, the chart)."""
        placed = self.own or self.chart
        return placed is not None and placed.bad


@dataclass(frozen=True)
class ChartResult:
    """All judged points in the chart's order, those that were not read, and one summary."""

    rows: tuple[Judged, ...]
    unread: tuple[str, ...]
    summary: str
    marks: tuple[str, ...]


@dataclass(frozen=True)
class Told:
    """What a judged point tells a job: the answer of a finding at a place, and the reading."""

    finding: str
    place: str
    answer: str
    reading: str
    probability: float
    point: str


def judge_chart(chart: Chart, readings: Readings, meters: Mapping[str, Meter]) -> ChartResult:
    """Judge every point that was read.

    Raises
    ------
    KnowledgeError : a meter that is not known, or a range that is missing; told with file and line.
    """
    problems: list[Problem] = []
    taken: dict[str, Quantity] = {}
    for point, read in readings.rows.items():
        try:
            taken[point] = _taken(chart.points[point], read, readings, meters)
        except (BadReading, OutOfRange) as error:
            problems.append(Problem(readings.name, read.line, f"{point}: {error}"))
    for expected in chart.points.values():
        if expected.meter and expected.meter not in meters:
            known = ", ".join(meters)
            problems.append(Problem(chart.name, expected.line, f"no such meter '{expected.meter}'",
                                    mend=f"there are {known}."))  # fmt: skip
    if problems:
        raise KnowledgeError(problems)
    rows = []
    for point in chart.points:
        if point in taken:
            try:
                rows.append(_judged(chart, readings, meters, taken, point))
            except OutOfRange as error:
                line = chart.points[point].line
                raise KnowledgeError([Problem(chart.name, line, f"{point}: {error}")]) from None
    unread = tuple(point for point in chart.points if point not in taken)
    return ChartResult(tuple(rows), unread, _summary(rows), _marks(chart, readings))


def _meter(meters: Mapping[str, Meter], name: str) -> Meter:
    found = meters.get(name)
    if found is None:
        raise BadReading(name, f"no such meter; there are {', '.join(meters)}.")
    return found


def _taken(
    expected: Expected, read: Read, readings: Readings, meters: Mapping[str, Meter]
) -> Quantity:
    meter = _meter(meters, read.meter or readings.meter)
    kind = cast(Reading, expected.kind)
    return take(parse(read.text, expected.unit), kind, meter, read.range_v)


def _loading(expected: Expected, meter: Meter | None, range_v: float | None, volts: float) -> float:
    """Share of the true volts that a meter shows at a point: R_m/(R_m + R_s); 1 if unknown."""
    if meter is None or expected.source_ohm is None or expected.unit != "V":
        return 1.0
    span = range_v if range_v is not None else meter.range_for(volts)
    ohm = meter.input_ohm(span, ac=expected.kind == "ac_volts")
    return ohm / (ohm + expected.source_ohm)


def _line(expected: Expected, readings: Readings) -> tuple[Quantity, str]:
    """Factor of the line, today over the chart's, and the words for it."""
    if expected.regulated or expected.unit not in ("V", "A"):
        return Quantity(1.0, 0.0, ""), "regulated" if expected.regulated else ""
    now = quantity_of({"line": readings.line}, "line", "V") if readings.line else None
    if now is None or expected.line_v is None:
        return Quantity(1.0, 0.0, "", spread=LINE_UNKNOWN), "line not known: 8 % either way"
    k = now.value / expected.line_v
    if expected.unit == "A":
        return Quantity(k**1.5, 0.0, ""), f"currents go as k^1.5 = {k**1.5:.3f}"
    return Quantity(k, 0.0, ""), f"line at {k:.3f} of the chart's"


def _judged(
    chart: Chart, readings: Readings, meters: Mapping[str, Meter],
    taken: Mapping[str, Quantity], point: str,
) -> Judged:  # fmt: skip
    expected, reading, read = chart.points[point], taken[point], readings.rows[point]
    then = _loading(expected, meters.get(expected.meter), expected.range_v, expected.value)
    meter = _meter(meters, read.meter or readings.meter)
    now = _loading(expected, meter, read.range_v, expected.value)
    here = expected.value / then * now
    steps = []
    if then != now:
        steps.append(
            f"meter: {format_si(expected.value, expected.unit)} / {then:.3f} × {now:.3f} = "
            f"{format_si(here, expected.unit, 4)}"
        )
    k, words = _line(expected, readings)
    today = Quantity(here, 0.0, expected.unit) * k
    if words:
        steps.append(f"{words}: {format_si(today.value, expected.unit, 4)} expected")
    on_chart: Placed | None = None
    if chart.power == readings.power:
        on_chart = _placed(reading, today, expected.tolerance, "the chart at today's line")
    supply = chart.points.get(expected.supply)
    source = taken.get(expected.supply)
    by_supply = None
    if supply is not None and source is not None and not source.one_sided and source.value:
        ratio = source / supply.value
        by_supply = Quantity(here, 0.0, expected.unit) * Quantity(ratio.value, ratio.total_u, "")
        steps.append(
            f"{expected.supply} at {ratio.value:.3f} of its chart: "
            f"{format_si(by_supply.value, expected.unit, 4)} for it"
        )
    usable = by_supply is not None and expected.unit in ("V", "A") and not expected.regulated
    own = None
    if usable and by_supply is not None:
        own = _placed(reading, by_supply, expected.tolerance, f"its own supply {expected.supply}")

    word, says = _says(expected, reading, own, on_chart)
    heavy = [f"this meter takes {1 - now:.0%} here"] if 1 - now > HEAVY else []
    return Judged(
        expected, reading, read.text, today if on_chart is not None else None, by_supply, on_chart, own, word,
        says, tuple(steps), tuple(heavy), source,
    )  # fmt: skip


def _placed(reading: Quantity, wanted: Quantity, tolerance: float, rests: str) -> Placed:
    """Place the ratio of a reading to what is wanted; 1 is exact."""
    if reading.over:
        ratio = Quantity(math.inf, 0.0, "", over=True)
    else:
        ratio = reading / Quantity(wanted.value, wanted.total_u, wanted.unit)
    wide = min(WIDER * tolerance, 0.95)
    return place(
        ratio, 1 - tolerance, 1 + tolerance, rests, spread_low=1 - wide, spread_high=1 + wide
    )


_WORDS = {
    "far_below": "low", "below": "a little low", "within": "right", "above": "a little high",
    "far_above": "high",
}  # fmt: skip


def _word(placed: Placed, reading: Quantity, expected: Expected) -> str:
    if not reading.over and abs(reading.value) < 0.05 * abs(expected.value):
        return "absent"
    return _WORDS[placed.lies]


def _says(
    expected: Expected, reading: Quantity, own: Placed | None, on_chart: Placed | None
) -> tuple[str, str]:
    """One word, and one sentence: the own supply decides, the chart tells the rest."""
    placed = own or on_chart
    if placed is None:
        return "open", "not judged: taken in another state than the chart, and no supply to go by"
    word = _word(placed, reading, expected)
    sure = f"{min(placed.probability, 0.99):.0%} sure"
    if own is None:
        return word, f"{word} against the chart ({sure})"
    if on_chart is None:
        return word, f"{word} for its supply {expected.supply} ({sure})"
    along = _word(on_chart, reading, expected)
    if word == "right" and along != "right":
        return word, f"right for {expected.supply}, with which it is {along} ({sure})"
    if word != "right" and along == "right":
        return word, f"{word} for {expected.supply}, though near the chart ({sure})"
    return word, f"{word} for its supply {expected.supply} ({sure})"


def _summary(rows: list[Judged]) -> str:
    """Where to look first: the first point off for a supply that is itself right."""
    if not rows:
        return "Nothing was read."
    off = {row.expected.point for row in rows if row.off}
    if not off:
        unusual = [r.expected.point for r in rows if (p := r.own or r.chart) and p.unusual]
        tail = f" Unusual, no fault by itself: {', '.join(unusual)}." if unusual else ""
        return f"All {len(rows)} points read are right for their supplies.{tail}"
    roots = [r for r in rows if r.expected.point in off and r.expected.supply not in off]
    first = roots[0] if roots else next(r for r in rows if r.off)
    names = ", ".join(r.expected.point for r in rows if r.off)
    return (
        f"{len(off)} of {len(rows)} points off: {names}. Look first at {first.expected.point}, "
        f"{first.says.split(' (')[0]}; what hangs on it follows."
    )


def _marks(chart: Chart, readings: Readings) -> tuple[str, ...]:
    marks = []
    if not readings.line:
        marks.append("the line was not read: 8 % either way is allowed for it")
    if chart.power != readings.power:
        marks.append(f"taken '{readings.power}', the chart is '{chart.power}': only points whose "
                     "own supply was read are judged")  # fmt: skip
    if any(e.source_ohm is None and e.supply for e in chart.points.values()):
        marks.append("where the chart gives no source resistance the meters' loading is left out")
    return tuple(marks)


def told(result: ChartResult, findings: Mapping[str, Finding]) -> tuple[Told, ...]:
    """Answers for a job, of the points whose chart names a finding and a place.

    Each finding's own judge decides, with the chart's value and the supply as read for context (a
    node is set against what the node before it should make here); a finding that takes no reading,
    or a judge that lacks something, tells nothing.

    Raises
    ------
    KeyError : the chart names a finding that is not there (see ``unknown_findings``).
    """
    found = []
    for row in result.rows:
        expected = row.expected
        if not expected.finding or not expected.place:
            continue
        entry = findings[expected.finding]
        if entry.takes is None or entry.takes.reading != expected.kind:
            continue
        context: dict[str, str | float | Quantity] = {"line_v": 1.0, "line_nominal_v": 1.0}
        wanted = row.by_supply or row.today
        if wanted is not None:
            context |= {"expected": wanted, "grid_expected": wanted}
        if row.supply_reading is not None:
            context["own_node"] = row.supply_reading
        if row.by_supply is not None:
            context["node_before"] = row.by_supply
        verdict = judge(
            entry.takes.judge, row.reading, entry.takes.settings, context, entry.answers
        )
        if verdict.informative:
            answer = verdict.answer
            found.append(Told(expected.finding, expected.place, answer, row.typed,
                              verdict.probs[answer], expected.point))  # fmt: skip
    return tuple(found)


def unknown_findings(chart: Chart, findings: Mapping[str, Finding]) -> list[Problem]:
    """Findings that a chart names and that are not there, as problems with file and line."""
    return [
        Problem(chart.name, e.line, f"unknown finding '{e.finding}'")
        for e in chart.points.values()
        if e.finding and e.finding not in findings
    ]
