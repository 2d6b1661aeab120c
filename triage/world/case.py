"""A bench that knows what a worked case knows, and says ``unknown`` to everything else."""

from __future__ import annotations

from triage.infer.ground import Grounded, Hypothesis, Key
from triage.model.case import Case, Fact, PlaceRef
from triage.model.places import Place
from triage.world.reply import Reply


def places_of(grounded: Grounded, of: str | PlaceRef) -> tuple[str, ...]:
    """Place ids that a case's word for a place may mean, in order of the profile.

    A name means itself. ``{kind, any: n, channel}`` means the n-th of that kind (in that channel).
    Empty where the amplifier has no such place.
    """
    if isinstance(of, str):
        return (of,) if of in grounded.places.by_id else ()
    same: list[Place] = grounded.places.of_kind([of.kind])
    if of.channel is not None:
        same = [p for p in same if of.channel in grounded.places.walk(p.id, "channel")]
    return tuple(place.id for place in same[of.any - 1 : of.any])


class CaseWorld:
    """Answers from a case's ``told`` and ``known`` facts of one epoch (0: before any repair)."""

    def __init__(self, grounded: Grounded, case: Case, *, epoch: int = 0) -> None:
        self.grounded = grounded
        self.case = case
        self._told = self._placed([fact for fact in case.told if fact.epoch == epoch])
        self._known = self._placed(
            [fact for fact in (*case.told, *case.known) if fact.epoch == epoch]
        )

    def _placed(self, facts: list[Fact]) -> dict[Key, Reply]:
        found: dict[Key, Reply] = {}
        for fact in facts:
            for place in places_of(self.grounded, fact.of):
                found[(fact.finding, place)] = Reply(
                    fact.answer or "", fact.reading, fact.happening
                )
        return found

    @property
    def known(self) -> tuple[Key, ...]:
        """Findings and places of which the case says something, told or found."""
        return tuple(self._known)

    @property
    def truth(self) -> Hypothesis | None:
        """The cause, at its place where the case names one that the amplifier has."""
        told = self.case.truth
        if told.cause is None:
            return None
        if told.of is not None:
            for place in places_of(self.grounded, told.of):
                return Hypothesis(told.cause, place)
        return next((h for h in self.grounded.hypotheses if h.cause == told.cause), None)

    def complaint(self) -> tuple[tuple[Key, Reply], ...]:
        """The facts told unasked, in order of the case."""
        return tuple(self._told.items())

    def ask(self, finding: str, place: str) -> Reply:
        """What the case knows of a finding at a place; ``unknown`` where it says nothing."""
        return self._known.get((finding, place), Reply("unknown"))
