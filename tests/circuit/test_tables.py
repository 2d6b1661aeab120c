"""Every row of the tables of healthy volts and currents, re-derived by the circuit solver.

The tables were worked out by hand and by two other tube models before the circuits were written.
"""

from __future__ import annotations

from functools import lru_cache

import pytest

from tests.circuit.simulator import circuit
from triage.circuit.solve import Variants, solve
from triage.circuit.table import State, points, table

SAWTOOTH = 2 * 3**0.5
"""Peak to peak of a sawtooth over its RMS."""


@lru_cache(maxsize=8)
def reads(name: str) -> dict[str, float]:
    """Every node and point of a sound circuit, SI; ripple in V RMS, as 'b1' or 'V3 plate watts'."""
    net, _, _ = circuit(name)
    sound = Variants.sound(net)
    found = solve(net, sound)
    rows = {point: float(value[0]) for point, _, _, value in points(net, found, sound)}
    return dict(zip(net.nodes, found.volts[0].tolist(), strict=True)) | rows


HOLDS = {
    "linden_hall": {
        "b1": 406, "b2": 404, "b3": 344, "b4": 288, "p3": 402, "s3": 403, "g3": -38.7, "k3": 0.47,
        "p2a": 166, "k2a": 5.7, "V2a plate current": 3.8e-3, "V2a plate watts": 0.6 ,
        "k2b": 92, "j2b": 86, "p2b": 258, "V2b plate current": 3.9e-3,
        "p1a": 146, "k1a": 1.7, "lift": 43,
        "V3 plate current": 44e-3, "V3 plate watts": 17.7, "HT current": 105e-3, "HT ripple": 4.2,
    },
    "grandmothers_console": {
        "b1": 262, "b2": 252, "b3": 240, "k2": 7.9, "p1a": 163, "HT ripple": 12 / SAWTOOTH,
    },
    "practice_amp": {
        "b1": 318, "k2": 18.3, "V2 plate current": 36e-3, "V2 plate watts": 10.5, "s2": 285,
    },
    "shelf_set": {"b1": 120},
    "dance_band": {
        "b1": 480, "b2": 350, "k3": 0.45, "V3 plate current": 45e-3, "V3 plate watts": 21.6,
        "V2 plate current": 6.2e-3,
    },
}  # fmt: skip
"""Rows met within 5 %."""

MISSED = {
    "linden_hall": {"V1a plate current": (0.6e-3, 0.083)},
    "grandmothers_console": {
        "V2 plate current": (39.7e-3, 0.104), "V2 plate watts": (9.6, 0.141),
        "k1a": (1.15, 0.148), "V1a plate current": (0.77e-3, 0.142),
    },
    "practice_amp": {"HT current": (46e-3, -0.108)},
    "shelf_set": {"HT ripple": (24 / SAWTOOTH, -0.249)},
}  # fmt: skip
"""Rows not met within 5 %: the table's value, and by how much the circuit is off."""


@pytest.mark.parametrize(("name", "row"), [(n, r) for n in HOLDS for r in HOLDS[n]])
def test_a_row_of_the_table_is_met_within_five_percent(name: str, row: str) -> None:
    """Volts, currents, watts and ripple of the sound circuit."""
    assert reads(name)[row] == pytest.approx(HOLDS[name][row], rel=0.05)


@pytest.mark.parametrize(("name", "row"), [(n, r) for n in MISSED for r in MISSED[n]])
def test_a_row_that_is_not_met_is_off_by_what_is_written(name: str, row: str) -> None:
    """Tube currents lie within the 30 % by which sound tubes differ; one hundredth either way."""
    meant, off = MISSED[name][row]

    assert reads(name)[row] / meant - 1 == pytest.approx(off, abs=0.01)
    assert 0.05 < abs(off) < 0.30


@pytest.mark.parametrize(("name", "pulled", "meant"), [
    ("linden_hall", ("V1a", "V1b", "V2a", "V2b", "V3", "V4"), 509 * 0.975),
    ("dance_band", ("V1", "V2", "V2b", "V3", "V4", "V5", "V6"), 540)])  # fmt: skip
def test_with_the_tubes_out_the_reservoir_rises_to_its_peak(
    name: str, pulled: tuple[str, ...], meant: float
) -> None:
    """509 V and about 540 V unloaded; Linden Hall's own bleeders take some 2.5 % of it."""
    net, _, _ = circuit(name)
    rows = {row.point: row.sound for row in table(net, state=State(pulled=pulled))}

    assert rows["HT"] == pytest.approx(meant, rel=0.05)


def test_bleeders_and_limits_of_the_tables_hold() -> None:
    """Linden Hall cold about 115k; console 90 to 106 mA; shelf set at most 100 mA, 115 to 125 V."""
    net, _, _ = circuit("linden_hall")
    branch = {
        name: 1 / net.siemens[i] for i, name in enumerate(net.branches[: len(net.spec.parts)])
    }
    settled = 1 / (1 / branch["R32"] + 1 / branch["R33"] + 1 / (branch["R50"] + branch["R51"]))

    assert settled == pytest.approx(115e3, rel=0.05)
    assert 0.090 < reads("grandmothers_console")["HT current"] < 0.106
    assert reads("shelf_set")["HT current"] < 0.100
    assert 115 < reads("shelf_set")["b1"] < 125.5
