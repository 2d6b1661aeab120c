"""A session from a file of answers: nothing invented, nothing implausible kept in silence."""

from __future__ import annotations

import io
from dataclasses import replace

from tests.screens.fakes import VIEWS, FakeDesk, FakeReply
from triage.errors import SafetyRefusal
from triage.terminal.asker import LineAsker
from triage.terminal.scripted import Outcome, Said, play
from triage.terminal.style import Look

STEP = replace(VIEWS["step"], questions=VIEWS["step"].questions[:1])


def _play(desk: FakeDesk, *answers: Said, limit: int = 20) -> tuple[Outcome, str]:
    target = io.StringIO()
    outcome = play(desk, answers, LineAsker(io.StringIO(), target, Look()), limit=limit)
    return outcome, target.getvalue()


def test_complaint_repair_and_proof_run_to_the_end() -> None:
    """The file's lines are given where the session asks for them, in the session's order."""
    desk = FakeDesk([VIEWS[s] for s in ("complaint", "repair", "proof", "closed")])
    outcome, log = _play(
        desk, Said("proof", "passed"), Said("complaint", "it hums"), Said("repair", "done")
    )

    assert desk.told == [
        ("complaint", "it hums"),
        ("complaint_over",),
        ("done",),
        ("proof", "passed"),
    ]
    assert (outcome.ended, outcome.unused) == ("closed", ())
    assert "> proof: passed" in log


def test_a_finding_at_a_place_wins_over_one_without() -> None:
    """'grid_dc@V3' is for V3 only."""
    desk = FakeDesk([STEP, VIEWS["closed"]])
    _play(desk, Said("grid_dc", "0"), Said("grid_dc", "-38", place="V3"))

    assert desk.told == [("answer", "0", "-38")]


def test_what_the_file_does_not_answer_is_unknown() -> None:
    """No answer is made up; an answer for another place does not count."""
    desk = FakeDesk([STEP, VIEWS["closed"]])
    outcome, log = _play(desk, Said("grid_dc", "-38", place="V4", line=7))

    assert desk.told == [("answer", "0", "unknown")]
    assert outcome.unused == (7,)
    assert "1 lines of the file were never asked for (line 7)." in log


def test_an_act_the_file_does_not_speak_of_is_not_confirmed() -> None:
    """Discharging is done by hands, not by silence."""
    desk = FakeDesk([VIEWS["act"], VIEWS["closed"]])
    _play(desk)

    assert desk.told == [("cannot",)]


def test_a_proof_of_dead_that_ran_out_meanwhile_is_taken_anew() -> None:
    """Cold lapses while a gate is being answered: the discharge that is now due comes next."""

    class Lapsing(FakeDesk):
        def confirm(self, fields: dict[str, str]) -> FakeReply:
            super().confirm(fields)
            return FakeReply(ok=len(self.told) > 1, message="a number is wanted for each")

    gate = replace(VIEWS["act"], ident="G6", title="The capacitor to the chassis")
    desk = Lapsing([gate, VIEWS["act"], VIEWS["closed"]])
    _play(desk, Said("G6", "done"), Said("discharge", "3 V"))

    assert [told[0] for told in desk.told] == ["confirm", "confirm"]


def test_an_act_gets_its_readings_by_name() -> None:
    """Each field has a line of its own."""
    desk = FakeDesk([VIEWS["act"], VIEWS["closed"]])
    _play(desk, Said("discharge.b_plus", "3 V"), Said("discharge.bias_supply", "1 V"))

    assert desk.told == [("confirm", "b_plus=3 V", "bias_supply=1 V")]


def test_an_implausible_value_is_not_kept_unless_the_file_says_so() -> None:
    """Asked back, the file must say 'keep' for the same key; else the answer is unknown."""
    asks = FakeReply(True, "", "47 V: did you mean 47 mV?")
    silent = FakeDesk([STEP, VIEWS["closed"]], replies=[asks])
    _play(silent, Said("grid_dc", "47"))
    said = FakeDesk([STEP, VIEWS["closed"]], replies=[asks])
    _play(said, Said("grid_dc", "47"), Said("grid_dc", "keep"))

    assert silent.told[-1] == ("answer", "0", "unknown")
    assert said.told[-1] == ("answer", "0", "keep")


def test_a_refusal_is_printed_and_the_act_is_left() -> None:
    """Driving a file straight at a closed gate gets the reasons, and no step."""

    class Refusing(FakeDesk):
        def confirm(self, fields: dict[str, str]) -> FakeReply:
            raise SafetyRefusal(["the limiter is not proven"])

    desk = Refusing([VIEWS["act"], VIEWS["closed"]])
    _, log = _play(desk, Said("discharge", "done"))

    assert "Refused: the limiter is not proven" in log
    assert desk.told == [("cannot",)]


def test_a_hazard_ends_the_file() -> None:
    """Nothing is answered any more once there is danger."""
    desk = FakeDesk([VIEWS["hazard"]])
    outcome, log = _play(desk, Said("repair", "done"))

    assert (outcome.ended, desk.told) == ("hazard", [])
    assert "Switch off now." in log


def test_a_hazard_that_the_file_deals_with_goes_on() -> None:
    """Only a line for this hazard says that it is over."""
    desk = FakeDesk([VIEWS["hazard"], VIEWS["closed"]])
    outcome, _ = _play(desk, Said("red_plate", "done"))

    assert (outcome.ended, desk.told) == ("closed", [("confirm",)])


def test_a_file_that_leads_nowhere_ends() -> None:
    """A view that does not change is given up, with a line that says so."""
    desk = FakeDesk([VIEWS["repair"]], stay=True)
    outcome, log = _play(desk)

    assert outcome.turns == 1
    assert "nothing that leads on" in log
