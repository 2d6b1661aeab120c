"""Operating points a second against one ngspice process: ``python -m tests.benchmarks.bench_circuit``.

Ours: every single fault of the largest circuit with 32 samples of part and tube spread each. The
baseline: one ngspice process that changes one resistor (``alter``) and finds the point anew (``op``),
in a loop, with the same tolerances; its start is timed apart and taken off. Answers are compared
first. Both in one run on one machine.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.benchmarks.bench_next_question import machine
from tests.circuit.simulator import circuit, has_simulator, simulated
from triage.circuit.expected import spread
from triage.circuit.solve import Solved, Variants, solve
from triage.circuit.spice import netlist

SAMPLES = 32
LOOPS = 200
COMPARED = 40


def dictionary(name: str) -> tuple[Variants, int]:
    """All faults of a circuit, each with samples of spread, as one batch."""
    net, _, faulty = circuit(name)
    loose = spread(net, SAMPLES)
    rows = np.repeat(np.arange(len(faulty.line)), SAMPLES)
    many = faulty.take(rows)
    turns = len(faulty.line)
    siemens = many.siemens * np.tile(loose.siemens / net.siemens, (turns, 1))
    emission = many.emission * np.tile(loose.emission, (turns, 1))
    return replace(many, siemens=siemens, emission=emission), len(rows)


def ours(name: str) -> tuple[float, int, Solved]:
    """Seconds, points, and the points; each fault starts from the sound amplifier of its sample.

    The sound ones are solved within the time.
    """
    net, _, _ = circuit(name)
    many, count = dictionary(name)
    began = time.perf_counter()
    sound = solve(net, many.take(np.arange(SAMPLES)))
    found = solve(net, many, sound, np.arange(count) % SAMPLES)
    return time.perf_counter() - began, count, found


def compared(name: str, found: Solved) -> float:
    """Largest difference in V of a node against ngspice, over some faults and samples."""
    net, _, _ = circuit(name)
    many, count = dictionary(name)
    members = range(0, count, count // COMPARED)
    misses = [simulated(net, many, member) - found.volts[member] for member in members]
    return float(np.max(np.abs(misses)))


def looped(name: str, loops: int) -> float:
    """Seconds of one ngspice process that finds ``loops`` points."""
    net, _, variants = circuit(name)
    text = netlist(net, variants, 0)
    head, _ = text.split(".control")
    ohms = 1.0 / float(net.siemens[0])
    body = "\n".join(f"alter R0 = {ohms * (1 + 0.2 * (i % 7) / 7):.8g}\nop" for i in range(loops))
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "loop.cir"
        file.write_text(f"{head}.control\n{body}\n.endc\n.end\n", encoding="utf-8")
        began = time.perf_counter()
        subprocess.run(["ngspice", "-b", str(file)], capture_output=True, check=False)
        return time.perf_counter() - began


def main() -> int:
    """Print machine, both rates and their ratio."""
    name = "dance_band"
    print(machine())
    net, _, _ = circuit(name)
    seconds, count, found = ours(name)
    rate, lost = count / seconds, int((~found.settled).sum())
    print(
        f"{name}: {len(net.nodes)} nodes, {len(net.tubes)} tubes, {count} points in {seconds:.2f} s"
    )
    print(f"  ours: {rate:.0f} points a second, {1e6 / rate:.0f} us each; not settled: {lost}")
    if not has_simulator():
        print("  ngspice is not here: no baseline")
        return 0
    loop = (looped(name, LOOPS) - looped(name, 1)) / (LOOPS - 1)
    print(f"  ngspice, alter and op: {1 / loop:.0f} points a second, {1e6 * loop:.0f} us each")
    miss = compared(name, found)
    print(f"  largest difference of a node, {COMPARED} faults and samples: {miss * 1000:.3f} mV")
    print(f"  ratio: {rate * loop:.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
