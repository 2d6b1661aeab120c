"""The folder of jobs: names, a new one, those that are kept, the one that is meant."""

from __future__ import annotations

import datetime as dt
import difflib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

from triage.errors import JournalError
from triage.store.journal import beside, decode
from triage.store.locks import sync_folder

SUFFIX = ".jsonl"
PROGRAM = "tubebench-triage"
LONGEST = 40
CLOSEST = 5
UNREADABLE = "cannot be read"


@dataclass(frozen=True)
class JobFile:
    """One kept job.

    ``when`` is the local time of the last entry, to the minute; ``last`` the kind of that entry,
    'nothing entered' or 'cannot be read'. ``at`` is in seconds since 1970.
    """

    name: str
    path: Path
    at: float
    when: str
    last: str


def new_job(folder: Path, name_hint: str, today: dt.date | None = None) -> Path:
    """Make the empty record of a new job, such as ``2026-11-25-linden_hall-1.jsonl``.

    Two processes never get the same one, nor does a name come back that left a torn line.

    Raises
    ------
    JournalError : the folder cannot be made or written.
    """
    day = today or dt.date.today()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path in _names(folder, f"{day.isoformat()}-{_plain(name_hint)}"):
            if beside(path, "torn").exists():
                continue
            try:
                path.touch(exist_ok=False)
            except FileExistsError:
                continue
            sync_folder(folder)
            return path
    except OSError as error:
        raise JournalError(
            folder,
            0,
            f"no job can be kept here ({error.strerror})",
            "see that the folder is yours to write, or name another.",
        ) from error
    raise AssertionError("names never run out")


def _names(folder: Path, stem: str) -> Iterator[Path]:
    return (folder / f"{stem}-{n}{SUFFIX}" for n in count(1))


def _plain(hint: str) -> str:
    """Letters, digits and underlines of a hint, for a file's name on any system."""
    return re.sub(r"[^a-z0-9]+", "_", hint.lower()).strip("_")[:LONGEST].strip("_") or "job"


def list_jobs(folder: Path) -> list[JobFile]:
    """All kept jobs, last used first; a record that cannot be read is listed too."""
    found = [_about(path) for path in folder.glob(f"*{SUFFIX}")] if folder.is_dir() else []
    return sorted(found, key=lambda job: (job.at, job.name), reverse=True)


def _about(path: Path) -> JobFile:
    name = path.name.removesuffix(SUFFIX)
    try:
        at = path.stat().st_mtime
        *whole, rest = path.read_bytes().split(b"\n")
    except OSError:
        return JobFile(name, path, 0.0, _when(0.0), UNREADABLE)
    if not whole and not rest:
        return JobFile(name, path, at, _when(at), "nothing entered")
    # A last line without its newline may be torn: the one before it then counts.
    for raw in (rest, *whole[-1:]):
        try:
            event = decode(raw.decode("utf-8"))
            said = float(event["at"])
            return JobFile(name, path, said, _when(said), str(event["kind"]))
        except (ValueError, KeyError, TypeError, OverflowError, OSError):
            continue
    return JobFile(name, path, at, _when(at), UNREADABLE)


def _when(at: float) -> str:
    return dt.datetime.fromtimestamp(at).strftime("%Y-%m-%d %H:%M")


def find_job(folder: Path, name: str) -> Path:
    """Record of the job of this name, or of the only one whose name begins so.

    Raises
    ------
    JournalError : there is none, or more than one; the closest names are told.
    """
    jobs = {job.name: job.path for job in list_jobs(folder)}
    wanted = name.removesuffix(SUFFIX)
    if wanted in jobs:
        return jobs[wanted]
    begin = [job for job in jobs if job.startswith(wanted)]
    if len(begin) == 1:
        return jobs[begin[0]]
    if begin:
        raise JournalError(
            folder / name,
            0,
            f"'{name}' begins the names of {len(begin)} jobs",
            f"write more of it; there are {_some(begin)}.",
        )
    holding = [job for job in jobs if wanted in job]
    close = holding or difflib.get_close_matches(wanted, jobs, CLOSEST, 0.4) or list(jobs)
    mend = f"closest: {_some(close)}." if close else "'triage start' begins a job; none is kept."
    raise JournalError(folder / name, 0, f"no job '{name}'", mend)


def _some(names: list[str]) -> str:
    rest = len(names) - CLOSEST
    return ", ".join(names[:CLOSEST]) + (f" and {rest} more" if rest > 0 else "")
