"""The worked numbers of DEVELOPERS.md section 5 are those of the knowledge as it stands."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from triage.infer.ground import Grounded, ground
from triage.infer.posterior import Evidence, Item, Model
from triage.infer.tables import compose
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.model.entries import MAKES, STRENGTHS

GUIDE = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
FLAT = " ".join(GUIDE.split())
SUSPECT = ("reservoir.dried", "C1")


@pytest.fixture(scope="module")
def hall() -> Grounded:
    """The Linden Hall amplifier in the hands of a newcomer."""
    kb = load(knowledge_dir())
    profile = kb.profiles["linden_hall"]
    owner = profile.owner.model_copy(update={"skill": "novice"})
    return ground(kb, profile.model_copy(update={"owner": owner}))


def row_of(hall: Grounded) -> int:
    """Row of the dried reservoir."""
    return next(row for row, h in enumerate(hall.hypotheses) if (h.cause, h.place) == SUSPECT)


def chances(hall: Grounded, finding: str, place: str, answer: str) -> tuple[float, float]:
    """P(reported answer) for the dried reservoir and for a healthy amplifier."""
    instance = hall.instances[hall.index[(finding, place)]]
    table = instance.table[instance.answers.index(answer)]
    return float(table[row_of(hall)]), float(table[hall.healthy])


def odds(hall: Grounded, *said: tuple[str, str]) -> float:
    """Factor by which answers at C1 move the dried reservoir against a healthy amplifier."""
    evidence = Evidence()
    for finding, answer in said:
        instance = hall.instances[hall.index[(finding, "C1")]]
        one = tuple(float(a == answer) for a in instance.answers)
        evidence = evidence.plus(instance.index, Item(one))
    after = Model(hall).state(evidence).posterior
    row, well = row_of(hall), hall.healthy
    return float(after[row] / after[well] * hall.prior[well] / hall.prior[row])


def test_the_words_and_their_slips_are_as_worked(hall: Grounded) -> None:
    """Ripple 0.8432 against 0.068, the rate of the hum 0.67 against 0.2167."""
    assert chances(hall, "ripple", "C1", "high") == pytest.approx((0.8432, 0.068), abs=5e-5)
    assert chances(hall, "hum_rate", "amp", "double") == pytest.approx((0.67, 0.2167), abs=5e-5)
    assert "0.8432 (12.4 times the healthy 0.068)" in FLAT
    assert "0.67 (3.1 times 0.2167)" in FLAT


def test_the_rule_adds_what_is_worked_out(hall: Grounded) -> None:
    """Both findings against the product of the two: 1.53; one contradicted: 0.31."""
    high, _ = chances(hall, "ripple", "C1", "high")
    double, _ = chances(hall, "hum_rate", "amp", "double")
    q, s = high * double, STRENGTHS["moderate"]
    rules = [r for r in hall.rules if r.rule == "ripple_and_double_hum" and r.strength == s]

    assert len(rules) == 1
    assert q == pytest.approx(0.565, abs=5e-4)
    assert s / (1 + (s - 1) * q) == pytest.approx(1.53, abs=5e-3)
    assert 1 / (1 + (s - 1) * q) == pytest.approx(0.31, abs=5e-3)
    assert "q = 0.8432 x 0.67 = 0.565" in FLAT
    assert "Both hold: x 1.53" in FLAT


def test_two_looks_at_one_thing_count_as_the_guide_says(hall: Grounded) -> None:
    """7.2 and 7.9 apart, 20 together, 1.2 where they contradict."""
    cured, low = ("bridged", "cured"), ("capacity", "low")

    assert odds(hall, cured) == pytest.approx(7.2, abs=0.05)
    assert odds(hall, low) == pytest.approx(7.9, abs=0.05)
    assert odds(hall, cured, low) == pytest.approx(20, abs=0.5)
    assert odds(hall, cured, ("capacity", "right")) == pytest.approx(1.2, abs=0.05)
    assert '"bridging cured it" speaks 7.2 to 1' in FLAT


def test_sometimes_never_speaks_against_its_own_answer() -> None:
    """With usual 0.45, 'sometimes' gives 0.615."""
    made = np.array([MAKES["sometimes"], 0.0])
    assert compose(np.array([0.45, 0.55]), made, {})[0] == pytest.approx(0.615)
    assert "0.3 + 0.7 x 0.45 = 0.615" in FLAT


def test_the_guide_gives_every_word_and_strength_its_number() -> None:
    """The table of words and the list of strengths are those of the code."""
    for word, chance in MAKES.items():
        assert f"| `{word}` | {chance:.2f} |" in GUIDE
    for word, strength in STRENGTHS.items():
        assert f"`{word}` {strength:.0f}" in FLAT
