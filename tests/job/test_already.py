"""What was done before the job: listed, ticked, answered from memory; it opens no gate."""

from __future__ import annotations

import pytest

from tests.job.helpers import Clock, bench, knowledge
from triage.assess import Bench
from triage.job.already import AREAS, PAGE, area_of, open_steps
from triage.job.events import Event
from triage.job.session import Session
from triage.job.view import View
from triage.plan.advise import Advice, Gatekeeper, Situation, advise, price
from triage.plan.candidates import MEMORY
from triage.plan.lookahead import Priced
from triage.safety.facts import ENERGISED


def asked(amplifier: str = "linden_hall", made: Bench | None = None) -> Session:
    """A session whose complaint has been told, and which asks what was done; a novice's bench."""
    session = Session(
        made or bench(amplifier), lambda event: None, Clock(), asks_what_was_done=True
    )
    session.begin()
    session.complaint("it hums")
    session.complaint_over()
    return session


def number(view: View, ident: str) -> str:
    """Number of a line of a list."""
    idents = [choice.answer for choice in view.questions[0].choices]
    return str(idents.index(ident) + 1)


def pick(session: Session, area: str, step: str) -> View:
    """Tick one area and one step of it, over as many pages as it takes."""
    assert session.already(number(session.view(), area)).ok
    for _ in range(10):
        view = session.view()
        assert view.ident == f"list:{area}"
        listed = [choice.answer for choice in view.questions[0].choices]
        assert len(listed) <= PAGE
        typed = number(view, step) if step in listed else "more"
        assert session.already(typed).ok
        if typed != "more":
            return session.view()
    raise AssertionError(f"{step} is on no page of {area}")


def test_none_leads_straight_to_the_first_step() -> None:
    """Somebody who has done nothing types one word."""
    session = asked()
    view = session.view()
    assert (view.sort, view.ident) == ("already", AREAS)
    assert session.already("none").ok
    assert session.view().sort in ("step", "act")


def test_a_reading_taken_before_counts_at_once_and_opens_no_gate() -> None:
    """B+ read before the job: asked without power, used as evidence; no proof is passed by it."""
    session = asked()
    before = session.moment.assessment.state.posterior.copy()
    view = pick(session, "supply_volts", "read_b_plus")
    assert view.ident == "read_b_plus" + MEMORY
    assert view.power == "unplugged"
    assert not view.cautions
    for _ in range(len(view.questions)):
        shown = session.view()
        if shown.ident != view.ident:
            break
        first = shown.questions[0]
        assert session.answer(0, "low" if first.finding == "b_plus" else "unknown").ok
    answers = session.state.latest()

    assert answers[("b_plus", "amp")].answer == "low"
    assert not session.state.safety.proofs
    assert session.view().sort != "already"
    assert abs(session.moment.assessment.state.posterior - before).max() > 0.001


def test_of_several_places_the_ones_meant_are_asked() -> None:
    """Grid volts of one output tube of two: only that one is asked for."""
    session = asked()
    view = pick(session, "output_volts", "read_output_grid_tubes_in")
    assert view.ident.startswith("places:")
    chosen = view.questions[0].choices[0].answer
    assert session.already("1").ok
    shown = session.view()

    assert shown.sort == "step"
    assert {question.place for question in shown.questions} == {chosen}


def test_what_is_typed_wrongly_is_refused_and_nothing_is_lost() -> None:
    """A number that is not listed, a strange word, nothing at all."""
    session = asked()
    for typed in ("99", "banana", "", "more", "1 none"):  # the areas stand on one page: no more
        before = session.state.ticked
        assert not session.already(typed).ok
        assert session.state.ticked == before


def test_resumed_in_the_middle_of_the_lists_it_stands_where_it_stood() -> None:
    """State is a function of the record: the same list is shown after a restart."""
    kept: list[Event] = []
    session = Session(bench(), kept.append, Clock(), asks_what_was_done=True)
    session.begin()
    session.complaint("it hums")
    session.complaint_over()
    session.already(number(session.view(), "supply_volts"))
    again = Session(bench(), kept.append, Clock(), kept[:])

    assert again.view().ident == session.view().ident == "list:supply_volts"
    assert [Event.from_line(e.to_line()) for e in kept] == kept


def test_the_word_opens_the_lists_again_at_a_step() -> None:
    """Somebody who remembers later types 'already' and is asked once more."""
    session = asked()
    session.already("none")
    assert session.view().sort != "already"
    assert session.already().ok
    assert session.view().ident == AREAS


@pytest.mark.parametrize("amplifier", ["club_combo", "fair_ground", "grandmothers_console"])
def test_every_step_stands_in_one_area_and_none_asks_for_power(amplifier: str) -> None:
    """No step is left out of the lists; from memory none has hands, gates, risk or power."""
    session = asked(amplifier)
    areas = {row["id"] for row in knowledge().plain["already"]}
    for there in open_steps(session.moment).values():
        for candidate in there:
            assert area_of(candidate, session.moment) in areas
    assert session.already(" ".join(str(n + 1) for n in range(len(areas)))).ok
    for _ in range(60):
        view = session.view()
        if view.sort != "already":
            break
        everything = [str(n + 1) for n in range(len(view.questions[0].choices))]
        assert session.already(" ".join([*everything, *(["more"] if view.more else [])])).ok
    for _ in range(40):
        view = session.view()
        if view.sort == "already":
            assert session.already("1").ok
            continue
        if not view.ident.endswith(MEMORY):
            break
        assert view.power not in ENERGISED
        for question in view.questions:
            session.put(question.finding, question.place, "unknown", ident=view.ident)
    assert not session.state.safety.proofs


def test_steps_that_only_others_can_do_are_listed_too() -> None:
    """A novice may have had the tubes tested in a shop."""
    able = {c.procedure.id for c in bench().candidates}
    everybody = {c.procedure.id for c in bench().done_before}

    assert able <= everybody
    assert "test_tube_on_tester" in everybody - able


def test_a_number_read_before_is_held_against_the_circuit_like_one_read_now() -> None:
    """Volts remembered from idle are judged by what a sound one reads at idle, and kept as such."""
    session = asked()
    pick(session, "stage_volts", "read_stage_volts")
    assert session.already("1").ok
    shown = session.view()
    at = next(i for i, q in enumerate(shown.questions) if q.finding == "cathode_volts")
    place = shown.questions[at].place
    expected = session.moment.expected("cathode_volts", place, "idle")
    assert expected is not None
    assert session.answer(at, f"{expected.mid:.3g} V").ok
    given = session.state.latest()[("cathode_volts", place)]

    assert (given.answer, given.power) == ("normal", "idle")
    assert session.view().power == "unplugged"


def answered_from_memory(session: Session, ident: str) -> None:
    """Answer 'unknown' to every question of the step from memory that is shown."""
    for _ in range(20):
        shown = session.view()
        if shown.ident != ident:
            return
        question = shown.questions[0]
        session.put(question.finding, question.place, "unknown", ident=ident)


def test_what_is_not_remembered_may_still_be_measured() -> None:
    """'unknown' from memory closes the question to memory, never the reading itself."""
    priced: list[Priced] = []

    def watched(situation: Situation, gatekeeper: Gatekeeper) -> Advice:
        priced[:] = price(situation, gatekeeper)
        return advise(situation, gatekeeper)

    session = asked(made=bench("linden_hall", "technician").advised_by(watched))
    view = pick(session, "supply_volts", "read_b_plus")
    answered_from_memory(session, view.ident)
    assert session.moment.assessment.advice is not None
    index = session.bench.grounded.index[("b_plus", "amp")]
    still = [item.candidate for item in priced if index in item.findings]

    assert session.state.latest()[("b_plus", "amp")].answer == "unknown"
    assert still and not any(candidate.recalled for candidate in still)


def test_a_step_that_is_skipped_is_not_asked_again() -> None:
    """'skip' leads on, from a question to memory and from any other step."""
    session = asked()
    session.already("none")
    seen: list[tuple[str, str]] = []
    for _ in range(15):
        view = session.view()
        if view.sort != "step":
            assert session.cannot().ok
            continue
        assert (view.ident, view.place) not in seen
        seen.append((view.ident, view.place))
        assert session.cannot().ok
    assert any(ident.endswith(MEMORY) for ident, _ in seen)
    assert any(not ident.endswith(MEMORY) for ident, _ in seen)


@pytest.mark.parametrize("route", ["first_power", "checkup"])
def test_only_a_fault_is_asked_what_was_done_before(route: str) -> None:
    """What was read once says nothing of an amplifier that is looked at afresh."""
    profile = bench().profile.model_copy(update={"route": route})
    afresh = Bench.make(knowledge(), profile)
    session = Session(afresh, lambda event: None, Clock(), asks_what_was_done=False)
    session.begin()
    session.complaint_over()
    try:
        assert session.view().sort != "already"
        assert not session.already().ok
        assert not session.state.recalling
    finally:
        afresh.close()
