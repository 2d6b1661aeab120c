"""Small signals around an operating point: gains from the input, and hum at the speaker by rate.

Every tube is its slopes at the point found; capacitors, chokes and output transformers are what they
are at the rate asked. Feedback from the speaker is left open, transformers are ideal but for the
resistance of their windings, and capacities inside tubes are left out: good for middle and hum rates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.circuit.equations import Batch, Equations
from triage.circuit.faults import Fault
from triage.circuit.netlist import Netlist, join
from triage.circuit.solve import Solved, Variants
from triage.circuit.supply import Curves
from triage.units import value_of

Floats = NDArray[np.float64]
Complex = NDArray[np.complex128]
MIDDLE_HZ = 1000.0
HEATER_V = 3.15
"""Half of the volts of a 6.3 V heater: what its end has against a grounded middle."""
STIFF_S = 1e4
"""Conductance of what drives a node to given volts."""


@dataclass(frozen=True)
class Transformer:
    """An output transformer: its windings among the branches, turns against the secondary, load."""

    name: str
    branches: tuple[int, ...]
    turns: tuple[float, ...]
    load_ohm: float


def transformers(net: Netlist) -> tuple[Transformer, ...]:
    """Output transformers of a circuit; turns of each winding with its sense."""
    found = []
    for name, output in net.spec.outputs.items():
        load = value_of(output.load, "ohm")
        whole = np.sqrt(value_of(output.primary, "ohm") / load)
        each = whole / len(output.windings)
        found.append(
            Transformer(
                name,
                tuple(net.branch(winding) for winding in output.windings),
                tuple(sense * each for sense in output.windings.values()),
                load,
            )
        )
    return tuple(found)


def farads(net: Netlist, faults: Sequence[Fault | None]) -> tuple[Floats, Floats]:
    """Capacity of every part, shape (members, parts), and of every supply's reservoir, in F."""
    parts = [
        value_of(p.value, "F") if p.kind == "capacitor" and p.value is not None else 0.0
        for p in net.spec.parts.values()
    ]
    stores = [value_of(s.reservoir, "F") for s in net.spec.supplies.values()]
    of_parts = np.repeat(np.array(parts)[None, :], len(faults), axis=0)
    of_supplies = np.repeat(np.array(stores)[None, :], len(faults), axis=0)
    for member, fault in enumerate(faults):
        if fault is None:
            continue
        if fault.kind.farads is not None:
            of_parts[member, list(net.spec.parts).index(fault.part)] *= fault.kind.farads
        if fault.kind.reservoir is not None:
            of_supplies[member, net.supplies.index(fault.part)] *= fault.kind.reservoir
    return of_parts, of_supplies


@dataclass(frozen=True)
class Small:
    """A batch ready for small signals; members first in every array.

    ``real`` has the slopes of the nodes' currents, windings of output transformers left out, shape
    (members, nodes, nodes); ``part_f`` and ``store_f`` see ``farads``; ``amps`` the supply currents.
    """

    net: Netlist
    variants: Variants
    solved: Solved
    real: Floats
    part_f: Floats
    store_f: Floats

    @classmethod
    def of(
        cls,
        net: Netlist,
        variants: Variants,
        solved: Solved,
        faults: Sequence[Fault | None] | None = None,
    ) -> Small:
        """Slopes at the points found. ``faults`` as the variants have them; None: all sound."""
        members = len(variants.line)
        equations = Equations.of(net)
        batch = Batch(
            variants.siemens.T, variants.emission.T, variants.gas.T,
            Curves.of(variants.curves), variants.line,
        )  # fmt: skip
        x = np.nan_to_num(np.concatenate([solved.volts, solved.supply_a], axis=1).T)
        _, slopes = equations.at(batch, equations.linear(batch), x)
        n, s = len(net.nodes), len(net.fed)
        real = np.zeros((members, n, n))
        resistance = np.zeros((members, s))
        for (i, j), slot in equations.pattern.slots.items():
            if i < n and j < n:
                real[:, i, j] = slopes[slot]
            elif i >= n and i == j:
                resistance[:, i - n] = slopes[slot]
        for k, node in enumerate(net.fed):
            real[:, node, node] += 1.0 / np.maximum(resistance[:, k], 1e-6)
        for transformer in transformers(net):
            for branch in transformer.branches:
                join(real, net.ends[branch].tolist(), -variants.siemens[:, branch])
        of_parts, of_supplies = farads(net, faults or [None] * members)
        return cls(net, variants, solved, real, of_parts, of_supplies)

    def response(
        self, hertz: float, into: Sequence[tuple[int, Floats | float]], stiff: bool
    ) -> Complex:
        """Volts of all nodes and, behind them, of all speakers, RMS as put in, at one rate.

        ``into``: nodes and what is put into each, a current in A; volts, where ``stiff``. Shape
        (members, nodes + outputs).
        """
        net, n = self.net, len(self.net.nodes)
        outputs = transformers(net)
        windings = [(o, b, turns) for o, t in enumerate(outputs)
                    for b, turns in zip(t.branches, t.turns, strict=True)]  # fmt: skip
        members, size = len(self.real), n + len(outputs) + len(windings)
        matrix = np.zeros((members, size, size), dtype=complex)
        matrix[:, :n, :n] = self.real
        omega = 2.0 * np.pi * hertz
        for at, part in enumerate(net.spec.parts.values()):
            if part.kind == "capacitor":
                join(matrix, net.ends[at].tolist(), 1j * omega * self.part_f[:, at])
            elif part.kind == "choke" and part.value is not None:
                g = self.variants.siemens[:, at]
                join(
                    matrix,
                    net.ends[at].tolist(),
                    1.0 / (1.0 / g + 1j * omega * value_of(part.value, "H")) - g,
                )
        for k, node in enumerate(net.fed):
            matrix[:, node, node] += 1j * omega * self.store_f[:, k]
        for o, output in enumerate(outputs):
            matrix[:, n + o, n + o] = -1.0 / output.load_ohm
        for w, (o, branch, turns) in enumerate(windings):
            row = n + len(outputs) + w
            for node, sign in zip(net.ends[branch].tolist(), (1.0, -1.0), strict=True):
                if node >= 0:
                    matrix[:, node, row] += sign
                    matrix[:, row, node] += sign
            matrix[:, row, row] -= 1.0 / self.variants.siemens[:, branch]
            matrix[:, row, n + o] -= turns
            matrix[:, n + o, row] += turns
        given = np.zeros((members, size, 1), dtype=complex)
        for node, amount in into:
            given[:, node, 0] += np.asarray(amount) * (STIFF_S if stiff else 1.0)
            if stiff:
                matrix[:, node, node] += STIFF_S
        return np.asarray(np.linalg.solve(matrix, given)[:, : n + len(outputs), 0])

    def gains(self, channel: str, hertz: float = MIDDLE_HZ) -> Complex:
        """Gain from a channel's input to every node and speaker, shape (members, nodes + outputs).

        Raises
        ------
        CircuitError : the input's node does not exist.
        """
        return self.response(hertz, [(self.net.node(self.net.spec.inputs[channel]), 1.0)], True)

    def hum(self) -> dict[float, Floats]:
        """Hum of every speaker by rate in Hz, V RMS, shape (members, outputs).

        Ripple of the supplies, carried on from their reservoirs, and at the rate of the mains what
        leaks from heaters into cathodes (their ends at 3.15 V). Sources of one rate are added as
        powers, since their phases are not known.
        """
        net, n = self.net, len(self.net.nodes)
        power: dict[float, Floats] = {}
        outputs = len(net.spec.outputs)
        mains = value_of(net.spec.line["hertz"], "Hz")
        for k, node in enumerate(net.fed):
            amps = np.nan_to_num(self.solved.supply_a[:, k]) / np.maximum(self.variants.line, 1e-6)
            curves = [row[k] for row in self.variants.curves]
            ripple = np.array([c.ripple_at(float(a)) for c, a in zip(curves, amps, strict=True)])
            for hertz in sorted({c.ripple_hz for c in curves}):
                here = np.array([c.ripple_hz == hertz for c in curves])
                out = self.response(hertz, [(node, 1.0)], False)
                carried = np.abs(out[:, n:] / out[:, node : node + 1])
                volts = carried * (ripple * self.variants.line * here)[:, None]
                power[hertz] = power.get(hertz, np.zeros((len(ripple), outputs))) + volts**2
        for tube in net.tubes:
            leak = self.variants.siemens[:, net.branch(f"{tube.name}.cathode_heater")]
            if tube.cathode >= 0 and np.max(leak) > 1e-9:
                out = self.response(mains, [(tube.cathode, leak * HEATER_V)], False)
                before = power.get(mains, np.zeros((len(leak), outputs)))
                power[mains] = before + np.abs(out[:, n:]) ** 2
        return {hertz: np.sqrt(found) for hertz, found in sorted(power.items())}


@dataclass(frozen=True)
class Signal:
    """One gain (unit empty) or hum (V RMS), of every member."""

    point: str
    says: str
    unit: str
    values: Floats


def signals(small: Small) -> list[Signal]:
    """Gain of each channel to its plates and speakers, and hum of each speaker by rate.

    A gain below a thousandth is not listed where the middling member has none (another channel's).
    """
    net, n = small.net, len(small.net.nodes)
    names = list(net.spec.outputs)
    rows: list[Signal] = []
    for channel in net.spec.inputs:
        found = np.abs(small.gains(channel))
        several = len(net.spec.inputs) > 1
        for tube in net.tubes:
            if found[0, tube.plate] > 1e-3 and tube.plate >= 0:
                point = f"gain {tube.name}" + (f" ({channel})" if several else "")
                rows.append(Signal(point, "input to plate, 1 kHz", "", found[:, tube.plate]))
        for o, name in enumerate(names):
            if not several or name == channel:
                rows.append(Signal(f"gain out {name}", "input to speaker", "", found[:, n + o]))
    for hertz, volts in small.hum().items():
        for o, name in enumerate(names):
            rows.append(Signal(f"hum {hertz:.0f} Hz {name}", "at the speaker", "V", volts[:, o]))
    return rows
