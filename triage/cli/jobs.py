"""``triage jobs``: list what is kept."""

from __future__ import annotations

import argparse

from triage.cli import opening
from triage.cli.places import jobs_path


def run(args: argparse.Namespace) -> int:
    """List the jobs, last used first."""
    jobs = opening.kept_jobs()
    width = max((len(name) for name, _ in jobs), default=0)
    for name, about in jobs:
        print(f"{name:<{width}}  {about}".rstrip())
    if not jobs:
        print(f"No jobs in {jobs_path()}. 'triage start' begins one.")
    return 0
