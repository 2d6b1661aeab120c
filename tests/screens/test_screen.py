"""Screens as pure functions: they fit, they read without colour, they warn first."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from tests.screens.fakes import VIEWS
from triage.terminal.screen import (
    danger_lines,
    draw,
    help_lines,
    pages,
    percent,
    power_lines,
    suspect_lines,
    text_of,
)
from triage.terminal.style import CLASSES, QUIET, Look, detect, spell
from triage.terminal.texts import COMMANDS, DANGERS, POWER_WORDS

LOOKS = [
    Look(80, 24),
    Look(100, 40),
    Look(80, 24, colour=False, unicode=False),
    Look(40, 24),
    Look(80, 24, linear=True),
]


ROOT = Path(__file__).resolve().parents[2] / "knowledge"


def _widths(lines: list[tuple[tuple[str, str], ...]]) -> list[int]:
    return [len("".join(text for _, text in line)) for line in lines]


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("sort", VIEWS)
def test_every_sort_of_view_fits_the_width(sort: str, look: Look) -> None:
    """No line of any view is wider than the terminal, and the last column stays free."""
    assert max(_widths(draw(VIEWS[sort], look))) < look.width


@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("sort", VIEWS)
def test_every_page_fits_the_height_below_its_power_line(sort: str, look: Look) -> None:
    """Each page leaves one line for the prompt and one for the state, and starts with POWER."""
    head = power_lines(VIEWS[sort], look)
    cut = pages(head, draw(VIEWS[sort], look)[len(head) :], look.height)

    assert all(len(page) <= look.height - 2 for page in cut)
    assert all(text_of(page).lower().startswith("power") for page in cut)


def test_pages_lose_no_line() -> None:
    """All lines of the body are there once, in order."""
    body = [(("", f"row {i}"),) for i in range(53)]
    cut = pages([(("", "head"),)], body, 24)

    assert [line for page in cut for line in page[1:]] == body


def test_a_question_is_not_cut_off_from_its_choices() -> None:
    """At 80x24 the last page holds the question with all that may be answered."""
    look = Look(80, 24)
    head = power_lines(VIEWS["step"], look)
    last = text_of(pages(head, draw(VIEWS["step"], look)[len(head) :], look.height)[-1])

    assert "DC volts from grid" in last
    assert "3 positive" in last


def test_cautions_stand_before_how() -> None:
    """What can hurt is read before the hands move."""
    text = text_of(draw(VIEWS["step"], Look()))

    assert text.index("High voltage at the next pin") < text.index("Plug out, discharge")


def test_a_hazard_says_what_to_do_now_before_anything_else() -> None:
    """Below the power line and its name, the first thing read is the first thing to do."""
    from dataclasses import replace

    view = replace(VIEWS["hazard"], how=("Switch off now.",), cautions=("Not on again.",))
    text = text_of(draw(view, Look())).splitlines()

    assert text[2] == "now    1 Switch off now."


def test_a_step_shows_all_a_person_needs() -> None:
    """What, why, how, good, else, mistakes, question, expected and choices are on the screen."""
    text = text_of(draw(VIEWS["step"], Look()))
    wanted = (
        "Step 7",
        "It tells a leaky",
        "Pull V3",
        "-38 V, steady",
        "positive or climbing",
        "meter on AC",
        "DC volts from grid",
        "-38 V ± 2 V",
        "far more negative",
        "number in V",
        "Off switch: rear, left",
        "4 min",
        "1 of 2",
    )

    assert [word for word in wanted if word not in text] == []


def test_the_usual_answer_is_marked_in_words() -> None:
    """The mark of the normal answer does not rest on colour."""
    text = text_of(draw(VIEWS["step"], Look(colour=False)))

    assert "normal: as its mate (as it should be)" in text


def test_without_unicode_every_line_is_ascii_and_units_are_words() -> None:
    """47 kΩ becomes 47 kohm, µF becomes uF, a dash becomes a hyphen."""
    look = Look(unicode=False)

    assert text_of(draw(VIEWS["step"], look)).isascii()
    assert spell("47 k\u2126 – 0.022 µF ± 5 °C", look) == "47 kohm - 0.022 uF +/- 5  degC"


def test_the_linear_mode_labels_every_line_in_full() -> None:
    """A screen reader hears what each line is; no column of short labels is left."""
    text = text_of(draw(VIEWS["step"], Look(linear=True)))

    assert "Take care: High voltage at the next pin." in text
    assert "How: 1 Plug out, discharge, prove dead." in text
    assert "Power: idle" in text


def test_styles_used_are_all_known() -> None:
    """Every fragment's style is one of the classes, in every view and list."""
    lines = [line for view in VIEWS.values() for line in draw(view, Look())]
    lines += help_lines(Look()) + danger_lines(Look())
    used = {style for line in lines for style, _ in line}

    assert used - set(CLASSES) == set()


@pytest.mark.parametrize("power", sorted(set(POWER_WORDS) - QUIET))
def test_an_energised_state_is_never_printed_as_a_quiet_one(power: str) -> None:
    """Only cold and unplugged have the quiet style; each state says what it means."""
    from dataclasses import replace

    lines = power_lines(replace(VIEWS["step"], power=power, banner=()), Look(width=100))

    assert lines[0][1] == ("power-on", POWER_WORDS[power])


def test_danger_shows_what_to_do_at_once_for_every_hazard() -> None:
    """All four hazards with their own acts fit one screen of 80x24 before anything is asked."""
    lines = danger_lines(Look())
    text = text_of(lines)

    assert len(lines) <= 22
    assert all(says in text for _, says, _ in DANGERS)


def test_a_tingle_never_sends_a_hand_to_the_switch() -> None:
    """Bench rule: on a live chassis nobody touches the amplifier or its switch.

    Source: common practice, no source.
    """
    acts = dict((kind, " ".join(acts)) for kind, _, acts in DANGERS)

    assert "nor its switch" in acts["tingle"]
    assert "at the wall" in acts["tingle"]


def test_help_names_every_command() -> None:
    """Each command word stands on the help screen."""
    text = text_of(help_lines(Look()))

    assert [c.word for c in COMMANDS if c.word not in text] == []


def test_shares_are_never_shown_as_certain() -> None:
    """A probability is neither 0 % nor 100 %."""
    assert [percent(p) for p in (0.0, 0.004, 0.62, 0.999)] == [" <1 %", " <1 %", " 62 %", ">99 %"]


def test_no_suspects_is_said_in_words() -> None:
    """An empty list is told as such."""
    assert "Nothing yet" in text_of(suspect_lines((), Look()))


def test_colour_goes_off_by_the_usual_switches() -> None:
    """NO_COLOR (set and not empty: https://no-color.org, from memory) switches colour off."""
    assert not detect({"NO_COLOR": "1"}, (80, 24)).colour
    assert detect({"NO_COLOR": ""}, (80, 24)).colour
    assert not detect({"TERM": "dumb"}, (80, 24)).colour


def test_the_dangers_are_those_of_the_hazard_file_with_the_same_first_act() -> None:
    """Same ids; where the file says to keep the hands off, or the wall, the screen does too."""
    rows = yaml.safe_load((ROOT / "hazards.yaml").read_text(encoding="utf-8"))
    filed = {row["id"]: " ".join(row["at_once"]).lower() for row in rows}
    shown = {kind: " ".join(acts).lower() for kind, _, acts in DANGERS}

    assert set(shown) == set(filed)
    for word in ("touch", "wall", "standby", "doctor", "30 minutes"):
        assert {k for k in filed if word in filed[k]} == {k for k in shown if word in shown[k]}
