"""What is believed of the amplifier's power: folded from physical acts, never from wishes.

``apply`` takes every act as done, permitted or not: a person who says that it was switched on is
believed. Times are seconds. Sources: bench review E1, E2, E10, E12; user needs 6.8.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, cast

HALF_HOUR = 1800.0
TWELVE_HOURS = 43200.0
DEAD_VOLTS = 10.0
Mains = Literal["out", "plugged", "standby", "on"]
Tubes = Literal["in", "output_out", "rectifier_only", "all_out"]
External = Literal["none", "low", "hazardous"]


@dataclass(frozen=True)
class Act:
    """Something physically done. Never undone, only followed by another act.

    ``says`` carries named observations, ``reads`` named numbers in SI units.
    """

    kind: str
    at: float = 0.0
    says: tuple[tuple[str, str], ...] = ()
    reads: tuple[tuple[str, float], ...] = ()

    def word(self, name: str) -> str | None:
        """A named observation, or None."""
        return dict(self.says).get(name)


@dataclass(frozen=True)
class Proof:
    """What was read for a gate: when, in which power state, after how many power-ups and repairs.

    It opens the gate only while ``triage.safety.gates`` finds its readings good.
    """

    gate: str
    at: float
    power_ups: int
    changes: int
    said: Act = Act("gate_passed")
    power: str = "unplugged"
    tubes: Tubes = "in"
    dead: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class SafetyState:
    """Everything safety believes. A fresh one is unplugged and charged."""

    now: float = 0.0
    mains: Mains = "out"
    limiter: bool = False
    tubes: Tubes = "in"
    load: bool = False
    signal: bool = False
    external: External = "none"
    dead: tuple[tuple[str, float], ...] = ()
    dead_at: float | None = None
    clip: bool = False
    leads: frozenset[str] = frozenset()
    clear_to_power: bool = False
    power_ups: int = 0
    changes: int = 0
    clean_limiter_run: int | None = None
    proofs: tuple[Proof, ...] = ()
    hazards: frozenset[str] = field(default_factory=frozenset)
    hazard_at: float | None = None

    def proof(self, gate: str) -> Proof | None:
        """The latest proof of a gate, stale or not."""
        for proof in reversed(self.proofs):
            if proof.gate == gate:
                return proof
        return None


def energised(state: SafetyState) -> bool:
    """Whether any source is connected: plug (fuse, switch and cord are live), or an external one."""
    return state.mains != "out" or state.external == "hazardous"


def proven_dead(state: SafetyState, nodes: tuple[str, ...]) -> bool:
    """Whether each capacitor was read below 10 V since the last source, and lately enough.

    The meter was proven before. Lapses after 30 minutes without the discharge clip (dielectric
    rebound), after 12 hours with it. Without ``nodes``: those that were read.
    """
    if energised(state) or state.dead_at is None or not state.dead:
        return False
    volts = dict(state.dead)
    held = TWELVE_HOURS if state.clip else HALF_HOUR
    lately = 0.0 <= state.now - state.dead_at <= held
    return lately and all(abs(volts.get(node, 1e9)) < DEAD_VOLTS for node in nodes or volts)


def meter_reads_right(reads: Mapping[str, float]) -> bool:
    """Whether a meter read a known source (``known``, V) within 10 % ``before`` and ``after``."""
    known = reads.get("known", float("nan"))
    near = all(
        abs(reads.get(k, float("nan")) - known) <= 0.1 * abs(known) for k in ("before", "after")
    )
    return known > 0.5 and near


def _meter_proven(state: SafetyState, at: float) -> bool:
    proof = state.proof("G2")
    if proof is None or not 0.0 <= at - proof.at <= TWELVE_HOURS:
        return False
    return meter_reads_right(dict(proof.said.reads))


def power_state(state: SafetyState, nodes: tuple[str, ...]) -> str:
    """One word for the power state.

    One of cold, unplugged, plugged, standby, limited_bare, limited, idle, driven, external.
    """
    if state.external == "hazardous":
        return "external"
    if state.mains == "out":
        return "cold" if proven_dead(state, nodes) else "unplugged"
    if state.mains in ("plugged", "standby"):
        return state.mains
    if state.limiter:
        return "limited" if state.tubes == "in" else "limited_bare"
    return "driven" if state.signal else "idle"


def banner(state: SafetyState, nodes: tuple[str, ...]) -> tuple[str, ...]:
    """Lines that stand on every screen: what is live now."""
    return BANNERS[power_state(state, nodes)]


BANNERS: Mapping[str, tuple[str, ...]] = {
    "cold": (
        "Unplugged, every capacitor read below 10 V. Check again after 30 minutes or a pause.",
    ),
    "unplugged": ("Unplugged, but it MAY BE CHARGED and hot: keep the cabinet closed.",),
    "plugged": ("PLUGGED IN, switch off: cord, fuse and switch are LIVE.",),
    "standby": ("STANDBY: heaters on, high tension may stand on the capacitors. Treat as live.",),
    "limited_bare": (
        "ON THE LIMITER, tubes out: B+ MAY BE AT FULL VOLTAGE. A lamp limits fault current only.",
    ),
    "limited": ("ON THE LIMITER: LIVE. B+ may be at full voltage and the chassis may be live.",),
    "idle": ("POWERED at full line: LIVE inside. One hand, nothing leaned on.",),
    "driven": ("POWERED WITH SIGNAL: LIVE, plates swing far above B+. No probe on output plates.",),
    "external": ("AN OUTSIDE SOURCE IS CONNECTED: LIVE whatever the plug does.",),
}


def _alive(state: SafetyState) -> SafetyState:
    """Some source has come on: nothing is proven dead any more."""
    return replace(state, dead=(), dead_at=None, clip=False)


def _power_up(state: SafetyState, mains: Mains) -> SafetyState:
    fresh = state.mains == "out"
    return replace(_alive(state), mains=mains, power_ups=state.power_ups + (1 if fresh else 0))


def _power_down(state: SafetyState) -> SafetyState:
    return replace(
        state, mains="out", signal=False, clear_to_power=False, dead=(), dead_at=None, clip=False
    )


def _changed(state: SafetyState) -> SafetyState:
    """A repair, swap or move: what was proven of the parts may no longer hold."""
    return replace(state, changes=state.changes + 1, clear_to_power=False, clean_limiter_run=None)


def _mains_changed(state: SafetyState) -> SafetyState:
    """Work on the mains side: isolation, cord, fuse, earth and line capacitor are proven anew."""
    kept = tuple(proof for proof in state.proofs if proof.gate not in ("G3", "G4", "G5", "G6"))
    return replace(state, proofs=kept)


def _discharge(state: SafetyState, act: Act) -> SafetyState:
    if energised(state):
        return state
    if not _meter_proven(state, act.at):
        return replace(state, dead=(), dead_at=None)
    return replace(state, dead=act.reads, dead_at=act.at)


def _passed(state: SafetyState, act: Act) -> SafetyState:
    gate = act.word("gate") or ""
    proof = Proof(
        gate,
        act.at,
        state.power_ups,
        state.changes,
        act,
        power_state(state, ()),
        state.tubes,
        state.dead if proven_dead(state, ()) else (),
    )
    found = replace(state, proofs=(*(kept for kept in state.proofs if kept.gate != gate), proof))
    if gate == "G16":
        return replace(found, clear_to_power=not energised(state) and not state.clip)
    if gate == "G8":
        return replace(found, load=True)
    if gate == "G9":
        return replace(found, clean_limiter_run=state.changes)
    return found


def _distrust(state: SafetyState) -> SafetyState:
    """Pause, resume, a kill or a clock that went backwards: believed energised and charged."""
    kept = tuple(proof for proof in state.proofs if proof.gate not in LAPSE_AT_PAUSE)
    return replace(
        _alive(state),
        mains="on",
        signal=False,
        limiter=False,
        leads=frozenset(),
        clear_to_power=False,
        external="hazardous" if state.external != "none" else "none",
        proofs=kept,
    )


KEPT_AFTER_HAZARD = frozenset({"G2", "G11", "G12", "G14"})
"""After a hazard insulation, earth, cord and the rest are measured again (bench review E9)."""
LAPSE_AT_PAUSE = frozenset({"G1", "G2", "G7", "G8", "G10", "G16"})


def _tubes(state: SafetyState, act: Act) -> SafetyState:
    arrangement = act.word("tubes")
    if arrangement not in ("in", "output_out", "rectifier_only", "all_out"):
        return state
    return replace(state, tubes=cast(Tubes, arrangement), clear_to_power=False)


def _external(state: SafetyState, act: Act) -> SafetyState:
    level = act.word("level")
    if level == "low" and state.external != "hazardous":
        return replace(state, external="low", clear_to_power=False)
    return replace(_alive(state), external="hazardous")


def _external_off(state: SafetyState, act: Act) -> SafetyState:
    return replace(state, external="none", dead=(), dead_at=None, clip=False, clear_to_power=False)


def _clip_on(state: SafetyState, act: Act) -> SafetyState:
    if proven_dead_any(state):
        return replace(state, clip=True, clear_to_power=False)
    clip = not energised(state)
    return replace(state, dead=(), dead_at=None, clip=clip, clear_to_power=False)


def _clip_off(state: SafetyState, act: Act) -> SafetyState:
    """The half hour starts when a clip comes off that held a standing proof; nothing is revived."""
    if not state.clip:
        return state
    if proven_dead_any(state):
        return replace(state, clip=False, dead_at=act.at)
    return replace(state, clip=False, dead=(), dead_at=None)


def _leads(state: SafetyState, act: Act) -> SafetyState:
    """Leads clipped on anything not proven dead do not count: they are taken off and put on again."""
    ident = act.word("procedure")
    if not ident or not proven_dead_any(state):
        return replace(state, clear_to_power=False)
    return replace(state, leads=state.leads | {ident}, clear_to_power=False)


def _hazard(state: SafetyState, act: Act) -> SafetyState:
    kind = act.word("hazard") or "unknown"
    return replace(
        state,
        proofs=tuple(proof for proof in state.proofs if proof.gate in KEPT_AFTER_HAZARD),
        hazards=state.hazards | {kind},
        hazard_at=act.at,
        clear_to_power=False,
        clean_limiter_run=None,
        changes=state.changes + 1,
    )


def _hazard_over(state: SafetyState, act: Act) -> SafetyState:
    return replace(state, hazards=state.hazards - {act.word("hazard") or "unknown"})


ACTS: Mapping[str, Callable[[SafetyState, Act], SafetyState]] = {
    "plug_in": lambda s, a: _power_up(s, "plugged") if s.mains == "out" else s,
    "switch_on": lambda s, a: _power_up(s, "on"),
    "to_standby": lambda s, a: _power_up(s, "standby"),
    "switch_off": lambda s, a: (
        replace(_alive(s), mains="plugged", signal=False) if s.mains != "out" else s
    ),
    "unplug": lambda s, a: _power_down(s),
    "limiter_fitted": lambda s, a: replace(s, limiter=True),
    "limiter_removed": lambda s, a: replace(s, limiter=False),
    "signal_on": lambda s, a: replace(s, signal=s.mains == "on"),
    "signal_off": lambda s, a: replace(s, signal=False),
    "external_on": _external,
    "external_off": _external_off,
    "discharged": _discharge,
    "clip_on": _clip_on,
    "clip_off": _clip_off,
    "leads_clipped": _leads,
    "leads_off": lambda s, a: replace(s, leads=frozenset()),
    "tubes": _tubes,
    "load_off": lambda s, a: replace(s, load=False),
    "repaired": lambda s, a: _mains_changed(_changed(s)) if a.word("mains") else _changed(s),
    "swapped": lambda s, a: _changed(s),
    "gate_passed": _passed,
    "hazard": _hazard,
    "hazard_over": _hazard_over,
    "paused": lambda s, a: _distrust(s),
    "resumed": lambda s, a: _distrust(s),
    "doubt": lambda s, a: _distrust(s),
    "time": lambda s, a: s,
}


def proven_dead_any(state: SafetyState) -> bool:
    """Whether a proof of dead capacitors stands at this moment, whatever the nodes."""
    return proven_dead(state, ())


def apply(state: SafetyState, act: Act) -> SafetyState:
    """State after an act.

    A clock that went backwards, or that shows no time, makes everything doubtful first, and no
    proof stands: its age is not known any more.

    Raises
    ------
    KeyError : the act is of no known kind.
    """
    handler = ACTS[act.kind]
    if not act.at >= state.now:
        state = replace(_distrust(state), now=act.at, dead_at=None, proofs=())
    return handler(replace(state, now=act.at), act)
