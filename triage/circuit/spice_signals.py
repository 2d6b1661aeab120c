"""Small signals of a circuit as a netlist for a general circuit simulator (SPICE input language)."""

from __future__ import annotations

from triage.circuit.netlist import Netlist
from triage.circuit.small import Small, transformers
from triage.circuit.spice import OPTIONS, elements
from triage.units import value_of

SECONDARY_H = 10.0
"""Inductance of a secondary: far above its load at every rate asked, its leakage far below it."""


def signal_netlist(
    net: Netlist, small: Small, member: int, into: int, stiff: bool, hertz: float
) -> str:
    """Input text that prints the size of every node's and speaker's volts, one node driven.

    ``into``: the node driven with 1 V (``stiff``) or 1 A. Output transformers become coupled coils.
    """
    parts = list(net.spec.parts.values())
    chokes = {i for i, part in enumerate(parts) if part.kind == "choke" and part.value}
    windings = {b for t in transformers(net) for b in t.branches}
    inner = {i: f"x{i}" for i in chokes | windings}
    lines = elements(net, small.variants, member, inner)
    for i, part in enumerate(parts):
        a, b = (_at(node) for node in net.ends[i].tolist())
        if part.kind == "capacitor":
            lines.append(f"C{i} {a} {b} {max(small.part_f[member, i], 1e-18):.12g}")
        elif i in chokes and part.value is not None:
            lines.append(f"L{i} x{i} {b} {value_of(part.value, 'H'):.12g}")
    for k, node in enumerate(net.fed):
        lines.append(f"CS{k} {_at(node)} 0 {max(small.store_f[member, k], 1e-18):.12g}")
    for o, output in enumerate(transformers(net)):
        coils = [f"LS{o}"]
        lines += [f"LS{o} out{o} 0 {SECONDARY_H:g}", f"RO{o} out{o} 0 {output.load_ohm:.12g}"]
        for branch, turns in zip(output.branches, output.turns, strict=True):
            end = _at(int(net.ends[branch, 1]))
            first, last = (f"x{branch}", end) if turns > 0 else (end, f"x{branch}")
            lines.append(f"LW{branch} {first} {last} {turns**2 * SECONDARY_H:.12g}")
            coils.append(f"LW{branch}")
        pairs = [(a, b) for i, a in enumerate(coils) for b in coils[i + 1 :]]
        lines += [f"K{o}{i} {a} {b} 0.9999999" for i, (a, b) in enumerate(pairs)]
    drive = f"IIN 0 {_at(into)} DC 0 AC 1"
    if stiff:  # through a capacitor of one farad, so that no direct volt is changed
        drive = f"VIN in 0 DC 0 AC 1\nCIN in {_at(into)} 1"
    names = [_at(n) for n in range(len(net.nodes))] + [
        f"out{o}" for o in range(len(net.spec.outputs))
    ]
    lines += [
        drive, OPTIONS, ".control", f"ac lin 1 {hertz:.10g} {hertz:.10g}",
        *(f"print vm({name})" for name in names), ".endc", ".end",
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _at(node: int) -> str:
    return "0" if node < 0 else f"n{node}"
