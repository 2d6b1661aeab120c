"""Commands told from answers."""

from __future__ import annotations

import pytest

from triage.terminal.spoken import WORDS, Spoken, understand

ANSWERS = ("no", "passed", "left", "unknown", "cannot", "far_negative")


@pytest.mark.parametrize("word", WORDS)
def test_every_command_written_out_is_a_command(word: str) -> None:
    """Also in capitals and with spaces around it."""
    assert understand(f"  {word.upper()} ", ANSWERS) == Spoken("command", word)


@pytest.mark.parametrize("answer", ANSWERS)
def test_an_answer_written_out_is_an_answer(answer: str) -> None:
    """No command stands in the way of an answer of the moment."""
    assert understand(answer, ANSWERS).sort == "answer"


def test_an_answer_wins_over_a_command_of_the_same_word() -> None:
    """A finding may have an answer that is also a command."""
    assert understand("back", ("back", "front")).sort == "answer"


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("sus", Spoken("command", "suspects")),
        ("dan", Spoken("command", "danger")),
        ("n", Spoken("answer", rest="n")),
        ("pa", Spoken("answer", rest="pa")),
        ("?", Spoken("command", "why")),
        ("why 2", Spoken("command", "why", "2")),
        ("! smoke", Spoken("command", "danger", "smoke")),
        ("47 mV", Spoken("answer", rest="47 mV")),
        ("far negative", Spoken("answer", rest="far negative")),
        ("again it hums", Spoken("answer", rest="again it hums")),
        ("2", Spoken("answer", rest="2")),
    ],
)
def test_short_forms_are_taken_only_where_clear(typed: str, expected: Spoken) -> None:
    """Beginnings of two letters that fit one command only, never a single letter."""
    assert understand(typed, ANSWERS) == expected


def test_free_words_hide_only_whole_commands() -> None:
    """'dan' in a complaint is a word; 'danger' is not."""
    assert understand("dan", free=True).sort == "answer"
    assert understand("danger", free=True).sort == "command"
    assert understand("why does it hum", free=True).sort == "answer"


def test_beginnings_of_two_letters_tell_all_commands_apart() -> None:
    """No two command words begin with the same two letters, so short forms are never unclear."""
    assert len({word[:2] for word in WORDS}) == len(WORDS)
