"""The Navy's six steps as an order of tests, read from a data file: a baseline for other orders."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import yaml
from pydantic import Field, ValidationError, field_validator

from triage.errors import KnowledgeError, Problem
from triage.knowledge.load import Knowledge, Lines, explain
from triage.model.base import Entry, Frozen
from triage.model.places import Places
from triage.plan.candidates import Candidate
from triage.quality.check import close

FILE = "orders/six_steps.yaml"
HASH = "orders/FROZEN.sha256"
BESIDE = ("feeds", "fed_by", "holds", "supply")
"""Relations of one place to what is wired to it."""

Known = Mapping[tuple[str, str], str]
"""(finding id, place id) -> answer."""
Said = Mapping[tuple[str, str], Collection[str]]
"""(finding id, answer) -> places where it is known so."""


class Tells(Frozen):
    """A finding known with one of these answers, at any place."""

    finding: str
    is_: list[str] = Field(alias="is", min_length=1)

    def places(self, said: Said) -> Iterator[str]:
        """Places where it is known so."""
        return (p for answer in self.is_ for p in said.get((self.finding, answer), ()))

    def holds(self, said: Said) -> bool:
        """Whether it is known so anywhere."""
        return any((self.finding, answer) in said for answer in self.is_)


class Ask(Frozen):
    """A procedure, perhaps only at places of some kinds."""

    id: str
    at: list[str] = Field(default_factory=list)


class Task(Frozen):
    """Procedures done one after another; ``function`` None belongs to all functions."""

    function: str | None = None
    when: list[Tells] = Field(default_factory=list)
    unless: list[Tells] = Field(default_factory=list)
    procedures: list[Ask] = Field(min_length=1)

    @field_validator("procedures", mode="before")
    @classmethod
    def _plain(cls, rows: object) -> object:
        if not isinstance(rows, list):
            return rows
        return [{"id": row} if isinstance(row, str) else row for row in rows]

    def due(self, said: Said) -> bool:
        """Whether its ``when`` holds (none: always) and nothing of its ``unless`` does."""
        return (not self.when or _any(self.when, said)) and not _any(self.unless, said)


class Function(Frozen):
    """A function block (step 3): what makes it probable, and what locates the trouble in it."""

    id: str
    says: str
    probable: list[Tells] = Field(min_length=1)
    located: list[Tells] = Field(min_length=1)


class Step(Frozen):
    """A printed step that is done, not only thought."""

    step: Literal[1, 2, 4, 5, 6]
    name: str
    because: str
    tasks: list[Task] = Field(default_factory=list)
    after_repair: list[str] = Field(default_factory=list)


class Order(Entry):
    """The whole printed order."""

    says: str
    points: list[Tells]
    functions: list[Function] = Field(min_length=1)
    steps: list[Step] = Field(min_length=1)
    rest_because: str
    rest: list[str]

    def tasks(self, *steps: int) -> list[Task]:
        """Tasks of these steps, as printed."""
        return [task for step in self.steps if step.step in steps for task in step.tasks]

    def procedures(self) -> set[str]:
        """Ids of all procedures that stand anywhere in it."""
        after = {ident for step in self.steps for ident in step.after_repair}
        return after | set(self.rest) | {a.id for t in self.tasks(1, 2, 4, 5) for a in t.procedures}


def _any(told: Sequence[Tells], said: Said) -> bool:
    return any(tells.holds(said) for tells in told)


@dataclass(frozen=True)
class Wiring:
    """What lies beside what (place ids), and in which channel a place is."""

    beside: Mapping[str, Collection[str]] = field(default_factory=dict)
    channel: Mapping[str, str] = field(default_factory=dict)


def wiring(places: Places) -> Wiring:
    """Neighbours and channels of all places of one amplifier."""
    beside: dict[str, set[str]] = {}
    channel: dict[str, str] = {p.id: p.id for p in places.by_id.values() if p.kind == "channel"}
    for relation, a, b in sorted(places.edges):
        if relation in BESIDE:
            beside.setdefault(a, set()).add(b)
            beside.setdefault(b, set()).add(a)
        if relation == "channel":
            channel[a] = b
    return Wiring(beside, channel)


def next_by_six_steps(
    order: Order,
    known: Known,
    open_candidates: Sequence[Candidate],
    wired: Wiring | None = None,
) -> Candidate | None:
    """The first open candidate of the printed order, None when nothing of it is open.

    Parameters
    ----------
    order : as read by :func:`load_order`.
    known : (finding id, place id) -> answer, all that was told, seen and read so far.
    open_candidates : what could be done now and would still answer something.
    wired : neighbours and channels; None leaves places of one procedure in their given order.
    """
    wired = wired or Wiring()
    said: dict[tuple[str, str], list[str]] = {}
    for (finding, place), answer in known.items():
        said.setdefault((finding, answer), []).append(place)
    pointed = {place for tells in order.points for place in tells.places(said)}
    by_id: dict[str, list[tuple[int, Candidate]]] = {}
    for n, candidate in enumerate(open_candidates):
        by_id.setdefault(candidate.procedure.id, []).append((n, candidate))
    for task, placed in _walk(order, said):
        found = _first(task, by_id, pointed, wired if placed else None)
        if found is not None:
            return found
    return None


def _walk(order: Order, said: Said) -> Iterator[tuple[Task, bool]]:
    """Tasks in the order they are due, and whether pointed places come first in them."""
    yield from ((task, False) for task in order.tasks(1, 2) if task.due(said))
    located = {f.id for f in order.functions if _any(f.located, said)}
    probable = {f.id for f in order.functions if _any(f.probable, said)} | located
    fourth = [task for task in order.tasks(4) if task.due(said)]
    fifth = [task for task in order.tasks(5) if task.due(said)]
    if located:
        yield from ((task, True) for task in fourth if task.function is None)
        yield from ((task, True) for task in fifth if task.function in located)
    for tasks in (fourth, fifth):
        yield from ((t, True) for t in tasks if t.function is None or t.function in probable)
    yield from ((task, True) for task in (*fourth, *fifth))
    for ident in order.rest:
        yield Task(procedures=[Ask(id=ident)]), True


def _first(
    task: Task,
    by_id: Mapping[str, Sequence[tuple[int, Candidate]]],
    pointed: Collection[str],
    wired: Wiring | None,
) -> Candidate | None:
    """Pointed places before others, then as printed, memory before switching on."""
    best: tuple[int, int, int, int] | None = None
    found: Candidate | None = None
    for i, ask in enumerate(task.procedures):
        for n, candidate in by_id.get(ask.id, ()):
            if not _at(candidate, ask):
                continue
            near = _distance(candidate, pointed, wired) if wired else 0
            key = (near, i, 0 if candidate.recalled else 1, n)
            if best is None or key < best:
                best, found = key, candidate
    return found


def _at(candidate: Candidate, ask: Ask) -> bool:
    return not ask.at or any(place.kind in ask.at for place in candidate.places)


def _distance(candidate: Candidate, pointed: Collection[str], wired: Wiring) -> int:
    """0 at or beside a pointed place, 1 in its channel or in none, 2 in another channel."""
    channels = {wired.channel[p] for p in pointed if p in wired.channel}
    best = 2
    for place in candidate.places:
        if place.id in pointed or any(p in pointed for p in wired.beside.get(place.id, ())):
            return 0
        own = wired.channel.get(place.id)
        if own is None or not channels or own in channels:
            best = 1
    return best


def digest(root: Path) -> str:
    """SHA-256 of the order's file under the knowledge folder ``root``, hexadecimal."""
    return hashlib.sha256((root / FILE).read_bytes()).hexdigest()


def load_order(root: Path, knowledge: Knowledge) -> Order:
    """Read the order under ``root`` and hold it against the knowledge.

    Raises
    ------
    KnowledgeError : not readable, a wrong key, an unknown procedure, finding, answer, function,
        kind or source; or a procedure that yields findings and stands nowhere in it.
    """
    path, shown = root / FILE, f"{root.name}/{FILE}"
    if not path.is_file():
        raise KnowledgeError([Problem(shown, 1, "no such file of an order of tests")])
    try:
        lines = Lines(shown, path.read_text(encoding="utf-8"))
    except yaml.YAMLError as error:
        raise KnowledgeError([Problem(shown, 1, f"not readable as YAML: {error}")]) from error
    rows = lines.value if isinstance(lines.value, list) else [lines.value]
    if len(rows) != 1 or not isinstance(rows[0], dict):
        raise KnowledgeError([Problem(shown, 1, "an order is one mapping of keys in a list")])
    try:
        order = Order.model_validate(rows[0])
    except ValidationError as error:
        found = explain(error, shown, lines, (0,), 1, str(rows[0].get("id", "?")))
        raise KnowledgeError([*lines.problems, *found]) from error
    problems = [*lines.problems, *_problems(order, knowledge, lines, shown)]
    if problems:
        raise KnowledgeError(problems)
    return order


def _problems(order: Order, kb: Knowledge, lines: Lines, file: str) -> Iterator[Problem]:
    sources = {str(row["id"]) for row in kb.plain["sources"]}
    functions = {function.id for function in order.functions}
    for i, source in enumerate(order.source):
        if source.id not in sources:
            line = lines.line((0, "source", i))
            yield Problem(
                file, line, f"unknown source '{source.id}'", mend=close(source.id, sources)
            )
    for path, tells in _told(order):
        finding = kb.findings.get(tells.finding)
        if finding is None:
            what = f"unknown finding '{tells.finding}'"
            yield Problem(file, lines.line(path), what, mend=close(tells.finding, kb.findings))
            continue
        for answer in tells.is_:
            if answer not in finding.answers:
                what = f"'{answer}' is no answer of {finding.id}"
                mend = close(answer, finding.answers)
                yield Problem(file, lines.line(path), what, mend=mend)
    for path, ask in _asked(order):
        if ask.id not in kb.procedures:
            what, mend = f"unknown procedure '{ask.id}'", close(ask.id, kb.procedures)
            yield Problem(file, lines.line(path), what, mend=mend)
            continue
        for kind in ask.at:
            if kind not in kb.procedures[ask.id].at:
                what = f"{ask.id} is not done at '{kind}'"
                yield Problem(file, lines.line(path), what)
    for i, step in enumerate(order.steps):
        for j, task in enumerate(step.tasks):
            if task.function is not None and task.function not in functions:
                line = lines.line((0, "steps", i, "tasks", j, "function"))
                what = f"unknown function '{task.function}'"
                yield Problem(file, line, what, mend=close(task.function, functions))
    yield from _standing(order, kb, lines.line((0, "rest")), file)


def _standing(order: Order, kb: Knowledge, line: int, file: str) -> Iterator[Problem]:
    """Each yielding procedure stands where the walk surely comes by, and once only."""
    sure = [*order.rest, *(ident for step in order.steps for ident in step.after_repair)]
    for task in order.tasks(1, 2, 4, 5):
        if not task.when and not task.unless:
            sure += [ask.id for ask in task.procedures if not ask.at]
    for procedure in kb.procedures.values():
        if procedure.yields and procedure.replaced_by is None and procedure.id not in sure:
            mend = "put it where a technician would do it, or into 'rest'."
            yield Problem(file, line, f"{procedure.id} stands nowhere for sure", mend=mend)
    twice = [
        order.rest,
        *([f"{a.id} {a.at}" for a in t.procedures] for t in order.tasks(1, 2, 4, 5)),
    ]
    for listed in twice:
        for ident in sorted({ident for ident in listed if listed.count(ident) > 1}):
            yield Problem(file, line, f"{ident} stands twice in one list", mend="keep one of them.")


Path_ = tuple[str | int, ...]


def _told(order: Order) -> Iterator[tuple[Path_, Tells]]:
    for i, tells in enumerate(order.points):
        yield (0, "points", i), tells
    for i, function in enumerate(order.functions):
        for j, tells in enumerate(function.probable):
            yield (0, "functions", i, "probable", j), tells
        for j, tells in enumerate(function.located):
            yield (0, "functions", i, "located", j), tells
    for i, step in enumerate(order.steps):
        for j, task in enumerate(step.tasks):
            for k, tells in enumerate(task.when):
                yield (0, "steps", i, "tasks", j, "when", k), tells
            for k, tells in enumerate(task.unless):
                yield (0, "steps", i, "tasks", j, "unless", k), tells


def _asked(order: Order) -> Iterator[tuple[Path_, Ask]]:
    for i, step in enumerate(order.steps):
        for j, task in enumerate(step.tasks):
            for k, ask in enumerate(task.procedures):
                yield (0, "steps", i, "tasks", j, "procedures", k), ask
        for k, ident in enumerate(step.after_repair):
            yield (0, "steps", i, "after_repair", k), Ask(id=ident)
    for k, ident in enumerate(order.rest):
        yield (0, "rest", k), Ask(id=ident)
