"""The whole order of steps for a complaint as a tree: what to do, what comes before, what follows.

The tree is grown by whole sessions that nobody sits at: the same views, the same gates, the same
acts as in a job, each gate taken for passed. So a step stands in the tree only where a session would
show it, and everything safety wants before it stands above it on the way from the root.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import networkx as nx
import numpy as np

from triage.assess import Bench
from triage.errors import BadReading, SafetyRefusal
from triage.job import wording
from triage.job.assumed import assumed_fields
from triage.job.cards import (
    SAFETY,
    Card,
    Floats,
    act_card,
    goes_on,
    leaf,
    left_safe,
    outcome_label,
    rare,
    repair_card,
    rest_label,
    step_card,
)
from triage.job.events import Event
from triage.job.session import Session
from triage.job.view import View
from triage.plan.candidates import Outcomes, outcomes
from triage.safety.states import Act

FLOOR = 0.05
"""Answers rarer than this at a step are put together as 'otherwise'."""
REACHED = 0.01
"""Ways rarer than this in the whole tree are not followed any further."""
MOST_OTHERWISE = 0.25
MOST_BRANCHES = 6
LEAST = 0.01
"""Up to six branches, down to this chance, where more than a quarter would be 'otherwise'."""
MOST_ACTS = 80
TINY = 1e-9
ACT_SECONDS = 60.0


@dataclass(frozen=True)
class Head:
    """What the tree was drawn for."""

    amplifier: str
    about: str
    complaint: tuple[str, ...]
    understood: tuple[str, ...]
    skill: str
    tools: tuple[str, ...]
    depth: int
    floor: float = FLOOR
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class OrderTree:
    """The tree: nodes carry a ``card``; edges a ``chance`` and a ``label`` ('' where it follows)."""

    graph: nx.DiGraph
    root: int
    head: Head

    def card(self, node: int) -> Card:
        """Card of a node."""
        card: Card = self.graph.nodes[node]["card"]
        return card

    def after(self, node: int) -> list[tuple[int, float, str]]:
        """Nodes that follow, as (node, chance, label), likeliest first, 'otherwise' last."""
        rows = self.graph.out_edges(node, data=True)
        found = [(int(to), float(data["chance"]), str(data["label"])) for _, to, data in rows]
        return sorted(found, key=lambda row: row[0])

    def chain(self, node: int) -> tuple[list[int], int]:
        """Safety nodes from here on, and the node that they lead to."""
        before: list[int] = []
        while self.card(node).sort in SAFETY:
            following = self.after(node)
            if not following:
                break
            before.append(node)
            node = following[0][0]
        return before, node


@dataclass
class _Clock:
    """Seconds of an imagined job."""

    now: float = 0.0

    def __call__(self) -> float:
        return self.now


@dataclass
class _Bout:
    """A session nobody sits at, with the events it keeps, so that it can be forked."""

    bench: Bench
    events: list[Event] = field(default_factory=list)
    clock: _Clock = field(default_factory=_Clock)

    def __post_init__(self) -> None:
        self.session = Session(self.bench, self.events.append, self.clock, list(self.events))

    def fork(self) -> _Bout:
        """Another one that has come as far."""
        return _Bout(self.bench, list(self.events), _Clock(self.clock.now))

    def last_act(self) -> Act | None:
        """The act done last."""
        acts = self.session.state.acts
        return acts[-1] if acts else None


def order_tree(
    bench: Bench, complaint: Sequence[str], depth: int = 3, *, floor: float = FLOOR
) -> OrderTree:
    """Order of steps for a complaint as a tree.

    Parameters
    ----------
    bench : knowledge on one amplifier with its owner's skill and tools.
    complaint : one or more lines in free words.
    depth : steps on each way from the root, at most; 1 or more. Acts, gates and repairs are not
        counted.
    floor : answers with a smaller chance at their step are put together as 'otherwise'.

    Raises
    ------
    BadReading : no word of a complaint is known, or the depth is below 1.
    """
    if depth < 1:
        raise BadReading(str(depth), "a tree has at least one step.", "3")
    bout = _Bout(bench)
    bout.session.begin()
    understood, cautions = _complain(bout.session, complaint)
    owner = bench.profile.owner
    head = Head(
        bench.profile.amplifier,
        bench.profile.says,
        tuple(complaint),
        understood,
        owner.skill,
        tuple(sorted(owner.tools)),
        depth,
        floor,
        cautions,
    )
    grower = _Grower(floor)
    grower.grow(bout, depth, _Way())
    return OrderTree(grower.graph, 1, head)


def _complain(
    session: Session, complaint: Sequence[str]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Tell the complaint; what was understood, and what is asked back because it may be danger."""
    asked: list[str] = []
    for text in complaint:
        before = (len(session.state.answers), session.state.safety.hazards)
        reply = session.complaint(text)
        if reply.ask is not None:
            asked.append(reply.ask)
        after = (len(session.state.answers), session.state.safety.hazards)
        if before == after and reply.ask is None:
            raise BadReading(
                text,
                "no word of it is known here. Say what it does (it crackles, no sound, a red "
                "plate, the fuse blows, one side dead), one thing at a time.",
                "it hums",
            )
    session.complaint_over()
    told = tuple(
        wording.told(session.moment, a.finding, a.place, a.answer) for a in session.state.answers
    )
    return told, tuple(asked)


@dataclass(frozen=True)
class _Way:
    """Where a node hangs: below which node, by which answer, and how likely one comes this way."""

    parent: int = 0
    label: str = ""
    chance: float = 1.0
    reach: float = 1.0
    number: str = "1"


class _Grower:
    """Adds nodes in the order in which they are read: depth first, likeliest answer first."""

    def __init__(self, floor: float) -> None:
        self.graph: nx.DiGraph = nx.DiGraph()
        self.floor = floor

    def add(self, card: Card, way: _Way) -> _Way:
        """Hang a card below a node; the way on from it."""
        node = self.graph.number_of_nodes() + 1
        self.graph.add_node(node, card=card)
        if way.parent:
            self.graph.add_edge(way.parent, node, chance=way.chance, label=way.label)
        return _Way(node, "", 1.0, way.reach, way.number)

    def grow(self, bout: _Bout, left: int, way: _Way) -> None:
        """Follow a session to its next step and branch there; ``left`` steps may still be shown."""
        for _ in range(MOST_ACTS):
            session, view = bout.session, bout.session.view()
            if left == 0 and _aims_at_step(session, view):
                self.add(goes_on(session, way.number), way)
                return
            if view.sort == "step":
                self._step(bout, view, left, way)
                return
            if view.sort in ("proof", "closed"):
                self.add(leaf(session, view, way.number), way)
                return
            if view.sort == "repair":
                way = self.add(repair_card(session, view, way.number), way)
                session.done()
                bout.clock.now += 60.0 * view.minutes
                continue
            passed = self._act(bout, view, way)
            if passed is None:
                return
            way = passed
        raise SafetyRefusal([f"{MOST_ACTS} acts and still no step: this way leads nowhere"])

    def _act(self, bout: _Bout, view: View, way: _Way) -> _Way | None:
        """An act done well, or a hazard dealt with; None where it cannot be."""
        session = bout.session
        bout.clock.now += ACT_SECONDS
        reply = session.confirm(assumed_fields(view, session.moment.facts))
        if not reply.ok:
            title = f"Stop here and hand it over: '{view.title}' cannot be met."
            end = Card("hand_over", title, way.number, cautions=left_safe(session))
            self.add(replace(end, power=view.power, lines=(reply.message,)), way)
            return None
        return self.add(act_card(session, view, bout.last_act()), way)

    def _step(self, bout: _Bout, view: View, left: int, way: _Way) -> None:
        """A step, and a branch for each of its likelier answers."""
        session = bout.session
        here = self.add(step_card(session, view, way.number), way)
        grounded, state = bout.bench.grounded, session.moment.assessment.state
        findings = tuple(grounded.index[(q.finding, q.place)] for q in view.questions)
        found = outcomes(state, findings)
        chances = found.columns @ state.posterior
        chances = chances / chances.sum()
        named = self._named(found, chances)
        bout.clock.now += max(ACT_SECONDS, 60.0 * view.minutes)
        branches = self._merged(bout, view.ident, found, chances, named)
        for n, (branch, fork) in enumerate(branches, start=1):
            hung = replace(
                branch,
                parent=here.parent,
                reach=way.reach * branch.chance,
                number=f"{way.number}.{n}",
            )
            if hung.reach < REACHED and left > 1:
                mass = fork.session.moment.assessment.state.posterior
                self.add(rare(session, mass, hung.number), hung)
            else:
                self.grow(fork, left - 1, hung)
        rest = [o for o in range(len(chances)) if o not in named]
        share = 1.0 - sum(branch.chance for branch, _ in branches)
        if rest and share > TINY:
            mass = found.columns[rest].sum(axis=0) * state.posterior
            number = f"{way.number}.{len(branches) + 1}"
            hung = _Way(here.parent, rest_label(found, rest), share, way.reach * share, number)
            self.add(rare(session, mass, number), hung)

    def _merged(
        self, bout: _Bout, ident: str, found: Outcomes, chances: Floats, named: Sequence[int]
    ) -> list[tuple[_Way, _Bout]]:
        """Branches with the sessions that follow them; answers after which all ends alike are one."""
        grounded = bout.bench.grounded
        branches: list[tuple[_Way, _Bout]] = []
        at: dict[object, int] = {}
        for o in named:
            fork = bout.fork()
            for f, a in found.answers[o]:
                instance = grounded.instances[f]
                fork.session.put(*instance.key, instance.answers[a], ident=ident)
            way = _Way(label=outcome_label(grounded, found.answers[o]), chance=float(chances[o]))
            assessed = fork.session.moment.assessment
            end: object = (assessed.advice.move, assessed.advice.repair)
            if assessed.hazards or assessed.advice.move == "step":
                end = o
            if end in at:
                kept, first = branches[at[end]]
                label, chance = f"{kept.label} / {way.label}", kept.chance + way.chance
                branches[at[end]] = (replace(kept, label=label, chance=chance), first)
            else:
                at[end] = len(branches)
                branches.append((way, fork))
        return sorted(branches, key=lambda row: -row[0].chance)

    def _named(self, found: Outcomes, chances: Floats) -> list[int]:
        """Outcomes that get a branch of their own, likeliest first.

        Those above the floor; where these say too little together, some below it; at least one.
        """
        order = np.argsort(-chances, kind="stable").tolist()
        known = [o for o in order if found.answers[o]]
        named = [o for o in known if chances[o] >= self.floor]
        for o in known[len(named) :]:
            enough = 1.0 - float(chances[named].sum()) <= MOST_OTHERWISE
            if enough or len(named) >= MOST_BRANCHES or chances[o] < LEAST:
                break
            named.append(o)
        return named or known[:1]


def _aims_at_step(session: Session, view: View) -> bool:
    """Whether the session is at a step, or on its way to one (and not to a repair or its proof)."""
    if view.sort not in ("act", "step") or session.state.pending is not None:
        return False
    return session.moment.assessment.advice.move == "step"
