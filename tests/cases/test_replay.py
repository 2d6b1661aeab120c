"""Worked cases replayed: the true kind leads, nothing unsafe is shown, broken files are told."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path
from typing import Any

import pytest

from triage.assess import Bench
from triage.cli import demo
from triage.errors import KnowledgeError
from triage.job.session import Session
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import cases_dir, knowledge_dir
from triage.quality.replay import find_cases, load_case, profile_of, replay, violation
from triage.store.answers import read
from triage.terminal.asker import LineAsker
from triage.terminal.scripted import play
from triage.terminal.style import detect
from triage.world.case import CaseWorld, places_of

OWN = cases_dir() / "own"
PUBLIC = cases_dir() / "public"
Rows = list[dict[str, Any]]

GOOD_CASE = """\
case: a
origin: {of: own}
scenario: linden_hall
complaint: "It hums."
told:
  - {finding: hum, of: amp, answer: "yes"}
truth: {kind: reservoir, of: C1}
"""


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return load(knowledge_dir())


@pytest.fixture(scope="module")
def own(kb: Knowledge) -> Rows:
    return replay(kb, [OWN], ("given", "asked"))


@pytest.fixture(scope="module")
def public(kb: Knowledge) -> Rows:
    return replay(kb, [PUBLIC], ("given",))


def late(rows: Rows, rank: str, most: int) -> dict[str, Any]:
    """Cases whose rank is worse than ``most``, or that have none."""
    return {f"{r['case']} {r['way']}": r[rank] for r in rows if (r[rank] or 999) > most}


def test_ten_own_cases_are_replayed_both_ways(own: Rows) -> None:
    """Each of the own cases gives one row for each way."""
    assert len(own) == 2 * len(find_cases([OWN])) >= 16


def test_true_kind_of_own_cases_is_first_or_second_both_ways(own: Rows) -> None:
    """The kind of the faulty part is first or second, given all facts or asked for them."""
    assert late(own, "kind_rank", 2) == {}


def test_true_place_of_own_cases_is_first_or_second_given_all_facts(own: Rows) -> None:
    """The faulty part itself is first or second where all facts are given."""
    assert late([r for r in own if r["way"] == "given"], "place_rank", 2) == {}


TEN = {f"case-{n}" for n in ("001", "008", "050", "104", "105", "109", "113", "115", "121", "122")}


def test_true_kind_of_the_first_ten_public_cases_is_in_the_first_three(public: Rows) -> None:
    """The ten that were converted first: all but one at least."""
    ten = [row for row in public if row["case"] in TEN]

    assert len(ten) == 10
    assert len(ten) - len(late(ten, "kind_rank", 3)) >= 9


def test_true_kind_of_all_public_cases_is_in_the_first_three_for_more_than_half(
    public: Rows,
) -> None:
    """All that were converted blind: a guard against falling back, not the aim."""
    assert len(public) >= 30
    assert len(public) - len(late(public, "kind_rank", 3)) >= 0.5 * len(public)


def test_no_step_was_shown_against_a_gate_in_own_cases(own: Rows) -> None:
    """No own case, asked step by step, is shown a step that its state forbids."""
    assert {r["case"]: r["gate_violations"] for r in own if r["gate_violations"]} == {}
    assert all(r["questions"] > 0 for r in own if r["way"] == "asked")


@pytest.mark.slow
def test_no_step_was_shown_against_a_gate_in_public_cases(kb: Knowledge) -> None:
    """No public case, asked step by step, is shown a step that its state forbids."""
    rows = replay(kb, [PUBLIC], ("asked",))
    assert {r["case"]: r["gate_violations"] for r in rows if r["gate_violations"]} == {}


def test_a_powered_step_without_proofs_counts_as_a_violation(kb: Knowledge) -> None:
    """The rule that counts violations sees a powered step for which nothing was proven."""
    case = load_case(OWN / "console-dry-reservoir.yaml")
    session = Session(Bench.make(kb, profile_of(kb, case)), lambda e: None, lambda: 0.0)
    session.begin()
    view = session.view()
    unsafe = type(view)("step", "B+", ident="read_b_plus", place="amp")
    harmless = type(view)("step", "Look", ident="look_cord", place="W1")
    assert violation(session, unsafe) == 1
    assert violation(session, harmless) == 0


def test_public_cases_are_those_that_were_frozen() -> None:
    """Every public case has the SHA-256 sum (FIPS 180-4) written when it was converted."""
    lines = (PUBLIC / "FROZEN.sha256").read_text(encoding="utf-8").splitlines()
    frozen = {name: sha for sha, name in (line.split() for line in lines if line.strip())}
    now = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in PUBLIC.glob("*.yaml")}
    assert now == frozen


@pytest.mark.parametrize("path", find_cases([OWN]), ids=lambda p: p.stem)
def test_every_fact_of_an_own_case_stands_at_a_place_where_it_is_asked(
    path: Path, kb: Knowledge
) -> None:
    """Each fact names a finding that exists at its place, an answer of it, and no place twice."""
    case = load_case(path)
    bench = Bench.make(kb, profile_of(kb, case))
    facts = [*case.told, *case.known]
    keys = [(f.finding, place) for f in facts for place in places_of(bench.grounded, f.of)]
    assert len(keys) == len(set(keys)) == len(facts)
    wrong = [k for k in keys if k not in bench.grounded.index]
    wrong += [
        (f.finding, f.answer or "") for f in facts if f.answer not in kb.findings[f.finding].answers
    ]
    assert wrong == []
    truth = CaseWorld(bench.grounded, case).truth
    assert truth is not None and truth in bench.grounded.hypotheses


@pytest.mark.parametrize("path", find_cases([OWN]), ids=lambda p: p.stem)
def test_a_typed_reading_of_an_own_case_is_judged_as_its_answer(path: Path, kb: Knowledge) -> None:
    """What a case gives as typed reads, by the measurement core, as the answer beside it."""
    case = load_case(path)
    bench = Bench.make(kb, profile_of(kb, case))
    session = Session(bench, lambda e: None, lambda: 0.0)
    session.begin()
    other = {}
    readings = [f for f in (*case.told, *case.known) if f.reading]
    for fact in readings:
        assert isinstance(fact.of, str) and fact.reading is not None
        said = session.moment.judge(fact.finding, fact.of, fact.reading, keep=True)
        if not said.informative or said.answer != fact.answer:
            other[(fact.finding, fact.of)] = (fact.reading, said.answer)
    assert other == {} and len(readings) > 20


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD_CASE.replace("complaint: ", "complaint: ]"), "YAML"),
        (GOOD_CASE + "colour: red\n", "colour"),
        (GOOD_CASE.replace("complaint:", "complaints:"), "complaint"),
        (GOOD_CASE.replace("linden_hall", "linden_hill"), "linden_hill"),
    ],
    ids=["bad_yaml", "unknown_key", "missing_key", "unknown_scenario"],
)
def test_a_broken_case_is_told_with_its_file_and_what_is_wrong(
    text: str, said: str, kb: Knowledge, tmp_path: Path
) -> None:
    """A case that cannot be used is refused with its name and the thing to mend."""
    path = tmp_path / "a.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(KnowledgeError) as caught:
        replay(kb, [path], ("given",))
    message = str(caught.value)
    assert said in message
    assert "a.yaml" in message or "case a" in message
    assert caught.value.problems[0].line >= 1


def test_an_unknown_scenario_is_mended_by_naming_a_known_one(kb: Knowledge, tmp_path: Path) -> None:
    """The message about an unknown scenario lists those that there are."""
    path = tmp_path / "a.yaml"
    path.write_text(GOOD_CASE.replace("linden_hall", "linden_hill"), encoding="utf-8")
    with pytest.raises(KnowledgeError) as caught:
        replay(kb, [path], ("given",))
    assert "linden_hall" in caught.value.problems[0].mend


def test_a_whole_case_file_can_be_read(tmp_path: Path) -> None:
    """The case that the broken ones are made from is itself without fault."""
    path = tmp_path / "a.yaml"
    path.write_text(GOOD_CASE, encoding="utf-8")
    assert load_case(path).truth.of == "C1"


def test_the_demo_leads_from_the_complaint_to_a_proven_repair(kb: Knowledge) -> None:
    """The packaged answers lead to the open plate load, its repair, and a passed proof."""
    profile = demo.at_a_bench(kb.profiles[demo.AMPLIFIER])
    clock = iter(range(0, 10_000_000, 30))
    session = Session(Bench.make(kb, profile), lambda e: None, lambda: float(next(clock)))
    session.begin()
    out = io.StringIO()
    outcome = play(
        session, read(cases_dir() / demo.ANSWERS), LineAsker(io.StringIO(), out, detect())
    )
    assert (outcome.ended, outcome.proven, session.state.closed) == ("closed", True, "repaired")
    assert [(m.repair, m.place, m.proof) for m in session.state.mended] == [
        ("replace_resistor", "R11", "passed")
    ]
    shown = out.getvalue()
    assert shown.index("discharge resistor") < shown.index("Replace the resistor")
    assert shown.index("A clean run on the limiter") < shown.index("Prove the repair under")
