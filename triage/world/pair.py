"""A bench with two faults at once: each makes its answers, and the more severe one is seen."""

from __future__ import annotations

from triage.infer.ground import Grounded, Hypothesis, Key
from triage.infer.pairs import severity
from triage.world.reply import Reply
from triage.world.rules import RulesWorld


class PairWorld:
    """Two hidden rows, each with answers of its own; what has been mended makes nothing more.

    Parameters
    ----------
    seed : fixes all answers.
    rows : the two hidden rows.
    """

    def __init__(self, grounded: Grounded, seed: int, rows: tuple[int, int]) -> None:
        self.grounded = grounded
        self._alive = {
            row: RulesWorld(grounded, seed * 2 + i, row=row) for i, row in enumerate(rows)
        }
        self._sound = RulesWorld(grounded, seed * 2, row=grounded.healthy)

    @property
    def truth(self) -> Hypothesis | None:
        """The first fault that is still there; None once both are mended."""
        for row in self._alive:
            return self.grounded.hypotheses[row]
        return None

    @property
    def alive(self) -> tuple[int, ...]:
        """Rows that are still at fault."""
        return tuple(self._alive)

    def mend(self, row: int) -> None:
        """One of the faults is repaired."""
        del self._alive[row]

    def complaint(self) -> tuple[tuple[Key, Reply], ...]:
        """What either fault makes its owner say."""
        found: dict[Key, Reply] = {}
        for world in self._alive.values():
            for key, _ in world.complaint():
                found[key] = self.ask(*key)
        return tuple(found.items())

    def ask(self, finding: str, place: str) -> Reply:
        """The more severe of the two answers."""
        index = self.grounded.index.get((finding, place))
        if index is None:
            return Reply("unknown")
        instance = self.grounded.instances[index]
        rank = {
            instance.answers[i]: n
            for n, i in enumerate(severity(len(instance.answers), instance.normal))
        }
        worlds = list(self._alive.values()) or [self._sound]
        replies = [world.ask(finding, place) for world in worlds]
        return max(replies, key=lambda reply: rank.get(reply.answer, -1))
