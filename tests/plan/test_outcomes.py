"""What the planner expects of procedures that answer several findings at once."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from tests.infer.helpers import seen
from tests.toy import toy
from triage.infer.posterior import Item, Model
from triage.plan.candidates import (
    Outcomes,
    answered,
    ground_procedures,
    open_yields,
    outcomes,
)
from triage.plan.costs import RepairGroups
from triage.plan.lookahead import Priced, information, value_candidates

GROUNDED = toy()
MODEL = Model(GROUNDED)
COUPLED = [("plate", "V3"), ("plate", "V4"), ("grid_volts", "V3"), ("drift", "V3")]
APART = [("plate", "V3"), ("fuse", "amp"), ("hum", "amp"), ("leak", "C7")]


def exact(state, findings: list[int]) -> dict[tuple[int, ...], np.ndarray]:
    """P(all answers | row, evidence) from the likelihoods of every joint answer."""
    found = {}
    sizes = [len(GROUNDED.instances[f].answers) for f in findings]
    for chosen in product(*[range(n) for n in sizes]):
        evidence = state.evidence
        for f, a, n in zip(findings, chosen, sizes, strict=True):
            before = state.evidence.items.get(f)
            weights = before.weights if before else (1.0,) * n
            evidence = evidence.plus(f, Item(tuple(w * (i == a) for i, w in enumerate(weights))))
        found[chosen] = np.exp(MODEL.state(evidence).log - state.log)
    return found


def made_of(cells: dict[tuple[int, ...], np.ndarray]) -> Outcomes:
    """Joint cells as outcomes."""
    return Outcomes(np.array(list(cells.values())), ((),) * len(cells), True)


@pytest.mark.parametrize("keys", [COUPLED, APART])
@pytest.mark.parametrize("silent", [False, True])
def test_lumped_outcomes_are_sums_of_the_joint_ones(
    keys: list[tuple[str, str]], silent: bool
) -> None:
    """All normal, one off by its answer, several off: exact sums, also through rules and signs."""
    state = MODEL.state(seen(GROUNDED, {("sound", "amp"): "weak", ("climbs", "V3"): "yes"}))
    if silent:
        f = GROUNDED.index[("plate", "V3")]
        state = MODEL.state(state.evidence.plus(f, Item((1.0, 0.5, 0.5))))
    findings = [GROUNDED.index[key] for key in keys]
    normal = tuple(GROUNDED.instances[f].normal for f in findings)
    lumped = outcomes(state, findings)
    assert not lumped.exact
    cells = exact(state, findings)
    several = np.zeros(len(state.posterior))
    named = {
        tuple(dict(said)[f] for f in findings): column
        for said, column in zip(lumped.answers, lumped.columns, strict=True)
        if said
    }
    for chosen, column in cells.items():
        if sum(a != n for a, n in zip(chosen, normal, strict=True)) <= 1:
            np.testing.assert_allclose(named.pop(chosen), column, atol=1e-12)
        else:
            several += column
    assert not named
    np.testing.assert_allclose(lumped.columns[-1], several, atol=1e-12)


@pytest.mark.parametrize("keys", [COUPLED, APART])
def test_lumping_can_only_understate_what_is_learned(keys: list[tuple[str, str]]) -> None:
    """A coarsening of outcomes carries at most the information of the joint."""
    state = MODEL.state(seen(GROUNDED, {("sound", "amp"): "weak"}))
    findings = [GROUNDED.index[key] for key in keys]
    whole = information(state.posterior, made_of(exact(state, findings)))
    part = information(state.posterior, outcomes(state, findings))
    assert 0.3 * whole < part <= whole + 1e-12


def test_gains_of_two_looks_at_one_sign_are_not_added() -> None:
    """Both readings of one sign together carry less than the sum, and more than either."""
    state = MODEL.state(seen(GROUNDED, {}))
    a, b = (GROUNDED.index[(f, "V3")] for f in ("drift", "climbs"))
    one, other, both = (
        information(state.posterior, outcomes(state, fs)) for fs in ([a], [b], [a, b])
    )
    assert max(one, other) < both < 0.85 * (one + other)


def test_a_sweep_is_one_candidate_over_all_places_of_its_kind() -> None:
    """Looking at all plates is one move with both tubes' findings; reading a grid is one a tube."""
    found = [c for c in ground_procedures(GROUNDED) if c.procedure.power != "any"]
    assert [c.key for c in found if c.procedure.id == "look_plates"] == [("look_plates", "*")]
    assert [c.key for c in found if c.procedure.id == "read_grid"] == [
        ("read_grid", "V3"),
        ("read_grid", "V4"),
    ]


def test_a_candidate_offers_only_what_is_open_and_applies() -> None:
    """Findings already asked, or known not to apply, are no longer expected of a procedure."""
    look = next(c for c in ground_procedures(GROUNDED) if c.procedure.id == "look_plates")
    v3, v4 = (GROUNDED.index[("plate", p)] for p in ("V3", "V4"))
    assert open_yields(look, [], {}) == (v3, v4)
    assert open_yields(look, [v3], {}) == (v4,)
    assert open_yields(look, [v3], {v4: False}) == ()
    assert open_yields(look, [], {v4: None}) == (v3, v4)


@pytest.mark.parametrize("names", [("drift", "climbs"), ("grid_volts", "plate"), ("fuse", "drift")])
def test_the_second_step_is_valued_on_what_the_first_would_have_shown(
    names: tuple[str, str],
) -> None:
    """Two-step value equals both steps written out by adding every answer to the evidence."""
    state = MODEL.state(seen(GROUNDED, {("sound", "amp"): "weak"}))
    groups = RepairGroups(GROUNDED)
    findings = [next(i for (f, _), i in GROUNDED.index.items() if f == name) for name in names]
    any_candidate = ground_procedures(GROUNDED)[0]
    priced = [Priced(any_candidate, (f,), 0.01) for f in findings]

    def cost(here) -> float:
        return float(groups.expected_cost(here.posterior)[0])

    def saving(here, f: int, then: int | None) -> float:
        found = cost(here) - 0.01
        chances = here.column(f) @ here.posterior
        for a, m in enumerate(chances):
            after = MODEL.state(here.evidence.plus(f, answered(here, f, a)))
            found -= m * cost(after)
            if then is not None:
                found += m * max(0.0, saving(after, then, None))
        return found

    valued = {v.priced.findings[0]: v for v in value_candidates(state, groups, priced)}
    for f, then in (findings, findings[::-1]):
        assert valued[f].one_step == pytest.approx(saving(state, f, None), abs=1e-9)
        assert valued[f].value == pytest.approx(saving(state, f, then), abs=1e-9)
