"""A bench that answers exactly as the knowledge says: the planner's own world.

Here the ranking must be calibrated; anywhere else it can only be worse.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from triage.infer.components import group
from triage.infer.ground import Grounded, Hypothesis, Instance, Key, RuleInstance
from triage.world.reply import Reply

Floats = NDArray[np.float64]
TRIES = 100_000


class RulesWorld:
    """A hidden row drawn from the prior; answers drawn from its tables, signs and rules.

    Parameters
    ----------
    seed : fixes the row and every answer.
    row : the hidden row, to choose it instead of drawing it.
    present : chance that an intermittent fault shows in one visit (one power-up); every reply of
        that visit says whether it did (``happening``), as a person who watched would.
    """

    def __init__(
        self, grounded: Grounded, seed: int, *, row: int | None = None, present: float = 1.0
    ) -> None:
        self.grounded = grounded
        self._draw = np.random.default_rng(seed)
        drawn = int(self._draw.choice(len(grounded.prior), p=grounded.prior))
        self.row = drawn if row is None else row
        self._signs = self._draw.random(len(grounded.signs)) < grounded.sign_p[:, self.row]
        self._answers = [self.sample(instance) for instance in grounded.instances]
        rules = tuple(rule for rule in grounded.rules if rule.hypothesis == self.row)
        for members in group(grounded, rules, self.row):
            self._bind(members)
        self._shows = self._draw.random(len(self._answers)) < present
        self._hidden = [self._usually(instance) for instance in grounded.instances]
        self._told = self._draw.random(len(self._answers))
        self._away = self._draw.random(len(self._answers))
        self._visit = 0

    @property
    def truth(self) -> Hypothesis:
        """The hidden row."""
        return self.grounded.hypotheses[self.row]

    def table(self, instance: Instance) -> Floats:
        """P(reported answer) of an instance, its sign as drawn; shape (answers,)."""
        column = self.row if instance.sign is None else int(self._signs[instance.sign])
        return np.asarray(instance.table[:, column])

    def sample(self, instance: Instance) -> int:
        """One answer of an instance, as an index."""
        table = self.table(instance)
        return int(self._draw.choice(len(table), p=table / table.sum()))

    def _bind(self, rules: tuple[RuleInstance, ...]) -> None:
        """Draw anew all that coupled rules look at, until they accept (exact by rejection)."""
        blocks = {
            self.grounded.instances[lit.finding].block for rule in rules for lit in rule.literals
        }
        signs = [block for block in sorted(blocks) if block < len(self.grounded.signs)]
        findings = [f for block in sorted(blocks) for f in self.grounded.blocks[block]]
        most = float(np.prod([max(rule.strength, 1.0) for rule in rules]))
        for _ in range(TRIES):
            for sign in signs:
                p = self.grounded.sign_p[sign, self.row]
                self._signs[sign] = self._draw.random() < p
            for f in findings:
                self._answers[f] = self.sample(self.grounded.instances[f])
            weight = 1.0
            for rule in rules:
                if all(lit.mask[self._answers[lit.finding]] for lit in rule.literals):
                    weight *= rule.strength
            if self._draw.random() * most < weight:
                return

    def _usually(self, instance: Instance) -> int:
        return int(self._draw.choice(len(instance.base), p=instance.base / instance.base.sum()))

    def complaint(self) -> tuple[tuple[Key, Reply], ...]:
        """Abnormal answers that the owner volunteers, each with its chance of being told."""
        found: list[tuple[Key, Reply]] = []
        for instance in self.grounded.instances:
            if self._told[instance.index] < instance.told:
                reply = self._reply(instance)
                if reply.answer != instance.answers[instance.normal]:
                    found.append((instance.key, reply))
        return tuple(found)

    def look_again(self) -> None:
        """A new visit begins: what comes and goes may be there now, or away."""
        self._visit += 1

    def ask(self, finding: str, place: str) -> Reply:
        """The reply to a finding at a place; ``unknown`` where the amplifier has no such thing."""
        index = self.grounded.index.get((finding, place))
        if index is None:
            return Reply("unknown")
        return self._reply(self.grounded.instances[index])

    def _reply(self, instance: Instance) -> Reply:
        answer, happening = self._answers[instance.index], True
        share = float(self.grounded.goes[self.row])
        look = self._visit % len(self._shows)
        if share > 0.0 and not self._shows[look]:
            happening = False
            if self._away[look] < share:
                answer = self._hidden[instance.index]
        return Reply(instance.answers[answer], happening="yes" if happening else "no")
