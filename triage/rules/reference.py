"""The obvious matcher: what the engine is compared with, and quick for simulation loops."""

from __future__ import annotations

from collections.abc import Iterable

from triage.model.places import Places
from triage.rules.templates import Fact, Firing, Template


def match(
    templates: Iterable[Template], facts: Iterable[Fact], places: Places
) -> frozenset[Firing]:
    """Firings of ``templates``; each literal is bound to the first place, by id, that has it."""
    known = frozenset(facts)
    fired: set[Firing] = set()
    for template in templates:
        for place in places.of_kind(template.at):
            binding: list[tuple[int, str]] = []
            for number, literal in enumerate(template.literals):
                held = sorted(
                    there
                    for there in places.walk(place.id, ".".join(("self", *literal.steps)))
                    if any((there, literal.finding, answer) in known for answer in literal.answers)
                )
                if not held:
                    break
                binding.append((number, held[0]))
            else:
                fired.add(Firing(template.id, place.id, tuple(binding)))
    return frozenset(fired)
