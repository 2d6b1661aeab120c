"""A circuit as numbers: nodes, conductances, tubes and supplies, checked for what can't be solved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from triage.circuit.supply import Curve
from triage.errors import CircuitError
from triage.measure.koren import TubeModel, load_models
from triage.model.circuit import GROUND, CircuitSpec
from triage.units import value_of

Floats = NDArray[np.float64]
LEAK_S = 1e-11
"""Every node's own leak to ground (sockets, boards): 100 gigohm."""
OPEN_S = 1e-12
"""Conductance of what is open or not there."""
ONE_S = 100.0
"""From this conductance on, both ends of a part count as one node for a source (10 milliohm)."""
APART_S = 1e-15
"""Conductance between two electrodes of a sound tube."""


@dataclass(frozen=True)
class Tube:
    """A tube section: its model and the node of each electrode (-1 is ground)."""

    name: str
    model: TubeModel
    plate: int
    grid: int
    cathode: int
    screen: int


@dataclass(frozen=True)
class Netlist:
    """A circuit ready to be solved at DC.

    ``branches`` are the parts and, behind them, the shorts that a tube may get, all as conductances
    between two nodes; ``siemens`` their sound values, shape (branches,). ``ends`` has shape
    (branches, 2), -1 for ground.
    """

    spec: CircuitSpec
    nodes: tuple[str, ...]
    branches: tuple[str, ...]
    ends: NDArray[np.int_]
    siemens: Floats
    tubes: tuple[Tube, ...]
    supplies: tuple[str, ...]
    fed: tuple[int, ...]
    curves: tuple[Curve, ...]

    def node(self, name: str) -> int:
        """Index of a node; -1 for ground.

        Raises
        ------
        CircuitError : no such node.
        """
        if name == GROUND:
            return -1
        if name not in self.nodes:
            raise CircuitError([f"no node '{name}'; there are {', '.join(self.nodes)}"])
        return self.nodes.index(name)

    def branch(self, name: str) -> int:
        """Index of a branch by its name."""
        return self.branches.index(name)


def join(matrix: Any, ends: Sequence[int], amount: Any) -> None:
    """Add an admittance between two nodes to a nodal matrix, in place; -1 is ground.

    ``matrix`` has shape (..., nodes, nodes), ``amount`` its leading shape (or is one number).
    """
    a, b = ends
    for i, j, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
        if i >= 0 and j >= 0:
            matrix[..., i, j] = matrix[..., i, j] + sign * amount


def conductance(kind: str, value: str | None, ohm: str | None) -> float:
    """Conductance of a sound part at DC, in S."""
    if kind == "capacitor":
        return OPEN_S
    text = value if kind == "resistor" else ohm
    assert text is not None
    return 1.0 / max(value_of(text, "ohm"), 1e-3)


SHORTS = (("plate", "grid"), ("screen", "grid"), ("grid", "cathode"), ("plate", "screen"))
"""Pairs of electrodes that may touch; the heater is taken as ground."""


def catalogue(plain: Mapping[str, Sequence[Mapping[str, Any]]]) -> dict[str, TubeModel]:
    """Tube models by type number, other names and equivalents included (ECC83: 12AX7).

    ``plain``: the rows of ``models.yaml`` and of the tube files, by name.
    """
    found: dict[str, TubeModel] = {}
    for model in load_models(plain["models"]).values():
        found.setdefault(model.type.upper(), model)
    for row in plain["tubes"]:
        if "type" not in row:  # a substitution, not a tube
            continue
        types = [str(row["type"]).upper()]
        types += [str(name).upper() for name in row.get("aliases", [])]
        types += [str(e["type"]).upper() for e in row.get("equivalents", [])]
        known = next((found[t] for t in types if t in found), None)
        if known is not None:
            for name in types:
                found.setdefault(name, known)
    return found


def build(spec: CircuitSpec, models: Mapping[str, TubeModel]) -> Netlist:
    """Turn a circuit file into numbers. ``models`` by type number, see ``catalogue``.

    Raises
    ------
    CircuitError : with every reason: a tube without a model, a node that hangs on nothing, a part of
        the circuit without a path to ground, a loop of sources.
    """
    reasons: list[str] = []
    names: dict[str, int] = {}

    def at(node: str) -> int:
        return -1 if node == GROUND else names.setdefault(node, len(names))

    ends: list[tuple[int, int]] = []
    branches: list[str] = []
    siemens: list[float] = []
    for name, part in spec.parts.items():
        branches.append(name)
        ends.append((at(part.nodes[0]), at(part.nodes[1])))
        siemens.append(conductance(part.kind, part.value, part.ohm))
    tubes: list[Tube] = []
    for name, tube in spec.tubes.items():
        model = models.get(tube.type.upper())
        if model is None:
            reasons.append(f"{name}: there is no model of a {tube.type} in models.yaml")
            continue
        if (model.kind == "pentode") != (tube.screen is not None):
            reasons.append(f"{name}: a {tube.type} is a {model.kind}: mind its screen")
            continue
        electrodes = {
            "plate": at(tube.plate),
            "grid": at(tube.grid),
            "cathode": at(tube.cathode),
            "screen": at(tube.screen) if tube.screen is not None else -1,
        }
        tubes.append(Tube(name, model, **electrodes))
        electrodes["heater"] = -1
        for a, b in (*SHORTS, ("cathode", "heater")):
            if "screen" in (a, b) and tube.screen is None:
                continue
            branches.append(f"{name}.{a}_{b}")
            ends.append((electrodes[a], electrodes[b]))
            siemens.append(APART_S)
    fed = [at(supply.node) for supply in spec.supplies.values()]
    reasons += _source_loops(spec, names, ends, siemens)
    reasons += _loose(spec, names, ends, siemens, tubes, fed)
    if reasons:
        raise CircuitError(reasons)
    return Netlist(
        spec,
        tuple(names),
        tuple(branches),
        np.array(ends, dtype=int),
        np.array(siemens),
        tuple(tubes),
        tuple(spec.supplies),
        tuple(fed),
        tuple(Curve.of(supply, spec.line) for supply in spec.supplies.values()),
    )


def _source_loops(
    spec: CircuitSpec,
    names: Mapping[str, int],
    ends: list[tuple[int, int]],
    siemens: list[float],
) -> list[str]:
    """Supplies that fix one node twice, or ground, in words; parts of next to no ohms join nodes."""
    root = {index: index for index in (-1, *names.values())}
    for (a, b), g in zip(ends, siemens, strict=True):
        if g >= ONE_S:
            one, other = root[a], root[b]
            root = {node: one if at == other else at for node, at in root.items()}
    mend = "Put the resistor or choke between them that the amplifier has, or mend the node."
    first: dict[int, str] = {root[-1]: ""}
    found = []
    for name, supply in spec.supplies.items():
        at = root[names.get(supply.node, -1)]
        before = first.setdefault(at, name)
        if before == "":
            found.append(
                f"loop of sources: supply {name} feeds '{supply.node}', which is ground: it would "
                f"be shorted. {mend}"
            )
        elif before != name:
            found.append(
                f"loop of sources: supplies {before} and {name} feed one node ('{supply.node}'), "
                f"and neither would decide its volts. {mend}"
            )
    return found


def _loose(
    spec: CircuitSpec,
    names: Mapping[str, int],
    ends: list[tuple[int, int]],
    siemens: list[float],
    tubes: list[Tube],
    fed: list[int],
) -> list[str]:
    """Nodes without a path for direct current to ground, in words."""
    whole = {-1}
    pairs = [pair for pair, g in zip(ends, siemens, strict=True) if g > OPEN_S]
    pairs += [(tube.plate, tube.cathode) for tube in tubes]
    pairs += [(tube.screen, tube.cathode) for tube in tubes if tube.screen >= 0]
    pairs += [(-1, node) for node in fed]
    grown = True
    while grown:
        more = {n for a, b in pairs for n in (a, b) if (a in whole) != (b in whole)} - whole
        whole |= more
        grown = bool(more)
    by_index = {index: name for name, index in names.items()}
    found = []
    for index, name in sorted(by_index.items()):
        if index in whole:
            continue
        on = [p for p, part in spec.parts.items() if name in part.nodes]
        found.append(
            f"node '{name}' has no path for direct current to ground (on it: "
            f"{', '.join(on) or 'only tube pins'}): is a grid leak or a ground missing?"
        )
    return found
