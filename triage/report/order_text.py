"""An order of steps as plain text, at most 79 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from triage.job.cards import Card, percent
from triage.job.tree import OrderTree
from triage.report import order_words as words

WIDTH = 79
BAR = "|  "


def order_text(tree: OrderTree) -> str:
    """The tree as text: cautions first, then steps with their answers below them."""
    lines = [words.TITLE.upper(), "=" * len(words.TITLE)]
    for label, text in words.head_lines(tree.head):
        lines += _wrap(text, f"{label + ':':<12}", " " * 12)
    lines += ["", "BEFORE ANYTHING ELSE"]
    for text in words.cautions(tree.head):
        lines += _wrap(text, "! ", "  ")
    lines.append("")
    for text in words.READING:
        lines += _wrap(text, "", "")
    lines.append("")
    lines += _node(tree, tree.root, "")
    lines += ["", "GATES NAMED ABOVE"]
    for ident, title, why, _ in words.gate_titles(tree):
        lines += _wrap(f"{title}. {why}", f"{ident:<4}", "    ")
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _node(tree: OrderTree, node: int, bars: str) -> Iterator[str]:
    """One node, what comes before it, and all that follows; ``bars``: the lines at its left."""
    chain, end = tree.chain(node)
    items = words.before_items([tree.card(n) for n in chain])
    if items:
        text = "; ".join(f"({n}) {item}" for n, item in enumerate(items, 1))
        yield from _wrap(text, f"{bars}before: ", f"{bars}  ")
    card = tree.card(end)
    yield from _card(card, bars)
    for following, chance, label in tree.after(end):
        if not label:
            yield from _node(tree, following, bars)
            continue
        yield bars + "|"
        yield from _wrap(label, f"{bars}+- {percent(chance):>5}  ", f"{bars}|         ")
        yield from _node(tree, following, bars + BAR)


def _card(card: Card, bars: str) -> Iterator[str]:
    yield from _wrap(words.heading(card), bars, f"{bars}   ")
    if card.sort in ("step", "repair"):
        yield from _wrap(f"[{words.cost_line(card)}]", f"{bars}   ", f"{bars}    ")
    if card.sort == "repair":
        yield from _wrap(card.why, f"{bars}   ", f"{bars}   ")
    if card.sort == "proof":
        yield from _wrap(f"[{words.POWER[card.power]}]", f"{bars}   ", f"{bars}    ")
    for caution in card.cautions:
        yield from _wrap(caution, f"{bars}   ! ", f"{bars}     ")
    if card.sort == "goes_on":
        yield from _wrap("; ".join(card.lines), f"{bars}   ", f"{bars}   ")
        return
    for line in card.lines:
        yield from _wrap(line, f"{bars}   - ", f"{bars}     ")


def _wrap(text: str, first: str, rest: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
    ) or [first.rstrip()]
