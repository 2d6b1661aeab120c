"""Cases of published checks, each with where its number comes from."""

from __future__ import annotations

import pytest
from _pytest.mark.structures import ParameterSet


def case(kind: str, source: str, *values: object) -> ParameterSet:
    """One case with its kind of source."""
    return pytest.param(*values, id=source, marks=pytest.mark.published(kind, source))


def seen(source: str, *values: object) -> ParameterSet:
    """A number read in the source."""
    return case("seen", source, *values)


def memory(source: str, *values: object) -> ParameterSet:
    """A number recalled."""
    return case("memory", source, *values)


def practice(source: str, *values: object) -> ParameterSet:
    """What the trade says."""
    return case("practice", f"{source}: common practice, no source", *values)
