"""Schemas of the gates and hazards files: words for what the safety room decides in code."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from triage.model.base import Entry, Frozen


class GateField(Frozen):
    """One thing a gate asks for: a number with its unit, or one of some named observations."""

    name: str
    asks: str
    unit: str | None = None
    choices: dict[str, str] = Field(default_factory=dict)
    words: bool = False


class GateText(Entry):
    """How a gate is told and asked. Whether it passes is decided in ``triage.safety.gates``."""

    title: str
    why: str
    fields: list[GateField] = Field(default_factory=list)
    how: list[str] = Field(default_factory=list)


class HazardText(Entry):
    """What to do at once, and what must be named before anything goes on."""

    title: str
    at_once: list[str] = Field(min_length=1)
    then: list[str] = Field(default_factory=list)
    over_when: str
    words: list[str] = Field(default_factory=list)
    level: Literal["stop", "danger"] = "danger"
