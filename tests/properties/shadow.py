"""A second, independent opinion on danger: its own record of what was physically done.

Written from the bench review and the design, not from the safety room: it keeps a plain record of
acts and says what may not be shown. It never asks the safety room whether a gate holds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from triage.job.events import Event
from triage.model.entries import Procedure, Repair

POWERED = ("plugged", "standby", "limited_bare", "limited", "idle", "driven", "external")
STORES = ("reservoir", "filter_cap", "decoupling_cap", "bias_cap")
MAINS = ("cord", "earth", "line_cap", "mains_fuse", "mains_switch", "power_transformer", "amp")
LAPSE = ("G2", "G7", "G8", "G10", "G16")


def goes_inside(entry: Procedure | Repair) -> bool:
    """Whether hands, probes or clips go inside the cabinet."""
    if isinstance(entry, Repair):
        return entry.opens
    hands = entry.hands
    return entry.opens or hands.live > 0 or hands.charged > 0 or hands.clip_cold > 0


def is_powered(entry: Procedure | Repair) -> bool:
    """Whether the step is done with a source connected."""
    return isinstance(entry, Procedure) and entry.power in POWERED


@dataclass
class Shadow:
    """Own record of a job's acts. ``serial`` counts events; a proof remembers when it was made."""

    nodes: tuple[str, ...]
    mains_parts: set[str] = field(default_factory=set)
    now: float = 0.0
    serial: int = 0
    plug: bool = False
    outside: bool = False
    tubes: str = "in"
    clip: bool = False
    volts: dict[str, float] = field(default_factory=dict)
    read_at: float | None = None
    hazards: set[str] = field(default_factory=set)
    proved: dict[str, tuple[int, float]] = field(default_factory=dict)
    changed: int = -1
    cleared_away: int = -1
    unloaded: int = -1
    plugged_in: list[int] = field(default_factory=list)

    def see(self, event: Event) -> None:
        """Take one event of the record."""
        self.serial += 1
        if event.at < self.now:
            self._doubt()
            self.proved.clear()
        self.now = event.at
        if event.kind == "repair_done":
            self._touch()
            if event.data["place"] in self.mains_parts:
                for gate in ("G3", "G4", "G5", "G6"):
                    self.proved.pop(gate, None)
        elif event.kind == "act_done":
            self._act(str(event.data["act"]), event.data)

    def _doubt(self) -> None:
        self.plug = True
        self.volts, self.read_at, self.clip = {}, None, False
        for gate in LAPSE:
            self.proved.pop(gate, None)
        self.cleared_away = self.serial

    def _touch(self) -> None:
        self.changed = self.cleared_away = self.serial

    def _source(self) -> None:
        self.volts, self.read_at, self.clip = {}, None, False

    def _act(self, kind: str, data: dict[str, Any]) -> None:
        says = data.get("says", {})
        if kind in ("paused", "resumed", "doubt"):
            self._doubt()
        elif kind in ("plug_in", "switch_on", "to_standby"):
            if not self.plug:
                self.plugged_in.append(self.serial)
            self.plug = True
            self._source()
        elif kind == "unplug":
            self.plug = False
            self.volts, self.read_at = {}, None
            self.cleared_away = self.serial
        elif kind == "external_on":
            self.outside = self.outside or says.get("level") != "low"
            self._source()
            self.cleared_away = self.serial
        elif kind == "external_off":
            self.outside = False
            self._source()
        elif kind == "discharged" and not self.plug and not self.outside:
            self.volts = {str(k): float(v) for k, v in data.get("reads", {}).items()}
            self.read_at = self.now
        elif kind == "clip_on":
            self.clip = not self.plug and not self.outside
            self.cleared_away = self.serial
        elif kind == "clip_off":
            self.clip = False
        elif kind == "tubes":
            self.tubes = str(says.get("tubes", self.tubes))
            self.cleared_away = self.serial
        elif kind == "leads_clipped":
            self.cleared_away = self.serial
        elif kind == "load_off":
            self.unloaded = self.serial
        elif kind in ("repaired", "swapped"):
            self._touch()
        elif kind == "hazard":
            self.hazards.add(str(says.get("hazard")))
            self._touch()
        elif kind == "hazard_over":
            self.hazards.discard(str(says.get("hazard")))
        elif kind == "gate_passed":
            self.proved[str(says["gate"])] = (self.serial, self.now)

    def holds(self, gate: str) -> bool:
        """Whether a gate was proven since what it speaks of last could have changed."""
        if gate not in self.proved:
            return False
        serial, at = self.proved[gate]
        if not 0.0 <= self.now - at <= 43200.0:
            return False
        if gate in ("G7", "G8", "G9", "G10") and serial < self.changed:
            return False
        since = sum(1 for power in self.plugged_in if power > serial)
        if gate == "G7" and not (since == 0 or (since == 1 and self.plug)):
            return False
        if gate == "G10" and since:
            return False
        if gate == "G8" and serial < self.unloaded:
            return False
        return not (gate == "G16" and serial < self.cleared_away)

    def dead(self) -> bool:
        """Every capacitor read below 10 V since the last source, lately or with the clip on."""
        if self.plug or self.outside or self.read_at is None:
            return False
        lately = self.clip or 0.0 <= self.now - self.read_at <= 1800.0
        return lately and all(abs(self.volts.get(node, 999.0)) < 10.0 for node in self.nodes)

    def wrong(self, entry: Procedure | Repair, skill: str, isolation: str) -> list[str]:
        """What is wrong with showing this step now; empty where nothing is."""
        found = [f"hazard {name} is open" for name in sorted(self.hazards)]
        inside = goes_inside(entry)
        if not is_powered(entry):
            proves_it = isinstance(entry, Procedure) and "G1" in entry.proves
            if inside and not proves_it and not self.dead():
                found.append("a hand goes inside, and the capacitors are not proven dead")
            if (inside or isinstance(entry, Repair)) and (self.plug or self.outside):
                found.append("it is done unplugged, and a source is connected")
            return found
        assert isinstance(entry, Procedure)
        if isolation == "live_chassis" and skill != "technician" and entry.power != "external":
            found.append("powered work on a live chassis")
        wanted = ["G16"] if entry.power != "external" else []
        if entry.power != "external":
            wanted += ["G3", "G4", "G5", "G6"]
            if entry.power not in ("plugged", "limited_bare") or self.tubes in (
                "in",
                "rectifier_only",
            ):
                wanted.append("G7")
            if self.tubes == "in":
                wanted.append("G8")
            if entry.power in ("idle", "driven", "standby"):
                wanted.append("G9")
        if inside or entry.power == "external":
            wanted += ["G2", "G11", "G12"]
        wanted = [gate for gate in wanted if gate not in entry.proves]
        return found + [f"{gate} is not proven" for gate in wanted if not self.holds(gate)]
