"""Where a person's jobs, caches and logs lie. ``TRIAGE_HOME`` puts them all in one folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path


def home(environ: Mapping[str, str] | None = None) -> Path:
    """Folder of all that is kept: ``TRIAGE_HOME``, else ``triage`` in the user's state folder.

    Parameters
    ----------
    environ : environment, the process's own by default.

    Source
    ------
    XDG Base Directory Specification, ``XDG_STATE_HOME`` (from memory).
    """
    env = os.environ if environ is None else environ
    if env.get("TRIAGE_HOME"):
        return Path(env["TRIAGE_HOME"])
    state = env.get("XDG_STATE_HOME") or Path(env.get("HOME") or Path.home()) / ".local" / "state"
    return Path(state) / "triage"


def jobs_path() -> Path:
    """Folder of the jobs."""
    return home() / "jobs"


def cache_path() -> Path:
    """Folder of what can be made again."""
    return home() / "cache"


def log_path() -> Path:
    """File of faults of the program."""
    return home() / "faults.log"
