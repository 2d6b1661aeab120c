"""The order of steps as a tree: chances, depth, safety on every way, and what a session would do."""

from __future__ import annotations

from functools import cache

import networkx as nx
import pytest

from tests.job.helpers import Clock, good_fields, knowledge
from tests.safety.shadow import Shadow, allowed, note
from triage.assess import Bench
from triage.errors import BadReading
from triage.job.cards import LEAVES, SAFETY
from triage.job.desk import amp_facts
from triage.job.session import Session
from triage.job.tree import OrderTree, order_tree
from triage.model.profile import Owner
from triage.plan.candidates import MEMORY
from triage.safety.facts import ENERGISED, AmpFacts, StepFacts
from triage.safety.states import Act

WELL_EQUIPPED = (
    "multimeter",
    "limiter",
    "isolation_transformer",
    "high_impedance_meter",
    "discharge_tool",
    "dummy_load",
    "spare_tubes",
    "capacitor_meter",
)
Job = tuple[str, str, str, int]
JOBS: tuple[Job, ...] = (
    ("linden_hall", "technician", "it hums", 2),
    ("linden_hall", "hobbyist", "no sound", 3),
    ("practice_amp", "novice", "it hums", 2),
    ("dance_band", "technician", "one output tube glows red", 2),
    ("grandmothers_console", "hobbyist", "the left side is dead", 2),
    ("shelf_set", "technician", "no sound", 2),
)
"""Amplifier, skill, complaint, depth."""
every_job = pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")


@cache
def bench(amplifier: str, skill: str, tools: tuple[str, ...] = WELL_EQUIPPED) -> Bench:
    """Bench of a built-in amplifier with an owner of our choice."""
    profile = knowledge().profiles[amplifier]
    owner = Owner(skill=skill, tools=list(tools), second_person="yes")
    return Bench.make(knowledge(), profile.model_copy(update={"owner": owner}))


@cache
def tree(amplifier: str, skill: str, complaint: str, depth: int) -> OrderTree:
    """A tree, drawn once."""
    return order_tree(bench(amplifier, skill), [complaint], depth)


def step_facts(found: OrderTree, node: int, at: Bench) -> StepFacts:
    """What is done at a step, repair or proof, read anew from the knowledge by its id."""
    card = found.card(node)
    if card.sort == "repair":
        return StepFacts.of(at.knowledge.repairs[card.ident])
    if card.sort == "proof":
        return StepFacts("the proof", "idle", inside=False)
    if card.ident.endswith(MEMORY):
        return StepFacts(card.ident, "any", inside=False)
    return StepFacts.of(at.knowledge.procedures[card.ident])


def walk(found: OrderTree, node: int, seen: Shadow, facts: AmpFacts, at: Bench) -> list[str]:
    """Follow all ways with the bystander's account; powers of the steps and proofs it allowed."""
    card = found.card(node)
    here: list[str] = []
    if card.act is not None:
        seen = note(seen, card.act)
    if card.sort in ("step", "repair", "proof"):
        step = step_facts(found, node, at)
        assert allowed(step, seen, facts), f"{card.number} {card.title} in {card.power}"
        here = [step.power]
    if card.sort == "repair":
        seen = note(seen, Act("repaired", seen.now, (("mains", "yes"),)))
    return here + [p for to, _, _ in found.after(node) for p in walk(found, to, seen, facts, at)]


@every_job
def test_a_bystander_allows_every_step_on_every_way(job: Job) -> None:
    """A plain account of the acts alone, gates unasked, lets each step, repair and proof go on."""
    found, at = tree(*job), bench(*job[:2])
    assert len(walk(found, found.root, Shadow(), amp_facts(at), at)) >= 3


def test_the_ways_that_the_bystander_followed_lead_through_power() -> None:
    """Among them are half a dozen steps and proofs under power: the check is not an empty one."""
    powers = [
        power
        for job in JOBS
        for power in walk(tree(*job), 1, Shadow(), amp_facts(bench(*job[:2])), bench(*job[:2]))
    ]
    assert sum(power in ENERGISED for power in powers) >= 6


def test_the_bystander_objects_where_an_act_is_left_out() -> None:
    """The check can fail: without its discharges or without one gate a way is refused."""
    found, at = tree("practice_amp", "novice", "it hums", 3), bench("practice_amp", "novice")
    for left_out in ("discharged", "G2"):
        graph = found.graph.copy()
        for node in list(graph.nodes):
            if found.card(node).ident == left_out:
                before = list(graph.predecessors(node))
                after = list(graph.successors(node))
                graph.remove_node(node)
                graph.add_edges_from(((b, a) for b in before for a in after), chance=1.0, label="")
        root = next(n for n in graph if graph.in_degree(n) == 0)
        robbed = OrderTree(graph, root, found.head)
        with pytest.raises(AssertionError):
            walk(robbed, root, Shadow(), amp_facts(at), at)


@every_job
def test_it_is_a_tree_whose_chances_sum_to_one(job: Job) -> None:
    """networkx: one root, one way to each node; at every step the chances of its answers sum to 1."""
    found = tree(*job)
    assert nx.is_arborescence(found.graph)
    for node in found.graph:
        chances = [chance for _, chance, _ in found.after(node)]
        sort = found.card(node).sort
        if sort in LEAVES:
            assert chances == []
        else:
            assert sum(chances) == pytest.approx(1.0, abs=1e-9)
            assert min(chances) > 0.0
        if sort in SAFETY or sort == "repair":
            assert len(chances) == 1


@pytest.mark.parametrize("depth", [1, 2, 3])
def test_no_way_has_more_steps_than_asked_for(depth: int) -> None:
    """Steps on a way: at most the depth, and on some way exactly that many."""
    found = tree("practice_amp", "hobbyist", "no sound", depth)
    ways = nx.single_source_shortest_path(found.graph, found.root)
    most = max(sum(found.card(n).sort == "step" for n in way) for way in ways.values())
    assert most == depth


@every_job
def test_the_tree_begins_as_a_session_does(job: Job) -> None:
    """Told the same, a session wants the same acts in the same order, then the same first step."""
    found, at = tree(*job), bench(*job[:2])
    session = Session(at, lambda event: None, Clock())
    session.begin()
    session.complaint(job[2])
    session.complaint_over()
    chain, first = found.chain(found.root)
    for node in chain:
        shown = session.view()
        assert (shown.title, shown.ident) == (found.card(node).title, found.card(node).ident)
        assert session.confirm(good_fields(shown) if shown.sort == "act" else {}).ok
    shown, card = session.view(), found.card(first)
    assert (shown.sort, shown.title, shown.ident) == (card.sort, card.title, card.ident)
    assert shown.place == card.place


def test_below_an_answer_stands_what_a_session_asks_after_it() -> None:
    """Given the likeliest answer, a session goes on as the tree does."""
    found, at = tree("linden_hall", "hobbyist", "no sound", 3), bench("linden_hall", "hobbyist")
    session = Session(at, lambda event: None, Clock())
    session.begin()
    session.complaint("no sound")
    session.complaint_over()
    chain, node = found.chain(found.root)
    for turn in range(3):
        for _ in chain:
            assert session.confirm(good_fields(session.view())).ok
        assert session.view().ident == found.card(node).ident
        assert found.card(node).sort == "step"
        if turn < 2:
            (question,) = session.view().questions
            below, _, label = found.after(node)[0]
            said = {choice.says: choice.answer for choice in question.choices}
            assert session.answer(0, said[label]).ok
            chain, node = found.chain(below)


def test_drawn_twice_it_is_the_same() -> None:
    """A fresh bench gives the same cards on the same edges."""
    one = tree("practice_amp", "novice", "it hums", 2)
    fresh = bench.__wrapped__("practice_amp", "novice")
    two = order_tree(fresh, ["it hums"], 2)
    assert dict(one.graph.nodes(data=True)) == dict(two.graph.nodes(data=True))
    assert list(one.graph.edges(data=True)) == list(two.graph.edges(data=True))


def test_a_complaint_that_nobody_understands_is_refused_with_a_way_out() -> None:
    """The message says what to write instead, and what it says is understood."""
    with pytest.raises(BadReading, match="no word of it is known") as told:
        order_tree(bench("practice_amp", "novice"), ["xyzzy"], 1)
    for offered in ("it crackles", "no sound", "a red plate", "the fuse blows", "one side dead"):
        assert offered in str(told.value)
        assert order_tree(bench("practice_amp", "novice"), [offered], 1).head.understood


def test_a_tree_without_a_step_is_refused() -> None:
    """Depth 0 would show nothing."""
    with pytest.raises(BadReading, match="at least one step"):
        order_tree(bench("practice_amp", "novice"), ["it hums"], 0)


def test_what_cannot_be_proven_ends_in_handing_over() -> None:
    """A set with a live chassis and no technician: no way to power, the end says so."""
    found = tree("shelf_set", "hobbyist", "no sound", 4)
    cards = [found.card(node) for node in found.graph]
    assert not [c for c in cards if c.sort == "act" and c.ident == "plug_in"]
    assert any(c.sort == "hand_over" for c in cards)


def test_a_danger_in_the_complaint_stands_before_everything() -> None:
    """Smoke: the root is what to do at once."""
    found = tree("linden_hall", "technician", "it smokes", 1)
    card = found.card(found.root)
    assert card.sort == "hazard"
    assert "Cut the power at the wall" in " ".join(card.lines)
