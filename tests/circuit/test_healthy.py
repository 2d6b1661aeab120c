"""The five sound circuits stand where a designer meant them to stand, and within tube limits."""

from __future__ import annotations

import numpy as np
import pytest

from tests.circuit.simulator import circuit
from triage.circuit.solve import solve

MEANT = {
    "linden_hall": {
        "b1": 406, "b2": 404, "b3": 344, "b4": 288, "p3": 402, "s3": 403, "g3": -38.7, "k3": 0.47,
        "p2a": 166, "k2a": 5.7, "k2b": 92, "p2b": 258, "p1a": 146, "lift": 43,
    },
    "grandmothers_console": {"b1": 262, "b2": 252, "k2": 7.9, "p1a": 163, "b3": 240},
    "practice_amp": {"b1": 318, "k2": 18.3},
    "dance_band": {"b1": 480, "b2": 350, "k3": 0.45},
}  # fmt: skip
"""Design values of the invented amplifiers, worked out by hand and by two other tube models."""


@pytest.mark.parametrize("name", sorted(MEANT))
def test_a_sound_circuit_stands_within_five_percent_of_its_design(name: str) -> None:
    """Every design value within 5 %."""
    net, _, variants = circuit(name)
    volts = dict(zip(net.nodes, solve(net, variants).volts[0], strict=True))

    for node, meant in MEANT[name].items():
        assert volts[node] == pytest.approx(meant, rel=0.05), node


def test_the_shelf_set_has_low_volts_and_works_hard() -> None:
    """B+ of a set without a transformer: 110 to 130 V; the 50C5 draws some 50 mA."""
    net, _, variants = circuit("shelf_set")
    found = solve(net, variants)
    volts = dict(zip(net.nodes, found.volts[0], strict=True))

    assert 110 < volts["b1"] < 130
    assert 0.035 < volts["k2"] / 150 < 0.060


@pytest.mark.parametrize(("name", "tube", "most_w"), [
    ("linden_hall", "V3", 30.0), ("linden_hall", "V4", 30.0), ("grandmothers_console", "V2", 12.0),
    ("practice_amp", "V2", 14.0), ("shelf_set", "V2", 7.0), ("dance_band", "V3", 35.0)])  # fmt: skip
def test_no_sound_output_tube_is_over_its_plate_limit(name: str, tube: str, most_w: float) -> None:
    """Plate volts against the cathode times current, from the volts over the cathode resistor."""
    net, _, variants = circuit(name)
    volts = dict(zip(net.nodes, solve(net, variants).volts[0], strict=True))
    spec = net.spec.tubes[tube]
    part = next(p for p in net.spec.parts.values() if p.nodes == (spec.cathode, "chassis")
                and p.kind == "resistor")  # fmt: skip
    amps = volts[spec.cathode] * net.siemens[list(net.spec.parts.values()).index(part)]

    assert 0.2 * most_w < amps * (volts[spec.plate] - volts[spec.cathode]) <= most_w * 1.02


def test_a_leaky_coupling_capacitor_does_what_benches_see() -> None:
    """1 Mohm at C9: grid up, that tube's current up, its mate's nearly as before."""
    net, faults, variants = circuit("linden_hall")
    names = [f.name if f else "sound" for f in faults]
    found = solve(net, variants)
    sound = found.volts[0]
    leaky = found.volts[names.index("C9.capacitor_leaky_1m")]
    at = {node: net.nodes.index(node) for node in ("g3", "g4", "k3", "k4", "b1")}

    assert leaky[at["g3"]] > sound[at["g3"]] + 10
    assert leaky[at["k3"]] > 1.5 * sound[at["k3"]]
    assert np.abs(leaky[at["g4"]] - sound[at["g4"]]) < 2.5
    assert leaky[at["b1"]] < sound[at["b1"]]
