"""A journal whose writer is killed, for real, at any moment."""

from __future__ import annotations

import json
import os
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

KILLS = 30
LONGEST = 0.012
"""Seconds from opening to the kill, at most."""


class Writers:
    """Writers of one record, one after the other, each a process of its own."""

    def __init__(self, path: Path) -> None:
        self.parent = subprocess.Popen(
            [sys.executable, "-m", "tests.store.writer", str(path)],
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[2],
        )
        self.current = 0

    def begin(self, size: int = 0) -> None:
        """Begin a writer; it has opened the record when this returns."""
        assert self.parent.stdin
        self.parent.stdin.write(f"{size}\n")
        self.parent.stdin.flush()
        word, number = self._said()
        assert word == "open"
        self.current = int(number)

    def kill(self) -> list[int]:
        """Kill the writer; the numbers of the lines it said were kept are returned."""
        os.kill(self.current, signal.SIGKILL)
        return self.dead()

    def dead(self) -> list[int]:
        """Wait until the writer is killed; the numbers it said are returned."""
        self.current = 0
        told = list(iter(self._said, ["dead", str(int(signal.SIGKILL))]))
        return [int(number) for (number,) in told]

    def _said(self) -> list[str]:
        assert self.parent.stdout
        return self.parent.stdout.readline().split()

    def end(self) -> None:
        """Leave no process behind."""
        if self.current:
            os.kill(self.current, signal.SIGKILL)
        self.parent.communicate()


@pytest.fixture
def writers(tmp_path: Path) -> Iterator[Writers]:
    """Writers of ``job.jsonl``."""
    begun = Writers(tmp_path / "job.jsonl")
    yield begun
    begun.end()


def test_what_was_said_to_be_kept_is_kept_through_many_kills(
    tmp_path: Path, writers: Writers
) -> None:
    """After each kill all lines said to be kept are there, whole, in order; the torn one aside."""
    path, chance, kept, torn = tmp_path / "job.jsonl", random.Random(2), 0, 0
    for _ in range(KILLS):
        writers.begin()
        time.sleep(chance.uniform(0, LONGEST))
        said = writers.kill()
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


def test_a_line_within_which_the_writer_was_killed_is_set_aside(
    tmp_path: Path, writers: Writers
) -> None:
    """Killed with part of a line written, that part is aside and the rest goes on from there."""
    path, sizes = tmp_path / "job.jsonl", [1, 7, 30, 60]
    for size in sizes:
        writers.begin()
        time.sleep(LONGEST)
        said = writers.kill()
        before = Journal(path).lines()
        aside = beside(path, "torn")
        already = len(aside.read_text().splitlines()) if aside.exists() else 0
        writers.begin(size)
        assert writers.dead() == []
        with Journal(path) as journal:
            assert journal.lines() == before
            assert len(journal.notices) == 1
        torn = aside.read_text().splitlines()

        assert torn[-1] == line_of(len(before))[:size]
        assert len(torn) == already + 1
        assert said == [] or said[-1] < len(before)


def test_a_record_open_in_another_process_opens_once_that_is_killed(
    tmp_path: Path, writers: Writers
) -> None:
    """The lock keeps a second writer out as long as the first lives, however it ends."""
    path = tmp_path / "job.jsonl"
    writers.begin()
    with pytest.raises(JournalError, match="open elsewhere"):
        Journal(path)
    writers.kill()

    with Journal(path) as journal:
        assert [json.loads(line)["n"] for line in journal.lines()] == list(
            range(len(journal.lines()))
        )
