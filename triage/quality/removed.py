"""A cause taken out of the knowledge: whether the unknown is then put first, and only then."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from triage.assess import Bench
from triage.knowledge.load import Knowledge
from triage.model.profile import Profile
from triage.quality.compare import draws
from triage.quality.jobs import Faults, run_job

NEVER = 1e-12
UNKNOWN = ("hand_over", "")


@dataclass(frozen=True)
class Trial:
    """One job: what led before the first repair (or the end), and after each failed proof."""

    cause: str
    removed: bool
    twin: tuple[str, str]
    leaders: tuple[tuple[str, str], ...]

    def first(self, leader: tuple[str, str]) -> bool:
        """Whether the unknown led; of a removed cause, a twin with the same repair counts too."""
        return leader == UNKNOWN or (self.removed and leader == self.twin)


def without(knowledge: Knowledge, cause: str) -> Knowledge:
    """The same knowledge in which this cause never happens (its words and rules stay unused)."""
    entry = knowledge.causes[cause]
    gone = entry.model_copy(update={"rate": NEVER})
    return replace(knowledge, causes={**knowledge.causes, cause: gone})


def trials(
    knowledge: Knowledge, profile: Profile, wanted: int, seed: int, *, removed: bool = True
) -> Sequence[Trial]:
    """Jobs on faults drawn from the prior, on a bench that does not know them.

    ``removed`` False: on a bench that does, for the false alarms.
    """
    whole = Bench.make(knowledge, profile)
    grounded = whole.grounded
    found: list[Trial] = []
    for drawn in draws(whole, wanted, seed, "rules"):
        if drawn.row >= grounded.healthy:
            continue
        cause = grounded.hypotheses[drawn.row].cause
        bench = Bench.make(without(knowledge, cause), profile) if removed else whole
        faults = Faults(whole, [drawn.row])
        twin = faults.key(drawn.row)
        record = run_job(bench, drawn, faults)
        found.append(Trial(cause, removed, twin, tuple(record.leaders)))
        if removed:
            bench.close()
    whole.close()
    return found


def shares(found: Sequence[Trial]) -> dict[str, float]:
    """Share of jobs in which the unknown led: before any repair, and after a failed proof."""
    after = [trial for trial in found if len(trial.leaders) > 1]
    return {
        "jobs": float(len(found)),
        "before_any_repair": sum(t.first(t.leaders[0]) for t in found) / max(len(found), 1),
        "failed_proofs": float(len(after)),
        "after_a_failed_proof": sum(t.first(t.leaders[1]) for t in after) / max(len(after), 1),
    }
