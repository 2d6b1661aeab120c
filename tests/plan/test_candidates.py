"""What is proposed on an amplifier of which little is known."""

from __future__ import annotations

import pytest

from triage.assess import Bench
from triage.infer.ground import ground
from triage.infer.posterior import Evidence
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.model.entries import Procedure
from triage.model.profile import Profile
from triage.plan.advise import Situation, price
from triage.plan.candidates import MEMORY, ground_procedures
from triage.safety.facts import ENERGISED

KB = load(knowledge_dir())


@pytest.mark.parametrize(("said", "offered"), [("unknown", False), ("no", False), ("yes", True)])
def test_a_question_about_a_block_is_asked_only_where_the_block_is_known(
    said: str, offered: bool
) -> None:
    """Nobody is asked how the reverb works before somebody said that there is one."""
    grounded = ground(KB, Profile(amplifier="x", has={"reverb": said}))

    ids = {candidate.procedure.id for candidate in ground_procedures(grounded)}

    assert ("ask_reverb" in ids) is offered


@pytest.mark.parametrize(("said", "there"), [("unknown", True), ("no", False), ("yes", True)])
def test_a_complaint_about_a_block_is_understood_unless_it_is_not_there(
    said: str, there: bool
) -> None:
    """'No reverb' can be told of an amplifier of which nothing else is known."""
    grounded = ground(KB, Profile(amplifier="x", has={"reverb": said}))

    assert (("reverb_works", "amp") in grounded.index) is there


class DearWhenLive:
    """A gatekeeper whose gates and power-up cost 100 minutes."""

    def extra_cost(self, procedure: Procedure) -> float:
        return 100.0 if procedure.power in ENERGISED else 0.0


@pytest.mark.parametrize("turned", [False, True])
def test_a_question_to_memory_is_not_priced_as_the_live_step_it_stands_for(turned: bool) -> None:
    """Whichever of the two is priced first: only the live one pays for its gates."""
    bench = Bench.make(KB, KB.profiles["linden_hall"])
    try:
        both = tuple(c for c in bench.candidates if c.procedure.id == "look_output_dark")
        situation = Situation(
            state=bench.model.state(Evidence()),
            groups=bench.groups,
            candidates=both[::-1] if turned else both,
            asked=frozenset(),
            applicable={},
            declined={},
        )
        priced = {item.candidate.key[0]: item.cost for item in price(situation, DearWhenLive())}
    finally:
        bench.close()

    assert priced["look_output_dark" + MEMORY] < 10.0 < 100.0 < priced["look_output_dark"]
