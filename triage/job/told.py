"""Where a complaint in words stands on this amplifier."""

from __future__ import annotations

from triage.infer.ground import Grounded
from triage.words import Match


def where_told(grounded: Grounded, match: Match) -> list[tuple[str, str, str]]:
    """Finding, place and answer: at the channel or place that the words name, else the first."""
    entry = grounded.knowledge.findings.get(match.finding)
    if entry is None:
        return []
    places = [
        p for p in grounded.places.of_kind(entry.at) if (match.finding, p.id) in grounded.index
    ]
    named = [p for p in places if match.part and p.id == match.part]
    sided = [p for p in places if match.side and _on_side(grounded, p.id, match.side)]
    chosen = named or [p for p in sided or places if p.kind == match.kind] or sided or places
    several = match.everywhere and not named
    return [(match.finding, p.id, match.answer) for p in (chosen if several else chosen[:1])]


def _on_side(grounded: Grounded, place: str, side: str) -> bool:
    return place == side or side in grounded.places.walk(place, "self.channel")
