"""``triage resume JOB``: take up a kept job."""

from __future__ import annotations

import argparse

from triage.cli import opening


def run(args: argparse.Namespace) -> int:
    """Take up a job again and talk."""
    from triage.terminal import texts
    from triage.terminal.run import converse
    from triage.terminal.screen import plain_lines

    asker = opening.open_terminal()
    desk = opening.kept_desk(opening.open_knowledge(), args.job)
    asker.show(plain_lines(texts.RESUMED, asker.look(), "care"))
    for notice in getattr(desk, "notices", ()):
        asker.show(plain_lines(notice, asker.look(), "care"))
    converse(desk, asker)
    return 0
