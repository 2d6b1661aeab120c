"""A push-pull output stage under loud signal: mean currents, and what they leave of the main supply.

Quasi-static: at points of one cycle both sides see their grids swung about the idle bias, their
plates tied by an ideal transformer with its load; the mean current loads the supply at direct volts.
Cathodes and screens keep the volts that they have at idle, as their capacitors hold them. A
single-ended stage takes the same mean current with and without signal, so it is left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.circuit.netlist import Netlist, Tube
from triage.circuit.solve import Solved, Variants, solve
from triage.circuit.taps import OFF_S, with_meters
from triage.measure.koren import flow
from triage.units import value_of

Floats = NDArray[np.float64]
PHASES = 24
HALVINGS = 50
ROUNDS = 40
CLOSE_V = 0.2


@dataclass(frozen=True)
class Loud:
    """Main supply in V, and mean plate current of every output tube in A, by name."""

    main_v: float
    plate_a: Mapping[str, float]


@dataclass(frozen=True)
class _Stage:
    """Output tubes with the sense of their halves, their centre node, load of the whole primary."""

    tubes: tuple[tuple[Tube, int, float], ...]
    centre: int
    load_ohm: float


def _stages(net: Netlist, variants: Variants) -> list[_Stage]:
    found = []
    for output in net.spec.outputs.values():
        if len(set(output.windings.values())) < 2:
            continue
        ends = {winding: net.ends[net.branch(winding)].tolist() for winding in output.windings}
        shared = set.intersection(*(set(pair) for pair in ends.values()))
        if len(shared) != 1:
            continue
        (centre,) = shared
        sense = {node: way for winding, way in output.windings.items()
                 for node in ends[winding] if node != centre}  # fmt: skip
        tubes = tuple(
            (tube, sense[tube.plate], float(variants.emission[0, t]))
            for t, tube in enumerate(net.tubes)
            if tube.screen >= 0 and tube.plate in sense
        )
        found.append(_Stage(tubes, centre, value_of(output.primary, "ohm")))
    return found


def drive(net: Netlist, variants: Variants, solved: Solved, swing: float) -> Loud | None:
    """The supply and the output tubes with their grids swung by ``swing`` of their bias, peak.

    One member. None where the circuit has no push-pull stage or no point was found.
    """
    stages = _stages(net, variants)
    if not stages or not solved.settled[0]:
        return None
    metered = with_meters(net)
    extra = np.full(len(net.nodes), OFF_S)
    now, main = solved, net.fed[0]
    means: dict[str, float] = {}
    for turn in range(ROUNDS):
        volts = now.volts[0]
        more = np.zeros(len(net.nodes))
        means = {}
        for stage in stages:
            for tube, plate_a, screen_a, rest in _means(stage, volts, swing):
                means[tube.name] = plate_a
                more[stage.centre] += plate_a - rest[0]
                more[tube.screen] += screen_a - rest[1]
        wanted = np.maximum(more, 0.0) / np.maximum(np.abs(volts), 1.0)
        extra = np.maximum(extra + 0.5 * (wanted - extra), OFF_S)
        siemens = np.concatenate([variants.siemens, extra[None, :]], axis=1)
        after = solve(metered, replace(variants, siemens=siemens), now)
        if not after.settled[0]:
            return None
        moved = abs(float(after.volts[0, main] - volts[main]))
        now = after
        if turn > 3 and moved < CLOSE_V:
            break
    return Loud(float(now.volts[0, main]), means)


Mean = tuple[Tube, float, float, tuple[float, float]]
"""Tube, mean plate and screen current in A, and both at rest."""


def _means(stage: _Stage, volts: Floats, swing: float) -> list[Mean]:
    """Mean currents of a stage over one cycle about the volts given, shape (nodes,)."""

    def at(node: int) -> float:
        return float(volts[node]) if node >= 0 else 0.0

    bias = [at(tube.cathode) - at(tube.grid) for tube, _, _ in stage.tubes]
    peak = swing * max(0.0, *bias)
    supply = at(stage.centre)
    turn = np.sin(2.0 * np.pi * (np.arange(PHASES) + 0.5) / PHASES)

    def currents(tube: Tube, share: float, plate: Floats, grid: Floats) -> tuple[Floats, Floats]:
        k = at(tube.cathode)
        here = flow(tube.model, plate - k, grid - k, at(tube.screen) - k)
        return here.plate * share, here.screen * share

    def sides(swung: Floats) -> list[tuple[Floats, Floats]]:
        return [currents(tube, share, np.maximum(supply - way * swung, 0.0),
                         at(tube.grid) + way * peak * turn)
                for tube, way, share in stage.tubes]  # fmt: skip

    low, high = np.full(PHASES, -supply), np.full(PHASES, supply)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        net_a = sum(
            (
                way * plate
                for (_, way, _), (plate, _) in zip(stage.tubes, sides(middle), strict=True)
            ),
            np.zeros(PHASES),
        )
        above = middle > stage.load_ohm / 4.0 * net_a
        high, low = np.where(above, middle, high), np.where(above, low, middle)
    found: list[Mean] = []
    for (tube, _, share), (plate, screen) in zip(stage.tubes, sides(low), strict=True):
        rest = currents(tube, share, np.array([at(tube.plate)]), np.array([at(tube.grid)]))
        quiet = (float(rest[0][0]), float(rest[1][0]))
        found.append((tube, float(plate.mean()), float(screen.mean()), quiet))
    return found
