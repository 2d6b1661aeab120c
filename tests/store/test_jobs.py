"""Names of jobs, and how one is found again."""

from __future__ import annotations

import datetime as dt
import re
import subprocess
import sys
from pathlib import Path

import pytest

from triage.errors import JournalError
from triage.store.jobs import find_job, list_jobs, new_job
from triage.store.journal import Journal, beside

DAY = dt.date(2026, 11, 25)
LINE = '{{"v":1,"n":0,"at":{at},"kind":"{kind}","data":{{}}}}\n'
MAKER = """
import sys, datetime, pathlib
from triage.store.jobs import new_job
print("ready", flush=True)
sys.stdin.readline()
for _ in range(60):
    print(new_job(pathlib.Path(sys.argv[1]), "amp", datetime.date(2026, 11, 25)).name)
"""


@pytest.mark.parametrize(
    ("hint", "stem"),
    [
        ("linden_hall", "linden_hall"),
        ("Big  Box / 50 W", "big_box_50_w"),
        ("../../etc", "etc"),
        ("µ.", "job"),
        ("a" * 99, "a" * 40),
    ],
)
def test_a_job_is_named_by_day_amplifier_and_number(tmp_path: Path, hint: str, stem: str) -> None:
    """Any hint makes a plain name inside the folder, which is made if need be."""
    folder = tmp_path / "a" / "b"
    made = [new_job(folder, hint, DAY) for _ in range(2)]

    assert made == [folder / f"2026-11-25-{stem}-{n}.jsonl" for n in (1, 2)]
    assert all(path.read_bytes() == b"" for path in made)


def test_today_is_in_the_name(tmp_path: Path) -> None:
    """Without a day given, the name begins with one."""
    name = new_job(tmp_path, "amp").name

    assert re.fullmatch(r"\d{4}-\d\d-\d\d-amp-1\.jsonl", name)


def test_a_name_that_left_a_torn_line_is_not_used_again(tmp_path: Path) -> None:
    """What was set aside of a removed job is not mixed with a new one."""
    gone = new_job(tmp_path, "amp", DAY)
    gone.rename(beside(gone, "torn"))

    assert new_job(tmp_path, "amp", DAY).name == "2026-11-25-amp-2.jsonl"


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """A file in the way is an error that says how to mend it."""
    (tmp_path / "jobs").write_text("")
    with pytest.raises(JournalError, match="no job can be kept here") as caught:
        new_job(tmp_path / "jobs", "amp")

    assert caught.value.mend


def test_two_processes_never_get_the_same_name(tmp_path: Path) -> None:
    """Two processes that make jobs at the same time make different ones, with no number left."""
    makers = [
        subprocess.Popen(
            [sys.executable, "-c", MAKER, str(tmp_path)],
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[2],
        )
        for _ in range(2)
    ]
    for maker in makers:
        assert maker.stdout and maker.stdout.readline() == "ready\n"
    for maker in makers:
        assert maker.stdin
        maker.stdin.write("go\n")
        maker.stdin.flush()
    names = [name for maker in makers for name in maker.communicate()[0].split()]

    assert sorted(names) == sorted(f"2026-11-25-amp-{n}.jsonl" for n in range(1, 121))


def test_jobs_are_listed_last_used_first(tmp_path: Path) -> None:
    """The last whole entry says when a job was used and what was done; locks are no jobs."""
    entry = LINE.format(at=90_000, kind="note_made")
    (tmp_path / "old.jsonl").write_text(LINE.format(at=86_400, kind="job_started"))
    (tmp_path / "new.jsonl").write_text(LINE.format(at=86_400, kind="job_started") + entry + '{"v')
    (tmp_path / "open.jsonl").write_text(LINE.format(at=88_000, kind="closed").strip())
    (tmp_path / "old.jsonl.lock").touch()

    listed = list_jobs(tmp_path)
    assert [(job.name, job.last, job.at) for job in listed] == [
        ("new", "note_made", 90_000),
        ("open", "closed", 88_000),
        ("old", "job_started", 86_400),
    ]
    assert listed[0].when == dt.datetime.fromtimestamp(90_000).strftime("%Y-%m-%d %H:%M")
    assert listed[0].path == tmp_path / "new.jsonl"


@pytest.mark.parametrize(
    ("raw", "last"),
    [
        (b"", "nothing entered"),
        (b"\xff\n", "cannot be read"),
        (b"{\n{", "cannot be read"),
        (b'{"v":1}\n', "cannot be read"),
        (LINE.format(at="1e999", kind="closed").encode(), "cannot be read"),
    ],
)
def test_a_job_that_cannot_be_read_is_listed_all_the_same(
    tmp_path: Path, raw: bytes, last: str
) -> None:
    """One bad record hides neither itself nor the others."""
    (tmp_path / "bad.jsonl").write_bytes(raw)
    (tmp_path / "good.jsonl").write_text(LINE.format(at=0, kind="closed"))

    assert [(job.name, job.last) for job in list_jobs(tmp_path)] == [
        ("bad", last),
        ("good", "closed"),
    ]


def test_no_folder_holds_no_jobs(tmp_path: Path) -> None:
    """Before the first job there is nothing to list, and nothing is made."""
    assert list_jobs(tmp_path / "none") == []
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("2026-11-25-amp-1", "2026-11-25-amp-1"),
        ("2026-11-25-amp-1.jsonl", "2026-11-25-amp-1"),
        ("2026-11-26", "2026-11-26-radio-1"),
    ],
)
def test_a_job_is_found_by_its_name_or_its_beginning(
    tmp_path: Path, typed: str, found: str
) -> None:
    """A whole name wins over longer ones that begin with it."""
    for name in ("2026-11-25-amp-1", "2026-11-25-amp-10", "2026-11-26-radio-1"):
        (tmp_path / f"{name}.jsonl").touch()

    assert find_job(tmp_path, typed) == tmp_path / f"{found}.jsonl"


@pytest.mark.parametrize(
    ("typed", "what", "mend"),
    [
        ("2026-11-25", "begins the names of 2 jobs", "2026-11-25-amp-10, 2026-11-25-amp-1."),
        ("2026-11-24-amp-1", "no job '2026-11-24-amp-1'", "2026-11-25-amp-1"),
        ("radio", "no job 'radio'", "closest: 2026-11-26-radio-1."),
        ("../amp", "no job '../amp'", "2026-11-25-amp-1"),
    ],
)
def test_a_name_that_fits_none_or_many_is_answered_with_the_closest(
    tmp_path: Path, typed: str, what: str, mend: str
) -> None:
    """The error tells the names that may have been meant."""
    for at, name in enumerate(("2026-11-25-amp-1", "2026-11-25-amp-10", "2026-11-26-radio-1")):
        (tmp_path / f"{name}.jsonl").write_text(LINE.format(at=at, kind="closed"))
    with pytest.raises(JournalError, match=re.escape(what)) as caught:
        find_job(tmp_path, typed)

    assert mend in caught.value.mend


def test_no_jobs_at_all_is_told(tmp_path: Path) -> None:
    """Where nothing is kept yet, the error says how to begin."""
    with pytest.raises(JournalError, match="begins a job; none is kept"):
        find_job(tmp_path, "amp")


def test_a_new_job_opens_as_a_journal(tmp_path: Path) -> None:
    """An empty new record takes its first line."""
    line = LINE.format(at=0, kind="job_started").strip()
    with Journal(new_job(tmp_path, "amp")) as journal:
        journal.append(line)

    assert list_jobs(tmp_path)[0].last == "job_started"
