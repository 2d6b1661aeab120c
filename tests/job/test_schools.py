"""Where the trade differs, both sides are shown at the step, and what harms nobody."""

from __future__ import annotations

from tests.job.helpers import Aimed, Clock, bench, knowledge


def test_a_step_on_which_the_trade_differs_shows_both_schools_and_the_safe_way() -> None:
    """Whoever checks the load reads both views of a mismatch, and what harms nothing."""
    session = Aimed(bench(), lambda event: None, Clock())
    session.begin()
    session.aim_at("check_load")

    shown = session.reach()

    (line,) = shown.lines
    assert line.startswith("Two schools on a wrong load: up to two to one")
    assert "; or only the marked ohms" in line
    assert line.endswith(
        "Safe: the marked ohms; never open, never far above the marking when loud."
    )


def test_each_dispute_names_two_ways_that_differ_and_a_safe_one() -> None:
    """A dispute with one side, or without a safe way, helps nobody."""
    kb = knowledge()
    disputes = [s for e in (*kb.procedures.values(), *kb.repairs.values()) for s in e.schools]

    assert len(disputes) >= 15
    assert [s.on for s in disputes if len({s.one, s.other, s.safe}) < 3] == []
