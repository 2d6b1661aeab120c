"""A process of its own that appends numbered lines until it is killed.

It waits for a line of input, opens the record and says so; after each append it says the number:
whatever was said must be found in the record later.
"""

from __future__ import annotations

import os
import sys
from itertools import count
from pathlib import Path

from triage.store.journal import Journal


def line_of(n: int) -> str:
    """Line ``n`` of the record, between some 70 and 60 000 bytes long."""
    kind = "job_started" if n == 0 else "note_made"
    text = "x" * (n * 7919 % 60_000)
    return f'{{"v":1,"n":{n},"at":{n},"kind":"{kind}","data":{{"text":"{text}"}}}}'


def main(path: Path) -> None:
    """Append without end."""
    sys.stdin.readline()
    journal = Journal(path)
    os.write(1, b"open\n")
    for n in count(len(journal.lines())):
        journal.append(line_of(n))
        os.write(1, b"%d\n" % n)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
