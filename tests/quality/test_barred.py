"""Hand-overs that are right because the rest is closed to the person at the bench."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from triage.assess import Bench
from triage.job.desk import Moment
from triage.job.session import Session
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.quality.barred import repair_barred, steps_barred
from triage.quality.compare import summary
from triage.quality.jobs import Record
from triage.quality.owners import owned


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    """The real knowledge."""
    return load(knowledge_dir())


@pytest.fixture(scope="module")
def bench(knowledge: Knowledge) -> Iterator[Bench]:
    """A hobbyist before the Linden Hall."""
    profile = knowledge.profiles["linden_hall"]
    owner = profile.owner.model_copy(update={"skill": "hobbyist"})
    made = Bench.make(knowledge, profile.model_copy(update={"owner": owner}))
    yield made
    made.close()


def moment_of(bench: Bench) -> Moment:
    """A job that has just begun."""
    session = Session(bench, lambda event: None, lambda: 0.0)
    session.begin()
    session.complaint_over()
    return session.moment


def test_a_repair_that_is_handed_over_is_barred_to_a_hobbyist_only(
    knowledge: Knowledge, bench: Bench
) -> None:
    """The same row is this person's to hand over, and a technician's to mend."""
    handed = [
        row
        for row, h in enumerate(bench.grounded.hypotheses[: bench.grounded.healthy])
        if knowledge.repairs[knowledge.causes[h.cause].repair].hand_over
    ]
    other = Bench.make(knowledge, owned(bench.profile, "workshop"))
    assert handed
    assert repair_barred(moment_of(bench), handed[0])
    assert not repair_barred(moment_of(other), handed[0])
    assert not repair_barred(moment_of(bench), bench.grounded.unknown)
    other.close()


def test_steps_are_barred_only_where_no_step_that_is_allowed_is_left(bench: Bench) -> None:
    """With something left to look at, it is no bar; with all own steps gone, a technician's is."""
    row = next(
        row for row, h in enumerate(bench.grounded.hypotheses) if h.cause == "coupling_cap.leaky"
    )
    assert not steps_barred(moment_of(bench), row)
    assert steps_barred(moment_of(replace(bench, candidates=())), row)
    assert not steps_barred(moment_of(replace(bench, candidates=())), bench.grounded.healthy)


def test_the_ways_in_which_a_hand_over_is_right_are_counted_apart() -> None:
    """Beyond, named and barred stand beside the sum, which counts none twice."""
    jobs = [
        Record(end="handed_over", right=True, beyond=True, named=True),
        Record(end="handed_over", right=True, barred=True),
        Record(end="handed_over"),
        Record(end="repaired", right=True),
    ]
    (row,) = summary({"planner": jobs})
    assert (row["hand_overs"], row["right_hand_overs"]) == (3, 2)
    apart = [row[f"hand_overs_{way}"] for way in ("beyond", "named", "barred")]
    assert apart == [1, 1, 1]
