"""Procedures that could be done now, grounded on places, with the columns they would give."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from triage.infer.ground import Grounded
from triage.infer.posterior import Evidence, Item, Model, State
from triage.model.entries import Hands, Minutes, Procedure
from triage.model.layout import holds, known_to_hold
from triage.model.places import Place

Floats = NDArray[np.float64]
SKILLS = ("novice", "hobbyist", "technician")
SENSES = frozenset({"eyes", "ears", "nose", "torch", "paper", "hands"})
MOST_OUTCOMES = 24
MOST_LUMPS = 10
MEMORY = "+memory"
RECALLED = frozenset({"story", "listen", "look", "rate_by_ear", "smell"})


@dataclass(frozen=True)
class Candidate:
    """A procedure at a place (or, swept, at all places of its kind) and the findings it yields."""

    procedure: Procedure
    places: tuple[Place, ...]
    yields: tuple[int, ...]
    swept: bool
    recalled: bool = False

    @property
    def key(self) -> tuple[str, str]:
        """(procedure id, place id or '*'), with a mark where it is asked from memory."""
        ident = self.procedure.id + (MEMORY if self.recalled else "")
        return (ident, "*" if self.swept else self.places[0].id)


def has_tools(procedure: Procedure, tools: Iterable[str]) -> bool:
    """Whether the owner has what the procedure needs (senses count as owned)."""
    owned = set(tools) | SENSES
    sets = [procedure.tools.need, *procedure.tools.or_]
    if not procedure.tools.need and procedure.tools.or_:
        sets = procedure.tools.or_
    return any(all(tool in owned for tool in wanted) for wanted in sets)


def may_do(procedure: Procedure, grounded: Grounded) -> bool:
    """Whether this person, with these tools, on this amplifier, could do it at all."""
    profile = grounded.profile
    return (
        procedure.replaced_by is None
        and holds(procedure.if_, profile.facts())
        and known_to_hold(procedure.only_if, profile.facts())
        and SKILLS.index(procedure.skill) <= SKILLS.index(profile.owner.skill)
        and has_tools(procedure, profile.owner.tools)
    )


def done_by_anybody(procedure: Procedure, grounded: Grounded) -> bool:
    """Whether it fits this amplifier, whoever does it and with what."""
    return procedure.replaced_by is None and holds(procedure.if_, grounded.profile.facts())


def ground_procedures(
    grounded: Grounded, able: Callable[[Procedure, Grounded], bool] = may_do
) -> list[Candidate]:
    """All candidates of this amplifier and owner, in order of id and place.

    ``able`` says which procedures count; those that this person may do, unless told otherwise.
    """
    found: list[Candidate] = []
    for procedure in sorted(grounded.knowledge.procedures.values(), key=lambda p: p.id):
        if not procedure.yields or not able(procedure, grounded):
            continue
        places = grounded.places.of_kind(procedure.at)
        if procedure.sweep and len(places) > 1:
            yields = _yields(grounded, procedure, places)
            if yields:
                found.append(Candidate(procedure, tuple(places), yields, True))
                found += _from_memory(grounded, found[-1])
            continue
        for place in places:
            yields = _yields(grounded, procedure, [place])
            if yields:
                found.append(Candidate(procedure, (place,), yields, False))
                found += _from_memory(grounded, found[-1])
    return found


def _from_memory(grounded: Grounded, live: Candidate) -> list[Candidate]:
    """The same questions as a person may remember them from before, without any power."""
    procedure = live.procedure
    sensed = all(grounded.instances[f].finding.path in RECALLED for f in live.yields)
    if procedure.power not in ("limited", "idle", "driven") or procedure.opens or not sensed:
        return []
    return [
        recalled(
            live,
            "Answer from what you remember of it running. Do not switch it on to see.",
            " You may remember it from before; nothing is switched on.",
        )
    ]


def recalled(live: Candidate, how: str, why: str) -> Candidate:
    """A step as a question to memory: no power, no hands, no gates, no money."""
    asked = live.procedure.model_copy(
        update={
            "power": "any",
            "opens": False,
            "proves": [],
            "title": f"From memory: {live.procedure.title}",
            "hands": Hands(),
            "minutes": Minutes(setup=0.5, each=0.3),
            "risk": [],
            "needs": [],
            "money": 0.0,
            "fits_output_tubes": False,
            "probes": "none",
            "leaves": {},
            "cannot": 0.4,
            "cautions": [],
            "why": live.procedure.why + why,
            "steps": [how],
        }
    )
    return replace(live, procedure=asked, recalled=True)


def _yields(grounded: Grounded, procedure: Procedure, places: Sequence[Place]) -> tuple[int, ...]:
    found: list[int] = []
    for place in places:
        for given in procedure.yields:
            for other in grounded.places.walk(place.id, given.of):
                index = grounded.index.get((given.finding, other))
                if index is not None and index not in found:
                    found.append(index)
    return tuple(found)


def ground_done_before(grounded: Grounded) -> tuple[Candidate, ...]:
    """Steps that anybody may have done on such an amplifier, each to be asked from memory."""
    found = ground_procedures(grounded, done_by_anybody)
    return tuple(candidate for candidate in found if not candidate.recalled)


def open_yields(
    candidate: Candidate, asked: Collection[int], applicable: Mapping[int, bool | None]
) -> tuple[int, ...]:
    """Findings it would still answer: not asked yet and not known to be inapplicable."""
    return tuple(
        f for f in candidate.yields if f not in asked and applicable.get(f, True) is not False
    )


@dataclass(frozen=True)
class Outcomes:
    """What may come of a candidate: ``columns``, shape (outcomes, rows); each column sums to one.

    ``answers[i]`` lists (finding, answer) pairs of outcome i; lumped outcomes name only the
    representative. ``exact`` is False where outcomes were lumped (which can only understate).
    """

    columns: Floats
    answers: tuple[tuple[tuple[int, int], ...], ...]
    exact: bool

    @cached_property
    def sharpness(self) -> Floats:
        """Per row the sum over outcomes of L log2 L: what entropy needs of the columns."""
        safe = np.where(self.columns > 0.0, self.columns, 1.0)
        return np.asarray((self.columns * np.log2(safe)).sum(axis=0))


def outcomes(state: State, findings: Sequence[int]) -> Outcomes:
    """Joint outcomes of several findings given the evidence, exact up to 24, lumped beyond.

    Findings that share a sign or a rule are conditioned one after another; gains are never added.
    Columns rest on the evidence near these findings only and are kept from step to step.
    """
    grounded, model = state.model.grounded, state.model
    asked = tuple(findings)
    known = model.bearing(state.evidence, asked)
    made = model.kept.get((asked, known))
    if not isinstance(made, Outcomes):
        sizes = [len(grounded.instances[f].answers) for f in asked]
        if len(asked) == 1:
            (f,) = asked
            column = state.column(f)
            made = Outcomes(column, tuple(((f, a),) for a in range(column.shape[0])), True)
        elif math.prod(sizes) <= MOST_OUTCOMES:
            made = _joint(state, asked, sizes)
        else:
            made = _singles(state, asked)
        model.keep(asked, known, made)
    return made if made.exact else _lumped(state, made)


def warm(model: Model, candidates: Iterable[Candidate]) -> None:
    """Make the columns of all candidates once, so that the first step finds them kept."""
    bare = model.state(Evidence())
    for candidate in candidates:
        _ = outcomes(bare, candidate.yields).sharpness


def _joint(state: State, findings: Sequence[int], sizes: Sequence[int]) -> Outcomes:
    grounded = state.model.grounded
    columns: list[Floats] = []
    answers: list[tuple[tuple[int, int], ...]] = []
    coupled = _coupled(state, findings)
    single = {f: state.column(f) for f in findings}
    states: dict[tuple[tuple[int, int], ...], State] = {(): state}
    for chosen in product(*[range(n) for n in sizes]):
        column = np.ones(len(grounded.prior))
        said: tuple[tuple[int, int], ...] = ()
        for f, a in zip(findings, chosen, strict=True):
            if coupled and said:
                column = column * _after(states, said).column(f)[a]
            else:
                column = column * single[f][a]
            said = (*said, (f, a))
        columns.append(column)
        answers.append(said)
    return Outcomes(np.array(columns), tuple(answers), True)


def _after(
    states: dict[tuple[tuple[int, int], ...], State], said: tuple[tuple[int, int], ...]
) -> State:
    found = states.get(said)
    if found is None:
        before = _after(states, said[:-1])
        f, a = said[-1]
        found = before.model.state(before.evidence.plus(f, answered(before, f, a)))
        states[said] = found
    return found


def answered(state: State, finding: int, answer: int) -> Item:
    """Evidence item of a plain answer."""
    n = len(state.model.grounded.instances[finding].answers)
    return Item(tuple(1.0 if i == answer else 0.0 for i in range(n)))


def _coupled(state: State, findings: Sequence[int]) -> bool:
    grounded = state.model.grounded
    blocks = [grounded.instances[f].block for f in findings]
    if len(set(blocks)) < len(blocks):
        return True
    if sum(bool(state.model.unsure(state.evidence, (f,))) for f in findings) > 1:
        return True
    touched = [set(state.model.touching.get(block, [])) for block in blocks]
    return any(a & b for i, a in enumerate(touched) for b in touched[i + 1 :])


def _singles(state: State, findings: Sequence[int]) -> Outcomes:
    """The single outcomes of many findings: all normal; one off, by its answer. Not all there is.

    Columns are products of the single conditional columns; where findings share a sign or a rule,
    each is the likelihood of its whole outcome instead.
    """
    grounded = state.model.grounded
    single = {f: state.column(f) for f in findings}
    normal = {f: grounded.instances[f].normal for f in findings}
    answers: list[tuple[tuple[int, int], ...]] = [tuple(normal.items())]
    for f in findings:
        others = tuple((g, n) for g, n in normal.items() if g != f)
        answers += [(*others, (f, a)) for a in range(single[f].shape[0]) if a != normal[f]]
    if _coupled(state, findings):
        columns = [_likelihood(state, said) for said in answers]
    else:
        columns = [np.prod([single[f][a] for f, a in said], axis=0) for said in answers]
    return Outcomes(np.array(columns), tuple(answers), False)


def _lumped(state: State, singles: Outcomes) -> Outcomes:
    """The heaviest single outcomes and all the rest: a coarsening that can only understate."""
    weights = singles.columns @ state.posterior
    heavy = sorted(np.argsort(-weights, kind="stable")[: MOST_LUMPS - 1].tolist())
    kept = singles.columns[heavy]
    several = np.maximum(1.0 - kept.sum(axis=0), 0.0)
    answers = (*(singles.answers[i] for i in heavy), ())
    return Outcomes(np.vstack([kept, several]), answers, False)


def _likelihood(state: State, said: Sequence[tuple[int, int]]) -> Floats:
    """P(all these answers | row, evidence), shape (rows,); silence on a finding stays counted."""
    evidence = state.evidence
    for f, a in said:
        before = state.evidence.items.get(f)
        weight = 1.0 if before is None else before.weights[a]
        plain = answered(state, f, a).weights
        evidence = evidence.plus(f, Item(tuple(weight * w for w in plain)))
    return state.model.likelihood(state.evidence, evidence, [f for f, _ in said])
