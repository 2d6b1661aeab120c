"""What somebody who has a case's facts ticks in the lists of what was done before."""

from __future__ import annotations

from triage.infer.ground import Key
from triage.job.already import AREAS, area_of, open_steps
from triage.job.session import Session
from triage.job.view import View
from triage.plan.candidates import Candidate
from triage.world.case import CaseWorld


def done_before(session: Session, world: CaseWorld, view: View) -> str:
    """Numbers of the lines that the case has facts for, 'more' where it has some not listed yet.

    Every fact is ticked once, at the step that brings most of them.
    """
    moment, screen = session.moment, view.ident
    steps = open_steps(moment)
    left = _open_facts(session, world)
    if screen.startswith("places:"):
        there = steps.get(screen.removeprefix("places:"), [])
        wanted = {c.places[0].id for c in there if _keys(session, [c]) & left}
        return _typed(view, wanted, more=False)
    brings = {ident: _keys(session, there) & left for ident, there in steps.items()}
    done: set[str] = set()
    while left and any(brings.values()):
        best = min(brings, key=lambda ident: (-len(brings[ident]), ident))
        done.add(best)
        left = left - brings[best]
        brings = {ident: keys & left for ident, keys in brings.items()}
    areas = {ident: area_of(steps[ident][0], moment) for ident in done}
    if screen == AREAS:
        return _typed(view, set(areas.values()), more=False)
    inside = {ident for ident in done if f"list:{areas[ident]}" == screen}
    listed = {choice.answer for choice in view.questions[0].choices}
    before = {i for row in moment.state.ticked if row.screen == screen for i in row.listed}
    return _typed(view, inside, more=bool(inside - listed - before))


def _open_facts(session: Session, world: CaseWorld) -> set[Key]:
    """What the case knows and has not said."""
    index = session.bench.grounded.index
    return {key for key in world.known if key in index and index[key] not in session.moment.asked}


def _keys(session: Session, there: list[Candidate]) -> set[Key]:
    return {session.bench.grounded.instances[f].key for c in there for f in c.yields}


def _typed(view: View, wanted: set[str], *, more: bool) -> str:
    numbers = [
        str(n)
        for n, choice in enumerate(view.questions[0].choices, start=1)
        if choice.answer in wanted
    ]
    return " ".join([*numbers, *(["more"] if more else [])]) or "none"
