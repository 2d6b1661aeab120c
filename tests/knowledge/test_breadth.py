"""The knowledge reaches from every complaint to every block, and no entry stands idle."""

from __future__ import annotations

import pytest

from triage.infer.ground import ground
from triage.infer.tables import prior_weight
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.model.entries import Cause, Makes
from triage.model.places import Place
from triage.model.profile import Profile

SURE = ("always", "never")
BY_OWN_CHECK = {"bleeder.open", "meter.wrong", "meter.loads_it"}
"""Nobody complains of these: the bleeder's check, the meter's proof and its next range find them."""
KINDS_OF_COMPLAINT = {
    "tubes, contacts, leads, settings": {
        "output_tube", "driver_tube", "preamp_tube", "rectifier_tube", "tube_socket", "input_jack",
        "source", "source_lead", "load_lead", "settings", "speaker", "selector", "volume_control",
        "mains_fuse", "cord",
    },
    "capacitors, bias": {
        "reservoir", "filter_cap", "decoupling_cap", "coupling_cap", "cathode_bypass", "bias_cap",
        "bias_supply", "bias_trim", "line_cap",
    },
    "transformers": {"power_transformer", "output_transformer", "choke"},
}  # fmt: skip


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return load(knowledge_dir())


def told(kb: Knowledge, word: Makes) -> bool:
    """Whether this word is of something that people may mention unasked, and that is not normal."""
    if word.finding is None:
        return any(
            f.shows is not None and f.shows.sign == word.sign and f.told != "never"
            for f in kb.findings.values()
        )
    finding = kb.findings[word.finding]
    return finding.told != "never" and word.answer != finding.normal


def test_every_cause_makes_something_that_people_complain_of(kb: Knowledge) -> None:
    """From some complaint in a layman's mouth a way leads to each cause."""
    deaf = {c.id for c in kb.causes.values() if not any(told(kb, word) for word in c.makes)}

    assert deaf == BY_OWN_CHECK


def test_every_finding_is_a_word_of_some_cause(kb: Knowledge) -> None:
    """What no cause words can never change a ranking; it would only be asked."""
    worded = {w.finding for c in kb.causes.values() for w in (*c.makes, *c.suppresses)}
    idle = {f.id for f in kb.findings.values() if f.shows is None} - worded

    assert idle == {"proof"}


def test_every_kind_of_place_can_fail(kb: Knowledge) -> None:
    """A kind at which nothing ever fails would be laid out for nothing."""
    can = {kind for cause in kb.causes.values() for kind in cause.at}

    assert set(kb.kinds) - can == {"supply_node"}


def test_hard_words_are_few(kb: Knowledge) -> None:
    """At most 15 in 100 words are 'always' or 'never': benches know few such things."""
    words = [w.word for c in kb.causes.values() for w in (*c.makes, *c.suppresses)]

    assert sum(word in SURE for word in words) <= 0.15 * len(words)


def test_what_is_no_fault_says_what_would_refute_it(kb: Knowledge) -> None:
    """A normal thing taken for a fault names what it never or rarely comes with."""
    harmless = [c for c in kb.causes.values() if c.repair == "explain_normal"]

    assert len(harmless) >= 10
    assert [c.id for c in harmless if not c.suppresses and len(c.makes) < 4] == []


def weight(cause: Cause, kind: str, profile: Profile) -> float:
    return prior_weight(cause, Place("X", kind, "X"), profile)


@pytest.mark.published("practice", "trade shares of wear-out by age: dried .6, leaky .25, short .1")
def test_an_old_reservoir_is_dried_far_oftener_than_shorted(kb: Knowledge) -> None:
    """Sixty years wear a capacitor out; it seldom shorts outright."""
    old = Profile(amplifier="x", age="over_40_years", history={"recapped": "no"})

    dried, shorted = (
        weight(kb.causes[f"reservoir.{i}"], "reservoir", old) for i in ("dried", "shorted")
    )

    assert dried >= 5.0 * shorted


@pytest.mark.published(
    "practice",
    "tubes, sockets, jacks, leads, settings 40 to 50 % of complaints; capacitors and bias 20 to 30 %"
    " in old sets; transformers 1 to 3 %",
)
def test_priors_fall_by_kind_as_the_trade_counts_them(kb: Knowledge) -> None:
    """Of all complaints about a known old amplifier, each kind of part has about its share."""
    grounded = ground(kb, kb.profiles["linden_hall"])
    total = sum(grounded.prior[: grounded.healthy])
    share = {
        name: sum(
            p
            for h, p in zip(grounded.hypotheses, grounded.prior[: grounded.healthy], strict=False)
            if grounded.places.by_id[h.place].kind in kinds
        )
        / total
        for name, kinds in KINDS_OF_COMPLAINT.items()
    }

    assert 0.35 <= share["tubes, contacts, leads, settings"] <= 0.60
    assert 0.20 <= share["capacitors, bias"] <= 0.33
    assert 0.01 <= share["transformers"] <= 0.03
