"""What safety's demands cost the planner, in minutes; None where a step is never for this person."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from triage.knowledge.load import Knowledge
from triage.model.entries import Procedure
from triage.plan.costs import procedure_cost
from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.gates import WHY, forbidden, passed, required
from triage.safety.states import SafetyState, power_state

UNKNOWN_GATE = 6.0


def providers(knowledge: Knowledge) -> dict[str, Procedure]:
    """The procedure that proves each gate (the cheapest to set up)."""
    found: dict[str, Procedure] = {}
    for procedure in sorted(knowledge.procedures.values(), key=lambda p: p.id):
        for gate in procedure.proves:
            kept = found.get(gate)
            if kept is None or procedure.minutes.setup < kept.minutes.setup:
                found[gate] = procedure
    return found


@dataclass(frozen=True)
class SafetyPrices:
    """Gatekeeper for the planner, at one safety state."""

    knowledge: Knowledge
    state: SafetyState
    facts: AmpFacts
    refused: frozenset[str] = frozenset()

    @cached_property
    def by_gate(self) -> dict[str, Procedure]:
        """The procedure that proves each gate."""
        return providers(self.knowledge)

    @cached_property
    def weights(self) -> dict[str, float]:
        """Exchange rates."""
        return self.knowledge.weights()

    @cached_property
    def held(self) -> frozenset[str]:
        """Gates that hold now."""
        return frozenset(gate for gate in WHY if passed(gate, self.state, self.facts))

    @cached_property
    def now(self) -> str:
        """The power state now."""
        return power_state(self.state, self.facts.nodes)

    def extra_cost(self, procedure: Procedure) -> float | None:
        """Minutes for missing gates and the change of power state; None where it never may be."""
        step = StepFacts.of(procedure)
        if forbidden(step, self.state, self.facts):
            return None
        weights, by_gate, now = self.weights, self.by_gate, self.now
        cost = 0.0
        for gate in required(step, self.facts, self.state):
            if gate in self.held:
                continue
            no_limiter = gate == "G9" and "limiter" not in self.facts.tools
            if no_limiter or self._shut(gate, frozenset()):
                return None
            provider = by_gate.get(gate)
            if gate in ("G1", "G16"):
                continue
            price = procedure_cost(provider, weights) if provider else UNKNOWN_GATE
            cost += price / weights["gates_shared_by"]
        if step.power in ("any", now) or (step.power == "unplugged" and now == "cold"):
            return cost
        if step.energised:
            cost += weights["power_up"]
        elif step.inside:
            cost += weights["make_cold"]
        if step.inside and now not in ("cold", "unplugged"):
            cost += weights["open_cabinet"]
        return cost

    def _shut(self, gate: str, asked: frozenset[str]) -> bool:
        """Whether this person cannot prove a gate: refused, or its own proof wants one that was."""
        if not self.refused or gate in self.refused:
            return bool(self.refused)
        provider = self.by_gate.get(gate)
        if provider is None or gate in asked or gate in self.held:
            return False
        wanted = required(StepFacts.of(provider), self.facts, self.state)
        return any(self._shut(one, asked | {gate}) for one in wanted)
