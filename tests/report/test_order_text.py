"""The order of steps as text and Markdown: narrow, cautions first, gates above what they open."""

from __future__ import annotations

import re

import pytest

from tests.report.trees import JOBS, Job, in_reading_order, tree
from triage.report.order_markdown import order_markdown
from triage.report.order_text import order_text
from triage.report.order_words import CAUTIONS

each = pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")


def unwrapped(text: str) -> str:
    """Text without its line breaks, guide bars and indents."""
    return re.sub(r"\s+", " ", re.sub(r"(?m)^[| ]+", "", text)).strip()


def unmarked(text: str) -> str:
    """Markdown without its escapes."""
    return unwrapped(re.sub(r"\\(.)", r"\1", text))


@each
def test_no_line_of_the_text_is_wider_than_a_screen(job: Job) -> None:
    """At most 79 columns, no blanks at the ends."""
    lines = order_text(tree(*job)).splitlines()
    assert max(map(len, lines)) <= 79
    assert [line for line in lines if line != line.rstrip()] == []


@each
def test_cautions_come_before_the_first_step(job: Job) -> None:
    """Local codes, licensed practice and what kills stand above the tree in both forms."""
    assert "Local codes and licensed practice come first" in CAUTIONS[0]
    first = in_reading_order(tree(*job))[0]
    for flat in (unwrapped(order_text(tree(*job))), unmarked(order_markdown(tree(*job)))):
        places = [flat.find(caution) for caution in CAUTIONS]
        assert min(places) >= 0
        assert max(places) < flat.find(unwrapped(first))


@each
def test_nothing_of_the_tree_is_left_out_and_nothing_moved(job: Job) -> None:
    """Acts, gates, steps, cautions, answers and ends stand in reading order: gates above steps."""
    found = tree(*job)
    for flat in (unwrapped(order_text(found)), unmarked(order_markdown(found))):
        at = 0
        for piece in in_reading_order(found):
            at = flat.find(unwrapped(piece), at)
            assert at >= 0, piece


def test_markdown_marks_in_words_do_not_become_marks() -> None:
    """Stars, brackets and the like are escaped; the heads are the only ones."""
    drawn = order_markdown(tree(*JOBS[0]))
    assert re.findall(r"(?m)^#+ (.*)$", drawn) == [
        "Order of steps",
        "Before anything else",
        "The steps",
        "Gates named above",
    ]
    assert drawn.count("**") % 2 == 0


@each
def test_each_gate_named_is_explained_at_the_end(job: Job) -> None:
    """The list of gates has exactly those that stand in the tree."""
    drawn = order_text(tree(*job))
    steps, gates = drawn.split("GATES NAMED ABOVE")
    named = set(re.findall(r"\((G\d+)\)", steps.replace("\n", " ")))
    assert set(re.findall(r"(?m)^(G\d+) ", gates)) == named
