"""Small ways of saying evidence in tests."""

from __future__ import annotations

from triage.infer.ground import Grounded, Key
from triage.infer.posterior import Evidence, Item, Model, State


def weigh(grounded: Grounded, key: Key, table: dict[str, float]) -> tuple[int, Item]:
    index = grounded.index[key]
    answers = grounded.instances[index].answers
    assert set(table) <= set(answers)
    return index, Item(tuple(table.get(answer, 0.0) for answer in answers))


def seen(grounded: Grounded, answers: dict[Key, str]) -> Evidence:
    return weighed(grounded, {key: {answer: 1.0} for key, answer in answers.items()})


def weighed(grounded: Grounded, tables: dict[Key, dict[str, float]]) -> Evidence:
    return Evidence(dict(weigh(grounded, key, table) for key, table in tables.items()))


def likelihood(model: Model, evidence: Evidence) -> object:
    """P(evidence | row) for every row."""
    import numpy as np

    state: State = model.state(evidence)
    return np.exp(state.log) / model.grounded.prior


def row_of(grounded: Grounded, cause: str, place: str = "") -> int:
    return next(
        i for i, h in enumerate(grounded.hypotheses) if h.cause == cause and h.place == place
    )
