"""What to look at once more where the findings hang together worse than chance."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from triage.infer.doubts import doubts
from triage.infer.posterior import State
from triage.plan.candidates import Candidate

SURPRISED = 0.5
"""log10: findings more than three times rarer together than apart call for a second look."""
MOST = 3
"""So many answers are asked again in one job; then the doubt stands as it is."""


def to_repeat(
    state: State,
    candidates: Sequence[Candidate],
    price: Mapping[tuple[str, str], float],
    repeated: frozenset[int],
) -> tuple[Candidate, int, float] | None:
    """The cheapest step that looks again at an answer whose error would end the surprise.

    Parameters
    ----------
    price : minutes of each candidate that may be done, by key.
    repeated : findings that were answered more than once already.

    Returns
    -------
    The step, the finding, and how many times rarer together than apart the findings are; or None
    where nothing surprises or no such answer can be had again.
    """
    surprise = state.surprise()
    if surprise <= SURPRISED or len(repeated) >= MOST:
        return None
    wanted = {d.finding for d in doubts(state) if d.without <= 0.0 and d.finding not in repeated}
    ready = [
        (price[c.key], c.key, c, f)
        for c in candidates
        if c.key in price and not c.recalled
        for f in c.yields
        if f in wanted and state.model.grounded.instances[f].finding.path != "story"
    ]
    if not ready:
        return None
    _, _, candidate, finding = min(ready, key=lambda row: (row[0], row[1], row[3]))
    return candidate, finding, float(10.0**surprise)
