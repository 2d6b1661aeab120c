"""Two faults at once: drawn pairs are noticed, and most jobs end with both mended."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from triage.assess import Bench
from triage.infer.epochs import changed_by
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.quality.owners import owned
from triage.quality.two_faults import drawn_pairs, noticed, pair_jobs
from triage.world.pair import PairWorld


@pytest.fixture(scope="module")
def bench() -> Iterator[Bench]:
    """The practice amplifier on a technician's bench."""
    knowledge = load(knowledge_dir())
    made = Bench.make(knowledge, owned(knowledge.profiles["practice_amp"], "workshop"))
    yield made
    made.close()


def test_each_fault_of_a_drawn_pair_would_be_noticed_alone(bench: Bench) -> None:
    """Both make something that the owner says; the same seed draws the same pairs."""
    pairs = [world for _, world in drawn_pairs(bench, 5, 1)]

    assert len(pairs) == 5
    assert all(noticed(bench.grounded, alone) for world in pairs for alone in world.apart)
    again = [world.alive for _, world in drawn_pairs(bench, 5, 1)]
    assert again == [world.alive for world in pairs]


def test_most_jobs_on_two_faults_end_with_both_mended_and_proven(bench: Bench) -> None:
    """Repair, prove, go on; no gate broken. The long run is ``triage compare --pairs``."""
    jobs = pair_jobs(bench, 10)

    assert sum(job.both for job in jobs) >= 7
    assert all(job.record.violations == 0 for job in jobs)


def test_what_neither_fault_bears_on_goes_as_usual_and_a_mended_fault_makes_nothing(
    bench: Bench,
) -> None:
    """Answers outside both faults' words are those of the sound amplifier, before and after."""
    rows = next(world for _, world in drawn_pairs(bench, 1, 2)).alive
    world = PairWorld(bench.grounded, 11, (rows[0], rows[1]))
    made = set(changed_by(bench.grounded, rows))
    outside = [i.key for i in bench.grounded.instances if i.index not in made]
    before = [world.ask(*key) for key in outside]
    first = {key: world.ask(*key) for key in (i.key for i in bench.grounded.instances)}
    for row in rows:
        world.mend(row)
    after = {key: world.ask(*key) for key in first}

    assert [after[key] for key in outside] == before
    assert any(after[key] != first[key] for key in first)
