"""Pictures as SVG: one file, no script, no fonts of its own; lines differ by dash as by colour."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from triage.measure.plots import Gauge, Graph, Picture, labels, ticks
from triage.units import format_si

WIDTH, HEIGHT = 720, 440
LEFT, RIGHT, TOP, BOTTOM = 84, 24, 46, 60
GAUGE_HEIGHT = 170
COLOURS = ("#0b5394", "#b45f06", "#38761d", "#741b47", "#444444", "#a61c00")
DASHES = ("", "7 4", "2 3", "10 3 2 3", "1 4", "12 4")
FONT = 'font-family="sans-serif" fill="#222222"'


def svg(picture: Picture) -> str:
    """Picture as the text of an SVG file."""
    body = _gauge(picture) if isinstance(picture, Gauge) else _graph(picture)
    height = GAUGE_HEIGHT if isinstance(picture, Gauge) else HEIGHT
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" '
        f'width="{WIDTH}" height="{height}" role="img" aria-label={quoteattr(picture.title)}>'
    )
    ground = f'<rect width="{WIDTH}" height="{height}" fill="#ffffff"/>'
    title = _text(WIDTH / 2, 26, picture.title, "middle", 16)
    return "\n".join([head, f"<title>{escape(picture.title)}</title>", ground, title, *body,
                      "</svg>", ""])  # fmt: skip


def _text(x: float, y: float, words: str, anchor: str = "start", size: int = 12) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" {FONT}>'
        f"{escape(words)}</text>"
    )


def _rule(x1: float, y1: float, x2: float, y2: float, colour: str, width: float = 1.0) -> str:
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" '
        f'stroke="{colour}" stroke-width="{width:g}"/>'
    )


class _Frame:
    """Places values of a graph on the page."""

    def __init__(self, graph: Graph) -> None:
        self.x0, self.x1 = graph.ends("x")
        self.y0, self.y1 = graph.ends("y")
        self.left, self.right = LEFT, WIDTH - RIGHT
        self.top, self.bottom = TOP + 18, HEIGHT - BOTTOM

    def x(self, value: float) -> float:
        return self.left + (value - self.x0) / (self.x1 - self.x0) * (self.right - self.left)

    def y(self, value: float) -> float:
        return self.bottom - (value - self.y0) / (self.y1 - self.y0) * (self.bottom - self.top)


def _graph(graph: Graph) -> list[str]:
    frame = _Frame(graph)
    parts = [*_axes(graph, frame)]
    clip = (
        f'<clipPath id="page"><rect x="{frame.left}" y="{frame.top}" '
        f'width="{frame.right - frame.left}" height="{frame.bottom - frame.top}"/></clipPath>'
    )
    parts.append(clip)
    for i, line in enumerate(graph.series):
        points = " ".join(
            f"{frame.x(x):.1f},{frame.y(y):.1f}" for x, y in zip(line.x, line.y, strict=True)
        )
        dash = DASHES[i % len(DASHES)]
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="{COLOURS[i % len(COLOURS)]}" '
            f'stroke-width="2"{dashed} clip-path="url(#page)"/>'
        )
    parts += _legend(graph)
    for mark in graph.marks:
        x, y = frame.x(mark.x), frame.y(mark.y)
        left = x + 9 + 6.8 * len(mark.label) > frame.right
        high = y < frame.top + 22
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="#000000"/>')
        parts.append(_text(x - 9 if left else x + 9, y + 16 if high else y - 8, mark.label,
                           "end" if left else "start"))  # fmt: skip
    return parts


def _axes(graph: Graph, frame: _Frame) -> list[str]:
    parts = []
    at = ticks(frame.x0, frame.x1, 8)
    for value, words in zip(at, labels(at, graph.x.unit), strict=True):
        x = frame.x(value)
        parts.append(_rule(x, frame.top, x, frame.bottom, "#dddddd"))
        parts.append(_text(x, frame.bottom + 18, words, "middle"))
    at = ticks(frame.y0, frame.y1, 6)
    for value, words in zip(at, labels(at, graph.y.unit), strict=True):
        y = frame.y(value)
        parts.append(_rule(frame.left, y, frame.right, y, "#dddddd"))
        parts.append(_text(frame.left - 8, y + 4, words, "end"))
    parts.append(_rule(frame.left, frame.bottom, frame.right, frame.bottom, "#222222", 1.5))
    parts.append(_rule(frame.left, frame.top, frame.left, frame.bottom, "#222222", 1.5))
    middle = (frame.left + frame.right) / 2
    parts.append(_text(middle, frame.bottom + 42, graph.x.name, "middle", 13))
    parts.append(_text(frame.left - 8, frame.top - 10, graph.y.name, "start", 13))
    return parts


def _legend(graph: Graph) -> list[str]:
    named = [(i, line.name) for i, line in enumerate(graph.series) if line.name]
    if len(named) < 2:
        return []
    parts, x = [], WIDTH - RIGHT - sum(44 + 7 * len(name) for _, name in named)
    for i, name in named:
        dash = DASHES[i % len(DASHES)]
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(
            f'<line x1="{x}" y1="{TOP + 4}" x2="{x + 26}" y2="{TOP + 4}" '
            f'stroke="{COLOURS[i % len(COLOURS)]}" stroke-width="2"{dashed}/>'
        )
        parts.append(_text(x + 31, TOP + 8, name))
        x += 44 + 7 * len(name)
    return parts


def _gauge(gauge: Gauge) -> list[str]:
    low, high = gauge.ends()
    left, right, top, bottom = 40, WIDTH - 40, 62, 102

    def place(value: float) -> float:
        return left + (value - low) / (high - low) * (right - left)

    parts = []
    stops = [low, *gauge.edges, high]
    for i, (start, end) in enumerate(zip(stops, stops[1:], strict=False)):
        here = gauge.bands[i] == gauge.band()
        fill = "#cfe2f3" if here else ("#f3f3f3", "#e4e4e4")[i % 2]
        x, wide = place(start), max(place(end) - place(start), 0.0)
        parts.append(
            f'<rect x="{x:.1f}" y="{top}" width="{wide:.1f}" height="{bottom - top}" '
            f'fill="{fill}" stroke="#888888"/>'
        )
        if wide > 6.5 * len(gauge.bands[i]):
            parts.append(_text(x + wide / 2, top - 8, gauge.bands[i], "middle"))
    last = -1e9
    for edge, words in zip(gauge.edges, labels(gauge.edges, gauge.unit), strict=True):
        if place(edge) - last > 8 * len(words):
            parts.append(_text(place(edge), bottom + 18, words, "middle"))
            last = place(edge)
    x, middle = place(gauge.value), (top + bottom) / 2
    parts.append(_rule(place(gauge.value - 2 * gauge.u), middle, place(gauge.value + 2 * gauge.u),
                       middle, "#000000", 3))  # fmt: skip
    parts.append(f'<circle cx="{x:.1f}" cy="{middle}" r="6" fill="#000000"/>')
    shown = format_si(gauge.value, gauge.unit, 4)
    spread = f" ± {format_si(2 * gauge.u, gauge.unit, 2)} (95 %)" if gauge.u > 0 else ""
    parts.append(_text(WIDTH / 2, bottom + 48, f"{shown}{spread}: {gauge.band()}", "middle", 14))
    return parts
