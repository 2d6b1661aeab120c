"""Causes taken out of the knowledge, and the picture of how far probabilities come true."""

from __future__ import annotations

from pathlib import Path

import pytest

from triage.cli.main import main
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.quality.jobs import Record
from triage.quality.reliability import diagram
from triage.quality.removed import UNKNOWN, Trial, shares, trials, without


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """The real knowledge."""
    return load(knowledge_dir())


def test_a_cause_taken_out_is_never_the_leader(knowledge: Knowledge) -> None:
    """Its own repair may still lead where a known twin shares it; the unknown may lead."""
    profile = knowledge.profiles["practice_amp"]
    found = trials(knowledge, profile, 4, 2)

    assert found and all(trial.leaders for trial in found)
    cause = found[0].cause
    gone = without(knowledge, cause)
    assert gone.causes[cause].rate < 1e-9 < knowledge.causes[cause].rate
    assert gone.causes[cause].makes == knowledge.causes[cause].makes


def test_a_known_cause_seldom_raises_a_false_alarm(knowledge: Knowledge) -> None:
    """The same jobs with the cause in: the unknown leads in few of them before any repair."""
    found = trials(knowledge, knowledge.profiles["practice_amp"], 15, 2, removed=False)

    assert shares(found)["before_any_repair"] <= 0.25


def test_shares_count_the_first_leader_and_the_one_after_a_failed_proof() -> None:
    """A twin with the same repair counts as right only where the cause was taken out."""
    twin, j1, j2 = ("replace_fuse", "F1"), ("clean_jack", "J1"), ("clean_jack", "J2")
    jobs = [
        Trial("a", True, twin, (UNKNOWN,), (0.3,), ()),
        Trial("b", True, twin, (j1, twin, twin), (0.8, 0.5, 0.9), (False, True)),
        Trial("c", True, twin, (j1, j2), (0.5, 0.4), (False,)),
    ]
    found = shares(jobs)
    assert found["before_any_repair"] == pytest.approx(1 / 3)
    assert found["misled"] == pytest.approx(1 / 3)
    assert found["failed_proofs"] == 2.0
    assert found["after_a_failed_proof"] == pytest.approx(1 / 2)
    assert not Trial("b", False, twin, (twin,), (0.9,), ()).first(twin)


def test_a_proof_that_passed_is_no_failed_one() -> None:
    """What leads after a cure says nothing of what is not in the knowledge."""
    twin = ("replace_fuse", "F1")
    cured = Trial("a", True, twin, (twin, UNKNOWN), (0.9, 0.4), (True,))

    assert cured.after_failure is None
    assert shares([cured])["failed_proofs"] == 0.0


def test_a_reliability_diagram_holds_every_bin_and_the_diagonal(tmp_path: Path) -> None:
    """Bins are points with their counts; the command writes the picture."""
    record = Record(shown=[(0.25, False), (0.25, True), (0.85, True)])
    graph = diagram("planner", [record])
    assert [mark.label for mark in graph.marks] == ["2", "1"]
    assert graph.series[0].x == graph.series[0].y == (0.0, 1.0)

    target = tmp_path / "drawn.svg"
    args = ["compare", "--faults", "1", "--orders", "planner", "--reliability", str(target)]
    assert main(args) == 0
    assert target.read_text(encoding="utf-8").startswith("<svg")
