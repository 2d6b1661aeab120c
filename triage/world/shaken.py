"""A bench on which the knowledge is not quite right: the ranking off its own ground.

Words are moved by half a step, answers at one place hang together more than the tables say, people
slip more often than the floors say, and some things cannot be done.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.infer.ground import Grounded, Instance, Key, confuse, floor_of
from triage.model.entries import MAKES
from triage.world.reply import Reply
from triage.world.rules import RulesWorld

Floats = NDArray[np.float64]
LADDER = (0.02, *sorted(MAKES.values()), 0.995)


@dataclass(frozen=True)
class Shake:
    """How far the bench is from the knowledge; each is a chance or a share, 0 none."""

    words: float = 0.5
    """Steps on the ladder of words by which each is moved, up or down at random."""
    together: float = 0.3
    """Chance that an answer follows the luck of its place instead of its own."""
    slips: float = 1.0
    """Wrong answers on top of the tables, as a multiple of the floor of the reading path."""
    cannot: float = 0.1
    """Chance that a finding cannot be had at all."""


def moved(chance: float, steps: float) -> float:
    """A word's chance moved along the ladder of words, in log odds between its rungs."""
    odds = [np.log(rung / (1.0 - rung)) for rung in LADDER]
    here = float(np.interp(np.log(chance / (1.0 - chance)), odds, range(len(LADDER))))
    there = min(max(here + steps, 0.0), len(LADDER) - 1.0)
    return float(1.0 / (1.0 + np.exp(-np.interp(there, range(len(LADDER)), odds))))


def shake(grounded: Grounded, seed: int, words: float) -> Grounded:
    """The same amplifier with every word moved by ``words`` steps, up or down."""
    draw = np.random.default_rng(seed)
    instances = list(grounded.instances)
    for (index, row), (made, rest) in sorted(grounded.words.items(), key=lambda item: item[0]):
        steps = words * (1.0 if draw.random() < 0.5 else -1.0)
        new = np.array([moved(float(p), steps) if p > 0.0 else 0.0 for p in made])
        new = new * min(1.0, 0.98 / max(float(new.sum()), 1e-12))
        instance = instances[index]
        if instance.sign is not None:
            continue
        true = (new + (1.0 - new.sum()) * rest)[:, None]
        table = instance.table.copy()
        table[:, row] = confuse(true, floor_of(instance.finding, grounded.profile))[:, 0]
        instances[index] = replace(instance, table=table)
    sign_p = grounded.sign_p.copy()
    for (sign, row), (chance, rest_yes) in sorted(
        grounded.sign_words.items(), key=lambda item: item[0]
    ):
        steps = words * (1.0 if draw.random() < 0.5 else -1.0)
        p = moved(chance, steps) if chance > 0.0 else 0.0
        sign_p[sign, row] = p + (1.0 - p) * rest_yes
    return replace(grounded, instances=tuple(instances), sign_p=sign_p)


class ShakenWorld(RulesWorld):
    """A rules world whose tables were moved and whose people are worse observers than assumed."""

    def __init__(
        self,
        grounded: Grounded,
        seed: int,
        *,
        shaken: Shake | None = None,
        row: int | None = None,
        present: float = 1.0,
    ) -> None:
        self.shaken = shaken or Shake()
        luck = np.random.default_rng([seed, 1])
        size = len(grounded.instances)
        places = sorted({instance.key[1] for instance in grounded.instances})
        of_place = dict(zip(places, luck.random(len(places)), strict=True))
        self._follows = luck.random(size) < self.shaken.together
        self._luck = np.array([of_place[i.key[1]] for i in grounded.instances])
        floors = np.array([floor_of(i.finding, grounded.profile) for i in grounded.instances])
        self._slips = luck.random(size) < self.shaken.slips * floors
        self._other = luck.integers(1, 1 << 30, size)
        self._cannot = luck.random(size) < self.shaken.cannot
        self._asked: dict[int, int] = {}
        super().__init__(shake(grounded, seed, self.shaken.words), seed, row=row, present=present)

    def sample(self, instance: Instance) -> int:
        """An answer; where it follows its place, unlucky places show the rarer answers together."""
        if not self._follows[instance.index]:
            return super().sample(instance)
        table = self.table(instance)
        order = np.argsort(-table, kind="stable")
        at = int(np.searchsorted(np.cumsum(table[order]), self._luck[instance.index]))
        return int(order[min(at, len(order) - 1)])

    def complaint(self) -> tuple[tuple[Key, Reply], ...]:
        """As in the rules world; what cannot be had is not told either."""
        return tuple(
            (key, reply)
            for key, reply in super().complaint()
            if not self._cannot[self.grounded.index[key]]
        )

    def ask(self, finding: str, place: str) -> Reply:
        """The reply to a finding; a second look shows a slip, ``cannot`` stays ``cannot``."""
        index = self.grounded.index.get((finding, place))
        if index is None:
            return Reply("unknown")
        if self._cannot[index]:
            return Reply("cannot")
        self._asked[index] = self._asked.get(index, 0) + 1
        if self._asked[index] > 1:
            return super()._reply(self.grounded.instances[index])
        return super().ask(finding, place)

    def _reply(self, instance: Instance) -> Reply:
        reply = super()._reply(instance)
        if not self._slips[instance.index]:
            return reply
        others = [answer for answer in instance.answers if answer != reply.answer]
        return replace(reply, answer=others[int(self._other[instance.index]) % len(others)])
