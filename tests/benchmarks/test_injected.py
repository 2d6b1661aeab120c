"""Faults that ngspice solved, ranked anew from what it said; the whole run is ``bench_injected``."""

from __future__ import annotations

import pytest

from tests.benchmarks.bench_injected import WAYS, all_ways, moving, read_kept, summary

NGSPICE = "ngspice, operating points of amplifiers with one fault each"
SMALL = ("practice_amp", "shelf_set")


@pytest.mark.published("seen", NGSPICE)
def test_the_true_fault_stands_in_a_short_leading_group_more_often_than_by_words() -> None:
    """The two smallest circuits: most are found in groups of two at most, words alone find fewer."""
    chosen = [row for row in moving(read_kept()) if row.circuit in SMALL]
    assert len(chosen) >= 10

    said = summary([all_ways(row) for row in chosen])

    assert said[WAYS[0]]["in the leading group"] >= 0.7
    assert said[WAYS[0]]["mean group"] <= 2.5
    assert said[WAYS[0]]["mean chance of the true"] > said[WAYS[2]]["mean chance of the true"]


@pytest.mark.slow
@pytest.mark.published("seen", NGSPICE)
def test_all_circuits_that_are_kept() -> None:
    """All five: at least 70 % of the few that are kept, in groups of about two."""
    said = summary([all_ways(row) for row in moving(read_kept())])

    assert said[WAYS[0]]["in the leading group"] >= 0.7
    assert said[WAYS[0]]["mean group"] <= 2.2
    assert said[WAYS[0]]["in the leading group"] > said[WAYS[2]]["in the leading group"]
