"""Planning problems stripped to numbers: causes with priors, tests with tables, costs.

Built through the ordinary grounding; only tables and priors are then set to the numbers given, so
that published problems (which have no slips, no healthy row) can be put to the planner as it is.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np

from triage.infer.ground import Grounded, ground
from triage.infer.posterior import Evidence, Model
from triage.knowledge.load import Knowledge
from triage.model.entries import Cause, Finding, Kind, Procedure, Repair
from triage.model.profile import Profile
from triage.plan.advise import Situation
from triage.plan.candidates import answered, ground_procedures
from triage.plan.costs import RepairGroups

SOURCE = [{"id": "invented"}]
ZERO = (
    "money",
    "live_touch",
    "charged_touch",
    "clip_cold",
    "energised_step",
    "risk_low",
    "risk_medium",
    "risk_high",
    "power_up",
    "make_cold",
    "open_cabinet",
    "healthy_fault",
    "healthy_first_power",
    "healthy_checkup",
    "unknown",
    "second_fault",
    "proof",
    "part_wanted",
    "part_from",
    "sound_enough",
)


class Free:
    """A gatekeeper that asks nothing."""

    def extra_cost(self, procedure: Procedure) -> float:
        return 0.0


@dataclasses.dataclass(frozen=True)
class Bare:
    """A grounded planning problem."""

    grounded: Grounded
    model: Model
    groups: RepairGroups
    prior: np.ndarray
    tables: list[np.ndarray]
    costs: list[float]

    def situation(self, known: dict[int, int]) -> Situation:
        """What the planner sees once tests ``known`` (test -> answer) have been made."""
        state = self.model.state(Evidence())
        for f, a in known.items():
            state = self.model.state(state.evidence.plus(f, answered(state, f, a)))
        return Situation(
            state=state,
            groups=self.groups,
            candidates=tuple(ground_procedures(self.grounded)),
            asked=frozenset(known),
            applicable={},
            declined={},
        )


def bare(
    prior: Sequence[float],
    tables: Sequence[np.ndarray],
    costs: Sequence[float],
    repairs: Sequence[float],
    *,
    hand_over: float = 240.0,
    sure: float = 0.9,
    wrong: float = 1.0,
    repair_of: Sequence[int] | None = None,
) -> Bare:
    """Causes with ``prior``; test j has ``tables[j]``, shape (answers, causes), and its price.

    Cause i is mended by repair ``repair_of[i]`` (its own by default); a repair that does not cure
    costs ``wrong`` times its price.
    """
    n = len(prior)
    amp = ["amp"]
    mends = list(range(n)) if repair_of is None else list(repair_of)
    causes = {
        f"c{i}": Cause(
            id=f"c{i}",
            source=SOURCE,
            at=amp,
            says="x",
            rate=float(max(p, 1e-9)),
            repair=f"r{mends[i]}",
        )
        for i, p in enumerate(prior)
    }
    fixes = {
        f"r{i}": Repair(
            id=f"r{i}",
            source=SOURCE,
            says="x",
            steps=["x"],
            minutes=float(cost),
            money=0,
            opens=False,
            proof=["x"],
        )
        for i, cost in enumerate(repairs)
    }
    findings, procedures = {}, {}
    for j, (table, cost) in enumerate(zip(tables, costs, strict=True)):
        answers = [f"a{k}" for k in range(len(table))]
        name = f"t{j:02d}"
        findings[name] = Finding(
            id=name,
            source=SOURCE,
            at=amp,
            asks="?",
            answers=answers,
            normal="a0",
            usual=dict.fromkeys(answers, 1.0 / len(answers)),
            path="reading",
        )
        procedures[name] = Procedure(
            id=name,
            source=SOURCE,
            at=amp,
            title="x",
            why="x",
            yields=[{"finding": name}],
            power="cold",
            minutes={"each": float(cost)},
            cannot=0.0,
            steps=["x"],
        )
    weights = dict.fromkeys(ZERO, 0.0) | {
        "minute": 1.0,
        "healthy_check": 1.0,
        "wrong_repair": wrong,
        "wrong_all_clear": 1.0,
        "hand_over": hand_over,
        "sure_enough": sure,
    }
    kb = Knowledge(
        kinds={"amp": Kind(id="amp", source=SOURCE, label="amp")},
        findings=findings,
        signs={},
        causes=causes,
        procedures=procedures,
        repairs=fixes,
        rules={},
        layouts={},
        profiles={},
        gates={},
        hazards={},
        plain={"weights": [{"id": k, "is": v} for k, v in weights.items()]},
        content_hash="bare",
    )
    grounded = ground(kb, Profile(amplifier="bare", channels="mono", complete=True))
    share = np.array([*prior, 0.0, 0.0]) / sum(prior)
    instances = tuple(
        dataclasses.replace(
            instance,
            table=np.hstack([tables[j], np.full((len(tables[j]), 2), 1.0 / len(tables[j]))]),
        )
        for j, instance in enumerate(grounded.instances)
    )
    grounded = dataclasses.replace(grounded, prior=share, instances=instances)
    assert [h.cause for h in grounded.hypotheses[:n]] == list(causes)
    return Bare(
        grounded,
        Model(grounded),
        RepairGroups(grounded),
        share,
        [i.table for i in instances],
        [float(c) for c in costs],
    )
