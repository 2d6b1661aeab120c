"""Faults injected in ngspice and ranked: ``python -m tests.benchmarks.bench_injected --n 500 --seed 1``.

Each amplifier is drawn and solved outside the ranking (``injected.py``). All its DC points are read
once and ranked three ways: readings taken together through the circuit, in the whole ranking; the
same without any rule or word (circuit and priors alone); and verdicts with words and rules, as they
are without a circuit's distribution. Counted are faults that move some point by more than three
standard deviations of the sound amplifiers drawn beside them.

The leading group: all repairs (at their places) with at least a third of the best one's chance.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.benchmarks.bench_next_question import machine
from tests.benchmarks.injected import Injected, bench_of, draw, key_of, plain
from triage.job.desk import Moment, Tools, amp_facts
from triage.job.fold import Answered, JobState
from triage.job.visit import visit_of
from triage.safety.states import SafetyState

KEPT = Path(__file__).with_name("kept_injected.json")
ALIKE = 1.0 / 3.0
"""Repairs with at least this share of the best one's chance stand in the leading group."""
SIGMAS = 3.0
WAYS = ("together", "circuit alone", "words and rules")
LEAST_SD_V = 0.01


@dataclass(frozen=True)
class Ranked:
    """What one way of ranking said: the true repair's place (1 = first), the leading group."""

    place: int
    group: int
    inside: bool
    p: float


def moment_of(row: Injected, *, together: bool) -> Moment:
    """The job with all readings typed in, and the line."""
    bench = bench_of(row.circuit)
    power = "idle" if together else ""
    rows = [("line_volts", "line", row.line), *((*key_of(k), t) for k, t in row.typed.items())]
    answers = tuple(
        Answered(i, finding, place, "unknown", typed=typed, kept=True, power=power)
        for i, (finding, place, typed) in enumerate(rows)
    )
    state = JobState(answers=answers, safety=SafetyState(mains="on", tubes="all_in"))
    return Moment(bench, Tools.of(bench), state, amp_facts(bench))


def ranked(row: Injected, posterior: np.ndarray) -> Ranked:
    """Where the true repair stands among all repairs, ``nothing is wrong`` and ``unknown`` included."""
    bench = bench_of(row.circuit)
    mass = np.bincount(bench.groups.of_row, posterior, len(bench.groups.keys))
    true = bench.groups.keys.index((bench.knowledge.causes[row.cause].repair, row.place))
    order = [int(g) for g in np.argsort(-mass, kind="stable")]
    lead = [g for g in order if mass[g] >= ALIKE * mass[order[0]]]
    return Ranked(order.index(true) + 1, len(lead), true in lead, float(mass[true]))


def by_circuit(row: Injected) -> np.ndarray:
    """Posterior by the circuit's distributions and the priors alone."""
    bench = bench_of(row.circuit)
    visit = visit_of(moment_of(row, together=True))
    assert visit is not None and bench.likelihood is not None
    fit = bench.likelihood.fit(visit)
    log = np.full(len(bench.grounded.hypotheses), -np.inf)
    for i, h in enumerate(bench.grounded.hypotheses):
        if (h.cause, h.place) in fit.by_row:
            log[i] = np.log(bench.grounded.prior[i]) + fit.by_row[(h.cause, h.place)]
    log[bench.grounded.healthy] = np.log(bench.grounded.prior[bench.grounded.healthy]) + fit.sound
    weights = np.exp(log - log.max())
    return np.asarray(weights / weights.sum())


def all_ways(row: Injected) -> tuple[Ranked, ...]:
    """The three ways, in the order of ``WAYS``."""
    together = moment_of(row, together=True).assessment.state.posterior
    words = moment_of(row, together=False).assessment.state.posterior
    return ranked(row, together), ranked(row, by_circuit(row)), ranked(row, words)


def moving(rows: Sequence[Injected]) -> list[Injected]:
    """Those whose fault moves some point by more than three standard deviations of sound ones."""
    sound: dict[tuple[str, str], list[float]] = {}
    for row in rows:
        for key, value in row.sound.items():
            sound.setdefault((row.circuit, key), []).append(value)
    sd = {key: max(float(np.std(values)), LEAST_SD_V) for key, values in sound.items()}
    return [
        row
        for row in rows
        if any(move > SIGMAS * sd[(row.circuit, key)] for key, move in row.moved.items())
    ]


def summary(found: Sequence[tuple[Ranked, ...]]) -> dict[str, dict[str, float]]:
    """Shares by way."""
    said = {}
    for i, way in enumerate(WAYS):
        rows = [ways[i] for ways in found]
        said[way] = {
            "in the leading group": float(np.mean([r.inside for r in rows])),
            "mean group": float(np.mean([r.group for r in rows])),
            "first": float(np.mean([r.place == 1 for r in rows])),
            "in the first three": float(np.mean([r.place <= 3 for r in rows])),
            "mean chance of the true": float(np.mean([r.p for r in rows])),
        }
    return said


def drawn(n: int, seed: int) -> tuple[list[Injected], int]:
    """``n`` amplifiers, and how many ngspice could not solve."""
    rng = np.random.default_rng(seed)
    rows: list[Injected] = []
    lost = 0
    while len(rows) < n:
        row = draw(rng)
        if row is None:
            lost += 1
        else:
            rows.append(row)
    return rows, lost


def read_kept(path: Path = KEPT) -> list[Injected]:
    """Amplifiers out of a file."""
    return [Injected(**row) for row in json.loads(path.read_text(encoding="utf-8"))["rows"]]


def main(argv: Sequence[str] | None = None) -> int:
    """Draw (or read), rank, print."""
    parser = argparse.ArgumentParser(prog="bench_injected", description=__doc__)
    parser.add_argument("--n", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="write what ngspice said to this file")
    parser.add_argument("--read", type=Path, help="rank what such a file holds, without ngspice")
    parser.add_argument("--misses", action="store_true", help="list what is not in its group")
    args = parser.parse_args(argv)
    print(machine())
    began = time.perf_counter()
    rows, lost = (read_kept(args.read), 0) if args.read else drawn(args.n, args.seed)
    origin = f"read from {args.read.name}" if args.read else f"seed {args.seed}"
    print(f"{origin}: {len(rows)} amplifiers in {time.perf_counter() - began:.0f} s, ", end="")
    print(f"without a point in ngspice: {lost}")
    if args.keep:
        data = {"made_by": "ngspice", "seed": args.seed, "rows": [plain(r) for r in rows]}
        args.keep.write_text(json.dumps(data, separators=(",", ":")) + "\n", encoding="utf-8")
    chosen = moving(rows)
    began = time.perf_counter()
    found = [all_ways(row) for row in chosen]
    print(f"{len(chosen)} move some point by more than {SIGMAS:g} standard deviations; ", end="")
    print(f"ranked in {time.perf_counter() - began:.0f} s")
    for way, said in summary(found).items():
        print(f"  {way}: " + ", ".join(f"{name} {value:.3f}" for name, value in said.items()))
    if args.misses:
        for row, ways in zip(chosen, found, strict=True):
            if not ways[0].inside:
                places = [r.place for r in ways]
                print(f"    {row.circuit} {row.fault} {row.cause} at {row.place}: {places}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
