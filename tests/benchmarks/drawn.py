"""Knowledge drawn to size: so many hypotheses and candidate procedures, with signs, rules, sweeps.

It goes through the ordinary schemas and the ordinary grounding; only its trade is invented. The
shape follows the built-in knowledge: kinds with one to six places, a few words a cause, complaints
at the amplifier that many causes word, readings of which a third look at a hidden sign, rules of
two or three findings, a fifth of the procedures swept over all places of their kind, some that
answer two findings.
"""

from __future__ import annotations

import random
from typing import Any

from tests.toy import SOURCE
from triage.infer.ground import Grounded, ground
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.model.entries import Cause, Finding, Kind, Procedure, Repair, Rule, Sign
from triage.model.profile import Profile
from triage.plan.candidates import ground_procedures

COMPLAINTS = 20
WEIGHTS = load(knowledge_dir()).weights()
"""Those of the built-in knowledge."""
WORDS = ("always", "usually", "often", "sometimes")
PLACES = (1, 1, 2, 2, 4, 6)
POWERS = ("unplugged", "cold", "idle", "idle", "driven")


class Draft:
    """Entries as they are drawn, and how far the counts have come."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.kinds: list[str] = ["amp"]
        self.places: dict[str, dict[str, str]] = {}
        self.findings: list[dict[str, Any]] = []
        self.signs: list[dict[str, Any]] = []
        self.causes: list[dict[str, Any]] = []
        self.repairs: list[dict[str, Any]] = []
        self.procedures: list[dict[str, Any]] = []
        self.rules: list[dict[str, Any]] = []
        self.complaints: list[str] = []
        self.hypotheses = 0

    def finding(self, ident: str, kind: str, path: str, sign: str | None, told: str) -> None:
        """A finding of two to four answers, perhaps looking at a sign."""
        answers = [f"a{i}" for i in range(self.rng.choice((2, 2, 3, 3, 4)))]
        off = [self.rng.uniform(0.01, 0.08) for _ in answers[1:]]
        usual = dict(zip(answers, [1.0 - sum(off), *off], strict=True))
        entry: dict[str, Any] = {
            "id": ident,
            "at": [kind],
            "answers": answers,
            "normal": "a0",
            "usual": usual,
            "path": path,
            "told": told,
        }
        if sign is not None:
            entry["shows"] = {"sign": sign, "answer": answers[-1]}
        self.findings.append(entry)

    def procedure(self, ident: str, kind: str, yields: list[str], sweep: bool) -> None:
        """A procedure with its price."""
        self.procedures.append(
            {
                "id": ident,
                "at": [kind],
                "yields": [{"finding": f} for f in yields],
                "sweep": sweep,
                "power": self.rng.choice(POWERS),
                "minutes": {
                    "setup": self.rng.choice((0, 2, 5, 10)),
                    "each": self.rng.choice((1, 2, 4)),
                },
            }
        )

    def cause(self, kind: str, n_places: int, near: list[dict[str, Any]]) -> None:
        """A cause with two to five words: at its own place, on a sign, and as a complaint."""
        rng, number = self.rng, len(self.causes)
        makes = [{**w, "word": rng.choice(WORDS)} for w in rng.sample(near, min(3, len(near)))]
        for ident in rng.sample(self.complaints, rng.choice((1, 1, 2))):
            answers = next(f["answers"] for f in self.findings if f["id"] == ident)
            answer = rng.choice(answers[1:])
            makes.append({"of": "amp", "finding": ident, "answer": answer, "word": "often"})
        self.causes.append(
            {
                "id": f"c{number}",
                "at": [kind],
                "rate": round(rng.lognormvariate(0.0, 1.0), 3),
                "repair": f"{kind}_mend{rng.randrange(3)}",
                "makes": makes,
            }
        )
        self.hypotheses += n_places

    def rule(self, kind: str, cause: str, here: list[str]) -> None:
        """A rule of one complaint and one or two findings of the place."""
        rng = self.rng
        chosen = rng.sample(here, min(len(here), rng.choice((1, 1, 2))))
        when = [{"finding": f, "is": self.off(f)} for f in chosen]
        complaint = rng.choice(self.complaints)
        when.append({"of": "amp", "finding": complaint, "is": self.off(complaint)})
        self.rules.append(
            {
                "id": f"rule{len(self.rules)}",
                "at": kind,
                "when": when,
                "weighs": [
                    {"cause": cause, "strength": rng.choice(("mild", "moderate", "strong"))}
                ],
            }
        )

    def off(self, finding: str) -> str:
        """An answer of a finding that is not the normal one."""
        answers = next(f["answers"] for f in self.findings if f["id"] == finding)
        return self.rng.choice(answers[1:])

    def kind(self) -> None:
        """A kind with its places, signs, findings, causes, repairs, procedures and rules."""
        rng, name = self.rng, f"k{len(self.kinds)}"
        n_places = rng.choice(PLACES)
        self.kinds.append(name)
        for i in range(n_places):
            self.places[f"{name}p{i}"] = {"kind": name}
        signs = [f"{name}_sign{i}" for i in range(rng.choice((0, 1, 1, 2)))]
        self.signs += [{"id": s, "at": [name], "usual": rng.uniform(0.02, 0.06)} for s in signs]
        here = [f"{name}_f{i}" for i in range(rng.choice((3, 4, 5)))]
        near: list[dict[str, Any]] = [{"sign": s} for s in signs]
        for i, f in enumerate(here):
            sign = signs[i % len(signs)] if signs and i < 2 * len(signs) else None
            self.finding(f, name, rng.choice(("reading", "reading", "swap")), sign, "never")
            if sign is None:
                near.append({"finding": f, "answer": self.off(f)})
        self.repairs += [
            {"id": f"{name}_mend{i}", "minutes": rng.uniform(5, 60), "money": rng.uniform(0, 2)}
            for i in range(3)
        ]
        for _ in range(rng.choice((4, 6, 8))):
            self.cause(name, n_places, near)
            if rng.random() < 0.3:
                self.rule(name, f"c{len(self.causes) - 1}", here)
        for i, f in enumerate(here):
            both = [f, here[i - 1]] if rng.random() < 0.15 else [f]
            self.procedure(f"{f}_read", name, both, n_places > 1 and rng.random() < 0.3)

    def knowledge(self) -> Knowledge:
        """All that was drawn, through the schemas."""
        more: dict[str, dict[str, Any]] = {
            "kind": {"label": "kind"},
            "finding": {"asks": "?"},
            "cause": {"says": "x"},
            "procedure": {"title": "t", "why": "w", "steps": ["x"]},
            "repair": {"says": "x", "steps": ["x"], "proof": ["x"]},
            "rule": {"says": "r", "why": "w", "tries": [{}, {}]},
            "sign": {"says": "s"},
        }

        def made(schema: Any, rows: list[dict[str, Any]], sort: str) -> dict[str, Any]:
            return {
                row["id"]: schema.model_validate({"source": SOURCE, **more[sort], **row})
                for row in rows
            }

        return Knowledge(
            kinds=made(Kind, [{"id": k} for k in self.kinds], "kind"),
            findings=made(Finding, self.findings, "finding"),
            signs=made(Sign, self.signs, "sign"),
            causes=made(Cause, self.causes, "cause"),
            procedures=made(Procedure, self.procedures, "procedure"),
            repairs=made(Repair, self.repairs, "repair"),
            rules=made(Rule, self.rules, "rule"),
            layouts={},
            profiles={},
            gates={},
            hazards={},
            plain={"weights": [{"id": k, "is": v} for k, v in WEIGHTS.items()]},
            content_hash="drawn",
        )


def drawn(hypotheses: int, procedures: int, seed: int = 0) -> Grounded:
    """A grounded amplifier with exactly so many suspects and so many candidate procedures."""
    draft = Draft(seed)
    for i in range(COMPLAINTS):
        told = draft.rng.choice(("surely", "surely", "maybe", "seldom"))
        draft.finding(f"amp_f{i}", "amp", "listen", None, told)
        draft.complaints.append(f"amp_f{i}")
    draft.repairs += [{"id": f"amp_mend{i}", "minutes": 20, "money": 0} for i in range(3)]
    near: list[dict[str, Any]] = []
    while draft.hypotheses < hypotheses - 48:
        draft.kind()
    while draft.hypotheses < hypotheses:
        draft.cause("amp", 1, near)
    profile = Profile.model_validate(
        {
            "amplifier": "drawn",
            "channels": "mono",
            "complete": True,
            "owner": {"skill": "hobbyist"},
            "places": draft.places,
        }
    )
    _fit(draft, profile, procedures)
    return ground(draft.knowledge(), profile)


def _fit(draft: Draft, profile: Profile, procedures: int) -> None:
    """Drop drawn procedures, or add some at the amplifier, until the count of candidates fits."""
    draft.rng.shuffle(draft.procedures)
    per = {
        p["id"]: 1
        if p["sweep"]
        else sum(1 for place in draft.places.values() if [place["kind"]] == p["at"])
        for p in draft.procedures
    }
    kept, total = [], 0
    for p in draft.procedures:
        if total + per[p["id"]] <= procedures - COMPLAINTS:
            kept.append(p)
            total += per[p["id"]]
    draft.procedures = kept
    number = 0
    while total < procedures:
        draft.procedure(f"amp_read{number}", "amp", [f"amp_f{number % COMPLAINTS}"], False)
        draft.procedures[-1]["power"] = "cold"
        number, total = number + 1, total + 1
    grounded = ground(draft.knowledge(), profile)
    assert len(ground_procedures(grounded)) == procedures


def counts(grounded: Grounded) -> dict[str, int]:
    """What there is: rows, candidates, outcomes of single findings, signs, rules, sweeps."""
    candidates = ground_procedures(grounded)
    return {
        "hypotheses": len(grounded.hypotheses) - 2,
        "procedures": len(candidates),
        "outcomes": sum(len(grounded.instances[f].answers) for c in candidates for f in c.yields),
        "findings": len(grounded.instances),
        "signs": len(grounded.signs),
        "rules": len(grounded.rules),
        "sweeps": sum(c.swept for c in candidates),
    }
