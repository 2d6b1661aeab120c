"""An order of steps in the DOT language, for whoever has a program that draws graphs."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from triage.job.tree import OrderTree
from triage.report import order_words as words
from triage.report.order_cells import Cell, Part, cell_of

WRAP = 40
STYLES = {
    "before": 'style="dashed"',
    "step": 'style="solid"',
    "repair": 'style="bold"',
    "end": 'style="rounded"',
}


def order_dot(tree: OrderTree) -> str:
    """The tree as a digraph; a live step has a double outline and says so in words."""
    top = [words.TITLE, *(f"{label}: {text}" for label, text in words.head_lines(tree.head))]
    top += [f"! {text}" for text in words.cautions(tree.head)]
    lines = [
        "digraph order {",
        "  rankdir=LR; labelloc=t; labeljust=l;",
        '  node [shape=box, fontname="sans-serif", fontsize=11];',
        '  edge [fontname="sans-serif", fontsize=10];',
        f"  label={_label(top, 110)};",
        *_cell(cell_of(tree), ""),
        "}",
    ]
    return "\n".join(lines) + "\n"


def _cell(cell: Cell, comes_from: str) -> Iterator[str]:
    """Nodes of a cell, edges between them, and all cells that follow; names are the numbers."""
    name = "n" + cell.number.replace(".", "_")
    names = [f"{name}_{'abcdefgh'[i]}" for i in range(len(cell.parts))]
    for here, part in zip(names, cell.parts, strict=True):
        double = ", peripheries=2" if part.live else ""
        yield f"  {here} [label={_label(_lines(part), WRAP)}, {STYLES[part.sort]}{double}];"
    if comes_from:
        yield f"  {comes_from.format(to=names[0])}"
    yield from (f"  {a} -> {b};" for a, b in zip(names, names[1:], strict=False))
    for branch in cell.branches:
        label = _label([branch.chance, branch.label], 24, "n")
        yield from _cell(branch.cell, f"{names[-1]} -> {{to}} [label={_braced(label)}];")


def _lines(part: Part) -> list[str]:
    if part.sort == "before":
        return ["before:", *(f"{n}. {item}" for n, item in enumerate(part.items, 1))]
    marked = [f"! {text}" for text in part.cautions]
    cost = [f"[{part.cost}]"] if part.cost else []
    return [part.title, *cost, *marked, *part.items]


def _label(rows: list[str], width: int, end: str = "l") -> str:
    """Rows wrapped and quoted as DOT wants them; each line ends left-justified (``l``) or not."""
    wrapped = [line for row in rows for line in textwrap.wrap(row, width) or [""]]
    quoted = (line.replace("\\", "\\\\").replace('"', '\\"') for line in wrapped)
    return '"' + "".join(f"{line}\\{end}" for line in quoted) + '"'


def _braced(text: str) -> str:
    return text.replace("{", "{{").replace("}", "}}")
