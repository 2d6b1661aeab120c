"""The command ``triage reckon``: arguments, screens, files, exit codes."""

import json
import shlex
from pathlib import Path

import pytest

from triage.cli.main import main
from triage.cli.reckon import read
from triage.errors import BadReading
from triage.measure.reckon import CHECKS

WITHOUT_FILES = sorted(name for name, check in CHECKS.items() if not check.files)


def said(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> str:
    assert main(["reckon", *words]) == code
    out, err = capsys.readouterr()
    return err if code else out


def test_alone_it_lists_every_check_with_one_line_and_an_example(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The list names all checks, each on one line of at most 80 columns."""
    shown = said(capsys)
    lines = shown.splitlines()
    for name, check in CHECKS.items():
        assert sum(line.startswith(f"  {name} ") and check.says in line for line in lines) == 1
    assert "For example:" in shown
    assert [line for line in lines if len(line) > 80] == []


@pytest.mark.parametrize("name", sorted(CHECKS))
def test_help_tells_every_value_and_one_example(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """--help names each value, within 80 columns, and shows the example."""
    shown = said(capsys, name, "--help")
    for param in CHECKS[name].all_params():
        assert f"\n  {param.name}" in shown
    assert "For example:" in shown
    assert [line for line in shown.splitlines() if len(line) > 80] == []


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_every_example_runs_on_the_command_line_with_steps_and_json(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The example works as printed, --steps shows the reckoning, --json is one JSON value."""
    words = shlex.split(CHECKS[name].example)
    shown = said(capsys, name, *words, "--steps")
    assert shown.startswith(name)
    assert [line for line in shown.splitlines() if len(line) > 80] == []
    found = json.loads(said(capsys, name, *words, "--json"))
    assert found["check"] == name
    assert ("  steps:" in shown) == bool(found["steps"])


def test_both_ways_of_writing_a_value_are_one(capsys: pytest.CaptureFixture[str]) -> None:
    """key=value, --key value, --key=value and a unit standing apart say the same."""
    ways = (
        ["volts=5.8 V", "rated=6.3 V"],
        ["--volts", "5.8 V", "--rated", "6.3 V"],
        ["--volts=5.8", "--rated=6.3"],
        ["volts=5.8", "V", "rated=6.3", "V"],
    )
    results = [json.loads(said(capsys, "heater", *way, "--json"))["result"] for way in ways]
    assert results == [results[0]] * 4


def test_a_negative_value_is_a_value_and_no_option() -> None:
    """--grid -38 gives -38."""
    assert read(["coupling", "--grid", "-38 V"]).values == {"grid": "-38 V"}


def test_an_option_without_a_value_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    """--volts at the end lacks its value."""
    with pytest.raises(BadReading, match="value is missing"):
        read(["idle", "--volts"])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["idel"], "did you mean 'idle'"),
        (["idle", "plat=3"], "did you mean 'plate'"),
        (["idle", "volts=3 A"], "V is asked for"),
        (["idle", "0.47"], "say which value"),
        (["tube", "tube=EL84", "--plot"], "no picture"),
        (["tube", "tube=EL84", "--josn"], "did you mean '--json'"),
    ],
)
def test_a_wrong_use_names_what_is_wrong_and_what_is_right(
    words: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 1, one line, with the mend in it."""
    if words[0] == "idle" and words[1] == "volts=3 A":
        words = [*words, "ohm=10", "plate=400 V", "tube=6L6GC"]
    shown = said(capsys, *words, code=1)
    assert told in shown and len(shown.splitlines()) == 1


def test_a_picture_is_written_and_drawn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """--svg writes a file, --plot --ascii draws it in plain characters."""
    target = tmp_path / "heater.svg"
    words = ["heater", "volts=5.8 V", "tube=6L6GC", "--plot", "--ascii", "--svg", str(target)]
    shown = said(capsys, *words)
    assert target.read_text(encoding="utf-8").startswith("<svg ")
    assert "@" in shown and "right" in shown


def test_a_picture_that_cannot_be_written_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that is not there is named, with exit code 1."""
    target = tmp_path / "nowhere" / "x.svg"
    shown = said(capsys, "heater", "volts=5.8 V", "tube=6L6GC", "--svg", str(target), code=1)
    assert "cannot be written" in shown
