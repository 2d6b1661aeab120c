"""``triage order``: what it takes, what it refuses, the same bytes each time."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.job.helpers import knowledge
from triage.cli.main import PROBLEMS, main
from triage.cli.order import FORMS, amplifier, equipped, known_tools
from triage.errors import BadReading

HUM = ("order", "practice_amp", "--complaint", "it hums", "--depth", "1")


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Caches of the command go into a folder of the test."""
    monkeypatch.setenv("TRIAGE_HOME", str(tmp_path / "kept"))


@pytest.mark.parametrize("form", FORMS)
def test_every_form_is_written_to_a_file_as_it_is_printed(
    form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """--out keeps what would be printed, and says where."""
    assert main([*HUM, "--form", form]) == 0
    printed = capsys.readouterr().out
    target = tmp_path / f"order.{form}"
    assert main([*HUM, "--form", form, "--out", str(target)]) == 0
    assert capsys.readouterr().out == f"Written to {target}.\n"
    assert target.read_text(encoding="utf-8") == printed


def test_two_processes_with_other_hash_seeds_write_the_same_bytes(tmp_path: Path) -> None:
    """Nothing hangs on the order of a set."""
    made = []
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-m", "triage", *HUM, "--form", "html"],
            capture_output=True,
            check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "TRIAGE_HOME": str(tmp_path)},
        )
        made.append(done.stdout)
    assert len(made[0]) > 2000
    assert made[0] == made[1]


def test_an_unknown_amplifier_is_refused_with_the_nearest(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The message lists the built-in ones and offers the one that was probably meant."""
    assert main(["order", "practise_amp", "--complaint", "it hums"]) == PROBLEMS
    told = capsys.readouterr().err
    assert "no built-in amplifier and no file" in told
    assert "Write for example practice_amp." in told


def test_an_unknown_complaint_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """One line with what to write instead; no tree."""
    assert main(["order", "practice_amp", "--complaint", "xyzzy"]) == PROBLEMS
    told = capsys.readouterr()
    assert told.out == ""
    assert "no word of it is known here" in told.err


def test_an_unknown_tool_is_refused_with_the_nearest() -> None:
    """A tool that no step uses would change nothing, unseen."""
    profile = knowledge().profiles["practice_amp"]
    with pytest.raises(BadReading, match="Write for example multimeter"):
        equipped(profile, knowledge(), ["multimetre"], None)
    assert {"multimeter", "limiter", "scope"} <= known_tools(knowledge())


def test_tools_and_skill_stand_in_for_those_of_the_profile() -> None:
    """Named with blanks or commas; the profile itself stays as it was."""
    profile = knowledge().profiles["practice_amp"]
    other = equipped(profile, knowledge(), ["multimeter,", "limiter"], "technician")
    assert other.owner.tools == ["multimeter", "limiter"]
    assert other.owner.skill == "technician"
    assert knowledge().profiles["practice_amp"] == profile


def test_a_profile_in_a_file_serves_as_well(tmp_path: Path) -> None:
    """An amplifier of one's own."""
    own = tmp_path / "mine.yaml"
    own.write_text("amplifier: mine\nchannels: mono\n", encoding="utf-8")
    assert amplifier(knowledge(), str(own)).amplifier == "mine"


def test_a_file_that_cannot_be_written_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The folder is not there: say so, and what to do."""
    assert main([*HUM, "--out", str(tmp_path / "no" / "order.txt")]) == PROBLEMS
    assert "name a file in a folder of yours" in capsys.readouterr().err
