"""The same circuit as a netlist for a general circuit simulator (the SPICE input language).

Tube equations are written without overflow. A supply becomes its own curve, as many short lines.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from triage.circuit.netlist import LEAK_S, Netlist, Tube
from triage.circuit.solve import Variants
from triage.measure.koren import GRID_KNEE_V, GRID_ONSET_V, LEAST_SCREEN_V

POINTS = 240
"""Points of a supply's curve, closer where it bends."""


def netlist(net: Netlist, variants: Variants, member: int = 0) -> str:
    """Input text that prints the operating point of one member, node by node."""
    lines = [
        *elements(net, variants, member),
        OPTIONS,
        ".control",
        "op",
        *(f"print v({_at(n)})" for n in range(len(net.nodes))),
        ".endc",
        ".end",
    ]
    return "\n".join(lines) + "\n"


OPTIONS = ".options reltol=1e-6 abstol=1e-12 vntol=1e-7 gmin=1e-14 itl1=2000"


def elements(
    net: Netlist, variants: Variants, member: int = 0, inner: Mapping[int, str] | None = None
) -> list[str]:
    """Title and elements of one member. ``inner``: nodes between a branch's resistance and its end."""
    lines = [f"* {net.spec.circuit}"]
    g = variants.siemens[member]
    for i, (a, b) in enumerate(net.ends.tolist()):
        lines.append(f"R{i} {_at(a)} {(inner or {}).get(i, _at(b))} {1.0 / g[i]:.12g}")
    lines += [f"RL{n} {_at(n)} 0 {1.0 / LEAK_S:.6g}" for n in range(len(net.nodes))]
    for t, tube in enumerate(net.tubes):
        lines += _tube(t, tube, variants.emission[member, t], variants.gas[member, t])
    for k, node in enumerate(net.fed):
        lines += _supply(net, variants, member, k, node)
    return lines


def _at(node: int) -> str:
    return "0" if node < 0 else f"n{node}"


def _soft(x: str) -> str:
    return f"(max({x},0)+ln(1+exp(-abs({x}))))"


def _tube(t: int, tube: Tube, share: float, gas: float) -> list[str]:
    m = tube.model
    p, g, s, k = (_at(n) for n in (tube.plate, tube.grid, tube.screen, tube.cathode))
    vp, vg, vs = (f"(v({a})-v({k}))" for a in (p, g, s))
    vp, vg, vs = (x.replace("v(0)", "0") for x in (vp, vg, vs))
    drive = f"({vg}+{m.vct:.10g})"
    if m.kind == "triode":
        volts = f"max({vp},0)"
        inner = (
            f"({m.kp:.10g}*({1 / m.mu:.12g}+{drive}/sqrt({m.kvb:.10g}+({volts})*({volts})+1e-12)))"
        )
        plate = f"2*pow({volts}*{_soft(inner)}/{m.kp:.10g},{m.ex:.10g})/{m.kg1:.10g}"
        screen = "0"
    else:
        assert m.kg2 is not None
        volts = f"max({vs},{LEAST_SCREEN_V:g})"
        inner = f"({m.kp:.10g}*({1 / m.mu:.12g}+{drive}/({volts})))"
        plate = (
            f"2*pow({volts}*{_soft(inner)}/{m.kp:.10g},{m.ex:.10g})/{m.kg1:.10g}"
            f"*atan(max({vp},0)/{m.kvb:.10g})"
        )
        screen = (
            f"({vs}>{LEAST_SCREEN_V:g} ? pow(max({drive}+{volts}/{m.mu:.12g},0),1.5)"
            f"/{m.kg2:.10g} : 0)"
        )
    over = f"(({vg}-{GRID_ONSET_V:g})/{GRID_KNEE_V:g})"
    lines = [
        f"BP{t} {p} {k} I={share:.12g}*({plate})",
        f"BG{t} {g} {k} I={share * GRID_KNEE_V / m.rgi:.12g}*{_soft(over)}",
    ]
    if m.kind == "pentode":
        lines.append(f"BS{t} {s} {k} I={share:.12g}*{screen}")
    if gas > 0.0:
        lines.append(f"BI{t} {k} {g} I={share * gas:.12g}*({plate})")
    return lines


def _supply(net: Netlist, variants: Variants, member: int, k: int, node: int) -> list[str]:
    curve, factor = variants.curves[member][k], float(variants.line[member])
    top = float(curve.amps[-1])
    amps = np.concatenate([[-top], top * np.linspace(0.0, 1.0, POINTS) ** 2, [3.0 * top]])
    volts, _ = curve.at(amps)
    pairs = ",".join(
        f"{a * factor:.10g},{curve.sign * v * factor:.10g}"
        for a, v in zip(amps, volts, strict=True)
    )
    # the current of VS flows from its plus end through it: out of the supply into the node
    sign = "" if curve.sign > 0 else "-"
    return [f"VS{k} ns{k} {_at(node)} 0", f"BV{k} ns{k} 0 V=pwl({sign}i(VS{k}),{pairs})"]
