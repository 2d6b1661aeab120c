"""Opening a record in every state it may be found in, and appending to it."""

from __future__ import annotations

import errno
import os
import random
from pathlib import Path

import pytest

from triage.errors import JournalError
from triage.job.events import VERSION, Event
from triage.store.journal import Journal, beside

FIRST = '{"v":1,"n":0,"at":0.0,"kind":"job_started","data":{}}'
NOTE = '{"v":1,"n":1,"at":1.0,"kind":"note_made","data":{"text":"2,2 µF\u2028 leaks"}}'


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "job.jsonl"


def test_lines_come_back_as_they_were_appended(path: Path) -> None:
    """A new record holds what was put in, other line separators within a note included."""
    with Journal(path) as journal:
        journal.append(FIRST)
        journal.append(NOTE)

    with Journal(path) as again:
        assert (again.lines(), again.notices) == ([FIRST, NOTE], [])
    assert path.read_bytes() == f"{FIRST}\n{NOTE}\n".encode()


def test_a_line_is_flushed_to_the_disk_before_append_returns(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The whole line is in the file when it is flushed, and it is flushed once per line."""
    sizes: list[int] = []
    with Journal(path) as journal:
        monkeypatch.setattr(os, "fsync", lambda file: sizes.append(os.fstat(file).st_size))
        journal.append(FIRST)
        journal.append(NOTE)

    first = len(FIRST) + 1
    assert sizes == [first, first + len(NOTE.encode()) + 1]


def test_a_record_opened_again_goes_on_below(path: Path) -> None:
    """The next line stands right below the last, nothing between."""
    for _ in range(3):
        with Journal(path) as journal:
            journal.append(FIRST)

    assert path.read_text() == f"{FIRST}\n" * 3


@pytest.mark.parametrize("cut", [*range(1, len(NOTE.encode()), 6), len(NOTE.encode()) - 1])
def test_a_line_torn_anywhere_is_set_aside(path: Path, cut: int) -> None:
    """Wherever the last line broke off, it is kept aside, reported, and the rest goes on."""
    torn = NOTE.encode()[:cut]
    path.write_bytes(FIRST.encode() + b"\n" + torn)
    with Journal(path) as journal:
        journal.append(NOTE)

    assert beside(path, "torn").read_bytes() == torn + b"\n"
    assert len(journal.notices) == 1 and "job.jsonl.torn" in journal.notices[0]
    assert path.read_text("utf-8") == f"{FIRST}\n{NOTE}\n"


def test_torn_lines_gather(path: Path) -> None:
    """A second torn line is added to the first, and nothing is deleted."""
    for torn in (b'{"v":1,"n', b"\0\0\0\0"):
        path.write_bytes(FIRST.encode() + b"\n" + torn)
        Journal(path).close()

    assert beside(path, "torn").read_bytes() == b'{"v":1,"n\n\0\0\0\0\n'
    assert path.read_text() == FIRST + "\n"


def test_a_missing_newline_is_written_before_the_next_line(path: Path) -> None:
    """A whole last line without its newline counts, and the next does not run into it."""
    path.write_text(FIRST)
    with Journal(path) as journal:
        assert (journal.lines(), journal.notices) == ([FIRST], [])
        journal.append(NOTE)
        journal.append(NOTE)

    assert path.read_text("utf-8") == f"{FIRST}\n{NOTE}\n{NOTE}\n"


@pytest.mark.parametrize(
    ("middle", "what"),
    [
        (b'{"v":1,"n":1', "cannot be read"),
        (b"", "cannot be read"),
        (b"\xff\xfe", "utf-8"),
        (b"[1, 2]", "no event"),
        (b'{"v":9,"n":1,"kind":"note_made"}', f"version 9; this program reads up to {VERSION}"),
    ],
)
def test_a_broken_line_in_the_middle_is_refused(path: Path, middle: bytes, what: str) -> None:
    """Which line, and how to mend it, is told; the file is left alone and unlocked."""
    raw = b"\n".join([FIRST.encode(), middle, NOTE.encode(), b""])
    path.write_bytes(raw)
    with pytest.raises(JournalError, match=what) as caught:
        Journal(path)
    path.write_bytes(raw.replace(middle + b"\n", b"", 1) if middle else FIRST.encode())
    Journal(path).close()

    assert (caught.value.path, caught.value.line) == (path, 2)
    assert caught.value.mend


@pytest.mark.parametrize(
    ("first", "wanted"),
    [
        (FIRST.replace('"v":1', '"v":9'), f"version 9; this program reads up to {VERSION}"),
        (FIRST.replace('"v":1', '"v":0'), f"version 0; this program reads up to {VERSION}"),
        (FIRST.replace('"v":1', '"v":true'), f"version True; this program reads up to {VERSION}"),
        (FIRST.replace('"v":1,', ""), f"version None; this program reads up to {VERSION}"),
        (NOTE, f"must be of kind 'job_started', version {VERSION}"),
    ],
)
def test_a_record_of_another_version_or_beginning_is_refused(
    path: Path, first: str, wanted: str
) -> None:
    """The first line must start a job in a version known here; the error says which is wanted."""
    path.write_text(first + "\n", "utf-8")
    with pytest.raises(JournalError, match=wanted) as caught:
        Journal(path)

    assert caught.value.line == 1
    assert path.read_text("utf-8") == first + "\n"


@pytest.mark.parametrize(
    "line", [NOTE, f"{FIRST}\n", "{", "7", FIRST.replace("{}", '{"a":"\ud800"}')]
)
def test_what_is_no_first_event_is_not_appended(path: Path, line: str) -> None:
    """A line that could not be read again is refused, and nothing of it is written."""
    with Journal(path) as journal, pytest.raises(JournalError):
        journal.append(line)

    assert path.read_bytes() == b""


def test_the_callers_own_reader_names_the_line(path: Path) -> None:
    """A line the given reader does not take is refused with its number."""
    path.write_text(f"{FIRST}\n{FIRST.replace('job_started', 'danced')}\n")
    with pytest.raises(JournalError, match="not an event: kind") as caught:
        Journal(path, parse=Event.from_line)

    assert caught.value.line == 2


def test_a_second_opener_is_kept_out_until_the_first_closes(path: Path) -> None:
    """Within one process too, only one may write; closing lets the next in."""
    first = Journal(path)
    with pytest.raises(JournalError, match="open elsewhere"):
        Journal(path)
    first.close()

    Journal(path).close()
    assert beside(path, "lock").exists()


def test_a_journal_no_longer_used_is_unlocked(path: Path) -> None:
    """A journal that was dropped without closing locks nobody out."""
    dropped = Journal(path)
    del dropped

    Journal(path).close()


def test_a_reader_takes_no_lock_and_changes_nothing(path: Path) -> None:
    """While another writes, the whole lines can be read; a torn one is reported and left."""
    with Journal(path) as writer:
        writer.append(FIRST)
        with path.open("ab") as file:
            file.write(b'{"v":1')
        reader = Journal(path, read_only=True)

    assert reader.lines() == [FIRST]
    assert reader.notices == ["Line 2 was only half written and is left out."]
    assert path.read_bytes() == FIRST.encode() + b'\n{"v":1'
    assert not beside(path, "torn").exists()
    with pytest.raises(JournalError, match="read only"):
        reader.append(NOTE)


def test_a_reader_of_nothing_is_told(path: Path) -> None:
    """Reading makes no record: one that is missing is an error."""
    with pytest.raises(JournalError, match="cannot be opened"):
        Journal(path, read_only=True)

    assert not path.exists()


def test_a_closed_journal_takes_nothing(path: Path) -> None:
    """After closing, an entry is refused instead of lost."""
    with Journal(path) as journal:
        journal.append(FIRST)
    with pytest.raises(JournalError, match="closed"):
        journal.append(NOTE)

    assert path.read_text() == FIRST + "\n"


def test_a_full_disk_is_told_and_what_was_whole_stays(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A write cut short by a full disk is an error; no line is glued to the torn one later."""
    with Journal(path) as journal:
        journal.append(FIRST)
        write, taken = os.write, iter([10])

        def short(file: int, raw: memoryview) -> int:
            room = next(taken, None)
            if room is None:
                raise OSError(errno.ENOSPC, "No space left on device")
            return write(file, raw[:room])

        monkeypatch.setattr(os, "write", short)
        with pytest.raises(JournalError, match="No space left"):
            journal.append(NOTE)
        with pytest.raises(JournalError, match="closed"):
            journal.append(NOTE)
        monkeypatch.undo()

    with Journal(path) as again:
        assert again.lines() == [FIRST]
    assert beside(path, "torn").read_bytes() == NOTE.encode()[:10] + b"\n"


def test_writes_taken_in_parts_make_whole_lines(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the system takes only a part at a time, the rest follows."""
    write, chance = os.write, random.Random(5)
    monkeypatch.setattr(os, "write", lambda file, raw: write(file, raw[: chance.randint(1, 9)]))
    with Journal(path) as journal:
        journal.append(FIRST)
        journal.append(NOTE)

    assert path.read_text("utf-8") == f"{FIRST}\n{NOTE}\n"
