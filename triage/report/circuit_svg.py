"""A circuit as a picture: its supplies above, its tubes below, each with what its electrodes read.

Plain SVG 1.1. What leaves the band of sound amplifiers is told by a star as well as by colour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

from triage.circuit.faults import Fault
from triage.circuit.netlist import Netlist, Tube
from triage.circuit.table import Row
from triage.units import format_si

WIDE, TALL, ACROSS, TOP = 232, 200, 4, 96
"""Pixels of a tube's field, fields in a row, height of the head."""
SMALL_V = 1e-3
INK, OFF = "#222222", "#b00020"


def shown(row: Row) -> str:
    """A row's value as it stands now, starred where it is off."""
    value = row.sound if row.now is None else row.now
    if row.unit == "V" and abs(value) < SMALL_V:
        value = 0.0
    return format_si(value, row.unit) + (" *" if row.off else "")


def drawing(net: Netlist, rows: Sequence[Row], fault: Fault | None) -> str:
    """The picture as the text of an SVG file."""
    by_point = {row.point: row for row in rows}
    count = len(net.tubes)
    across = min(ACROSS, max(count, 1))
    wide = max(across * WIDE, 640) + 32
    tall = TOP + ((count + across - 1) // across) * TALL + 28
    body = [_text(16, 26, f"{net.spec.circuit}: {net.spec.says}", size=14)]
    if fault is not None:
        body.append(_text(16, 46, f"Fault: {fault.says}   (* outside the band)", OFF))
    body += _supplies(net, by_point, wide)
    for i, tube in enumerate(net.tubes):
        x, y = 16 + (i % across) * WIDE, TOP + (i // across) * TALL
        body += _tube(tube, net.spec.tubes[tube.name].type, by_point, x, y)
    note = (
        "Design values, not permission: read only in the order and with the gates of the session."
    )
    body.append(_text(16, tall - 10, note, size=11))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{tall}" '
        f'viewBox="0 0 {wide} {tall}" role="img" aria-label="{escape(net.spec.circuit)}">'
    )
    return "\n".join(
        [head, f'<rect width="{wide}" height="{tall}" fill="#ffffff"/>', *body, "</svg>\n"]
    )


def _supplies(net: Netlist, by_point: Mapping[str, Row], wide: int) -> list[str]:
    parts = [f'<line x1="16" y1="82" x2="{wide - 16}" y2="82" stroke="{INK}" stroke-width="2"/>']
    names = [*net.supplies, *net.spec.names.values()]
    step = (wide - 32) / max(len(names), 1)
    for i, name in enumerate(names):
        row = by_point[name]
        x = 16 + i * step
        colour = OFF if row.off else INK
        parts.append(_text(x, 74, f"{name} {shown(row)}", colour))
    return parts


def _tube(tube: Tube, sort: str, by_point: Mapping[str, Row], x: float, y: float) -> list[str]:
    cx, cy, r = x + 52, y + 92, 34
    parts = [
        _text(x, y + 22, f"{tube.name}  {sort}", size=13),
        f'<circle cx="{cx}" cy="{cy}" r="{r}" fill="none" stroke="{INK}" stroke-width="1.5"/>',
        _line(cx - 16, cy - 18, cx + 16, cy - 18, 3),
        _line(cx, cy - 18, cx, cy - r - 16),
        f'<line x1="{cx - 18}" y1="{cy}" x2="{cx + 18}" y2="{cy}" stroke="{INK}" '
        'stroke-width="1.5" stroke-dasharray="5 4"/>',
        _line(cx - 18, cy, cx - r - 10, cy),
        _line(cx - 14, cy + 18, cx + 14, cy + 18, 2),
        _line(cx - 14, cy + 18, cx - 14, cy + r + 16),
    ]
    if tube.screen >= 0:
        parts.append(
            f'<line x1="{cx - 18}" y1="{cy - 9}" x2="{cx + r + 8}" y2="{cy - 9}" stroke="{INK}" '
            'stroke-dasharray="2 3"/>'
        )
    lines = ["plate", "screen", "grid", "cathode", "plate current", "plate watts"]
    at = y + 48
    for what in lines:
        row = by_point.get(f"{tube.name} {what}")
        if row is None:
            continue
        name = {"plate current": "current", "plate watts": "power"}.get(what, what)
        parts.append(_text(x + 100, at, f"{name} {shown(row)}", OFF if row.off else INK))
        at += 18
    return parts


def _line(x1: float, y1: float, x2: float, y2: float, width: float = 1.2) -> str:
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="{INK}" stroke-width="{width}"/>'


def _text(x: float, y: float, words: str, colour: str = INK, size: int = 12) -> str:
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" font-family="sans-serif" font-size="{size}" '
        f'fill="{colour}">{escape(words)}</text>'
    )
