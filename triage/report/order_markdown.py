"""An order of steps as Markdown: nested lists, one item an answer."""

from __future__ import annotations

import re
from collections.abc import Iterator

from triage.job.tree import OrderTree
from triage.report import order_words as words
from triage.report.order_cells import Cell, Part, cell_of


def order_markdown(tree: OrderTree) -> str:
    """The tree as Markdown (CommonMark; no raw HTML)."""
    lines = [f"# {words.TITLE}", ""]
    lines += [f"- **{label}**: {plain(text)}" for label, text in words.head_lines(tree.head)]
    lines += ["", "## Before anything else", ""]
    lines += [f"- **!** {plain(text)}" for text in words.cautions(tree.head)]
    lines += ["", *(plain(text) + "\n" for text in words.READING), "## The steps", ""]
    lines += _cell(cell_of(tree), "")
    lines += ["", "## Gates named above", ""]
    for ident, title, why, how in words.gate_titles(tree):
        lines.append(f"- **{ident} {plain(title)}.** {plain(why)}")
        lines += [f"    - {plain(row)}" for row in how]
    return "\n".join(lines) + "\n"


def plain(text: str) -> str:
    """Text with the marks of Markdown escaped."""
    return re.sub(r"([\\`*_\[\]<>#|])", r"\\\1", text)


def _cell(cell: Cell, indent: str) -> Iterator[str]:
    for part in cell.parts:
        yield from _part(part, indent)
    for branch in cell.branches:
        yield f"{indent}- *{branch.chance}, {plain(branch.label)}*"
        yield from _cell(branch.cell, indent + "    ")


def _part(part: Part, indent: str) -> Iterator[str]:
    if part.sort == "before":
        yield f"{indent}- Before:"
        yield from (f"{indent}    {n}. {plain(item)}" for n, item in enumerate(part.items, 1))
        return
    cost = f" ({plain(part.cost)})" if part.cost else ""
    yield f"{indent}- **{plain(part.title)}**{cost}"
    inside = indent + "    "
    yield from (f"{inside}- **!** {plain(text)}" for text in part.cautions)
    if part.why:
        yield f"{inside}- Why: {plain(part.why)}"
    yield from (f"{inside}- {plain(item)}" for item in part.items)
