"""Whole jobs on simulated benches: the true session, driven to its end, with everything counted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from triage.assess import Bench
from triage.job.assumed import assumed_fields
from triage.job.gatekeeper import UNKNOWN_GATE, providers
from triage.job.session import Session
from triage.job.view import View
from triage.model.entries import Procedure, Repair
from triage.plan.costs import procedure_cost, repair_cost, wrong_repair_cost
from triage.quality.barred import repair_barred, steps_barred
from triage.safety.cleared import Cleared, clear
from triage.world.reply import Reply

MOST_TURNS = 1500
TUBES_MINUTES = 3.0
ACT_MINUTES = 0.5
REFUSALS = 3
"""An act that was not taken so often cannot be done (a proof that lapsed meanwhile is asked again)."""
EXPENSIVE_FROM = 2.0
"""Money from which a part is expensive (a pair of output tubes, a transformer)."""


class Hidden(Protocol):
    """A bench with faults in it which can be mended."""

    def complaint(self) -> tuple[tuple[tuple[str, str], Reply], ...]:
        """What its owner says unasked."""
        ...

    def ask(self, finding: str, place: str) -> Reply:
        """The reply to a finding at a place."""
        ...


@dataclass
class Faults:
    """Hidden rows that are still at fault, and what mends them."""

    bench: Bench
    rows: list[int]
    mended: Callable[[int], None] = lambda row: None

    def key(self, row: int) -> tuple[str, str]:
        """Repair and place that mend a row; ('hand_over', '') where nothing does."""
        groups = self.bench.groups
        return groups.keys[int(groups.of_row[row])]

    def repair(self, repair: str, place: str) -> bool:
        """Make a repair; whether it mended a fault."""
        for row in self.rows:
            if self.key(row) == (repair, place):
                self.rows.remove(row)
                self.mended(row)
                return True
        return False

    def right(self, key: tuple[str, str]) -> bool:
        """Whether this repair (or 'nothing wrong', or 'hand over') is right as things stand."""
        return any(self.key(row) == key for row in self.rows)

    @property
    def beyond(self) -> bool:
        """Whether handing over is the right end: not in the files, or not this person's repair."""
        grounded = self.bench.grounded
        for row in self.rows:
            if row == grounded.unknown:
                return True
            cause = self.bench.knowledge.causes.get(grounded.hypotheses[row].cause)
            lay = self.bench.profile.owner.skill != "technician"
            if cause is not None and self.bench.knowledge.repairs[cause.repair].hand_over and lay:
                return True
        return False

    @property
    def sick(self) -> bool:
        """Whether anything is still wrong."""
        return any(row != self.bench.grounded.healthy for row in self.rows)


@dataclass
class Record:
    """What one job took. Costs and minutes in minutes at the bench; touches as counts."""

    end: str = ""
    right: bool = False
    isolated: bool = False
    beyond: bool = False
    """Handed over: not in the files, or a repair that this person hands over."""
    named: bool = False
    """Handed over with the repair of a fault that is there in the lead."""
    barred: bool = False
    """Handed over: the repair, or all that would tell more of the fault, is closed to this person."""
    steps: int = 0
    minutes: float = 0.0
    cost: float = 0.0
    live: int = 0
    charged: int = 0
    clips: int = 0
    wrong_repairs: int = 0
    wrong_parts: int = 0
    wrong_expensive: int = 0
    violations: int = 0
    first_p: float = 0.0
    forecast: list[tuple[float, bool]] = field(default_factory=list)
    """Of every repair made: its probability, and whether it cured."""
    shown: list[tuple[float, bool]] = field(default_factory=list)
    """Of every step: the probability of the leading repair, and whether it is the right one."""
    leaders: list[tuple[str, str]] = field(default_factory=list)
    """What led before each repair, and at the end."""
    chances: list[float] = field(default_factory=list)
    """Its probability."""


class _Job:
    def __init__(self, bench: Bench, world: Hidden, faults: Faults) -> None:
        self.bench, self.world, self.faults = bench, world, faults
        self.weights = bench.knowledge.weights()
        self.providers = providers(bench.knowledge)
        self.record = Record()
        self.places = {c.key: len(c.places) for c in bench.candidates}
        self.now = 0.0
        self.refused = 0
        self.session = Session(bench, lambda event: None, self._clock)

    def _clock(self) -> float:
        self.now += 5.0
        return self.now

    def run(self) -> Record:
        session = self.session
        session.begin()
        self._complain()
        for _ in range(MOST_TURNS):
            view = session.view()
            if view.sort == "closed":
                self._ended(session)
                return self.record
            self._turn(view)
        self.record.end = "never ended"
        return self.record

    def _complain(self) -> None:
        for (finding, place), reply in self.world.complaint():
            self.session.tell(finding, place, reply.answer, reply.happening)
        self.session.complaint_over()

    def _turn(self, view: View) -> None:
        if view.sort == "complaint":
            self._complain()
        elif view.sort == "step":
            self._step(view)
        elif view.sort in ("act", "hazard"):
            self._act(view)
        elif view.sort == "repair":
            self._repair(view)
        elif view.sort == "proof":
            self.session.proof("failed" if self.faults.sick else "passed")

    def _spend(self, minutes: float, cost: float) -> None:
        self.record.minutes += minutes
        self.record.cost += cost
        self.now += minutes * 60.0

    def _cleared(self, entry: Procedure | Repair, place: str) -> None:
        moment = self.session.moment
        verdict = clear(entry, place, moment.state.safety, moment.facts)
        self.record.violations += not isinstance(verdict, Cleared)

    def _step(self, view: View) -> None:
        advised = self.session.moment.assessment.advice.candidate
        assert advised is not None
        procedure, n = advised.procedure, len(advised.places)
        self._cleared(procedure, view.place)
        leader, p = self._leader()
        self.record.shown.append((p, self.faults.right(leader)))
        self.record.steps += 1
        self.record.live += procedure.hands.live * n
        self.record.charged += procedure.hands.charged * n
        self.record.clips += procedure.hands.clip_cold * n
        for question in view.questions:
            said = self.world.ask(question.finding, question.place)
            self.session.put(
                question.finding, question.place, said.answer, said.happening, view.ident
            )
        minutes = procedure.minutes.setup + procedure.minutes.each * n
        self._spend(minutes, procedure_cost(procedure, self.weights, n))

    def _act(self, view: View) -> None:
        cost = ACT_MINUTES
        if view.act == "gate":
            provider = self.providers.get(view.ident)
            cost = procedure_cost(provider, self.weights) if provider else UNKNOWN_GATE
            cost = ACT_MINUTES if view.ident == "G16" else cost
        elif view.act in ("switch_on", "to_standby", "external_on"):
            cost = self.weights["power_up"]
        elif view.act == "discharged":
            cost = self.weights["make_cold"]
        elif view.act == "tubes":
            cost = TUBES_MINUTES
        fields = assumed_fields(view, self.session.moment.facts)
        wanted = {name for name, _ in view.fields}
        done = self.session.confirm({k: v for k, v in fields.items() if k in wanted}).ok
        self._spend(cost, cost)
        self.refused = 0 if done else self.refused + 1
        if self.refused >= REFUSALS:
            self.session.cannot()

    def _leader(self) -> tuple[tuple[str, str], float]:
        keys, mass = self.bench.groups.keys, self._mass()
        best = int(np.argmax(mass))
        return keys[best], float(mass[best])

    def _mass(self) -> NDArray[np.float64]:
        state = self.session.moment.assessment.state
        return self.bench.groups.after(state.proofs[1]).mass(state.posterior)

    def _repair(self, view: View) -> None:
        leader, chance = self._leader()
        self.record.leaders.append(leader)
        self.record.chances.append(chance)
        repair = self.bench.knowledge.repairs[view.ident]
        self._cleared(repair, view.place)
        key = (view.ident, view.place)
        p = float(self._mass()[self.bench.groups.keys.index(key)])
        cured = self.faults.repair(*key)
        self.record.forecast.append((p, cured))
        if not cured:
            self.record.wrong_repairs += 1
            self.record.wrong_parts += repair.money >= self.weights["part_from"]
            self.record.wrong_expensive += repair.money >= EXPENSIVE_FROM
        price = repair_cost if cured else wrong_repair_cost
        self.session.done()
        self._spend(repair.minutes, price(repair, self.weights))

    def _ended(self, session: Session) -> None:
        record, faults, groups = self.record, self.faults, self.bench.groups
        closed = session.state.closed
        move = "" if closed else session.moment.assessment.advice.move
        record.end = "repaired" if closed == "repaired" else "handed_over"
        if move == "nothing_wrong":
            record.end = "called_sound"
        leader, chance = self._leader()
        record.leaders.append(leader)
        record.chances.append(chance)
        record.isolated = not faults.sick or any(leader == faults.key(row) for row in faults.rows)
        if record.end == "repaired":
            record.right = not faults.sick
        elif record.end == "called_sound":
            record.right = not faults.sick
            self._spend(0.0, 0.0 if record.right else self.weights["wrong_all_clear"])
        else:
            moment, rows = self.session.moment, faults.rows
            record.beyond = faults.beyond
            record.named = faults.right(leader)
            record.barred = any(
                repair_barred(moment, row) or steps_barred(moment, row) for row in rows
            )
            record.right = record.beyond or record.named or record.barred
            self._spend(0.0, groups.hand_over_cost)


def run_job(bench: Bench, world: Hidden, faults: Faults) -> Record:
    """Drive one job to its end on a simulated bench and count what it took.

    Parameters
    ----------
    bench : knowledge on the amplifier, with the adviser (order of tests) to try.
    world : answers questions.
    faults : what is wrong; made right by repairs.
    """
    return _Job(bench, world, faults).run()


def weighted(bench: Bench, times: Mapping[str, float]) -> Bench:
    """The same bench with some exchange rates multiplied."""
    rows = [
        {**row, "is": float(row["is"]) * times.get(str(row["id"]), 1.0)}
        for row in bench.knowledge.plain["weights"]
    ]
    knowledge = replace(bench.knowledge, plain={**bench.knowledge.plain, "weights": rows})
    return Bench.make(knowledge, bench.profile, bench.adviser)
