"""The tree as cells: what is read in one place, from the first safety act to the next branching."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from triage.job.cards import Card, percent
from triage.job.tree import OrderTree
from triage.report import order_words as words


@dataclass(frozen=True)
class Part:
    """One box of a cell. ``items``: what comes before, or the lines of an end; ``gates``: in short."""

    sort: Literal["before", "step", "repair", "end"]
    title: str
    live: bool = False
    cost: str = ""
    why: str = ""
    cautions: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    gates: str = ""


@dataclass(frozen=True)
class Branch:
    """An answer, its chance as read, and the cell that it leads to."""

    chance: str
    label: str
    cell: Cell


@dataclass(frozen=True)
class Cell:
    """Boxes that follow one another, then branches."""

    number: str
    parts: tuple[Part, ...]
    branches: tuple[Branch, ...]


def cell_of(tree: OrderTree, node: int | None = None) -> Cell:
    """The cell that begins at a node (the root), with all that follows."""
    here = tree.root if node is None else node
    parts: list[Part] = []
    while True:
        chain, here = tree.chain(here)
        card = tree.card(here)
        if chain:
            parts.append(_before([tree.card(n) for n in chain]))
        parts.append(_part(card))
        after = tree.after(here)
        if len(after) != 1 or after[0][2]:
            break
        here = after[0][0]
    branches = tuple(Branch(percent(p), label, cell_of(tree, to)) for to, p, label in after)
    return Cell(card.number, tuple(parts), branches)


def _before(cards: list[Card]) -> Part:
    short = {"discharged": "discharge", "plug_in": "plug in", "switch_on": "switch on"}
    gates = ", ".join(
        "hazard"
        if card.sort == "hazard"
        else card.ident
        if card.sort == "gate"
        else short.get(card.ident, card.ident.replace("_", " "))
        for card in cards
    )
    return Part("before", "Before", items=words.before_items(cards), gates=gates)


def _part(card: Card) -> Part:
    title = words.heading(card)
    if card.sort == "step":
        return Part(
            "step",
            title,
            words.live(card),
            words.cost_line(card),
            card.why,
            card.cautions,
        )
    if card.sort == "repair":
        cost = words.cost_line(card)
        return Part("repair", title, False, cost, card.why, card.cautions, card.lines)
    power = words.POWER[card.power] if card.sort == "proof" else ""
    why = "" if card.sort == "goes_on" else card.why
    return Part("end", title, words.live(card), power, why, card.cautions, card.lines)
