"""Random walks over the safety machine, long ones, against the second account."""

from __future__ import annotations

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from tests.safety.shadow import Shadow, allowed
from tests.safety.test_search import BLOCKS, PEOPLE, STEPS, after, ripe
from triage.safety.gates import forbidden, missing
from triage.safety.states import SafetyState, energised, power_state


class Bench(RuleBasedStateMachine):
    """Anything may be done in any order, from a fresh bench or a ripe one."""

    def __init__(self) -> None:
        super().__init__()
        self.state, self.shadow = SafetyState(), Shadow()

    @rule(names=st.lists(st.sampled_from(sorted(BLOCKS)), min_size=1, max_size=3))
    def anything(self, names: list[str]) -> None:
        for name in names:
            self.state, self.shadow = after(self.state, self.shadow, name)

    @rule(on=st.booleans())
    def begin_ripe(self, on: bool) -> None:
        self.state, self.shadow = ripe("", on)

    @invariant()
    def gates_and_power_agree_with_the_second_account(self) -> None:
        assert energised(self.state) or not (self.shadow.source or self.shadow.outside)
        for facts in PEOPLE.values():
            now = power_state(self.state, facts.nodes)
            if now == "cold":
                assert self.shadow.dead(facts.nodes)
            for step in STEPS:
                inside = step.inside and not step.energised and not step.proves
                if inside and not missing(step, self.state, facts):
                    if not forbidden(step, self.state, facts) and not self.state.hazards:
                        assert allowed(step, self.shadow, facts)


Bench.TestCase.settings = settings(
    max_examples=25, stateful_step_count=20, deadline=None, derandomize=True
)
TestWalks = Bench.TestCase
