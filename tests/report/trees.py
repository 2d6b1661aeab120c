"""Trees that the tests of all forms draw; grown once."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from tests.job.helpers import knowledge
from triage.assess import Bench
from triage.job.tree import OrderTree, order_tree
from triage.model.profile import Owner
from triage.report.order_cells import Cell, cell_of

TOOLS = ("multimeter", "limiter", "discharge_tool", "dummy_load", "spare_tubes")
Job = tuple[str, str, str, int]
JOBS: tuple[Job, ...] = (
    ("linden_hall", "hobbyist", "no sound", 2),
    ("practice_amp", "novice", "it hums", 3),
    ("dance_band", "technician", "one output tube glows red", 2),
    ("linden_hall", "technician", "it smokes", 1),
)


@cache
def tree(amplifier: str, skill: str, complaint: str, depth: int) -> OrderTree:
    """A tree of a built-in amplifier."""
    profile = knowledge().profiles[amplifier]
    owner = Owner(skill=skill, tools=list(TOOLS), second_person="yes")
    bench = Bench.make(knowledge(), profile.model_copy(update={"owner": owner}))
    return order_tree(bench, [complaint], depth)


def cells(found: OrderTree) -> Iterator[Cell]:
    """All cells of a tree, in the order in which they are read."""

    def inside(cell: Cell) -> Iterator[Cell]:
        yield cell
        for branch in cell.branches:
            yield from inside(branch.cell)

    yield from inside(cell_of(found))


def in_reading_order(found: OrderTree) -> list[str]:
    """Every piece of text that a form must show, in order: what comes before stands first."""
    pieces: list[str] = []

    def inside(cell: Cell) -> None:
        for part in cell.parts:
            if part.sort == "before":
                pieces.extend(part.items)
            else:
                pieces.append(part.title)
                pieces.extend((*part.cautions, *part.items))
        for branch in cell.branches:
            pieces.extend((branch.chance, branch.label))
            inside(branch.cell)

    inside(cell_of(found))
    return pieces
