"""What was done before the job began: asked for in lists, so that nobody is sent to do it again.

What is told so is evidence like any other. It proves no gate: gates pass on readings of the job.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from triage.job.desk import Moment
from triage.job.reply import Reply
from triage.job.view import Choice, Question, View
from triage.job.wording import banner_of, placed, power_of
from triage.model.base import RESERVED_ANSWERS
from triage.plan.candidates import MEMORY, Candidate, open_yields, outcomes
from triage.plan.candidates import recalled as from_memory
from triage.plan.lookahead import information

AREAS = "areas"
PAGE = 12
NOTHING = frozenset({"none", "nothing", "no", *RESERVED_ANSWERS})
MARK_ALL = "Type the numbers of all that apply, for example '1 3', or 'none'."
MORE = " Add 'more' for {left} more."
AFRESH = "On this route everything is looked at afresh: what was read once says nothing of today."
BEGUN = "What was done before need not be done again. It opens no safety gate."
HOW = "Answer from what you found then. Nothing is switched on or opened for it."
WHY = " You said that it was done before."


def area_of(candidate: Candidate, moment: Moment) -> str:
    """Id of the first area of ``already.yaml`` that takes the step; '' where none does."""
    procedure = candidate.procedure
    path = moment.bench.grounded.instances[candidate.yields[0]].finding.path
    for area in moment.bench.knowledge.plain["already"]:
        if (
            path in area["paths"]
            and procedure.power in area.get("powers", [procedure.power])
            and set(procedure.at) & set(area.get("at", procedure.at))
        ):
            return str(area["id"])
    return ""


def next_view(moment: Moment) -> View | Candidate | None:
    """The next list to tick, a step to answer from memory, or None where all is told."""
    if not moment.state.recalling:
        return None
    areas = _ticked(moment, AREAS)
    if areas is None:
        rows = {row["id"]: row["says"] for row in moment.bench.knowledge.plain["already"]}
        return _list(moment, AREAS, "What was measured, swapped or tried before?", rows)
    if not areas:
        return None
    for area in areas:
        screen = f"list:{area}"
        if _ticked(moment, screen) is None:
            rows = _unlisted(moment, area, screen)
            if rows:
                return _list(moment, screen, _says(moment, area), rows)
    return _told_next(moment)


def open_steps(moment: Moment) -> dict[str, list[Candidate]]:
    """Steps that may have been done and still have something to tell, by procedure."""
    found: dict[str, list[Candidate]] = {}
    applicable = moment.assessment.gathered.applicable
    for candidate in moment.bench.done_before:
        if open_yields(candidate, moment.asked, applicable):
            found.setdefault(candidate.procedure.id, []).append(candidate)
    return found


def _unlisted(moment: Moment, area: str, screen: str) -> dict[str, str]:
    """What of an area was not listed yet, most telling first: id and title."""
    listed = {i for row in moment.state.ticked if row.screen == screen for i in row.listed}
    state, rows = moment.assessment.state, []
    for ident, there in open_steps(moment).items():
        if ident in listed or area_of(there[0], moment) != area:
            continue
        bits = max(information(state.posterior, outcomes(state, c.yields)) for c in there)
        rows.append((-bits, ident, there[0].procedure.title.replace("{place}", "the part")))
    return {ident: title for _, ident, title in sorted(rows)}


def _told_next(moment: Moment) -> View | Candidate | None:
    """The first ticked step that has not been answered: where, if there are several places."""
    open_now = open_steps(moment)
    for area in _ticked(moment, AREAS) or ():
        for ident in _ticked(moment, f"list:{area}") or ():
            skipped, memory = moment.state.declined, ident + MEMORY
            there = [c for c in open_now.get(ident, []) if f"{memory}@{c.key[1]}" not in skipped]
            if not there:
                continue
            screen = f"places:{ident}"
            chosen = _ticked(moment, screen)
            if len(there) > 1 and chosen is None:
                rows = {c.places[0].id: placed(moment, c.places[0].id) for c in there}
                title = there[0].procedure.title.replace("{place}", "the part")
                return _list(moment, screen, f"{title.rstrip('?')}: where?", rows)
            for candidate in there:
                if chosen is None or candidate.places[0].id in chosen:
                    return from_memory(candidate, HOW, WHY)
    return None


def _ticked(moment: Moment, screen: str) -> tuple[str, ...] | None:
    """What was ticked in a list, over its pages; None while it is not over."""
    pages = [row for row in moment.state.ticked if row.screen == screen]
    if not pages or pages[-1].more:
        return None
    return tuple(ident for page in pages for ident in page.chosen)


def _says(moment: Moment, area: str) -> str:
    rows = moment.bench.knowledge.plain["already"]
    said = next(str(row["says"]) for row in rows if row["id"] == area)
    return said[:1].upper() + said[1:]


def _list(moment: Moment, screen: str, title: str, rows: Mapping[str, str]) -> View:
    """One page of a list, with 'more' where it goes on."""
    choices = tuple(Choice(ident, said) for ident, said in list(rows.items())[:PAGE])
    left = len(rows) - len(choices)
    how = MARK_ALL + (MORE.format(left=left) if left else "")
    return View(
        "already",
        title,
        power=power_of(moment),
        banner=banner_of(moment),
        why=BEGUN if screen == AREAS else "",
        how=(how,),
        questions=(Question(screen, "", "Which?", choices, ""),),
        more=left,
        ident=screen,
    )


def tick(view: View, text: str, moment: Moment) -> dict[str, Any] | Reply:
    """What was typed at a list, as an event's data; a refusal where it is none of it.

    Where no list is shown, the lists begin.
    """
    if view.sort != "already":
        if view.sort not in ("step", "act", "repair") or moment.state.pending is not None:
            return Reply(False, "That is asked when the next step is shown.")
        if moment.bench.profile.route != "fault":
            return Reply(False, AFRESH)
        return {"screen": "open"}
    question = view.questions[0]
    idents = [choice.answer for choice in question.choices]
    chosen: list[str] = []
    words = text.lower().replace(",", " ").split()
    for word in words:
        if word.isdigit() and 1 <= int(word) <= len(idents):
            chosen.append(idents[int(word) - 1])
        elif word in idents:
            chosen.append(word)
        elif word not in NOTHING and not (word == "more" and view.more):
            return Reply(False, f"'{word}' is none of them. {MARK_ALL}")
    if not words or (chosen and NOTHING & set(words)):
        return Reply(False, MARK_ALL)
    named = list(dict.fromkeys(chosen))
    return {"screen": view.ident, "listed": idents, "chosen": named, "more": "more" in words}
