"""What is left on a cause whose repair was made and did not cure."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.infer.helpers import row_of, seen
from tests.toy import toy
from triage.infer.posterior import Model, RepairProof
from triage.infer.proofs import PROOF_IF_CURED, PROOF_OTHERWISE, weigh_proofs
from triage.plan.costs import RepairGroups

GROUNDED = dataclasses.replace(toy(), alike=0.05)
MODEL = Model(GROUNDED)


@pytest.mark.parametrize("alike", [0.0, 0.05, 0.3])
def test_a_proof_passes_or_fails_under_every_row(alike: float) -> None:
    """The two chances sum to one for rows that the repair cures and for all others."""
    both = [
        np.exp(weigh_proofs(4, [RepairProof(frozenset({1}), p)], alike)[0]) for p in (False, True)
    ]

    assert both[0] + both[1] == pytest.approx(np.ones(4), abs=1e-12)


def test_the_share_of_look_alikes_is_bayes_rule_over_two_failed_proofs() -> None:
    """Listed and look-alike, each proof independent given which of the two it is."""
    twice = [RepairProof(frozenset({1}), False)] * 2
    logs, share = weigh_proofs(3, twice, 0.05)

    listed, other = 0.95 * (1 - PROOF_IF_CURED) ** 2, 0.05 * (1 - PROOF_OTHERWISE) ** 2
    assert np.exp(logs[1]) == pytest.approx(listed + other, rel=1e-12)
    assert share == pytest.approx([0.0, other / (listed + other), 0.0], rel=1e-12)


def test_a_proof_that_passed_leaves_no_look_alike() -> None:
    """Before any proof, and after one that passed, the row is its own cause."""
    assert not weigh_proofs(3, [], 0.05)[1].any()
    assert not weigh_proofs(3, [RepairProof(frozenset({1}), True)], 0.05)[1].any()


def test_after_a_failed_proof_the_look_alike_is_handed_over_with_the_unknown() -> None:
    """Its mass leaves the repair's group for the unknown's; nothing is lost."""
    row = row_of(GROUNDED, "cap_leaky", "C7")
    said = seen(GROUNDED, {("leak", "C7"): "some", ("hum", "amp"): "loud"})
    failed = dataclasses.replace(said, proofs=(RepairProof(frozenset({row}), False),))
    state, groups = MODEL.state(failed), RepairGroups(GROUNDED)
    after, plain = groups.after(state.proofs[1]).mass(state.posterior), groups.mass(state.posterior)

    share = float(state.posterior[row] * state.proofs[1][row])
    assert share > 0.0
    assert after[groups.unknown] - plain[groups.unknown] == pytest.approx(share, rel=1e-9)
    assert plain[groups.of_row[row]] - after[groups.of_row[row]] == pytest.approx(share, rel=1e-9)
    assert after.sum() == pytest.approx(1.0, abs=1e-12)


def test_look_alikes_lift_the_unknown_after_a_failed_proof_and_not_before() -> None:
    """With a share of look-alikes the unknown gains only once a repair was made in vain."""
    row = row_of(GROUNDED, "cap_leaky", "C7")
    said = seen(GROUNDED, {("leak", "C7"): "some", ("hum", "amp"): "loud"})
    failed = dataclasses.replace(said, proofs=(RepairProof(frozenset({row}), False),))
    none = Model(dataclasses.replace(GROUNDED, alike=0.0))

    assert np.array_equal(MODEL.state(said).posterior, none.state(said).posterior)
    unknown = GROUNDED.unknown
    with_it, without = MODEL.state(failed), none.state(failed)
    lifted = with_it.posterior[unknown] + with_it.posterior @ with_it.proofs[1]
    assert lifted > without.posterior[unknown]
