"""The same model as a Bayesian network in pgmpy (written against 1.1.2): posteriors to 1e-9.

One node H with a state per row (healthy, unknown and chosen pairs included), one node per sign,
one per finding. A rule is a node that is always observed, with parents H and its findings: it
weighs s where the row is the rule's and all its literals hold, else 1. Each row's prior is divided
by the mean of its rules, which is asked of pgmpy itself.
"""

from __future__ import annotations

import random
import warnings
from itertools import product

import numpy as np
import pytest

from tests.infer.helpers import row_of, seen
from tests.infer.plainly import Plain, both_sign, both_table
from tests.toy import toy
from triage.infer.pairs import pair_log
from triage.infer.posterior import Model

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork

GROUNDED = toy()
MODEL = Model(GROUNDED)
PLAIN = Plain(GROUNDED)
PAIRS = [
    ("cap_leaky", "C7", "cap_dry", "B1"),
    ("cap_leaky", "C7", "tube_gassy", "V3"),
    ("tube_shorted", "V3", "socket_loose", "V4"),
]
ROWS = len(GROUNDED.hypotheses)


def name(key: tuple[str, str]) -> str:
    return "/".join(key)


def pairs() -> list[tuple[int, int]]:
    return [(row_of(GROUNDED, a, x), row_of(GROUNDED, b, y)) for a, x, b, y in PAIRS]


def members(state: int) -> tuple[int, ...]:
    """Rows at work in a state of H."""
    return (state,) if state < ROWS else pairs()[state - ROWS]


def pair_prior(a: int, b: int) -> float:
    """Product of the singles; 0.3 instead of the second where the first is known to ruin it."""
    follows = (GROUNDED.hypotheses[a].cause, GROUNDED.hypotheses[b].cause) == (
        "cap_leaky",
        "tube_gassy",
    )
    return 0.2 * float(GROUNDED.prior[a]) * (0.3 if follows else float(GROUNDED.prior[b]))


def direct_table(state: int, key: tuple[str, str]) -> dict[str, float]:
    rows = members(state)
    if len(rows) == 1:
        return PLAIN.slipped(key, PLAIN.true_table(rows[0], key))
    return PLAIN.slipped(key, both_table(PLAIN, *rows, key))


def sign_chance(state: int, key: tuple[str, str]) -> float:
    rows = members(state)
    return PLAIN.sign_chance(rows[0], key) if len(rows) == 1 else both_sign(PLAIN, *rows, key)


def network(prior: np.ndarray) -> tuple[object, dict[str, str]]:
    states = ROWS + len(PAIRS)
    names = {"H": [str(i) for i in range(states)]}
    cpds = [TabularCPD("H", states, (prior / prior.sum())[:, None], state_names=dict(names))]
    edges = []
    for sign in GROUNDED.signs:
        node = name(sign)
        names[node] = ["no", "yes"]
        yes = np.array([sign_chance(h, sign) for h in range(states)])
        cpds.append(
            TabularCPD(
                node, 2, [1 - yes, yes], ["H"], [states], {node: names[node], "H": names["H"]}
            )
        )
        edges.append(("H", node))
    for instance in GROUNDED.instances:
        key, node = instance.key, name(instance.key)
        names[node] = list(instance.answers)
        sign = PLAIN.sign_of(key)
        if sign is None:
            parent = "H"
            columns = [direct_table(h, key) for h in range(states)]
        else:
            parent = name(sign)
            columns = [PLAIN.shown(key, False), PLAIN.shown(key, True)]
        values = [[column[a] for column in columns] for a in instance.answers]
        cpds.append(
            TabularCPD(
                node,
                len(instance.answers),
                values,
                [parent],
                [len(columns)],
                {node: names[node], parent: names[parent]},
            )
        )
        edges.append((parent, node))
    observed = {}
    ruled = [(row, *rule) for row in range(ROWS) for rule in PLAIN.rules(row)]
    for at, (row, power, literals) in enumerate(ruled):
        node, parents = f"rule{at}", ["H", *[name(key) for key, _ in literals]]
        names[node] = ["no", "yes"]
        top = max(power, 1.0)
        yes = []
        for h, *answers in product(*[names[p] for p in parents]):
            held = row in members(int(h)) and all(
                a in accepted for a, (_, accepted) in zip(answers, literals, strict=True)
            )
            yes.append((power if held else 1.0) / top)
        cpds.append(
            TabularCPD(
                node,
                2,
                [[1 - p for p in yes], yes],
                parents,
                [len(names[p]) for p in parents],
                {p: names[p] for p in [node, *parents]},
            )
        )
        edges += [(parent, node) for parent in parents]
        observed[node] = "yes"
    net = DiscreteBayesianNetwork(edges)
    net.add_cpds(*cpds)
    assert net.check_model()
    return net, observed


@pytest.fixture(scope="module")
def ready() -> tuple[object, dict[str, str]]:
    """Network whose rules are normalised per row."""
    states = ROWS + len(PAIRS)
    flat, observed = network(np.ones(states))
    mean = VariableElimination(flat).query(["H"], evidence=observed, show_progress=False).values
    prior = np.array([*GROUNDED.prior, *[pair_prior(a, b) for a, b in pairs()]])
    net, observed = network(prior / mean)
    return VariableElimination(net), observed


def answers_of(seed: int) -> dict[tuple[str, str], str]:
    rng = random.Random(100 + seed)
    return {i.key: rng.choice(i.answers) for i in rng.sample(GROUNDED.instances, rng.randint(0, 9))}


@pytest.mark.parametrize("seed", range(8))
def test_posterior_and_pairs_equal_pgmpy(seed: int, ready: tuple[object, dict[str, str]]) -> None:
    """Signs, findings, interactions and pairs: single rows and pairs by exact elimination."""
    solver, observed = ready
    said = answers_of(seed)
    given = {name(key): answer for key, answer in said.items()} | observed
    found = solver.query(["H"], evidence=given, show_progress=False).values
    state = MODEL.state(seen(GROUNDED, said))
    singles = found[:ROWS] / found[:ROWS].sum()
    np.testing.assert_allclose(state.posterior, singles, atol=1e-9)
    tool = np.array([pair_log(state, a, b) for a, b in pairs()]) - state.total_log
    np.testing.assert_allclose(
        np.exp(tool), found[ROWS:] / found[:ROWS].sum(), rtol=1e-9, atol=1e-12
    )
