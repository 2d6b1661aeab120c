"""An order of steps as a picture: boxes from left to right, answers with their chance between them.

Plain SVG 1.1: no script, no font, no picture from elsewhere. What is live is said in words and has
a double outline; colour only helps.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape

from triage.job.tree import OrderTree
from triage.report import order_words as words
from triage.report.order_cells import Cell, Part, cell_of

BOX, GAP, LINE, PAD, APART = 304, 184, 15, 7, 14
"""Pixels: width of a box, between columns (for the answers), height of a line, padding, spacing."""
CHARS, BOLD_CHARS, ANSWER_CHARS = 38, 34, 24
"""Characters a line in a box and beside an edge, for the widest of the common sans-serifs."""
MARGIN = 16
FILL = {"before": "#fff6d6", "step": "#ffffff", "repair": "#e6f3e6", "end": "#f0f0f0"}


@dataclass(frozen=True)
class _Box:
    """A part with its wrapped lines: (text, bold)."""

    part: Part
    lines: tuple[tuple[str, bool], ...]

    @property
    def height(self) -> float:
        return len(self.lines) * LINE + 2 * PAD


@dataclass(frozen=True)
class _Placed:
    """A cell with its boxes, what follows placed below one another, and the height of it all."""

    boxes: tuple[_Box, ...]
    answers: tuple[tuple[str, ...], ...]
    after: tuple[_Placed, ...]

    @property
    def own(self) -> float:
        return sum(box.height for box in self.boxes) + APART * (len(self.boxes) - 1)

    @property
    def height(self) -> float:
        below = sum(placed.height for placed in self.after) + APART * max(0, len(self.after) - 1)
        answers = max((len(rows) * 13 + 6 for rows in self.answers), default=0)
        return max(self.own, below, float(answers * max(1, len(self.after))))

    @property
    def depth(self) -> int:
        return 1 + max((placed.depth for placed in self.after), default=0)


def order_svg(tree: OrderTree) -> str:
    """The tree as one SVG file, cautions on top."""
    head = [f"{label}: {text}" for label, text in words.head_lines(tree.head)]
    head += [f"! {text}" for text in words.cautions(tree.head)]
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + picture(tree, head=head) + "\n"


def picture(tree: OrderTree, *, head: list[str] | None = None, brief: bool = False) -> str:
    """The ``svg`` element; ``brief``: gates by their numbers, no cautions, for beside the words."""
    root = _place(cell_of(tree), brief)
    width = 2 * MARGIN + root.depth * BOX + (root.depth - 1) * GAP
    rows = [
        (line, i == 0)
        for i, text in enumerate([words.TITLE, *(head or [])])
        for line in textwrap.wrap(text, max(60, int(width / 7)))
    ]
    if head is None:
        rows = []
    top = MARGIN + len(rows) * LINE + (APART if rows else 0)
    height = top + root.height + MARGIN
    title = f"{words.TITLE}: {tree.head.amplifier.replace('_', ' ')}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}" height="{height:g}" role="img" font-family="sans-serif" '
        'font-size="12" fill="#111111">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{width:g}" height="{height:g}" fill="#ffffff"/>',
        *_rows(rows, MARGIN, MARGIN),
        *_draw(root, MARGIN, top),
        "</svg>",
    ]
    return "\n".join(parts)


def _place(cell: Cell, brief: bool) -> _Placed:
    boxes = tuple(_Box(part, tuple(_lines(part, brief))) for part in cell.parts)
    answers = tuple(
        (branch.chance, *textwrap.wrap(branch.label, ANSWER_CHARS)) for branch in cell.branches
    )
    return _Placed(boxes, answers, tuple(_place(b.cell, brief) for b in cell.branches))


def _lines(part: Part, brief: bool) -> Iterator[tuple[str, bool]]:
    if part.sort == "before":
        rows = [f"{n}. {item}" for n, item in enumerate(part.items, 1)]
        rows = [f"Before: {part.gates}"] if brief else ["Before:", *rows]
        yield from ((line, False) for row in rows for line in _wrap(row))
        return
    yield from ((line, True) for line in _wrap(part.title, BOLD_CHARS))
    rows = [f"[{part.cost}]"] if part.cost else []
    if not brief:
        rows += [f"! {text}" for text in part.cautions]
    rows += part.items[:1] if brief and part.sort == "end" else () if brief else part.items
    yield from ((line, False) for row in rows for line in _wrap(row))


def _wrap(text: str, width: int = CHARS) -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent="  ")


def _draw(placed: _Placed, x: float, y: float) -> Iterator[str]:
    """Boxes of a cell in the middle of its height, edges, and what follows to the right."""
    at = y + (placed.height - placed.own) / 2
    middle = at
    for i, box in enumerate(placed.boxes):
        if i:
            yield _path(f"M {x + BOX / 2:g} {at - APART:g} V {at:g}")
        yield from _box(box, x, at)
        middle = at + box.height / 2
        at += box.height + APART
    spare = placed.height - sum(p.height for p in placed.after)
    between = spare / max(1, len(placed.after))
    below = y + between / 2
    right = x + BOX
    for rows, following in zip(placed.answers, placed.after, strict=True):
        first = following.boxes[0].height / 2
        to = below + (following.height - following.own) / 2 + first
        bend = right + 14
        yield _path(f"M {right:g} {middle:g} H {bend:g} V {to:g} H {right + GAP:g}")
        yield from _answer(rows, bend + 5, to)
        yield from _draw(following, right + GAP, below)
        below += following.height + between


def _answer(rows: tuple[str, ...], x: float, y: float) -> Iterator[str]:
    yield from _rows([(rows[0], True)], x, y - 16, 11)
    yield from _rows([(row, False) for row in rows[1:]], x, y + 2, 11, 13)


def _box(box: _Box, x: float, y: float) -> Iterator[str]:
    fill, height = FILL[box.part.sort], box.height
    dash = ' stroke-dasharray="5 3"' if box.part.sort == "before" else ""
    edge = "#a01010" if box.part.live else "#333333"
    corner = 8 if box.part.sort == "end" else 0
    yield (
        f'<rect x="{x:g}" y="{y:g}" width="{BOX}" height="{height:g}" rx="{corner}" '
        f'fill="{fill}" stroke="{edge}"{dash}/>'
    )
    if box.part.live:
        yield (
            f'<rect x="{x + 3:g}" y="{y + 3:g}" width="{BOX - 6}" height="{height - 6:g}" '
            f'rx="{corner}" fill="none" stroke="{edge}"/>'
        )
    yield from _rows(list(box.lines), x + PAD + 1, y + PAD)


def _rows(
    rows: list[tuple[str, bool]], x: float, y: float, size: int = 12, line: int = LINE
) -> Iterator[str]:
    for i, (text, bold) in enumerate(rows):
        weight = ' font-weight="bold"' if bold else ""
        yield (
            f'<text x="{x:g}" y="{y + (i + 1) * line - 3:g}" font-size="{size}" '
            f'xml:space="preserve"{weight}>{escape(text)}</text>'
        )


def _path(d: str) -> str:
    return f'<path d="{d}" fill="none" stroke="#555555"/>'
