"""How long the next step takes as knowledge grows. ``python -m tests.benchmarks.bench_scale``.

Knowledge is drawn to size (see ``drawn``); jobs with a drawn true cause are followed by the advice
itself (or by its best reading, where it would rather repair), each with a fresh model, as in a
session, its columns made at the start as a session's are. One decision: the state of all that is
known, the prices, and the advice. The first decision of a job finds nothing kept from before; it is
counted with the others and also printed alone. Aim: p95 of at most 100 ms at 1500 hypotheses and
400 procedures. Every size runs in a fresh process with one thread for products, as the command
``triage`` sets it; the largest once more with as many threads as there are cores.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import random
import statistics
import subprocess
import sys
import time
from typing import Any

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

SIZES = ((375, 100), (750, 200), (1500, 400))
"""Hypotheses and procedures: once, twice and four times."""
THREADS = "OPENBLAS_NUM_THREADS"
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


def measured(number: int, jobs: int) -> dict[str, Any]:
    """Figures of one size, in this process; times in milliseconds."""
    grounded = drawn(*SIZES[number])
    began = time.perf_counter()
    warm(Model(grounded), ground_procedures(grounded))
    built = time.perf_counter() - began
    gc.collect()
    took, first, busy = decisions(grounded, jobs, STEPS)
    seconds = {
        "p50": share(took, 0.5),
        "p95": share(took, 0.95),
        "most": max(took),
        "first": statistics.median(first),
        "busy_p50": share(busy, 0.5),
        "busy_p95": share(busy, 0.95),
        "built": built,
    }
    times = {name: 1000.0 * value for name, value in seconds.items()}
    return {"counts": counts(grounded), "decisions": len(took), **times}


def apart(number: int, jobs: int, threads: str | None = "1") -> dict[str, Any]:
    """The same in a fresh process with so many threads; None leaves their number free."""
    env = {name: value for name, value in os.environ.items() if name != THREADS}
    if threads is not None:
        env[THREADS] = threads
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.bench_scale"]
        + ["--only", str(number), "--jobs", str(jobs)],
        env=env,
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def told(found: dict[str, Any]) -> str:
    """One line of figures."""
    return (
        f"{found['decisions']} decisions: p50 {found['p50']:.1f} ms, p95 {found['p95']:.1f} ms, "
        f"most {found['most']:.1f} ms; of the processor p50 {found['busy_p50']:.1f} ms, "
        f"p95 {found['busy_p95']:.1f} ms; first of a job {found['first']:.1f} ms; "
        f"model built in {found['built']:.0f} ms"
    )


def main(argv: list[str]) -> int:
    """Print the figures of every size, how they grow, and what free threads do to the largest."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=JOBS)
    parser.add_argument("--only", type=int, choices=range(len(SIZES)), metavar="N",
        help="one size, in this process, as JSON")  # fmt: skip
    args = parser.parse_args(argv)
    if args.only is not None:
        print(json.dumps(measured(args.only, args.jobs)))
        return 0
    print(f"{machine()}, NumPy {np.__version__}")
    if hasattr(os, "getloadavg"):
        print(f"load before: {os.getloadavg()[0]:.1f}")
    base: dict[str, Any] | None = None
    for number in range(len(SIZES)):
        found = apart(number, args.jobs)
        base = base or found
        print(", ".join(f"{n} {name}" for name, n in found["counts"].items()))
        print(f"  one thread, {told(found)}")
        print(
            f"  {2**number} x the size: p95 {found['p95'] / base['p95']:.1f} times by the clock, "
            f"{found['busy_p95'] / base['busy_p95']:.1f} times of the processor"
        )
    print(f"  free threads, {told(apart(len(SIZES) - 1, args.jobs, None))}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
