"""No random session is ever shown a step that an independent record of its acts would not allow."""

from __future__ import annotations

import pytest

from tests.properties.random_sessions import run
from triage.safety import cleared, gates, path

SESSIONS = 300
MANY = 20_000
_passed = gates.passed


def test_no_random_session_is_shown_a_dangerous_step() -> None:
    """300 random sessions: powered, inside and repair steps only as the shadow allows them."""
    counts = run(0, SESSIONS)

    assert counts.violations == []
    assert counts.sessions == SESSIONS
    assert counts.seen["powered step"] > 50
    assert counts.seen["powered inside"] > 5
    assert counts.seen["inside, cold"] > 100
    assert counts.seen["proof"] > 0
    assert counts.seen["repair"] > 5


def test_a_proof_that_lapses_while_a_step_is_looked_at_no_longer_clears_it() -> None:
    """Seed 55308: the half hour ran out between two events, and the step was still shown."""
    assert run(55308, 1).violations == []


@pytest.mark.slow
def test_no_session_of_very_many_is_shown_a_dangerous_step() -> None:
    """20,000 random sessions find nothing."""
    assert run(0, MANY).violations == []


def test_the_shadow_sees_a_gate_that_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """With one gate struck from the safety room, the same sessions are reported."""
    whole = gates.missing

    def without(*given: object) -> object:
        return tuple(gate for gate in whole(*given) if gate.gate != "G4")  # type: ignore[arg-type]  # a stand-in

    monkeypatch.setattr(cleared, "missing", without)
    monkeypatch.setattr(
        path, "passed", lambda gate, *rest: gate == "G4" or _passed(gate, *rest), raising=True
    )

    assert any("G4 is not proven" in line for line in run(1, 60).violations)


def test_the_shadow_sees_a_proof_of_dead_capacitors_that_is_not_asked_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With the check of the capacitors struck, the same sessions are reported."""
    monkeypatch.setattr(cleared, "proven_dead", lambda *given: True)
    monkeypatch.setattr(cleared, "missing", lambda *given: ())
    monkeypatch.setattr(cleared, "_in_place", lambda *given: True)
    monkeypatch.setattr(path, "proven_dead", lambda *given: True)
    monkeypatch.setattr(path, "passed", lambda *given: True)
    monkeypatch.setattr(path, "power_state", lambda *given: "cold")

    assert any("not proven dead" in line for line in run(1, 30).violations)
