"""Driving the session straight at a powered step is refused."""

from __future__ import annotations

from collections import Counter

import pytest

from tests.job.helpers import bench, good_fields, start
from triage.errors import SafetyRefusal
from triage.job.desk import amp_facts
from triage.safety.cleared import Cleared, Refusal, clear
from triage.safety.facts import StepFacts

POWERED = ("read_b_plus", "listen_hum", "read_plate_screen")


@pytest.mark.parametrize("procedure", POWERED)
def test_no_answer_is_taken_for_a_powered_step_whose_gates_are_shut(procedure: str) -> None:
    """answer() at an act on the way records nothing and says that there is no such question."""
    session, kept, _ = start(skill="technician")
    session.aim_at(procedure)
    before = list(kept)
    for text in ("400 V", "keep", "unknown", "normal"):
        reply = session.answer(0, text)
        assert not reply.ok and "no such question" in reply.message
    assert kept == before


@pytest.mark.parametrize("procedure", POWERED)
def test_confirming_everything_empty_or_false_never_reaches_a_powered_step(procedure: str) -> None:
    """Forty confirmations with empty fields, yes, or other gates' fields prove no gate."""
    session, _, _ = start(skill="technician")
    session.aim_at(procedure)
    for n in range(40):
        shown = session.view()
        assert shown.sort == "act"
        assert shown.act not in ("plug_in", "switch_on", "to_standby")
        typed = ("", "yes", "ok", "0", "done")[n % 5]
        session.confirm({name: typed for name, _ in shown.fields})
    assert not {"G3", "G5", "G7"} & {p.gate for p in session.state.safety.proofs}
    assert session.state.safety.mains == "out"


@pytest.mark.parametrize("amplifier", ["linden_hall", "practice_amp", "shelf_set"])
def test_cannot_at_every_gate_comes_to_an_end_without_power(amplifier: str) -> None:
    """A gate that cannot be proven is asked for once more at most (for a repair), then it stops."""
    session, kept, _ = start(amplifier)
    session.complaint("it hums")
    session.complaint_over()
    gates: Counter[str] = Counter()
    for _ in range(60):
        shown = session.view()
        if shown.sort in ("closed", "repair"):
            break
        assert shown.act not in ("plug_in", "switch_on")
        if shown.sort == "act":
            gates[shown.ident] += 1
            assert session.cannot().ok
        else:
            session.answer(0, "unknown")
    assert shown.sort in ("closed", "repair")
    assert all(count <= 2 for count in gates.values()), gates
    assert session.state.safety.power_ups == 0
    assert not any(e.kind == "act_done" for e in kept)


def test_no_powered_step_is_cleared_before_its_gates() -> None:
    """Asked directly, the safety room refuses each powered procedure of a fresh job."""
    session, _, _ = start(skill="technician")
    amplifier = bench(skill="technician")
    facts = amp_facts(amplifier)
    powered = [c for c in amplifier.candidates if StepFacts.of(c.procedure).energised]
    assert len(powered) > 20
    for candidate in powered:
        found = clear(candidate.procedure, "amp", session.state.safety, facts)
        assert isinstance(found, Refusal) and found.reasons


def test_a_cleared_step_is_not_made_by_hand() -> None:
    """Cleared cannot be constructed outside the safety room."""
    entry = bench().knowledge.procedures["listen_hum"]
    with pytest.raises(SafetyRefusal, match="only the safety room"):
        Cleared(object(), entry, "amp", "idle", (), ())


def test_on_a_live_chassis_a_novice_is_refused_power_for_good() -> None:
    """On the shelf set each powered step is refused with its reason, whatever is confirmed."""
    session, _, _ = start("shelf_set")
    powered = [c for c in session.bench.candidates if StepFacts.of(c.procedure).energised]
    assert powered
    for candidate in powered:
        session.aim = candidate
        for _ in range(25):
            shown = session.view()
            if shown.sort != "act":
                break
            assert shown.act not in ("plug_in", "switch_on", "to_standby")
            if not session.confirm(good_fields(shown)).ok:
                break
        assert shown.sort in ("closed", "act")
    assert session.state.safety.power_ups == 0
