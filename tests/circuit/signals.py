"""Gains and hum of the circuits through a general circuit simulator, and what it once said of them.

``python -m tests.circuit.signals`` makes ``kept_signals.json`` anew (needs ngspice).
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tempfile
from functools import lru_cache
from pathlib import Path

import numpy as np

from tests.circuit.simulator import knowledge
from triage.circuit.faults import Fault, faults_of, kinds_of, variants_of
from triage.circuit.netlist import build, catalogue
from triage.circuit.small import Small
from triage.circuit.solve import solve
from triage.circuit.spice_signals import signal_netlist

KEPT = Path(__file__).with_name("kept_signals.json")
EVERY = 11
LEAST_GAIN = 0.05
"""A plate that answers less than this is another channel's, or its tube is as good as cut off."""


@lru_cache(maxsize=8)
def circuit(name: str) -> tuple[Small, tuple[Fault | None, ...]]:
    """A built-in circuit, sound and under every eleventh fault, ready for small signals."""
    base = knowledge()
    net = build(base.circuits[name], catalogue(base.plain))
    kinds = kinds_of(base.plain["circuit_faults"])
    faults = (None, *faults_of(net, kinds, {}, signals=True)[::EVERY])
    variants = variants_of(net, faults)
    return Small.of(net, variants, solve(net, variants), faults), faults


def asked(small: Small) -> dict[str, tuple[int, bool, float]]:
    """What is driven: by name the node, whether by volts, and the rate in Hz."""
    net = small.net
    found = {f"gain {c}": (net.node(n), True, 1000.0) for c, n in net.spec.inputs.items()}
    for k, name in enumerate(net.supplies):
        found[f"hum of {name}"] = (net.fed[k], False, net.curves[k].ripple_hz)
    return found


def watched(small: Small) -> list[int]:
    """Nodes looked at: every plate, then every speaker."""
    plates = sorted({tube.plate for tube in small.net.tubes})
    outs = [len(small.net.nodes) + o for o in range(len(small.net.spec.outputs))]
    return plates + outs


def simulated(small: Small, member: int, into: int, stiff: bool, hertz: float) -> np.ndarray:
    """Size of the volts of all nodes and speakers after ngspice."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "signal.cir"
        text = signal_netlist(small.net, small, member, into, stiff, hertz)
        file.write_text(text, encoding="utf-8")
        said = subprocess.run(
            ["ngspice", "-b", str(file)], capture_output=True, text=True, check=False
        ).stdout
    return np.array([float(v) for v in re.findall(r"vm\(\w+\) = (\S+)", said)])


def main() -> int:
    """Ask ngspice and keep its answers; hum as a share of the volts at its reservoir."""
    kept: dict[str, dict[str, dict[str, list[float]]]] = {}
    for name in knowledge().circuits:
        small, faults = circuit(name)
        for what, (into, stiff, hertz) in asked(small).items():
            for member, fault in enumerate(faults):
                found = simulated(small, member, into, stiff, hertz)
                found = found if stiff else found / found[into]
                rows = kept.setdefault(name, {}).setdefault(what, {})
                rows[fault.name if fault else "sound"] = [
                    float(f"{v:.5g}") for v in found[watched(small)]
                ]
    KEPT.write_text(json.dumps(kept, separators=(",", ":")) + "\n", encoding="utf-8")
    print(sum(len(rows) for asked_ in kept.values() for rows in asked_.values()), "answers kept")
    return 0


if __name__ == "__main__":
    sys.exit(main())
