"""What a circuit reads, point by point: sound, with its band, and under a fault or in another state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.circuit.expected import HIGH, LOW, spread
from triage.circuit.faults import Fault, variants_of
from triage.circuit.netlist import Netlist
from triage.circuit.small import Small, signals
from triage.circuit.solve import Solved, Variants, solve
from triage.errors import CircuitError
from triage.measure.koren import flow

Floats = NDArray[np.float64]
GONE = 1e-6
"""Share of its current that a pulled tube gives."""


@dataclass(frozen=True)
class State:
    """How the amplifier is tried: line volts as a share of nominal, tubes pulled."""

    line: float = 1.0
    pulled: tuple[str, ...] = ()


@dataclass(frozen=True)
class Row:
    """One point, in SI of ``unit``.

    ``sound``, ``low`` and ``high`` are those of the sound amplifier in this state; ``now`` is with
    the fault, None where no fault is asked for.
    """

    point: str
    says: str
    unit: str
    sound: float
    low: float
    high: float
    now: float | None = None

    @property
    def off(self) -> bool:
        """Whether the fault takes this point out of the band of sound amplifiers."""
        if self.now is None:
            return False
        slack = 0.02 * max(abs(self.low), abs(self.high)) + 1e-4 * (self.unit == "V")
        return not self.low - slack <= self.now <= self.high + slack


def in_state(net: Netlist, variants: Variants, state: State) -> Variants:
    """The members with the line and the pulled tubes of a state.

    Raises
    ------
    CircuitError : a tube of that name does not exist.
    """
    names = [tube.name for tube in net.tubes]
    emission = variants.emission.copy()
    for pulled in state.pulled:
        if pulled not in names:
            raise CircuitError([f"no tube '{pulled}'; there are {', '.join(names)}"])
        emission[:, names.index(pulled)] = GONE
    line = np.full(len(variants.line), state.line)
    return replace(variants, emission=emission, line=line)


def table(net: Netlist, fault: Fault | None = None, state: State | None = None) -> list[Row]:
    """All points of a circuit.

    Raises
    ------
    CircuitError : the circuit (or it with the fault) could not be solved: no value is guessed.
    """
    state = state or State()
    sound = solve(net, in_state(net, spread(net), state))
    if not sound.settled[0]:
        raise CircuitError(["the sound circuit did not settle to a point"])
    values = points(net, sound, in_state(net, spread(net), state))
    now: list[float | None] = [None] * len(values)
    if fault is not None:
        variants = in_state(net, variants_of(net, [fault]), state)
        faulty = solve(net, variants)
        if not faulty.settled[0]:
            raise CircuitError([f"with the fault '{fault.name}' no settled point was found"])
        now = [float(row[3][0]) for row in points(net, faulty, variants)]
    rows = []
    for (point, says, unit, found), value in zip(values, now, strict=True):
        good = found[sound.settled]
        low, high = np.percentile(good, [LOW, HIGH])
        rows.append(Row(point, says, unit, float(found[0]), float(low), float(high), value))
    return rows


def signal_table(net: Netlist, fault: Fault | None = None, state: State | None = None) -> list[Row]:
    """Gains and hum of a circuit whose inputs and outputs are named; empty for others.

    Raises
    ------
    CircuitError : the circuit (or it with the fault) could not be solved.
    """
    if not net.spec.inputs and not net.spec.outputs:
        return []
    state = state or State()
    variants = in_state(net, spread(net), state)
    sound = solve(net, variants)
    rows = signals(Small.of(net, variants, sound))
    now: dict[str, float] = {}
    if fault is not None:
        faulty = in_state(net, variants_of(net, [None, fault]), state)
        found = solve(net, faulty)
        if not found.settled.all():
            raise CircuitError([f"with the fault '{fault.name}' no settled point was found"])
        both = signals(Small.of(net, faulty, found, [None, fault]))
        now = {row.point: float(row.values[1]) for row in both}
    table = []
    for row in rows:
        good = row.values[sound.settled]
        low, high = np.percentile(good, [LOW, HIGH])
        value = now.get(row.point, 0.0) if fault is not None else None
        table.append(
            Row(row.point, row.says, row.unit, float(row.values[0]), float(low), float(high), value)
        )
    for point in sorted(now.keys() - {row.point for row in rows}):
        table.append(Row(point, "at the speaker", "V", 0.0, 0.0, 0.0, now[point]))
    return table


Points = list[tuple[str, str, str, Floats]]
"""Name, words, unit, values of every member."""


def points(net: Netlist, found: Solved, variants: Variants) -> Points:
    """Volts of the supplies and of every electrode, currents and plate dissipation of every tube."""
    rows: Points = []

    def volts(node: int) -> Floats:
        return found.volts[:, node] if node >= 0 else np.zeros(len(found.settled))

    for i, name in enumerate(net.supplies):
        rows.append((name, "supply", "V", volts(net.fed[i])))
        amps = found.supply_a[:, i]
        rows.append((f"{name} current", "supply current", "A", amps))
        ripple = [
            curves[i].ripple_at(float(a) / max(line, 1e-6)) * line
            for curves, a, line in zip(
                variants.curves, np.nan_to_num(amps), variants.line.tolist(), strict=True
            )
        ]
        rows.append((f"{name} ripple", "ripple, RMS", "V", np.array(ripple)))
    for node in net.spec.names:
        rows.append((net.spec.names[node], "node", "V", volts(net.node(node))))
    for t, tube in enumerate(net.tubes):
        k = volts(tube.cathode)
        here = flow(tube.model, volts(tube.plate) - k, volts(tube.grid) - k, volts(tube.screen) - k)
        share = variants.emission[:, t]
        rows.append((f"{tube.name} plate", "plate", "V", volts(tube.plate)))
        if tube.screen >= 0:
            rows.append((f"{tube.name} screen", "screen", "V", volts(tube.screen)))
        rows.append((f"{tube.name} grid", "grid", "V", volts(tube.grid)))
        rows.append((f"{tube.name} cathode", "cathode", "V", k))
        plate_a = here.plate * share
        rows.append((f"{tube.name} plate current", "plate current", "A", plate_a))
        watts = plate_a * np.maximum(volts(tube.plate) - k, 0.0)
        rows.append((f"{tube.name} plate watts", "plate dissipation", "W", watts))
    return rows


def named(faults: Sequence[Fault], name: str) -> Fault:
    """The fault of this name, or of this part if it has one only.

    Raises
    ------
    CircuitError : none; the message lists what the part can have, or the parts.
    """
    for fault in faults:
        if fault.name == name:
            return fault
    part = name.split(".")[0]
    near = [fault.name for fault in faults if fault.part == part]
    what = near or sorted({fault.part for fault in faults})
    kind = "faults of it" if near else "parts"
    raise CircuitError([f"no fault '{name}'; {kind}: {', '.join(what)}"])
