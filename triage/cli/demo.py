"""``triage demo``: the main job once, from a packaged file of answers, without a terminal."""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from triage.cli import opening

if TYPE_CHECKING:
    from triage.model.profile import Profile

AMPLIFIER = "linden_hall"
ANSWERS = "demo.answers"
TOOLS = ("multimeter", "limiter", "discharge_tool", "dummy_load", "spare_tubes")


def at_a_bench(profile: Profile) -> Profile:
    """The amplifier with a hobbyist and the tools that the file of answers uses."""
    owner = {"skill": "hobbyist", "tools": list(TOOLS), "second_person": "yes"}
    return profile.model_copy(update={"owner": profile.owner.model_copy(update=owner)})


def run(args: argparse.Namespace) -> int:
    """Play the demo in a folder of its own; exit 1 unless it ends with a proven repair."""
    from triage.knowledge.paths import cases_dir
    from triage.terminal.asker import LineAsker
    from triage.terminal.scripted import play
    from triage.terminal.style import detect

    knowledge = opening.open_knowledge()
    asker = LineAsker(sys.stdin, sys.stdout, detect())
    with tempfile.TemporaryDirectory(prefix="triage-demo-") as folder:
        amplifier = at_a_bench(opening.built_in(knowledge, AMPLIFIER))
        desk = opening.new_desk(knowledge, amplifier, Path(folder))
        outcome = play(desk, opening.read_answers(cases_dir() / ANSWERS), asker)
    proven = "with a proven repair" if outcome.proven else "without a proven repair"
    print(f"The demo ended '{outcome.ended}' after {outcome.turns} turns, {proven}.")
    return 0 if outcome.ended == "closed" and outcome.proven else 1
