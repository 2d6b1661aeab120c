"""Pictures as lines of text: 80 columns, no colour; ASCII alone where nothing else can be shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from triage.measure.plots import Gauge, Graph, Mark, Picture, Series, labels, ticks
from triage.units import format_si


@dataclass(frozen=True)
class Signs:
    """Characters a picture is drawn with."""

    across: str
    down: str
    corner: str
    tick: str
    lines: str
    mark: str
    bar: str
    here: str
    replace: tuple[tuple[str, str], ...] = ()


UNICODE = Signs("─", "│", "└", "┤", "•×○+▪∘", "●", "═", "●")
ASCII = Signs("-", "|", "+", "+", "*xo+#.", "@", "=", "@", (("Ω", "ohm"), ("µ", "u"), ("±", "+/-")))


def text(
    picture: Picture, width: int = 78, height: int = 20, ascii_only: bool = False
) -> list[str]:
    """Picture as lines of at most ``width`` characters; a graph has about ``height`` lines.

    Raises
    ------
    ValueError : fewer than 40 columns or 8 lines.
    """
    if width < 40 or height < 8:
        raise ValueError("a picture needs 40 columns and 8 lines")
    signs = ASCII if ascii_only else UNICODE
    draw: Callable[..., list[str]] = _gauge if isinstance(picture, Gauge) else _graph
    lines = draw(picture, width, height, signs)
    for sign, word in signs.replace:
        lines = [line.replace(sign, word) for line in lines]
    return [line.rstrip()[:width] for line in lines]


def _cell(value: float, low: float, high: float, cells: int) -> int:
    return round((value - low) / (high - low) * (cells - 1))


def _graph(graph: Graph, width: int, height: int, signs: Signs) -> list[str]:
    y_low, y_high = graph.ends("y")
    at = ticks(y_low, y_high, max(3, height // 4))
    names = labels(at, graph.y.unit)
    margin = max(len(name) for name in names) + 2
    columns, rows = width - margin - 1, height - 6
    grid = [[" "] * columns for _ in range(rows)]
    for i, line in enumerate(graph.series):
        _trace(grid, graph, line, signs.lines[i % len(signs.lines)])
    for mark in graph.marks:
        _label(grid, graph, mark, signs)
    ruled = {_cell(v, y_low, y_high, rows): name for v, name in zip(at, names, strict=True)}
    lines = [graph.title, f"{graph.y.name}"]
    for row in range(rows - 1, -1, -1):
        name = ruled.get(row, "")
        edge = signs.tick if name else signs.down
        lines.append(f"{name:>{margin - 1}} {edge}{''.join(grid[row])}")
    lines += _foot(graph, margin, columns, signs)
    named = [(i, line.name) for i, line in enumerate(graph.series) if line.name]
    if len(named) > 1:
        lines.append("   ".join(f"{signs.lines[i % len(signs.lines)]} {name}" for i, name in named))
    return lines


def _trace(grid: list[list[str]], graph: Graph, line: Series, sign: str) -> None:
    """Draw a line cell by cell, each stretch as finely as the cells are."""
    (x0, x1), (y0, y1) = graph.ends("x"), graph.ends("y")
    rows, columns = len(grid), len(grid[0])
    ends = list(zip(line.x, line.y, strict=True))
    for (ax, ay), (bx, by) in zip(ends, ends[1:] or ends, strict=False):
        wide = abs(bx - ax) / (x1 - x0) * columns
        tall = abs(by - ay) / (y1 - y0) * rows
        fine = max(1, min(4 * (rows + columns), round(2 * max(wide, tall))))
        for n in range(fine + 1):
            x, y = ax + (bx - ax) * n / fine, ay + (by - ay) * n / fine
            column, row = _cell(x, x0, x1, columns), _cell(y, y0, y1, rows)
            if 0 <= column < columns and 0 <= row < rows:
                grid[row][column] = sign


def _label(grid: list[list[str]], graph: Graph, mark: Mark, signs: Signs) -> None:
    rows, columns = len(grid), len(grid[0])
    column = _cell(mark.x, *graph.ends("x"), columns)
    row = _cell(mark.y, *graph.ends("y"), rows)
    if not (0 <= column < columns and 0 <= row < rows):
        return
    words = mark.label[: columns - 2]
    start = column + 2 if column + 2 + len(words) <= columns else column - 1 - len(words)
    above = row + 1 if row + 1 < rows else row - 1
    for i, char in enumerate(f" {words} "):
        if 0 <= start - 1 + i < columns:
            grid[above][start - 1 + i] = char
    grid[row][column] = signs.mark


def _foot(graph: Graph, margin: int, columns: int, signs: Signs) -> list[str]:
    low, high = graph.ends("x")
    rule, under = [signs.across] * columns, [" "] * (columns + 4)
    at = ticks(low, high, max(3, columns // 14))
    taken = -1
    for value, name in zip(at, labels(at, graph.x.unit), strict=True):
        column = _cell(value, low, high, columns)
        rule[column] = signs.tick if signs.tick == "+" else "┬"
        start = max(0, min(column - len(name) // 2, columns - len(name)))
        if start > taken:
            under[start : start + len(name)] = name
            taken = start + len(name)
    return [
        " " * margin + signs.corner + "".join(rule),
        " " * (margin + 1) + "".join(under),
        " " * (margin + 1) + graph.x.name.center(columns),
    ]


def _gauge(gauge: Gauge, width: int, height: int, signs: Signs) -> list[str]:
    low, high = gauge.ends()
    columns = width - 2
    stops = [_cell(edge, low, high, columns) for edge in gauge.edges]
    bar = [" "] * columns
    first, last = (
        max(0, min(columns - 1, _cell(v, low, high, columns)))
        for v in (gauge.value - 2 * gauge.u, gauge.value + 2 * gauge.u)
    )
    bar[first : last + 1] = signs.bar * (last + 1 - first)
    for stop in stops:
        bar[stop] = signs.down
    bar[_cell(gauge.value, low, high, columns)] = signs.here
    names, under = [" "] * columns, [" "] * (columns + 12)
    edges = [0, *stops, columns]
    for name, start, end in zip(gauge.bands, edges, edges[1:], strict=False):
        shown = name if len(name) < end - start else ""
        at = start + (end - start - len(shown) + 1) // 2
        names[at : at + len(shown)] = shown
    taken = -1
    for stop, name in zip(stops, labels(gauge.edges, gauge.unit), strict=True):
        start = max(0, min(stop - len(name) // 2, columns - len(name)))
        if start > taken:
            under[start : start + len(name)] = name
            taken = start + len(name)
    shown = format_si(gauge.value, gauge.unit, 4)
    spread = f" ± {format_si(2 * gauge.u, gauge.unit, 2)} (95 %)" if gauge.u > 0 else ""
    rule = signs.across * columns
    return [gauge.title, " " + "".join(names), "[" + "".join(bar) + "]", " " + rule,
            " " + "".join(under).rstrip(), f" {signs.here} {shown}{spread}: {gauge.band()}"]  # fmt: skip
