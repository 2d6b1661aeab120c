"""A journal whose writer is killed, for real, at any moment."""

from __future__ import annotations

import json
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.writer import line_of
from triage.errors import JournalError
from triage.store.journal import Journal, beside

KILLS = 24
LONGEST = 0.012
"""Seconds from opening to the kill, at most."""

Writer = subprocess.Popen[bytes]


@pytest.fixture
def writers(tmp_path: Path) -> Iterator[Iterator[Writer]]:
    """Writers of one record, each started a little before it is wanted."""
    started: list[Writer] = []

    def begin() -> Iterator[Writer]:
        for number in range(KILLS):
            while len(started) < min(number + 4, KILLS):
                started.append(_start(tmp_path / "job.jsonl"))
            yield started[number]

    yield begin()
    for writer in started:
        writer.kill()
        writer.communicate()


def _start(path: Path) -> Writer:
    return subprocess.Popen(
        [sys.executable, "-m", "tests.store.writer", str(path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=Path(__file__).parents[2],
        bufsize=0,  # nothing that was said may stay behind in a buffer here
    )


def _open(writer: Writer) -> None:
    """Let the writer open the record; it has when this returns."""
    assert writer.stdin and writer.stdout
    writer.stdin.write(b"go\n")
    assert writer.stdout.readline() == b"open\n"


def _kill(writer: Writer) -> list[int]:
    """Kill the writer; the numbers it said are returned."""
    writer.send_signal(signal.SIGKILL)
    said, _ = writer.communicate()
    assert writer.returncode == -signal.SIGKILL
    return [int(word) for word in said.split(b"\n")[:-1]]


def test_what_was_said_to_be_kept_is_kept_through_many_kills(
    tmp_path: Path, writers: Iterator[Writer]
) -> None:
    """After each kill all lines said to be kept are there, whole, in order; the torn one aside."""
    path, chance, kept, torn = tmp_path / "job.jsonl", random.Random(2), 0, 0
    for writer in writers:
        _open(writer)
        time.sleep(chance.uniform(0, LONGEST))
        said = _kill(writer)
        with Journal(path) as journal:
            lines = journal.lines()
            torn += len(journal.notices)

        assert lines == [line_of(n) for n in range(len(lines))]
        assert len(lines) - (said[-1] + 1 if said else kept) in (0, 1)
        kept = len(lines)
    aside = beside(path, "torn")
    parts = aside.read_text().splitlines() if aside.exists() else []

    assert len(parts) == torn
    assert all(any(line_of(n).startswith(part) for n in range(kept + 1)) for part in parts)
    assert kept > KILLS


def test_a_record_open_in_another_process_opens_once_that_is_killed(
    tmp_path: Path, writers: Iterator[Writer]
) -> None:
    """The lock keeps a second writer out as long as the first lives, however it ends."""
    path, writer = tmp_path / "job.jsonl", next(writers)
    _open(writer)
    with pytest.raises(JournalError, match="open elsewhere"):
        Journal(path)
    _kill(writer)

    with Journal(path) as journal:
        assert [json.loads(line)["n"] for line in journal.lines()] == list(
            range(len(journal.lines()))
        )
