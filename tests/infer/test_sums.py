"""Every row is a probability: it sums to one, and looking further changes nothing on average."""

from __future__ import annotations

import random
from itertools import product

import numpy as np
import pytest

from tests.infer.helpers import likelihood, seen
from tests.toy import toy
from triage.infer.posterior import Evidence, Item, Model
from triage.plan.candidates import answered, ground_procedures, outcomes

GROUNDED = toy()
MODEL = Model(GROUNDED)
SETS = [
    [("plate", "V3"), ("plate", "V4"), ("grid_volts", "V3"), ("drift", "V3"), ("climbs", "V3")],
    [("plate", "V3"), ("grid_volts", "V4"), ("sound", "amp"), ("drift", "V4")],
    [("hum", "amp"), ("ripple", "B1"), ("cap_warm", "B1"), ("fuse", "amp")],
    [("leak", "C7"), ("plate", "V3"), ("grid_volts", "V3"), ("sound", "amp")],
    [("plate", "V3")],
]


def one_hot(index: int, answer: int, present: float = 1.0, visit: int = 0) -> Item:
    n = len(GROUNDED.instances[index].answers)
    return Item(tuple(float(i == answer) for i in range(n)), present, visit)


@pytest.mark.parametrize("keys", SETS)
@pytest.mark.parametrize("present", [1.0, 0.3, 0.0])
def test_every_row_sums_to_one_over_all_answers_rules_and_intermittents_included(
    keys: list[tuple[str, str]], present: float
) -> None:
    """Over all answers of a set of findings, P(answers | row) sums to 1 in every row."""
    indices = [GROUNDED.index[key] for key in keys]
    total = np.zeros(len(GROUNDED.hypotheses))
    for chosen in product(*[range(len(GROUNDED.instances[i].answers)) for i in indices]):
        items = {i: one_hot(i, a, present, i % 2) for i, a in zip(indices, chosen, strict=True)}
        total += likelihood(MODEL, Evidence(items))
    np.testing.assert_allclose(total, 1.0, atol=1e-12)


def test_what_is_told_and_what_is_not_told_sum_to_one() -> None:
    """Volunteering an abnormal answer with its chance, or silence: the two are exhaustive."""
    keys = [("hum", "amp"), ("sound", "amp"), ("plate", "V3"), ("plate", "V4")]
    total = np.zeros(len(GROUNDED.hypotheses))
    choices = []
    for key in keys:
        instance = GROUNDED.instances[GROUNDED.index[key]]
        silence = tuple(
            1.0 if i == instance.normal else 1.0 - instance.told
            for i in range(len(instance.answers))
        )
        told = [
            tuple(instance.told * (i == a) for i in range(len(instance.answers)))
            for a in range(len(instance.answers))
            if a != instance.normal
        ]
        choices.append([(instance.index, Item(w)) for w in (silence, *told)])
    for chosen in product(*choices):
        total += likelihood(MODEL, Evidence(dict(chosen)))
    np.testing.assert_allclose(total, 1.0, atol=1e-12)


def random_evidence(rng: random.Random) -> Evidence:
    items = {}
    for instance in rng.sample(GROUNDED.instances, rng.randint(0, 6)):
        n = len(instance.answers)
        sort = rng.random()
        if sort < 0.6:
            items[instance.index] = one_hot(
                instance.index,
                rng.randrange(n),
                rng.choice([1.0, 1.0, 0.3, 0.0]),
                rng.randrange(3),
            )
        elif sort < 0.8:
            items[instance.index] = Item(tuple(rng.random() for _ in range(n)))
        else:
            items[instance.index] = Item(
                tuple(1.0 if i == instance.normal else 1.0 - instance.told for i in range(n))
            )
    return Evidence(items)


@pytest.mark.parametrize("seed", range(8))
def test_predicted_outcomes_are_the_likelihoods_that_come_and_mean_posterior_is_the_prior(
    seed: int,
) -> None:
    """For every candidate: columns equal likelihood ratios, and looking changes nothing on average.

    Findings that were only not mentioned are re-asked: the answer then replaces the silence.
    """
    state = MODEL.state(random_evidence(random.Random(seed)))
    for candidate in ground_procedures(GROUNDED):
        open_now = tuple(f for f in candidate.yields if f not in state.evidence.items)
        if not open_now:
            continue
        found = outcomes(state, open_now)
        chances = found.columns @ state.posterior
        mean = np.zeros(len(state.posterior))
        np.testing.assert_allclose(found.columns.sum(axis=0), 1.0, atol=1e-12)
        for chance, column, said in zip(chances, found.columns, found.answers, strict=True):
            assert found.exact and said
            evidence = state.evidence
            for f, a in said:
                evidence = evidence.plus(f, answered(state, f, a))
            after = MODEL.state(evidence)
            ratio = np.exp(after.log - state.log)
            np.testing.assert_allclose(column, ratio, rtol=1e-9, atol=1e-12)
            mean += chance * after.posterior
        np.testing.assert_allclose(mean, state.posterior, atol=1e-12)


@pytest.mark.parametrize("key", [("hum", "amp"), ("plate", "V3"), ("sound", "amp")])
def test_the_answer_to_a_question_nobody_mentioned_is_predicted_given_the_silence(
    key: tuple[str, str],
) -> None:
    """After silence, P(answer | row, silence) is the ratio of the two likelihoods."""
    f = GROUNDED.index[key]
    instance = GROUNDED.instances[f]
    n = len(instance.answers)
    silence = Item(tuple(1.0 if i == instance.normal else 1.0 - instance.told for i in range(n)))
    state = MODEL.state(
        seen(GROUNDED, {("drift", "V3"): "yes", ("ripple", "B1"): "high"}).plus(f, silence)
    )
    column = state.column(f)
    for a in range(n):
        both = Item(tuple(silence.weights[i] * (i == a) for i in range(n)))
        ratio = np.exp(MODEL.state(state.evidence.plus(f, both)).log - state.log)
        np.testing.assert_allclose(column[a], ratio, rtol=1e-9)


def test_swapping_the_names_of_two_mates_swaps_the_conclusion_and_nothing_else() -> None:
    """Evidence said of V4 instead of V3 moves every suspect of V3 to V4, to 1e-12."""
    swap = {"V3": "V4", "V4": "V3", "C7": "C8", "C8": "C7"}
    said = {
        ("plate", "V3"): "red",
        ("plate", "V4"): "dull",
        ("grid_volts", "V3"): "positive",
        ("drift", "V3"): "yes",
        ("leak", "C8"): "none",
        ("sound", "amp"): "crackle",
    }
    here = MODEL.state(seen(GROUNDED, said))
    there = MODEL.state(seen(GROUNDED, {(f, swap.get(p, p)): a for (f, p), a in said.items()}))
    places = {(h.cause, h.place): i for i, h in enumerate(GROUNDED.hypotheses)}
    moved = [places[(h.cause, swap.get(h.place, h.place))] for h in GROUNDED.hypotheses]
    np.testing.assert_allclose(here.posterior, there.posterior[moved], atol=1e-12)
    assert GROUNDED.hypotheses[here.posterior.argmax()].place in ("C7", "V3")
    assert GROUNDED.hypotheses[there.posterior.argmax()].place in ("C8", "V4")
    assert here.surprise() == pytest.approx(there.surprise(), abs=1e-12)
