"""Cells, from which every form is drawn: what is live has its gates above it on its own way."""

from __future__ import annotations

import pytest

from tests.report.trees import JOBS, Job, tree
from triage.report.order_cells import Cell, cell_of

OPEN = ("(G3)", "(G4)", "(G5)", "(G6)", "(G16)", "plug in")


def live_parts(cell: Cell, above: tuple[str, ...]) -> list[tuple[str, tuple[str, ...]]]:
    """Titles of live steps and proofs, each with all that stands before it on its way."""
    found = []
    for part in cell.parts:
        if part.sort == "before":
            above = (*above, *part.items)
        elif part.live:
            found.append((part.title, above))
    for branch in cell.branches:
        found += live_parts(branch.cell, above)
    return found


@pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")
def test_what_is_live_has_its_gates_above_it_on_its_own_way(job: Job) -> None:
    """Isolation, cord, earth, line capacitor, clear to power, and then the plug."""
    for title, above in live_parts(cell_of(tree(*job)), ()):
        for wanted in OPEN:
            assert any(wanted in item for item in above), f"{wanted} is missing above: {title}"


def test_the_trees_drawn_here_have_live_parts() -> None:
    """The check above is not an empty one."""
    assert sum(len(live_parts(cell_of(tree(*job)), ())) for job in JOBS) >= 1


@pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")
def test_whatever_is_live_says_so_in_words(job: Job) -> None:
    """Not by colour or outline alone."""

    def inside(cell: Cell) -> None:
        for part in cell.parts:
            assert not part.live or "LIVE" in part.cost
        for branch in cell.branches:
            inside(branch.cell)

    inside(cell_of(tree(*job)))


def test_numbers_tell_the_way() -> None:
    """A cell's number is that of the cell it comes from and its own answer's."""

    def inside(cell: Cell) -> None:
        for n, branch in enumerate(cell.branches, 1):
            assert branch.cell.number == f"{cell.number}.{n}"
            inside(branch.cell)

    root = cell_of(tree(*JOBS[0]))
    assert root.number == "1"
    inside(root)
