"""What the words mean, said as properties (semantics 1.2)."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest

from tests.infer.helpers import likelihood, row_of, seen
from tests.toy import CAUSES, knowledge, profile, toy
from triage.infer.gather import Observation, gather
from triage.infer.ground import compose, ground
from triage.infer.pairs import pair_log
from triage.infer.posterior import Evidence, Item, Model, RepairProof
from triage.model.entries import MAKES

GROUNDED = toy()
MODEL = Model(GROUNDED)


@pytest.mark.parametrize("word", sorted(MAKES))
@pytest.mark.parametrize("usual", [0.01, 0.3, 0.45, 0.8, 0.97])
def test_a_word_never_speaks_against_its_own_answer(word: str, usual: float) -> None:
    """'Sometimes hums' raises the cause even where most amplifiers hum anyway."""
    base = np.array([usual, 1.0 - usual])
    table = compose(base, np.array([MAKES[word], 0.0]), {})
    assert table[0] > usual
    assert table.sum() == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize("word, most", [("rarely", 0.08), ("never", 0.005)])
@pytest.mark.parametrize("usual", [0.001, 0.05, 0.4])
def test_a_suppressing_word_never_speaks_for_its_answer(
    word: str, most: float, usual: float
) -> None:
    """'Never hums' leaves the answer at most as likely as usual, and the row sums to one."""
    base = np.array([usual, (1 - usual) / 2, (1 - usual) / 2])
    table = compose(base, np.zeros(3), {0: most})
    assert table[0] == pytest.approx(min(most, usual))
    assert table.sum() == pytest.approx(1.0, abs=1e-15)


READINGS = [("grid_volts", "positive"), ("drift", "yes"), ("climbs", "yes")]


def ratios(answers: list[tuple[str, str]]) -> list[float]:
    """LR of the leaky capacitor against healthy after each further reading; no rule involved."""
    base = toy(rules=[])
    model, row = Model(base), row_of(base, "cap_leaky", "C7")
    found = []
    for n in range(1, len(answers) + 1):
        chance = likelihood(model, seen(base, {(f, "V3"): a for f, a in answers[:n]}))
        found.append(float(chance[row] / chance[base.healthy]))
    return found


def test_three_equal_readings_count_as_one_thing_looked_at_three_times() -> None:
    """Three readings of one sign: each adds less; far below the product; bounded by the sign.

    The bound is P(sign | cause) / P(sign | healthy) = .8545 / .03, whatever is read.
    """
    counted = ratios(READINGS)
    apart = [ratios([reading])[0] for reading in READINGS]
    bound = (0.85 + 0.15 * 0.03) / 0.03
    gains = [counted[0], counted[1] / counted[0], counted[2] / counted[1]]
    assert gains[0] > gains[1] > gains[2] > 1.0
    assert counted[2] < bound
    assert np.prod(apart) > 10 * counted[2]


def test_the_pattern_of_three_readings_is_that_of_the_design_with_its_own_numbers() -> None:
    """Design's trial (sign .855 against .05, faithful .95/.05, no slips): 8.6, 16, 17.

    Source: semantics 1.2.3, recomputed here through the same two-state sum as the tool's.
    """

    def ratio(n: int) -> float:
        good, bad = 0.95**n, 0.05**n
        return (0.855 * good + 0.145 * bad) / (0.05 * good + 0.95 * bad)

    assert [round(ratio(n), 1) for n in (1, 2, 3)] == pytest.approx([8.6, 16.4, 17.1], abs=0.15)
    base = toy(rules=[])
    f = base.index[("drift", "V3")]
    shown = base.instances[f].table
    p = base.sign_p[base.instances[f].sign]
    ours = [float(p[r] * shown[1, 1] + (1 - p[r]) * shown[1, 0]) for r in (0, base.healthy)]
    assert ours[0] / ours[1] == pytest.approx(ratios([("drift", "yes")])[0], rel=1e-12)


def test_yes_and_no_on_one_sign_nearly_cancel() -> None:
    """A yes and a no from two equal readings of one sign leave the cause within a factor two."""
    both = ratios([("drift", "yes"), ("climbs", "no")])
    assert both[0] > 7.0
    assert 0.5 < both[1] < 2.0


def test_the_weight_of_an_uncertain_reading_has_no_unit() -> None:
    """P(verdict) times any density (per volt or per millivolt) gives the same posterior."""
    f = GROUNDED.index[("grid_volts", "V3")]
    one = MODEL.state(Evidence({f: Item((0.1, 0.3, 0.6))})).posterior
    other = MODEL.state(Evidence({f: Item((0.0001, 0.0003, 0.0006))})).posterior
    np.testing.assert_allclose(one, other, rtol=1e-12)


ORDINARY = {
    ("plate", "V3"): "dull",
    ("plate", "V4"): "dull",
    ("drift", "V3"): "no",
    ("drift", "V4"): "no",
    ("leak", "C7"): "none",
    ("leak", "C8"): "none",
}


def test_normal_answers_do_not_kill_the_unknown_cause() -> None:
    """Six normal answers leave the unknown cause well above what a flat likelihood would."""
    unknown = GROUNDED.unknown
    posterior = MODEL.state(seen(GROUNDED, ORDINARY)).posterior[unknown]
    chance = likelihood(MODEL, seen(GROUNDED, ORDINARY))
    flat = 1.0
    for key in ORDINARY:
        flat /= len(GROUNDED.instances[GROUNDED.index[key]].answers)
    others = float(GROUNDED.prior[:unknown] @ chance[:unknown])
    p_flat = GROUNDED.prior[unknown] * flat
    p_flat /= p_flat + others
    assert posterior > 0.5 * GROUNDED.prior[unknown]
    assert posterior > 10 * p_flat


def test_the_unknown_cause_rises_when_the_true_one_is_not_in_the_base() -> None:
    """The findings of lost bias without its entry: unknown gains over its prior; with, loses.

    Each red plate and the hum have an explanation left, but no common one.
    """
    said = {("plate", "V3"): "red", ("plate", "V4"): "red", ("hum", "amp"): "steady"}
    less = toy(causes=[c for c in CAUSES if c["id"] != "bias_lost"])
    without = Model(less).state(seen(less, said))
    with_it = MODEL.state(seen(GROUNDED, said))
    assert without.posterior[less.unknown] > 2 * less.prior[less.unknown]
    assert with_it.posterior[GROUNDED.unknown] < GROUNDED.prior[GROUNDED.unknown]
    assert without.surprise() > 0.0 > with_it.surprise()


@pytest.mark.parametrize("answer", ["red", "dull"])
def test_surprise_and_the_unknown_row_are_one_number(answer: str) -> None:
    """log10 posterior odds of unknown minus its prior odds is the surprise."""
    state = MODEL.state(
        seen(GROUNDED, {("plate", "V3"): answer, ("fuse", "amp"): "blown", ("leak", "C8"): "some"})
    )
    u = GROUNDED.unknown
    odds = state.posterior[u] / (1 - state.posterior[u])
    before = GROUNDED.prior[u] / (1 - GROUNDED.prior[u])
    assert state.surprise() == pytest.approx(np.log10(odds / before), abs=1e-9)


def test_a_normal_reading_hardly_counts_against_a_fault_that_was_not_there() -> None:
    """Intermittent cause, 'crackle: no' seen while it was absent, unknown, present: falling LR.

    Share .5, so absent .5 of the normal; the row with no fault is the yardstick.
    """
    base = toy(rules=[])
    model = Model(base)
    f = base.index[("sound", "amp")]
    row = row_of(base, "socket_loose", "V3")
    found = []
    for present in (0.0, 0.3, 1.0):
        chance = likelihood(model, Evidence({f: Item((1.0, 0.0, 0.0, 0.0), present)}))
        found.append(float(chance[row] / chance[base.healthy]))
    assert found[0] > found[1] > found[2]
    steady = np.array([0.15 * 0.8, 0.8])
    slipped = 0.05 / 3 + (1 - 0.05 - 0.05 / 3) * steady
    assert found[2] == pytest.approx(slipped[0] / slipped[1], rel=0.02)
    assert found[0] == pytest.approx(0.5 + 0.5 * found[2], rel=0.02)


def test_silence_counts_only_against_what_would_have_been_told() -> None:
    """After the free complaint, unmentioned hum lowers the dry capacitor by 1 - r P(abnormal)."""
    row = row_of(GROUNDED, "cap_dry", "B1")
    said = [Observation("sound", "amp", "weak")]
    quiet = gather(GROUNDED, said, complaint_told=True)
    before = gather(GROUNDED, said, complaint_told=False)
    assert GROUNDED.index[("hum", "amp")] in quiet.evidence.items
    assert GROUNDED.index[("drift", "V3")] not in quiet.evidence.items
    assert MODEL.state(quiet.evidence).posterior[row] < MODEL.state(before.evidence).posterior[row]
    hum = GROUNDED.index[("hum", "amp")]
    only = MODEL.state(Evidence({hum: quiet.evidence.items[hum]}))
    abnormal = 1.0 - GROUNDED.instances[hum].table[0, :]
    expected = 1.0 - 0.9 * abnormal
    chance = np.exp(only.log) / GROUNDED.prior
    ruled = {component.row for component in MODEL.components}
    for r in set(range(len(chance))) - ruled:
        assert chance[r] == pytest.approx(expected[r], rel=1e-12)


def test_a_failed_proof_of_one_repair_lifts_the_pair_that_it_would_not_have_cured() -> None:
    """One part replaced in vain: the single falls 45-fold against a pair with a second fault."""
    a, b = row_of(GROUNDED, "cap_leaky", "C7"), row_of(GROUNDED, "cap_dry", "B1")
    said = seen(GROUNDED, {("leak", "C7"): "some", ("hum", "amp"): "loud"})
    failed = dataclasses.replace(said, proofs=(RepairProof(frozenset({a}), False),))
    before, after = MODEL.state(said), MODEL.state(failed)
    lead_before = pair_log(before, a, b) - before.log[a]
    lead_after = pair_log(after, a, b) - after.log[a]
    assert np.exp(lead_after - lead_before) == pytest.approx(0.9 / 0.02, rel=1e-9)


def test_an_owner_of_skill_reads_by_eye_with_half_the_slips() -> None:
    """A technician's look is worth more than a hobbyist's; a typed number is worth the same."""
    skilled = profile().model_copy(
        update={"owner": profile().owner.model_copy(update={"skill": "technician"})}
    )
    other = ground(knowledge(), skilled)
    for key, better in ((("plate", "V3"), True), (("drift", "V3"), False)):
        f = GROUNDED.index[key]
        gain = [g.instances[f].table[-1].max() for g in (GROUNDED, other)]
        assert bool(gain[1] > gain[0]) is better


def test_removing_any_rule_moves_some_posterior() -> None:
    """No rule is idle: without it the answers it names give other probabilities."""
    from tests.toy import RULES

    keys = {
        "cap_heats_tube": {("plate", "V3"): "red", ("grid_volts", "V3"): "positive"},
        "one_of_two": {("plate", "V3"): "red", ("plate", "V4"): "dull"},
        "hum_and_ripple": {("hum", "amp"): "loud", ("ripple", "B1"): "high"},
        "crackle_hot": {("plate", "V3"): "orange", ("sound", "amp"): "crackle"},
    }
    for rule in RULES:
        less = toy(rules=[r for r in RULES if r is not rule])
        said = keys[rule["id"]]
        with_it = MODEL.state(seen(GROUNDED, said)).posterior
        without = Model(less).state(seen(less, said)).posterior
        assert np.abs(with_it - without).max() > 0.005, rule["id"]


def test_one_more_literal_that_holds_never_speaks_against_a_supported_cause() -> None:
    """Seeing the rest of a supporting rule hold raises the cause over the rule half seen."""
    row = row_of(GROUNDED, "cap_leaky", "C7")
    pairs = itertools.product(["orange", "red"], ["positive"])
    for plate, grid in pairs:
        half = MODEL.state(seen(GROUNDED, {("plate", "V3"): plate}))
        whole = MODEL.state(seen(GROUNDED, {("plate", "V3"): plate, ("grid_volts", "V3"): grid}))
        assert whole.posterior[row] > half.posterior[row]
