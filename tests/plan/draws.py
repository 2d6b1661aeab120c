"""Random planning problems: bare tables, and knowledge with words, signs and rules."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from tests.plan.bare import Free, bare
from tests.plan.small import Small, from_bare, small
from tests.toy import SOURCE, WEIGHTS
from triage.infer.ground import ground
from triage.infer.posterior import Evidence, Model
from triage.knowledge.load import Knowledge
from triage.model.entries import Cause, Finding, Kind, Procedure, Repair, Rule, Sign
from triage.model.profile import Profile
from triage.plan.advise import Situation, price
from triage.plan.candidates import ground_procedures
from triage.plan.costs import RepairGroups

MOST_CELLS = 6000
WORDS = ("always", "usually", "often", "sometimes")


def drawn_bare(seed: int) -> Small:
    """2 to 8 causes, 2 to 7 tests of 2 to 4 answers, some repairs shared, prices at random."""
    rng = np.random.default_rng([seed, 1])
    n = int(rng.integers(2, 9))
    answers = [int(a) for a in rng.integers(2, 5, int(rng.integers(2, 8)))]
    while math.prod(a + 1 for a in answers) > MOST_CELLS:
        answers.remove(max(answers))
    sharp = float(rng.choice([0.2, 0.4, 1.0]))
    tables = [rng.dirichlet(np.full(a, sharp), size=n).T.copy() for a in answers]
    shared = [int(rng.integers(0, i + 1)) if rng.random() < 0.25 else i for i in range(n)]
    case = bare(
        rng.dirichlet(np.full(n, float(rng.choice([0.5, 1.5, 5.0])))),
        tables,
        rng.uniform(1, float(rng.choice([5.0, 10.0, 20.0])), len(answers)),
        rng.uniform(5, float(rng.choice([40.0, 80.0, 150.0])), n),
        hand_over=float(rng.choice([150.0, 240.0, 600.0])),
        wrong=float(rng.choice([1.0, 3.0])),
        repair_of=shared,
    )
    return from_bare(case)


def drawn_worded(seed: int) -> Small:
    """3 to 7 causes with words, signs that several findings look at, and rules over two findings."""
    rng = np.random.default_rng([seed, 2])
    n, signs = int(rng.integers(3, 8)), int(rng.integers(1, 3))
    findings = [_finding(rng, i, signs) for i in range(int(rng.integers(4, 8)))]
    direct = [f for f in findings if "shows" not in f]
    rows: dict[str, list[dict[str, Any]]] = {
        "findings": findings,
        "signs": [
            {"id": f"s{i}", "says": "s", "usual": float(rng.uniform(0.02, 0.1))}
            for i in range(signs)
        ],
        "causes": [_cause(rng, i, n, signs, direct) for i in range(n)],
        "rules": [_rule(rng, i, n, findings) for i in range(int(rng.integers(1, 4)))],
        "procedures": _procedures(rng, findings),
        "repairs": [
            {"id": f"r{i}", "minutes": float(rng.uniform(5, 60)), "money": float(rng.uniform(0, 2))}
            for i in range(n)
        ],
    }
    weights = WEIGHTS | {"hand_over": float(rng.choice([120.0, 240.0, 480.0]))}
    grounded = ground(
        _knowledge(rows, weights), Profile(amplifier="drawn", channels="mono", complete=True)
    )
    model, groups = Model(grounded), RepairGroups(grounded)
    situation = Situation(
        state=model.state(Evidence()),
        groups=groups,
        candidates=tuple(c for c in ground_procedures(grounded) if not c.recalled),
        asked=frozenset(),
        applicable={},
        declined={},
    )
    return small(model, groups, Evidence(), price(situation, Free()))


def _finding(rng: np.random.Generator, i: int, signs: int) -> dict[str, Any]:
    answers = [f"a{k}" for k in range(int(rng.integers(2, 4)))]
    off = rng.uniform(0.02, 0.12, len(answers) - 1)
    usual = dict(zip(answers, [1.0 - float(off.sum()), *off.tolist()], strict=True))
    path = str(rng.choice(["reading", "look", "swap"]))
    entry = {"id": f"f{i}", "answers": answers, "normal": "a0", "usual": usual, "path": path}
    if i < 4 and rng.random() < 0.6:
        entry["shows"] = {"sign": f"s{i % signs}", "answer": answers[-1]}
    return entry


def _cause(
    rng: np.random.Generator, i: int, n: int, signs: int, direct: list[dict[str, Any]]
) -> dict[str, Any]:
    makes: list[dict[str, Any]] = []
    if rng.random() < 0.6:
        makes.append({"sign": f"s{rng.integers(signs)}", "word": str(rng.choice(WORDS))})
    for f in direct:
        if rng.random() < 0.5:
            answer = str(rng.choice(f["answers"][1:]))
            makes.append({"finding": f["id"], "answer": answer, "word": str(rng.choice(WORDS))})
    mend = int(rng.integers(0, i + 1)) if rng.random() < 0.25 else i
    rate = float(rng.lognormal(0.0, 1.0))
    return {"id": f"c{i}", "rate": rate, "repair": f"r{mend}", "makes": makes}


def _rule(
    rng: np.random.Generator, i: int, n: int, findings: list[dict[str, Any]]
) -> dict[str, Any]:
    blocks: dict[str, dict[str, Any]] = {}
    for f in findings:
        blocks.setdefault(f.get("shows", {}).get("sign", f["id"]), f)
    names = sorted(blocks)
    chosen = rng.choice(len(names), size=min(2, len(names)), replace=False)
    when = [
        {"finding": f["id"], "is": str(rng.choice(f["answers"][1:]))}
        for f in (blocks[names[k]] for k in chosen)
    ]
    weigh = {
        "cause": f"c{rng.integers(n)}",
        "strength": str(rng.choice(["mild", "moderate", "strong"])),
        "against": bool(rng.random() < 0.2),
    }
    return {"id": f"rule{i}", "when": when, "weighs": [weigh]}


def _procedures(rng: np.random.Generator, findings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    made: list[dict[str, Any]] = []
    left = [f["id"] for f in findings]
    cells = 1
    sizes = {f["id"]: len(f["answers"]) for f in findings}
    while left:
        taken = [left.pop(0)]
        if left and rng.random() < 0.25:
            taken.append(left.pop(0))
        cells *= 1 + math.prod(sizes[f] for f in taken)
        if cells > MOST_CELLS:
            break
        made.append(
            {
                "id": f"t{len(made)}",
                "yields": [{"finding": f} for f in taken],
                "power": str(rng.choice(["cold", "idle"])),
                "minutes": {"setup": float(rng.uniform(0, 10)), "each": float(rng.uniform(1, 10))},
                "cannot": float(rng.choice([0.0, 0.1, 0.4])),
            }
        )
    return made


def _knowledge(rows: dict[str, list[dict[str, Any]]], weights: dict[str, float]) -> Knowledge:
    more: dict[str, tuple[Any, dict[str, Any]]] = {
        "findings": (Finding, {"asks": "?", "at": ["amp"]}),
        "signs": (Sign, {"at": ["amp"]}),
        "causes": (Cause, {"at": ["amp"], "says": "x"}),
        "procedures": (Procedure, {"at": ["amp"], "title": "t", "why": "w", "steps": ["x"]}),
        "repairs": (Repair, {"says": "x", "steps": ["x"], "proof": ["x"]}),
        "rules": (Rule, {"at": "amp", "says": "r", "why": "w", "tries": [{}, {}]}),
    }
    made = {
        sort: {
            row["id"]: schema.model_validate({"source": SOURCE, **usual, **row})
            for row in rows[sort]
        }
        for sort, (schema, usual) in more.items()
    }
    return Knowledge(
        kinds={"amp": Kind(id="amp", source=SOURCE, label="amp")},
        **made,
        layouts={},
        profiles={},
        gates={},
        hazards={},
        plain={"weights": [{"id": k, "is": v} for k, v in weights.items()]},
        content_hash="drawn",
    )
