"""Fuses: bounds of opening, switch-on, lost markings."""

from __future__ import annotations

import math
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import OutOfRange
from triage.measure import fuse as f

kinds = st.sampled_from(get_args(f.FuseClass))


@given(kinds, st.floats(0.125, 6.3), st.floats(0.1, 100), st.floats(1.01, 3))
def test_more_current_never_opens_later(kind: f.FuseClass, a: float, x: float, more: float) -> None:
    """Both bounds fall with current, and are in order."""
    slow, fast = f.opening(a, kind, x * a), f.opening(a, kind, x * a * more)

    assert fast.least_s <= slow.least_s
    assert fast.most_s <= slow.most_s
    assert slow.least_s <= slow.most_s


@given(kinds, st.floats(0.125, 6.3))
def test_a_fuse_holds_its_rating(kind: f.FuseClass, a: float) -> None:
    """At its own rating no class opens within the hour."""
    found = f.opening(a, kind, a)

    assert found.may_hold
    assert found.least_s >= 3600


def test_every_class_says_what_it_means() -> None:
    """One line each, and gates in rising order."""
    assert set(f.MEANS) == set(f.GATES) == set(get_args(f.FuseClass))
    assert all([g.multiple for g in gates] == sorted(g.multiple for g in gates)
               for gates in f.GATES.values())  # fmt: skip


def test_a_rating_is_told_only_where_the_marking_is_said_to_be_lost() -> None:
    """Never up because it blew."""
    with pytest.raises(OutOfRange, match="marking"):
        f.fuse_for_lost_marking(0.8)

    found = f.fuse_for_lost_marking(0.8, confirmed=True)

    assert 1.2 <= found.rated_a <= 1.6


def test_a_pulse_is_sure_to_pass_only_below_the_gate() -> None:
    """Time-lag 2 A stands 8 A²s; quick promises nothing."""
    assert f.inrush(2, "T", 40, 5e-3).sure
    assert not f.inrush(2, "T", 80, 5e-3).sure
    assert not f.inrush(2, "F", 5, 5e-3).sure


@pytest.mark.parametrize("bad", [math.nan, -1.0, 0.0, 1e9])
def test_a_rating_outside_the_norm_is_refused(bad: float) -> None:
    """The error names the rating."""
    with pytest.raises(OutOfRange, match="rating of the fuse"):
        f.opening(bad, "T", 1.0)


def test_another_class_is_refused() -> None:
    """The error lists those that are known."""
    with pytest.raises(OutOfRange, match="UL_delay"):
        f.opening(1, "M", 1)  # type: ignore[arg-type]  # wrong
