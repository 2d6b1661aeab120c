"""Jobs as sessions on disk: begun, taken up again, listed."""

from __future__ import annotations

import time
from collections.abc import Iterable
from pathlib import Path

from triage.assess import Bench
from triage.errors import JournalError
from triage.job.events import Event
from triage.job.fold import JobState, step
from triage.job.session import Session
from triage.knowledge.load import Knowledge
from triage.model.profile import Profile
from triage.store.jobs import find_job, list_jobs, new_job
from triage.store.journal import Journal


def _kept(journal: Journal, event: Event) -> None:
    journal.append(event.to_line())


def begin(knowledge: Knowledge, profile: Profile, folder: Path) -> Session:
    """A new job in ``folder``; its first line is on disk when this returns.

    The record stays open, and locked, as long as the session lives.
    """
    journal = Journal(new_job(folder, profile.amplifier))
    bench = Bench.make(knowledge, profile)
    session = Session(
        bench, lambda e: _kept(journal, e), time.time, asks_what_was_done=profile.route == "fault"
    )
    session.begin()
    return session


def read_events(path: Path, lines: Iterable[str]) -> tuple[list[Event], JobState]:
    """Events of a record and the state they fold to.

    Raises
    ------
    JournalError : a line is no event, or does not fit; says which, and how to mend.
    """
    events: list[Event] = []
    state = JobState()
    for number, line in enumerate(lines, start=1):
        try:
            event = Event.from_line(line)
            state = step(state, event)
        except (ValueError, KeyError) as error:
            raise JournalError(
                path,
                number,
                str(error),
                "copy the file, cut it before this line, and resume; what stands before is whole.",
            ) from error
        events.append(event)
    return events, state


def resume(knowledge: Knowledge, folder: Path, name: str) -> Session:
    """A kept job, taken up again: the amplifier then counts as powered and charged.

    Raises
    ------
    JournalError : there is no such job, it is open elsewhere, or its record cannot be read.
    """
    path = find_job(folder, name)
    journal = Journal(path)
    events, state = read_events(path, journal.lines())
    if state.profile is None:
        raise JournalError(
            path,
            1,
            "the first line of a record must start a job",
            "this is not a job's record, or its beginning is lost.",
        )
    bench = Bench.make(knowledge, state.profile)
    fault = state.profile.route == "fault"
    session = Session(
        bench, lambda e: _kept(journal, e), time.time, events, asks_what_was_done=fault
    )
    session.notices = tuple(journal.notices)
    session.resumed()
    return session


def listed(folder: Path) -> list[tuple[str, str]]:
    """Names of the kept jobs with a line about each, last used first."""
    return [(job.name, f"{job.when}, last: {job.last}") for job in list_jobs(folder)]
