"""Numbers behind one column: priors, likelihood words on their base table, slips of the reading path.

Conventions: a table over answers has shape ``(answers,)`` and sums to one.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from triage.model.entries import NOTICED, Cause, Finding
from triage.model.layout import known_to_hold
from triage.model.places import Place
from triage.model.profile import Profile

Floats = NDArray[np.float64]

FLOORS: dict[str, float] = {
    "story": 0.05,
    "look": 0.05,
    "listen": 0.05,
    "rate_by_ear": 0.25,
    "smell": 0.10,
    "touch": 0.05,
    "swap": 0.05,
    "reading": 0.02,
    "tester": 0.10,
    "replace": 0.05,
    "act": 0.02,
}
"""Chance that an answer got by this path is not the true one (bench-review section 3, row 2)."""
EXPERT_FLOOR = 0.5
"""A technician's look or listen errs half as often; a typed number errs like anybody's."""
CAP = 10.0
"""All prior modifiers together move a cause by at most this factor."""


def prior_weight(cause: Cause, place: Place, profile: Profile) -> float:
    """Share of jobs, not normalised: rate x noticed on this route x capped modifiers."""
    facts = dict(profile.facts())
    facts |= {f"place.{key}": value for key, value in place.fields}
    times = 1.0
    for more in cause.more_when:
        if known_to_hold(more.if_, facts):
            times *= more.times
    times = min(CAP, max(1.0 / CAP, times))
    noticed = NOTICED[cause.noticed.get(profile.route, "often")]
    return cause.rate * noticed * times


def compose(base: Floats, made: Floats, suppressed: Mapping[int, float]) -> Floats:
    """P(answer | cause) from its words: it makes ``made``, the rest goes on as usual.

    ``base``, ``made``: shape (answers,). Suppressed answers are cut to at most the given value and
    the others scaled to fill (semantics 1.2.1).
    """
    rest = suppress(base, suppressed)
    return np.asarray(made + (1.0 - made.sum()) * rest)


def suppress(base: Floats, suppressed: Mapping[int, float]) -> Floats:
    """Base table with some answers cut to at most a value, the others scaled to fill."""
    if not suppressed:
        return base
    cut = base.copy()
    for answer, most in suppressed.items():
        cut[answer] = min(most, base[answer])
    others = [i for i in range(len(base)) if i not in suppressed]
    left = 1.0 - sum(cut[i] for i in suppressed)
    total = base[others].sum()
    if not others or total <= 0.0:
        return np.asarray(cut / cut.sum())
    cut[others] = base[others] * (left / total)
    return cut


def confuse(table: Floats, floor: float) -> Floats:
    """Reported answers instead of true ones: with chance ``floor`` one of the others is given."""
    n = table.shape[0]
    return np.asarray((1.0 - floor - floor / (n - 1)) * table + floor / (n - 1))


def floor_of(finding: Finding, profile: Profile) -> float:
    """Chance of a slip on this finding's reading path, for this person."""
    floor = FLOORS[finding.path]
    if profile.owner.skill == "technician" and finding.path in ("look", "listen", "rate_by_ear"):
        floor *= EXPERT_FLOOR
    return floor
