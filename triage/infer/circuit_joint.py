"""Readings of one visit that enter the ranking together, through the circuit, beside the words.

A hypothesis whose fault the circuit has is judged by its own distribution of the readings. Any
other is judged by its words: a reading that they make abnormal has the background's density inside
its verdict, all else reads as a sound circuit does, together. Both are densities of one reading
over the background's, so they have no unit and may be compared (semantics 1.2.9).

A reading may have no verdict, where what it is judged against is not known. The circuit weighs it
all the same; a row's words that make the finding abnormal leave it to the background.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.circuit.likelihood import Fit, Likelihood, Visit
from triage.infer.gather import Gathered, Observation, without_verdict
from triage.infer.ground import Grounded, Key
from triage.infer.posterior import Evidence, Model

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
MADE = 1.5
"""A verdict this many times likelier than usual is made by the cause: the sound circuit is left."""
CERTAIN = 0.5
"""A reading without a verdict is made abnormal by words that give its normal answer less than this."""
BY_WORDS = 0.02
"""Chance that a cause fails in a way that the circuit's rows don't have: then its words serve."""


@dataclass(frozen=True)
class Joint:
    """What the readings say together, for every row.

    Parameters
    ----------
    findings : the finding instances whose verdicts are in the evidence too.
    count : how many readings were taken together.
    logs : what is added to a row's log once its words on these findings are in, shape (rows,).
    made : which readings each row's words make abnormal, shape (rows, readings).
    log_usual : log of the usual chance of each verdict, shape (readings,).
    log_share : log of the background's share of each verdict, shape (readings,).
    """

    fit: Fit
    findings: tuple[int, ...]
    count: int
    logs: Floats
    made: Flags
    log_usual: Floats
    log_share: Floats

    def of_pair(self, a: int, b: int) -> float:
        """What is added to the log of two rows together, which are judged by their words."""
        return _by_words(self.fit, self.made[a] | self.made[b], self.log_usual, self.log_share)


def together(
    model: Model,
    likelihood: Likelihood,
    gathered: Gathered,
    observations: Sequence[Observation],
    visit: Visit,
) -> Evidence:
    """The evidence with a visit's readings weighed as one.

    A reading without a verdict (what it is judged against is not known) counts there too; one that
    does not apply as things stand does not.
    """
    evidence, index = gathered.evidence, model.grounded.index
    read = {r.key for r in visit.readings}
    unjudged = without_verdict(model.grounded, gathered, observations, read)
    judged = {k for k in read if index.get(k) in evidence.items and k not in unjudged}
    visit = visit.only(judged | unjudged.keys())
    if not visit.readings:
        return evidence
    fit = likelihood.fit(visit)
    return replace(evidence, joint=joint_of(model, evidence, fit, visit.shares, unjudged))


def joint_of(
    model: Model,
    evidence: Evidence,
    fit: Fit,
    shares: Mapping[Key, Mapping[str, float]],
    unjudged: Mapping[Key, float] | None = None,
) -> Joint | None:
    """Weigh a visit's readings, which are in ``evidence`` by their verdicts too, where they have one.

    Parameters
    ----------
    fit : densities of the readings; of keys whose verdicts are not in the evidence, see Returns.
    shares : for each key the background's share of each answer.
    unjudged : keys without a verdict, with the chance that the fault was there when they were read.

    Returns
    -------
    None where a reading's verdict does not count (it does not apply as things stand, say).
    """
    grounded = model.grounded
    bare = unjudged or {}
    judged = {k: grounded.index.get(k, -1) for k in fit.keys if k not in bare}
    findings = tuple(judged.values())
    if not fit.keys or any(f not in evidence.items for f in findings):
        return None
    rest = Evidence({f: i for f, i in evidence.items.items() if f not in findings})
    words = np.log(np.maximum(model.likelihood(rest, evidence, findings), 1e-300))
    columns, shared, changed = [], [], []
    for key in fit.keys:
        if key in judged:
            column = _verdict(model, judged[key], evidence)
            shared.append(_share(model, judged[key], evidence, shares[key]))
            changed.append(column / max(column[grounded.healthy], 1e-12) > MADE)
        else:
            column = np.ones(len(grounded.hypotheses))
            shared.append(1.0)
            changed.append(_abnormal(model, grounded.index.get(key)))
        columns.append(column)
    chance, made = np.stack(columns, axis=1), np.stack(changed, axis=1)
    usual, share = np.maximum(chance[grounded.healthy], 1e-12), np.array(shared)
    log_usual, log_share = np.log(usual), np.log(np.maximum(share, 1e-6))
    patterns, which = np.unique(made, axis=0, return_inverse=True)
    values = np.array([_by_words(fit, row, log_usual, log_share) for row in patterns])
    by_words = values[which.ravel()]
    logs = by_words.copy()
    here = min(bare[k] if k in bare else evidence.items[judged[k]].present for k in fit.keys)
    alone = np.where(made, chance / np.exp(log_share), chance / usual * np.exp(fit.sound_alone))
    for row, hypothesis in enumerate(grounded.hypotheses):
        key = (hypothesis.cause, hypothesis.place)
        if key not in fit.by_row:
            continue
        there = 1.0 - float(grounded.goes[row]) * (1.0 - here)
        of_circuit = _mix(fit.by_row[key], fit.sound, there)
        logs[row] = _mix(of_circuit - words[row], by_words[row], 1.0 - BY_WORDS)
        single = np.logaddexp(fit.alone[key] + _log(there), fit.sound_alone + _log(1.0 - there))
        alone[row] = (1.0 - BY_WORDS) * np.exp(single) + BY_WORDS * alone[row]
    logs[grounded.healthy] = fit.sound - words[grounded.healthy]
    alone[grounded.healthy] = np.exp(fit.sound_alone)
    logs[grounded.unknown] = _apart(grounded, alone) - words[grounded.unknown]
    return Joint(fit, findings, len(fit.keys), logs, made, log_usual, log_share)


def _apart(grounded: Grounded, alone: Floats) -> float:
    """Log density of the readings if they had nothing to do with each other."""
    known = grounded.prior[: grounded.unknown]
    mean = known @ alone[: grounded.unknown] / known.sum()
    return float(np.log(mean).sum())


def _by_words(fit: Fit, made: Flags, log_usual: Floats, log_share: Floats) -> float:
    """What turns the verdicts' chances by words into a density of the readings over the background's.

    What is made: chance over the background's share of that verdict. What is not: the sound
    circuit's density, all of them together, times chance over the usual chance.
    """
    usual = np.flatnonzero(~made)
    found = fit.sound_of([int(i) for i in usual]) - float(log_usual[usual].sum())
    return found - float(log_share[made].sum())


def _verdict(model: Model, finding: int, evidence: Evidence) -> Floats:
    """Chance of what was read by a row's words on this finding alone, shape (rows,)."""
    grounded = model.grounded
    item = evidence.items[finding]
    weights, instance = np.array(item.weights), grounded.instances[finding]
    found = weights @ instance.table
    if instance.sign is not None:
        p = grounded.sign_p[instance.sign]
        found = (1.0 - p) * found[0] + p * found[1]
    away = grounded.goes * (1.0 - item.present)
    return np.asarray((1.0 - away) * found + away * float(weights @ instance.base))


def _abnormal(model: Model, finding: int | None) -> Flags:
    """Rows whose words make a finding abnormal more likely than not, shape (rows,)."""
    rows = len(model.grounded.hypotheses)
    if finding is None:
        return np.zeros(rows, dtype=bool)
    instance = model.grounded.instances[finding]
    normal = instance.table[instance.normal]
    if instance.sign is not None:
        p = model.grounded.sign_p[instance.sign]
        normal = (1.0 - p) * normal[0] + p * normal[1]
    return np.asarray(normal < CERTAIN)


def _share(model: Model, finding: int, evidence: Evidence, shares: Mapping[str, float]) -> float:
    answers = model.grounded.instances[finding].answers
    weights = evidence.items[finding].weights
    return sum(w * shares.get(a, 0.0) for a, w in zip(answers, weights, strict=True))


def _mix(a: float, b: float, share: float) -> float:
    """Log of ``share`` of the one and the rest of the other."""
    return float(np.logaddexp(a + _log(share), b + _log(1.0 - share)))


def _log(share: float) -> float:
    return math.log(share) if share > 0.0 else -math.inf
