"""Orders of tests held against each other on the same drawn faults, from one run."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

from triage.assess import Bench
from triage.knowledge.load import Knowledge
from triage.quality.jobs import Faults, Record, run_job, weighted
from triage.quality.owners import owned
from triage.quality.policies import policies
from triage.quality.six_steps import Order, load_order, wiring
from triage.world.rules import RulesWorld
from triage.world.shaken import ShakenWorld

WORLDS = {"rules": RulesWorld, "shaken": ShakenWorld}
SCENARIOS = ("linden_hall", "grandmothers_console", "practice_amp", "shelf_set", "dance_band")
RISKS = ("live_touch", "charged_touch", "clip_cold", "energised_step", "risk_low", "risk_medium")
WEIGHTINGS: Mapping[str, Mapping[str, float]] = {
    "as_written": {},
    "risk_half": dict.fromkeys((*RISKS, "risk_high"), 0.5),
    "risk_double": dict.fromkeys((*RISKS, "risk_high"), 2.0),
    "money_half": {"money": 0.5},
    "money_double": {"money": 2.0},
    "wrong_half": {"wrong_repair": 0.5},
    "wrong_double": {"wrong_repair": 2.0},
}
TRIES = 6


def draws(bench: Bench, faults: int, seed: int, world: str) -> Iterator[RulesWorld]:
    """Benches with a fault drawn from the prior, of which somebody complains."""
    found = 0
    for n in range(faults * TRIES):
        drawn = WORLDS[world](bench.grounded, seed * 1_000_000 + n)
        if drawn.complaint():
            found += 1
            yield drawn
        if found == faults:
            return


@dataclass(frozen=True)
class Setting:
    """What is run on every amplifier: ``faults`` drawn jobs for each of the orders ``names``."""

    names: tuple[str, ...]
    faults: int
    seed: int = 1
    world: str = "rules"
    weighting: str = "as_written"
    owner: str = "own"


def compare(
    knowledge: Knowledge,
    root: Path,
    names: Sequence[str],
    faults: int,
    *,
    seed: int = 1,
    world: str = "rules",
    weighting: str = "as_written",
    amplifiers: Sequence[str] = SCENARIOS,
    owner: str = "own",
    workers: int = 1,
) -> dict[str, list[Record]]:
    """Records of every job, by order of tests.

    Parameters
    ----------
    root : folder of the knowledge (for the frozen order).
    names : orders of tests, see ``policies``.
    faults : jobs on each amplifier.
    owner : who stands at the bench, see ``owned``.
    workers : processes, at most one an amplifier; the records are the same with any number.
    """
    run = partial(
        _on_amplifier,
        knowledge,
        load_order(root, knowledge),
        Setting(tuple(names), faults, seed, world, weighting, owner),
    )
    if workers > 1:
        with ProcessPoolExecutor(min(workers, len(amplifiers))) as pool:
            found = list(pool.map(run, amplifiers))
    else:
        found = [run(amplifier) for amplifier in amplifiers]
    return {name: [record for records in found for record in records[name]] for name in names}


def _on_amplifier(
    knowledge: Knowledge, order: Order, setting: Setting, amplifier: str
) -> dict[str, list[Record]]:
    first = Bench.make(knowledge, owned(knowledge.profiles[amplifier], setting.owner))
    bench = weighted(first, WEIGHTINGS[setting.weighting])
    first.close()
    advisers = policies(order, wiring(bench.grounded.places), setting.seed)
    records: dict[str, list[Record]] = {}
    for name in setting.names:
        bench = bench.advised_by(advisers[name])
        records[name] = [
            run_job(bench, drawn, Faults(bench, [drawn.row]))
            for drawn in draws(bench, setting.faults, setting.seed, setting.world)
        ]
    bench.close()
    return records


def summary(records: Mapping[str, Sequence[Record]]) -> list[dict[str, Any]]:
    """One row for each order; ratios to ``six_steps`` where it was run too."""
    base = records.get("six_steps")
    rows = []
    for name, jobs in records.items():
        cost = np.array([job.cost for job in jobs])
        minutes = np.array([job.minutes for job in jobs])
        hands = [job for job in jobs if job.end == "handed_over"]
        rows.append(
            {
                "order": name,
                "jobs": len(jobs),
                "cost": float(cost.mean()),
                "cost_median": float(np.median(cost)),
                "cost_p95": float(np.percentile(cost, 95)),
                "minutes": float(minutes.mean()),
                "steps": float(np.mean([job.steps for job in jobs])),
                "live": float(np.mean([job.live for job in jobs])),
                "clips": float(np.mean([job.clips for job in jobs])),
                "isolated": float(np.mean([job.isolated for job in jobs])),
                "repaired": float(np.mean([job.end == "repaired" for job in jobs])),
                "hand_overs": len(hands),
                "right_hand_overs": sum(job.right for job in hands),
                "hand_overs_beyond": sum(job.beyond for job in hands),
                "hand_overs_named": sum(job.named for job in hands),
                "hand_overs_barred": sum(job.barred for job in hands),
                "wrong_parts": float(np.mean([job.wrong_parts for job in jobs])),
                "wrong_dear": float(np.mean([job.wrong_expensive for job in jobs])),
                "violations": sum(job.violations for job in jobs),
                "cost_to_six": float(cost.mean() / np.mean([j.cost for j in base]))
                if base
                else None,
            }
        )
    return rows


def calibration(records: Sequence[Record], bins: int = 10) -> tuple[float, list[dict[str, float]]]:
    """Expected calibration error of what was shown at every step, and the bins behind it.

    Shown is the probability of the leading repair; it came true if that repair is the right one.
    """
    pairs = [pair for record in records for pair in record.shown]
    if not pairs:
        return 0.0, []
    p = np.array([forecast for forecast, _ in pairs])
    hit = np.array([float(cured) for _, cured in pairs])
    at = np.minimum((p * bins).astype(int), bins - 1)
    rows = [
        {
            "forecast": float(p[at == b].mean()),
            "came_true": float(hit[at == b].mean()),
            "n": float((at == b).sum()),
        }
        for b in range(bins)
        if (at == b).any()
    ]
    error = sum(row["n"] * abs(row["forecast"] - row["came_true"]) for row in rows) / len(pairs)
    return float(error), rows
