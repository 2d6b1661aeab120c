"""Nodes of an order of steps: what a person reads at each, as plain values.

A step becomes a card only where safety clears it at that moment.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from triage.assess import says
from triage.errors import SafetyRefusal
from triage.infer.ground import Grounded
from triage.job import lists
from triage.job.session import Session
from triage.job.view import View
from triage.model.entries import Hands
from triage.plan.candidates import Candidate, Outcomes
from triage.plan.costs import procedure_cost
from triage.safety.cleared import Cleared, clear
from triage.safety.states import Act, energised

Floats = NDArray[np.float64]
Sort = Literal[
    "act", "gate", "hazard", "step", "repair", "proof", "nothing_wrong", "hand_over", "goes_on"
]
SAFETY = frozenset({"act", "gate", "hazard"})
LEAVES = frozenset({"proof", "nothing_wrong", "hand_over", "goes_on"})
GOES_ON = "Leading suspects:"
LEADING = 3
FAR_BEHIND = 0.1
"""At most three suspects at an end, none with less than a tenth of the first one's chance."""
NO_LIMITER = "No limiter is among the tools: build or borrow one, or hand it over here."
LEAVE = "Before you leave it: switch off and pull the plug; it stays charged and hot."


@dataclass(frozen=True)
class Card:
    """One node of the tree, as plain values.

    ``price`` and ``minutes`` in minutes (price: with money, touches, gates and change of power, as
    the planner weighs it); ``money`` in small tubes. ``act``: what is physically done here, with the
    readings that are assumed. ``where``: the place in words, where the title does not say it.
    ``lines``: of a repair its parts, of a proof what proves it, of 'goes
    on' the leading suspects, of a hazard what to do at once.
    """

    sort: Sort
    title: str
    number: str = ""
    ident: str = ""
    place: str = ""
    where: str = ""
    power: str = ""
    banner: tuple[str, ...] = ()
    why: str = ""
    price: float = 0.0
    minutes: float = 0.0
    money: float = 0.0
    hands: Hands = Hands()
    asks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    act: Act | None = None


def act_card(session: Session, view: View, act: Act | None) -> Card:
    """An act, a gate or a hazard that has just been dealt with well."""
    sort: Sort = "hazard" if view.sort == "hazard" else "gate" if view.act == "gate" else "act"
    missing = view.act == "limiter_fitted" and "limiter" not in session.moment.facts.tools
    return Card(
        sort,
        view.title,
        ident=view.ident,
        power=view.power,
        banner=view.banner,
        why=view.why,
        cautions=(*view.cautions, *((NO_LIMITER,) if missing else ())),
        lines=view.how if sort != "act" else (),
        act=act,
    )


def _aim(session: Session) -> Candidate:
    candidate = session.moment.assessment.advice.candidate
    if candidate is None:
        raise SafetyRefusal(["a step is shown that nothing advises"])
    return candidate


def step_card(session: Session, view: View, number: str) -> Card:
    """A step cleared at this moment; what it costs.

    Raises
    ------
    SafetyRefusal : safety does not clear it now.
    """
    moment, candidate = session.moment, _aim(session)
    procedure = candidate.procedure
    cleared = clear(procedure, view.place, moment.state.safety, moment.facts)
    if not isinstance(cleared, Cleared):
        raise SafetyRefusal(list(cleared.reasons))
    weights = moment.bench.knowledge.weights()
    prices = {o.priced.candidate.key: o.priced.cost for o in moment.assessment.advice.options}
    own = procedure_cost(procedure, weights, len(candidate.places))
    return Card(
        "step",
        view.title,
        number,
        ident=view.ident,
        place=cleared.place,
        where=_where(session, view),
        power=cleared.power,
        banner=cleared.banner,
        why=view.why,
        price=prices.get(candidate.key, own),
        minutes=procedure.minutes.setup + procedure.minutes.each * len(candidate.places),
        money=procedure.money,
        hands=procedure.hands,
        asks=tuple(question.asks for question in view.questions),
        cautions=cleared.cautions,
    )


def _where(session: Session, view: View) -> str:
    """The place of a step or a repair, where its title leaves it open."""
    if view.place in ("", "amp") or _only_channel(session.bench.grounded, view.place):
        return ""
    name = session.bench.grounded.place_name(view.place)
    return "" if name in view.title else name


def _only_channel(grounded: Grounded, place: str) -> bool:
    kind = grounded.places.by_id[place].kind
    return kind == "channel" and len(grounded.places.of_kind([kind])) == 1


def repair_card(session: Session, view: View, number: str) -> Card:
    """A repair; its proof is a node of its own."""
    return Card(
        "repair",
        view.title,
        number,
        ident=view.ident,
        place=view.place,
        where=_where(session, view),
        power=view.power,
        banner=view.banner,
        why=view.why,
        price=view.minutes,
        minutes=view.minutes,
        cautions=view.cautions,
        lines=view.lines,
    )


def leaf(session: Session, view: View, number: str) -> Card:
    """Where a way ends: the proof of a repair, nothing wrong, or handing over."""
    if view.sort == "proof":
        return Card(
            "proof",
            view.title,
            number,
            ident=view.ident,
            place=view.place,
            power=view.power,
            banner=view.banner,
            why=view.why,
            cautions=left_safe(session),
            lines=view.how,
        )
    advice = session.moment.assessment.advice
    sound = advice.move == "nothing_wrong" and not view.ident and session.state.pending is None
    sort: Sort = "nothing_wrong" if sound else "hand_over"
    suspects = () if sound else tuple(_leading(session))
    return Card(
        sort,
        view.title,
        number,
        power=view.power,
        banner=view.banner,
        why=view.why,
        cautions=left_safe(session),
        lines=suspects,
    )


def left_safe(session: Session) -> tuple[str, ...]:
    """What to do before it is left, where it is powered."""
    return (LEAVE,) if energised(session.state.safety) else ()


def _leading(session: Session) -> Iterator[str]:
    rows = lists.suspicions(session.moment)[:LEADING]
    yield from _shares([(row.p, row.text) for row in rows])


def _shares(rows: Sequence[tuple[float, str]]) -> Iterator[str]:
    """Suspects likeliest first, without those that the first leaves far behind."""
    for p, text in rows:
        if p >= FAR_BEHIND * rows[0][0]:
            yield f"{percent(p)} {text}"


def goes_on(session: Session, number: str) -> Card:
    """Where the depth is reached: the leading suspects."""
    lines = tuple(_leading(session))
    return Card("goes_on", GOES_ON, number, cautions=left_safe(session), lines=lines)


def rare(session: Session, mass: Floats, number: str) -> Card:
    """A way that is not followed: suspects after all its answers together; mass, shape (rows,)."""
    grounded, share = session.bench.grounded, mass / mass.sum()
    top = np.argsort(-share, kind="stable")[:LEADING].tolist()
    lines = tuple(_shares([(float(share[row]), says(grounded, row)) for row in top]))
    return Card("goes_on", GOES_ON, number, cautions=left_safe(session), lines=lines)


def outcome_label(grounded: Grounded, answers: Sequence[tuple[int, int]]) -> str:
    """Answers of one outcome in words; of several only what is not as it should be."""
    instances = grounded.instances
    off = [(f, a) for f, a in answers if a != instances[f].normal]
    if len(answers) > 1 and not off:
        return "all as it should be"
    shown = []
    for f, a in off or answers:
        instance = instances[f]
        word = instance.answers[a]
        said = instance.finding.says.get(word, word.replace("_", " "))
        name = grounded.place_name(instance.key[1])
        several = len({key for key, _ in answers}) > 1
        shown.append(f"{_short(grounded, f, name)}: {said}" if several else said)
    return "; ".join(shown)


def rest_label(found: Outcomes, rest: Sequence[int]) -> str:
    """What all answers without a branch of their own are called together."""
    several = any(not found.answers[o] for o in rest)
    return "otherwise, or several at once" if several else "otherwise"


def _short(grounded: Grounded, finding: int, name: str) -> str:
    """A finding's id in plain words, with its place where several places have it."""
    instance = grounded.instances[finding]
    word = instance.finding.id.replace("_", " ")
    several = len(grounded.places.of_kind(instance.finding.at)) > 1
    return f"{word}, {name}" if several else word


def percent(p: float) -> str:
    """A chance as a person reads it, never 0 % or 100 % unless it is."""
    if p >= 1.0:
        return "100 %"
    if p < 0.01:
        return "<1 %"
    return ">99 %" if p > 0.99 else f"{100.0 * p:.0f} %"
