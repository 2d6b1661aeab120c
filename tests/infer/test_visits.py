"""A fault that comes and goes is there for a whole visit or away for a whole visit."""

from __future__ import annotations

import random
import warnings
from itertools import product

import numpy as np
import pytest

from tests.infer.helpers import likelihood, row_of, weighed
from tests.infer.plainly import Plain
from tests.infer.test_pgmpy import PAIRS, ROWS, name, network
from tests.toy import toy
from triage.infer.gather import Observation, gather
from triage.infer.posterior import Evidence, Item, Model
from triage.infer.visits import MOST, visits
from triage.plan.candidates import answered, outcomes
from triage.world.rules import RulesWorld

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination

GROUNDED = toy()
MODEL = Model(GROUNDED)
PLAIN = Plain(GROUNDED)
LOOSE = row_of(GROUNDED, "socket_loose", "V3")
Key = tuple[str, str]


def looked(tables: dict[Key, dict[str, float]], looks: dict[Key, tuple[int, float]]) -> Evidence:
    """Evidence with a visit and a chance of presence on some of its findings."""
    items = dict(weighed(GROUNDED, tables).items)
    for key, (visit, pi) in looks.items():
        items[GROUNDED.index[key]] = Item(items[GROUNDED.index[key]].weights, pi, visit)
    return Evidence(items)


def drawn(seed: int) -> tuple[dict[Key, dict[str, float]], dict[Key, tuple[int, float]]]:
    """Random findings, those that a loose socket bears on first, over three random visits."""
    rng = random.Random(seed)
    own = [("plate", "V3"), ("sound", "amp"), ("plate", "V4")]
    others = [i.key for i in GROUNDED.instances if i.key not in own]
    keys = [*own[: rng.randint(1, 3)], *rng.sample(others, rng.randint(0, 2))]
    tables = {}
    for key in keys:
        answers = GROUNDED.instances[GROUNDED.index[key]].answers
        if rng.random() < 0.7:
            tables[key] = {rng.choice(answers): 1.0}
        else:
            tables[key] = {a: rng.random() for a in answers}
    pi = [rng.choice([0.0, 0.3]) for _ in range(3)]
    looks = {}
    for key in keys:
        if rng.random() < 0.8:
            visit = rng.randrange(3)
            looks[key] = (visit, pi[visit])
    return tables, looks


@pytest.mark.parametrize("seed", range(16))
def test_posterior_over_visits_equals_plain_enumeration(seed: int) -> None:
    """Presence summed over whole visits, rules and signs included, without the tool's code: 1e-9."""
    tables, looks = drawn(seed)
    rows = range(len(GROUNDED.hypotheses))
    chances = [PLAIN.chance_by_visit(row, tables, looks) for row in rows]
    joint = GROUNDED.prior * np.array(chances)
    tool = MODEL.state(looked(tables, looks))
    np.testing.assert_allclose(tool.posterior, joint / joint.sum(), atol=1e-9)
    np.testing.assert_allclose(likelihood(MODEL, tool.evidence), chances, rtol=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_posterior_over_visits_equals_pgmpy(seed: int) -> None:
    """One node a visit, a reported node a finding seen in it: exact elimination, to 1e-9.

    Source: pgmpy's variable elimination (outside the project).
    """
    tables, looks = drawn(100 + seed)
    said = {key: max(table, key=lambda a: table[a]) for key, table in tables.items()}
    states = ROWS + len(PAIRS)
    flat, ruled = network(np.ones(states))
    mean = VariableElimination(flat).query(["H"], evidence=ruled, show_progress=False).values
    prior = np.zeros(states)
    prior[: len(GROUNDED.prior)] = GROUNDED.prior
    net, ruled = network(prior / mean)
    rows = [str(i) for i in range(states)]
    goes = np.zeros(states)
    goes[: len(GROUNDED.goes)] = GROUNDED.goes
    for visit, pi in sorted(set(looks.values())):
        there, node = 1.0 - goes * (1.0 - pi), f"visit{visit}"
        net.add_edge("H", node)
        names = {node: ["away", "there"], "H": rows}
        net.add_cpds(TabularCPD(node, 2, [1.0 - there, there], ["H"], [states], names))
    given = dict(ruled)
    for key, answer in said.items():
        given[name(key)] = answer
    for key, (visit, _) in looks.items():
        own, node, at = f"seen {name(key)}", f"visit{visit}", name(key)
        answers = list(PLAIN.finding(key).answers)
        usual = PLAIN.slipped(key, dict(PLAIN.finding(key).usual))
        columns = [
            [usual[a] if state == "away" else float(a == made) for a in answers]
            for state, made in product(["away", "there"], answers)
        ]
        net.add_edges_from([(node, own), (at, own)])
        names = {own: answers, node: ["away", "there"], at: answers}
        net.add_cpds(
            TabularCPD(own, len(answers), np.array(columns).T, [node, at], [2, len(answers)], names)
        )
        del given[at]
        given[own] = said[key]
    assert net.check_model()
    found = VariableElimination(net).query(["H"], evidence=given, show_progress=False).values
    tool = MODEL.state(looked({k: {a: 1.0} for k, a in said.items()}, looks)).posterior
    np.testing.assert_allclose(tool, found[: len(tool)] / found.sum(), atol=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_columns_after_unsure_visits_are_the_ratios_that_come(seed: int) -> None:
    """What the planner looks ahead with, one finding and two, equals the fold of the answers: 1e-9."""
    tables, looks = drawn(200 + seed)
    state = MODEL.state(looked(tables, looks))
    free = [i.index for i in GROUNDED.instances if i.key not in tables]
    rng = random.Random(seed)
    asked = [(f,) for f in free] + [tuple(rng.sample(free, 2)) for _ in range(12)]
    for findings in asked:
        found = outcomes(state, findings)
        assert found.exact
        for column, said in zip(found.columns, found.answers, strict=True):
            evidence = state.evidence
            for f, a in said:
                evidence = evidence.plus(f, answered(state, f, a))
            ratio = np.exp(MODEL.state(evidence).log - state.log)
            np.testing.assert_allclose(column, ratio, rtol=1e-9, atol=1e-12)
            near = MODEL.likelihood(state.evidence, evidence, findings)
            np.testing.assert_allclose(near, ratio, rtol=1e-9, atol=1e-12)


def test_normal_looks_of_one_visit_count_as_one_absence() -> None:
    """Share .5, 'not happening': two looks share one absence in one visit, have their own in two."""
    base = toy(rules=[])
    model, row = Model(base), row_of(base, "socket_loose", "V3")
    f = base.index[("sound", "amp")]
    other = base.index[("plate", "V3")]

    def factor(visits_of: tuple[int, int]) -> float:
        items = {
            f: Item((1.0, 0.0, 0.0, 0.0), 0.0, visits_of[0]),
            other: Item((1.0, 0.0, 0.0), 0.0, visits_of[1]),
        }
        chance = likelihood(model, Evidence(items))
        return float(chance[row] / chance[base.healthy])

    ratios = [
        float(g.table[0, row] / g.base[0]) for g in (base.instances[f], base.instances[other])
    ]
    assert factor((1, 1)) == pytest.approx(0.5 + 0.5 * ratios[0] * ratios[1], rel=1e-9)
    apart = (0.5 + 0.5 * ratios[0]) * (0.5 + 0.5 * ratios[1])
    assert factor((1, 2)) == pytest.approx(apart, rel=1e-9)


@pytest.mark.parametrize(
    "said, expected",
    [
        (("yes", "yes"), []),
        (("unknown", "unknown"), [0.3]),
        (("no", "unknown"), [0.0]),
        (("yes", "no"), [0.0]),
    ],
)
def test_the_answer_whether_it_happened_holds_for_the_whole_visit(
    said: tuple[str, str], expected: list[float]
) -> None:
    """Yes 1, no 0, unknown .3; a look that says no and unknown is a no; what was seen stays seen."""
    observed = [
        Observation("sound", "amp", "good", happening=said[0], epoch=3),
        Observation("plate", "V3", "dull", happening=said[1], epoch=3),
    ]
    items = gather(GROUNDED, observed, complaint_told=False).evidence.items
    assert [visit.present for visit in visits(items)] == expected


def test_more_visits_than_can_be_summed_join_the_earliest() -> None:
    """Never more than a few hidden states, and no finding is lost."""
    items = {n: Item((1.0, 0.0), 0.0, n) for n in range(MOST + 3)}
    found = visits(items)
    assert len(found) == MOST
    assert found[0].findings == {0, 1, 2, 3}
    assert set().union(*(visit.findings for visit in found)) == set(items)


def test_a_simulated_visit_shares_presence_and_the_posterior_comes_true() -> None:
    """Shown where .4 of the visits show it: in each third, as often true as the posterior says."""
    base = toy(rules=[])
    model, row = Model(base), row_of(base, "socket_loose", "V3")
    other = base.healthy
    shown, true = [], []
    for seed in range(3000):
        hidden = row if seed % 2 else other
        world = RulesWorld(base, seed, row=hidden, present=0.4)
        items = {}
        for visit, keys in enumerate(([("sound", "amp"), ("plate", "V3")], [("plate", "V4")])):
            for key in keys:
                reply = world.ask(*key)
                f = base.index[key]
                at = base.instances[f].answers.index(reply.answer)
                n = len(base.instances[f].answers)
                items[f] = Item(tuple(float(i == at) for i in range(n)), 0.4, visit)
            world.look_again()
        chance = likelihood(model, Evidence(items))
        shown.append(float(chance[row] / (chance[row] + chance[other])))
        true.append(hidden == row)
    p, hit = np.array(shown), np.array(true, dtype=float)
    third = np.argsort(np.argsort(p)) * 3 // len(p)
    for part in range(3):
        here = third == part
        noise = np.sqrt((p[here] * (1.0 - p[here])).sum()) / here.sum()
        assert abs(p[here].mean() - hit[here].mean()) < 4.0 * noise
    assert p[third == 2].mean() > p[third == 0].mean() + 0.3
