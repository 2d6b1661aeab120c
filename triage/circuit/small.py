"""Small signals around the operating points: complex nodal analysis of many variants at once.

Every part becomes its admittance at a frequency, every tube its slopes at its point, every supply its
reservoir beside the slope of its curve. A transformer is ideal but for its windings' resistance and the
inductance of its primary; its flux is one more unknown. Left out: capacitances between electrodes,
leakage inductance, losses of iron and of capacitors. Good from some 20 Hz to a few kHz.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.circuit.faults import Fault
from triage.circuit.netlist import LEAK_S, Netlist
from triage.circuit.solve import Solved, Variants
from triage.measure.koren import flow, grid_current
from triage.model.circuit import CHOKE, TransformerSpec
from triage.units import value_of

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
LEAST_OHM = 1e-3
"""Resistance of a supply below this is taken as this."""


@dataclass(frozen=True)
class Stored:
    """Capacitances in F: of every branch, shape (members, branches), and of every reservoir,
    shape (members, supplies)."""

    farads: Floats
    reservoirs: Floats

    @classmethod
    def of(cls, net: Netlist, faults: Sequence[Fault | None]) -> Stored:
        """One member for each fault; None is the sound circuit."""
        farads = np.zeros((len(faults), len(net.branches)))
        for i, part in enumerate(net.spec.parts.values()):
            if part.kind == "capacitor":
                farads[:, i] = value_of(part.value or "", "F")
        whole = [value_of(supply.reservoir, "F") for supply in net.spec.supplies.values()]
        reservoirs = np.tile(np.array(whole, dtype=np.float64), (len(faults), 1))
        for member, fault in enumerate(faults):
            if fault is None:
                continue
            kind = fault.kind
            if kind.part == "capacitor":
                share = 0.0 if kind.open else 1.0 if kind.farads is None else kind.farads
                farads[member, net.branch(fault.part)] *= share
            elif kind.part == "supply" and kind.reservoir is not None:
                reservoirs[member, net.supplies.index(fault.part)] *= kind.reservoir
        return cls(farads, reservoirs)

    @classmethod
    def spread(cls, net: Netlist, variants: Variants) -> Stored:
        """Of sound amplifiers as they come: a capacitor's leak and capacity differ by one share."""
        sound = cls.of(net, [None] * len(variants.line))
        return cls(sound.farads * net.siemens / variants.siemens, sound.reservoirs)


@dataclass(frozen=True)
class Small:
    """Members around their points. Unsettled ones give NaN."""

    net: Netlist
    variants: Variants
    stored: Stored
    found: Solved

    def volts(self, amps: Complexes, hertz: float) -> Complexes:
        """Volts of every node, shape (members, sources, nodes), for currents put into the nodes.

        Parameters
        ----------
        amps : A into every node, shape (members or 1, sources, nodes).
        hertz : Hz, > 0.
        """
        n = len(self.net.nodes)
        matrix = self._matrix(hertz)
        members, size = matrix.shape[:2]
        into = np.zeros((members, amps.shape[1], size), dtype=complex)
        into[:, :, :n] = amps
        volts = np.full((members, amps.shape[1], n), np.nan + 0j)
        ok = np.flatnonzero(self.found.settled)
        solved = np.linalg.solve(matrix[ok], np.swapaxes(into[ok], 1, 2))
        volts[ok] = np.swapaxes(solved, 1, 2)[:, :, :n]
        return volts

    def driven(self, nodes: Sequence[int], hertz: float) -> Complexes:
        """Volts of every node for 1 V held at each of these nodes in turn.

        Shape (members, driven nodes, nodes). What is fixed by a source of its own is what a current
        makes there, scaled: the same as an ideal source of volts.
        """
        unit = np.zeros((1, len(nodes), len(self.net.nodes)), dtype=complex)
        for row, node in enumerate(nodes):
            unit[0, row, node] = 1.0
        volts = self.volts(unit, hertz)
        own = volts[:, np.arange(len(nodes)), list(nodes)]
        return np.asarray(volts / own[:, :, None])

    def _matrix(self, hertz: float) -> Complexes:
        """Nodal admittances, the transformers' fluxes last; shape (members, size, size), S."""
        net, n = self.net, len(self.net.nodes)
        omega = 2.0 * np.pi * hertz
        coils = coupled(net)
        y = self._branches(omega)
        size = n + len(net.spec.transformers)
        incidence = np.zeros((len(net.branches), size + 1))
        rows = np.arange(len(net.branches))
        incidence[rows, net.ends[:, 0]] += 1.0  # the last column is ground (-1)
        incidence[rows, net.ends[:, 1]] -= 1.0
        at = incidence[:, :size]
        for branch, (core, turns) in coils.items():
            at[branch, n + core] = -turns  # current = siemens x (volts across - turns x flux)
        matrix = np.einsum("pi,bp,pj->bij", at, y, at, optimize=True)
        matrix[:, range(n), range(n)] += LEAK_S
        for core, transformer in enumerate(net.spec.transformers.values()):
            matrix[:, n + core, n + core] += 1.0 / (1j * omega * flux_henry(transformer))
        supplies = self._supplies()
        for k, node in enumerate(net.fed):
            matrix[:, node, node] += supplies[:, k] + 1j * omega * self.stored.reservoirs[:, k]
        matrix[:, :n, :n] += self._tubes()
        return np.asarray(matrix)

    def _branches(self, omega: float) -> Complexes:
        y = self.variants.siemens + 1j * omega * self.stored.farads
        for i, part in enumerate(self.net.spec.parts.values()):
            if part.kind == "choke":
                reactance = 1j * omega * value_of(part.value or CHOKE, "H")
                y[:, i] = 1.0 / (1.0 / self.variants.siemens[:, i] + reactance)
        return np.asarray(y)

    def _supplies(self) -> Floats:
        """Conductance of every supply behind its reservoir: one over the slope of its curve."""
        variants, amps = self.variants, self.found.supply_a
        found = np.zeros((len(variants.line), len(self.net.supplies)))
        for member, curves in enumerate(variants.curves):
            for k, curve in enumerate(curves):
                if self.found.settled[member]:
                    line = max(float(variants.line[member]), 1e-6)
                    slope = float(curve.at(np.array([amps[member, k] / line]))[1][0])
                    found[member, k] = 1.0 / max(-slope, LEAST_OHM)
        return found

    def _tubes(self) -> Floats:
        """Conductances of all tubes between the nodes, shape (members, nodes, nodes)."""
        n = len(self.net.nodes)
        volts = np.nan_to_num(self.found.volts)
        whole = np.zeros((len(volts), n + 1, n + 1))  # the last row and column are ground

        def put(into: int, out: int, by: int, against: int, siemens: Floats) -> None:
            for node, sign in ((into, 1.0), (out, -1.0)):
                whole[:, node, by] += sign * siemens
                whole[:, node, against] -= sign * siemens

        def at(node: int) -> Floats:
            return volts[:, node] if node >= 0 else np.zeros(len(volts))

        for t, tube in enumerate(self.net.tubes):
            share, gas = self.variants.emission[:, t], self.variants.gas[:, t]
            p, g, s, k = tube.plate, tube.grid, tube.screen, tube.cathode
            here = flow(tube.model, at(p) - at(k), at(g) - at(k), at(s) - at(k))
            _, steep = grid_current(tube.model, at(g) - at(k))
            put(g, k, g, k, steep * share)
            pentode = tube.model.kind == "pentode"
            for by, siemens in ((g, here.gm), (p, here.gp), (s, here.gs)):
                if by != s or pentode:
                    put(p, k, by, k, siemens * share)
                    put(k, g, by, k, siemens * share * gas)  # gas: out of the grid
            if pentode:
                put(s, k, g, k, here.screen_gm * share)
                put(s, k, s, k, here.screen_gs * share)
        return whole[:, :n, :n]


def coupled(net: Netlist) -> dict[int, tuple[int, float]]:
    """Branches that are windings of a transformer: which one, and their turns.

    A speaker's winding has one turn; the whole primary the root of load over speaker. Turns count
    from a branch's first end to its second, as the volts do.
    """
    found: dict[int, tuple[int, float]] = {}
    for core, (name, transformer) in enumerate(net.spec.transformers.items()):
        load, speaker = (value_of(x, "ohm") for x in (transformer.load, transformer.speaker))
        turns = float(np.sqrt(load / speaker)) / len(transformer.primary)
        for winding, sign in zip(transformer.primary, (-1.0, 1.0), strict=False):
            found[net.branch(winding)] = (core, sign * turns)
        found[net.branch(f"{name}.secondary")] = (core, 1.0)
    return found


def flux_henry(transformer: TransformerSpec) -> float:
    """Inductance of the primary as one turn of the secondary sees it, H."""
    load, speaker = (value_of(x, "ohm") for x in (transformer.load, transformer.speaker))
    return value_of(transformer.henry, "H") * speaker / load
