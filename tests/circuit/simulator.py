"""The circuits through a general circuit simulator, and what it once said of them.

``python -m tests.circuit.simulator`` makes ``kept_points.json`` anew (needs ngspice).
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import tempfile
from functools import lru_cache
from pathlib import Path

import numpy as np

from triage.circuit.faults import Fault, faults_of, kinds_of, variants_of
from triage.circuit.netlist import Netlist, build, catalogue
from triage.circuit.solve import Variants
from triage.circuit.spice import netlist
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir

KEPT = Path(__file__).with_name("kept_points.json")
EVERY = 4


@lru_cache(maxsize=1)
def knowledge() -> Knowledge:
    """The real knowledge."""
    return load(knowledge_dir())


@lru_cache(maxsize=8)
def circuit(name: str) -> tuple[Netlist, tuple[Fault | None, ...], Variants]:
    """A built-in circuit with all its single faults, the sound one first, as one batch."""
    base = knowledge()
    net = build(base.circuits[name], catalogue(base.plain))
    faults = (None, *faults_of(net, kinds_of(base.plain["circuit_faults"]), {}))
    return net, faults, variants_of(net, faults)


def has_simulator() -> bool:
    """Whether ngspice is here."""
    return shutil.which("ngspice") is not None


def simulated(net: Netlist, variants: Variants, member: int) -> np.ndarray:
    """Volts of every node after ngspice; shorter than the nodes where it found no point."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "point.cir"
        file.write_text(netlist(net, variants, member), encoding="utf-8")
        said = subprocess.run(
            ["ngspice", "-b", str(file)], capture_output=True, text=True, check=False
        ).stdout
    found = {int(a): float(b) for a, b in re.findall(r"v\(n(\d+)\) = (\S+)", said)}
    return np.array([found[n] for n in sorted(found)])


def main() -> int:
    """Ask ngspice for every fourth fault of every circuit and keep its answers."""
    kept: dict[str, dict[str, list[float]]] = {}
    for name in knowledge().circuits:
        net, faults, variants = circuit(name)
        for member in range(0, len(faults), EVERY):
            fault = faults[member]
            volts = simulated(net, variants, member)
            rounded = [float(f"{v:.6g}") for v in volts]
            kept.setdefault(name, {})[fault.name if fault else "sound"] = rounded
    said = subprocess.run(["ngspice", "--version"], capture_output=True, text=True, check=False)
    about = re.search(r"ngspice-\d+", said.stdout)
    data = {"made_by": about.group(0) if about else "ngspice", "volts": kept}
    KEPT.write_text(json.dumps(data, separators=(",", ":")) + "\n", encoding="utf-8")
    print(sum(map(len, kept.values())), "points kept")
    return 0


if __name__ == "__main__":
    sys.exit(main())
