"""Ground the knowledge on one amplifier: hypotheses, finding instances, tables, rule instances.

Conventions: arrays are indexed ``[answer, hypothesis]``; the last two hypotheses are always
``healthy`` (every finding as usual) and ``unknown`` (a cause that is not in the knowledge: its
tables are the prior-predictive means of all the others, so its likelihood says that the findings
hang together no better than chance).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from triage.infer.tables import Floats, compose, confuse, floor_of, prior_weight, suppress
from triage.model.entries import (
    MAKES,
    STRENGTHS,
    SUPPRESSES,
    TOLD,
    Finding,
    Makes,
    Rule,
)
from triage.model.layout import build_places, holds
from triage.model.places import Places
from triage.model.profile import Profile

if TYPE_CHECKING:
    from triage.knowledge.load import Knowledge

__all__ = [
    "Floats",
    "Grounded",
    "Hypothesis",
    "Instance",
    "Key",
    "Literal",
    "RuleInstance",
    "compose",
    "confuse",
    "floor_of",
    "ground",
    "prior_weight",
    "suppress",
]

Key = tuple[str, str]
"""A finding instance: (finding id, place id)."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """A cause at a place; ``healthy`` and ``unknown`` have no place."""

    cause: str
    place: str


HEALTHY = Hypothesis("healthy", "")
UNKNOWN = Hypothesis("unknown", "")


@dataclass(frozen=True, slots=True)
class Literal:
    """A literal of a rule on one finding instance: which answers satisfy it."""

    finding: int
    mask: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class RuleInstance:
    """A weighing rule at one place for one hypothesis; ``strength`` < 1 speaks against."""

    rule: str
    at: str
    hypothesis: int
    strength: float
    literals: tuple[Literal, ...]


@dataclass(frozen=True)
class Instance:
    """A finding at a place, with its reported-answer table.

    ``table`` has shape ``(answers, hypotheses)`` where the finding is direct, and
    ``(answers, 2)`` (columns: sign absent, present) where it looks at sign ``sign``.
    """

    index: int
    key: Key
    finding: Finding
    answers: tuple[str, ...]
    normal: int
    base: Floats
    table: Floats
    sign: int | None
    told: float
    block: int


@dataclass(frozen=True)
class Grounded:
    """All that the ranking needs of one amplifier; immutable for the life of a job."""

    profile: Profile
    places: Places
    knowledge: Knowledge
    hypotheses: tuple[Hypothesis, ...]
    prior: Floats
    goes: Floats
    instances: tuple[Instance, ...]
    index: dict[Key, int]
    signs: tuple[Key, ...]
    sign_p: Floats
    blocks: tuple[tuple[int, ...], ...]
    rules: tuple[RuleInstance, ...]
    words: dict[tuple[int, int], tuple[Floats, Floats]]
    sign_words: dict[tuple[int, int], tuple[float, float]]
    alike: float = 0.0
    """Of what looks like a known cause, the share that is none (see ``infer/proofs.py``)."""

    @property
    def healthy(self) -> int:
        """Row of the healthy amplifier."""
        return len(self.hypotheses) - 2

    @property
    def unknown(self) -> int:
        """Row of the cause that is not in the knowledge."""
        return len(self.hypotheses) - 1

    def place_name(self, place: str) -> str:
        """What a person reads for a place."""
        return self.places.by_id[place].name if place in self.places.by_id else place


class _Grounding:
    def __init__(self, knowledge: Knowledge, profile: Profile) -> None:
        self.kb = knowledge
        self.profile = profile
        self.facts = profile.facts()
        self.places = build_places(profile, list(knowledge.layouts.values()), knowledge.kinds)
        self.hypotheses: list[Hypothesis] = []
        self.weights: list[float] = []
        self.row: dict[tuple[str, str], int] = {}
        self.keys: list[Key] = []
        self.index: dict[Key, int] = {}
        self.signs: dict[Key, int] = {}

    def enumerate(self) -> None:
        for cause in self.kb.causes.values():
            if cause.replaced_by or not holds(cause.if_, self.facts):
                continue
            for place in self.places.of_kind(cause.at):
                self.row[(cause.id, place.id)] = len(self.hypotheses)
                self.hypotheses.append(Hypothesis(cause.id, place.id))
                self.weights.append(prior_weight(cause, place, self.profile))
        for finding in self.kb.findings.values():
            if finding.replaced_by or finding.derived or not holds(finding.if_, self.facts):
                continue
            for place in self.places.of_kind(finding.at):
                self.index[(finding.id, place.id)] = len(self.keys)
                self.keys.append((finding.id, place.id))
        for sign in self.kb.signs.values():
            for place in self.places.of_kind(sign.at):
                self.signs[(sign.id, place.id)] = len(self.signs)

    def targets(self, made: Makes, place: str) -> Iterable[tuple[str, Key]]:
        """('finding' or 'sign', key) for every place that the word reaches."""
        if not holds(made.if_, self.facts):
            return
        for other in self.places.walk(place, made.of):
            if made.finding is not None and (made.finding, other) in self.index:
                yield "finding", (made.finding, other)
            if made.sign is not None and (made.sign, other) in self.signs:
                yield "sign", (made.sign, other)

    def word_tables(
        self,
    ) -> tuple[
        dict[tuple[int, int], tuple[Floats, Floats]], dict[tuple[int, int], tuple[float, float]]
    ]:
        """Per (finding instance, row): words made and base left; per (sign, row) the same for yes."""
        made: dict[tuple[int, int], Floats] = {}
        cut: dict[tuple[int, int], dict[int, float]] = {}
        sign_made: dict[tuple[int, int], float] = {}
        sign_cut: dict[tuple[int, int], float] = {}
        for (cause_id, place), row in self.row.items():
            cause = self.kb.causes[cause_id]
            for word in (*cause.makes, *cause.suppresses):
                for sort, key in self.targets(word, place):
                    if sort == "sign":
                        at = (self.signs[key], row)
                        if word.word in MAKES:
                            sign_made[at] = max(sign_made.get(at, 0.0), MAKES[word.word])
                        else:
                            sign_cut[at] = SUPPRESSES[word.word]
                        continue
                    finding = self.kb.findings[key[0]]
                    answer = finding.answers.index(word.answer)
                    at = (self.index[key], row)
                    if word.word in MAKES:
                        vector = made.setdefault(at, np.zeros(len(finding.answers)))
                        vector[answer] = max(vector[answer], MAKES[word.word])
                    else:
                        cut.setdefault(at, {})[answer] = SUPPRESSES[word.word]
        words: dict[tuple[int, int], tuple[Floats, Floats]] = {}
        for at in {**dict.fromkeys(made), **dict.fromkeys(cut)}:
            finding = self.kb.findings[self.keys[at[0]][0]]
            base = np.array([finding.usual[a] for a in finding.answers], dtype=float)
            vector = made.get(at, np.zeros(len(base)))
            total = vector.sum()
            if total > 0.98:
                vector = vector * (0.98 / total)
            words[at] = (vector, suppress(base, cut.get(at, {})))
        sign_words: dict[tuple[int, int], tuple[float, float]] = {}
        for at in {**dict.fromkeys(sign_made), **dict.fromkeys(sign_cut)}:
            usual = list(self.kb.signs.values())
            sign_id = next(key for key, i in self.signs.items() if i == at[0])[0]
            base_yes = next(sign.usual for sign in usual if sign.id == sign_id)
            sign_words[at] = (
                sign_made.get(at, 0.0),
                min(base_yes, sign_cut.get(at, 1.0)),
            )
        return words, sign_words

    def rule_instances(self) -> list[RuleInstance]:
        found: list[RuleInstance] = []
        for rule in self.kb.rules.values():
            if rule.replaced_by or not rule.weighs or not holds(rule.if_, self.facts):
                continue
            for place in self.places.of_kind([rule.at]):
                for literals in self.literals(rule, place.id):
                    found += self.weighed(rule, place.id, literals)
        return found

    def literals(self, rule: Rule, place: str) -> Iterable[tuple[Literal, ...]]:
        """All ways to bind the rule's literals to finding instances at this place."""
        choices: list[list[Literal]] = []
        for ref in rule.when:
            options = []
            for other in self.places.walk(place, ref.of):
                at = self.index.get((ref.finding, other))
                if at is not None:
                    answers = self.kb.findings[ref.finding].answers
                    mask = tuple(answer in ref.answers for answer in answers)
                    options.append(Literal(at, mask))
            choices.append(options)
        for chosen in product(*choices):
            if len({literal.finding for literal in chosen}) == len(chosen):
                yield tuple(chosen)

    def weighed(
        self, rule: Rule, place: str, literals: tuple[Literal, ...]
    ) -> Iterable[RuleInstance]:
        for weigh in rule.weighs:
            strength = STRENGTHS[weigh.strength]
            for other in self.places.walk(place, weigh.of):
                row = self.row.get((weigh.cause, other))
                if row is not None:
                    yield RuleInstance(
                        rule.id, place, row, 1.0 / strength if weigh.against else strength, literals
                    )


def ground(
    knowledge: Knowledge,
    profile: Profile,
    *,
    healthy: float | None = None,
    unknown: float | None = None,
) -> Grounded:
    """Ground ``knowledge`` on ``profile``.

    ``healthy`` and ``unknown`` are prior shares; None takes them from ``weights.yaml``.
    """
    work = _Grounding(knowledge, profile)
    work.enumerate()
    weights = knowledge.weights()
    p_healthy = weights[f"healthy_{profile.route}"] if healthy is None else healthy
    p_unknown = weights["unknown"] if unknown is None else unknown
    n = len(work.hypotheses)
    prior = np.empty(n + 2)
    share = np.array(work.weights) if n else np.zeros(0)
    total = float(share.sum())
    prior[:n] = share / total * (1.0 - p_healthy - p_unknown) if total > 0.0 else 0.0
    prior[n], prior[n + 1] = p_healthy, p_unknown
    prior /= prior.sum()
    words, sign_words = work.word_tables()
    goes = np.array(
        [knowledge.causes[h.cause].comes_and_goes for h in work.hypotheses] + [0.0, 0.0]
    )
    sign_p = _sign_tables(work, sign_words, n, prior)
    instances, blocks = _instances(work, words, n, prior)
    return Grounded(
        profile=profile,
        places=work.places,
        knowledge=knowledge,
        hypotheses=(*work.hypotheses, HEALTHY, UNKNOWN),
        prior=prior,
        goes=goes,
        instances=tuple(instances),
        index=work.index,
        signs=tuple(work.signs),
        sign_p=sign_p,
        blocks=tuple(blocks),
        rules=tuple(work.rule_instances()),
        words=words,
        sign_words=sign_words,
        alike=weights.get("look_alike", 0.0),
    )


def _known(prior: Floats, n: int) -> Floats:
    """Weights of the known rows (causes and healthy), summing to 1."""
    known = prior[: n + 1]
    return np.asarray(known / known.sum())


def _sign_tables(
    work: _Grounding,
    sign_words: Mapping[tuple[int, int], tuple[float, float]],
    n: int,
    prior: Floats,
) -> Floats:
    table = np.empty((len(work.signs), n + 2))
    for (sign_id, _), i in work.signs.items():
        table[i] = work.kb.signs[sign_id].usual
    for (i, row), (made, base) in sign_words.items():
        table[i, row] = made + (1.0 - made) * base
    table[:, n + 1] = table[:, : n + 1] @ _known(prior, n)
    return table


def _instances(
    work: _Grounding, words: Mapping[tuple[int, int], tuple[Floats, Floats]], n: int, prior: Floats
) -> tuple[list[Instance], list[tuple[int, ...]]]:
    known = _known(prior, n)
    blocks: list[list[int]] = [[] for _ in work.signs]
    by_instance: dict[int, list[tuple[int, Floats, Floats]]] = {}
    for (index, row), (made, base) in words.items():
        by_instance.setdefault(index, []).append((row, made, base))
    found: list[Instance] = []
    for index, key in enumerate(work.keys):
        finding = work.kb.findings[key[0]]
        base = np.array([finding.usual[answer] for answer in finding.answers], dtype=float)
        base = base / base.sum()
        floor = floor_of(finding, work.profile)
        sign = _sign_of(work, finding, key[1])
        if sign is None:
            table = np.repeat(base[:, None], n + 2, axis=1)
            for row, made, rest in by_instance.get(index, []):
                table[:, row] = made + (1.0 - made.sum()) * rest
            table[:, n + 1] = table[:, : n + 1] @ known
            blocks.append([index])
            block = len(blocks) - 1
        else:
            assert finding.shows is not None
            shown = finding.answers.index(finding.shows.answer)
            there = base.copy()
            others = [i for i in range(len(base)) if i != shown]
            there[shown] = finding.shows.faithful
            there[others] = base[others] / base[others].sum() * (1.0 - finding.shows.faithful)
            table = np.stack([base, there], axis=1)
            block = sign
            blocks[block].append(index)
        found.append(
            Instance(
                index=index,
                key=key,
                finding=finding,
                answers=tuple(finding.answers),
                normal=finding.answers.index(finding.normal),
                base=confuse(base[:, None], floor)[:, 0],
                table=confuse(table, floor),
                sign=sign,
                told=TOLD[finding.told],
                block=block,
            )
        )
    return found, [tuple(block) for block in blocks]


def _sign_of(work: _Grounding, finding: Finding, place: str) -> int | None:
    if finding.shows is None:
        return None
    for other in work.places.walk(place, finding.shows.of):
        if (finding.shows.sign, other) in work.signs:
            return work.signs[(finding.shows.sign, other)]
    return None
