"""Sessions on built-in amplifiers, with events kept in a list and a clock that is told what to say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

from tests.properties.random_sessions import GOOD
from triage.assess import Bench
from triage.errors import BadReading
from triage.job import views
from triage.job.events import Event
from triage.job.fold import JobState, fold
from triage.job.session import Session
from triage.job.view import View
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.model.profile import Owner
from triage.plan.candidates import Candidate
from triage.units import value_of


@cache
def knowledge() -> Knowledge:
    """All knowledge, loaded once."""
    return load(knowledge_dir())


@cache
def bench(amplifier: str = "linden_hall", skill: str = "novice") -> Bench:
    """Bench of a built-in amplifier; anybody but a novice has a limiter and a second person."""
    profile = knowledge().profiles[amplifier]
    if skill != "novice":
        tools = ["multimeter", "limiter", "isolation_transformer", "high_impedance_meter"]
        owner = Owner(skill=skill, tools=tools, second_person="yes")
        profile = profile.model_copy(update={"owner": owner})
    return Bench.make(knowledge(), profile)


@dataclass
class Clock:
    """Gives the seconds it is set to, ten more each time."""

    now: float = 1000.0

    def __call__(self) -> float:
        self.now += 10.0
        return self.now


class Aimed(Session):
    """A session whose person wants one step and no other: every way to it is the session's own."""

    aim: Candidate | None = None

    def view(self) -> View:
        """The step aimed at or what has to come first; hazards and proofs come before all."""
        if self.aim is None or self.state.safety.hazards or self.state.pending:
            return super().view()
        return views.step_view(self.moment, self.aim, self.aim.yields[:1], "asked for")

    def aim_at(self, procedure: str, place: str = "") -> None:
        """Aim at a procedure, at a place where it has several."""
        self.aim = next(
            c
            for c in self.bench.candidates
            if c.key[0] == procedure and place in ("", *(p.id for p in c.places))
        )

    def reach(self, most: int = 40) -> View:
        """Do and confirm well whatever comes first; the view that is no act any more."""
        for _ in range(most):
            shown = self.view()
            if shown.sort != "act":
                return shown
            reply = self.confirm(good_fields(shown))
            assert reply.ok, reply.message
        raise AssertionError(f"{most} acts and still no step: {shown.title}")


def good_fields(shown: View) -> dict[str, str]:
    """Fields that pass."""
    if shown.act == "gate":
        return dict(GOOD[shown.ident])
    return {name: "0.3 V" for name, _ in shown.fields}


def start(
    amplifier: str = "linden_hall", skill: str = "novice", events: Iterable[Event] = ()
) -> tuple[Aimed, list[Event], Clock]:
    """A session (begun, or from events), what it keeps, and its clock."""
    kept, clock = list(events), Clock()
    session = Aimed(bench(amplifier, skill), kept.append, clock, list(kept))
    if not kept:
        session.begin()
    return session, kept, clock


def state_of(*rows: tuple[str, dict[str, Any]], at: float = 0.0) -> JobState:
    """State of events given as (kind, data), a second apart."""
    return fold(events_of(*rows, at=at))


def events_of(*rows: tuple[str, dict[str, Any]], at: float = 0.0) -> list[Event]:
    """Events given as (kind, data), a second apart."""
    return [Event(n=n, at=at + n, kind=kind, data=data) for n, (kind, data) in enumerate(rows)]


def gate_data(gate: str) -> dict[str, Any]:
    """Data of an act that proves a gate."""
    says, reads = {"gate": gate}, {}
    for name, text in GOOD.get(gate, {}).items():
        for unit in ("V", "ohm", ""):
            try:
                reads[name] = value_of(text, unit)
                break
            except BadReading:
                continue
        else:
            says[name] = text
    return {"act": "gate_passed", "says": says, "reads": reads}


def answered(finding: str, place: str, answer: str) -> tuple[str, dict[str, Any]]:
    """An answer as an event row."""
    return "answer_given", {"finding": finding, "place": place, "answer": answer}


def act(kind: str, **reads: float) -> tuple[str, dict[str, Any]]:
    """An act as an event row."""
    return "act_done", {"act": kind, "says": {}, "reads": reads}
