"""Coverage: which causes can be noticed and told apart, with which tools, words shaken by half a step.

How it is reckoned. On every built-in amplifier (fault route, a technician's hands) each cause at
each of its places is the hidden one once a shake. Every word is moved by half a step up or down;
answers to all findings that the tools can reach are drawn from these tables (an intermittent
fault is there when looked for; gates and cost play no part). The ranking uses the unshaken
knowledge: it is the project's own, as arrays. A cause counts as

- isolated to **one** repair where its repair, at its place, leads and holds at least half (a cause
  whose text names no place is one repair wherever it stands; what is no fault, and 'nothing is
  wrong', are one: nothing is done);
- isolated to **three** where it is among the three leading repairs and these hold at least half;
- **detected** where it makes something that people tell unasked in words the phrasebook has, or
  that a question of a check-up shows, and 'nothing is wrong' does not lead in most of its draws.

Causes are weighted by their prior; amplifiers weigh the same; figures are medians over shakes.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from triage.infer.ground import Grounded, ground
from triage.knowledge.load import Knowledge
from triage.model.profile import Profile
from triage.plan.candidates import ground_procedures
from triage.quality.shaken_tables import Bools, Floats, Ints, Tables
from triage.words import Phrasebook

SENSES_AND_METER = ("multimeter", "discharge_tool")
"""A meter, and what makes an amplifier safe to measure."""
WORKSHOP = (
    *SENSES_AND_METER,
    "limiter",
    "isolation_transformer",
    "variable_transformer",
    "scope",
    "generator",
    "tube_tester",
    "capacitor_meter",
    "spare_tubes",
    "dummy_load",
    "shorting_plug",
    "wooden_stick",
    "high_impedance_meter",
    "probe_2kv",
    "insulation_tester",
    "leakage_tester",
    "earth_leakage_tester",
    "reforming_supply",
    "impedance_bridge",
)
SETS: dict[str, tuple[str, ...]] = {"multimeter": SENSES_AND_METER, "all_tools": WORKSHOP}
HALF = 0.5
TELLS = 0.1
"""A finding people tell unasked must be this much likelier under the cause than usual."""
SHOWS = 0.25
"""The same for what has to be looked for."""
NO_FAULT = "explain_normal"
"""Repair of what is taken for a fault and is none: there, 'nothing is wrong' is no miss."""


@dataclass
class Found:
    """What became of one cause: draws, and how often it was isolated; who led instead."""

    draws: int = 0
    one: int = 0
    three: int = 0
    healthy: int = 0
    instead: Counter[str] = field(default_factory=Counter)
    weight: float = 0.0


@dataclass(frozen=True)
class SetResult:
    """Shares of one tool set (medians over shakes, 0 to 1), and what became of each cause."""

    one: float
    three: float
    noticed: float
    by_cause: dict[str, Found]


@dataclass(frozen=True)
class Setting:
    """One amplifier with its tables; ``group``: the repair of every row, (R,).

    ``known``: per tool set the findings within reach, (F,).
    """

    name: str
    grounded: Grounded
    tables: Tables
    group: Ints
    known: dict[str, Bools]


def owned(profile: Profile, tools: Sequence[str]) -> Profile:
    """The same amplifier on a technician's bench with these tools, on the fault route."""
    owner = profile.owner.model_copy(
        update={"skill": "technician", "tools": list(tools), "second_person": "yes"}
    )
    return profile.model_copy(update={"owner": owner, "route": "fault"})


def settings(knowledge: Knowledge, names: Sequence[str] = (), step: float = 0.5) -> list[Setting]:
    """Every amplifier (or those named), grounded, with what each tool set reaches."""
    found = []
    for name in names or sorted(knowledge.profiles):
        grounded = ground(knowledge, owned(knowledge.profiles[name], WORKSHOP))
        known = {}
        for label, tools in SETS.items():
            other = ground(knowledge, owned(knowledge.profiles[name], tools))
            reached = np.array([i.told > 0.0 for i in grounded.instances])
            for candidate in ground_procedures(other):
                reached[list(candidate.yields)] = True
            known[label] = reached
        tables = Tables(grounded, step)
        found.append(Setting(name, grounded, tables, repairs_of(grounded), known))
    return found


def repairs_of(grounded: Grounded) -> Ints:
    """A number for what is done about each row, (R,): one repair at one place (see above)."""
    causes = grounded.knowledge.causes
    keys = []
    for hypothesis in grounded.hypotheses:
        cause = causes.get(hypothesis.cause)
        if cause is None:
            keys.append((hypothesis.cause, ""))
        elif cause.repair == NO_FAULT:
            keys.append(("healthy", ""))
        else:
            keys.append((cause.repair, hypothesis.place if "{place}" in cause.says else ""))
    names = list(dict.fromkeys(keys))
    return np.array([names.index(key) for key in keys])


def isolate(benches: Sequence[Setting], shakes: int, seed: int) -> dict[str, SetResult]:
    """Shares of isolation for both tool sets; see the head of this module."""
    shares: dict[str, list[tuple[float, float, float]]] = {label: [] for label in SETS}
    causes: dict[str, dict[str, Found]] = {label: defaultdict(Found) for label in SETS}
    for n in range(shakes):
        sums: dict[str, list[Floats]] = {label: [] for label in SETS}
        for b, bench in enumerate(benches):
            answers = bench.tables.drawn(np.random.default_rng([seed, n, b]))
            for label in SETS:
                sums[label].append(_one_bench(bench, answers, label, causes[label]))
        for label, rows in sums.items():
            one, three, noticed = np.mean(rows, axis=0)
            shares[label].append((float(one), float(three), float(noticed)))
    middle = {label: np.median(np.array(rows), axis=0) for label, rows in shares.items()}
    return {
        label: SetResult(float(m[0]), float(m[1]), float(m[2]), dict(causes[label]))
        for label, m in middle.items()
    }


def _one_bench(bench: Setting, answers: Ints, label: str, causes: dict[str, Found]) -> Floats:
    """Shares (one, three, noticed) of one shake of one amplifier; adds to the causes' counts."""
    grounded, of_row = bench.grounded, bench.group
    asked = bench.tables.applies(answers, bench.known[label])
    posterior = bench.tables.posterior(answers, asked)
    mass = np.zeros((len(posterior), int(np.max(of_row)) + 1))
    for row, group in enumerate(of_row):
        mass[:, group] += posterior[:, row]
    order = np.argsort(-mass, axis=1, kind="stable")[:, :3]
    top = np.take_along_axis(mass, order, axis=1)
    true = of_row[: len(posterior)]
    one = (order[:, 0] == true) & (top[:, 0] >= HALF)
    three = (order == true[:, None]).any(axis=1) & (top.sum(axis=1) >= HALF)
    leader = posterior.argmax(axis=1)
    for row in range(grounded.healthy):
        found = causes[grounded.hypotheses[row].cause]
        found.draws += 1
        found.one += bool(one[row])
        found.three += bool(three[row])
        found.healthy += bool(leader[row] == grounded.healthy)
        found.weight += float(grounded.prior[row])
        if not one[row]:
            found.instead[_instead(grounded, row, int(leader[row]), order[row], of_row)] += 1
    weight = grounded.prior[: grounded.healthy] / grounded.prior[: grounded.healthy].sum()
    noticed = leader != grounded.healthy
    flags = np.array([one, three, noticed], dtype=float)[:, : grounded.healthy]
    return np.asarray(flags @ weight)


def _instead(grounded: Grounded, row: int, leader: int, order: Ints, of_row: Ints) -> str:
    """The cause that led instead; 'spread' where its own repair led without holding half."""
    if of_row[row] == order[0]:
        return "spread"
    true, other = grounded.hypotheses[row], grounded.hypotheses[leader]
    return "elsewhere" if other.cause == true.cause else other.cause


@dataclass(frozen=True)
class Unsure:
    """A cause that a tool set does not isolate, with the reason."""

    cause: str
    share: float
    weight: float
    instead: str
    why: str


def unsure(
    benches: Sequence[Setting], label: str, result: SetResult, least: float = 0.5
) -> list[Unsure]:
    """Causes isolated to one repair in less than ``least`` of their draws, heaviest first."""
    total = sum(found.weight for found in result.by_cause.values())
    rows = []
    for cause, found in result.by_cause.items():
        share = found.one / found.draws
        if share >= least:
            continue
        other = found.instead.most_common(1)[0][0]
        why = _why(benches, label, cause, other)
        rows.append(Unsure(cause, round(share, 3), round(found.weight / total, 5), other, why))
    return sorted(rows, key=lambda row: (-row.weight, row.cause))


def _why(benches: Sequence[Setting], label: str, cause: str, other: str) -> str:
    best: dict[bool, tuple[float, str]] = {True: (0.0, ""), False: (0.0, "")}
    for bench in benches:
        rows = [i for i, h in enumerate(bench.grounded.hypotheses) if h.cause == cause]
        rivals = [i for i, h in enumerate(bench.grounded.hypotheses) if h.cause == other]
        rivals = rivals or [bench.grounded.healthy]
        if other == "elsewhere":
            rivals = rows[1:]
        if not rows or not rivals:
            continue
        for instance in bench.grounded.instances:
            columns = bench.tables.columns(instance.index)
            apart = float(np.abs(columns[:, rows[0]] - columns[:, rivals[0]]).sum()) / 2.0
            reached = bool(bench.known[label][instance.index])
            best[reached] = max(best[reached], (round(apart, 3), instance.finding.id))
    (here, by), (there, missing) = best[True], best[False]
    names = {"healthy": "nothing wrong", "unknown": "a cause not in the files"}
    name = (names | {"elsewhere": "itself at another place"}).get(other, other)
    if other == "spread":
        return "its own repair leads with less than half: what it makes is usual elsewhere too"
    said = f"looks like {name}"
    if there > max(here, HALF):
        return f"{said}; '{missing}' ({there}) would tell, out of these tools' reach"
    if here >= HALF:
        return f"{said}; only '{by}' ({here}) tells them apart, and it can slip"
    if max(here, there) < TELLS:
        return f"{said}; nothing in the files tells them apart: a test is missing"
    return f"{said}; no finding tells them apart by half (best '{by}', {here})"


def undetected(
    benches: Sequence[Setting], book: Phrasebook, results: dict[str, SetResult]
) -> tuple[float, dict[str, str]]:
    """Share of causes detected (by prior), and the reason for each that is not."""
    spoken = {(p.finding, p.answer) for p in book.phrases}
    spoken |= {also for p in book.phrases for also in p.also}
    told: dict[str, float] = defaultdict(float)
    shown: dict[str, float] = defaultdict(float)
    for bench in benches:
        known = bench.known["all_tools"]
        for i in bench.grounded.instances:
            lift = bench.tables.columns(i.index)[: len(i.answers)] - i.base[:, None]
            lift[i.normal] = 0.0
            words = [n for n, a in enumerate(i.answers) if (i.finding.id, a) in spoken]
            for row, h in enumerate(bench.grounded.hypotheses[: bench.grounded.healthy]):
                if i.told > 0.0 and words:
                    told[h.cause] = max(told[h.cause], float(np.max(lift[words, row])))
                if known[i.index]:
                    shown[h.cause] = max(shown[h.cause], float(np.max(lift[:, row])))
    missing: dict[str, str] = {}
    weights, total = 0.0, 0.0
    for cause, found in results["all_tools"].by_cause.items():
        total += found.weight
        if told[cause] < TELLS and shown[cause] < SHOWS:
            missing[cause] = "nothing that it makes is told or shown"
        elif found.healthy > HALF * found.draws and not _harmless(benches, cause):
            missing[cause] = "'nothing is wrong' leads in most of its draws"
        else:
            weights += found.weight
    return weights / max(total, 1e-12), missing


def _harmless(benches: Sequence[Setting], cause: str) -> bool:
    return benches[0].grounded.knowledge.causes[cause].repair == NO_FAULT


def untold(benches: Sequence[Setting], book: Phrasebook) -> list[str]:
    """Causes that no complaint leads to: found only where somebody looks (a check-up)."""
    spoken = {(p.finding, p.answer) for p in book.phrases}
    spoken |= {also for p in book.phrases for also in p.also}
    seen: set[str] = set()
    reached: set[str] = set()
    for bench in benches:
        seen |= {h.cause for h in bench.grounded.hypotheses[: bench.grounded.healthy]}
        for i in bench.grounded.instances:
            words = [n for n, a in enumerate(i.answers) if (i.finding.id, a) in spoken]
            words = [n for n in words if n != i.normal]
            if i.told > 0.0 and words:
                lift = bench.tables.columns(i.index)[words] - i.base[words][:, None]
                telling = np.asarray(np.any(lift >= TELLS, axis=0))
                for row in np.flatnonzero(telling[: bench.grounded.healthy]):
                    reached.add(bench.grounded.hypotheses[row].cause)
    return sorted(seen - reached)
