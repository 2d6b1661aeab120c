"""How long the next step takes as knowledge grows. ``python -m tests.benchmarks.bench_scale``.

Knowledge is drawn to size (see ``drawn``); jobs with a drawn true cause are followed by the advice
itself (or by its best reading, where it would rather repair), each with a fresh model, as in a
session, its columns made at the start as a session's are. One decision: the state of all that is known, the
prices, and the advice. The first decision of a job finds nothing kept from before; it is counted
with the others and also printed alone. Aim: p95 of at most 100 ms at 1500 hypotheses and 400
procedures.
"""

from __future__ import annotations

import argparse
import gc
import os
import random
import statistics
import sys
import time

import numpy as np

from tests.benchmarks.bench_next_question import machine, share
from tests.benchmarks.drawn import COMPLAINTS, counts, drawn
from tests.plan.bare import Free
from triage.infer.gather import Observation, gather
from triage.infer.ground import Grounded
from triage.infer.posterior import Model
from triage.plan.advise import Situation, advise
from triage.plan.candidates import ground_procedures, warm
from triage.plan.costs import RepairGroups

SIZES = ((375, 100), (750, 200), (1500, 400), (3000, 800))
JOBS = 8
STEPS = 8


class Job:
    """A true cause, what has been seen of it, and the decisions that followed."""

    def __init__(self, grounded: Grounded, seed: int) -> None:
        self.rng = random.Random(seed)
        self.grounded = grounded
        self.row = self.rng.choices(
            range(grounded.healthy), grounded.prior[: grounded.healthy].tolist()
        )[0]
        self.signs = [self.rng.random() < p for p in grounded.sign_p[:, self.row]]
        self.model = Model(grounded)
        self.groups = RepairGroups(grounded)
        self.candidates = tuple(ground_procedures(grounded))
        warm(self.model, self.candidates)
        self.seen: list[Observation] = []
        self.complain()

    def answer(self, finding: int) -> Observation:
        """What a person would report of a finding here."""
        instance = self.grounded.instances[finding]
        column = self.row if instance.sign is None else int(self.signs[instance.sign])
        chances = instance.table[:, column].tolist()
        answer = self.rng.choices(instance.answers, chances)[0]
        return Observation(*instance.key, answer)

    def complain(self) -> None:
        """The free complaint: what is off at the amplifier, as far as it is told."""
        for number in range(COMPLAINTS):
            finding = self.grounded.index[(f"amp_f{number}", "amp")]
            said = self.answer(finding)
            if said.answer != "a0" and self.rng.random() < self.grounded.instances[finding].told:
                self.seen.append(said)

    def decide(self) -> tuple[float, float, bool]:
        """Make one decision; its seconds, by the clock and of the processor, and whether it goes on."""
        began, busy = time.perf_counter(), time.process_time()
        gathered = gather(self.grounded, self.seen, complaint_told=True)
        state = self.model.state(gathered.evidence)
        situation = Situation(
            state=state,
            groups=self.groups,
            candidates=self.candidates,
            asked=frozenset(self.grounded.index[o.key] for o in self.seen),
            applicable=gathered.applicable,
            declined={},
        )
        advice = advise(situation, Free())
        took, used = time.perf_counter() - began, time.process_time() - busy
        if not advice.options:
            return took, used, False
        best = advice.options[0].priced.findings
        self.seen += [self.answer(f) for f in advice.findings or best]
        return took, used, True


def decisions(
    grounded: Grounded, jobs: int, steps: int
) -> tuple[list[float], list[float], list[float]]:
    """Seconds of every decision, of the first of each job, and of the processor."""
    busy: list[float] = []
    took: list[float] = []
    first: list[float] = []
    for seed in range(jobs):
        job = Job(grounded, seed)
        for step in range(steps):
            seconds, used, on = job.decide()
            took.append(seconds)
            busy.append(used)
            if step == 0:
                first.append(seconds)
            if not on:
                break
    return took, first, busy


def main(argv: list[str]) -> int:
    """Print the figures of every size."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=JOBS)
    parser.add_argument("--sizes", type=int, nargs="*", default=range(len(SIZES)))
    args = parser.parse_args(argv)
    print(f"{machine()}, NumPy {np.__version__}")
    if hasattr(os, "getloadavg"):
        print(f"load before: {os.getloadavg()[0]:.1f}")
    base = None
    for number in args.sizes:
        grounded = drawn(*SIZES[number])
        print(", ".join(f"{n} {name}" for name, n in counts(grounded).items()))
        began = time.perf_counter()
        warm(Model(grounded), ground_procedures(grounded))
        built = time.perf_counter() - began
        gc.collect()
        took, first, busy = decisions(grounded, args.jobs, STEPS)
        p95 = share(took, 0.95)
        base = base or p95
        print(
            f"  {len(took)} decisions: p50 {1000 * share(took, 0.5):.1f} ms, "
            f"p95 {1000 * p95:.1f} ms, most {1000 * max(took):.1f} ms; "
            f"of the processor p95 {1000 * share(busy, 0.95):.1f} ms; first of a job "
            f"{1000 * statistics.median(first):.1f} ms; p95 is {p95 / base:.1f} times that of the "
            f"first size; model built in {1000 * built:.0f} ms"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
