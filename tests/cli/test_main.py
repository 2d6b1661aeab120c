"""The command line: exit codes, one rendering of each error, nothing heavy loaded in vain."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.screens.fakes import VIEWS, FakeDesk
from triage.cli import main as cli
from triage.cli import opening, replay
from triage.cli.places import home
from triage.errors import BadReading, EngineFault, JournalError, KnowledgeError, Problem
from triage.model.profile import Profile

HEAVY = ("scipy", "prompt_toolkit", "numpy", "networkx", "yaml", "pydantic", "durable")


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIAGE_HOME", str(tmp_path / "home"))


def _fresh(code: str) -> set[str]:
    """Modules a fresh process has loaded after some code."""
    script = f"{code}\nimport sys, json\nprint(json.dumps(sorted(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=30
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


@pytest.mark.parametrize(
    "code", ["import triage", "import triage.cli.main", "import triage.cli.opening"]
)
def test_a_fresh_process_loads_nothing_heavy(code: str) -> None:
    """Importing the package or the command's entry is quick: no library is touched."""
    assert _fresh(code) & set(HEAVY) == set()


def test_the_line_asker_does_without_the_prompt_library() -> None:
    """A pipe never loads the prompt library."""
    assert "prompt_toolkit" not in _fresh("import triage.terminal.run, triage.terminal.scripted")


def test_version_and_wrong_usage_have_their_codes(capsys: pytest.CaptureFixture[str]) -> None:
    """--version is 0, an unknown command or a limit of 0 is 2."""
    codes = []
    for argv in (
        ["--version"],
        ["polish"],
        ["replay", "x", "--limit", "0"],
        ["start", "--amp", "a", "--profile", "b"],
    ):
        with pytest.raises(SystemExit) as stop:
            cli.main(argv)
        codes.append(stop.value.code)

    assert codes == [0, 2, 2, 2]
    assert "triage " in capsys.readouterr().out


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (KnowledgeError([Problem("rules/a.yaml", 4, "wrong", mend="right it")]), 1),
        (BadReading("4x", "not a number"), 1),
        (JournalError(Path("j"), 3, "torn"), 3),
        (EngineFault("engine"), 70),
    ],
)
def test_a_fault_of_the_user_is_told_without_a_stack(
    error: Exception,
    code: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What, where and how to mend go to the error stream, once; the exit code says the sort."""

    def fail() -> None:
        raise error

    monkeypatch.setattr(opening, "kept_jobs", fail)

    assert cli.main(["jobs"]) == code
    told = capsys.readouterr().err
    assert told == f"{error}\n"


def test_a_fault_of_the_program_is_logged_and_nothing_is_called_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line names the log; the log has the stack; exit 70."""
    monkeypatch.setattr(opening, "kept_jobs", lambda: 1 / 0)

    assert cli.main(["jobs"]) == 70
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert "Nothing you entered is lost" in told
    log = tmp_path / "home" / "faults.log"
    assert str(log) in told
    assert "ZeroDivisionError" in log.read_text(encoding="utf-8")


def test_jobs_are_listed_last_used_first(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each name stands with its line; with none, the way to begin is told."""
    monkeypatch.setattr(opening, "kept_jobs", lambda: [("b", "hums"), ("aa", "silent")])
    assert cli.main(["jobs"]) == 0
    listed = capsys.readouterr().out
    monkeypatch.setattr(opening, "kept_jobs", list)
    cli.main(["jobs"])

    assert listed == "b   hums\naa  silent\n"
    assert "triage start" in capsys.readouterr().out


def test_a_profile_that_is_wrong_ends_with_its_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """'start --profile' with an unknown key names file and line."""
    path = tmp_path / "mine.yaml"
    path.write_text("amplifier: mine\ncolour: red\n", encoding="utf-8")
    monkeypatch.setattr(opening, "open_knowledge", lambda: None)

    assert cli.main(["start", "--profile", str(path)]) == 1
    assert f"{path}:2" in capsys.readouterr().err


def test_start_talks_to_a_new_job_line_by_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a terminal the same conversation runs over plain lines."""
    import io

    desk = FakeDesk([VIEWS["proof"], VIEWS["closed"]])
    monkeypatch.setattr(opening, "open_knowledge", lambda: None)
    monkeypatch.setattr(opening, "built_in", lambda knowledge, ident: Profile(amplifier=ident))
    monkeypatch.setattr(opening, "new_desk", lambda knowledge, profile: desk)
    monkeypatch.setattr("sys.stdin", io.StringIO("passed\n\n"))

    assert cli.main(["start", "--amp", "some"]) == 0
    assert desk.told == [("proof", "passed")]
    assert "\x1b" not in capsys.readouterr().out


def test_an_unknown_amplifier_lists_those_there_are(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The message names what may be given."""
    assert cli.main(["start", "--amp", "nowhere"]) == 1
    assert "linden_hall" in capsys.readouterr().err


def test_rows_of_a_replay_stand_in_columns() -> None:
    """Numbers are to the right, text to the left, what is missing is a dash."""
    rows = [{"case": "hums", "rank": 1, "p": 0.51234}, {"case": "a", "rank": None, "p": 0.5}]

    assert replay.table(rows).splitlines() == [
        "case  rank      p",
        "hums     1  0.512",
        "a        -    0.5",
    ]


def test_all_that_is_kept_lies_in_one_folder() -> None:
    """TRIAGE_HOME wins over XDG_STATE_HOME, that over the home folder."""
    assert home({"TRIAGE_HOME": "/t", "XDG_STATE_HOME": "/x"}) == Path("/t")
    assert home({"XDG_STATE_HOME": "/x"}) == Path("/x/triage")
    assert home({"HOME": "/h"}) == Path("/h/.local/state/triage")
