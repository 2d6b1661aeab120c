"""Trials put causes into circuits that no part of them has; the stage under signal obeys its sums."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import pytest

from tests.circuit.simulator import knowledge
from triage.circuit.faults import faults_of, kinds_of, variants_of
from triage.circuit.netlist import catalogue
from triage.circuit.solve import solve
from triage.circuit.table import named, points
from triage.quality.benches import Bench, benches
from triage.quality.check import check_trials
from triage.quality.driven import drive
from triage.quality.physics import ELECTRIC
from triage.quality.trials import trials_of


@lru_cache(maxsize=1)
def by_name() -> dict[str, Bench]:
    """Every amplifier with a circuit."""
    return {b.spec.circuit: b for b in benches(knowledge(), catalogue(knowledge().plain))}


def answers(circuit: str, trial: str, place: str) -> dict[tuple[str, str], str]:
    """Answers under one trial at one place."""
    bench, base = by_name()[circuit], knowledge()
    (row,) = [t for t in trials_of(base.plain["circuit_trials"]) if t.id == trial]
    found = [
        strata
        for strata in bench.trials([row], catalogue(base.plain), ELECTRIC)
        if strata.place == place
    ]
    return dict(found[0].answers[0])


@pytest.mark.parametrize("circuit", ["linden_hall", "dance_band"])
def test_a_swing_of_nothing_leaves_all_as_at_idle(circuit: str) -> None:
    """Currents of the output tubes and the supply, within a hundredth."""
    net = by_name()[circuit].net
    sound = variants_of(net, [None])
    solved = solve(net, sound)
    loud = drive(net, sound, solved, 0.0)

    assert loud is not None
    idle = {name: float(v[0]) for name, _, _, v in points(net, solved, sound)}
    assert loud.main_v == pytest.approx(idle["HT"], rel=0.01)
    for name, amps in loud.plate_a.items():
        assert amps == pytest.approx(idle[f"{name} plate current"], rel=0.01)


def test_a_sound_supply_holds_under_signal_and_half_a_rectifier_does_not() -> None:
    """Linden Hall: a tenth is lost at full signal; with half of its rectifier, more than 15 %."""
    bench = by_name()["linden_hall"]
    net = bench.net
    ways = kinds_of(knowledge().plain["circuit_faults"])
    half = named(faults_of(net, ways, bench.kinds), "HT.supply_half_old")
    left = []
    for fault in (None, half):
        variants = variants_of(net, [fault])
        solved = solve(net, variants)
        loud = drive(net, variants, solved, 1.0)
        assert loud is not None
        left.append(loud.main_v / float(solved.volts[0, net.fed[0]]))

    assert 0.87 < left[0] < 0.97
    assert left[1] < 0.85


def test_a_single_ended_stage_is_left_out_of_what_signal_does() -> None:
    """Its mean current is the same with and without."""
    net = by_name()["practice_amp"].net
    sound = variants_of(net, [None])

    assert drive(net, sound, solve(net, sound), 1.0) is None


def test_every_trial_meets_a_place_in_some_circuit() -> None:
    """None is written for nothing."""
    base = knowledge()
    models = catalogue(base.plain)
    lost = []
    for trial in trials_of(base.plain["circuit_trials"]):
        met = {cause: False for cause in trial.cause}
        for bench in by_name().values():
            if trial.circuits and bench.spec.circuit not in trial.circuits:
                continue
            built = bench.fitted(trial, models)
            for cause in trial.cause:
                places = built.grounded.places.of_kind(base.causes[cause].at)
                met[cause] |= any(built.own(trial, place.id) is not None for place in places)
        lost += [(trial.id, cause) for cause, found in met.items() if not found]

    assert lost == []


def test_a_leak_of_a_capacitor_is_lifted_with_it_and_one_of_a_socket_is_not() -> None:
    """The grid of the output tube of the practice amplifier."""
    leaky = answers("practice_amp", "cap_leak_warms", "V2.coupling_cap")
    tracked = answers("practice_amp", "tracked_5m", "V2.tube_socket")

    assert leaky[("grid_shift_cap_lifted", "V2")] == "normal"
    assert leaky[("idle_trend", "V2")] in ("steady", "rises")
    assert tracked[("grid_shift_cap_lifted", "V2")] != "normal"


def test_a_trial_of_an_unknown_cause_is_told() -> None:
    """With the closest that exists."""
    base = knowledge()
    row = {**base.plain["circuit_trials"][0], "cause": ["amp.hums_by_natur"]}
    spoilt = replace(base, plain={**base.plain, "circuit_trials": [row]})
    (found,) = check_trials(spoilt)

    assert "unknown cause 'amp.hums_by_natur'" in found.what
    assert "amp.hums_by_nature" in found.mend
