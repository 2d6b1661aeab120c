"""A new job: built-in amplifiers, files, and the short set of questions."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
import yaml

from triage.errors import KnowledgeError
from triage.model.profile import Profile
from triage.terminal.asker import LineAsker
from triage.terminal.commands import Leave
from triage.terminal.intake import ask_profile, choose_profile, read_profile
from triage.terminal.style import Look

ROOT = Path(__file__).resolve().parents[2] / "knowledge"
QUESTIONS = yaml.safe_load((ROOT / "questions.yaml").read_text(encoding="utf-8"))


def _asker(typed: str) -> tuple[LineAsker, io.StringIO]:
    target = io.StringIO()
    return LineAsker(io.StringIO(typed), target, Look(linear=True)), target


def test_every_question_may_be_answered_unknown() -> None:
    """Nothing known gives the empty profile, in which everything is unknown."""
    asker, _ = _asker("unknown\n" * len(QUESTIONS))

    assert ask_profile(asker, QUESTIONS) == Profile(amplifier="yours")


@pytest.mark.parametrize("row", QUESTIONS, ids=lambda row: str(row["id"]))
def test_every_choice_of_every_question_makes_a_valid_profile(row: dict[str, object]) -> None:
    """Each choice of a question alone sets a field that the profile accepts, and changes it."""
    choices = row["choices"]
    assert isinstance(choices, list)
    made = [ask_profile(_asker(f"{n}\n")[0], [row]) for n in range(1, len(choices) + 1)]

    assert len({profile.model_dump_json() for profile in made}) == len(choices)


def test_several_tools_are_given_by_their_numbers() -> None:
    """'1 3' owns two tools."""
    tools = [row for row in QUESTIONS if row["id"] == "tools"]
    profile = ask_profile(_asker("1, 4\n")[0], tools)

    assert profile.owner.tools == ["multimeter", "limiter"]


def test_back_asks_the_question_before_again() -> None:
    """A wrong answer is mended by going back."""
    rows = [row for row in QUESTIONS if row["id"] in ("channels", "stage")]
    profile = ask_profile(_asker("mono\nback\nstereo\npush\n")[0], rows)

    assert (profile.channels, profile.stage) == ("stereo", "push_pull")


def test_a_wrong_entry_is_asked_again() -> None:
    """What is no choice is answered with the choices."""
    rows = [row for row in QUESTIONS if row["id"] == "channels"]
    asker, out = _asker("three\nmono\n")

    assert ask_profile(asker, rows).channels == "mono"
    assert "mono, stereo, unknown" in out.getvalue()


def test_danger_is_answered_before_there_is_a_job() -> None:
    """Also among the first questions 'danger' shows what to do."""
    rows = [row for row in QUESTIONS if row["id"] == "channels"]
    asker, out = _asker("danger\nmono\n")
    ask_profile(asker, rows)

    assert "Cut the power at the wall" in out.getvalue()


def test_a_built_in_amplifier_is_chosen_by_number() -> None:
    """The first of the list is taken by '1'."""
    known = {"small": Profile(amplifier="small"), "big": Profile(amplifier="big")}

    assert choose_profile(_asker("1\n")[0], known, QUESTIONS).amplifier == "small"


def test_a_wrong_file_is_told_with_its_line_and_asked_again(tmp_path: Path) -> None:
    """The path is kept asking for; the message names file, line and key."""
    bad = tmp_path / "bad.yaml"
    bad.write_text("amplifier: mine\nchanels: mono\n", encoding="utf-8")
    good = tmp_path / "good.yaml"
    good.write_text("amplifier: mine\nchannels: mono\n", encoding="utf-8")
    asker, out = _asker(f"file\n{bad}\nfile\n{good}\n")

    assert choose_profile(asker, {}, QUESTIONS).channels == "mono"
    told = "".join(out.getvalue().split())  # a long path is broken over two lines
    assert "bad.yaml:2" in told


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("amplifier: [", 1),
        ("- a\n- b\n", 1),
        ("amplifier: a\nline:\n  hertz: sixty\n", 3),
    ],
)
def test_a_broken_profile_is_refused_with_its_line(tmp_path: Path, text: str, line: int) -> None:
    """Broken YAML, a list, and a wrong value each give one error that names the line."""
    path = tmp_path / "broken.yaml"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(KnowledgeError) as caught:
        read_profile(path)
    assert f"broken.yaml:{line}" in str(caught.value)


def test_a_missing_profile_is_refused(tmp_path: Path) -> None:
    """The path stands in the message."""
    with pytest.raises(KnowledgeError, match="none.yaml"):
        read_profile(tmp_path / "none.yaml")


def test_pause_leaves_the_questions() -> None:
    """Nothing has been kept, so leaving is free."""
    with pytest.raises(Leave):
        ask_profile(_asker("pause\n")[0], QUESTIONS)


def test_what_it_has_is_marked_yes_and_the_rest_of_the_list_no() -> None:
    """Whoever names the blocks of the amplifier has said of all others that they are not there."""
    row = next(row for row in QUESTIONS if row["id"] == "blocks")

    some = ask_profile(_asker("reverb tremolo\n")[0], [row]).has
    none = ask_profile(_asker("none\n")[0], [row]).has

    assert {key for key, said in some.items() if said == "yes"} == {"reverb", "tremolo"}
    assert some["phono"] == "no"
    assert set(none.values()) == {"no"} and "none" not in none


def test_blocks_keep_what_was_said_of_others_before() -> None:
    """The list does not wipe out what single questions have set."""
    rows = [row for row in QUESTIONS if row["id"] in ("standby", "blocks")]

    made = ask_profile(
        _asker("reverb\nyes\n" if rows[0]["id"] == "blocks" else "yes\nreverb\n")[0], rows
    )

    assert made.has["standby"] == "yes" and made.has["reverb"] == "yes"
