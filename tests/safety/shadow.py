"""A second, plain account of what was done and proven; it asks nothing of triage.safety.gates.

It is written from the bench rules (user needs 6.8, bench review 1a), not from the code under test.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.states import Act

GOOD: dict[str, tuple[dict[str, str], dict[str, float]]] = {
    "G2": ({}, {"known": 9.0, "before": 9.0, "after": 9.1}),
    "G3": (
        {"by": "own_transformer"},
        {
            "line_to_neutral": 8.0,
            "line_to_chassis": 2e7,
            "neutral_to_chassis": 2e7,
            "in_to_out": 5e7,
            "out_to_earth": 5e7,
        },
    ),
    "G4": ({"cord": "sound", "fuse": "as_marked"}, {}),
    "G5": ({"class": "earthed", "outlet": "earth_proven"}, {"earth_ohm": 0.1}),
    "G6": ({"line_cap": "none_found"}, {}),
    "G7": ({"bleeder": "none"}, {"ohms": 1.2e5}),
    "G8": ({}, {"load_ohm": 6.0, "marked_ohm": 8.0}),
    "G9": ({"lamp": "dim", "plates": "dark"}, {"minutes": 3.0}),
    "G10": (
        {"steady": "when_wiggled", "leak": "none"},
        {"pin_v": -45.0, "cathode_ohm": 180.0, "return_ohm": 9e4, "sheet_limit_ohm": 1e5},
    ),
    "G11": (
        {
            "b_plus_point": "reservoir plus",
            "ground_point": "chassis lug",
            "one_hand": "in_pocket",
            "adult": "yes",
        },
        {},
    ),
    "G12": ({"leads": "whole"}, {"rated_v": 1000.0}),
    "G16": ({"clip": "off", "tools": "out", "tubes": "seated", "loose": "nothing"}, {}),
}
OPEN = ("G3", "G4", "G5", "G6")


def proof_act(gate: str, at: float = 0.0, good: bool = True) -> Act:
    """A gate's act, with readings that prove it, or with none at all."""
    says, reads = GOOD[gate] if good else ({}, {})
    return Act("gate_passed", at, (*says.items(), ("gate", gate)), tuple(reads.items()))


@dataclass(frozen=True)
class Shadow:
    """What really happened, as a bystander would note it."""

    source: bool = False
    outside: bool = False
    read_dead: frozenset[str] = frozenset()
    read_at: float = -1e9
    clip: bool = False
    proven: dict[str, float] = field(default_factory=dict)
    looked: bool = False
    hazard: bool = False
    clean_run: bool = False
    limiter: bool = False
    tubes: str = "in"
    on: bool = False
    leads: frozenset[str] = frozenset()
    now: float = 0.0

    def dead(self, nodes: tuple[str, ...]) -> bool:
        """Whether each capacitor was read dead, lately, with a meter proven before."""
        held = 43200.0 if self.clip else 1800.0
        lately = 0 <= self.now - self.read_at <= held
        return not self.source and not self.outside and lately and set(nodes) <= self.read_dead

    def lately(self, gate: str) -> bool:
        """Whether good readings for a gate were given within 12 hours."""
        return 0 <= self.now - self.proven.get(gate, -1e9) <= 43200.0


def _drop(shadow: Shadow, *gates: str) -> Shadow:
    kept = {k: v for k, v in shadow.proven.items() if k not in gates}
    return replace(shadow, proven=kept)


def _doubtful(shadow: Shadow) -> Shadow:
    shadow = _drop(shadow, "G2", "G7", "G8", "G10")
    return replace(
        shadow,
        source=True,
        on=True,
        read_dead=frozenset(),
        clip=False,
        looked=False,
        leads=frozenset(),
        limiter=False,
    )


def note(shadow: Shadow, act: Act) -> Shadow:
    """The account after one more act."""
    if act.at < shadow.now:
        shadow = _doubtful(shadow)
    s = replace(shadow, now=act.at)
    says = dict(act.says)
    none: frozenset[str] = frozenset()
    match act.kind:
        case "plug_in":
            return s if s.source else replace(s, source=True, read_dead=none, clip=False)
        case "switch_on" | "to_standby":
            return replace(s, source=True, on=act.kind == "switch_on", read_dead=none, clip=False)
        case "switch_off":
            return replace(s, on=False, read_dead=none) if s.source else s
        case "unplug":
            return replace(s, source=False, on=False, read_dead=none, clip=False, looked=False)
        case "external_on":
            if says["level"] == "low":
                return replace(s, looked=False)
            return replace(s, outside=True, read_dead=none, clip=False)
        case "external_off":
            return replace(s, outside=False, read_dead=none, clip=False, looked=False)
        case "discharged":
            if s.source or s.outside:
                return s
            below = frozenset(k for k, v in act.reads if abs(v) < 10) if s.lately("G2") else none
            return replace(s, read_dead=below, read_at=act.at)
        case "clip_on":
            alive = not s.dead(()) or not s.read_dead
            s = replace(s, read_dead=none) if alive else s
            return replace(s, clip=not (s.source or s.outside), looked=False)
        case "clip_off":
            if not s.clip:
                return s
            return replace(s, clip=False, read_at=act.at if s.dead(()) else -1e9)
        case "leads_clipped":
            fine = bool(s.read_dead) and s.dead(())
            more = s.leads | {says["procedure"]} if fine else s.leads
            return replace(s, leads=more, looked=False)
        case "tubes":
            return replace(s, tubes=says["tubes"], looked=False)
        case "limiter_fitted" | "limiter_removed":
            return replace(s, limiter=act.kind == "limiter_fitted")
        case "repaired":
            return replace(_drop(s, "G7", "G8", "G10"), clean_run=False, looked=False)
        case "hazard":
            s = replace(s, hazard=True, looked=False, clean_run=False)
            return _drop(s, *(g for g in s.proven if g not in ("G2", "G11", "G12")))
        case "hazard_over":
            return replace(s, hazard=False)
        case "paused" | "resumed" | "doubt":
            return _doubtful(s)
        case "gate_passed":
            return _gate(s, says["gate"], bool(act.reads) or len(act.says) > 1)
    return s


def _gate(s: Shadow, gate: str, good: bool) -> Shadow:
    if not good:
        return replace(_drop(s, gate), looked=s.looked and gate != "G16")
    if gate == "G16":
        fine = not (s.source or s.outside or s.clip)
        return replace(s, looked=fine, proven=s.proven | {gate: s.now})
    if gate == "G9":
        if not (s.on and s.limiter and s.tubes == "in" and not s.outside):
            return _drop(s, gate)
        return replace(s, clean_run=True, proven=s.proven | {gate: s.now})
    return replace(s, proven=s.proven | {gate: s.now})


def allowed(step: StepFacts, s: Shadow, facts: AmpFacts) -> bool:
    """Whether a careful bench person would let this step go on now."""
    lay = facts.skill != "technician"
    if s.hazard:
        return False
    if not step.energised:
        if step.power != "any" and (s.source or s.outside):
            return False
        if not step.inside:
            return True
        return s.lately("G2") and (s.dead(facts.nodes) or "G1" in step.proves)
    volts = facts.max_v or 1e9
    if not s.looked or (step.clips and step.ident not in s.leads):
        return False
    if step.inside and not all(s.lately(g) for g in ("G2", "G11", "G12")):
        return False
    if step.live and not facts.second_person and volts > 60:
        return False
    if step.power == "external":
        return s.outside and not s.source and not lay
    if s.outside or not s.source or not all(s.lately(g) for g in OPEN):
        return False
    if facts.isolation == "live_chassis" and lay:
        return False
    if step.inside and lay and facts.max_v is not None and facts.max_v > 500:
        return False
    if step.power in ("idle", "driven") and not (s.clean_run and s.lately("G9")):
        return False
    if s.tubes == "in" and not (s.lately("G8") and s.lately("G7")):
        return False
    if step.power == "limited_bare" and s.tubes == "in":
        return False
    if step.probes == "output_grid" and s.tubes == "in":
        return "high_impedance_meter" in facts.tools
    return step.probes != "output_plate" or "probe_2kv" in facts.tools or step.power != "driven"
