"""All five circuits, sound and under hundreds of faults, against a general circuit simulator."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tests.circuit.simulator import KEPT, circuit, has_simulator, simulated
from triage.circuit.solve import solve

CIRCUITS = ("dance_band", "grandmothers_console", "linden_hall", "practice_amp", "shelf_set")
KEPT_VOLTS = json.loads(KEPT.read_text(encoding="utf-8"))["volts"]
NGSPICE = "ngspice 39, operating points of the exported netlists"


def near(found: np.ndarray, expected: np.ndarray) -> np.ndarray:
    """Largest miss as a share of what is allowed: 0.5 % or 50 mV, whichever is more."""
    return np.max(np.abs(found - expected) / np.maximum(0.005 * np.abs(expected), 0.05))


@pytest.mark.published("seen", NGSPICE)
@pytest.mark.parametrize("name", CIRCUITS)
def test_every_node_agrees_with_the_simulator_sound_and_under_faults(name: str) -> None:
    """Within 0.5 % or 50 mV of what ngspice gave for the same netlist; all members settle."""
    net, faults, variants = circuit(name)
    found = solve(net, variants)
    names = [fault.name if fault else "sound" for fault in faults]

    assert found.settled.all(), [n for n, ok in zip(names, found.settled, strict=True) if not ok]
    kept = KEPT_VOLTS[name]
    misses = {n: near(found.volts[names.index(n)], np.array(v)) for n, v in kept.items()}
    assert {n: m for n, m in misses.items() if not m <= 1.0} == {}


def test_enough_faults_are_compared() -> None:
    """At least 200 faults over the five circuits."""
    assert sum(len(kept) - 1 for kept in KEPT_VOLTS.values()) >= 200


@pytest.mark.parametrize("name", CIRCUITS)
def test_the_simulator_still_says_what_was_kept(name: str) -> None:
    """Where ngspice is here, a few points are asked again; its own point must be sane."""
    if not has_simulator():
        assert len(KEPT_VOLTS[name]["sound"]) == len(circuit(name)[0].nodes)
        return
    net, faults, variants = circuit(name)
    for member in (0, 4, 12, 20):
        fault = faults[member]
        volts = simulated(net, variants, member)
        assert len(volts) == len(net.nodes)
        assert near(volts, np.array(KEPT_VOLTS[name][fault.name if fault else "sound"])) <= 0.1
