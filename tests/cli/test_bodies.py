"""Bodies of the commands that check, try and replay: what they print, how they exit."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.screens.fakes import VIEWS, FakeDesk
from triage.cli import main as cli
from triage.cli import opening
from triage.errors import Problem
from triage.terminal.scripted import Said

ROWS = [
    {"case": "red_plate", "way": "given", "rank": 1, "p": 0.8, "gate_violations": 0},
    {"case": "red_plate", "way": "asked", "rank": 2, "p": 0.5, "gate_violations": 0},
]


def _module(monkeypatch: pytest.MonkeyPatch, name: str, **parts: Any) -> None:
    """Put a module of given parts where the command imports it from."""
    module = ModuleType(f"triage.quality.{name}")
    for key, value in parts.items():
        setattr(module, key, value)
    package = sys.modules.get("triage.quality") or ModuleType("triage.quality")
    monkeypatch.setitem(sys.modules, "triage.quality", package)
    monkeypatch.setitem(sys.modules, f"triage.quality.{name}", module)
    monkeypatch.setattr(package, name, module, raising=False)


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIAGE_HOME", str(tmp_path))


@pytest.mark.parametrize(
    ("problems", "code", "said"),
    [
        ([], 0, "no problems."),
        ([Problem("rules/b.yaml", 9, "odd"), Problem("rules/a.yaml", 2, "odd")], 1, "2 problems."),
    ],
)
def test_check_prints_problems_by_file_and_line(
    problems: list[Problem],
    code: int,
    said: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Each problem stands with file and line, sorted; the exit code says whether there are any."""
    _module(monkeypatch, "check", run=lambda knowledge, root: problems)

    assert cli.main(["knowledge", "check"]) == code
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(": ")[0] for line in lines[:-1]] == sorted(
        f"{p.file}:{p.line}" for p in problems
    )
    assert lines[-1].endswith(said)


def test_try_prints_what_the_entry_does(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The text for the id asked for is printed."""
    _module(monkeypatch, "attempt", show=lambda knowledge, ident: f"what {ident} does")

    assert cli.main(["knowledge", "try", "some_rule"]) == 0
    assert capsys.readouterr().out == "what some_rule does\n"


@pytest.mark.parametrize(("way", "ways"), [("both", ("given", "asked")), ("given", ("given",))])
def test_replay_hands_on_paths_ways_and_limit(
    way: str,
    ways: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Arguments arrive as given; with --json each row is one line of JSON."""
    told: list[Any] = []

    def replay(knowledge: Any, paths: Any, ways: Any, limit: Any) -> list[dict[str, Any]]:
        told.append((paths, ways, limit))
        return ROWS

    _module(monkeypatch, "replay", replay=replay)
    code = cli.main(["replay", "a.yaml", "b", "--json", "--way", way, "--limit", "7"])

    assert (code, told) == (0, [([Path("a.yaml"), Path("b")], ways, 7)])
    assert [json.loads(line) for line in capsys.readouterr().out.splitlines()] == ROWS


def test_replay_fails_on_a_gate_violation(monkeypatch: pytest.MonkeyPatch) -> None:
    """A single violation makes the whole run fail."""
    bad = [*ROWS, {**ROWS[0], "gate_violations": 1}]
    _module(monkeypatch, "replay", replay=lambda *args: bad)

    assert cli.main(["replay", "a.yaml"]) == 1


@pytest.mark.parametrize(
    ("last", "proof", "code"),
    [("closed", "passed", 0), ("hazard", "passed", 1), ("closed", "failed", 1)],
)
def test_the_demo_succeeds_only_with_a_proven_repair(
    last: str,
    proof: str,
    code: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The demo plays its file of answers; closed without a passed proof is a failure too."""
    desk = FakeDesk([VIEWS["proof"], VIEWS[last]])
    monkeypatch.setattr(opening, "new_desk", lambda knowledge, profile, folder: desk)
    monkeypatch.setattr(opening, "read_answers", lambda path: [Said("proof", proof)])

    assert cli.main(["demo"]) == code
    assert f"'{last}'" in capsys.readouterr().out


def test_resume_says_that_the_amplifier_counts_as_live(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Taken up again, the first thing said is that it counts as live and charged."""
    desk = FakeDesk([VIEWS["closed"]])
    monkeypatch.setattr(opening, "kept_desk", lambda knowledge, name: desk)
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))

    assert cli.main(["resume", "monday"]) == 0
    assert "counts as live and charged" in " ".join(capsys.readouterr().out.split())


def test_the_last_job_is_offered_first(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a command, Enter goes on with the job used last."""
    names: list[str] = []

    def kept(knowledge: Any, name: str) -> FakeDesk:
        names.append(name)
        return FakeDesk([VIEWS["closed"]])

    monkeypatch.setattr(opening, "kept_jobs", lambda: [("monday", "hums"), ("old", "silent")])
    monkeypatch.setattr(opening, "kept_desk", kept)
    monkeypatch.setattr("sys.stdin", io.StringIO("\n\n"))

    assert cli.main([]) == 0
    assert names == ["monday"]
    assert "monday (hums)" in capsys.readouterr().out
