"""What coverage lists besides shares: filler, words that are sure, causes nowhere, cases that flip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from triage.assess import Bench
from triage.infer.visits import Evidence, visits, ways
from triage.knowledge.load import Knowledge
from triage.log_sum import log_sum
from triage.model.case import Case
from triage.quality.coverage import Setting
from triage.quality.replay import find_cases, given, load_case, profile_of
from triage.quality.shaken_tables import Floats, Ints, Tables

PROOF = "proof"
"""The finding by which the outcome of a repair enters: the ranking takes it apart from tables."""
MOVES = 0.02
"""A column that differs from the usual by less moves nothing."""


def sure_words(knowledge: Knowledge) -> tuple[float, int]:
    """Share of likelihood words that are 'always' or 'never', and how many words there are."""
    words = [w.word for c in knowledge.causes.values() for w in (*c.makes, *c.suppresses)]
    sure = sum(word in ("always", "never") for word in words)
    return sure / max(len(words), 1), len(words)


def nowhere(knowledge: Knowledge, benches: Sequence[Setting]) -> list[str]:
    """Causes that none of the amplifiers can have."""
    seen = {h.cause for bench in benches for h in bench.grounded.hypotheses}
    return sorted(c.id for c in knowledge.causes.values() if c.id not in seen and not c.replaced_by)


def filler(knowledge: Knowledge, benches: Sequence[Setting]) -> dict[str, str]:
    """Entries that never change a ranking or an order on any of the amplifiers, with the reason."""
    moving = _moving(benches)
    found: dict[str, str] = {}
    gates = {ref.finding for f in knowledge.findings.values() for ref in f.applies_when}
    in_rules = {ref.finding for rule in knowledge.rules.values() for ref in rule.when}
    for finding in knowledge.findings.values():
        used = (
            finding.id in moving | gates | in_rules | {PROOF}
            or finding.derived
            or finding.replaced_by
        )
        if not used:
            found[f"finding {finding.id}"] = "no cause, rule or other finding hangs on it"
    for procedure in knowledge.procedures.values():
        yields = {y.finding for y in procedure.yields}
        works = (
            procedure.proves
            or procedure.replaced_by
            or yields & (moving | gates | in_rules | {PROOF})
        )
        if not works:
            found[f"procedure {procedure.id}"] = "what it yields moves no suspect"
    used_repairs = {cause.repair for cause in knowledge.causes.values()}
    for repair in knowledge.repairs.values():
        if repair.id not in used_repairs and not repair.replaced_by:
            found[f"repair {repair.id}"] = "no cause asks for it"
    weighing = {(rule.rule) for bench in benches for rule in bench.grounded.rules}
    for rule in knowledge.rules.values():
        acts = rule.derives or rule.hazard or rule.first or rule.replaced_by
        if not acts and rule.id not in weighing:
            found[f"rule {rule.id}"] = "it weighs nothing on any of the amplifiers"
    shown = {f.shows.sign for f in knowledge.findings.values() if f.shows}
    for sign in knowledge.signs.values():
        if sign.id not in shown:
            found[f"sign {sign.id}"] = "no finding looks at it"
    found |= _wordless(knowledge, benches)
    return dict(sorted(found.items()))


def _moving(benches: Sequence[Setting]) -> set[str]:
    """Findings whose answers are likelier under some cause than usual, anywhere."""
    moving = set()
    for bench in benches:
        for i in bench.grounded.instances:
            if i.finding.id not in moving:
                columns = bench.tables.columns(i.index)[: len(i.answers)]
                if float(np.max(np.ptp(columns[:, :-1], axis=1))) > MOVES:
                    moving.add(i.finding.id)
    return moving


def _wordless(knowledge: Knowledge, benches: Sequence[Setting]) -> dict[str, str]:
    worded = {
        bench.grounded.hypotheses[row].cause
        for bench in benches
        for _, row in (*bench.grounded.words, *bench.grounded.sign_words)
    }
    seen = {h.cause for bench in benches for h in bench.grounded.hypotheses}
    return {
        f"cause {c.id}": "it makes nothing on any of the amplifiers"
        for c in knowledge.causes.values()
        if c.id in seen - worded
    }


@dataclass(frozen=True)
class Stability:
    """How often the first suspect stayed under shakes, and the cases whose first one flips."""

    cases: int
    stay: float
    flips: dict[str, float]


def stability(
    knowledge: Knowledge, paths: Sequence[Path], shakes: int, seed: int, step: float = 0.5
) -> Stability:
    """First suspect (kind of place and repair) of every case under shakes of the words.

    All the case knows before a repair is put in at once. A case stays where its first suspect is
    the same in at least 85 % of the shakes; ``stay`` is the share of cases that do. What the rules
    add is kept as it is unshaken.
    """
    flips: dict[str, float] = {}
    files = find_cases(paths)
    for n, path in enumerate(files):
        case = load_case(path)
        share = _stays(knowledge, case, shakes, np.random.default_rng([seed, n]), step)
        if share < 0.85:
            flips[case.case] = round(share, 3)
    return Stability(len(files), 1.0 - len(flips) / max(len(files), 1), flips)


def _stays(
    knowledge: Knowledge, case: Case, shakes: int, draw: np.random.Generator, step: float
) -> float:
    bench = Bench.make(knowledge, profile_of(knowledge, case))
    try:
        assessed = given(bench, case)
    finally:
        bench.close()
    moves = _Moves(bench, assessed.gathered.evidence, step)
    group = [
        (_kind(bench, h.place), knowledge.causes[h.cause].repair if h.place else h.cause)
        for h in bench.grounded.hypotheses
    ]
    names = sorted(set(group))
    of_row = np.array([names.index(g) for g in group])
    log = assessed.state.log
    rest = log - moves.logs(None)
    same = sum(
        _first(rest + moves.logs(draw), of_row) == _first(log, of_row) for _ in range(shakes)
    )
    return same / max(shakes, 1)


def _kind(bench: Bench, place: str) -> str:
    return bench.grounded.places.by_id[place].kind if place else ""


def _first(log: Floats, of_row: Ints) -> int:
    weights = np.exp(log - np.max(log))
    return int(np.argmax(np.bincount(of_row, weights=weights)))


class _Moves:
    """Likelihoods of one case's evidence, with every word that bears on it moved up or down."""

    def __init__(self, bench: Bench, evidence: Evidence, step: float) -> None:
        self.bench, grounded = bench, bench.grounded
        tables = Tables(grounded, step)
        self.evidence = evidence
        self.direct = [f for f in evidence.items if grounded.instances[f].sign is None]
        weights = np.zeros((len(self.direct), tables.most))
        for e, f in enumerate(self.direct):
            weights[e, : len(evidence.items[f].weights)] = evidence.items[f].weights
        self.given = np.einsum("ea,ear->er", weights, tables.direct[self.direct])
        self.ways = ways(visits(evidence.items), grounded.goes)
        self.there = [
            np.array([f not in way.away for f in self.direct], dtype=bool) for way in self.ways
        ]
        place = {f: e for e, f in enumerate(self.direct)}
        words = tables.words
        on = np.array([w for w, f in enumerate(words.finding) if int(f) in place], dtype=int)
        self.at = np.array([place[int(f)] for f in words.finding[on]], dtype=int)
        self.row = words.row[on]
        self.up = (weights[self.at] * words.up[on]).sum(axis=1)
        self.down = (weights[self.at] * words.down[on]).sum(axis=1)
        self.words = words
        looked = {s for f in evidence.items if (s := grounded.instances[f].sign) is not None}
        self.signs = [
            {
                s: bench.model.sign_evidence(s, evidence.only(way.away, but=True).items)
                for s in sorted(looked)
            }
            for way in self.ways
        ]
        usual = {
            f: np.array(item.weights) @ grounded.instances[f].base
            for f, item in evidence.items.items()
        }
        self.usual = [
            float(np.log([max(float(usual[f]), 1e-300) for f in sorted(way.away)]).sum())
            for way in self.ways
        ]

    def logs(self, draw: np.random.Generator | None) -> Floats:
        """Log P(evidence | row) without rules, (rows,); None for ``draw``: no word moved."""
        given_p, sign_p = self.given.copy(), self.bench.grounded.sign_p.copy()
        if draw is not None:
            high = draw.random(len(self.at)) < 0.5
            given_p[self.at, self.row] = np.where(high, self.up, self.down)
            high = draw.random(len(self.words.sign)) < 0.5
            sign_p[self.words.sign, self.words.sign_row] = np.where(
                high, self.words.sign_up, self.words.sign_down
            )
        direct = np.log(np.maximum(given_p, 1e-300))
        found = []
        for way, there, signs, usual in zip(
            self.ways, self.there, self.signs, self.usual, strict=True
        ):
            total = way.weight + usual + direct[there].sum(axis=0)
            for s, both in signs.items():
                p = sign_p[s]
                total = total + np.log(np.maximum((1.0 - p) * both[0] + p * both[1], 1e-300))
            found.append(total)
        return log_sum(np.array(found))
