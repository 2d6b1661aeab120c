"""State is a pure fold of events; answers may be taken back, acts never."""

from __future__ import annotations

import functools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.job.helpers import act, answered, bench, events_of, gate_data, start, state_of
from tests.properties.random_sessions import GOOD, Counts, Person
from triage.job.desk import amp_facts, permitted
from triage.job.events import Event
from triage.job.fold import JobState, fold, step
from triage.safety.cleared import Refusal, clear
from triage.safety.facts import StepFacts
from triage.safety.states import ACTS

HUM, LOUD, DEAD = (
    answered("hum", "amp", "yes"),
    answered("crackle", "amp", "yes"),
    answered("powers_up", "amp", "no"),
)


@pytest.mark.parametrize("seed", range(1, 7))
def test_folding_one_event_at_a_time_is_folding_all(seed: int) -> None:
    """State after each event of a random session equals the fold of all events up to it."""
    person = Person(seed, Counts(), led=False)
    for _ in range(25):
        person.act()
    state = JobState()
    for n, event in enumerate(person.kept, 1):
        state = step(state, event)
        if n % 5 == 0 or n == len(person.kept):
            assert state == fold(person.kept[:n])
    assert state == person.session.state


def test_taking_an_answer_back_removes_it_and_nothing_else() -> None:
    """Undo of the middle one of three leaves the other two, the acts and the safety state."""
    before = state_of(HUM, LOUD, DEAD, act("unplug"))
    after = step(before, Event(n=4, at=4.0, kind="answer_undone", data={"target": 1}))

    assert [a.finding for a in after.answers] == ["hum", "powers_up"]
    assert after.acts == before.acts
    assert after.safety.mains == before.safety.mains
    assert after.epoch == before.epoch


@pytest.mark.parametrize("kind", ["answer_undone", "answer_given"])
@pytest.mark.parametrize("target", [1, 2, 99])
def test_an_act_a_note_or_an_unknown_line_is_neither_taken_back_nor_changed(
    kind: str, target: int
) -> None:
    """Undo and correction of what is no answer are refused, and the message says that acts stay."""
    before = state_of(HUM, act("unplug"), ("note_made", {"text": "x"}))
    data: dict[str, Any] = {"target": target}
    if kind == "answer_given":
        data = {**HUM[1], "instead_of": target}

    with pytest.raises(ValueError, match=f"line {target} is no answer.*acts stay done"):
        step(before, Event(n=3, at=3.0, kind=kind, data=data))


def test_the_same_answer_is_not_taken_back_twice() -> None:
    """A second undo of one answer is refused."""
    with pytest.raises(ValueError, match="is no answer"):
        state_of(HUM, ("answer_undone", {"target": 0}), ("answer_undone", {"target": 0}))


def test_a_correction_changes_one_answer_and_keeps_later_ones_and_its_epoch() -> None:
    """The corrected answer keeps number, epoch and place in the order; later answers stay."""
    changed = ("answer_given", {"finding": "hum", "place": "amp", "answer": "no", "instead_of": 0})
    state = state_of(HUM, LOUD, act("switch_on"), DEAD, changed)

    assert [(a.n, a.finding, a.answer) for a in state.answers] == [
        (0, "hum", "no"),
        (1, "crackle", "yes"),
        (3, "powers_up", "no"),
    ]
    assert state.answers[0].epoch == 0
    assert state.answers[2].epoch == 1


def test_events_out_of_order_are_refused() -> None:
    """A missing line is noticed."""
    first, _, third = events_of(HUM, LOUD, DEAD)
    with pytest.raises(ValueError, match="event 2 stands where event 1 belongs"):
        fold([first, third])


@functools.cache
def _reached() -> tuple[Event, ...]:
    """Events of a session that is inside, cold, with its meter proven."""
    session, kept, _ = start(skill="technician")
    session.aim_at("measure_stage_resistor")
    assert session.reach().sort == "step"
    assert session.view().power == "cold"
    return tuple(kept)


NEXT: tuple[tuple[str, dict[str, Any]], ...] = (
    ("note_made", {"text": "x"}),
    HUM,
    act("discharged", **{n: 0.1 for n in ("C1", "C2", "C3", "C4", "C13")}),
    act("clip_on"),
    act("clip_off"),
    act("time"),
    ("act_done", gate_data("G2")),
    ("repair_done", {"repair": "replace_coupling_cap", "place": "C9"}),
    ("step_shown", {"step": "x"}),
)


@pytest.mark.parametrize("row", NEXT, ids=lambda row: f"{row[0]}-{row[1].get('act', '')}")
def test_after_a_clock_that_went_back_at_any_event_nothing_inside_is_open(
    row: tuple[str, dict[str, Any]],
) -> None:
    """After any number of events, an event of an earlier hour closes every step inside."""
    events, amplifier = _reached(), bench(skill="technician")
    facts = amp_facts(amplifier)
    inside = [
        (p, c.places[0].id)
        for c in amplifier.candidates
        if StepFacts.of(p := c.procedure).inside and "G1" not in p.proves
    ]
    assert len(inside) > 20
    for n in range(1, len(events) + 1):
        state = fold(events[:n])
        back = Event(n=n, at=state.at - 3600.0, kind=row[0], data=row[1])
        after = step(state, back)
        for procedure, place in inside:
            assert isinstance(clear(procedure, place, after.safety, facts), Refusal), procedure.id


def test_the_state_reached_before_the_jump_does_open_steps_inside() -> None:
    """The last test is not empty: without the jump, steps inside are open."""
    amplifier, state = bench(skill="technician"), fold(_reached())
    facts = amp_facts(amplifier)
    opened = [
        c
        for c in amplifier.candidates
        if StepFacts.of(c.procedure).inside
        and not isinstance(clear(c.procedure, c.places[0].id, state.safety, facts), Refusal)
    ]
    assert len(opened) > 5


@pytest.mark.parametrize("kind", ["paused", "resumed"])
def test_a_paused_or_resumed_job_counts_as_powered_and_charged(kind: str) -> None:
    """After pause or resume the plug counts as in, switched on, and no capacitor as dead."""
    events = _reached()
    again = Event(n=len(events), at=events[-1].at + 1, kind="act_done", data={"act": kind})
    state = fold([*events, again])

    assert state.safety.mains == "on"
    assert state.safety.dead_at is None
    assert "G1" not in permitted(state, amp_facts(bench(skill="technician")))
    assert "G2" not in permitted(state, amp_facts(bench(skill="technician")))


ROW = st.one_of(
    st.sampled_from([HUM, LOUD, DEAD]),
    st.sampled_from(sorted(GOOD)).map(lambda gate: ("act_done", gate_data(gate))),
    st.sampled_from(sorted(set(ACTS) - {"gate_passed"})).map(lambda kind: act(kind)),
    st.just(act("discharged", **{n: 0.1 for n in ("C1", "C2", "C3", "C4", "C13")})),
    st.just(act("unplug")),
)


@settings(max_examples=150, deadline=None)
@given(
    rows=st.lists(ROW, min_size=1, max_size=25),
    gaps=st.lists(st.sampled_from([1.0, 60.0, 2000.0, -5.0]), min_size=26, max_size=26),
    which=st.integers(0, 24),
)
def test_taking_an_answer_back_never_opens_a_gate(
    rows: list[tuple[str, dict[str, Any]]], gaps: list[float], which: int
) -> None:
    """Gates that hold after an undo are among those that held before it."""
    at, events = 1e6, []
    for n, (kind, data) in enumerate([HUM, *rows]):
        at += gaps[n]
        events.append(Event(n=n, at=at, kind=kind, data=data))
    state, facts = fold(events), amp_facts(bench(skill="technician"))
    target = state.answers[which % len(state.answers)].n
    undo = Event(
        n=state.count, at=state.at + gaps[-1], kind="answer_undone", data={"target": target}
    )

    assert permitted(step(state, undo), facts) <= permitted(state, facts)


@pytest.mark.parametrize("mains", [True, False, None])
def test_a_repair_on_the_mains_side_asks_for_the_proofs_of_the_mains_side_again(
    mains: bool | None,
) -> None:
    """After a new cord G3 to G6 are proven anew, after a new coupling capacitor they stand."""
    proofs = [("act_done", gate_data(gate)) for gate in ("G3", "G4", "G5", "G6")]
    data = {"repair": "x", "place": "y"} | ({} if mains is None else {"mains": mains})
    before, after = state_of(*proofs), state_of(*proofs, ("repair_done", data))
    facts, wanted = amp_facts(bench(skill="technician")), {"G3", "G4", "G5", "G6"}

    assert wanted <= permitted(before, facts)
    assert wanted & permitted(after, facts) == (wanted if mains is False else set())
