"""Costs in one unit (minutes at the bench), from the exchange rates in ``weights.yaml``."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from triage.infer.ground import Grounded
from triage.model.entries import Procedure, Repair

Floats = NDArray[np.float64]
ENERGISED = frozenset(
    {"plugged", "standby", "limited_bare", "limited", "idle", "driven", "external"}
)
LEVELS = ("low", "medium", "high")


def procedure_cost(procedure: Procedure, weights: Mapping[str, float], places: int = 1) -> float:
    """Own cost of a procedure done at ``places`` places: time, money, touches, risk.

    Gates and the change of power state come on top (see ``advise``). Unit: minutes.
    """
    minutes = procedure.minutes.setup + procedure.minutes.each * places
    hands = procedure.hands
    cost = (
        minutes * weights["minute"]
        + procedure.money * weights["money"]
        + hands.live * weights["live_touch"]
        + hands.charged * weights["charged_touch"]
        + hands.clip_cold * weights["clip_cold"]
    )
    cost += sum(weights[f"risk_{level}"] for level in LEVELS if level in procedure.risk)
    if procedure.power in ENERGISED:
        cost += weights["energised_step"]
    return cost


def repair_cost(repair: Repair, weights: Mapping[str, float]) -> float:
    """Cost of making a repair and proving it, in minutes."""
    cost = repair.minutes * weights["minute"] + repair.money * weights["money"]
    if repair.opens:
        cost += weights["make_cold"]
    return cost * weights["wrong_repair"] + weights["power_up"]


class RepairGroups:
    """Rows joined by what is done about them: one repair at one place."""

    def __init__(self, grounded: Grounded) -> None:
        kb = grounded.knowledge
        weights = kb.weights()
        skill = grounded.profile.owner.skill
        self.hand_over_cost = weights.get(f"hand_over_{skill}", weights["hand_over"])
        names: dict[tuple[str, str], int] = {}
        self.of_row = np.empty(len(grounded.hypotheses), dtype=int)
        costs: list[float] = []
        for row, hypothesis in enumerate(grounded.hypotheses):
            if row == grounded.unknown:
                key = ("hand_over", "")
                cost = self.hand_over_cost
            elif row == grounded.healthy:
                key = ("nothing_wrong", "")
                cost = weights["healthy_check"]
            else:
                repair = kb.repairs[kb.causes[hypothesis.cause].repair]
                key = (repair.id, hypothesis.place)
                cost = self.hand_over_cost if repair.hand_over else repair_cost(repair, weights)
            if key not in names:
                names[key] = len(costs)
                costs.append(cost)
            self.of_row[row] = names[key]
        self.keys = list(names)
        self.costs: Floats = np.array(costs)
        self.unknown = names[("hand_over", "")]
        self._order = np.argsort(self.of_row, kind="stable")
        self._starts = np.searchsorted(self.of_row[self._order], np.arange(len(costs)))

    def mass(self, posteriors: Floats) -> Floats:
        """Probability per repair group, shape (..., groups), from (..., rows)."""
        return np.asarray(np.add.reduceat(posteriors[..., self._order], self._starts, axis=-1))

    def expected_cost(self, posteriors: Floats) -> Floats:
        """Expected cost of repairing in best order (p over c), handing over the rest.

        After each repair one may hand over what remains; the best such point is taken, so this is
        an upper bound of the optimal cost. ``posteriors``: (n, rows); returns (n,).
        Source: Kadane and Simon's p over c order, as quoted by Ottosen and Jensen; the cut-off at a
        hand-over is derived here.
        """
        mass = self.mass(np.atleast_2d(posteriors)).copy()
        mass[:, self.unknown] = 0.0
        rate = mass / np.maximum(self.costs, 1e-9)
        order = np.argsort(-rate, axis=1, kind="stable")
        p = np.take_along_axis(mass, order, axis=1)
        c = self.costs[order]
        before = np.concatenate([np.zeros((len(p), 1)), np.cumsum(p, axis=1)], axis=1)
        left = np.maximum(1.0 - before, 0.0)
        spent = np.concatenate([np.zeros((len(p), 1)), np.cumsum(c * left[:, :-1], axis=1)], axis=1)
        return np.asarray((spent + left * self.hand_over_cost).min(axis=1))
