"""Gains and hum against a general circuit simulator and against the formulas of one stage."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tests.circuit.signals import KEPT, LEAST_GAIN, asked, circuit, simulated, watched
from tests.circuit.simulator import has_simulator, knowledge
from triage.circuit.faults import faults_of, kinds_of, variants_of
from triage.circuit.netlist import build, catalogue
from triage.circuit.small import Small, signals
from triage.circuit.solve import Variants, solve
from triage.circuit.table import named, signal_table
from triage.measure.koren import flow
from triage.model.circuit import CircuitSpec

KEPT_SIGNALS = json.loads(KEPT.read_text(encoding="utf-8"))
CIRCUITS = sorted(KEPT_SIGNALS)
STAGE = {
    "circuit": "one",
    "says": "one stage",
    "line": {"nominal": "230 V", "hertz": "50 Hz"},
    "supplies": {
        "HT": {
            "kind": "bridge", "winding": "200 V", "source": "20 ohm", "reservoir": "1 F",
            "node": "b1",
        }
    },
    "parts": {
        "R1": {"kind": "resistor", "value": "1 Mohm", "nodes": ["g1", "chassis"]},
        "R2": {"kind": "resistor", "value": "100 kohm", "nodes": ["b1", "p1"]},
        "R3": {"kind": "resistor", "value": "1.5 kohm", "nodes": ["k1", "chassis"]},
        "C1": {"kind": "capacitor", "value": "1 F", "nodes": ["k1", "chassis"]},
    },
    "tubes": {"V1": {"type": "ECC83", "plate": "p1", "grid": "g1", "cathode": "k1"}},
    "inputs": {"mono": "g1"},
    "source": [{"id": "judgement", "because": "a stage of the usual kind"}],
}  # fmt: skip


@pytest.mark.published("seen", "ngspice 39, .ac of the exported netlists")
@pytest.mark.parametrize("name", CIRCUITS)
def test_gains_and_hum_agree_with_the_simulator_sound_and_under_faults(name: str) -> None:
    """Every plate and speaker that answers is within 2 % of what ngspice gave."""
    small, faults = circuit(name)
    names = [fault.name if fault else "sound" for fault in faults]
    misses: dict[str, float] = {}
    for what, (into, stiff, hertz) in asked(small).items():
        found = np.abs(small.response(hertz, [(into, 1.0)], stiff))
        if not stiff:
            found = found / found[:, into : into + 1]
        for n, kept in KEPT_SIGNALS[name][what].items():
            ours, expected = found[names.index(n)][watched(small)], np.array(kept)
            answers = expected > (LEAST_GAIN if stiff else 1e-6)
            assert answers.any() or not stiff or n != "sound", what
            miss = np.abs(ours - expected)[answers] / expected[answers]
            if np.max(miss, initial=0.0) > 0.02:
                misses[f"{what} {n}"] = float(np.max(miss))
    assert misses == {}


@pytest.mark.parametrize("name", CIRCUITS)
def test_the_simulator_still_says_what_was_kept(name: str) -> None:
    """Where ngspice is here, the sound circuit is asked again."""
    small, faults = circuit(name)
    for what, (into, stiff, hertz) in asked(small).items():
        kept = np.array(KEPT_SIGNALS[name][what]["sound"])
        assert len(kept) == len(watched(small))
        if has_simulator():
            found = simulated(small, 0, into, stiff, hertz)
            found = found if stiff else found / found[into]
            np.testing.assert_allclose(found[watched(small)], kept, rtol=1e-3, atol=1e-9)


@pytest.mark.published(
    "from memory", "gain of a common-cathode stage: mu RL/(ra + RL); unbypassed ra + (mu + 1) Rk"
)
def test_one_stage_has_the_gain_of_the_textbook() -> None:
    """With and without its bypass capacitor, within a thousandth."""
    net = build(CircuitSpec.model_validate(STAGE), catalogue(knowledge().plain))
    kinds = kinds_of(knowledge().plain["circuit_faults"])
    open_cap = named(faults_of(net, kinds, {}, signals=True), "C1.capacitor_open")
    members = [None, open_cap]
    variants = variants_of(net, members)
    found = solve(net, variants)
    plate, grid, cathode = (found.volts[0, net.node(n)] for n in ("p1", "g1", "k1"))
    here = flow(net.tubes[0].model, plate - cathode, grid - cathode, plate - cathode)
    mu, ra = float(here.gm / here.gp), float(1.0 / here.gp)
    gain = np.abs(Small.of(net, variants, found, members).gains("mono"))[:, net.node("p1")]

    assert gain[0] == pytest.approx(mu * 100e3 / (ra + 100e3), rel=1e-3)
    assert gain[1] == pytest.approx(mu * 100e3 / (ra + 100e3 + (mu + 1) * 1.5e3), rel=1e-3)
    assert gain[1] < 0.7 * gain[0]


def test_faults_change_gain_and_hum_as_the_trade_knows() -> None:
    """Common practice, no source: each of these at the point and the rate that it is known by."""
    base = knowledge()
    net = build(base.circuits["practice_amp"], catalogue(base.plain))
    faults = faults_of(net, kinds_of(base.plain["circuit_faults"]), {}, signals=True)

    def now(fault: str) -> dict[str, tuple[float, float]]:
        rows = signal_table(net, named(faults, fault))
        return {row.point: (row.sound, row.now or 0.0) for row in rows}

    coupling = now("C7.capacitor_open")["gain out mono"]
    assert coupling[1] < 0.01 * coupling[0]
    bypass = now("C6.capacitor_open")["gain V1b"]
    assert 0.3 < bypass[1] / bypass[0] < 0.7
    dried = now("HT.reservoir_dried")["hum 120 Hz mono"]
    assert dried[1] > 4.0 * dried[0]
    heater = now("V1a.tube_cathode_heater")["hum 60 Hz mono"]
    assert heater[1] > 1e-3 > heater[0]
    half = now("HT.supply_half")
    assert half["hum 60 Hz mono"][1] > 5.0 * half["hum 60 Hz mono"][0]


def test_a_circuit_without_inputs_gives_no_signals() -> None:
    """Gains are told only where the file names what goes in and comes out."""
    plain = {k: v for k, v in STAGE.items() if k != "inputs"}
    net = build(CircuitSpec.model_validate(plain), catalogue(knowledge().plain))
    assert signal_table(net) == []
    assert signals(Small.of(net, Variants.sound(net), solve(net, Variants.sound(net)))) == []


def test_an_output_that_names_no_winding_is_refused() -> None:
    """With the name, in words."""
    wrong = {**STAGE, "outputs": {"mono": {"windings": {"R2": 1}, "primary": "5k", "load": "8"}}}
    with pytest.raises(ValueError, match="R2, which is no winding"):
        CircuitSpec.model_validate(wrong)
