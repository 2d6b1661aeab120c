"""Places and their relations: one graph of frozen edges, walked by name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from triage.model.base import RELATIONS


@dataclass(frozen=True, slots=True)
class Place:
    """A place of one amplifier. ``name`` is what a person reads (V3, or 'one output tube, left')."""

    id: str
    kind: str
    name: str
    anonymous: bool = False
    fields: tuple[tuple[str, str], ...] = ()

    def get(self, key: str) -> str | None:
        """Value of a field written in the profile (type, make, value), or None."""
        return dict(self.fields).get(key)


@dataclass(frozen=True)
class Places:
    """All places by id, with relation edges ``(relation, from, to)``."""

    by_id: dict[str, Place]
    edges: frozenset[tuple[str, str, str]]
    _index: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        index: dict[tuple[str, str], list[str]] = {}
        for relation, a, b in sorted(self.edges):
            index.setdefault((relation, a), []).append(b)
        self._index.update({key: tuple(found) for key, found in index.items()})

    def of_kind(self, kinds: list[str] | tuple[str, ...]) -> list[Place]:
        """Places whose kind is one of ``kinds``, in order of the profile."""
        return [place for place in self.by_id.values() if place.kind in kinds]

    def walk(self, start: str, path: str) -> tuple[str, ...]:
        """Places reached from ``start`` by ``self``, ``self.REL``, ``self.REL.REL`` or ``REL``.

        Raises
        ------
        KeyError : a step is not a relation.
        """
        here: tuple[str, ...] = (start,)
        for step in path.split("."):
            if step == "self":
                continue
            if step not in RELATIONS:
                raise KeyError(step)
            found: list[str] = []
            for place in here:
                for other in self._index.get((step, place), ()):
                    if other not in found:
                        found.append(other)
            here = tuple(found)
        return here

    def pairs(self, relation: str) -> Iterator[tuple[str, str]]:
        """All (from, to) pairs of one relation, sorted."""
        for name, a, b in sorted(self.edges):
            if name == relation:
                yield a, b
