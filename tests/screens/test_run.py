"""The conversation, driven by keys at a prompt and by lines from a stream."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from prompt_toolkit.buffer import Buffer
from prompt_toolkit.completion import CompleteEvent
from prompt_toolkit.data_structures import Size
from prompt_toolkit.document import Document
from prompt_toolkit.input import PipeInput, create_pipe_input
from prompt_toolkit.output import DummyOutput
from prompt_toolkit.output.vt100 import Vt100_Output

from tests.screens.fakes import VIEWS, FakeDesk, FakeReply
from triage.terminal.asker import LineAsker
from triage.terminal.prompting import PromptAsker, WordCompleter, cleared, key_help
from triage.terminal.run import converse, question_words
from triage.terminal.screen import draw
from triage.terminal.spoken import WORDS
from triage.terminal.style import Look

ENTER = "\r"
F2, CTRL_C, CTRL_D = "\x1bOQ", "\x03", "\x04"


@contextmanager
def _prompt(look: Look) -> Iterator[tuple[PipeInput, PromptAsker]]:
    with create_pipe_input() as keys:
        asker = PromptAsker(look, input=keys, output=DummyOutput())
        asker.session.app.ttimeoutlen = 0.0
        asker.session.app.timeoutlen = 0.0
        yield keys, asker


def _keys(desk: FakeDesk, typed: str, look: Look | None = None) -> FakeDesk:
    with _prompt(look or Look(80, 100)) as (keys, asker):
        keys.send_text(typed + CTRL_D)
        keys.close()
        converse(desk, asker)
    return desk


def _lines(desk: FakeDesk, typed: str) -> str:
    target = io.StringIO()
    converse(desk, LineAsker(io.StringIO(typed), target, Look(linear=True)))
    return target.getvalue()


def _desk(*sorts: str, **more: object) -> FakeDesk:
    return FakeDesk([VIEWS[sort] for sort in sorts], **more)  # type: ignore[arg-type]  # any


@pytest.mark.parametrize("colour", [True, False])
@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_an_answer_reaches_the_session_at_every_size_and_colour(
    size: tuple[int, int], colour: bool
) -> None:
    """Typed at 80x24 after paging or at 120x40, colour or not, the reading arrives as typed."""
    look = Look(min(size[0], 100), size[1], colour=colour)
    paged = ENTER if size[1] == 24 else ""
    desk = _keys(_desk("step", "closed"), paged + "-38" + ENTER, look)

    assert desk.told[0] == ("answer", "0", "-38")


def test_ctrl_d_pauses_and_keeps() -> None:
    """Ctrl-D is a pause, not a loss."""
    assert _keys(_desk("step"), "").told == [("pause",)]


def test_ctrl_c_asks_and_the_session_goes_on() -> None:
    """One Ctrl-C leaves the prompt and asks; the next line is taken as usual."""
    desk = _keys(_desk("proof", "closed"), CTRL_C + "passed" + ENTER)

    assert desk.told[0] == ("proof", "passed")


def test_ctrl_c_twice_pauses() -> None:
    """Somebody who insists is let go, with everything kept."""
    assert _keys(_desk("proof"), CTRL_C + CTRL_C).told == [("pause",)]


def test_danger_is_taken_in_the_middle_of_an_act() -> None:
    """'!' while a number is wanted shows the hazards, and the chosen one reaches the session."""
    desk = _keys(_desk("act"), "!" + ENTER + "3" + ENTER)

    assert desk.told[0] == ("hazard", "red_plate")


def test_f2_is_danger_at_any_prompt() -> None:
    """The danger key does not need the line to be empty."""
    desk = _keys(_desk("step"), "nonsense" + F2 + "1" + ENTER)

    assert desk.told[0] == ("hazard", "tingle")


def test_danger_with_enter_alone_notes_nothing() -> None:
    """Looked at by mistake, the hazard list locks nothing."""
    assert _keys(_desk("step"), "danger" + ENTER + ENTER).told == [("pause",)]


def test_esc_on_an_empty_line_goes_back_and_else_clears() -> None:
    """Esc first clears what is typed; with nothing typed it takes back one answer."""
    buffer = Buffer()
    buffer.insert_text("wrong")

    assert cleared(buffer)
    assert buffer.text == ""
    assert not cleared(buffer)


def test_completion_offers_answers_with_their_meaning() -> None:
    """What is typed so far is completed from the answers of the question, then the commands."""
    completer = WordCompleter()
    completer.words = tuple(question_words(VIEWS["step"].questions[0]))
    found = list(completer.get_completions(Document("po"), CompleteEvent()))

    assert [(c.text, c.display_meta_text) for c in found] == [("positive", "positive")]


def test_the_help_of_keys_comes_from_their_handlers() -> None:
    """Each key handler carries its line of help."""
    text = " ".join(key_help())

    assert all(word in text for word in ("F1", "F2", "Esc", "Up", "Down", "Tab"))


def test_an_act_asks_each_number_and_confirms_them_together() -> None:
    """Two capacitors, two readings, one confirmation."""
    desk = _desk("act", "closed")
    out = _lines(desk, "3 V\n0.5 V\n")

    assert desk.told[0] == ("confirm", "b_plus=3 V", "bias_supply=0.5 V")
    assert "bias supply, in V" in out
    assert "discharged" not in out


def test_back_among_numbers_takes_back_the_last_number() -> None:
    """A slip in the first of two readings is mended before anything is confirmed."""
    desk = _desk("act", "closed")
    _lines(desk, "30 V\nback\n3 V\n1 V\n")

    assert desk.told[0] == ("confirm", "b_plus=3 V", "bias_supply=1 V")


def test_a_number_that_is_not_known_is_left_open() -> None:
    """'unknown' or Enter leaves one number out; with none given nothing is confirmed."""
    some = _desk("act", "closed")
    _lines(some, "3 V\nunknown\n")
    none = _desk("act", "closed")
    _lines(none, "\ncannot\n")

    assert some.told[0] == ("confirm", "b_plus=3 V")
    assert none.told == [("pause",)]


def test_an_answer_typed_at_a_page_break_is_taken() -> None:
    """Somebody who knows the step need not page to its end."""
    desk = _keys(_desk("step", "closed"), "-38" + ENTER, Look(80, 24))

    assert desk.told[0] == ("answer", "0", "-38")


def test_an_act_with_a_question_asks_it_before_its_numbers() -> None:
    """A gate may want a named observation first; it goes to the session as an answer."""
    asking = replace(VIEWS["act"], questions=VIEWS["step"].questions[:1])
    desk = FakeDesk([asking, VIEWS["act"], VIEWS["closed"]])
    _lines(desk, "normal\n3 V\n1 V\n")

    assert desk.told[:2] == [
        ("answer", "0", "normal"),
        ("confirm", "b_plus=3 V", "bias_supply=1 V"),
    ]


def test_a_named_observation_is_given_by_its_number() -> None:
    """Where an act asks for one of some words, they are listed; the session gets the word."""
    gate = replace(
        VIEWS["act"],
        fields=(("class", "choice"), ("earth_ohm", "ohm")),
        lines=(
            "class: How it is earthed (earthed = three wires; double_square = two wires, marked)",
            "earth_ohm: Ohms from the earth pin to bare chassis (leads taken off)",
        ),
    )
    desk = FakeDesk([gate, VIEWS["closed"]])
    out = _lines(desk, "2\n0.1\n")

    assert "How it is earthed" in out
    assert "2 double square: two wires, marked" in out
    assert "(leads taken off), in ohm" in out
    assert desk.told[0] == ("confirm", "class=double_square", "earth_ohm=0.1")


def test_an_act_without_numbers_wants_the_word_done() -> None:
    """Enter alone never confirms a physical act."""
    desk = _desk("hazard", "closed")
    _lines(desk, "\nyep\ndone\n")

    assert desk.told[:1] == [("confirm",)]


def test_a_plausibility_question_is_shown_and_keep_confirms() -> None:
    """47 for 47 mV: the question is shown, nothing moves until 'keep'."""
    asks = FakeReply(True, "", "47 V is far from 47 mV. Did you mean 47 mV?")
    desk = _desk("step", "closed", replies=[asks])
    out = _lines(desk, "47\nkeep\n")

    assert "Did you mean 47 mV?" in out
    assert desk.told[:2] == [("answer", "0", "47"), ("answer", "0", "keep")]


def test_a_bad_entry_is_answered_under_the_prompt_and_asked_again() -> None:
    """A refused answer leaves the same question open."""
    desk = _desk("step", "closed", replies=[FakeReply(False, "'4x' is not a number.")])
    out = _lines(desk, "4x\n-38\n")

    assert "'4x' is not a number." in out
    assert desk.told[:2] == [("answer", "0", "4x"), ("answer", "0", "-38")]


def test_a_second_question_of_the_same_step_is_asked_in_turn() -> None:
    """Where the view keeps both questions, the index moves on by itself."""
    desk = _desk("step", stay=True)
    _lines(desk, "-38\npositive\n")

    assert desk.told[:2] == [("answer", "0", "-38"), ("answer", "1", "positive")]


def test_a_complaint_is_told_in_free_words_until_enough() -> None:
    """Words that begin like commands stay words; 'enough' ends the telling."""
    desk = _desk("complaint", "closed")
    _lines(desk, "left side hums\nback again it hums\nenough\n")

    assert desk.told[:3] == [
        ("complaint", "left side hums"),
        ("complaint", "back again it hums"),
        ("complaint_over",),
    ]


def test_a_complaint_is_also_chosen_by_number_and_answered() -> None:
    """A number opens a line of the list; what follows is its answer, then words are free."""
    asking = replace(VIEWS["complaint"], questions=VIEWS["step"].questions)
    desk = FakeDesk([asking], stay=True)
    out = _lines(desk, "1\nback\n2\npositive\nit hums\n")

    assert "2 DC volts from grid to ground of V3" in out
    assert desk.told[:2] == [("answer", "1", "positive"), ("complaint", "it hums")]


@pytest.mark.parametrize(
    ("typed", "shown"),
    [
        ("suspects", "62 %"),
        ("why 2", "reason for 1"),
        ("why 9", "no suspect 9"),
        ("todo", "not asked: ripple"),
        ("order 4", "order to depth 4"),
        ("sheet", "hand-over sheet"),
        ("change", "2 grid of V3: -38 V"),
        ("history", "2 grid of V3: -38 V"),
        ("help", "these words"),
        ("?", "leaky coupling"),
        ("sus", "62 %"),
        ("note", "note what?"),
    ],
)
def test_command_words_show_what_the_session_says(typed: str, shown: str) -> None:
    """Each command shows its own text and answers nothing in the person's name."""
    desk = _desk("step", stay=True)
    out = _lines(desk, typed + "\n")

    assert shown in out


def test_commands_that_take_something_call_one_method_each() -> None:
    """Back, change, skip and note arrive at the session as such."""
    desk = _desk("step", stay=True)
    _lines(desk, "back\nchange 1 no\nskip\nnote R14 is scorched\n")

    assert desk.told[:4] == [
        ("back",),
        ("correct", "1", "no"),
        ("cannot",),
        ("note", "R14 is scorched"),
    ]


def test_repair_and_proof_follow_each_other() -> None:
    """The repair is confirmed with 'done', the proof with its answer, then Enter leaves."""
    desk = _desk("repair", "proof", "closed")
    _lines(desk, "done\npassed\n\n")

    assert desk.told == [("done",), ("proof", "passed")]


def test_the_end_of_a_stream_pauses() -> None:
    """A pipe that ends keeps everything and says how to leave the amplifier."""
    desk = _desk("step")
    out = _lines(desk, "")

    assert desk.told == [("pause",)]
    assert "heard" in out


LINES = st.lists(
    st.one_of(
        st.sampled_from(
            [
                *WORDS,
                "done",
                "enough",
                "-38",
                "!",
                "?",
                "passed",
                "why 2",
                "change 1 no",
                "keep",
                "4",
                "",
            ]
        ),
        st.text(max_size=12),
    ),
    max_size=15,
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(lines=LINES)
def test_whatever_is_typed_the_conversation_ends_kept_or_closed(lines: list[str]) -> None:
    """No line ends the conversation but a pause, the end of input, or Enter at the end."""
    desk = _desk("complaint", "already", "act", "step", "repair", "proof", "hazard", "closed")
    typed = "\n".join(line.replace("\n", " ").replace("\r", " ") for line in lines)
    _lines(desk, typed)

    assert desk.told[-1:] == [("pause",)] or desk.view().sort == "closed"


@settings(max_examples=60, deadline=None, derandomize=True)
@given(lines=LINES)
def test_nothing_is_confirmed_that_nobody_typed(lines: list[str]) -> None:
    """An act is confirmed with exactly the numbers typed, never by empty lines or commands."""
    desk = _desk("act", stay=True)
    typed = [line.replace("\n", " ").replace("\r", " ") for line in lines]
    _lines(desk, "\n".join(typed))
    confirmed = [
        part.split("=", 1)[1] for what in desk.told if what[0] == "confirm" for part in what[1:]
    ]

    assert all(number in [" ".join(line.split()) for line in typed] for number in confirmed)
    assert "" not in confirmed


@pytest.mark.parametrize("colour", [True, False])
def test_no_colour_code_leaves_the_program_when_colour_is_off(colour: bool) -> None:
    """With colour off no colour is set (ECMA-48 SGR 30 to 49 and 90 to 107); with it on, some is.

    Source: ECMA-48, 5th edition, 8.3.117 SGR, and the common bright extension (from memory).
    """
    target = io.StringIO()
    output = Vt100_Output(target, lambda: Size(rows=40, columns=80), term="xterm")
    with create_pipe_input() as keys:
        asker = PromptAsker(Look(80, 40, colour=colour), input=keys, output=output)
        asker.show(draw(VIEWS["step"], asker.look()))
    codes = {
        int(code)
        for found in re.findall(r"\x1b\[([0-9;]+)m", target.getvalue())
        for code in found.split(";")
    }
    coloured = {code for code in codes if 30 <= code <= 49 or 90 <= code <= 107} - {39, 49}

    assert bool(coloured) is colour
