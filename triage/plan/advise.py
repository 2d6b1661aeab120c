"""The next move: a step, a repair, nothing wrong, or hand over; and why.

Safety enters only as prices and refusals from a gatekeeper; it is never weighed against what a
reading would tell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from triage.infer.ground import Grounded, Key
from triage.infer.posterior import State
from triage.model.entries import Procedure
from triage.plan.candidates import Candidate, open_yields
from triage.plan.costs import ENDS, RepairGroups, procedure_cost
from triage.plan.lookahead import Priced, Valued, tell, value_candidates
from triage.plan.repeats import to_repeat
from triage.plan.rollout import Tests, Way, best_way

Floats = NDArray[np.float64]
ROOT_ALIVE = 0.05
CANNOT_AGAIN = 0.5
LAST = "Before it is handed over: this may still make one repair likely enough."


class Gatekeeper(Protocol):
    """What safety says of a procedure, as a price in minutes; None where it never may be done."""

    def extra_cost(self, procedure: Procedure) -> float | None:
        """Minutes for the gates still missing and the change of power state."""
        ...


@dataclass(frozen=True)
class Situation:
    """What the planner looks at; everything is derived from the journal."""

    state: State
    groups: RepairGroups
    candidates: tuple[Candidate, ...]
    asked: frozenset[int]
    applicable: Mapping[int, bool | None]
    declined: Mapping[str, int]
    firsts: tuple[str, ...] = ()
    hazard_open: bool = False
    tried: frozenset[tuple[str, str]] = frozenset()
    musts: tuple[str, ...] = ()
    repeated: frozenset[int] = frozenset()
    forgotten: frozenset[int] = frozenset()
    known: Mapping[Key, str] = field(default_factory=dict)

    @cached_property
    def mass(self) -> Floats:
        """Probability per repair group; what was tried and failed its proof is not tried again."""
        return self.untried(self.groups.mass(self.state.posterior))

    def untried(self, mass: Floats) -> Floats:
        """The same without what was tried and failed its proof, shape (..., groups)."""
        left = mass.copy()
        for key in self.tried:
            if key in self.groups.keys:
                left[..., self.groups.keys.index(key)] = 0.0
        return left

    @property
    def leader(self) -> int:
        """The likeliest repair group."""
        return int(np.argmax(self.mass))

    @property
    def aim(self) -> int:
        """What to settle on now: the leader if it is sure or sound, else what saves most."""
        leader, mass = self.leader, self.mass
        sound = self.groups.keys[leader][0] == "nothing_wrong" and mass[leader] >= self.sound
        if self.sure or sound:
            return leader
        saved = self.groups.saved(mass)
        best = int(np.argmax(saved))
        return best if saved[best] > 0.0 else leader

    @cached_property
    def wanted(self) -> float:
        """Probability at which the leading repair is made."""
        return self.state.model.grounded.knowledge.weights()["sure_enough"]

    @cached_property
    def sound(self) -> float:
        """Probability below which nothing is called sound, however cheap: it ends the job."""
        return self.state.model.grounded.knowledge.weights()["sound_enough"]

    @property
    def sure(self) -> bool:
        """Whether the leading repair group is sure enough to be made, and worth its price."""
        leader, mass = self.leader, self.mass
        worth = self.groups.keys[leader][0] in ENDS or self.groups.saved(mass)[leader] > 0.0
        return bool(mass[leader] >= self.wanted and worth)


@dataclass(frozen=True)
class Advice:
    """What to do next. ``why`` is one sentence; ``options`` are the candidates, best first."""

    move: Literal["step", "repair", "nothing_wrong", "hand_over", "stop"]
    why: str
    candidate: Candidate | None = None
    findings: tuple[int, ...] = ()
    repair: tuple[str, str] | None = None
    options: tuple[Valued, ...] = ()
    roots: tuple[tuple[str, str], ...] = ()


Adviser = Callable[[Situation, Gatekeeper], Advice]
"""What chooses the next move; ``advise`` unless orders of tests are being compared."""


def price(situation: Situation, gatekeeper: Gatekeeper) -> list[Priced]:
    """Candidates that are still open and may be done, with their whole price."""
    weights = situation.state.model.grounded.knowledge.weights()
    extra: dict[str, float | None] = {}
    found: list[Priced] = []
    done = (situation.asked, situation.asked | situation.forgotten)
    for candidate in situation.candidates:
        procedure, named = candidate.procedure, candidate.key[0]
        findings = open_yields(candidate, done[candidate.recalled], situation.applicable)
        if not findings or "@".join(candidate.key) in situation.declined:
            continue
        if named not in extra:
            extra[named] = gatekeeper.extra_cost(procedure)
        more = extra[named]
        if more is None:
            continue
        cost = procedure_cost(procedure, weights, len(candidate.places)) + more
        cannot = procedure.cannot
        if situation.declined.get(named, 0):
            cannot = min(0.95, max(cannot, CANNOT_AGAIN) * situation.declined[named])
        found.append(Priced(candidate, findings, cost / max(1.0 - cannot, 0.05)))
    return found


def advise(situation: Situation, gatekeeper: Gatekeeper) -> Advice:
    """Choose the next move (design section 5; stop rule of semantics 1.3)."""
    if situation.hazard_open:
        return Advice("stop", "A hazard is open: nothing else is done until it is dealt with.")
    priced = price(situation, gatekeeper)
    first = put_first(situation, priced)
    told = tell(situation.state, priced)
    options = tuple(value_candidates(situation.state, situation.groups, priced, told))
    if first is not None:
        return replace(first, options=options)
    best = options[0] if options else None
    if not situation.sure and best is not None and best.value > 0.0:
        return Advice(
            "step",
            _why_step(best),
            best.priced.candidate,
            best.priced.findings,
            options=options,
        )
    tests = Tests(situation.state, priced, told) if priced else None
    way = (
        None
        if situation.sure or tests is None
        else best_way(tests, situation.groups, situation.wanted)
    )
    if way is not None:
        why = f"No single reading pays, but going on should save {_minutes(max(round(way.saves), 1))}."
        return Advice("step", why, way.first.candidate, way.first.findings, options=options)
    return conclude(situation, priced, options, gatekeeper, tests)


def conclude(
    situation: Situation,
    priced: list[Priced],
    options: tuple[Valued, ...] = (),
    gatekeeper: Gatekeeper | None = None,
    tests: Tests | None = None,
) -> Advice:
    """No more tests for their own sake: what comes before the leading repair, then the repair."""
    groups = situation.groups
    leader = situation.aim
    p = float(situation.mass[leader])
    roots = _living_roots(situation, groups.keys[leader])
    before = _before_repair(situation, groups.keys[leader], roots, priced)
    if before is not None:
        item, why = before
        return Advice("step", why, item.candidate, item.findings, options=options, roots=roots)
    if situation.sure:
        why = f"The leading repair stands at {p:.0%}, which is sure enough."
    elif not priced:
        why = "No reading is left that you could take."
    else:
        why = "Repairing now costs less than any reading would save."
    settled = _settle(situation, leader, why, options, roots)
    if settled.move in ("hand_over", "repair") and not situation.sure:
        again = _again(situation, gatekeeper, options)
        if again is not None:
            return again
    if settled.move == "hand_over" and priced:
        tests = tests or Tests(situation.state, priced, tell(situation.state, priced))
        way = _last_way(situation, tests)
        if way is not None:
            return Advice("step", LAST, way.first.candidate, way.first.findings, options=options)
    return settled


def _again(
    situation: Situation, gatekeeper: Gatekeeper | None, options: tuple[Valued, ...]
) -> Advice | None:
    """The cheapest answer to look at once more, where the findings contradict one another."""
    if gatekeeper is None:
        return None
    weights = situation.state.model.grounded.knowledge.weights()
    prices: dict[tuple[str, str], float] = {}
    for candidate in situation.candidates:
        more = gatekeeper.extra_cost(candidate.procedure)
        if more is not None and not situation.declined.get(candidate.procedure.id, 0):
            prices[candidate.key] = procedure_cost(candidate.procedure, weights) + more
    found = to_repeat(situation.state, situation.candidates, prices, situation.repeated)
    if found is None:
        return None
    candidate, finding, times = found
    why = (
        f"Together the findings are {times:.0f} times rarer than apart. If one of them is wrong, "
        "it may be this one: look once more."
    )
    return Advice("step", why, candidate, (finding,), options=options)


def _last_way(situation: Situation, tests: Tests) -> Way | None:
    """Readings that may still make one repair likely enough, where it would be handed over."""
    groups = situation.groups

    def settle(posteriors: Floats) -> Floats:
        saved = groups.saved(situation.untried(groups.mass(posteriors)))
        return np.asarray(groups.hand_over_cost - saved.max(axis=-1))

    return best_way(tests, groups, situation.wanted, settle)


def _before_repair(
    situation: Situation,
    key: tuple[str, str],
    roots: tuple[tuple[str, str], ...],
    priced: list[Priced],
) -> tuple[Priced, str] | None:
    """A step that comes before the leading repair, whatever it is worth; and why."""
    for root in roots:
        probe = _probe_root(situation, root, priced)
        if probe is not None:
            return probe, (
                "The leading part may only be a victim: what would have damaged it "
                "is looked at first."
            )
    if key[0] == "nothing_wrong":
        must = _still_wanted(situation, priced)
        if must is not None:
            return must, "Before it is called sound: this belongs to the round of checks."
    check = _before_new_part(situation, key, priced)
    if check is not None:
        return check, "Before the new part goes in: what would spoil it is looked at first."
    return None


def _settle(
    situation: Situation,
    leader: int,
    why: str,
    options: tuple[Valued, ...],
    roots: tuple[tuple[str, str], ...],
) -> Advice:
    groups, p = situation.groups, float(situation.mass[leader])
    name, place = groups.keys[leader]
    if name == "hand_over":
        return Advice(
            "hand_over",
            "Nothing in these files explains the findings well enough. " + why,
            options=options,
        )
    if name == "nothing_wrong" and p >= situation.sound:
        return Advice("nothing_wrong", why, repair=(name, place), options=options)
    if groups.saved(situation.mass)[leader] <= 0.0:
        return Advice(
            "hand_over",
            f"The likeliest part stands at {p:.0%}: too little to buy it on."
            if groups.too_dear_at(leader, p)
            else "No single repair is likely enough to be worth its price.",
            repair=(name, place),
            options=options,
        )
    return Advice("repair", why, repair=(name, place), options=options, roots=roots)


def put_first(situation: Situation, priced: Iterable[Priced]) -> Advice | None:
    """The step that a rule puts first, if one does and it is open."""
    for wanted in situation.firsts:
        ready = [item for item in priced if item.candidate.procedure.id == wanted]
        if ready:
            item = min(ready, key=lambda item: (item.cost, item.candidate.key))
            return Advice("step", "A rule puts this first.", item.candidate, item.findings)
    return None


def _why_step(best: Valued) -> str:
    saved, price = max(round(best.value), 1), max(round(best.priced.cost), 1)
    return f"Its price is about {_minutes(price)}, and it should save {_minutes(saved)} more than that."


def _minutes(n: int) -> str:
    return "a minute" if n == 1 else f"{n} minutes"


def _still_wanted(situation: Situation, priced: Iterable[Priced]) -> Priced | None:
    """The first open step of the route's round of checks that this person can do."""
    by_id: dict[str, Priced] = {}
    for item in priced:
        if not item.candidate.recalled:
            by_id.setdefault(item.candidate.procedure.id, item)
    wanted = (by_id.get(ident) for ident in situation.musts)
    return next(
        (m for m in wanted if m and not situation.declined.get(m.candidate.procedure.id, 0)), None
    )


def _before_new_part(
    situation: Situation, key: tuple[str, str], priced: Iterable[Priced]
) -> Priced | None:
    """The cheapest open check that this repair wants to have passed, near where it is made."""
    grounded = situation.state.model.grounded
    repair = grounded.knowledge.repairs.get(key[0])
    if repair is None or not repair.before_new_part:
        return None
    walk = grounded.places.walk
    near = {key[1], "amp", *walk(key[1], "self.feeds"), *walk(key[1], "self.fed_by")}
    ready = [
        item
        for item in priced
        if item.candidate.procedure.id in repair.before_new_part
        and not situation.declined.get(item.candidate.procedure.id, 0)
        and near & {grounded.instances[f].key[1] for f in item.findings}
    ]
    return min(ready, key=lambda item: (item.cost, item.candidate.key)) if ready else None


def _living_roots(situation: Situation, key: tuple[str, str]) -> tuple[tuple[str, str], ...]:
    """Causes that would have brought on the leading one and have not been looked at yet."""
    grounded = situation.state.model.grounded
    found: list[tuple[str, str]] = []
    for row, hypothesis in enumerate(grounded.hypotheses[: grounded.healthy]):
        if situation.groups.keys[situation.groups.of_row[row]] != key:
            continue
        if situation.state.posterior[row] < ROOT_ALIVE:
            continue
        for ref in grounded.knowledge.causes[hypothesis.cause].brought_on_by:
            for place in grounded.places.walk(hypothesis.place, ref.of):
                root = (ref.cause, place)
                if _row(grounded, root) is not None and not _looked_at(situation, root):
                    found.append(root)
    return tuple(dict.fromkeys(found))


def _row(grounded: Grounded, root: tuple[str, str]) -> int | None:
    for row, hypothesis in enumerate(grounded.hypotheses):
        if (hypothesis.cause, hypothesis.place) == root:
            return row
    return None


def _worded(situation: Situation, root: tuple[str, str]) -> set[int]:
    """Findings whose answers the root itself would change."""
    grounded = situation.state.model.grounded
    row = _row(grounded, root)
    direct = {finding for finding, r in grounded.words if r == row}
    signs = {sign for sign, r in grounded.sign_words if r == row}
    return direct | {f for sign in signs for f in grounded.blocks[sign]}


def _looked_at(situation: Situation, root: tuple[str, str]) -> bool:
    grounded = situation.state.model.grounded
    near = {root[1]} | set(grounded.places.walk(root[1], "self.feeds"))
    return any(
        f in situation.asked and grounded.instances[f].key[1] in near
        for f in _worded(situation, root)
    )


def _probe_root(
    situation: Situation, root: tuple[str, str], priced: Iterable[Priced]
) -> Priced | None:
    grounded = situation.state.model.grounded
    near = {root[1]} | set(grounded.places.walk(root[1], "self.feeds"))
    worded = {f for f in _worded(situation, root) if grounded.instances[f].key[1] in near}
    ready = [item for item in priced if worded & set(item.findings)]
    return min(ready, key=lambda item: (item.cost, item.candidate.key)) if ready else None
