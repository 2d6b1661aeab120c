"""What is proposed on an amplifier of which little is known."""

from __future__ import annotations

import pytest

from triage.infer.ground import ground
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.model.profile import Profile
from triage.plan.candidates import ground_procedures

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
