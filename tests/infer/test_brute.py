"""The posterior equals a plain enumeration of the joint, and pgmpy's."""

from __future__ import annotations

import random

import numpy as np
import pytest

from tests.infer.helpers import row_of, seen, weighed
from tests.infer.plainly import Plain, both_sign, both_table
from tests.toy import toy
from triage.infer.pairs import pair_log
from triage.infer.posterior import Model

GROUNDED = toy()
MODEL = Model(GROUNDED)
PLAIN = Plain(GROUNDED)


def random_tables(seed: int, most: int) -> dict[tuple[str, str], dict[str, float]]:
    rng = random.Random(seed)
    found = {}
    for instance in rng.sample(GROUNDED.instances, rng.randint(1, most)):
        if rng.random() < 0.7:
            found[instance.key] = {rng.choice(instance.answers): 1.0}
        else:
            found[instance.key] = {a: rng.random() for a in instance.answers}
    return found


@pytest.mark.parametrize("seed", range(12))
def test_posterior_equals_plain_enumeration_from_the_words(seed: int) -> None:
    """Words, floors, signs, suppression and rules, enumerated without the tool's code: 1e-9."""
    tables = random_tables(seed, 5)
    tool = MODEL.state(weighed(GROUNDED, tables)).posterior
    np.testing.assert_allclose(tool, PLAIN.posterior(tables), atol=1e-9)


@pytest.mark.parametrize("fired", ["all", "contradicted", "part"])
def test_a_rule_alone_follows_the_closed_forms_of_the_design(fired: str) -> None:
    """All hold s/(1+(s-1)q); contradicted 1/(...); part seen (1+(s-1)q_rest)/(...)."""
    cap_dry = row_of(GROUNDED, "cap_dry", "B1")
    hum = PLAIN.slipped(("hum", "amp"), PLAIN.true_table(cap_dry, ("hum", "amp")))
    sign = PLAIN.sign_chance(cap_dry, ("ripple_high", "B1"))
    high = (
        sign * PLAIN.shown(("ripple", "B1"), True)["high"]
        + (1 - sign) * PLAIN.shown(("ripple", "B1"), False)["high"]
    )
    q_hum, q = hum["steady"] + hum["loud"], (hum["steady"] + hum["loud"]) * high
    below = 1 + 4 * q
    answers, single, factor = {
        "all": ({("hum", "amp"): "loud", ("ripple", "B1"): "high"}, hum["loud"] * high, 5 / below),
        "contradicted": (
            {("hum", "amp"): "none", ("ripple", "B1"): "high"},
            hum["none"] * high,
            1 / below,
        ),
        "part": ({("ripple", "B1"): "high"}, high, (1 + 4 * q_hum) / below),
    }[fired]
    state = MODEL.state(seen(GROUNDED, answers))
    chance = np.exp(state.log[cap_dry]) / GROUNDED.prior[cap_dry]
    assert chance == pytest.approx(single * factor, rel=1e-12)


@pytest.mark.parametrize(
    "pair",
    [
        (("cap_leaky", "C7"), ("tube_gassy", "V4")),
        (("cap_leaky", "C7"), ("tube_gassy", "V3")),
        (("tube_weak", "V3"), ("cap_dry", "B1")),
    ],
)
def test_two_faults_without_shared_rules_equal_plain_enumeration(
    pair: tuple[tuple[str, str], tuple[str, str]],
) -> None:
    """Noisy-or on findings and signs, most severe answer seen: odds against the best single."""
    plain_base = toy(rules=[])
    plain, model = Plain(plain_base), Model(plain_base)
    a, b = (row_of(plain_base, *side) for side in pair)
    answers = {
        ("plate", "V4"): "orange",
        ("grid_volts", "V3"): "positive",
        ("sound", "amp"): "weak",
        ("drift", "V3"): "yes",
        ("ripple", "B1"): "high",
    }
    state = model.state(seen(plain_base, answers))
    share = 0.2
    prior = share * plain_base.prior[a] * plain_base.prior[b]
    if pair == (("cap_leaky", "C7"), ("tube_gassy", "V3")):
        prior = share * plain_base.prior[a] * 0.3
    direct = [k for k in answers if plain.sign_of(k) is None]
    tables = {k: plain.slipped(k, both_table(plain, a, b, k)) for k in direct}
    signs = {s: both_sign(plain, a, b, s) for s in plain_base.signs}
    chance = plain.chance(a, {k: {v: 1.0} for k, v in answers.items()}, tables, signs)
    assert pair_log(state, a, b) == pytest.approx(np.log(prior * chance), abs=1e-9)
