"""Whole jobs on drawn faults, by order of tests: what is counted, and that gates hold in all."""

from __future__ import annotations

import pytest

from triage.assess import Bench
from triage.cli.main import main
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.quality.compare import WEIGHTINGS, calibration, compare, summary
from triage.quality.jobs import Faults, Record, weighted
from triage.world.pair import PairWorld


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """The real knowledge."""
    return load(knowledge_dir())


def test_the_planner_costs_at_most_six_tenths_of_the_printed_six_steps(
    knowledge: Knowledge,
) -> None:
    """Same drawn faults, repairs and gates: less cost, fewer steps, no gate broken."""
    names = ["planner", "six_steps"]
    rows = summary(compare(knowledge, knowledge_dir(), names, 3, amplifiers=("linden_hall",)))
    planner, six = rows

    assert planner["cost"] <= 0.6 * six["cost"]
    assert planner["steps"] < six["steps"]
    assert planner["violations"] == six["violations"] == 0
    assert planner["live"] <= six["live"] / 2


@pytest.mark.parametrize("name", ["gain_per_cost", "gain_only", "cheapest", "random"])
def test_every_order_of_tests_comes_to_an_end_within_the_gates(
    knowledge: Knowledge, name: str
) -> None:
    """One drawn fault on the practice amplifier, to its end."""
    found = compare(knowledge, knowledge_dir(), [name], 1, amplifiers=("practice_amp",))
    (record,) = found[name]

    assert record.end in ("repaired", "handed_over", "called_sound")
    assert record.violations == 0
    assert record.steps > 0


def test_a_job_is_the_same_when_it_is_drawn_again(knowledge: Knowledge) -> None:
    """The seed fixes fault, answers and order."""
    runs = [
        compare(knowledge, knowledge_dir(), ["planner"], 2, amplifiers=("shelf_set",))["planner"]
        for _ in range(2)
    ]
    assert runs[0] == runs[1]


def test_records_are_the_same_with_two_workers(knowledge: Knowledge) -> None:
    """Two processes give what one gives, in the same order of amplifiers."""
    runs = [
        compare(
            knowledge,
            knowledge_dir(),
            ["six_steps"],
            1,
            amplifiers=("practice_amp", "shelf_set"),
            workers=workers,
        )
        for workers in (1, 2)
    ]
    assert runs[0] == runs[1]


def test_two_faults_are_mended_one_after_the_other(knowledge: Knowledge) -> None:
    """A pair of faults: each right repair takes one away, and the proof passes after the last."""
    bench = Bench.make(knowledge, knowledge.profiles["linden_hall"])
    rows = [row for row, h in enumerate(bench.grounded.hypotheses) if h.cause == "fuse.blown"]
    other = [
        row for row, h in enumerate(bench.grounded.hypotheses) if h.cause == "output_tube.gassy"
    ]
    pair = (rows[0] if rows else 0, other[0])
    world = PairWorld(bench.grounded, 5, pair)
    faults = Faults(bench, list(pair), world.mend)
    for row in pair:
        assert faults.repair(*faults.key(row))

    assert not faults.sick
    assert world.alive == ()
    bench.close()


def test_weights_at_half_and_double_reach_the_planner(knowledge: Knowledge) -> None:
    """Doubling what a wrong repair costs doubles that cost, and no other."""
    bench = Bench.make(knowledge, knowledge.profiles["shelf_set"])
    dear = weighted(bench, WEIGHTINGS["wrong_double"])
    i = bench.groups.keys.index(next(k for k in bench.groups.keys if k[0] == "clean_control"))

    assert dear.groups.costs[i] == pytest.approx(2 * bench.groups.costs[i])
    assert dear.groups.right[i] == pytest.approx(bench.groups.right[i])


def test_calibration_error_is_the_mean_gap_between_forecast_and_outcome() -> None:
    """Ten leaders at 0.8 of which six were right: 0.2."""
    records = [Record(shown=[(0.8, i < 6)]) for i in range(10)]
    error, rows = calibration(records)
    assert error == pytest.approx(0.2)
    assert rows[0]["n"] == 10


def test_the_command_prints_rows_and_refuses_an_unknown_order(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A small run by the command; a wrong name is told with the right ones."""
    assert main(["compare", "--faults", "1", "--orders", "planner"]) == 0
    assert "wrong parts" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main(["compare", "--orders", "best"])
    assert "six_steps" in capsys.readouterr().err
