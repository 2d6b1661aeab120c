"""Processes that append numbered lines until they are killed, one for each line of input.

That line is 0, or the number of bytes of its first line within which the writer is to die.

Each opens the record and says its process number; after each append it says the line's number:
whatever was said must be found in the record later. Once it is dead, its parent says by what.
"""

from __future__ import annotations

import os
import signal
import sys
from itertools import count
from pathlib import Path

from triage.store.journal import Journal


def line_of(n: int) -> str:
    """Line ``n`` of the record, between some 70 and 60 000 bytes long."""
    kind = "job_started" if n == 0 else "note_made"
    text = "x" * (n * 7919 % 60_000)
    return f'{{"v":1,"n":{n},"at":{n},"kind":"{kind}","data":{{"text":"{text}"}}}}'


def die_within(size: int) -> None:
    """Let this process be killed within its next line, when so many bytes of it are written."""
    write = os.write

    def cut(file: int, raw: bytes) -> int:
        if file != 1:
            write(file, raw[:size])
            os.kill(os.getpid(), signal.SIGKILL)
        return write(file, raw)

    os.write = cut  # type: ignore[assignment]  # in this process only, which ends by it


def append_on(path: Path, size: int) -> None:
    """Append without end; with ``size`` > 0 die within the first line."""
    if size:
        die_within(size)
    journal = Journal(path)
    os.write(1, b"open %d\n" % os.getpid())
    for n in count(len(journal.lines())):
        journal.append(line_of(n))
        os.write(1, b"%d\n" % n)


def main(path: Path) -> None:
    """Begin a writer for each line of input, one after the other."""
    for size in sys.stdin:
        writer = os.fork()
        if writer == 0:
            append_on(path, int(size))
        _, status = os.waitpid(writer, 0)
        os.write(1, b"dead %d\n" % os.WTERMSIG(status))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
