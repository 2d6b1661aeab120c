"""Worked cases: what was told, what was known if asked, what it was."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from triage.model.base import Frozen
from triage.model.profile import Profile


def _by_kind() -> list[Literal["kind", "place"]]:
    return ["kind"]


class PlaceRef(Frozen):
    """A place that cannot be named: any one of a kind, perhaps in a channel ('left', 'right')."""

    kind: str
    any: int = 1
    channel: str | None = None


class Fact(Frozen):
    """One observation: an answer, or a reading as typed with its conditions."""

    finding: str
    of: str | PlaceRef = "amp"
    answer: str | None = None
    reading: str | None = None
    under: dict[str, str] = Field(default_factory=dict)
    happening: Literal["yes", "no", "unknown"] = "yes"
    by: Literal["owner", "technician"] = "owner"
    epoch: int = 0
    note: str = ""


class Truth(Frozen):
    """What it was, at which kind of place; ``also`` lists second faults and consequences."""

    cause: str | None = None
    kind: str
    of: str | PlaceRef | None = None
    also: list[str] = Field(default_factory=list, description="cause ids, or kinds")
    firmness: Literal["confirmed", "likely"] = "confirmed"


class Origin(Frozen):
    """Who wrote it from what."""

    of: Literal["own", "public"]
    number: int | None = None
    converted_by: str = ""
    sha256: str = Field(default="", description="hash of the public report converted")


class Case(Frozen):
    """A case file."""

    case: str
    says: str = ""
    origin: Origin
    scenario: str | None = Field(default=None, description="amplifier id; else the profile here")
    profile: Profile | None = None
    complaint: str
    told: list[Fact] = Field(default_factory=list)
    known: list[Fact] = Field(default_factory=list)
    repairs: list[str] = Field(default_factory=list)
    truth: Truth
    score: list[Literal["kind", "place"]] = Field(default_factory=_by_kind)
