"""Cleared steps: the only form in which a step may be shown, and only this room makes them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from triage.errors import SafetyRefusal
from triage.model.entries import Procedure, Repair
from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.gates import Missing, forbidden, missing
from triage.safety.states import SafetyState, banner, power_state, proven_dead

_SEAL = object()


class Cleared:
    """A step whose gates are met at this moment. Cannot be made, copied or pickled elsewhere."""

    __slots__ = ("banner", "cautions", "entry", "place", "power")
    entry: Procedure | Repair
    place: str
    power: str
    cautions: tuple[str, ...]
    banner: tuple[str, ...]

    def __init__(
        self,
        seal: object,
        entry: Procedure | Repair,
        place: str,
        power: str,
        cautions: tuple[str, ...],
        lines: tuple[str, ...],
    ) -> None:
        if seal is not _SEAL:
            raise SafetyRefusal(["only the safety room clears a step: ask it with `clear`"])
        object.__setattr__(self, "entry", entry)
        object.__setattr__(self, "place", place)
        object.__setattr__(self, "power", power)
        object.__setattr__(self, "cautions", cautions)
        object.__setattr__(self, "banner", lines)

    def __setattr__(self, name: str, value: object) -> None:
        raise SafetyRefusal(["a cleared step is not changed"])

    def __delattr__(self, name: str) -> None:
        raise SafetyRefusal(["a cleared step is not changed"])

    def __init_subclass__(cls, **kwargs: Any) -> None:
        raise SafetyRefusal(["a cleared step has no other kinds"])

    def __reduce_ex__(self, protocol: Any) -> Any:
        raise SafetyRefusal(["a cleared step is not copied or kept: it holds for this moment only"])


@dataclass(frozen=True)
class Refusal:
    """Why a step is not shown, one line each; which gates would open it; whether none would."""

    reasons: tuple[str, ...]
    gates: tuple[Missing, ...] = ()
    never: bool = False
    power: str | None = None


def clear(
    entry: Procedure | Repair, place: str, state: SafetyState, facts: AmpFacts
) -> Cleared | Refusal:
    """Clear a step for this moment, or say why not.

    A step is cleared when no hazard is open, nothing forbids it to this person, each gate it needs
    holds, and the amplifier is in the power state it is done in.
    """
    step = StepFacts.of(entry)
    if state.hazards:
        return Refusal(("a hazard is open: " + ", ".join(sorted(state.hazards)),))
    never = forbidden(step, state, facts)
    if never:
        return Refusal(never, never=True)
    gates = missing(step, state, facts)
    now = power_state(state, facts.nodes)
    if gates:
        return Refusal(tuple(gate.why for gate in gates), gates, power=step.power)
    if not _in_place(step, now, state):
        return Refusal(
            (f"it is done in the state '{step.power}', and it is '{now}' now",), power=step.power
        )
    if step.inside and not step.energised and not _dead_enough(step, state, facts):
        return Refusal(
            ("no hand goes inside before every capacitor is proven dead",), power=step.power
        )
    cautions = tuple(entry.cautions)
    return Cleared(_SEAL, entry, place, now, cautions, banner(state, facts.nodes))


def _dead_enough(step: StepFacts, state: SafetyState, facts: AmpFacts) -> bool:
    proves = "G1" in step.proves and step.power == "unplugged" and not step.live
    return proves or proven_dead(state, facts.nodes)


def _in_place(step: StepFacts, now: str, state: SafetyState) -> bool:
    if step.clips and step.ident not in state.leads:
        return False
    if step.energised and (state.clip or (state.signal and step.power != "driven")):
        return False
    if step.energised and step.power != "external" and state.external != "none":
        return False
    if step.power == "external":
        return now == "external" and state.mains == "out"
    if step.power in ("standby", "idle", "driven") and state.tubes != "in":
        return False
    if step.power == "any":
        return not step.inside
    if step.power == "unplugged":
        return now in ("unplugged", "cold")
    return step.power == now
