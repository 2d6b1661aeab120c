"""Tube types out of the files of ``knowledge/tubes/``, found by any spelling of any number."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from triage.errors import KnowledgeError, Problem
from triage.measure.tube_entry import TubeType

__all__ = ["TubeType", "find_tube", "load_tubes"]


def _plain(name: str) -> str:
    return "".join(char for char in name.upper() if char.isalnum())


def load_tubes(rows: Iterable[Mapping[str, Any]]) -> dict[str, TubeType]:
    """Tube types by plain name (``6L6GC``), by every alias and by every exact equivalent.

    ``rows`` are entries of the tube files; rows without a ``type`` (substitutions) are left out.

    Raises
    ------
    KnowledgeError : two types claim one name.
    """
    tubes: dict[str, TubeType] = {}
    for row in rows:
        if "type" not in row:
            continue
        tube = TubeType.model_validate(row)
        for name in tube.names():
            other = tubes.setdefault(_plain(name), tube)
            if other is not tube:
                what = f"{tube.type} and {other.type} both claim the name {name}"
                raise KnowledgeError([Problem("tubes", 0, what, mend="leave it to one of them")])
    return tubes


def find_tube(tubes: Mapping[str, TubeType], name: str | None) -> TubeType | None:
    """Tube type by any spelling of its name (case, spaces and strokes do not matter), or None."""
    return None if name is None else tubes.get(_plain(name))
