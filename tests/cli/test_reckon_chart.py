"""``triage reckon chart``: files, screens, and handing what it finds to a job."""

import json
from pathlib import Path

import pytest

from triage.cli import opening, reckon_chart
from triage.cli.main import main
from triage.cli.places import jobs_path
from triage.store.desks import begin, resume

FILES = ("linden_hall.csv", "linden_hall_readings.csv")


@pytest.fixture(autouse=True)
def _own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TRIAGE_HOME", str(tmp_path / "home"))


def new_job(amplifier: str = "linden_hall") -> str:
    knowledge = opening.open_knowledge()
    session = begin(knowledge, opening.built_in(knowledge, amplifier), jobs_path())
    session.complaint("no sound")
    del session
    return next(iter(jobs_path().glob("*.jsonl"))).name.removesuffix(".jsonl")


def test_the_example_prints_a_row_per_point_within_80_columns(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Off points carry a star; the summary comes last, where a screen of 24 lines shows it."""
    assert main(["reckon", "chart", *FILES]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any("2 of 21 points off" in line for line in lines[-8:])
    assert sum(line.startswith("  * ") for line in lines) == 2
    assert [line for line in lines if len(line) > 80] == []


def test_json_has_the_form_of_every_check(capsys: pytest.CaptureFixture[str]) -> None:
    """Result is the number of points off, each reading stands under also."""
    assert main(["reckon", "chart", *FILES, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["result"] == 2 and len(found["also"]) == 21 and found["check"] == "chart"


def test_a_file_that_is_not_there_or_wrong_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No such file; a wrong line with file and number."""
    assert main(["reckon", "chart", "nowhere.csv", FILES[1]]) == 1
    assert "no such file" in capsys.readouterr().err
    bad = tmp_path / "bad.csv"
    bad.write_text("point, value\nB1, 400\n", encoding="utf-8")
    assert main(["reckon", "chart", str(bad), FILES[1]]) == 1
    assert f"{bad}:2: " in capsys.readouterr().err
    assert main(["reckon", "chart", *FILES, "third.csv"]) == 1
    assert "takes 2 files" in capsys.readouterr().err
    assert main(["reckon", "chart", FILES[0]]) == 1
    assert "'readings' is missing" in capsys.readouterr().err


def test_a_judged_chart_goes_into_a_job_and_moves_its_ranking(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """After it the job knows that V2a draws nothing, and suspects what stands around V2a."""
    job = new_job()
    assert main(["reckon", "chart", *FILES, "--into", job]) == 0
    assert "22 findings handed to the job" in capsys.readouterr().out
    session = resume(opening.open_knowledge(), jobs_path(), job)
    answers = {(a.finding, a.place): a.answer for a in session.state.answers}
    assert answers[("plate_share", "V2a")] == "at_supply"
    assert answers[("plate_share", "V1a")] == "normal"
    first = session.suspects()[0]
    assert first.p > 0.5 and "V2a" in first.places[0][1]


def test_a_chart_of_another_amplifier_is_not_put_into_a_job(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The two names are told, and the job stays as it was."""
    job = new_job("practice_amp")
    before = len(resume(opening.open_knowledge(), jobs_path(), job).state.answers)
    assert main(["reckon", "chart", *FILES, "--into", job]) == 1
    assert "this job is of 'practice_amp'" in capsys.readouterr().err
    assert len(resume(opening.open_knowledge(), jobs_path(), job).state.answers) == before


def test_what_a_job_has_no_place_for_is_named() -> None:
    """A row at a place that is not in the amplifier is left out and said."""
    from triage.measure.chart import Told

    new_job()
    knowledge = opening.open_knowledge()
    name = next(iter(jobs_path().glob("*.jsonl"))).name.removesuffix(".jsonl")
    session = resume(knowledge, jobs_path(), name)
    rows = (Told("plate_share", "V99", "normal", "160 V", 1.0, "V99 plate"),)
    said = reckon_chart.put(session, rows)
    assert said.startswith("0 findings") and "V99 plate" in said
