"""The sparse elimination against LAPACK, and large batches against each member alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.circuit.simulator import circuit
from triage.circuit.elimination import FEW, Pattern
from triage.circuit.solve import Variants, solve


@given(st.integers(2, 12), st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_unknowns_are_those_of_a_dense_library(size: int, seed: int) -> None:
    """Random sparse systems with a strong diagonal, against NumPy's (LAPACK's) dense solution."""
    draw = np.random.default_rng(seed)
    entries = [(int(i), int(j)) for i, j in draw.integers(0, size, (2 * size, 2))]
    pattern = Pattern.of(size, entries, {})
    members = FEW + 5
    values = np.zeros((len(pattern.slots), members))
    values[: pattern.given] = draw.uniform(-1, 1, (pattern.given, members))
    values[:size] += 3.0 * size
    whole = np.zeros((members, size, size))
    for (i, j), slot in pattern.slots.items():
        whole[:, i, j] = values[slot]
    right = draw.uniform(-1, 1, (size, members))
    expected = np.linalg.solve(whole, right.T[..., None])[..., 0].T

    assert pattern.solve(values, right) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize("members", [3, FEW + 3])
def test_a_member_without_a_solution_spoils_no_other(members: int) -> None:
    """One singular member among others: it alone is not finite."""
    pattern = Pattern.of(2, [(0, 1), (1, 0)], {})
    values = np.ones((len(pattern.slots), members))
    values[0] = 3.0
    values[0, 1] = 1.0
    found = pattern.solve(values, np.ones((2, members)))

    assert np.isfinite(found).all(axis=0).tolist() == [i != 1 for i in range(members)]


def test_a_member_gets_the_same_point_alone_and_among_many() -> None:
    """Every ninth fault of the dance-band amplifier, alone (dense, rows exchanged) and in one batch."""
    net, _, variants = circuit("dance_band")
    among = solve(net, variants)
    for member in range(0, len(variants.line), 9):
        alone = solve(net, variants.take(np.array([member])))

        assert alone.volts[0] == pytest.approx(among.volts[member], abs=1e-6)


def test_members_start_from_their_own_point_and_find_the_same() -> None:
    """Starting from a sound point of their own saves turns and changes no volt."""
    net, _, _ = circuit("linden_hall")
    many = Variants.sound(net, 40)
    many.emission[:] = np.linspace(0.7, 1.3, 40)[:, None]
    first = solve(net, many)
    again = solve(net, many, first, np.arange(40))

    assert again.volts == pytest.approx(first.volts, abs=1e-6)
    assert again.turns.max() <= 2 < first.turns.min()
