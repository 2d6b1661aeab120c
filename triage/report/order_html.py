"""An order of steps as one HTML page: nothing from outside, no script, made to be printed."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from triage.job.tree import OrderTree
from triage.report import order_words as words
from triage.report.order_cells import Cell, Part, cell_of
from triage.report.order_svg import picture

STYLE = """
body { font: 16px/1.45 sans-serif; color: #111; background: #fff; max-width: 60rem;
  margin: 1.5rem auto; padding: 0 1rem; }
h1 { font-size: 1.6rem; margin: 0 0 .5rem; }
h2 { font-size: 1.2rem; margin: 1.6rem 0 .5rem; }
dl { display: grid; grid-template-columns: 7rem 1fr; gap: .15rem .8rem; margin: 0 0 1rem; }
dt { color: #444; }
dd { margin: 0; }
.first { border: 3px solid #a01010; padding: .6rem 1rem; margin-bottom: 1rem; }
.first h2 { margin-top: 0; }
.first ul { margin: 0; padding-left: 1.2rem; }
.tree { margin-top: 1rem; }
ul.answers { list-style: none; margin: .3rem 0 0; padding: 0; }
ul.answers > li { border-left: 2px solid #999; padding: .35rem 0 .35rem .8rem; margin-left: .4rem; }
.answer { font-weight: bold; }
.chance { display: inline-block; min-width: 3.6rem; }
.part { border: 1px solid #444; padding: .35rem .7rem; margin: .3rem 0; break-inside: avoid; }
.part p, .part ul, .part ol { margin: .2rem 0; }
.part ul, .part ol { padding-left: 1.5rem; }
.before { border-style: dashed; background: #fff6d6; font-size: .92em; }
.repair { background: #e6f3e6; }
.end { background: #f0f0f0; border-radius: .6rem; }
.live { border: 4px double #a01010; }
.title { font-weight: bold; }
.cost { color: #333; }
.care::before { content: "! "; font-weight: bold; }
.picture { overflow-x: auto; border: 1px solid #ccc; }
@media print {
  body { max-width: none; margin: 0; font-size: 10pt; }
  .picture { overflow: visible; border: 0; break-before: page; }
  .picture svg { width: 100%; height: auto; max-height: 25cm; }
}
"""


def order_html(tree: OrderTree) -> str:
    """The tree as a page: cautions on top, the steps in words, then a picture, then the gates."""
    title = f"{words.TITLE}: {tree.head.amplifier.replace('_', ' ')}"
    lines = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        f"<title>{escape(title)}</title>",
        f"<style>{STYLE}</style>",
        "</head>",
        "<body>",
        f"<h1>{escape(title)}</h1>",
        *_first(tree),
        "<dl>",
        *(f"<dt>{escape(a)}</dt><dd>{escape(b)}</dd>" for a, b in words.head_lines(tree.head)),
        "</dl>",
        *(f"<p>{escape(text)}</p>" for text in words.READING),
        "<h2>The steps</h2>",
        '<div class="tree">',
        *_cell(cell_of(tree)),
        "</div>",
        *_gates(tree),
        "<h2>The same as a picture</h2>",
        '<div class="picture">',
        picture(tree, brief=True),
        "</div>",
        "</body>",
        "</html>",
    ]
    return "\n".join(lines) + "\n"


def _first(tree: OrderTree) -> Iterator[str]:
    yield '<section class="first"><h2>Before anything else</h2><ul>'
    yield from (f"<li>{escape(text)}</li>" for text in words.cautions(tree.head))
    yield "</ul></section>"


def _cell(cell: Cell) -> Iterator[str]:
    for part in cell.parts:
        yield from _part(part)
    if not cell.branches:
        return
    yield '<ul class="answers">'
    for branch in cell.branches:
        yield (
            f'<li><div class="answer"><span class="chance">{escape(branch.chance)}</span> '
            f"{escape(branch.label)}</div>"
        )
        yield from _cell(branch.cell)
        yield "</li>"
    yield "</ul>"


def _part(part: Part) -> Iterator[str]:
    live = " live" if part.live else ""
    yield f'<div class="part {part.sort}{live}">'
    if part.sort == "before":
        yield '<p class="title">Before, in this order</p><ol>'
        yield from (f"<li>{escape(item)}</li>" for item in part.items)
        yield "</ol></div>"
        return
    yield f'<p class="title">{escape(part.title)}</p>'
    if part.cost:
        yield f'<p class="cost">{escape(part.cost)}</p>'
    yield from (f'<p class="care">{escape(text)}</p>' for text in part.cautions)
    if part.why:
        yield f'<p class="why">{escape(part.why)}</p>'
    if part.items:
        yield "<ul>"
        yield from (f"<li>{escape(item)}</li>" for item in part.items)
        yield "</ul>"
    yield "</div>"


def _gates(tree: OrderTree) -> Iterator[str]:
    yield "<h2>Gates named above</h2><dl>"
    for ident, title, why, how in words.gate_titles(tree):
        rows = " ".join(how)
        yield f"<dt>{ident}</dt><dd><b>{escape(title)}.</b> {escape(why)} {escape(rows)}</dd>"
    yield "</dl>"
