"""Two faults at once: drawn pairs, whole jobs by repair, proof and going on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from triage.assess import Bench
from triage.infer.epochs import changed_by
from triage.infer.ground import Grounded
from triage.quality.jobs import Faults, Record, run_job
from triage.world.pair import PairWorld
from triage.world.rules import RulesWorld

TRIES = 40
NO_FAULT = "explain_normal"
"""Repair of what is no fault at all."""


@dataclass(frozen=True)
class PairJob:
    """One job on two faults: the rows, what it took, and the rows that were left."""

    rows: tuple[int, int]
    record: Record
    left: tuple[int, ...]

    @property
    def both(self) -> bool:
        """Whether both faults were found and the last proof passed."""
        return not self.left and self.record.end == "repaired"


def noticed(grounded: Grounded, world: RulesWorld) -> bool:
    """Whether the owner says something that this fault itself makes."""
    made = changed_by(grounded, [world.row])
    return any(grounded.index[key] in made for key, _ in world.complaint())


def drawn_pairs(bench: Bench, wanted: int, seed: int) -> Iterator[tuple[int, PairWorld]]:
    """Benches with two faults drawn from the prior, each of which its owner would notice alone.

    A fault that nobody notices can't be missed at a proof under the complaint's own conditions, so
    it is no part of the job; what is only taken for a fault is none. Unlike repairs mend the two.
    """
    grounded = bench.grounded
    prior = grounded.prior.copy()
    prior[grounded.healthy :] = 0.0
    for row, hypothesis in enumerate(grounded.hypotheses[: grounded.healthy]):
        if bench.knowledge.causes[hypothesis.cause].repair == NO_FAULT:
            prior[row] = 0.0
    prior /= prior.sum()
    draw = np.random.default_rng(seed)
    found = 0
    for n in range(wanted * TRIES):
        a, b = (int(row) for row in draw.choice(len(prior), 2, replace=False, p=prior))
        at = seed * 1_000_000 + n
        world = PairWorld(grounded, at, (a, b))
        if bench.groups.of_row[a] == bench.groups.of_row[b]:
            continue
        if all(noticed(grounded, alone) for alone in world.apart):
            found += 1
            yield at, world
        if found == wanted:
            return


def pair_jobs(bench: Bench, wanted: int, seed: int = 1) -> Sequence[PairJob]:
    """Whole jobs on drawn pairs of faults, with the order of tests of this bench."""
    jobs = []
    for _, world in drawn_pairs(bench, wanted, seed):
        rows = world.alive
        faults = Faults(bench, list(rows), world.mend)
        record = run_job(bench, world, faults)
        jobs.append(PairJob((rows[0], rows[1]), record, tuple(faults.rows)))
    return jobs


def pair_summary(amplifier: str, jobs: Sequence[PairJob]) -> dict[str, Any]:
    """One row for one amplifier."""
    return {
        "amplifier": amplifier,
        "jobs": len(jobs),
        "both_mended": sum(job.both for job in jobs),
        "one_left": sum(len(job.left) == 1 for job in jobs),
        "two_left": sum(len(job.left) == 2 for job in jobs),
        "handed_over": sum(job.record.end == "handed_over" for job in jobs),
        "steps": float(np.mean([job.record.steps for job in jobs])) if jobs else 0.0,
        "wrong_parts": float(np.mean([job.record.wrong_parts for job in jobs])) if jobs else 0.0,
        "violations": sum(job.record.violations for job in jobs),
    }
