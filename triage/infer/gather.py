"""Turn what was observed into facts (strings for the rules engine) and likelihood weights."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from triage.infer.ground import Grounded, Instance, Key
from triage.infer.posterior import Evidence, Item, RepairProof
from triage.model.base import RESERVED_ANSWERS

Fact = tuple[str, str, str]
"""(place id, finding id, answer): what the rules see."""
PRESENT = {"yes": 1.0, "no": 0.0, "unknown": 0.3}


@dataclass(frozen=True)
class Observation:
    """One finding as known now: an answer, or chances of answers from an uncertain reading.

    ``answer`` may be a reserved one (unknown, cannot, not_applicable). ``chances`` maps answers to
    P(verdict); empty means that the answer is plain.
    """

    finding: str
    place: str
    answer: str
    chances: Mapping[str, float] = field(default_factory=dict)
    happening: Literal["yes", "no", "unknown"] = "yes"
    epoch: int = 0
    stale: bool = False
    said: str = ""

    @property
    def key(self) -> Key:
        """(finding id, place id)."""
        return (self.finding, self.place)


@dataclass(frozen=True)
class Gathered:
    """Evidence for the ranking, facts for the rules, and what could not be used, with reasons."""

    evidence: Evidence
    facts: frozenset[Fact]
    unused: tuple[tuple[Key, str], ...]
    applicable: dict[int, bool | None]


def applicability(grounded: Grounded, facts: Mapping[Key, str], instance: Instance) -> bool | None:
    """Whether a finding can be asked at all: yes, no, or None where that is not known yet."""
    verdict: bool | None = True
    for ref in instance.finding.applies_when:
        for place in grounded.places.walk(instance.key[1], ref.of):
            known = facts.get((ref.finding, place))
            if known is None or known in RESERVED_ANSWERS:
                if (ref.finding, place) in grounded.index:
                    verdict = None if verdict else verdict
            elif known not in ref.answers:
                return False
    return verdict


def gather(
    grounded: Grounded,
    observations: Iterable[Observation],
    *,
    complaint_told: bool,
    proofs: tuple[RepairProof, ...] = (),
) -> Gathered:
    """Collect evidence.

    Parameters
    ----------
    complaint_told : the free complaint is over, so silence on what people surely mention counts.
    """
    items: dict[int, Item] = {}
    facts: set[Fact] = set()
    known: dict[Key, str] = {}
    unused: list[tuple[Key, str]] = []
    for seen in observations:
        if seen.stale:
            unused.append((seen.key, "taken before a repair that may have changed it"))
            continue
        facts.add((seen.place, seen.finding, seen.answer))
        known[seen.key] = seen.answer
        if seen.answer in RESERVED_ANSWERS:
            continue
        index = grounded.index.get(seen.key)
        if index is None:
            unused.append((seen.key, "noted; nothing in the knowledge uses it on this amplifier"))
            continue
        items[index] = Item(
            _weights(grounded.instances[index], seen), PRESENT[seen.happening], seen.epoch
        )
    applicable = {
        instance.index: applicability(grounded, known, instance) for instance in grounded.instances
    }
    if complaint_told:
        for instance in grounded.instances:
            if instance.told > 0.0 and instance.key not in known:
                if applicable[instance.index] is not False:
                    items[instance.index] = Item(_silence(instance))
    for index in [i for i in items if applicable[i] is False]:
        unused.append((grounded.instances[index].key, "does not apply as things stand"))
        del items[index]
    return Gathered(Evidence(items, proofs), frozenset(facts), tuple(unused), applicable)


def without_verdict(
    grounded: Grounded, gathered: Gathered, observations: Iterable[Observation], keys: set[Key]
) -> dict[Key, float]:
    """Of these keys the readings that have no verdict, with the chance that the fault was there.

    What they are judged against is not known. Stale ones and what does not apply are left out.
    """
    return {
        seen.key: PRESENT[seen.happening]
        for seen in observations
        if seen.key in keys
        and not seen.stale
        and seen.answer in RESERVED_ANSWERS
        and gathered.applicable.get(grounded.index.get(seen.key, -1)) is not False
    }


def _weights(instance: Instance, seen: Observation) -> tuple[float, ...]:
    if seen.chances:
        return tuple(float(seen.chances.get(answer, 0.0)) for answer in instance.answers)
    return tuple(1.0 if answer == seen.answer else 0.0 for answer in instance.answers)


def _silence(instance: Instance) -> tuple[float, ...]:
    return tuple(
        1.0 if i == instance.normal else 1.0 - instance.told for i in range(len(instance.answers))
    )
