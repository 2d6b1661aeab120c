"""Chaining in rounds on fresh snapshots: match, derive, match again until nothing is new."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from triage.errors import EngineFault
from triage.model.places import Places
from triage.rules.templates import Fact, Firing

MOST_ROUNDS = 12


class Matcher(Protocol):
    """What judges a snapshot: the engine, or the reference in tests and large simulations."""

    def match(self, facts: Iterable[Fact], places: Places) -> frozenset[Firing]:
        """Rules that hold."""
        ...


@dataclass(frozen=True)
class Rounds:
    """All firings, the round in which each first held, and all facts, derived ones included."""

    firings: frozenset[Firing]
    facts: frozenset[Fact]
    first: dict[tuple[str, str], int]


def run_rounds(
    engine: Matcher,
    facts: Iterable[Fact],
    places: Places,
    derive: Callable[[Firing], Iterable[Fact]],
) -> Rounds:
    """Match until nothing new is derived.

    Raises
    ------
    EngineFault : more than 12 rounds (rules derive one another in a circle).
    """
    known = frozenset(facts)
    first: dict[tuple[str, str], int] = {}
    for number in range(1, MOST_ROUNDS + 1):
        firings = engine.match(known, places)
        for firing in firings:
            first.setdefault((firing.rule_id, firing.at), number)
        more = known | {fact for firing in sorted(firings) for fact in derive(firing)}
        if more == known:
            return Rounds(firings, known, first)
        known = more
    raise EngineFault(f"rules still derive after {MOST_ROUNDS} rounds: they run in a circle")
