"""Nobody waits long for the next question."""

from __future__ import annotations

from tests.benchmarks.bench_next_question import share, waits

LOOSE = 0.250
"""Seconds; the aim is 0.100 on an idle machine, see ``bench_next_question``."""


def test_the_next_question_comes_within_a_quarter_of_a_second() -> None:
    """95 of 100 waits over random answers on both scenarios are shorter than 250 ms."""
    took = waits(6)

    assert len(took) > 30
    assert share(took, 0.95) < LOOSE
