"""Shared bases of all frozen types: strictness, sources, conditions on the profile."""

from __future__ import annotations

from typing import Literal, get_args

from pydantic import BaseModel, ConfigDict, Field

RESERVED_ANSWERS = ("unknown", "cannot", "not_applicable")

Relation = Literal[
    "self",
    "amp",
    "mate",
    "channel",
    "other_channel",
    "feeds",
    "fed_by",
    "supply",
    "halves",
    "others",
    "holds",
]
RELATIONS: tuple[str, ...] = get_args(Relation)

Condition = dict[str, str | list[str]]
"""Profile fact -> accepted value or values. A fact the profile does not know satisfies any condition."""


class Frozen(BaseModel):
    """Immutable value with closed keys: an unknown key is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class Source(Frozen):
    """Where a claim comes from: an id in ``knowledge/sources.yaml``."""

    id: str
    page: str | int | None = None
    because: str | None = None


class Entry(Frozen):
    """What every knowledge entry carries."""

    id: str = Field(pattern=r"^[A-Za-z0-9_.]+$")
    source: list[Source] = Field(min_length=1)
    replaced_by: str | None = None
