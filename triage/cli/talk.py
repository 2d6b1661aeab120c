"""``triage`` and ``triage start``: begin a job, or go on with the last one."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from triage.cli import opening

if TYPE_CHECKING:
    from triage.knowledge.load import Knowledge
    from triage.model.profile import Profile
    from triage.terminal.asker import Asker


def run(args: argparse.Namespace) -> int:
    """Begin a job (or go on with the last) and talk; with a file of answers, play it."""
    from triage.terminal.commands import Leave
    from triage.terminal.run import converse

    asker = opening.open_terminal()
    knowledge = opening.open_knowledge()
    try:
        if args.command is None:
            name = _last(asker)
            if name is not None:
                converse(opening.kept_desk(knowledge, name), asker)
                return 0
        profile = _profile(args, knowledge, asker)
    except (EOFError, Leave):
        return 0
    desk = opening.new_desk(knowledge, profile)
    if getattr(args, "answers", None) is not None:
        from triage.terminal.scripted import play

        return 0 if play(desk, opening.read_answers(args.answers), asker).ended == "closed" else 1
    converse(desk, asker)
    return 0


def _last(asker: Asker) -> str | None:
    """Name of the last job, if there is one and the person wants to go on with it."""
    from triage.terminal import texts
    from triage.terminal.screen import plain_lines

    jobs = opening.kept_jobs()
    if not jobs:
        return None
    name, about = jobs[0]
    asker.show(plain_lines(texts.GO_ON.format(name=name, about=about), asker.look()))
    typed = asker.ask(texts.PROMPTS["go_on"], [("yes", "go on"), ("no", "a new job")], "not known")
    return name if typed.strip().lower() in ("", "y", "yes") else None


def _profile(args: argparse.Namespace, knowledge: Knowledge, asker: Asker) -> Profile:
    from triage.terminal.intake import choose_profile, read_profile

    if getattr(args, "profile", None) is not None:
        return read_profile(args.profile)
    if getattr(args, "amp", None) is not None:
        return opening.built_in(knowledge, args.amp)
    return choose_profile(asker, knowledge.profiles, knowledge.plain["questions"])
