"""Which answer to doubt where the findings hang together worse than chance.

Nothing is dropped: a doubted answer counts until it has been looked at once more.
"""

from __future__ import annotations

from dataclasses import dataclass

from triage.infer.posterior import Evidence, State


@dataclass(frozen=True)
class Doubt:
    """An answer, and how surprising the findings would be without it (log10)."""

    finding: int
    without: float


def doubts(state: State) -> tuple[Doubt, ...]:
    """Answers whose error would explain the surprise best, the best first.

    Silence is no answer and is not doubted.
    """
    items = state.evidence.items
    found = []
    for finding, item in items.items():
        if sum(item.weights) > 1.0 + 1e-9:
            continue
        left = {f: kept for f, kept in items.items() if f != finding}
        joint = state.evidence.joint
        if joint is not None and finding in joint.findings:
            joint = None  # without it the others are weighed by their verdicts
        other = state.model.state(Evidence(left, state.evidence.proofs, joint))
        found.append(Doubt(finding, other.surprise()))
    return tuple(sorted(found, key=lambda doubt: (doubt.without, doubt.finding)))
