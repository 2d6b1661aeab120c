"""The solver on small circuits: closed forms, Kirchhoff's law, and what can't be solved is told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from tests.circuit.simulator import circuit, knowledge
from triage.circuit.netlist import Netlist, build, catalogue
from triage.circuit.solve import Variants, solve
from triage.circuit.supply import Curve, supply_of
from triage.errors import CircuitError
from triage.measure.koren import flow
from triage.measure.rectifier import Load, steady
from triage.model.circuit import CircuitSpec, SupplySpec

HT = {"kind": "bridge", "winding": "200 V", "source": "20 ohm", "reservoir": "100 uF", "node": "b"}


def net_of(parts: dict[str, Any], tubes: dict[str, Any] | None = None) -> Netlist:
    """A small circuit on a 280 V supply."""
    spec = CircuitSpec.model_validate(
        {
            "circuit": "small", "says": "a try", "line": {"nominal": "120 V", "hertz": "60 Hz"},
            "supplies": {"HT": HT}, "parts": parts, "tubes": tubes or {},
            "source": [{"id": "invented"}],
        }
    )  # fmt: skip
    return build(spec, catalogue(knowledge().plain))


def resistor(value: str, *nodes: str) -> dict[str, Any]:
    """A resistor between two nodes."""
    return {"kind": "resistor", "value": value, "nodes": list(nodes)}


@given(st.floats(1e3, 1e6), st.floats(1e3, 1e6))
@settings(max_examples=40, deadline=None)
def test_a_divider_divides_and_loads_the_supply_on_its_curve(upper: float, lower: float) -> None:
    """Mid volts by the divider rule; supply volts and current lie on the supply's own curve."""
    net = net_of(
        {"R1": resistor(f"{upper} ohm", "b", "m"), "R2": resistor(f"{lower} ohm", "m", "chassis")}
    )
    found = solve(net, Variants.sound(net))
    top, mid = found.volts[0]

    assert mid == pytest.approx(top * lower / (upper + lower), rel=1e-4)
    assert found.supply_a[0, 0] == pytest.approx(top / (upper + lower), rel=1e-4)
    assert top == pytest.approx(float(net.curves[0].at(found.supply_a[0])[0][0]), abs=1e-5)


def test_a_triode_stage_agrees_with_a_library_root() -> None:
    """12AX7, 100k, 1k5: cathode volts by SciPy's root of one equation in one unknown."""
    net = net_of(
        {
            "RL": resistor("100 kohm", "b", "p"),
            "RK": resistor("1.5 kohm", "k", "chassis"),
            "RG": resistor("1 Mohm", "g", "chassis"),
        },
        {"V1": {"type": "12AX7", "plate": "p", "grid": "g", "cathode": "k"}},
    )
    found = solve(net, Variants.sound(net))
    volts = dict(zip(net.nodes, found.volts[0], strict=True))
    model = net.tubes[0].model

    def surplus(cathode: float) -> float:
        amps = cathode / 1500.0
        plate = volts["b"] - amps * 100e3
        return float(flow(model, plate - cathode, -cathode).plate) - amps

    assert volts["k"] == pytest.approx(brentq(surplus, 0.1, 3.0, xtol=1e-10), abs=1e-5)


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_currents_into_every_node_sum_to_nothing(seed: int) -> None:
    """Linden Hall with all parts off by up to 20 %: the two 6L6GC carry what the HT gives."""
    net, _, _ = circuit("linden_hall")
    draw = np.random.default_rng(seed)
    sound = Variants.sound(net, 4)
    sound.siemens[:, : len(net.spec.parts)] *= draw.uniform(0.8, 1.2, (4, len(net.spec.parts)))
    found = solve(net, sound)

    assert found.settled.all()
    through = np.zeros(4)  # what reaches ground through every branch and leak is what is given
    for i, (a, b) in enumerate(net.ends.tolist()):
        if -1 in (a, b):
            node = a if b == -1 else b
            through += found.volts[:, node] * sound.siemens[:, i] if node >= 0 else 0.0
    assert through == pytest.approx(found.supply_a[:, 0] - found.supply_a[:, 1], rel=1e-5)


def test_line_volts_scale_a_circuit_of_resistors_and_its_supply() -> None:
    """10 % more line: 10 % more volts, silicon's own drop apart."""
    net = net_of({"R1": resistor("10 kohm", "b", "chassis")})
    sound = Variants.sound(net, 2)
    sound.line[1] = 1.1
    low, high = solve(net, sound).volts[:, 0]

    assert high == pytest.approx(1.1 * low, rel=0.005)


def test_a_supply_curve_lies_on_the_supply_solver_between_its_points() -> None:
    """5U4GB, 360-0-360 V, 40 µF: within 0.1 V from 5 mA on, 0.6 V below."""
    spec = knowledge().circuits["linden_hall"].supplies["HT"]
    line = {"hertz": "60 Hz"}
    curve = Curve.of(spec, line)
    bare = supply_of(spec, line)
    for amps, within in ((0.0005, 0.8), (0.005, 0.3), (0.04, 0.2), (0.105, 0.2), (0.16, 0.2)):
        loaded = type(bare)(**{**vars(bare), "load": Load(amps=amps)})
        assert float(curve.at(np.array([amps]))[0][0]) == pytest.approx(
            steady(loaded).dc_v, abs=within
        )


def test_what_hangs_on_nothing_is_told_in_words() -> None:
    """A grid without a leak and a tube nobody has modelled: both are named, nothing is solved."""
    with pytest.raises(CircuitError, match=r"node 'g' has no path .* is a grid leak"):
        net_of(
            {
                "RL": resistor("100 kohm", "b", "p"),
                "RK": resistor("1.5 kohm", "k", "chassis"),
                "C1": {"kind": "capacitor", "value": "22 nF", "nodes": ["p", "g"]},
            },
            {"V1": {"type": "12AX7", "plate": "p", "grid": "g", "cathode": "k"}},
        )
    with pytest.raises(CircuitError, match="no model of a 9Z9"):
        net_of(
            {"RL": resistor("1 kohm", "b", "chassis")},
            {"V1": {"type": "9Z9", "plate": "b", "grid": "b", "cathode": "chassis"}},
        )


@pytest.mark.parametrize("what", [{"kind": "resistor", "nodes": ["a", "b"]},
    {"kind": "choke", "value": "5 H", "nodes": ["a", "b"]},
    {"kind": "resistor", "value": "1 kohm", "nodes": ["a", "a"]}])  # fmt: skip
def test_a_part_that_lacks_something_is_refused(what: dict[str, Any]) -> None:
    """A resistor without a value, a choke without ohms, both ends on one node."""
    with pytest.raises(ValueError, match="needs|one node"):
        net_of({"R1": what})


def test_a_supply_without_its_reservoir_is_refused() -> None:
    """The schema names the missing key."""
    with pytest.raises(ValueError, match="reservoir"):
        SupplySpec.model_validate({k: v for k, v in HT.items() if k != "reservoir"})
