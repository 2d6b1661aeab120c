"""Small circuits as data sheets and handbooks print them, each with the page's own volts and currents.

A sheet gives volts at the electrodes, so plates and screens are fed from ideal sources here, grids
from an ideal minus source or over the cathode resistor that the sheet names.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.circuit.simulator import knowledge
from triage.circuit.netlist import Netlist, build, catalogue
from triage.circuit.solve import Solved, Variants, solve
from triage.circuit.supply import Curve
from triage.measure.koren import TubeModel, flow, load_models
from triage.model.circuit import CircuitSpec


@dataclass(frozen=True)
class Operation:
    """One published operation, ``tubes`` of them together.

    Volts of the supplies against ground, ohms, and the sheet's currents for *one* tube in mA.
    ``grid_v`` 0 where ``cathode_ohm`` (shared by all the tubes) makes the bias.
    """

    type: str
    plate_v: float
    grid_v: float = 0.0
    screen_v: float | None = None
    cathode_ohm: float = 0.0
    plate_ohm: float = 0.0
    screen_ohm: float = 0.0
    tubes: int = 1


@dataclass(frozen=True)
class Point:
    """What the circuit solver finds of one tube: mA, and V against ground."""

    plate_ma: float
    screen_ma: float
    plate_v: float
    cathode_v: float
    gm_ma_per_v: float
    plate_siemens: float


def ideal(volts: float) -> Curve:
    """A source of these volts whatever it gives; below zero a minus source."""
    amps, level = np.array([0.0, 1.0]), np.full(2, abs(volts))
    sign = -1.0 if volts < 0 else 1.0
    return Curve(amps, level, np.zeros(2), np.zeros(2), sign, 120.0)


def circuit_of(row: Operation, models: dict[str, TubeModel]) -> Netlist:
    """The operation as a circuit file would say it, its supplies made ideal."""
    volts = {"B": row.plate_v, "C": row.grid_v or -1.0}
    volts |= {} if row.screen_v is None else {"S": row.screen_v}
    supply = {"kind": "bridge", "winding": "100 V", "source": "10 ohm", "reservoir": "100 uF"}
    supplies = {
        name: supply | {"node": name.lower(), "minus": level < 0} for name, level in volts.items()
    }
    node = "c" if row.grid_v else "chassis"
    parts = {"RC": resistor(1e6, "c", "chassis"), "RG": resistor(1e3, "g", node)}
    parts["RK"] = resistor(max(row.cathode_ohm, 1e-3), "k", "chassis")
    tubes = {}
    for n in range(row.tubes):
        parts[f"RP{n}"] = resistor(max(row.plate_ohm, 1e-3), "b", f"p{n}")
        tubes[f"V{n}"] = {"type": row.type, "plate": f"p{n}", "grid": "g", "cathode": "k"}
        if row.screen_v is not None:
            parts["RS"] = resistor(max(row.screen_ohm, 1e-3), "s", "s0")
            tubes[f"V{n}"]["screen"] = "s0"
    spec = CircuitSpec.model_validate({
        "circuit": "published", "says": row.type, "line": {"nominal": "120 V", "hertz": "60 Hz"},
        "supplies": supplies, "parts": parts, "tubes": tubes,
        "source": [{"id": "judgement", "because": "a printed operation as a circuit"}],
    })  # fmt: skip
    net = build(spec, models)
    return replace(net, curves=tuple(ideal(level) for level in volts.values()))


def resistor(ohm: float, one: str, other: str) -> dict[str, object]:
    """A resistor of a circuit file."""
    return {"kind": "resistor", "value": f"{ohm:.6g} ohm", "nodes": [one, other]}


def stated(row: Operation, model_id: str | None = None) -> TubeModel:
    """The model of the tube that circuits use, or the set of this id."""
    if model_id is not None:
        return load_models(knowledge().plain["models"])[model_id]
    return catalogue(knowledge().plain)[row.type]


def operate(row: Operation, model_id: str | None = None) -> Point:
    """Solve the operation with the circuit solver and read its first tube."""
    net = circuit_of(row, {row.type: stated(row, model_id)})
    found: Solved = solve(net, Variants.sound(net))
    assert found.settled[0]
    tube, volts = net.tubes[0], found.volts[0]
    plate, grid, cathode = (float(volts[i]) for i in (tube.plate, tube.grid, tube.cathode))
    screen = float(volts[tube.screen]) if tube.screen >= 0 else 0.0
    here = flow(tube.model, plate - cathode, grid - cathode, screen - cathode)
    return Point(
        float(here.plate) * 1e3, float(here.screen) * 1e3, plate, cathode,
        float(here.gm) * 1e3, float(here.gp),
    )  # fmt: skip
