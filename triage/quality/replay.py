"""Replay worked cases: all facts at once (``given``), or asked one step at a time (``asked``).

Silence in a case is never taken for 'no'. What is asked goes through the whole session, safety
included; a violation is counted by a rule of its own, apart from the safety room's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml
from pydantic import ValidationError

from triage.assess import Assessment, Bench
from triage.errors import KnowledgeError, Problem
from triage.job.assumed import assumed_fields
from triage.job.desk import Moment, Tools, amp_facts
from triage.job.fold import Answered, JobState
from triage.job.session import Session
from triage.job.view import View
from triage.knowledge.load import Knowledge, Lines, explain
from triage.model.case import Case
from triage.model.profile import Profile
from triage.plan.candidates import MEMORY
from triage.quality.remembered import done_before
from triage.safety.facts import ENERGISED
from triage.safety.states import SafetyState, energised
from triage.world.case import CaseWorld, places_of

LIST_MINUTES = 0.5
"""What it takes to read a list of twelve lines and tick it; common practice, no source."""
WORKSHOP = (
    "multimeter",
    "limiter",
    "isolation_transformer",
    "scope",
    "generator",
    "tube_tester",
    "capacitor_meter",
    "spare_tubes",
    "dummy_load",
    "discharge_tool",
    "shorting_plug",
    "other_speaker",
    "other_source",
    "wooden_stick",
    "high_impedance_meter",
    "probe_2kv",
    "insulation_tester",
    "leakage_tester",
    "variable_transformer",
)


def load_case(path: Path) -> Case:
    """Read one case file.

    Raises
    ------
    KnowledgeError : with place and mend; nothing is half read.
    """
    try:
        text = path.read_text(encoding="utf-8")
        lines = Lines(path.name, text)
    except (OSError, UnicodeDecodeError) as error:
        raise KnowledgeError([Problem(path.name, 1, f"cannot be read: {error}")]) from error
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = mark.line + 1 if mark is not None else 1
        raise KnowledgeError(
            [Problem(path.name, line, "not readable as YAML", mend="check quotes and indents.")]
        ) from error
    if lines.problems:
        raise KnowledgeError(lines.problems)
    try:
        return Case.model_validate(lines.value)
    except ValidationError as error:
        rows = list(explain(error, path.name, lines, (), 1, path.stem))
        raise KnowledgeError(rows) from error


def find_cases(paths: Iterable[str | Path]) -> list[Path]:
    """Case files named, or inside folders named."""
    found: list[Path] = []
    for given in paths:
        path = Path(given)
        found += sorted(path.rglob("*.yaml")) if path.is_dir() else [path]
    return found


def profile_of(kb: Knowledge, case: Case) -> Profile:
    """The case's amplifier, with the tools of a workshop: what a case knows was measured.

    Raises
    ------
    KnowledgeError : it names a scenario that is not in the knowledge, or nothing.
    """
    profile = kb.profiles.get(case.scenario or "") if case.scenario else case.profile
    if profile is None:
        raise KnowledgeError(
            [
                Problem(
                    f"case {case.case}",
                    1,
                    f"unknown scenario '{case.scenario}'",
                    mend="name one of " + ", ".join(kb.profiles) + ".",
                )
            ]
        )
    owner = profile.owner.model_copy(
        update={"skill": "technician", "tools": list(WORKSHOP), "second_person": "yes"}
    )
    isolation = "transformer" if profile.isolation == "unknown" else profile.isolation
    return profile.model_copy(update={"owner": owner, "isolation": isolation})


@dataclass
class Tally:
    """What an asked replay cost."""

    questions: int = 0
    minutes: float = 0.0
    live: int = 0
    violations: int = 0
    asked: list[str] = field(default_factory=list)


def kind_rank(assessed: Assessment, kind: str) -> tuple[int | None, float]:
    """Rank and probability of a kind of place among all kinds, nothing wrong and unknown."""
    mass: dict[str, float] = {"nothing_wrong": assessed.healthy, "unknown": assessed.unknown}
    for row in assessed.kinds:
        mass[row.kind] = mass.get(row.kind, 0.0) + row.p
    if kind not in mass:
        return None, 0.0
    order = sorted(mass, key=lambda name: (-mass[name], name))
    return order.index(kind) + 1, mass[kind]


def place_rank(assessed: Assessment, places: Sequence[str]) -> tuple[int | None, float]:
    """Rank and probability of a place among all places."""
    mass: dict[str, float] = {}
    for suspect in assessed.suspects:
        mass[suspect.place] = mass.get(suspect.place, 0.0) + suspect.p
    true = [place for place in places if place in mass]
    if not true:
        return None, 0.0
    order = sorted(mass, key=lambda name: (-mass[name], name))
    best = max(true, key=lambda place: mass[place])
    return order.index(best) + 1, mass[best]


def given(bench: Bench, case: Case) -> Assessment:
    """All that the case knows before any repair, at once."""
    answers: list[Answered] = []
    for n, fact in enumerate(f for f in (*case.told, *case.known) if f.epoch == 0):
        for place in places_of(bench.grounded, fact.of):
            answers.append(
                Answered(
                    n=n,
                    finding=fact.finding,
                    place=place,
                    answer=fact.answer or "unknown",
                    typed=fact.reading or "",
                    kept=True,
                    happening=fact.happening,
                )
            )
    state = JobState(answers=tuple(answers))
    return Moment(bench, Tools.of(bench), state, amp_facts(bench)).assessment


def asked(bench: Bench, case: Case, limit: int) -> tuple[Assessment, Tally]:
    """The session chooses; the case answers what it knows, else unknown."""
    world = CaseWorld(bench.grounded, case)
    clock = iter(range(0, 10_000_000, 30))
    public = case.origin.of == "public"  # a report tells what was done, ours what would be read
    session = Session(
        bench, lambda event: None, lambda: float(next(clock)), asks_what_was_done=public
    )
    session.begin()
    for (finding, place), reply in world.complaint():
        session.tell(finding, place, reply.answer or "unknown", reply.happening)
    session.complaint_over(silence_counts=False)
    tally = Tally()
    for _ in range(limit * 12):
        view = session.view()
        if view.sort == "step":
            if tally.questions >= limit:
                break
            _step(session, world, view, tally)
        elif view.sort == "already":
            if tally.questions >= limit:
                break
            tally.questions += 1
            tally.minutes += LIST_MINUTES
            session.already(done_before(session, world, view))
        elif view.sort in ("act", "hazard"):
            if not _act(session, view):
                break
            tally.minutes += 2.0 if view.sort == "act" else 0.0
        else:
            break
    return session.moment.assessment, tally


def _step(session: Session, world: CaseWorld, view: View, tally: Tally) -> None:
    tally.questions += 1
    tally.minutes += view.minutes
    tally.asked.append(f"{view.ident}@{view.place}")
    tally.violations += violation(session, view)
    if view.power in ENERGISED and not view.ident.endswith(MEMORY):
        procedure = session.bench.knowledge.procedures[view.ident]
        tally.live += procedure.hands.live
    for question in view.questions:
        reply = world.ask(question.finding, question.place)
        text = reply.reading or reply.answer or "unknown"
        session.put(question.finding, question.place, text, reply.happening, view.ident)


def violation(session: Session, view: View) -> int:
    """1 where a step was shown that should not have been, by a plain rule of this module's own."""
    if view.ident.endswith(MEMORY):
        return 0
    procedure = session.bench.knowledge.procedures[view.ident]
    safety: SafetyState = session.state.safety
    live = energised(safety)
    proven = {proof.gate for proof in safety.proofs}
    if safety.hazards:
        return 1
    if procedure.power in ENERGISED and not {"G3", "G4", "G5", "G6"} <= proven:
        return 1
    if procedure.power in ("unplugged", "cold") and live:
        return 1
    dead = all(abs(v) < 10.0 for _, v in safety.dead) and bool(safety.dead)
    if procedure.opens and procedure.power == "cold" and not dead:
        return 1
    return 0


def _act(session: Session, view: View) -> bool:
    """Take an act as done: replays test reasoning, so its safety is as it should be."""
    assumed = assumed_fields(view, session.moment.facts)
    wanted = {name for name, _ in view.fields}
    return session.confirm({k: v for k, v in assumed.items() if k in wanted}).ok


def replay(
    kb: Knowledge, paths: Sequence[str | Path], ways: Sequence[str], limit: int = 25
) -> list[dict[str, Any]]:
    """One row per case and way.

    Raises
    ------
    KnowledgeError : a case cannot be read.
    """
    rows: list[dict[str, Any]] = []
    for path in find_cases(paths):
        case = load_case(path)
        bench = Bench.make(kb, profile_of(kb, case))
        true_places = places_of(bench.grounded, case.truth.of) if case.truth.of else ()
        for way in ways:
            tally = Tally()
            if way == "given":
                assessed = given(bench, case)
            else:
                assessed, tally = asked(bench, case, limit)
            rank, p = kind_rank(assessed, kb.kind_of(case.truth.kind))
            place_at, place_p = place_rank(assessed, true_places)
            rows.append(
                {
                    "case": case.case,
                    "way": way,
                    "kind": case.truth.kind,
                    "kind_rank": rank,
                    "kind_p": round(p, 4),
                    "place_rank": place_at if "place" in case.score else None,
                    "place_p": round(place_p, 4) if "place" in case.score else None,
                    "questions": tally.questions,
                    "minutes": round(tally.minutes, 1),
                    "cost": round(_cost(kb, tally), 1),
                    "energised_touches": tally.live,
                    "gate_violations": tally.violations,
                }
            )
        bench.close()
    return rows


def _cost(kb: Knowledge, tally: Tally) -> float:
    weights = kb.weights()
    return tally.minutes * weights["minute"] + tally.live * weights["live_touch"]
