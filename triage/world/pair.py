"""A bench with two faults at once: each makes its answers, and the more severe one is seen."""

from __future__ import annotations

from triage.infer.epochs import changed_by
from triage.infer.ground import Grounded, Hypothesis, Key
from triage.infer.pairs import severity
from triage.world.reply import Reply
from triage.world.rules import RulesWorld


class PairWorld:
    """Two hidden rows, each with answers of its own; what has been mended makes nothing more.

    What neither bears on goes as usual, drawn once.

    Parameters
    ----------
    seed : fixes all answers.
    rows : the two hidden rows.
    """

    def __init__(self, grounded: Grounded, seed: int, rows: tuple[int, int]) -> None:
        self.grounded = grounded
        self._alive = {
            row: RulesWorld(grounded, seed * 3 + i, row=row) for i, row in enumerate(rows)
        }
        self._made = {row: frozenset(changed_by(grounded, [row])) for row in rows}
        self._sound = RulesWorld(grounded, seed * 3 + 2, row=grounded.healthy)

    @property
    def truth(self) -> Hypothesis | None:
        """The first fault that is still there; None once both are mended."""
        for row in self._alive:
            return self.grounded.hypotheses[row]
        return None

    @property
    def apart(self) -> tuple[RulesWorld, ...]:
        """Each fault that is still there, as it would be alone."""
        return tuple(self._alive.values())

    @property
    def alive(self) -> tuple[int, ...]:
        """Rows that are still at fault."""
        return tuple(self._alive)

    def mend(self, row: int) -> None:
        """One of the faults is repaired."""
        del self._alive[row]

    def complaint(self) -> tuple[tuple[Key, Reply], ...]:
        """What either fault, or nothing in particular, makes the owner say."""
        found: dict[Key, Reply] = {}
        for world in (*self._alive.values(), self._sound):
            for key, _ in world.complaint():
                if world in self._bearing(self.grounded.index[key]):
                    reply = self.ask(*key)
                    if reply.answer != self._normal(key):
                        found[key] = reply
        return tuple(found.items())

    def _normal(self, key: Key) -> str:
        instance = self.grounded.instances[self.grounded.index[key]]
        return instance.answers[instance.normal]

    def _bearing(self, index: int) -> list[RulesWorld]:
        """The faults that bear on a finding; without one, the sound amplifier."""
        bearing = [world for row, world in self._alive.items() if index in self._made[row]]
        return bearing or [self._sound]

    def ask(self, finding: str, place: str) -> Reply:
        """The more severe of the answers of the faults that bear on it."""
        index = self.grounded.index.get((finding, place))
        if index is None:
            return Reply("unknown")
        instance = self.grounded.instances[index]
        rank = {
            instance.answers[i]: n
            for n, i in enumerate(severity(len(instance.answers), instance.normal))
        }
        replies = [world.ask(finding, place) for world in self._bearing(index)]
        return max(replies, key=lambda reply: rank.get(reply.answer, -1))
