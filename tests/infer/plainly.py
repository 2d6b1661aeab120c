"""The model said again, plainly and slowly: joint enumeration straight from the words.

Shares nothing with ``triage.infer`` but the list of rows, their priors and the places.
"""

from __future__ import annotations

from itertools import product

from triage.infer.ground import Grounded

MADE = {"always": 0.98, "usually": 0.85, "often": 0.6, "sometimes": 0.3}
CUT = {"rarely": 0.08, "never": 0.005}
RULE = {"mild": 2.0, "moderate": 5.0, "strong": 15.0, "decisive": 100.0}
SLIP = {"look": 0.05, "listen": 0.05, "reading": 0.02, "touch": 0.05}

Key = tuple[str, str]
Table = dict[str, float]


class Plain:
    """Tables by name. ``row`` is an index into ``grounded.hypotheses``; unknown is the last."""

    def __init__(self, grounded: Grounded) -> None:
        self.g = grounded
        self.kb = grounded.knowledge
        self.causes = list(range(grounded.healthy))
        self.known = [*self.causes, grounded.healthy]
        self.mass = sum(grounded.prior[r] for r in self.known)

    def finding(self, key: Key):
        return self.kb.findings[key[0]]

    def words(self, row: int, kind: str, key: Key) -> tuple[Table, Table]:
        """(made, cut) of a row on a finding or sign at a place: answer -> chance."""
        made: Table = {}
        cut: Table = {}
        if row not in self.causes:
            return made, cut
        hypothesis = self.g.hypotheses[row]
        cause = self.kb.causes[hypothesis.cause]
        for word in (*cause.makes, *cause.suppresses):
            target = getattr(word, kind)
            if target != key[0] or key[1] not in self.g.places.walk(hypothesis.place, word.of):
                continue
            if word.word in MADE:
                made[word.answer] = MADE[word.word]
            else:
                cut[word.answer] = CUT[word.word]
        return made, cut

    def cut_usual(self, key: Key, cut: Table) -> Table:
        usual = dict(self.finding(key).usual)
        for answer, most in cut.items():
            usual[answer] = min(most, usual[answer])
        free = sum(p for a, p in usual.items() if a not in cut)
        left = 1.0 - sum(usual[a] for a in cut)
        return {a: p if a in cut else p * left / free for a, p in usual.items()}

    def true_table(self, row: int, key: Key) -> Table:
        if row == self.g.unknown:
            tables = [(self.g.prior[r] / self.mass, self.true_table(r, key)) for r in self.known]
            return {a: sum(w * t[a] for w, t in tables) for a in self.finding(key).answers}
        made, cut = self.words(row, "finding", key)
        rest = self.cut_usual(key, cut)
        left = 1.0 - sum(made.values())
        return {a: made.get(a, 0.0) + left * rest[a] for a in self.finding(key).answers}

    def slipped(self, key: Key, true: Table) -> Table:
        slip = SLIP[self.finding(key).path]
        n = len(true)
        return {a: (1 - slip) * p + slip / (n - 1) * (1 - p) for a, p in true.items()}

    def sign_chance(self, row: int, key: Key) -> float:
        if row == self.g.unknown:
            return sum(self.g.prior[r] / self.mass * self.sign_chance(r, key) for r in self.known)
        made, _ = self.words(row, "sign", key)
        there = made.get("yes", 0.0)
        return there + (1.0 - there) * self.kb.signs[key[0]].usual

    def shown(self, key: Key, there: bool) -> Table:
        finding = self.finding(key)
        usual = dict(finding.usual)
        if not there:
            return self.slipped(key, usual)
        shows = finding.shows
        rest = 1.0 - usual[shows.answer]
        return self.slipped(
            key,
            {
                a: shows.faithful if a == shows.answer else p / rest * (1.0 - shows.faithful)
                for a, p in usual.items()
            },
        )

    def rules(self, row: int) -> list[tuple[float, list[tuple[Key, tuple[str, ...]]]]]:
        """(strength, [(finding, accepted answers)]) of the rules that weigh a row."""
        found = []
        if row not in self.causes:
            return found
        hypothesis = self.g.hypotheses[row]
        walk = self.g.places.walk
        for rule in self.kb.rules.values():
            for at in self.g.places.of_kind([rule.at]):
                for weighs in rule.weighs:
                    if weighs.cause != hypothesis.cause:
                        continue
                    if hypothesis.place not in walk(at.id, weighs.of):
                        continue
                    power = RULE[weighs.strength]
                    power = 1.0 / power if weighs.against else power
                    for places in product(*[walk(at.id, ref.of) for ref in rule.when]):
                        literals = [
                            ((ref.finding, place), ref.answers)
                            for ref, place in zip(rule.when, places, strict=True)
                        ]
                        found.append((power, literals))
        return found

    def sign_of(self, key: Key) -> Key | None:
        shows = self.finding(key).shows
        if shows is None:
            return None
        (place,) = self.g.places.walk(key[1], shows.of)
        return (shows.sign, place)

    def chance(self, row: int, weights: dict[Key, Table], tables=None, signs=None) -> float:
        """P(evidence | row), by summing over every answer and sign that matters.

        ``weights``: per finding, what each answer counts (missing answers count 0).
        """
        rules = self.rules(row) if tables is None else []
        keys = sorted({*weights, *[key for _, literals in rules for key, _ in literals]})
        hidden = sorted({sign for key in keys if (sign := self.sign_of(key)) is not None})
        tables = tables or {
            k: self.slipped(k, self.true_table(row, k)) for k in keys if self.sign_of(k) is None
        }
        signs = signs or {s: self.sign_chance(row, s) for s in hidden}
        everything = seen = 0.0
        for there in product([False, True], repeat=len(hidden)):
            state = dict(zip(hidden, there, strict=True))
            p_signs = 1.0
            for sign, yes in state.items():
                p_signs *= signs[sign] if yes else 1.0 - signs[sign]
            shown = {
                k: tables[k] if (s := self.sign_of(k)) is None else self.shown(k, state[s])
                for k in keys
            }
            for answers in product(*[self.finding(k).answers for k in keys]):
                given = dict(zip(keys, answers, strict=True))
                p = p_signs
                for key, answer in given.items():
                    p *= shown[key][answer]
                for power, literals in rules:
                    if all(given[key] in accepted for key, accepted in literals):
                        p *= power
                everything += p
                for key, table in weights.items():
                    p *= table.get(given[key], 0.0)
                seen += p
        return seen / everything

    def chance_by_visit(
        self, row: int, weights: dict[Key, Table], looks: dict[Key, tuple[int, float]]
    ) -> float:
        """P(evidence | row) where a fault that comes and goes is there or away for a whole visit.

        ``looks``: per finding its visit and pi, the same for all of one visit. What is seen of a
        fault that is away is a draw from the usual table and says nothing of what it would make.
        """
        share = 0.0
        if row in self.causes:
            share = self.kb.causes[self.g.hypotheses[row].cause].comes_and_goes
        chances = {visit: 1.0 - share * (1.0 - pi) for visit, pi in looks.values()}
        total = 0.0
        for there in product([True, False], repeat=len(chances)):
            shows = dict(zip(chances, there, strict=True))
            p = 1.0
            for visit, yes in shows.items():
                p *= chances[visit] if yes else 1.0 - chances[visit]
            if p == 0.0:
                continue
            kept = {k: t for k, t in weights.items() if k not in looks or shows[looks[k][0]]}
            for key in weights.keys() - kept.keys():
                usual = self.slipped(key, dict(self.finding(key).usual))
                p *= sum(usual[answer] * w for answer, w in weights[key].items())
            total += p * self.chance(row, kept)
        return total

    def posterior(self, weights: dict[Key, Table]) -> list[float]:
        rows = range(len(self.g.hypotheses))
        joint = [self.g.prior[row] * self.chance(row, weights) for row in rows]
        return [p / sum(joint) for p in joint]


def both_table(plain: Plain, a: int, b: int, key: Key) -> Table:
    """True answers of two causes at once: each makes its answer or not, the worse one is seen."""
    finding = plain.finding(key)
    normal = finding.answers.index(finding.normal)
    found = dict.fromkeys(finding.answers, 0.0)
    sides = []
    for row in (a, b):
        made, cut = plain.words(row, "finding", key)
        assert not cut, "the plain form is written for causes that suppress nothing here"
        sides.append([*made.items(), (None, 1.0 - sum(made.values()))])
    for (x, p), (y, q) in product(*sides):
        if x is None and y is None:
            for answer, usual in finding.usual.items():
                found[answer] += p * q * usual
            continue
        worst = max(
            (abs(at - normal), at)
            for z in (x, y)
            if z is not None
            for at in [finding.answers.index(z)]
        )
        found[finding.answers[worst[1]]] += p * q
    return found


def both_sign(plain: Plain, a: int, b: int, key: Key) -> float:
    usual = plain.kb.signs[key[0]].usual
    not_there = 1.0 - usual
    for row in (a, b):
        made, _ = plain.words(row, "sign", key)
        not_there *= 1.0 - made.get("yes", 0.0)
    return 1.0 - not_there
