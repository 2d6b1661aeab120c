"""Costs in one unit (minutes at the bench), from the exchange rates in ``weights.yaml``.

The objective, once and for all: the expected sum of minutes, money and risk until the fault is
repaired and proven, or handed over. A step costs its minutes, its money, each touch (live, charged,
clipped on while dead), its risk and the wear of being powered, plus the gates and the change of power
state on the way; a step that this person may not manage costs as many tries as it takes. A repair
costs its minutes, its part, being cold and its proof; one that does not cure costs a multiple, since
the part is paid and something was disturbed. A hand-over costs what it costs this person. Gates are
no part of it: what they forbid has no price.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy

import numpy as np
from numpy.typing import NDArray

from triage.infer.ground import Grounded
from triage.model.entries import Procedure, Repair
from triage.plan.fast import cost_of_mass

Floats = NDArray[np.float64]
ENERGISED = frozenset(
    {"plugged", "standby", "limited_bare", "limited", "idle", "driven", "external"}
)
ENDS = ("hand_over", "nothing_wrong")
"""Groups that are no repair."""
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
        + places * hands.live * weights["live_touch"]
        + places * hands.charged * weights["charged_touch"]
        + places * hands.clip_cold * weights["clip_cold"]
    )
    cost += sum(weights[f"risk_{level}"] for level in LEVELS if level in procedure.risk)
    if procedure.power in ENERGISED:
        cost += weights["energised_step"]
    return cost


def repair_cost(repair: Repair, weights: Mapping[str, float]) -> float:
    """Cost of making a repair and proving it, in minutes: minutes, money, being cold, the proof."""
    cost = repair.minutes * weights["minute"] + repair.money * weights["money"]
    if repair.opens:
        cost += weights["make_cold"]
    return cost + weights["power_up"] + weights["proof"]


def wrong_repair_cost(repair: Repair, weights: Mapping[str, float]) -> float:
    """Cost of a repair that does not cure: all of its own, and what it spoils, in minutes.

    A wrong part is paid, fitted, proven and taken out again, and what was disturbed may be worse
    than before (``wrong_repair`` times its own cost); new output tubes put in while what killed the
    old ones is alive are lost as well.
    """
    cost = repair_cost(repair, weights) * weights["wrong_repair"]
    if repair.fits_output_tubes:
        cost += repair.money * weights["money"]
    return cost


class RepairGroups:
    """Rows joined by what is done about them: one repair at one place.

    ``costs`` is what a group costs where it does not cure, ``right`` where it does; shape (groups,).
    """

    def __init__(self, grounded: Grounded) -> None:
        kb = grounded.knowledge
        weights = kb.weights()
        skill = grounded.profile.owner.skill
        self.hand_over_cost = weights.get(f"hand_over_{skill}", weights["hand_over"])
        names: dict[tuple[str, str], int] = {}
        self.of_row = np.empty(len(grounded.hypotheses), dtype=int)
        costs: list[float] = []
        right: list[float] = []
        for row, hypothesis in enumerate(grounded.hypotheses):
            if row == grounded.unknown:
                key = ("hand_over", "")
                cost = cured = self.hand_over_cost
            elif row == grounded.healthy:
                key = ("nothing_wrong", "")
                cost, cured = weights["wrong_all_clear"], weights["healthy_check"]
            else:
                repair = kb.repairs[kb.causes[hypothesis.cause].repair]
                key = (repair.id, hypothesis.place)
                cost, cured = wrong_repair_cost(repair, weights), repair_cost(repair, weights)
                if repair.hand_over and skill != "technician":
                    cost = cured = self.hand_over_cost
            if key not in names:
                names[key] = len(costs)
                costs.append(cost)
                right.append(min(cured, cost))
            self.of_row[row] = names[key]
        self.keys = list(names)
        self.costs: Floats = np.array(costs)
        self.money: Floats = np.array(
            [
                kb.repairs[name].money if name in kb.repairs else 0.0
                for name in (k[0] for k in names)
            ]
        )
        self.right: Floats = np.array(right)
        self.part = self.money >= weights["part_from"]
        self.part_wanted = weights["part_wanted"]
        self.unknown = names[("hand_over", "")]
        self._alike: Floats = np.zeros(len(self.of_row))
        self._alike_rows = np.flatnonzero(self._alike)
        self._order = np.argsort(self.of_row, kind="stable")
        self._starts = np.searchsorted(self.of_row[self._order], np.arange(len(costs)))

    def mass(self, posteriors: Floats) -> Floats:
        """Probability per repair group, shape (..., groups), from (..., rows)."""
        found = np.add.reduceat(posteriors[..., self._order], self._starts, axis=-1)
        for row in self._alike_rows:
            moved = posteriors[..., row] * self._alike[row]
            found[..., self.of_row[row]] -= moved
            found[..., self.unknown] += moved
        return np.asarray(found)

    def after(self, alike: Floats) -> RepairGroups:
        """The same groups where these shares of the rows, (rows,), are none of their causes."""
        found = copy(self)
        found._alike, found._alike_rows = alike, np.flatnonzero(alike)
        return found

    def saved(self, mass: Floats) -> Floats:
        """What making each repair next saves over handing over at once, in minutes.

        A repair that cures saves the hand-over; one that does not costs its wrong price on top of
        it. No part is bought on less than the weight ``part_wanted``: that saves nothing. ``mass``: (...,
        groups); the same shape is returned.
        """
        gain = mass * (self.hand_over_cost - self.right) - (1.0 - mass) * self.costs
        ends = np.zeros(len(self.keys), dtype=bool)
        ends[[i for i, key in enumerate(self.keys) if key[0] in ENDS]] = True
        barred = (self.part & (mass < self.part_wanted)) | ends
        return np.asarray(np.where(barred, 0.0, gain))

    def too_dear_at(self, group: int, p: float) -> bool:
        """Whether this repair buys a part, and ``p`` is too little to buy it on."""
        return bool(self.part[group]) and p < self.part_wanted

    def expected_cost(self, posteriors: Floats) -> Floats:
        """Expected cost of repairing in best order (p over c), handing over the rest.

        A repair that does not cure costs ``costs``, one that does ``right``. After each one may
        hand over what remains; the best such point is taken, so this is an upper bound of the
        optimal cost. ``posteriors``: (n, rows); returns (n,).
        Source: Kadane and Simon's p over c order, as quoted by Ottosen and Jensen; the cut-off at a
        hand-over and the cheaper right repair are derived here (the order stays the same).
        """
        mass = self.mass(np.atleast_2d(posteriors)).copy()
        mass[:, self.unknown] = 0.0
        return cost_of_mass(mass, self.costs, self.right, self.hand_over_cost)
