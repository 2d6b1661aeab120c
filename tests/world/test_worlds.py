"""Simulated benches: exact on their own ground, shaken off it, and those that know one case."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from tests.infer.helpers import row_of
from tests.toy import toy
from triage.infer.gather import Observation, gather
from triage.infer.ground import Grounded, Hypothesis
from triage.infer.posterior import Model
from triage.model.case import Case
from triage.world.case import CaseWorld
from triage.world.reply import Reply, World
from triage.world.rules import RulesWorld
from triage.world.shaken import Shake, ShakenWorld, moved, shake

GROUNDED = toy()
MODEL = Model(GROUNDED)
ASKED = [
    ("plate", "V3"),
    ("plate", "V4"),
    ("grid_volts", "V3"),
    ("drift", "V3"),
    ("climbs", "V4"),
    ("leak", "C7"),
    ("ripple", "B1"),
    ("hum", "amp"),
]


def watched(world: World, grounded: Grounded, asked: list[tuple[str, str]]) -> np.ndarray:
    """Posterior after the complaint (silence counted) and some questions."""
    known = dict(world.complaint())
    known |= {key: world.ask(*key) for key in asked}
    seen = [Observation(f, p, r.answer, happening=r.happening) for (f, p), r in known.items()]
    gathered = gather(grounded, seen, complaint_told=True)
    return MODEL.state(gathered.evidence).posterior


def calibration(pairs: list[tuple[float, bool]], bins: int = 5) -> float:
    """Expected calibration error: claimed against true share, weighted over equal-sized bins."""
    ranked = sorted(pairs)
    parts = np.array_split(np.array(ranked, dtype=float), bins)
    return float(sum(abs(p[:, 0].mean() - p[:, 1].mean()) * len(p) for p in parts) / len(ranked))


def played(make, draws: int, asked: int) -> tuple[float, float, float]:
    """(calibration error of the leader, share first right, mean claimed) over seeded plays."""
    pairs = []
    for seed in range(draws):
        world = make(seed)
        chosen = np.random.default_rng([seed, 9]).permutation(len(ASKED))[:asked]
        p = watched(world, GROUNDED, [ASKED[i] for i in chosen])
        pairs.append((float(p.max()), int(p.argmax()) == world.row))
    claimed, right = np.array(pairs, dtype=float).mean(axis=0)
    return calibration(pairs), float(right), float(claimed)


def test_the_ranking_is_calibrated_in_the_rules_world() -> None:
    """1500 plays, complaint with silence and five readings: calibration error below 0.05."""
    error, right, claimed = played(lambda seed: RulesWorld(GROUNDED, seed), 1500, 5)
    print(f"rules world: calibration {error:.3f}, first right {right:.3f}, claimed {claimed:.3f}")
    assert error < 0.05
    assert abs(right - claimed) < 0.035
    assert right > 0.4


def test_the_shaken_world_is_harder_but_not_lost() -> None:
    """Moved words, dependence, slips, refusals: fewer are right first, and more is claimed."""
    _, clean, _ = played(lambda seed: RulesWorld(GROUNDED, seed), 500, 8)
    hard = Shake(words=0.5, together=0.4, slips=2.0, cannot=0.15)
    _, right, claimed = played(lambda seed: ShakenWorld(GROUNDED, seed, shaken=hard), 500, 8)
    print(f"shaken world: first right {right:.3f} (rules world {clean:.3f}), claimed {claimed:.3f}")
    assert 0.5 * clean < right < clean


def test_the_rules_world_draws_from_the_tables_signs_and_rules() -> None:
    """Frequencies of a row's coupled answers equal P(answers | row), rules included (4 sigma)."""
    row = row_of(GROUNDED, "cap_leaky", "C7")
    keys = [("plate", "V3"), ("grid_volts", "V3"), ("plate", "V4"), ("drift", "V3")]
    draws = 4000
    found = Counter(
        tuple(world.ask(*key).answer for key in keys)
        for world in (RulesWorld(GROUNDED, seed, row=row) for seed in range(draws))
    )
    for answers, count in found.most_common(12):
        seen = [Observation(f, p, a) for (f, p), a in zip(keys, answers, strict=True)]
        state = MODEL.state(gather(GROUNDED, seen, complaint_told=False).evidence)
        p = float(np.exp(state.log[row]) / GROUNDED.prior[row])
        assert abs(count / draws - p) < 4 * np.sqrt(p * (1 - p) / draws), answers


def test_rows_are_drawn_from_the_prior() -> None:
    """Over 3000 seeds each row comes as often as its prior says (4 sigma)."""
    n = 3000
    base = toy(rules=[])
    count = Counter(RulesWorld(base, seed).row for seed in range(n))
    for row, p in enumerate(GROUNDED.prior):
        assert abs(count[row] / n - p) < 4 * np.sqrt(p * (1 - p) / n)


@pytest.mark.parametrize("make", [RulesWorld, ShakenWorld])
def test_a_seed_fixes_every_answer(make: type[RulesWorld]) -> None:
    """Same seed, same fault, same complaint, same answers in any order; another seed differs."""
    one, two = make(GROUNDED, 5), make(GROUNDED, 5)
    keys = [instance.key for instance in GROUNDED.instances]
    backwards = {key: two.ask(*key) for key in reversed(keys)}
    assert {key: one.ask(*key) for key in keys} == backwards
    assert one.truth == two.truth and one.complaint() == two.complaint()
    others = [[make(GROUNDED, seed).ask(*key) for key in keys] for seed in range(6, 12)]
    assert any(other != [one.ask(*key) for key in keys] for other in others)


def test_what_is_told_is_abnormal_and_true_to_what_would_be_answered() -> None:
    """The complaint holds only abnormal answers of findings that people tell, as if asked."""
    told = 0
    for seed in range(60):
        world = RulesWorld(GROUNDED, seed)
        for key, reply in world.complaint():
            instance = GROUNDED.instances[GROUNDED.index[key]]
            assert instance.told > 0.0
            assert reply.answer != instance.answers[instance.normal]
            assert reply == world.ask(*key)
            told += 1
    assert told > 30


def test_an_intermittent_fault_is_at_times_away_and_says_so() -> None:
    """Loose socket, never showing: about half the crackle is gone, and 'happening' says no."""
    row = row_of(GROUNDED, "socket_loose", "V3")
    base = toy(rules=[])
    n = 600
    worlds = [RulesWorld(base, seed, row=row, present=0.0) for seed in range(n)]
    replies = [world.ask("sound", "amp") for world in worlds]
    assert {reply.happening for reply in replies} == {"no"}
    instance = base.instances[base.index[("sound", "amp")]]
    at = instance.answers.index("crackle")
    p = 0.5 * instance.table[at, row] + 0.5 * instance.base[at]
    share = sum(reply.answer == "crackle" for reply in replies) / n
    assert abs(share - p) < 4 * np.sqrt(p * (1 - p) / n)
    steady = RulesWorld(base, 1, row=row_of(base, "cap_dry", "B1"), present=0.0)
    assert steady.ask("hum", "amp").happening == "yes"


def test_half_a_step_moves_a_word_half_way_to_the_next() -> None:
    """'Often' moved half a step up lies between often and usually, two halves reach it."""
    assert 0.6 < moved(0.6, 0.5) < 0.85
    assert moved(moved(0.6, 0.5), 0.5) == pytest.approx(0.85)
    assert moved(0.6, -1.0) == pytest.approx(0.3)
    assert 0.98 < moved(0.98, 5.0) < 1.0


def test_a_shaken_base_still_sums_to_one_and_is_left_as_it_was_without_a_shake() -> None:
    """Every moved table sums to one, stays off 0 and 1, differs; zero steps change nothing."""
    other = shake(GROUNDED, 3, 0.5)
    different = 0
    for mine, old in zip(other.instances, GROUNDED.instances, strict=True):
        np.testing.assert_allclose(mine.table.sum(axis=0), 1.0, atol=1e-12)
        different += not np.allclose(mine.table, old.table)
    assert different >= 5
    assert not np.allclose(other.sign_p, GROUNDED.sign_p)
    same = shake(GROUNDED, 3, 0.0)
    np.testing.assert_allclose(same.sign_p, GROUNDED.sign_p, atol=1e-12)
    for mine, old in zip(same.instances, GROUNDED.instances, strict=True):
        np.testing.assert_allclose(mine.table[:, :-1], old.table[:, :-1], atol=1e-12)


def test_what_cannot_be_had_stays_so() -> None:
    """With every finding refused, the shaken world says 'cannot' to all and tells nothing."""
    world = ShakenWorld(GROUNDED, 1, shaken=Shake(cannot=1.0))
    assert {world.ask(*i.key).answer for i in GROUNDED.instances} == {"cannot"}
    assert world.complaint() == ()


def test_a_finding_that_the_amplifier_lacks_is_unknown() -> None:
    """No world makes up an answer for a place or a finding that is not there."""
    assert RulesWorld(GROUNDED, 1).ask("plate", "V9") == Reply("unknown")
    assert ShakenWorld(GROUNDED, 1).ask("no_such_finding", "V3") == Reply("unknown")


CASE = Case.model_validate(
    {
        "case": "toy_one",
        "origin": {"of": "own"},
        "complaint": "one tube glows red",
        "told": [
            {"finding": "plate", "of": "V3", "answer": "red"},
            {"finding": "sound", "of": "amp", "answer": "weak", "happening": "unknown"},
        ],
        "known": [
            {"finding": "plate", "of": {"kind": "output_tube", "any": 2}, "answer": "dull"},
            {"finding": "grid_volts", "of": "V3", "reading": "+4.5 V"},
            {"finding": "leak", "of": "C7", "answer": "none", "epoch": 1},
            {"finding": "hum", "of": {"kind": "no_such_kind"}, "answer": "loud"},
        ],
        "truth": {"cause": "cap_leaky", "kind": "coupling_cap", "of": "C7"},
    }
)


def test_a_case_answers_what_it_knows_and_nothing_else() -> None:
    """Told and known facts by name or by n-th of a kind; readings as typed; the rest unknown."""
    world = CaseWorld(GROUNDED, CASE)
    assert world.complaint() == (
        (("plate", "V3"), Reply("red")),
        (("sound", "amp"), Reply("weak", None, "unknown")),
    )
    assert world.ask("plate", "V3") == Reply("red")
    assert world.ask("plate", "V4") == Reply("dull")
    assert world.ask("grid_volts", "V3") == Reply("", "+4.5 V")
    assert world.ask("grid_volts", "V4") == Reply("unknown")
    assert world.ask("hum", "amp") == Reply("unknown")
    assert world.ask("leak", "C7") == Reply("unknown")
    assert CaseWorld(GROUNDED, CASE, epoch=1).ask("leak", "C7") == Reply("none")
    assert world.truth == Hypothesis("cap_leaky", "C7")


def test_a_channel_narrows_which_place_of_a_kind_is_meant() -> None:
    """'An output tube, left' names none where the amplifier has no left channel."""
    from triage.model.case import PlaceRef
    from triage.world.case import places_of

    assert places_of(GROUNDED, PlaceRef(kind="output_tube", channel="mono")) == ("V3",)
    assert places_of(GROUNDED, PlaceRef(kind="output_tube", channel="left")) == ()
    assert places_of(GROUNDED, PlaceRef(kind="output_tube", any=3)) == ()
    assert places_of(GROUNDED, "V4") == ("V4",)
