"""One check per row of the bench review (section 1a) that safety code decides."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.safety.shadow import Shadow, proof_act
from tests.safety.test_search import DEAD, LAY, STEPS, TECH, act, after
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.gates import forbidden, passed, required, try_proof
from triage.safety.path import safe_next
from triage.safety.states import BANNERS, Act, SafetyState, apply, energised, power_state

STEP = {step.ident: step for step in STEPS}


def did(*names: str) -> SafetyState:
    state, shadow = SafetyState(), Shadow()
    for name in names:
        state, shadow = after(state, shadow, name)
    return state


def wants(
    gate: str,
    facts: AmpFacts,
    says: dict[str, str],
    reads: dict[str, float],
    state: SafetyState | None = None,
) -> bool:
    given = Act("gate_passed", 0.0, tuple(says.items()), tuple(reads.items()))
    return try_proof(gate, given, facts, state or SafetyState()) is not None


def test_e1_an_outside_source_or_a_plug_energises() -> None:
    """E1: any source counts, not the amplifier's switch."""
    assert energised(did("outside")) and energised(did("plug_in"))
    assert power_state(did("meter", "dead", "outside"), LAY.nodes) == "external"


def test_e2_after_power_off_it_is_unplugged_and_charged() -> None:
    """E2: pulling the plug never makes it cold."""
    assert power_state(did("plug_in", "unplug"), LAY.nodes) == "unplugged"


def test_e3_an_open_path_from_line_to_neutral_proves_no_isolation() -> None:
    """E3: everything open (a blown fuse) is no proof."""
    open_ = {"line_to_chassis": 2e7, "neutral_to_chassis": 2e7}
    assert wants("G3", LAY, {}, open_ | {"line_to_neutral": 1e9})
    assert not wants("G3", LAY, {}, open_ | {"line_to_neutral": 8.0})


def test_e7_two_wires_without_the_double_square_are_not_class_two() -> None:
    """E7: two-wire metal needs isolation and limiter; an unproven outlet is no earth."""
    assert wants("G5", LAY, {"class": "two_wire"}, {"insulation_ohm": 1e7})
    assert wants("G5", LAY, {"class": "earthed", "outlet": "unproven"}, {"earth_ohm": 0.1})
    assert wants("G5", LAY, {"class": "double_square"}, {"insulation_ohm": 1e6})


def test_e8_an_isolation_transformer_is_proven_by_ohms_and_for_a_technician() -> None:
    """E8: a bonded secondary is refused, and so is a lay person's word."""
    good = {"in_to_out": 5e7, "out_to_earth": 5e7}
    by = {"by": "isolation_transformer"}
    unknown = replace(TECH, isolation="unknown")
    assert wants("G3", unknown, by, good | {"out_to_earth": 0.2})
    assert not wants("G3", unknown, by, good)
    assert wants("G3", replace(LAY, isolation="unknown"), by, good)


def test_e9_hazards_have_words_of_their_own() -> None:
    """E9: a tingle says not to touch; its proofs of earth and insulation lapse."""
    texts = load(knowledge_dir()).hazards
    assert "DO NOT TOUCH" in texts["tingle"].at_once[0]
    assert len({tuple(text.at_once) for text in texts.values()}) == len(texts)
    state = did("meter", "paper proofs", "hazard", "hazard over")
    assert not any(passed(g, state, LAY) for g in ("G3", "G4", "G5", "G6"))


def test_e10_clear_to_power_is_said_each_time() -> None:
    """E10, G16: it lapses with the plug, and is refused with the clip on."""
    assert passed("G16", did("look"), LAY)
    assert not passed("G16", did("look", "plug_in", "unplug"), LAY)
    assert wants("G16", LAY, dict(proof_act("G16").says), {}, did("clip_on"))


def test_e11_each_capacitor_wants_its_number_from_a_proven_meter() -> None:
    """E11: one of two nodes, or an unproven meter, is not dead."""
    assert power_state(did("meter", "dead"), ("reservoir", "bias")) == "unplugged"
    assert power_state(did("dead"), LAY.nodes) == "unplugged"
    assert power_state(did("meter", "dead"), LAY.nodes) == "cold"


@pytest.mark.parametrize(
    ("names", "word"),
    [
        (("40 min",), "unplugged"),
        (("clip_on", "40 min"), "cold"),
        (("40 min", "clip_on"), "unplugged"),
        (("40 min", "clip_off"), "unplugged"),
        (("clip_on", "13 h"), "unplugged"),
        (("10 min", "clip_off", "10 min", "clip_off", "10 min", "10 min"), "unplugged"),
    ],
)
def test_e12_cold_lapses_and_no_clip_revives_it(names: tuple[str, ...], word: str) -> None:
    """E12: 30 minutes without the clip, 12 hours with it; clips revive nothing."""
    assert power_state(did("meter", "dead", *names), LAY.nodes) == word


def test_e15_e16_tubes_are_moved_with_the_plug_out() -> None:
    """E15, E16: with power on or in standby, switching off comes first."""
    for on in ("switch_on", "to_standby"):
        ask = safe_next(STEP["bare"], did("plug_in", on), LAY)
        assert ask is not None and ask.kind == "switch_off"


def test_e20_an_output_grid_wants_a_high_impedance_meter() -> None:
    """E20: with the tubes in."""
    assert forbidden(STEP["grid"], did("look"), LAY)
    assert not forbidden(STEP["grid"], did("tubes out"), LAY)


def test_e21_output_plates_with_signal_want_a_2_kv_probe() -> None:
    """E21: under drive, also where the step itself is called idle."""
    state = did("plug_in", "switch_on", "signal_on")
    assert forbidden(STEP["plate"], SafetyState(), LAY)
    assert forbidden(replace(STEP["plate"], power="idle"), state, LAY)


def test_e22_e23_a_socket_is_proven_for_a_tube_with_tubes_out_and_within_its_sheet() -> None:
    """E22, E23: with the tubes in, or above the sheet's limit, G10 is refused."""
    good = proof_act("G10")
    bare = did("tubes out", "limiter_fitted", "plug_in", "switch_on")
    assert try_proof("G10", good, LAY, bare) is None
    assert wants("G10", LAY, dict(good.says), dict(good.reads))
    assert wants("G10", LAY, dict(good.says), dict(good.reads) | {"return_ohm": 4.7e5}, bare)


def test_e24_a_low_b_plus_reading_passes_only_with_a_proven_bleeder() -> None:
    """E24: 11 k passes for a drawn 11.3 k bleeder, else not; never while charged."""
    dead = did("meter", "dead")
    lifted = {"bleeder": "lifted_and_proven"}
    assert not wants("G7", LAY, lifted, {"ohms": 1.1e4, "drawn_bleeder": 1.13e4}, dead)
    assert wants("G7", LAY, {}, {"ohms": 1.1e4}, dead)
    assert wants("G7", LAY, {}, {"ohms": 1.2e5})


def test_e25_a_held_probe_wants_a_second_person_and_500_v_is_handed_over() -> None:
    """E25: clipped leads want none."""
    assert forbidden(STEP["probe"], SafetyState(), LAY)
    assert not forbidden(STEP["b_plus"], SafetyState(), LAY)
    assert forbidden(STEP["b_plus"], SafetyState(), replace(LAY, max_v=540.0))


def test_e27_the_limiter_is_no_safe_state_on_its_banner() -> None:
    """E27: it says that B+ may be full."""
    assert "FULL VOLTAGE" in BANNERS["limited_bare"][0]


def test_e28_full_line_wants_a_clean_limiter_run_since_the_last_repair() -> None:
    """E28: G9 is wanted at idle, proven on the limiter only, and gone after a repair."""
    assert "G9" in required(STEP["listen"], LAY, SafetyState())
    run = ("limiter_fitted", "plug_in", "switch_on", "limiter run")
    assert passed("G9", did(*run), LAY)
    assert not passed("G9", did("plug_in", "switch_on", "limiter run"), LAY)
    assert not passed("G9", did(*run, "repaired"), LAY)


def test_e33_a_larger_fuse_never_passes() -> None:
    """E33: only the fuse as marked."""
    assert wants("G4", LAY, {"cord": "sound", "fuse": "other"}, {})


def test_a_step_cannot_excuse_itself_from_a_gate_while_powered() -> None:
    """An entry that claims to prove isolation is not shown powered without it."""
    sly = StepFacts("sly", "idle", True, proves=("G3", "G2"))
    assert {"G3", "G2"} <= set(required(sly, LAY, SafetyState()))


def test_a_low_source_does_not_hide_a_hazardous_one() -> None:
    """E1: saying 'low' with the outside supply still on changes nothing."""
    assert energised(did("outside", "outside low"))


def test_a_clock_without_a_time_is_doubt() -> None:
    """A time that is no number makes everything doubtful."""
    odd = apply(did("meter", "dead"), Act("discharged", float("nan"), reads=DEAD))
    assert power_state(odd, LAY.nodes) != "cold" and act("time").kind == "time"
