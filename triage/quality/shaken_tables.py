"""All of an amplifier's tables at once: words shaken, answers drawn for every cause, rankings.

Conventions: F findings, A answers (padded with zeros), R rows (causes at places, then healthy,
then unknown), S signs. A draw is made for every row as the hidden one, so draws run along R too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.infer.components import Component, conditional
from triage.infer.ground import Grounded, confuse, floor_of
from triage.infer.posterior import Model
from triage.world.shaken import moved

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
PASSES = 3
"""Rounds of 'does this apply at all', each on what applied in the round before."""


@dataclass(frozen=True)
class Words:
    """Every likelihood word moved up and down by the same step: ``up`` and ``down`` (words, A)."""

    finding: Ints
    row: Ints
    up: Floats
    down: Floats
    sign: Ints
    sign_row: Ints
    sign_up: Floats
    sign_down: Floats


class Tables:
    """The tables of one amplifier as arrays, unshaken; draws and rankings of many rows at once."""

    def __init__(self, grounded: Grounded, step: float) -> None:
        self.grounded = grounded
        self.model = Model(grounded)
        self.rows = len(grounded.prior)
        self.most = max(len(i.answers) for i in grounded.instances)
        size = len(grounded.instances)
        self.direct = np.zeros((size, self.most, self.rows))
        self.by_sign = np.zeros((size, self.most, 2))
        self.sign = np.full(size, -1)
        for i in grounded.instances:
            if i.sign is None:
                self.direct[i.index, : len(i.answers)] = i.table
            else:
                self.by_sign[i.index, : len(i.answers)] = i.table
                self.sign[i.index] = i.sign
        self.refs = self._refs()
        self.words = self._words(step)
        self.log_direct = np.log(np.maximum(self.direct, 1e-300)).reshape(-1, self.rows)
        self.log_sign = np.log(np.maximum(self.by_sign, 1e-300))
        self._margins: dict[tuple[int, bytes], Floats] = {}

    def _refs(self) -> list[tuple[int, int, Bools]]:
        """(finding, finding it hangs on, answers that let it apply)."""
        found = []
        for i in self.grounded.instances:
            for ref in i.finding.applies_when:
                for place in self.grounded.places.walk(i.key[1], ref.of):
                    other = self.grounded.index.get((ref.finding, place))
                    if other is not None:
                        names = self.grounded.instances[other].answers
                        allowed = np.zeros(self.most, dtype=bool)
                        allowed[: len(names)] = [name in ref.answers for name in names]
                        found.append((i.index, other, allowed))
        return found

    def _words(self, step: float) -> Words:
        grounded = self.grounded
        keys, up, down = [], [], []
        for (index, row), (made, rest) in sorted(grounded.words.items(), key=lambda w: w[0]):
            if grounded.instances[index].sign is None:
                keys.append((index, row))
                up.append(self._column(index, made, rest, step))
                down.append(self._column(index, made, rest, -step))
        signs = sorted(grounded.sign_words.items(), key=lambda w: w[0])
        high = [_sign(*pair, step) for _, pair in signs]
        low = [_sign(*pair, -step) for _, pair in signs]
        at = np.array(keys, dtype=int).reshape(-1, 2)
        sign_at = np.array([key for key, _ in signs], dtype=int).reshape(-1, 2)
        return Words(
            at[:, 0],
            at[:, 1],
            np.array(up).reshape(-1, self.most),
            np.array(down).reshape(-1, self.most),
            sign_at[:, 0],
            sign_at[:, 1],
            np.array(high),
            np.array(low),
        )

    def _column(self, index: int, made: Floats, rest: Floats, step: float) -> Floats:
        instance = self.grounded.instances[index]
        new = np.array([moved(float(p), step) if p > 0.0 else 0.0 for p in made])
        new = new * min(1.0, 0.98 / max(float(new.sum()), 1e-12))
        true = (new + (1.0 - new.sum()) * rest)[:, None]
        floor = floor_of(instance.finding, self.grounded.profile)
        column = np.zeros(self.most)
        column[: len(made)] = confuse(true, floor)[:, 0]
        return column

    def shaken(self, draw: np.random.Generator) -> tuple[Floats, Floats]:
        """Direct tables (F, A, R) and chances of signs (S, R), each word moved up or down."""
        w = self.words
        table, signs = self.direct.copy(), self.grounded.sign_p.copy()
        high = draw.random(len(w.row)) < 0.5
        table[w.finding, :, w.row] = np.where(high[:, None], w.up, w.down)
        high = draw.random(len(w.sign_row)) < 0.5
        signs[w.sign, w.sign_row] = np.where(high, w.sign_up, w.sign_down)
        return table, signs

    def drawn(self, draw: np.random.Generator) -> Ints:
        """An answer to every finding with each row as the hidden one, (F, R), words shaken.

        Findings that look at one sign see the same state of it. Rules couple nothing here, so what
        a rule rests on comes together no more often than its single words say.
        """
        table, sign_p = self.shaken(draw)
        there = (draw.random(sign_p.shape) < sign_p).astype(int)
        for f in np.flatnonzero(self.sign >= 0):
            table[f] = self.by_sign[f][:, there[self.sign[f]]]
        edges = np.cumsum(table, axis=1)
        luck = draw.random((table.shape[0], 1, table.shape[2])) * edges[:, -1:, :]
        return np.asarray((luck >= edges).sum(axis=1).clip(max=self.most - 1))

    def applies(self, answers: Ints, known: Bools) -> Bools:
        """Which findings are answered, (F, R): reachable, and not ruled out by what is known."""
        asked = np.repeat(known[:, None], answers.shape[1], axis=1)
        for _ in range(PASSES):
            before, asked = asked, np.repeat(known[:, None], answers.shape[1], axis=1)
            for f, other, allowed in self.refs:
                asked[f] &= ~before[other] | allowed[answers[other]]
        return asked

    def log_likelihood(self, answers: Ints, asked: Bools) -> Floats:
        """Log P(answers | row) by the unshaken knowledge, shape (draws, R)."""
        hot = np.zeros((answers.shape[0], self.most, answers.shape[1]))
        direct = asked & (self.sign < 0)[:, None]
        f, d = np.nonzero(direct)
        hot[f, answers[f, d], d] = 1.0
        log = hot.reshape(-1, answers.shape[1]).T @ self.log_direct
        for s in range(len(self.grounded.signs)):
            both = np.zeros((2, answers.shape[1]))
            for looks in np.flatnonzero(self.sign == s).tolist():
                log_sign = self.log_sign[looks, answers[looks], :].T
                both += np.where(asked[looks], log_sign, 0.0)
            p = np.clip(self.grounded.sign_p[s], 1e-12, 1.0 - 1e-12)
            absent = both[0][:, None] + np.log1p(-p)
            log += np.logaddexp(absent, both[1][:, None] + np.log(p))
        self._add_rules(log, answers, asked)
        return np.asarray(log)

    def _add_rules(self, log: Floats, answers: Ints, asked: Bools) -> None:
        for c, component in enumerate(self.model.components):
            here = list(component.findings)
            seen, said = asked[here], answers[here]
            for pattern in np.unique(seen, axis=1).T:
                if not pattern.any():
                    continue
                draws = np.flatnonzero((seen == pattern[:, None]).all(axis=0))
                margin = self._margin(c, component, pattern)
                at = tuple(said[i, draws] for i in np.flatnonzero(pattern))
                log[draws, component.row] += np.log(margin[at] / component.mean)

    def _margin(self, c: int, component: Component, seen: Bools) -> Floats:
        """Rule factor by the answers seen, its mean taken over those not seen.

        What is not seen goes by the row's own table, its sign by its chance before any answer:
        exact unless it shares a sign with something seen (then right to about 1e-4).
        """
        key = (c, seen.tobytes())
        if key not in self._margins:
            sizes = component.bonus.shape[: len(component.findings)]
            margin = component.bonus.reshape(sizes)
            for axis in reversed(np.flatnonzero(~seen).tolist()):
                f = component.findings[axis]
                table = conditional(self.grounded, f, component.row)
                if table.ndim == 2:
                    p = self.grounded.sign_p[self.sign[f], component.row]
                    table = table @ np.array([1.0 - p, p])
                margin = np.tensordot(margin, table, axes=(axis, 0))
            self._margins[key] = margin
        return self._margins[key]

    def posterior(self, answers: Ints, asked: Bools) -> Floats:
        """Ranking for every draw, shape (draws, R); rows sum to one."""
        log = self.log_likelihood(answers, asked)
        log += np.log(np.maximum(self.grounded.prior, 1e-300))
        weights = np.exp(log - np.max(log, axis=1, keepdims=True))
        return np.asarray(weights / weights.sum(axis=1, keepdims=True))

    def columns(self, f: int) -> Floats:
        """P(answer | row) of one finding, its sign averaged over, shape (A, R)."""
        if self.sign[f] < 0:
            return np.asarray(self.direct[f])
        p = self.grounded.sign_p[self.sign[f]]
        return np.asarray(self.by_sign[f][:, :1] * (1.0 - p) + self.by_sign[f][:, 1:] * p)


def _sign(chance: float, rest: float, step: float) -> float:
    p = moved(chance, step) if chance > 0.0 else 0.0
    return p + (1.0 - p) * rest
