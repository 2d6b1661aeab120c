"""What a session takes, asks back, refuses, and records before it shows anything."""

from __future__ import annotations

import pytest

from tests.job.helpers import Aimed, bench, good_fields, start
from triage.errors import SafetyRefusal
from triage.job.events import Event
from triage.job.session import Session


def _kinds(kept: list[Event]) -> list[str]:
    return [event.kind for event in kept]


@pytest.mark.parametrize(
    "text, hazard",
    [
        ("there is smoke from the back", "smoke"),
        ("I got a shock from it", "shock"),
        ("the metal gives me a tingle", "tingle"),
        ("one tube glows red", "red_plate"),
    ],
)
@pytest.mark.parametrize("way", ["complaint", "note"])
def test_words_of_danger_lock_the_session(way: str, text: str, hazard: str) -> None:
    """Said in a complaint or a note, they leave nothing to be seen but what to do now."""
    session, _, _ = start()
    getattr(session, way)(text)

    assert session.state.safety.hazards == {hazard}
    assert (session.view().sort, session.view().ident) == ("hazard", hazard)
    assert not session.cannot().ok


@pytest.mark.parametrize("way", ["complaint", "note"])
@pytest.mark.parametrize("text", ["no smoke", "there was never any smoke", "it hums, no smoke"])
def test_danger_that_is_denied_locks_nothing(way: str, text: str) -> None:
    """'no smoke' is no hazard and nothing is asked back."""
    session, _, _ = start()
    reply = getattr(session, way)(text)

    assert not session.state.safety.hazards
    assert reply.ask is None


@pytest.mark.parametrize("way", ["complaint", "note"])
def test_danger_with_a_question_mark_is_asked_back(way: str) -> None:
    """'smoke?' is asked, and nothing is locked before it is answered."""
    session, _, _ = start()
    reply = getattr(session, way)("smoke?")

    assert reply.ask is not None and "smoke" in reply.ask
    assert not session.state.safety.hazards


def test_a_hazard_is_over_only_when_it_is_confirmed() -> None:
    """Back, a note and complaint_over leave it open; confirm closes it."""
    session, _, _ = start()
    session.complaint("it hums")
    session.hazard("smoke")
    session.back()
    session.note("it is fine")
    session.complaint_over()
    assert session.view().sort == "hazard"
    session.confirm({})
    assert session.view().sort != "hazard"


def test_an_unknown_hazard_is_refused_with_the_names_there_are() -> None:
    """'danger dragon' records nothing and lists the hazards."""
    session, kept, _ = start()
    reply = session.hazard("dragon")

    assert not reply.ok and "smoke" in reply.message
    assert _kinds(kept) == ["job_started"]


def _at_line_volts() -> tuple[Aimed, list[Event]]:
    session, kept, _ = start(skill="technician")
    session.aim_at("measure_line")
    assert session.reach().questions[0].finding == "line_volts"
    return session, kept


def test_a_reading_above_all_that_is_in_it_is_asked_back_and_taken_with_keep() -> None:
    """4.2 kV at a wall outlet: a question first, nothing recorded; 'keep' takes it as typed."""
    session, kept = _at_line_volts()
    before = len(kept)
    reply = session.answer(0, "4200 V")
    assert reply.ask is not None and "millivolts" in reply.ask
    assert len(kept) == before
    assert session.answer(0, "keep").ask is None
    last = [event for event in kept if event.kind == "answer_given"][-1]
    assert last.data["typed"] == "4200 V"
    assert last.data["kept"] is True


def test_a_slip_that_is_typed_anew_is_forgotten() -> None:
    """After a corrected reading, 'keep' no longer means the old one."""
    session, kept = _at_line_volts()
    assert session.answer(0, "4200 V").ask is not None
    session.answer(0, "118 V")
    typed = [event.data.get("typed") for event in kept if event.kind == "answer_given"]
    assert "4200 V" not in typed
    assert not session.answer(0, "keep").ok
    typed = [event.data.get("typed") for event in kept if event.kind == "answer_given"]
    assert "4200 V" not in typed


def test_a_positive_bias_of_a_fixed_bias_stage_is_asked_back_before_it_is_recorded() -> None:
    """38 V at an output grid of a fixed-bias amplifier: was it -38 V? Nothing is recorded yet."""
    session, kept, _ = start(skill="technician")
    session.aim_at("read_bias_at_pin", "V3")
    assert session.reach().questions[0].finding == "bias_at_pin"
    before = len(kept)
    reply = session.answer(0, "38 V")

    assert reply.ask is not None and "-38" in reply.ask
    assert len(kept) == before


def test_a_reading_in_the_wrong_unit_or_no_number_is_refused_with_an_example() -> None:
    """'47 ohm' where volts are asked, and 'abc', name what was typed and record nothing."""
    session, kept = _at_line_volts()
    before = len(kept)
    for typed in ("47 ohm", "abc", ""):
        reply = session.answer(0, typed)
        assert not reply.ok and reply.ask is None
        assert f"'{typed}'" in reply.message
    assert len(kept) == before


def test_a_reading_with_nothing_to_compare_it_with_is_noted_and_asked_in_words() -> None:
    """B+ of an amplifier whose norm is not known is kept as a note, never as an answer."""
    session, kept, _ = start("school_hall", "technician")
    session.aim_at("read_b_plus")
    assert session.reach().questions[0].finding == "b_plus"
    reply = session.answer(0, "300 V")

    assert not reply.ok and "Say in words" in reply.message
    assert kept[-1].kind == "note_made" and "300 V" in kept[-1].data["text"]
    assert not session.state.answers
    assert session.answer(0, "low").ok
    assert session.state.answers[-1].answer == "low"


def test_a_step_that_is_shown_is_recorded_once_with_the_knowledge_it_came_from() -> None:
    """Looking twice writes one line; the line names step, place and knowledge."""
    session, kept, _ = start()
    session.complaint("it hums")
    session.complaint_over()
    shown = session.view()
    session.view()

    lines = [event for event in kept if event.kind == "step_shown"]
    assert len(lines) == 1
    assert lines[0].data["step"] == shown.ident
    assert lines[0].data["knowledge"] == bench().knowledge.content_hash


def test_nothing_is_known_that_could_not_be_kept() -> None:
    """Where the record cannot be written, the state stays what the record says."""

    def full(event: Event) -> None:
        raise OSError("no space left")

    session = Session(bench(), full, lambda: 1.0)
    with pytest.raises(OSError, match="no space"):
        session.begin()
    assert session.state.count == 0


def test_taking_back_with_no_answer_given_says_so() -> None:
    """Back at the start records nothing."""
    session, kept, _ = start()

    assert not session.back().ok
    assert _kinds(kept) == ["job_started"]


def test_a_correction_by_number_keeps_what_was_answered_later() -> None:
    """Two answers, the first changed: the second stays, and history shows both."""
    session, _, _ = start()
    session.tell("hum", "amp", "steady")
    session.tell("crackle", "amp", "yes")
    first = session.history()[0][0]
    wanted = bench().knowledge.findings["hum"].answers[0]

    assert session.correct(first, wanted).ok
    assert [a.answer for a in session.state.answers] == [wanted, "yes"]
    assert not session.correct(99, "yes").ok
    assert not session.correct(first, "purple").ok
    assert [a.answer for a in session.state.answers] == [wanted, "yes"]


def _at_repair() -> tuple[Aimed, list[Event]]:
    session, kept, _ = start(skill="technician")
    for finding, answer in (
        ("grid_shift_tube_in", "far_raised"),
        ("grid_shift_tube_out", "far_raised"),
        ("grid_shift_cap_lifted", "normal"),
    ):
        session.tell(finding, "V3", answer)
    session.tell("cap_leak", "C9", "much")
    session.complaint_over(silence_counts=False)
    shown = session.reach()
    assert (shown.sort, shown.ident, shown.place) == ("repair", "replace_coupling_cap", "C9")
    assert any(line.startswith("Two schools on old paper") for line in shown.lines)
    return session, kept


def test_a_repair_waits_for_its_proof_and_a_passed_proof_closes_the_job() -> None:
    """Repair, then only the proof (and the way to it), then the job is closed as repaired."""
    session, _ = _at_repair()
    session.done()
    pending = session.state.pending
    assert pending is not None and pending.place == "C9"
    assert not session.proof("passed").ok, "power first"
    assert session.reach().sort == "proof"
    assert not session.proof("perhaps").ok
    assert session.proof("passed").ok
    assert session.state.closed == "repaired"
    assert session.reach().sort == "closed"


def test_a_failed_proof_raises_the_other_suspects_and_the_unknown() -> None:
    """The part that was changed falls by half or more; all others and the unknown rise."""
    session, _ = _at_repair()
    found = session.moment.assessment
    row = found.suspects[0].row
    session.done()
    assert session.reach().sort == "proof"
    before = session.moment.assessment
    session.proof("failed")
    after = session.moment.assessment

    assert after.state.posterior[row] < 0.5 * before.state.posterior[row]
    others = [
        s.row
        for s in before.suspects
        if s.p > 0 and (s.repair, s.place) != ("replace_coupling_cap", "C9")
    ]
    assert len(others) > 100
    assert all(after.state.posterior[r] > before.state.posterior[r] for r in others)
    assert after.unknown > before.unknown > found.unknown
    shown = session.view()
    assert (shown.ident, shown.place) != ("replace_coupling_cap", "C9")


def test_after_a_failed_proof_what_is_still_noticed_is_asked_and_only_what_may_have_changed() -> (
    None
):
    """The repaired capacitor's own abnormal findings are asked again; others stay known."""
    session, _ = _at_repair()
    session.tell("getter", "V1a", "brown_edge")
    session.tell("fuse_look", "F1", "whole")
    session.done()
    session.reach()
    session.proof("failed")

    shown = session.view()
    assert (shown.sort, shown.ident, shown.title) == (
        "complaint",
        "still",
        "What do you still notice?",
    )
    by_key = {seen.key: seen for seen in session.moment.observations}
    assert by_key[("grid_shift_tube_in", "V3")].stale
    assert by_key[("cap_leak", "C9")].stale
    assert not by_key[("getter", "V1a")].stale
    assert not by_key[("fuse_look", "F1")].stale
    assert by_key[("grid_shift_cap_lifted", "V3")].stale, "normal because the cause made it so"
    session.complaint("it hums")
    session.complaint_over()
    assert session.view().sort != "complaint"


def test_a_repair_that_is_not_shown_cannot_be_called_done() -> None:
    """done() at a question raises a refusal and records nothing."""
    session, kept, _ = start()
    session.complaint_over()
    session.view()
    before = len(kept)
    with pytest.raises(SafetyRefusal, match="no repair"):
        session.done()
    assert len(kept) == before


def test_a_gate_with_bad_fields_is_refused_with_what_is_wanted_and_stays_shut() -> None:
    """A meter that reads 4 V on a 9 V battery proves nothing; the refusal is on the record."""
    session, kept, _ = start(skill="technician")
    session.aim_at("measure_stage_resistor")
    while session.view().ident != "G2":
        session.confirm(good_fields(session.view()))
    reply = session.confirm({"known": "9 V", "before": "9 V", "after": "4 V"})

    assert not reply.ok and "Wanted" in reply.message
    assert kept[-1].kind == "refused"
    assert session.view().ident == "G2"
    assert not session.confirm({"known": "yes"}).ok
    assert session.view().ident == "G2"
