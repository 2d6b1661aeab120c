"""``triage expect --own FILE`` as a person runs it: typed lines in, screen and file out."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import triage

START = "single\ntube\ncathode\n6V6 12AX7\n\n"
"""Answers that make the practice amplifier the nearest, and take it."""


def typed(folder: Path, lines: str, *args: str) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own, in ``folder``, with these lines typed."""
    root = str(Path(triage.__file__).parents[1])
    return subprocess.run(
        [sys.executable, "-m", "triage", "expect", *args],
        input=lines, capture_output=True, text=True, check=False, cwd=folder,
        env={**os.environ, "PYTHONPATH": root, "OPENBLAS_NUM_THREADS": "1", "PYTHONUTF8": "1"},
    )  # fmt: skip


def test_a_newcomer_makes_a_circuit_and_sees_its_table(tmp_path: Path) -> None:
    """Nearest first, a slip refused and mended, the rest kept; the file is tried and reads again."""
    lines = START + "den amp\n\n117 V\n60\n270\nfive\n120\n" + "enough\n"
    done = typed(tmp_path, lines, "--own", "den.yaml")

    assert done.returncode == 0, done.stderr
    assert "1 practice amp" in done.stdout
    assert "'five': no number was found in it" in done.stdout
    assert "Written to den.yaml: 5 values changed from practice_amp." in done.stdout
    assert "V2 plate watts" in done.stdout and "Design values, not permission" in done.stdout
    text = (tmp_path / "den.yaml").read_text(encoding="utf-8")
    assert "circuit: den_amp" in text and "winding: 270 V, source: 120 ohm" in text
    again = typed(tmp_path, "", "den.yaml")
    assert again.returncode == 0 and "den_amp" in again.stdout


def test_a_file_that_is_there_is_not_overwritten_unless_told(tmp_path: Path) -> None:
    """Refused before the first question; with --overwrite it is written anew."""
    file = tmp_path / "mine.yaml"
    file.write_text("mine\n", encoding="utf-8")
    refused = typed(tmp_path, "enough\n", "practice_amp", "--own", "mine.yaml")

    assert refused.returncode == 1 and "--overwrite" in refused.stderr
    assert "Yours?" not in refused.stdout
    assert file.read_text(encoding="utf-8") == "mine\n"
    done = typed(tmp_path, "enough\n", "practice_amp", "--own", "mine.yaml", "--overwrite")
    assert done.returncode == 0 and "0 values changed" in done.stdout


@pytest.mark.parametrize("last", ["", "pause\n"])
def test_whoever_stops_in_the_middle_loses_nothing(tmp_path: Path, last: str) -> None:
    """The values so far are written, and it is said how to go on from them."""
    done = typed(tmp_path, "den\n\n117 V\n" + last, "practice_amp", "--own", "den.yaml")

    assert done.returncode == 0
    assert "triage expect den.yaml --own den.yaml --overwrite" in done.stdout
    onward = typed(tmp_path, "enough\n", "den.yaml", "--own", "den.yaml", "--overwrite")
    assert onward.returncode == 0
    assert "nominal: 117 V" in (tmp_path / "den.yaml").read_text(encoding="utf-8")


def test_whoever_stops_before_a_circuit_is_chosen_writes_nothing(tmp_path: Path) -> None:
    """Ctrl-D at the first questions leaves no file; danger is answered there too."""
    done = typed(tmp_path, "danger\n\nback\nsideways\nsingle\n", "--own", "den.yaml")

    assert done.returncode == 0 and not (tmp_path / "den.yaml").exists()
    assert "Cut the power at the wall" in done.stdout
    assert "'sideways' is none of them" in done.stdout
    assert "nothing was written" in done.stdout


@pytest.mark.parametrize(("args", "told"), [
    (("--own", "mine.txt"), "ends in .yaml"), (("--own", "nowhere/mine.yaml"), "no such folder"),
    (("no_such", "--own", "mine.yaml"), "no such circuit"), ((), "no circuit was named")])  # fmt: skip
def test_wrong_arguments_are_told_before_any_question(
    tmp_path: Path, args: tuple[str, ...], told: str
) -> None:
    """What, and how to mend it; exit 1, nothing written."""
    done = typed(tmp_path, "", *args)

    assert done.returncode == 1 and told in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_file_of_ones_own_that_cannot_be_solved_is_told_in_words(tmp_path: Path) -> None:
    """No path to ground and a loop of sources, each by the node's own name."""
    typed(tmp_path, "enough\n", "practice_amp", "--own", "mine.yaml")
    file = tmp_path / "mine.yaml"
    rows = file.read_text(encoding="utf-8").splitlines()
    supply = next(row for row in rows if row.startswith("  HT:"))
    rows.insert(rows.index(supply), supply.replace("HT:", "AUX:"))
    kept = [row for row in rows if not row.startswith("  R7:")]
    file.write_text("\n".join(kept) + "\n", encoding="utf-8")
    done = typed(tmp_path, "", "mine.yaml")

    assert done.returncode == 1
    assert "loop of sources: supplies AUX and HT feed one node ('b1')" in done.stderr
    assert "node 'g2' has no path for direct current to ground" in done.stderr


def test_the_number_of_a_danger_is_never_taken_for_a_value(tmp_path: Path) -> None:
    """'danger', then '3' for a red plate: the value asked for stays as it was."""
    lines = "den\n\ndanger\n3\nenough\n"
    done = typed(tmp_path, lines, "practice_amp", "--own", "den.yaml")

    assert done.returncode == 0 and "Do that first" in done.stdout
    assert "nominal: 120 V" in (tmp_path / "den.yaml").read_text(encoding="utf-8")
