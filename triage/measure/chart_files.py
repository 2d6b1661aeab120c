"""Voltage charts and readings as files: CSV with a head, or YAML; every error with its line.

A chart says what is expected where, and how it was taken; a file of readings says what was read.
DEVELOPERS.md shows both forms.
"""

from __future__ import annotations

import csv
import difflib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import yaml

from triage.errors import BadReading, KnowledgeError, Problem
from triage.units import parse, value_of

CHART_HEAD = ("title", "amplifier", "line", "meter", "tolerance", "power")
CHART_KEYS = (
    "point", "value", "tolerance", "supply", "source", "meter", "range", "line", "regulated",
    "kind", "finding", "place", "note",
)  # fmt: skip
READ_HEAD = ("title", "line", "meter", "power")
READ_KEYS = ("point", "reading", "meter", "range", "note")
KINDS = {"V": "dc_volts", "A": "dc_ma", "ohm": "ohms", "Hz": "hertz", "F": "microfarad"}
TOLERANCE = "20 %"
"""Where a chart says nothing: 10 % is good, 20 % is accepted on old charts (common practice)."""


@dataclass(frozen=True)
class Expected:
    """One point of a chart, SI; ``tolerance`` is a share of ``value``.

    ``supply`` is the point of the chart that feeds it; ``source_ohm`` the resistance behind it;
    ``meter`` and ``range_v`` what it was taken with, ``line_v`` the line then. ``kind`` is that of
    the reading (dc_volts, ac_volts, ...).
    """

    point: str
    value: float
    unit: str
    tolerance: float
    kind: str
    line: int
    supply: str = ""
    source_ohm: float | None = None
    meter: str = ""
    range_v: float | None = None
    line_v: float | None = None
    regulated: bool = False
    finding: str = ""
    place: str = ""


@dataclass(frozen=True)
class Chart:
    """Expected values by point, in the order of the file ``name``."""

    name: str
    title: str
    amplifier: str
    power: str
    points: dict[str, Expected]


@dataclass(frozen=True)
class Read:
    """One reading as typed; meter and range if they are not those of the head."""

    point: str
    text: str
    line: int
    meter: str = ""
    range_v: float | None = None


@dataclass(frozen=True)
class Readings:
    """Readings by point; ``line`` is the mains as typed, "" if nobody read it."""

    name: str
    line: str
    meter: str
    power: str
    rows: dict[str, Read]


@dataclass
class _Table:
    """Head and rows of either form, each with its line."""

    name: str
    head: dict[str, str] = field(default_factory=dict)
    head_lines: dict[str, int] = field(default_factory=dict)
    rows: list[tuple[dict[str, str], int]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def wrong(self, line: int, what: str, mend: str = "") -> None:
        self.problems.append(Problem(self.name, line, what, mend=mend))

    def known(self, key: str, keys: tuple[str, ...], line: int) -> bool:
        if key in keys:
            return True
        close = difflib.get_close_matches(key, keys, 1, 0.5)
        mend = f"did you mean '{close[0]}'?" if close else f"there are {', '.join(keys)}."
        self.wrong(line, f"unknown key '{key}'", mend)
        return False

    def number(self, row: Mapping[str, str], key: str, unit: str, line: int) -> float | None:
        text = row.get(key, "")
        if not text:
            return None
        try:
            return value_of(text, unit)
        except BadReading as error:
            self.wrong(line, f"{key}: {error}")
            return None


def read_chart(text: str, name: str) -> Chart:
    """Chart out of the text of a file; a ``name`` that ends in .yaml or .yml is read as YAML.

    Raises
    ------
    KnowledgeError : with every problem of the file, each at its line.
    """
    table = _table(text, name, CHART_HEAD, CHART_KEYS, "points")
    points: dict[str, Expected] = {}
    for row, line in table.rows:
        found = _expected(table, row, line)
        if found is None:
            continue
        if found.point in points:
            table.wrong(line, f"point '{found.point}' stands twice", "keep one of them.")
        points[found.point] = found
    for expected in points.values():
        _supply_known(table, expected, points)
    if not points and not table.problems:
        table.wrong(1, "no point in this chart", "write at least one row below the head.")
    if table.problems:
        raise KnowledgeError(table.problems)
    head = table.head
    return Chart(
        name, head.get("title", name), head.get("amplifier", ""), head.get("power", "idle"), points
    )


def _expected(table: _Table, row: Mapping[str, str], line: int) -> Expected | None:
    point, value = row.get("point", ""), row.get("value", "")
    if not point or not value:
        table.wrong(line, f"'{'point' if not point else 'value'}' is missing in this row")
        return None
    try:
        typed = parse(value)
        size = typed.value
    except BadReading as error:
        table.wrong(line, f"value: {error}")
        return None
    if not typed.had_unit or typed.unit not in KINDS:
        table.wrong(line, f"value '{value}' has no unit of a reading", "write for example 406 V.")
        return None
    if size == 0:
        table.wrong(line, "a value of zero has no tolerance in per cent", "leave the point out.")
        return None
    kind = row.get("kind", "") or KINDS[typed.unit]
    if kind not in (KINDS[typed.unit], KINDS[typed.unit].replace("dc_", "ac_")):
        table.wrong(line, f"kind '{kind}' does not fit {value}", "dc_volts, ac_volts, dc_ma, ...")
    head = table.head
    return Expected(
        point, size, typed.unit, _tolerance(table, row, size, typed.unit, line), kind, line,
        supply=row.get("supply", ""),
        source_ohm=table.number(row, "source", "ohm", line),
        meter=row.get("meter", "") or head.get("meter", ""),
        range_v=table.number(row, "range", "V", line),
        line_v=table.number({"line": row.get("line", "") or head.get("line", "")}, "line", "V",
                            line),
        regulated=_yes(table, row.get("regulated", ""), line),
        finding=row.get("finding", ""), place=row.get("place", ""),
    )  # fmt: skip


def _tolerance(table: _Table, row: Mapping[str, str], size: float, unit: str, line: int) -> float:
    text = row.get("tolerance", "") or table.head.get("tolerance", "") or TOLERANCE
    try:
        typed = parse(text)
        share = typed.value / 100 if typed.unit == "%" else abs(value_of(text, unit) / size)
    except BadReading as error:
        table.wrong(line, f"tolerance: {error}", "write for example 10 % or 2 V.")
        return 0.2
    if not 0 < share < 1:
        table.wrong(line, f"tolerance '{text}' must be above 0 and below 100 %")
        return 0.2
    return share


def _yes(table: _Table, text: str, line: int) -> bool:
    if text.lower() not in ("", "yes", "no", "true", "false"):
        table.wrong(line, f"regulated is yes or no, not '{text}'")
    return text.lower() in ("yes", "true")


def _supply_known(table: _Table, expected: Expected, points: Mapping[str, Expected]) -> None:
    """A supply that is a point, and no ring of supplies."""
    seen, at = [expected.point], expected.supply
    while at:
        if at not in points:
            close = difflib.get_close_matches(at, points, 1, 0.5)
            mend = f"did you mean '{close[0]}'?" if close else "name a point of this chart."
            if len(seen) == 1:
                table.wrong(expected.line, f"supply '{at}' is no point of this chart", mend)
            return
        if at in seen:
            table.wrong(expected.line, f"'{expected.point}' feeds itself: {' <- '.join(seen)}")
            return
        seen.append(at)
        at = points[at].supply


def read_readings(text: str, name: str, chart: Chart) -> Readings:
    """Readings out of the text of a file, for the points of ``chart``.

    Raises
    ------
    KnowledgeError : with every problem of the file, each at its line.
    """
    table = _table(text, name, READ_HEAD, READ_KEYS, "readings")
    rows: dict[str, Read] = {}
    for row, line in table.rows:
        point, typed = row.get("point", ""), row.get("reading", "")
        if not point or not typed:
            if not point:
                table.wrong(line, "'point' is missing in this row")
            continue
        if point not in chart.points:
            close = difflib.get_close_matches(point, chart.points, 1, 0.5)
            mend = f"did you mean '{close[0]}'?" if close else "name a point of the chart."
            table.wrong(line, f"'{point}' is no point of {chart.name}", mend)
            continue
        if point in rows:
            table.wrong(line, f"point '{point}' was read twice", "keep the later one.")
        try:
            parse(typed, chart.points[point].unit)
        except BadReading as error:
            table.wrong(line, f"reading: {error}")
            continue
        range_v = table.number(row, "range", "V", line)
        rows[point] = Read(point, typed, line, row.get("meter", ""), range_v)
    head = table.head
    table.number(head, "line", "V", table.head_lines.get("line", 1))
    if table.problems:
        raise KnowledgeError(table.problems)
    return Readings(
        name, head.get("line", ""), head.get("meter", "digital"), head.get("power", "idle"), rows
    )


def _table(text: str, name: str, head: tuple[str, ...], keys: tuple[str, ...], rows: str) -> _Table:
    table = _Table(name)
    if name.lower().endswith((".yaml", ".yml")):
        _from_yaml(table, text, head, keys, rows)
    else:
        _from_csv(table, text, head, keys)
    return table


def _from_csv(table: _Table, text: str, head: tuple[str, ...], keys: tuple[str, ...]) -> None:
    """Lines ``key: value``, then a header of columns, then rows; # and empty lines do not count."""
    columns: list[str] = []
    for number, raw in enumerate(text.lstrip("\ufeff").splitlines(), 1):
        line = raw.strip()
        if not line or line.startswith("#"):
            continue
        if not columns and ":" in line and "," not in line.split(":")[0]:
            key, _, value = line.partition(":")
            if table.known(key.strip().lower(), head, number):
                table.head[key.strip().lower()] = value.strip()
                table.head_lines[key.strip().lower()] = number
            continue
        cells = [cell.strip() for cell in next(csv.reader([line], skipinitialspace=True))]
        if not columns:
            columns = [cell.lower() for cell in cells]
            for column in columns:
                table.known(column, keys, number)
            continue
        if len(cells) > len(columns):
            table.wrong(number, f"{len(cells)} cells for {len(columns)} columns",
                        "put quotes around a cell that holds a comma.")  # fmt: skip
            continue
        table.rows.append((dict(zip(columns, cells, strict=False)), number))


def _from_yaml(
    table: _Table, text: str, head: tuple[str, ...], keys: tuple[str, ...], rows: str
) -> None:
    try:
        node = yaml.compose(text, Loader=yaml.SafeLoader)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        what = str(getattr(error, "problem", None) or error)
        table.wrong(mark.line + 1 if mark else 1, f"not readable as YAML: {what}")
        return
    if not isinstance(node, yaml.MappingNode):
        table.wrong(1, f"a mapping is needed, with '{rows}' in it")
        return
    for key, value in node.value:
        line = key.start_mark.line + 1
        if key.value == rows and isinstance(value, yaml.SequenceNode):
            for item in value.value:
                table.rows += _yaml_row(table, item, keys)
        elif table.known(str(key.value), (*head, rows), line):
            table.head[str(key.value)] = str(value.value).strip()
            table.head_lines[str(key.value)] = line


def _yaml_row(
    table: _Table, item: yaml.Node, keys: tuple[str, ...]
) -> Iterator[tuple[dict[str, str], int]]:
    line = item.start_mark.line + 1
    if not isinstance(item, yaml.MappingNode):
        table.wrong(line, "a row must be a mapping of keys")
        return
    for key, _ in item.value:
        table.known(str(key.value), keys, key.start_mark.line + 1)
    yield {str(key.value): str(value.value).strip() for key, value in item.value}, line
