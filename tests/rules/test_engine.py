"""The engine adapter: agrees with the obvious matcher, refuses what is unsafe, hides no failure."""

from __future__ import annotations

import random
import time

import pytest

from triage.errors import EngineFault
from triage.model.places import Place, Places
from triage.rules import engine as engine_module
from triage.rules.engine import RuleEngine
from triage.rules.reference import match
from triage.rules.rounds import run_rounds
from triage.rules.templates import Firing, Literal_, Template, check_templates, fnv32

PATHS = (
    "self",
    "self.mate",
    "self.feeds",
    "self.fed_by",
    "self.channel",
    "self.feeds.mate",
    "self.channel.other_channel",
)
FINDINGS = [f"finding_{i}" for i in range(12)]
ANSWERS = ["low", "normal", "high"]


def checked(ident: str, at: list[str], literals: list[Literal_]) -> Template:
    """One checked template."""
    return check_templates([Template(ident, tuple(at), tuple(literals))])[0]


def random_places(rng: random.Random) -> Places:
    """A random amplifier: places of three kinds with random relations."""
    names = [f"X{i}" for i in range(rng.randint(3, 9))]
    by_id = {name: Place(name, rng.choice(["tube", "cap", "node"]), name) for name in names}
    edges = set()
    for relation in ("mate", "feeds", "fed_by", "channel", "other_channel"):
        for _ in range(rng.randint(0, 8)):
            a, b = rng.sample(names, 2)
            edges.add((relation, a, b))
    return Places(by_id, frozenset(edges))


def random_templates(rng: random.Random, n: int) -> list[Template]:
    """Random rules the adapter accepts."""
    found: list[Template] = []
    while len(found) < n:
        literals = [
            Literal_(rng.choice(PATHS), finding, tuple(rng.sample(ANSWERS, rng.randint(1, 2))))
            for finding in rng.sample(FINDINGS, rng.randint(1, 4))
        ]
        kinds = rng.sample(["tube", "cap", "node"], rng.randint(1, 2))
        found.append(checked(f"rule_{len(found)}", kinds, literals))
    return found


def random_facts(rng: random.Random, places: Places) -> list[tuple[str, str, str]]:
    """Random facts at random places."""
    return sorted(
        {
            (
                rng.choice(list(places.by_id)),
                rng.choice(FINDINGS),
                rng.choice([*ANSWERS, "unknown"]),
            )
            for _ in range(rng.randint(20, 160))
        }
    )


def differ(seeds: range) -> int:
    """Compare engine and reference over seeds; returns how many firings were compared."""
    fired = 0
    for seed in seeds:
        rng = random.Random(seed)
        templates = random_templates(rng, rng.randint(1, 20))
        engine = RuleEngine(templates)
        for _ in range(4):
            places = random_places(rng)
            facts = random_facts(rng, places)
            rng.shuffle(facts)
            expected = match(templates, facts, places)
            assert expected == engine.match(facts, places), seed
            fired += len(expected)
        engine.close()
    return fired


def test_engine_agrees_with_the_obvious_matcher_on_random_bases() -> None:
    """Fifty random bases with joins and chained relations fire exactly the same rules."""
    assert differ(range(50)) > 300


@pytest.mark.slow
def test_engine_agrees_with_the_obvious_matcher_on_many_bases() -> None:
    """Four hundred random bases fire exactly the same rules."""
    assert differ(range(1000, 1400)) > 2000


def pair() -> Places:
    """Two mated tubes."""
    return Places(
        {"V3": Place("V3", "tube", "V3"), "V4": Place("V4", "tube", "V4")},
        frozenset({("mate", "V3", "V4"), ("mate", "V4", "V3")}),
    )


MATE = checked(
    "mates",
    ["tube"],
    [
        Literal_("self", "plate", ("red",)),
        Literal_("self.mate", "plate", ("normal",)),
    ],
)


def test_only_what_a_rule_could_still_bind_is_asserted() -> None:
    """A rule one of whose findings is known nowhere brings no place and no relation in."""
    engine = RuleEngine([MATE])
    inner = {"V3": "p1", "V4": "p2"}
    red = ("V3", "plate", "red")
    sorts = [
        [record["g"] for fact, record in engine._records(facts, pair(), inner) if fact is None]
        for facts in ([red], [red, ("V4", "plate", "normal"), ("V4", "grid", "high")])
    ]

    assert sorts[0] == []
    assert set(sorts[1]) == {"~kind", "~rel"}


def test_order_of_facts_does_not_matter() -> None:
    """All orders of the same facts give one set of firings."""
    engine = RuleEngine([MATE])
    facts = [("V3", "plate", "red"), ("V4", "plate", "normal"), ("V4", "grid", "high")]

    assert {engine.match(order, pair()) for order in (facts, facts[::-1])} == {
        frozenset({Firing("mates", "V3", ((0, "V3"), (1, "V4")))})
    }


def test_broken_engine_call_is_a_fault_not_an_empty_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the library's call fails, nothing is taken for 'no rule fired'."""
    engine = RuleEngine([MATE])

    def broken(*_: object) -> None:
        raise RuntimeError("no engine")

    monkeypatch.setattr(engine_module.durable_engine.Ruleset, "assert_fact", broken)
    with pytest.raises(EngineFault, match="no engine"):
        engine.match([("V3", "plate", "red")], pair())


def test_error_in_an_action_surfaces() -> None:
    """The library writes errors of actions into its state; the adapter raises them."""

    class Broken(list):  # type: ignore[type-arg]  # a hit list that fails on real firings
        def append(self, hit: tuple[int, object]) -> None:
            if hit[0] >= 0:
                raise ValueError("lost")
            super().append(hit)

        def __getitem__(self, key: object) -> object:
            return list(self)[key]  # type: ignore[index]  # slices only

    engine = RuleEngine([MATE])

    with pytest.raises(EngineFault, match="lost"):
        engine._hits = Broken()
        engine._snapshot(
            engine._sets[0],
            engine._records(
                [("V3", "plate", "red"), ("V4", "plate", "normal")],
                pair(),
                {"V3": "p1", "V4": "p2"},
            ),
        )


@pytest.mark.parametrize("answers", [(1,), (1e-05,), (None,), (True,), ("x" * 201,), ("",)])
def test_values_that_are_not_short_texts_are_refused(answers: tuple[object, ...]) -> None:
    """Numbers, None, floats JSON writes without a dot, and long texts never reach the library."""
    with pytest.raises(EngineFault, match="not text"):
        checked("bad", ["tube"], [Literal_("self", "plate", answers)])  # type: ignore[arg-type]  # wrong


@pytest.mark.parametrize("value", [5, None, 1e-05, "x" * 201, "", float("nan")])
def test_facts_that_are_not_short_texts_are_refused(value: object) -> None:
    """The same for facts (rows W and E of the library's measured faults)."""
    engine = RuleEngine([MATE])
    with pytest.raises(EngineFault):
        engine.match([("V3", "plate", value)], pair())  # type: ignore[list-item]  # wrong on purpose


def test_one_fact_may_not_serve_two_conditions() -> None:
    """Self and amplifier may be one place: refused, since the library would never fire."""
    with pytest.raises(EngineFault, match="one place"):
        checked(
            "twice",
            ["amp"],
            [
                Literal_("self", "hum", ("yes",)),
                Literal_("self.amp", "hum", ("yes", "loud")),
            ],
        )


def test_empty_conditions_are_refused() -> None:
    """An empty conjunction hangs the library."""
    with pytest.raises(EngineFault, match="0 literals"):
        checked("empty", ["tube"], [])


def test_more_than_twelve_conditions_are_refused() -> None:
    """The library fails at seventeen; the adapter stops at twelve."""
    literals = [Literal_("self", f"f{i}", ("a",)) for i in range(13)]
    with pytest.raises(EngineFault, match="13 literals"):
        checked("long", ["tube"], literals)


def test_names_with_one_hash_are_refused() -> None:
    """The library tells names apart by 32-bit hash only: 'costarring' is 'liquid' to it."""
    assert fnv32("costarring") == fnv32("liquid")
    with pytest.raises(EngineFault, match="share one"):
        check_templates(
            [
                checked("a", ["tube"], [Literal_("self", "costarring", ("x",))]),
                checked("b", ["tube"], [Literal_("self", "liquid", ("x",))]),
            ]
        )


def test_six_hundred_rules_on_one_literal_do_not_hang() -> None:
    """513 first tests hang one rule set and 256 uses of one test crash it: they are spread."""
    templates = [
        checked(
            f"r{i}",
            ["tube"],
            [Literal_("self", "plate", ("red",)), Literal_("self", f"other_{i}", ("yes",))],
        )
        for i in range(600)
    ]
    engine = RuleEngine(templates)
    fired = engine.match([("V3", "plate", "red"), ("V3", "other_599", "yes")], pair())

    assert {f.rule_id for f in fired} == {"r599"}


def test_a_place_the_amplifier_has_not_is_refused() -> None:
    """A fact about nowhere is an error, not silence."""
    with pytest.raises(EngineFault, match="no place"):
        RuleEngine([MATE]).match([("V9", "plate", "red")], pair())


def test_rounds_chain_until_nothing_is_new() -> None:
    """A derived finding lets a second rule fire, in round two."""
    second = checked("second", ["tube"], [Literal_("self", "derived", ("yes",))])
    engine = RuleEngine([MATE, second])
    facts = [("V3", "plate", "red"), ("V4", "plate", "normal")]

    rounds = run_rounds(
        engine, facts, pair(), lambda f: [(f.at, "derived", "yes")] if f.rule_id == "mates" else []
    )

    assert rounds.first == {("mates", "V3"): 1, ("second", "V3"): 2}


def test_circular_derivation_is_a_fault() -> None:
    """Rules that derive for ever are stopped with a message."""
    engine = RuleEngine([MATE])
    facts = [("V3", "plate", "red"), ("V4", "plate", "normal")]
    number = iter(range(1000))
    with pytest.raises(EngineFault, match="circle"):
        run_rounds(engine, facts, pair(), lambda f: [("V3", "n", f"n{next(number)}")])


def test_five_hundred_templates_match_quickly() -> None:
    """Five hundred rules on a whole snapshot stay below the wait a person notices.

    Two seconds are allowed for a busy machine; alone it takes about a tenth of one.
    """
    rng = random.Random(5)
    templates = random_templates(rng, 500)
    engine = RuleEngine(templates)
    places = random_places(rng)
    started = time.perf_counter()
    engine.match(random_facts(rng, places), places)

    assert time.perf_counter() - started < 2.0
