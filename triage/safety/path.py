"""The way from here to a step: one physical act after the other, the next one only.

From every state the way to ``cold`` is offered.
"""

from __future__ import annotations

from dataclasses import dataclass

from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.gates import passed, required
from triage.safety.states import SafetyState, energised, power_state, proven_dead


@dataclass(frozen=True)
class Ask:
    """The next act that is wanted: its kind, what to do, and (for gates) which gate."""

    kind: str
    text: str
    gate: str = ""
    tubes: str = ""
    procedure: str = ""


SWITCH_OFF = Ask("switch_off", "Switch the amplifier off.")
UNPLUG = Ask("unplug", "Pull the plug out of the wall and keep it in sight.")
EXTERNAL_OFF = Ask("external_off", "Switch the outside source off and take it off its clips.")
DISCHARGE = Ask(
    "discharged",
    "Wait five minutes. Clip the discharge resistor (10 kohm, 5 to 10 W) across each capacitor's own "
    "two terminals for half a minute, then read the volts left on the same two points.",
)
SIGNAL_OFF = Ask("signal_off", "Turn the volume down and stop the music or tone.")


def way_to_cold(state: SafetyState, facts: AmpFacts) -> tuple[Ask, ...]:
    """Acts from here to cold, in order; empty where it is cold already."""
    found: list[Ask] = []
    if state.external != "none":
        found.append(EXTERNAL_OFF)
    if state.mains in ("on", "standby"):
        found.append(SWITCH_OFF)
    if state.mains != "out":
        found.append(UNPLUG)
    if not proven_dead(state, facts.nodes) or found:
        found.append(DISCHARGE)
    return tuple(found)


def gate_before(step: StepFacts, state: SafetyState, facts: AmpFacts) -> str | None:
    """The first gate that wants its own procedure before this step; None where none does.

    G1, G16 and G9 are met on the way (``next_act``).
    """
    for gate in required(step, facts, state):
        if gate not in ("G1", "G9", "G16") and not passed(gate, state, facts):
            return gate
    return None


def next_act(step: StepFacts, state: SafetyState, facts: AmpFacts) -> Ask | None:
    """The next physical act towards this step; None where the step is in place."""
    now = power_state(state, facts.nodes)
    if step.power == "any":
        return None
    if state.external == "hazardous" and step.power != "external":
        return EXTERNAL_OFF
    if not step.energised:
        return _towards_dead(step, state, facts, now)
    if step.power == "external":
        if now == "external":
            return None
        cold = way_to_cold(state, facts)
        return (
            cold[0]
            if cold
            else Ask(
                "external_on",
                "Clip the outside source on while everything is dead; hands off, then on.",
            )
        )
    return _towards_power(step, state, facts, now)


def _towards_dead(step: StepFacts, state: SafetyState, facts: AmpFacts, now: str) -> Ask | None:
    if state.mains in ("on", "standby"):
        return SWITCH_OFF
    if state.mains != "out":
        return UNPLUG
    wants_cold = step.power == "cold" or (step.inside and "G1" not in step.proves)
    return DISCHARGE if wants_cold and now != "cold" else None


def _towards_power(step: StepFacts, state: SafetyState, facts: AmpFacts, now: str) -> Ask | None:
    limiter = step.power in ("limited", "limited_bare") or not passed("G9", state, facts)
    bare = step.power == "limited_bare"
    if step.power in ("limited", "limited_bare") and step.power == now:
        ready = not (step.clips and step.ident not in state.leads)
        if ready:
            return None
    wrong_tubes = bare == (state.tubes == "in") if step.power != "plugged" else False
    wrong_leads = step.clips and step.ident not in state.leads
    if state.mains != "out":
        if wrong_tubes or wrong_leads or state.limiter != limiter:
            return SWITCH_OFF if state.mains != "plugged" else UNPLUG
        return _powered(step, state, facts, now, limiter)
    return _before_power(step, state, facts, limiter, wrong_tubes, wrong_leads)


def _before_power(
    step: StepFacts,
    state: SafetyState,
    facts: AmpFacts,
    limiter: bool,
    wrong_tubes: bool,
    wrong_leads: bool,
) -> Ask | None:
    if wrong_leads:
        if not proven_dead(state, facts.nodes):
            return DISCHARGE
        return Ask(
            "leads_clipped",
            "Clip the meter leads on now, while everything is dead; hands stay out afterwards.",
            procedure=step.ident,
        )
    if wrong_tubes:
        tubes = "all_out" if step.power == "limited_bare" else "in"
        text = (
            "Let the tubes cool, then pull them all and mark which came from where."
            if tubes == "all_out"
            else "Fit the tubes, each in its own socket."
        )
        return Ask("tubes", text, tubes=tubes)
    if state.limiter != limiter:
        if limiter:
            return Ask("limiter_fitted", "Put the lamp limiter between the wall and the amplifier.")
        return Ask(
            "limiter_removed",
            "Take the limiter out; keep a hand on the switch for the first minute at full line.",
        )
    if state.clip:
        return Ask("clip_off", "Take the discharge clip off.")
    if not passed("G16", state, facts):
        return Ask("gate", "Clear to power: look once more.", gate="G16")
    return Ask("plug_in", "Plug it in, switch off.")


def _powered(
    step: StepFacts, state: SafetyState, facts: AmpFacts, now: str, limiter: bool
) -> Ask | None:
    if step.power == "plugged":
        return None if state.mains == "plugged" else SWITCH_OFF
    if step.power == "standby":
        return None if state.mains == "standby" else Ask("to_standby", "Switch on, to standby.")
    if state.mains != "on":
        return Ask("switch_on", "Switch on from outside, one hand; look, listen, sniff.")
    if limiter and step.power not in ("limited", "limited_bare"):
        return Ask("gate", "Watch it on the limiter for two minutes.", gate="G9")
    if step.power == "driven" and not state.signal:
        return Ask("signal_on", "Feed music or a tone in and bring the volume up slowly.")
    if step.power == "idle" and state.signal:
        return SIGNAL_OFF
    return None


def is_dead_end(state: SafetyState) -> bool:
    """Whether nothing but making it safe is left (a hazard is open)."""
    return bool(state.hazards) or energised(state) and state.external == "hazardous"
