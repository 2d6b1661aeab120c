"""The way from here to a step: one physical act after the other, the next one only.

From every state the way to ``cold`` is offered.
"""

from __future__ import annotations

from dataclasses import dataclass

from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.gates import WHY, passed, required
from triage.safety.states import SafetyState, power_state, proven_dead


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
PROVE_METER = Ask("gate", "Prove the meter on a known source first.", gate="G2")
CALMING = frozenset({"switch_off", "unplug", "external_off", "signal_off"})
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
        if not passed("G2", state, facts):
            found.append(PROVE_METER)
        found.append(DISCHARGE)
    return tuple(found)


def safe_next(step: StepFacts, state: SafetyState, facts: AmpFacts) -> Ask | None:
    """What comes next towards a step: making it safe, a gate, then an act; None when in place.

    An act that energises is offered only where every gate that the step needs holds, G9 apart
    (that one is proven on the limiter, on the way).
    """
    ask = next_act(step, state, facts)
    if ask is not None and ask.kind in CALMING:
        return ask
    gate = gate_before(step, state, facts)
    if gate is not None:
        return Ask("gate", WHY[gate], gate=gate)
    return ask


def fits_tubes(step: StepFacts, state: SafetyState) -> bool:
    """Whether output tubes go into their sockets on the way to a step (new, or pulled before)."""
    refits = step.power in ("standby", "limited", "idle", "driven") and state.tubes != "in"
    return step.fits_output_tubes or refits


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
        return _towards_external(step, state, facts, now)
    if state.external != "none":
        return EXTERNAL_OFF
    return _towards_power(step, state, facts, now)


def _towards_dead(step: StepFacts, state: SafetyState, facts: AmpFacts, now: str) -> Ask | None:
    if state.mains in ("on", "standby"):
        return SWITCH_OFF
    if state.mains != "out":
        return UNPLUG
    wants_cold = step.power == "cold" or (step.inside and "G1" not in step.proves)
    return _discharge(state, facts) if wants_cold and now != "cold" else None


def _discharge(state: SafetyState, facts: AmpFacts) -> Ask:
    return DISCHARGE if passed("G2", state, facts) else PROVE_METER


def _towards_external(step: StepFacts, state: SafetyState, facts: AmpFacts, now: str) -> Ask | None:
    clipped = not step.clips or step.ident in state.leads
    ready = clipped and state.mains == "out" and passed("G16", state, facts)
    if now == "external":
        return None if ready else EXTERNAL_OFF
    cold = way_to_cold(state, facts)
    if cold:
        return cold[0]
    if not clipped:
        return _clip_leads(step)
    if state.clip:
        return CLIP_OFF
    if not ready:
        return CLEAR
    return Ask("external_on", "Hands out, then switch the outside source on.")


def _clip_leads(step: StepFacts) -> Ask:
    text = "Clip the meter leads on now, while everything is dead; hands stay out afterwards."
    return Ask("leads_clipped", text, procedure=step.ident)


CLIP_OFF = Ask("clip_off", "Take the discharge clip off.")
CLEAR = Ask("gate", "Clear to power: look once more.", gate="G16")


def _towards_power(step: StepFacts, state: SafetyState, facts: AmpFacts, now: str) -> Ask | None:
    limited = step.power in ("limited", "limited_bare")
    untested = step.power != "plugged" and not passed("G9", state, facts)
    limiter = limited or untested or (step.power == "plugged" and state.limiter)
    bare = step.power == "limited_bare"
    wrong_tubes = bare == (state.tubes == "in") if step.power != "plugged" else False
    wrong_leads = step.clips and step.ident not in state.leads
    if state.mains != "out":
        doubtful = state.clip or not passed("G16", state, facts)
        if doubtful or wrong_tubes or wrong_leads or state.limiter != limiter:
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
            return _discharge(state, facts)
        return _clip_leads(step)
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
        return CLIP_OFF
    if not passed("G16", state, facts):
        return CLEAR
    return Ask("plug_in", "Plug it in, with its switch off.")


def _powered(
    step: StepFacts, state: SafetyState, facts: AmpFacts, now: str, limiter: bool
) -> Ask | None:
    if step.power == "plugged":
        return None if state.mains == "plugged" else SWITCH_OFF
    if state.signal and step.power != "driven":
        return SIGNAL_OFF
    if step.power == "standby" and not limiter:
        return None if state.mains == "standby" else Ask("to_standby", "Switch on, to standby.")
    if state.mains != "on":
        return Ask("switch_on", "Switch on from outside, one hand; look, listen, sniff.")
    if limiter and step.power not in ("limited", "limited_bare"):
        return Ask("gate", "Watch it on the limiter for two minutes.", gate="G9")
    if step.power == "driven" and not state.signal:
        return Ask("signal_on", "Feed music or a tone in and bring the volume up slowly.")
    return None
