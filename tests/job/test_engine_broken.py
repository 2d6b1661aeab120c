"""A rules engine that fails or keeps silent stops the session: nothing is shown on half the facts."""

from __future__ import annotations

from typing import Any

import pytest

from tests.job.helpers import start
from triage.errors import EngineFault
from triage.rules.engine import RuleEngine


def test_an_engine_that_raises_stops_the_session(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fault reaches the caller; what was told stays in the record."""
    session, kept, _ = start()

    def broken(*given: Any) -> Any:
        raise EngineFault("broken")

    monkeypatch.setattr(RuleEngine, "match", broken)
    session.tell("grid_shift_tube_out", "V3", "far_raised")
    session.complaint_over()
    with pytest.raises(EngineFault, match="broken"):
        session.view()
    assert [e.kind for e in kept] == ["job_started", "answer_given", "complaint_over"]


def test_an_engine_that_keeps_silent_where_a_rule_holds_stops_the_session(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No firings at all, with a raised grid known at V3 tube in and out: a fault, with the rule."""
    session, _, _ = start()
    monkeypatch.setattr(RuleEngine, "match", lambda *given: frozenset())
    session.tell("grid_shift_tube_in", "V3", "far_raised")
    session.tell("grid_shift_tube_out", "V3", "far_raised")
    session.complaint_over()
    with pytest.raises(EngineFault, match="did not fire 'grid_shift_stays_with_tube_out' at V3"):
        session.view()


def test_a_silent_engine_does_not_hide_a_hazard(monkeypatch: pytest.MonkeyPatch) -> None:
    """No firings, with a red plate seen: the session fails, it does not go on to a question."""
    session, _, _ = start()
    monkeypatch.setattr(RuleEngine, "match", lambda *given: frozenset())
    session.tell("plate_colour", "V3", "red")
    session.complaint_over()
    with pytest.raises(EngineFault, match="plate_glows_red"):
        session.view()


def test_the_whole_engine_raises_nothing_on_the_same_facts() -> None:
    """The three tests above fail for the engine's sake: with the real one a view is shown."""
    session, _, _ = start()
    session.tell("grid_shift_tube_in", "V3", "far_raised")
    session.tell("grid_shift_tube_out", "V3", "far_raised")
    session.complaint_over()
    assert session.view().sort in ("step", "act", "repair")
