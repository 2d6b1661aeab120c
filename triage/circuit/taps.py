"""Where a meter is put: findings at places of the amplifier, as points of its circuit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from triage.circuit.netlist import Netlist
from triage.circuit.solve import Solved, Variants
from triage.circuit.table import GONE
from triage.measure.koren import flow

Floats = NDArray[np.float64]
Key = tuple[str, str]
"""(finding id, place id)."""
FLOORS: Mapping[str, float] = {"V": 0.1, "V ripple": 0.02, "A": 1e-3}
"""Below this a value is read on a plain scale, above it on a log scale; SI."""


@dataclass(frozen=True)
class Tap:
    """One point: volts of a node, ripple of a supply or plate current of a tube.

    ``at`` is the index of the node, supply or tube. ``out``: read with the output tubes pulled.
    """

    sort: Literal["V", "V ripple", "A"]
    at: int
    out: bool = False

    @property
    def floor(self) -> float:
        """Value at which the scale turns from plain to log, SI."""
        return FLOORS[self.sort]

    def scale(self, value: Floats | float) -> Floats:
        """Values on the scale that is compared: asinh of value over floor (a signed log)."""
        return np.asarray(np.arcsinh(np.asarray(value) / self.floor))

    def values(self, net: Netlist, found: Solved, variants: Variants) -> Floats:
        """Values of every member, SI, shape (members,)."""
        if self.sort == "V":
            return np.asarray(found.volts[:, self.at])
        if self.sort == "V ripple":
            amps = np.nan_to_num(found.supply_a[:, self.at]).tolist()
            rows = zip(variants.curves, amps, variants.line.tolist(), strict=True)
            ripple = [c[self.at].ripple_at(a / max(k, 1e-6)) * k for c, a, k in rows]
            return np.where(found.settled, np.array(ripple), np.nan)
        tube = net.tubes[self.at]

        def volts(node: int) -> Floats:
            return found.volts[:, node] if node >= 0 else np.zeros(len(found.settled))

        k = volts(tube.cathode)
        here = flow(tube.model, volts(tube.plate) - k, volts(tube.grid) - k, volts(tube.screen) - k)
        return np.asarray(here.plate * variants.emission[:, self.at])


def taps(net: Netlist) -> dict[Key, Tap]:
    """Every reading that the circuit knows, by finding and place; none at a node that is ground."""
    spec = net.spec
    found: dict[Key, Tap] = {}

    def put(finding: str, place: str | None, node: int, *, out: bool = False) -> None:
        if place is not None and node >= 0:
            found[(finding, place)] = Tap("V", node, out)

    minus = spec.minus_places
    for k, supply in enumerate(spec.supplies.values()):
        if k == 0:
            put("b_plus", "amp", net.fed[0])
        if supply.reservoir_place is not None:
            found[("ripple", supply.reservoir_place)] = Tap("V ripple", k)
    for node, place in spec.names.items():
        put("bias_source" if place in minus else "node_volts", place, net.node(node))
    fixed = any(supply.minus for supply in spec.supplies.values())
    for t, tube in enumerate(net.tubes):
        where = spec.tubes[tube.name].place
        put("cathode_volts", where, tube.cathode)
        put("plate_volts" if tube.screen >= 0 else "plate_share", where, tube.plate)
        put("grid_shift_tube_in", where, tube.grid)
        if where is not None and tube.screen >= 0:
            put("screen_volts", where, tube.screen)
            found[("idle_current", where)] = Tap("A", t)
            if fixed:
                put("bias_at_pin", where, tube.grid, out=True)
    return found


def with_meters(net: Netlist) -> Netlist:
    """The circuit with a meter's branch from every node to ground, not yet put on."""
    count = len(net.nodes)
    ends = np.stack([np.arange(count), np.full(count, -1)], axis=1)
    return replace(
        net,
        branches=(*net.branches, *(f"meter at {node}" for node in net.nodes)),
        ends=np.concatenate([net.ends, ends]),
        siemens=np.concatenate([net.siemens, np.full(count, OFF_S)]),
    )


OFF_S = 1e-15
"""Conductance of a meter that is not put on."""


def put_on(net: Netlist, variants: Variants, node: int, ohm: float) -> Variants:
    """Members with a meter of ``ohm`` at a node. ``net`` has its meters' branches."""
    own = np.full((len(variants.line), len(net.nodes)), OFF_S)
    own[:, node] = 1.0 / ohm
    return replace(variants, siemens=np.concatenate([variants.siemens, own], axis=1))


def tubes_out(net: Netlist, variants: Variants) -> Variants:
    """Members with the output tubes pulled: no current, no gas, nothing that touches inside."""
    out = [t for t, tube in enumerate(net.tubes) if tube.screen >= 0]
    emission, gas, siemens = variants.emission.copy(), variants.gas.copy(), variants.siemens.copy()
    emission[:, out], gas[:, out] = GONE, 0.0
    names = tuple(f"{net.tubes[t].name}." for t in out)
    own = [i for i, branch in enumerate(net.branches) if branch.startswith(names)]
    siemens[:, own] = net.siemens[own]
    return replace(variants, emission=emission, gas=gas, siemens=siemens)
