"""Every reachable state of a bounded abstract bench: nothing is cleared that should not be."""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.safety.shadow import GOOD, Shadow, allowed, note, proof_act
from triage.safety.cleared import Cleared, clear
from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.gates import passed, required, try_proof
from triage.safety.path import Ask, safe_next, way_to_cold
from triage.safety.states import Act, SafetyState, apply, power_state

TOOLS = frozenset({"limiter", "isolation_transformer", "high_impedance_meter", "probe_2kv"})
LAY = AmpFacts("transformer", "fixed", 400.0, "novice", False, frozenset({"limiter"}))
TECH = AmpFacts("transformer", "fixed", 400.0, "technician", True, TOOLS)
PEOPLE = {
    "lay": LAY,
    "tech": TECH,
    "live chassis, lay": replace(LAY, isolation="live_chassis"),
    "live chassis, tech": replace(TECH, isolation="live_chassis"),
    "unknown": replace(LAY, isolation="unknown", max_v=None),
    "540 V hobbyist": replace(LAY, max_v=540.0, skill="hobbyist", second_person=True),
}
STEPS = (
    StepFacts("look", "unplugged", False),
    StepFacts("ohms", "cold", True),
    StepFacts("discharge", "unplugged", True, needs=("G2",), proves=("G1",)),
    StepFacts("repair", "cold", True),
    StepFacts("fit", "cold", True, fits_output_tubes=True),
    StepFacts("bare", "limited_bare", True, clips=True, probes="b_plus"),
    StepFacts("watch", "limited", False),
    StepFacts("listen", "idle", False),
    StepFacts("b_plus", "idle", True, clips=True, probes="b_plus"),
    StepFacts("probe", "idle", True, live=True, probes="low"),
    StepFacts("drive", "driven", True, clips=True, probes="low"),
    StepFacts("plate", "driven", True, clips=True, probes="output_plate"),
    StepFacts("reform", "external", True, clips=True, probes="b_plus", technician=True),
    StepFacts("grid", "idle", True, clips=True, probes="output_grid"),
    StepFacts("stand", "standby", False),
)


@pytest.fixture(autouse=True)
def bare_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """Steps are given as safety sees them; `clear` takes them through the same door."""
    monkeypatch.setattr(
        "triage.safety.cleared.StepFacts.of", staticmethod(lambda entry: entry.facts)
    )


def shown(step: StepFacts, state: SafetyState, facts: AmpFacts) -> bool:
    entry = cast(Any, SimpleNamespace(facts=step, cautions=()))
    return isinstance(clear(entry, "here", state, facts), Cleared)


def act(kind: str, at: float = 0.0, **says: str) -> Act:
    return Act(kind, at, tuple(says.items()))


DEAD = (("reservoir", 2.0),)
BLOCKS: dict[str, tuple[Act, ...]] = {
    kind: (act(kind),)
    for kind in (
        "plug_in",
        "switch_on",
        "to_standby",
        "switch_off",
        "unplug",
        "limiter_fitted",
        "limiter_removed",
        "signal_on",
        "external_off",
        "clip_on",
        "clip_off",
        "repaired",
        "paused",
    )
}
BLOCKS |= {
    "outside low": (act("external_on", level="low"),),
    "outside": (act("external_on", level="hazardous"),),
    "dead": (Act("discharged", reads=DEAD),),
    "not dead": (Act("discharged", reads=(("reservoir", 40.0),)),),
    "leads": tuple(act("leads_clipped", procedure=s.ident) for s in STEPS if s.clips),
    "tubes out": (act("tubes", tubes="all_out"),),
    "tubes in": (act("tubes", tubes="in"),),
    "hazard": (act("hazard", hazard="smoke"),),
    "hazard over": (act("hazard_over", hazard="smoke"),),
    "meter": (proof_act("G2"),),
    "paper proofs": tuple(proof_act(g) for g in ("G3", "G4", "G5", "G6", "G11", "G12")),
    "parts proofs": (proof_act("G7"), proof_act("G8")),
    "limiter run": (proof_act("G9"),),
    "bias": (proof_act("G10"),),
    "look": (proof_act("G16"),),
    "bare yes": tuple(proof_act(g, good=False) for g in GOOD),
    "10 min": (act("time", 600.0),),
    "40 min": (act("time", 2400.0),),
    "13 h": (act("time", 46800.0),),
    "clock back": (act("time", -60.0),),
}


def after(
    state: SafetyState, shadow: Shadow, name: str, without: str = ""
) -> tuple[SafetyState, Shadow]:
    """Both accounts after a block of acts, each at its distance from now; one gate left out."""
    for one in BLOCKS[name]:
        if without and one.word("gate") == without:
            continue
        done = replace(one, at=state.now + one.at)
        state, shadow = apply(state, done), note(shadow, done)
    return state, shadow


def age(seconds: float) -> int:
    return 0 if seconds < 0 else 1 if seconds <= 1800 else 2 if seconds <= 43200 else 3


def shape(state: SafetyState) -> tuple[Any, ...]:
    """A state with its counts and times made relative and coarse: the number of them is finite."""
    proofs = frozenset(
        (
            p.gate,
            len(p.said.says) + len(p.said.reads) > 1,
            age(state.now - p.at) > 2,
            min(2, state.power_ups - p.power_ups) if p.gate in ("G7", "G10") else 0,
            p.changes == state.changes if p.gate in ("G7", "G8", "G9", "G10") else True,
            p.power if p.gate in ("G9", "G10") else "",
            bool(p.dead) if p.gate == "G7" else False,
        )
        for p in state.proofs
    )
    old = None if state.dead_at is None else age(state.now - state.dead_at)
    return (
        state.mains,
        state.limiter,
        state.tubes,
        state.load,
        state.signal,
        state.external,
        state.dead,
        old,
        state.clip,
        state.leads,
        state.clear_to_power,
        state.clean_limiter_run == state.changes,
        proofs,
        state.hazards,
    )


def ripe(without: str = "", on: bool = False) -> tuple[SafetyState, Shadow]:
    """All proven but one gate, leads clipped, cold or on: the nearest places to danger."""
    state, shadow = SafetyState(), Shadow()
    for name in (
        "meter",
        "paper proofs",
        "dead",
        "parts proofs",
        "leads",
        "limiter_fitted",
        "look",
        "plug_in",
        "switch_on",
        "limiter run",
        "switch_off",
        "unplug",
        "dead",
        "parts proofs",
        "limiter_removed",
        *(("look", "plug_in", "switch_on") if on else ()),
    ):
        state, shadow = after(state, shadow, name, without)
    return state, shadow


def reach(limit: int) -> list[tuple[SafetyState, Shadow]]:
    """States within a bound, nearest first, from a fresh bench and from a ripe one."""
    starts = [ripe(gate, on) for on in (False, True) for gate in ("", *GOOD)]
    queue = deque([(SafetyState(), Shadow()), *starts])
    seen = {shape(state) for state, _ in queue}
    found = []
    while queue and len(found) < limit:
        state, shadow = queue.popleft()
        found.append((state, shadow))
        for name in BLOCKS:
            next_state, next_shadow = after(state, shadow, name)
            key = shape(next_state)
            if key not in seen:
                seen.add(key)
                queue.append((next_state, next_shadow))
    return found


@pytest.fixture(scope="module")
def states() -> list[tuple[SafetyState, Shadow]]:
    return reach(4000)


def test_nothing_is_cleared_that_a_second_account_forbids(
    states: list[tuple[SafetyState, Shadow]],
) -> None:
    """In each state, for each person and step: cleared only where the raw history allows it."""
    cleared = set()
    for state, shadow in states:
        for name, facts in PEOPLE.items():
            for step in STEPS:
                if shown(step, state, facts):
                    cleared.add(step.ident)
                    assert allowed(step, shadow, facts), (name, step.ident, state, shadow)
                    assert not state.hazards
    assert cleared >= {"look", "ohms", "discharge", "repair", "b_plus", "listen", "drive", "plate"}


def answered(state: SafetyState, ask: Ask, facts: AmpFacts) -> SafetyState:
    """Do what was asked, at the bench, ten seconds later."""
    at = state.now + 10
    if ask.kind == "gate":
        assert try_proof(ask.gate, proof_act(ask.gate, at), facts, state) is None, ask
        return apply(state, proof_act(ask.gate, at))
    says = {"tubes": ask.tubes, "procedure": ask.procedure, "level": "hazardous"}
    reads = tuple((node, 1.0) for node in facts.nodes) if ask.kind == "discharged" else ()
    return apply(state, Act(ask.kind, at, tuple(says.items()), reads))


def test_from_every_state_the_way_to_cold_leads_to_cold(
    states: list[tuple[SafetyState, Shadow]],
) -> None:
    """Its acts, done in order with readings below 10 V, end cold; it is empty only where cold."""
    for state, _ in states:
        cold = power_state(state, LAY.nodes) == "cold"
        way = way_to_cold(state, LAY)
        assert way or cold
        for ask in way:
            state = answered(state, ask, LAY)
        assert power_state(state, LAY.nodes) == "cold"


def test_after_pause_and_resume_no_hand_goes_inside(
    states: list[tuple[SafetyState, Shadow]],
) -> None:
    """Whatever stood before, a pause leaves no step inside cleared."""
    for state, _ in states:
        for kind in ("paused", "resumed"):
            state = apply(state, act(kind, state.now + 1))
        assert not any(shown(s, state, TECH) for s in STEPS if s.inside)


def mend_gate(state: SafetyState, gate: str, facts: AmpFacts) -> SafetyState:
    """Prove a gate that wants a dead amplifier or a bare one, as its own procedure would."""
    if gate == "G7":
        for ask in way_to_cold(state, facts):
            state = answered(state, ask, facts)
    return answered(state, Ask("gate", "", gate=gate), facts)


ENERGISING = ("plug_in", "switch_on", "to_standby", "external_on")


@pytest.mark.parametrize(
    "step", [s for s in STEPS if not s.fits_output_tubes], ids=lambda s: s.ident
)
def test_safe_next_leads_to_every_step_and_energises_only_with_its_gates(
    step: StepFacts, states: list[tuple[SafetyState, Shadow]]
) -> None:
    """Doing what is asked ends in the step cleared, within 60 acts, for one who may do it."""
    for state, _ in states[::40]:
        if state.hazards:
            continue
        for _ in range(60):
            ask = safe_next(step, state, TECH)
            if ask is None:
                break
            if ask.kind in ENERGISING:
                unmet = {g for g in required(step, TECH, state) if not passed(g, state, TECH)}
                assert unmet <= {"G9"} and (not unmet or state.limiter), (ask, unmet)
            state = (
                mend_gate(state, ask.gate, TECH)
                if ask.kind == "gate"
                else answered(state, ask, TECH)
            )
        assert shown(step, state, TECH), (step.ident, ask, state)
