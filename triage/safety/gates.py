"""Gates: which one a step needs is code; what proves it is a reading or a named observation.

No gate passes on a bare yes, and no limit taken from memory opens one.
Source: user needs 6.8 as corrected by bench review section 1a.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from triage.errors import SafetyRefusal
from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.states import (
    DEAD_VOLTS,
    TWELVE_HOURS,
    Act,
    Proof,
    SafetyState,
    apply,
    energised,
    meter_reads_right,
    proven_dead,
)

HAND_OVER_V = 500.0
TOUCH_V = 60.0
MEG = 1e6


@dataclass(frozen=True)
class Missing:
    """A gate that is not met: why it is wanted now."""

    gate: str
    why: str


def required(step: StepFacts, facts: AmpFacts, state: SafetyState) -> tuple[str, ...]:
    """Gates that must hold before this step is shown, in the order in which they are met."""
    wanted: list[str] = []
    if step.inside and not step.energised:
        wanted += ["G2", "G1"]
    if step.energised and step.power != "external":
        wanted += ["G3", "G4", "G5", "G6"]
        if state.tubes != "all_out" or step.power not in ("plugged", "limited_bare"):
            wanted.append("G7")
        if state.tubes == "in":
            wanted.append("G8")
        if step.power in ("idle", "driven", "standby"):
            wanted.append("G9")
        wanted.append("G16")
    if step.energised and step.inside:
        wanted += ["G2", "G11", "G12"]
    if step.power == "external":
        wanted += ["G2", "G11", "G12", "G16"]
    if step.fits_output_tubes:
        wanted.append("G10")
    wanted += step.needs
    own = frozenset() if step.energised else frozenset(step.proves)
    return tuple(dict.fromkeys(gate for gate in wanted if gate not in own))


def fresh(proof: Proof | None, state: SafetyState) -> bool:
    """Whether a proof still holds (G15): 12 hours, repairs, and for some gates each power-up."""
    if proof is None or not 0.0 <= state.now - proof.at <= TWELVE_HOURS:
        return False
    if proof.gate in ("G7", "G8", "G9", "G10") and state.changes != proof.changes:
        return False
    since = state.power_ups - proof.power_ups
    if proof.gate == "G7":
        return since == 0 or (since == 1 and state.mains != "out")
    if proof.gate == "G10":
        return since == 0
    return True


def passed(gate: str, state: SafetyState, facts: AmpFacts) -> bool:
    """Whether a gate holds now.

    The readings of its proof are judged again, with what is known of the amplifier by now: a proof
    that was recorded without being good opens nothing.
    """
    if gate == "G1":
        return proven_dead(state, facts.nodes)
    if gate == "G13":
        return not state.hazards
    proof = state.proof(gate)
    if proof is None or not fresh(proof, state) or _wanted(proof, facts) is not None:
        return False
    if gate == "G8":
        return state.load
    if gate == "G9":
        return state.clean_limiter_run == state.changes
    return gate != "G16" or state.clear_to_power


def missing(step: StepFacts, state: SafetyState, facts: AmpFacts) -> tuple[Missing, ...]:
    """Gates of this step that do not hold."""
    return tuple(
        Missing(gate, WHY[gate])
        for gate in required(step, facts, state)
        if not passed(gate, state, facts)
    )


def forbidden(step: StepFacts, state: SafetyState, facts: AmpFacts) -> tuple[str, ...]:
    """Reasons why this step is never for this person on this amplifier (no gate helps)."""
    found: list[str] = []
    lay = facts.skill != "technician"
    volts = facts.max_v
    if step.energised and step.inside and lay and volts is not None and volts > HAND_OVER_V:
        found.append(f"The supply reaches {volts:.0f} V: above 500 V live work is handed over.")
    if step.energised and step.power != "external" and facts.isolation == "live_chassis":
        if lay or not {"isolation_transformer", "limiter"} <= facts.tools:
            found.append(
                "Its chassis may be live: powered work is for a technician, behind an isolation "
                "transformer and a limiter."
            )
    if step.live and lay and volts is None:
        found.append("A probe in the hand where the highest volts are unknown: technician only.")
    if step.live and not facts.second_person and (volts is None or volts > TOUCH_V):
        found.append("A probe in the hand above 60 V wants a second person in the room.")
    if (step.power == "driven" or state.signal) and step.probes == "output_plate":
        if "probe_2kv" not in facts.tools:
            found.append("Plates under drive swing to kilovolts: no probe below 2 kV there.")
    if step.energised and step.probes == "output_grid" and state.tubes == "in":
        if "high_impedance_meter" not in facts.tools:
            found.append(
                "At an output grid with its tube in, a meter below 10 Mohm takes the bias away. "
                "Read it with the output tubes out, or at the supply side of the grid leak."
            )
    if step.power == "external" and lay:
        found.append(
            "An outside high-voltage source (reforming, insulation test) is for a technician."
        )
    if step.technician and lay:
        found.append("This step is for a technician.")
    if step.power in ("limited", "limited_bare") and "limiter" not in facts.tools:
        found.append("It wants a current limiter (a lamp in series), and none is at hand.")
    return tuple(found)


Numbers = Mapping[str, float]
Words = Mapping[str, str]


def _need(numbers: Numbers, name: str) -> float:
    return numbers.get(name, float("nan"))


def _meter(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    wanted = "the meter must read a known source right, before and after"
    return None if meter_reads_right(n) else wanted


def _isolation(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    if f.isolation == "live_chassis" or w.get("by") == "isolation_transformer":
        if f.skill != "technician" or not {"isolation_transformer", "limiter"} <= f.tools:
            return "behind an isolation transformer and a limiter it is run by a technician only"
        ok = _need(n, "in_to_out") > MEG and _need(n, "out_to_earth") > MEG
        return (
            None
            if ok
            else "the isolation transformer itself must read open, in to out and out to earth"
        )
    path = 0.1 < _need(n, "line_to_neutral") < 2000.0
    open_ = _need(n, "line_to_chassis") > MEG and _need(n, "neutral_to_chassis") > MEG
    if not path:
        return "no path from line to neutral: fuse, switch or dropper open, so nothing is proven"
    return None if open_ else "a mains pin is not isolated from the chassis: treat it as LIVE"


def _cord(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    ok = w.get("cord") == "sound" and w.get("fuse") == "as_marked"
    return None if ok else "a sound cord and the fuse as marked, no foil and no larger one"


def _earth(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    if w.get("class") == "earthed":
        ok = 0.0 <= _need(n, "earth_ohm") <= 0.5 and w.get("outlet") == "earth_proven"
        return None if ok else "earth pin to chassis at most 0.5 ohm, and the outlet's earth proven"
    if w.get("class") == "double_square":
        return None if _need(n, "insulation_ohm") > 2 * MEG else "insulation above 2 Mohm"
    if w.get("class") == "two_wire":
        ok = {"isolation_transformer", "limiter"} <= f.tools
        return (
            None if ok else "a two-wire metal chassis runs only on the bench, isolated and limited"
        )
    return "say which: earthed, double-square mark, or two-wire"


def _line_cap(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    ok = w.get("line_cap") in ("none_found", "removed", "safety_class")
    return None if ok else "looked for and not there, removed, or replaced by a safety-class part"


def _b_plus(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    ohms = _need(n, "ohms")
    if ohms > 15e3:
        return None
    drawn = _need(n, "drawn_bleeder")
    ok = w.get("bleeder") == "lifted_and_proven" and abs(ohms - drawn) <= 0.15 * drawn
    return None if ok else "B+ to chassis above 15 kohm, or a drawn bleeder lifted and proven"


def _load(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    dc, marked = _need(n, "load_ohm"), _need(n, "marked_ohm")
    return (
        None
        if 0.4 * marked <= dc <= 2.0 * marked
        else "a load between half and twice the marked ohms"
    )


def _limiter_run(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    ok = w.get("lamp") == "dim" and w.get("plates") == "dark" and _need(n, "minutes") >= 2.0
    return None if ok else "two minutes on the limiter with the lamp dim and no plate red"


def _bias(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    back = 0.0 < _need(n, "return_ohm") <= _need(n, "sheet_limit_ohm")
    if not back:
        return "the grid return of each socket, within the limit on the tube's own data sheet"
    if w.get("leak") != "none":
        return "no coupling-capacitor leak with the output tubes out"
    if f.bias == "cathode":
        ok = 20.0 <= _need(n, "cathode_ohm") <= 3000.0
        return None if ok else "the cathode resistor measured and whole"
    ok = _need(n, "pin_v") < -5.0 and w.get("steady") == "when_wiggled"
    return None if ok else "bias at each socket pin, most negative setting, steady when wiggled"


def _competence(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    ok = all(len(w.get(k, "").strip()) > 1 for k in ("b_plus_point", "ground_point"))
    ok = ok and w.get("adult") == "yes" and w.get("one_hand") == "in_pocket"
    return (
        None
        if ok
        else "name a B+ point and the ground point on this chassis; adult; one hand in a pocket"
    )


def _rating(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    wanted = max(600.0, 1.2 * (f.max_v if f.max_v is not None else 700.0))
    ok = _need(n, "rated_v") >= wanted and w.get("leads") == "whole"
    return None if ok else f"meter and leads rated for {wanted:.0f} V or more, leads whole"


def _trip(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    return None if w.get("trip") == "tested" else "the trip device's own test button"


def _clear_to_power(n: Numbers, w: Words, f: AmpFacts) -> str | None:
    wanted = {"clip": "off", "tools": "out", "tubes": "seated", "loose": "nothing"}
    ok = all(w.get(k) == v for k, v in wanted.items())
    return None if ok else "discharge clip off, tools and jumpers out, tubes seated, nothing loose"


CHECKS: Mapping[str, Callable[[Numbers, Words, AmpFacts], str | None]] = {
    "G2": _meter,
    "G3": _isolation,
    "G4": _cord,
    "G5": _earth,
    "G6": _line_cap,
    "G7": _b_plus,
    "G8": _load,
    "G9": _limiter_run,
    "G10": _bias,
    "G11": _competence,
    "G12": _rating,
    "G14": _trip,
    "G16": _clear_to_power,
}
WHY: Mapping[str, str] = {
    "G1": "every capacitor must be read below 10 V since the last power",
    "G2": "a meter that is not proven may call a live part dead",
    "G3": "the chassis may be joined to the mains",
    "G4": "a bad cord or a wrong fuse burns and shocks",
    "G5": "without a proven earth a fault puts the mains on the metal",
    "G6": "an old capacitor from the mains to the chassis makes it live",
    "G7": "a short from B+ to the chassis burns the transformer",
    "G8": "output tubes without a load arc and break the transformer",
    "G9": "the first power after anything unknown goes through a limiter",
    "G10": "a tube in a socket without bias is destroyed in a minute",
    "G11": "live work is for who can name what is live",
    "G12": "a meter below the volts in it can burst in the hand",
    "G13": "a hazard is open",
    "G14": "a trip device that was never tried may not trip",
    "G16": "a clip or a tool left inside meets the full supply",
}


def try_proof(gate: str, act: Act, facts: AmpFacts, state: SafetyState) -> str | None:
    """None where the readings and observations prove the gate; else what is still wanted."""
    here = replace(act, kind="gate_passed", says=(*act.says, ("gate", gate)))
    proof = apply(state, here).proof(gate)
    if proof is None:
        return "which gate is meant"
    if gate == "G16" and (energised(state) or state.clip):
        return "said with the plug out and the discharge clip off"
    return _wanted(proof, facts)


def prove(state: SafetyState, act: Act, facts: AmpFacts) -> SafetyState:
    """State after a ``gate_passed`` act; the only way in which a live job should record one.

    A proof that reached the state by another way (an old file, say) is judged again by ``passed``.

    Raises
    ------
    SafetyRefusal : what was read does not prove the gate.
    """
    gate = act.word("gate") or ""
    wanted = try_proof(gate, act, facts, state)
    if wanted is not None:
        raise SafetyRefusal([f"{gate or 'no gate'}: wanted: {wanted}"])
    return apply(state, act)


def _wanted(proof: Proof, facts: AmpFacts) -> str | None:
    check = CHECKS.get(proof.gate)
    if check is None:
        return "this gate is proven by what is read elsewhere"
    volts = dict(proof.dead)
    dead = all(abs(volts.get(node, 1e9)) < DEAD_VOLTS for node in facts.nodes)
    if proof.gate == "G7" and not (volts and dead):
        return "it is measured on a dead amplifier: discharge and prove it first"
    if proof.gate == "G9" and proof.power != "limited":
        return "it is proven while the amplifier runs on the limiter with its tubes in"
    if proof.gate == "G10" and proof.power != "limited_bare":
        return "it is proven on the limiter with the output tubes out"
    return check(dict(proof.said.reads), dict(proof.said.says), facts)
