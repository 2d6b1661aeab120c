"""What commands open: the knowledge, a job, a terminal. The only module here that joins rooms."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from triage.cli.places import cache_path, jobs_path
from triage.errors import BadReading

if TYPE_CHECKING:
    from triage.knowledge.load import Knowledge
    from triage.model.profile import Profile
    from triage.terminal.asker import Asker
    from triage.terminal.desk import Desk
    from triage.terminal.scripted import Scripted


def open_knowledge() -> Knowledge:
    """All knowledge, from the cache where the files have not changed.

    Raises
    ------
    KnowledgeError : with every problem of the files.
    """
    from triage.knowledge.load import load
    from triage.knowledge.paths import knowledge_dir

    return load(knowledge_dir(), cache=cache_path())


def built_in(knowledge: Knowledge, ident: str) -> Profile:
    """Profile of a built-in amplifier.

    Raises
    ------
    BadReading : no amplifier has this id; the ids are listed.
    """
    if ident not in knowledge.profiles:
        raise BadReading(
            ident, f"no built-in amplifier; there are {', '.join(knowledge.profiles)}."
        )
    return knowledge.profiles[ident]


def new_desk(knowledge: Knowledge, profile: Profile, folder: Path | None = None) -> Desk:
    """A new job, kept in ``folder`` (the person's own by default) from its first line on."""
    from triage.store.desks import begin

    if profile.circuit is not None:
        from triage.store.curves import recall

        recall(cache_path())
    return begin(knowledge, profile, folder or jobs_path())


def kept_desk(knowledge: Knowledge, name: str) -> Desk:
    """A kept job, taken up again: the amplifier then counts as live and charged.

    Raises
    ------
    JournalError : there is no such job, or its record cannot be read as it stands.
    """
    from triage.store.desks import resume

    desk = resume(knowledge, jobs_path(), name)
    if desk.bench.profile.circuit is not None:
        from triage.store.curves import recall

        recall(cache_path())
    return desk


def kept_jobs() -> Sequence[tuple[str, str]]:
    """Names of the kept jobs with a line about each, last used first."""
    from triage.store.desks import listed

    return listed(jobs_path())


def read_answers(path: Path) -> Sequence[Scripted]:
    """Lines of a file of answers.

    Raises
    ------
    KnowledgeError : a line cannot be read.
    """
    from triage.store.answers import read

    return read(path)


def open_terminal() -> Asker:
    """A prompt on a terminal; plain lines for pipes and screen readers (``TRIAGE_LINEAR=1``)."""
    from triage.terminal.style import detect

    look = detect()
    if look.linear:
        from triage.terminal.asker import LineAsker

        return LineAsker(sys.stdin, sys.stdout, look, echo=not sys.stdin.isatty())
    from triage.terminal.prompting import PromptAsker

    return PromptAsker()
