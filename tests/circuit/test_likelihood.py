"""Readings of one visit as one distribution for each fault, and how they enter the ranking."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import multivariate_normal

from tests.benchmarks.injected import bench_of
from tests.circuit.test_expect import idle
from triage.circuit.faults import Fault, variants_of
from triage.circuit.likelihood import (
    FAITH,
    SLIP,
    Likelihood,
    Reading,
    Visit,
    _joined,
    background_grid,
    background_log,
)
from triage.circuit.solve import solve
from triage.job.desk import Moment
from triage.job.fold import Answered
from triage.job.visit import visit_of

NAME = "practice_amp"
KEYS = (("b_plus", "amp"), ("cathode_volts", "V2"), ("plate_volts", "V2"), ("screen_volts", "V2"))


def likelihood() -> Likelihood:
    """Of the practice amplifier, kept with its bench."""
    found = bench_of(NAME).likelihood
    assert found is not None
    return found


def visit(fault: Fault | None = None, times: float = 1.0, **more: object) -> Visit:
    """What a perfect meter reads at four points, times a factor."""
    net = likelihood().net
    variants = variants_of(net, [fault])
    found = solve(net, variants)
    readings = tuple(
        Reading(key, times * float(likelihood().taps[key].values(net, found, variants)[0]), 0.1)
        for key in KEYS
    )
    return replace(Visit(readings, {}), **more)  # type: ignore[arg-type]  # any field


@pytest.mark.published("seen", "SciPy, scipy.stats.multivariate_normal")
def test_the_mixed_density_is_that_of_its_parts() -> None:
    """Gaussian, one reading a slip, or background: each part by SciPy, and summed."""
    rng = np.random.default_rng(4)
    half = rng.normal(size=(3, 3))
    cov, gap, ground = half @ half.T + 0.1 * np.eye(3), rng.normal(size=3), rng.normal(size=3)
    density = multivariate_normal(np.zeros(3), cov).pdf(gap) / np.exp(ground.sum())
    slips = 0.0
    for i in range(3):
        kept = [j for j in range(3) if j != i]
        part = multivariate_normal(np.zeros(2), cov[np.ix_(kept, kept)]).pdf(gap[kept])
        slips += SLIP * (1 - SLIP) ** 2 * part / np.exp(ground[kept].sum())
    whole = FAITH * ((1 - SLIP) ** 3 * density + slips) + 1 - FAITH

    found = float(_joined(gap[None], cov[None], ground)[0])

    assert np.exp(found) == pytest.approx(whole, rel=1e-9)


@pytest.mark.published("seen", "SciPy, scipy.integrate.quad")
def test_the_background_is_a_density_and_its_points_have_its_weight() -> None:
    """It sums to one wherever the sound value is, and so do the points it is judged at."""
    for sound in (0.0, 3.0, 9.0):
        total, _ = quad(
            lambda y, s=sound: np.exp(background_log(np.array(y), np.array(s))), -20, 30, limit=200
        )
        assert total == pytest.approx(1.0, abs=1e-6)
        assert sum(weight for _, weight in background_grid(sound)) == pytest.approx(1.0)


def test_a_fault_is_told_by_its_own_volts() -> None:
    """A worn V2 reads like a worn V2; a sound amplifier speaks against it."""
    worn = next(f for f in likelihood().faults if f.name == "V2.tube_worn")
    of_worn, of_sound = likelihood().fit(visit(worn)), likelihood().fit(visit())

    assert of_worn.by_row[("output_tube.worn", "V2")] > of_worn.sound + 3.0
    assert of_sound.by_row[("output_tube.worn", "V2")] < of_sound.sound - 1.0


def test_readings_that_move_together_are_not_counted_one_by_one() -> None:
    """All volts 6 % up: a high line, not four oddities; where the line was read, it is odder."""
    straight, high = likelihood().fit(visit()), likelihood().fit(visit(times=1.06))
    apart = float((straight.sound_alone - high.sound_alone).sum())
    together = straight.sound - high.sound
    read = likelihood().fit(visit(times=1.06, line_read=True))

    assert 0.0 < together < 0.6 * apart
    assert read.sound < high.sound
    todays = likelihood().fit(visit(times=1.06, line_read=True, line=1.06))
    assert todays.sound > read.sound + 1.0


def test_a_worse_meter_says_less() -> None:
    """Ten times the uncertainty: the fault stands out less."""
    worn = next(f for f in likelihood().faults if f.name == "V2.tube_worn")
    sharp = visit(worn)
    dull = replace(sharp, readings=tuple(replace(r, u=0.1 * abs(r.value)) for r in sharp.readings))
    row = ("output_tube.worn", "V2")
    a, b = likelihood().fit(sharp), likelihood().fit(dull)

    assert a.by_row[row] - a.sound > b.by_row[row] - b.sound + 1.0


def test_the_meter_loads_what_it_is_put_on() -> None:
    """An open grid return floats; a meter of 10 Mohm holds it near ground."""
    key = ("grid_shift_tube_in", "V2")
    faults = [s.fault for s in likelihood().strata]
    at = 1 + next(
        i
        for i, fault in enumerate(faults)
        if fault.kind.id == "resistor_open" and fault.place == "V2.grid_return"
    )
    free = likelihood()._middles(key, float("inf"))[0, at]
    loaded = likelihood()._middles(key, 10e6)[0, at]

    assert abs(loaded) < abs(free) - 0.5


ROWS = (
    ("b_plus", "amp", "400 V"),
    ("plate_volts", "V3", "396 V"),
    ("cathode_volts", "V3", "0.9 V"),
    ("cathode_volts", "V4", "0.45 V"),
)


def hall(power: str = "idle") -> Moment:
    """Linden Hall with V3 drawing twice its current."""
    return idle(
        *(
            Answered(i, finding, place, "normal", typed=typed, kept=True, power=power)
            for i, (finding, place, typed) in enumerate(ROWS)
        )
    )


def test_a_cause_that_does_nothing_to_the_volts_stands_with_the_sound_circuit() -> None:
    """Neither the circuit nor its words know it here: it reads as a sound amplifier does."""
    moment = hall()
    state = moment.assessment.state
    joint = state.evidence.joint
    assert joint is not None
    grounded = moment.bench.grounded
    rest = replace(state.evidence, joint=None, items={})
    without = {f: i for f, i in state.evidence.items.items() if f not in joint.findings}
    words = moment.bench.model.likelihood(
        replace(rest, items=without), replace(state.evidence, joint=None), joint.findings
    )
    in_all = np.log(words) + joint.logs
    row = next(
        i
        for i, h in enumerate(grounded.hypotheses)
        if h.cause == "volume_control.dirty" and not joint.made[i].any()
    )

    assert in_all[row] == pytest.approx(joint.fit.sound, abs=0.3)
    assert in_all[grounded.healthy] == pytest.approx(joint.fit.sound)


def test_numbers_say_more_than_their_verdicts_and_words_alone_stay_as_they_were() -> None:
    """Taken together the readings lift what raises V3's current alone; off idle nothing is joined."""
    together, words = hall().assessment, hall(power="").assessment

    assert words.state.evidence.joint is None
    assert together.healthy < words.healthy
    assert together.suspects[0].cause == "coupling_cap.leaky"
    assert together.suspects[0].place == "C9"
    assert together.state.posterior.sum() == pytest.approx(1.0)


def test_a_reading_without_a_verdict_is_weighed_by_the_circuit_all_the_same() -> None:
    """Nothing says where a small tube's grid should be, but the circuit: its leaky capacitor."""
    moment = idle(Answered(0, "grid_shift_tube_in", "V2a", "unknown", typed="5 V", power="idle"))
    grounded, state = moment.bench.grounded, moment.assessment.state
    finding = grounded.index[("grid_shift_tube_in", "V2a")]
    alone = moment.bench.model.state(replace(state.evidence, joint=None))

    assert finding not in state.evidence.items
    assert state.evidence.joint is not None and state.evidence.joint.count == 1
    assert state.posterior[grounded.healthy] < 0.5 * alone.posterior[grounded.healthy]
    moved = max(
        range(grounded.healthy), key=lambda row: state.posterior[row] - alone.posterior[row]
    )
    assert (grounded.hypotheses[moved].cause, grounded.hypotheses[moved].place) == (
        "coupling_cap.leaky",
        "C7",
    )


def test_nothing_is_solved_before_a_number_was_read() -> None:
    """Without a reading at idle the circuit's faults are not looked at."""
    moment = idle(Answered(0, "powers_up", "amp", "yes", power="idle"))

    assert visit_of(moment) is None
    assert moment.assessment.state.evidence.joint is None
    assert "likelihood" not in vars(moment.bench)
