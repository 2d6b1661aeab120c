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
SURE = 0.6
"""A wrong leader from this probability on has misled: of such leaders most are right."""


@dataclass(frozen=True)
class Trial:
    """One job: what led before each repair and at the end, with its probability.

    ``cured``: of every repair made, whether it cured; ``leaders`` and ``chances`` hold one more.
    """

    cause: str
    removed: bool
    twin: tuple[str, str]
    leaders: tuple[tuple[str, str], ...]
    chances: tuple[float, ...]
    cured: tuple[bool, ...]

    @property
    def after_failure(self) -> tuple[str, str] | None:
        """What led after the first proof that failed; None where none did."""
        failed = [n for n, cured in enumerate(self.cured) if not cured]
        return self.leaders[failed[0] + 1] if failed else None

    @property
    def misled(self) -> bool:
        """Whether a wrong repair was likelier than all else: the findings look like its cause's."""
        return self.removed and not self.first(self.leaders[0]) and self.chances[0] >= SURE

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
        cured = tuple(right for _, right in record.forecast)
        leaders, chances = tuple(record.leaders), tuple(record.chances)
        found.append(Trial(cause, removed, twin, leaders, chances, cured))
        if removed:
            bench.close()
    whole.close()
    return found


def shares(found: Sequence[Trial]) -> dict[str, float]:
    """Share of jobs in which the unknown led: before any repair, and after the first failed proof.

    ``misled``: share of jobs in which a wrong repair led by far before any was made.
    """
    jobs = max(len(found), 1)
    after = [(trial, led) for trial in found if (led := trial.after_failure) is not None]
    return {
        "jobs": float(len(found)),
        "before_any_repair": sum(t.first(t.leaders[0]) for t in found) / jobs,
        "misled": sum(t.misled for t in found) / jobs,
        "failed_proofs": float(len(after)),
        "after_a_failed_proof": sum(t.first(led) for t, led in after) / max(len(after), 1),
    }
