"""``triage expect CIRCUIT --course``: warming up and bleeding down, for a terminal or as data."""

from __future__ import annotations

import json

from triage.circuit.course import SAFE_V, Bleeding, Warming, bleeding, warming
from triage.circuit.netlist import Netlist
from triage.units import format_si

CAUTION = """Worked out for sound parts. A broken bleeder leaves everything charged: only a
meter on this capacitor, just now, says that it is empty."""


def show(net: Netlist, line: float, as_json: bool) -> str:
    """Both courses of a circuit at a share of nominal line volts."""
    warm, bled = warming(net, line), bleeding(net, line)
    if as_json:
        return json.dumps(_data(net, line, warm, bled)) + "\n"
    watched = [net.nodes[node] for node in net.fed]
    watched += [net.nodes[t.plate] for t in net.tubes if net.nodes[t.plate] not in watched]
    lines = [f"{net.spec.circuit}: volts while warming up, rectifier awake at once"]
    shown = [warm.seconds.index(t) for t in (0.0, 5.0, 8.0, 11.0, 15.0, 60.0)]
    lines.append(f"{'node':10}" + "".join(f"{warm.seconds[i]:>9g} s" for i in shown))
    for node in dict.fromkeys(watched):
        at = warm.nodes.index(node)
        lines.append(
            f"{node:10}" + "".join(f"{format_si(float(warm.volts[i, at]), 'V'):>11}" for i in shown)
        )
    lines.append("")
    lines.append("After switching off with cold tubes:")
    for row in bled:
        times = ", ".join(
            f"{_time(t)} to {format_si(v, 'V')}" for t, v in zip(row.seconds, SAFE_V, strict=True)
        )
        lines.append(f"{row.point:14}{format_si(row.from_v, 'V'):>9}: {times}")
    return "\n".join([*lines, CAUTION, ""])


def _time(seconds: float | None) -> str:
    if seconds is None:
        return "over 10 h"
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"


def _data(net: Netlist, line: float, warm: Warming, bled: list[Bleeding]) -> dict[str, object]:
    return {
        "circuit": net.spec.circuit,
        "line_share": line,
        "warming": {
            "seconds": list(warm.seconds),
            "volts": {node: warm.volts[:, i].tolist() for i, node in enumerate(warm.nodes)},
        },
        "bleeding": [
            {
                "point": row.point,
                "from": row.from_v,
                "seconds_to": {f"{v:g} V": t for v, t in zip(SAFE_V, row.seconds, strict=True)},
            }
            for row in bled
        ],
    }
