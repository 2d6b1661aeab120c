"""Procedures and repairs hang together with findings, causes, gates and each other."""

from __future__ import annotations

import pytest
import yaml

from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.safety.facts import ENERGISED, AmpFacts, StepFacts
from triage.safety.gates import CHECKS, forbidden, required
from triage.safety.states import SafetyState

FITTING = ("Fit the good tube", "swap the two")


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return load(knowledge_dir())


def test_every_finding_is_yielded_at_every_kind_where_it_stands(kb: Knowledge) -> None:
    """No finding is left without a way of coming to know it."""
    known = {
        (given.finding, kind)
        for procedure in kb.procedures.values()
        for given in procedure.yields
        for kind in procedure.at
    }
    wanted = {(f.id, kind) for f in kb.findings.values() if not f.derived for kind in f.at}
    assert wanted - known == set()


def test_procedures_yield_only_findings_of_their_own_kinds(kb: Knowledge) -> None:
    """A procedure does not claim a finding at a kind where that finding does not exist."""
    strays = [
        (procedure.id, given.finding, kind)
        for procedure in kb.procedures.values()
        for given in procedure.yields
        for kind in procedure.at
        if kind not in kb.findings[given.finding].at
    ]
    assert strays == []


def test_every_cause_names_a_repair_and_every_repair_is_named(kb: Knowledge) -> None:
    """Causes and repairs match in both directions."""
    assert {cause.repair for cause in kb.causes.values()} == set(kb.repairs)


def test_what_comes_before_a_new_part_exists(kb: Knowledge) -> None:
    """Each repair's checks before a new part are procedures."""
    named = {name for repair in kb.repairs.values() for name in repair.before_new_part}
    assert named <= set(kb.procedures)


def test_every_gate_has_a_procedure_that_proves_it(kb: Knowledge) -> None:
    """Each gate that safety can check, and G1, is proven by some procedure."""
    proven = {gate for procedure in kb.procedures.values() for gate in procedure.proves}
    assert set(CHECKS) | {"G1"} <= proven


def test_fitting_an_output_tube_always_wants_its_socket_proven(kb: Knowledge) -> None:
    """Procedures and repairs that put an output tube in are stopped by G10."""
    fitting = [
        p
        for p in kb.procedures.values()
        if "output_tube" in p.at and any(words in s for s in p.steps for words in FITTING)
    ]
    assert {p.id for p in fitting} >= {"swap_output_tubes", "try_output_tube"}
    for entry in [*fitting, kb.repairs["replace_output_tube"], kb.repairs["match_output_tubes"]]:
        step = StepFacts.of(entry)
        assert "G10" in required(step, AmpFacts(), SafetyState()), entry.id


def test_no_probe_goes_on_a_plate_of_an_output_tube_under_drive(kb: Knowledge) -> None:
    """Output plates are read at idle only."""
    driven = [p.id for p in kb.procedures.values() if p.power == "driven"]
    assert driven
    assert not [i for i in driven if kb.procedures[i].probes == "output_plate"]


def test_output_grids_with_tubes_in_want_a_meter_of_ten_megohm(kb: Knowledge) -> None:
    """A common multimeter alone never leads to an output grid whose tube is in."""
    facts = AmpFacts(
        isolation="transformer", max_v=400.0, tools=frozenset({"multimeter", "limiter"})
    )
    grids = [
        p
        for p in kb.procedures.values()
        if p.probes == "output_grid" and p.power in ("idle", "driven")
    ]
    assert len(grids) >= 3
    for procedure in grids:
        assert "high_impedance_meter" in procedure.tools.need, procedure.id
        assert forbidden(StepFacts.of(procedure), SafetyState(), facts), procedure.id


def test_probes_inside_a_powered_amplifier_are_clipped_on_while_dead(kb: Knowledge) -> None:
    """Only the stick test puts a hand inside a live chassis."""
    live = {p.id for p in kb.procedures.values() if p.hands.live}
    assert live == {"stick_test"}
    for procedure in kb.procedures.values():
        if procedure.power in ENERGISED and procedure.probes != "none":
            assert procedure.hands.clip_cold > 0, procedure.id
            assert procedure.opens, procedure.id
            assert "high" in procedure.risk, procedure.id


def test_readings_with_tubes_out_say_which_tubes_are_out(kb: Knowledge) -> None:
    """Every step on the limiter with tubes out says what it leaves."""
    for procedure in kb.procedures.values():
        if procedure.power == "limited_bare":
            assert procedure.leaves.get("tubes") in (
                "all_out",
                "output_out",
                "rectifier_only",
            ), procedure.id


def test_tools_come_from_the_closed_list(kb: Knowledge) -> None:
    """No procedure asks for a tool nobody is asked about."""
    questions = yaml.safe_load((knowledge_dir() / "questions.yaml").read_text(encoding="utf-8"))
    offered = {c["is"] for row in questions if row["id"] == "tools" for c in row["choices"]}
    asked = {tool for p in kb.procedures.values() for tool in p.tools.need}
    asked |= {tool for p in kb.procedures.values() for tools in p.tools.or_ for tool in tools}
    assert asked <= offered


def test_steps_are_few_and_short(kb: Knowledge) -> None:
    """At most six steps, each of which fits on two lines of a screen."""
    for procedure in kb.procedures.values():
        assert len(procedure.steps) <= 6, procedure.id
        assert max(map(len, procedure.steps)) <= 160, procedure.id
