"""Whether knowledge about volts and currents is physically true, tried in every circuit it fits.

Each word of a cause about a reading that the circuits can give is tried under that cause's own fault
(a part's, or a trial's): the reading is judged exactly as a person's would be, and the answer held
against the word. A rule is tried by the conditions of it that are such readings, all at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from triage.circuit.netlist import catalogue
from triage.knowledge.load import Knowledge
from triage.model.entries import FindingRef, Makes, Rule, Weighs
from triage.quality.benches import Answers, Strata, benches
from triage.quality.trials import trials_of

ELECTRIC = frozenset(
    "b_plus b_plus_driven node_volts ripple ripple_rate bias_source bias_at_pin bias_ripple "
    "bias_driven cathode_volts plate_volts plate_share plate_resistor_drop screen_volts idle_current "
    "idle_trend grid_shift_tube_in grid_shift_tube_out grid_shift_cap_lifted grid_hum hum_at_load "
    "splitter_balance wiper_dc speaker_dc board_dc".split()
)
"""Findings about a volt, a current, a gain or hum that a solved circuit gives a value for."""


Name = tuple[str, str, str, str]
"""Cause, finding, answer and word; of a rule: cause, rule, way and strength."""


@dataclass(frozen=True)
class Tried:
    """One word of a cause: ``holds``, ``does not`` or ``not tried``, and where or why.

    Of a rule, ``finding`` is its name, ``answer`` says whether it speaks for or against the cause.
    """

    cause: str
    finding: str
    answer: str
    word: str
    verdict: str
    why: str


def check_physics(knowledge: Knowledge, circuits: Sequence[str] = ()) -> list[Tried]:
    """Every word about a volt or a current, tried wherever a circuit has its cause's fault.

    ``circuits``: only these; all if none is named.
    """
    verdicts: dict[Name, list[tuple[bool, str]]] = {}
    known: set[str] = set()
    models = catalogue(knowledge.plain)
    trials = trials_of(knowledge.plain["circuit_trials"])
    for bench in benches(knowledge, models):
        if circuits and bench.spec.circuit not in circuits:
            continue
        for strata in (*bench.faults(ELECTRIC), *bench.trials(trials, models, ELECTRIC)):
            known.add(strata.cause)
            for word, holds in _words(knowledge, strata):
                key: Name = (strata.cause, word.finding or "", word.answer, word.word)
                verdicts.setdefault(key, []).append((holds, bench.spec.circuit))
            for rule, weigh, holds in _rules(knowledge, strata):
                key = (strata.cause, f"rule {rule.id}", _way(weigh), weigh.strength)
                verdicts.setdefault(key, []).append((holds, bench.spec.circuit))
    return _results(knowledge, verdicts, known)


def _way(weigh: Weighs) -> str:
    return "against" if weigh.against else "for"


def _electric(rule: Rule) -> list[FindingRef]:
    """Conditions of a rule about a volt, a current or hum."""
    return [literal for literal in rule.when if literal.finding in ELECTRIC]


def _rules(knowledge: Knowledge, strata: Strata) -> Iterator[tuple[Rule, Weighs, bool]]:
    """Rules that weigh the cause by readings, and whether they agree with what it makes of them.

    One that speaks for it agrees where all its conditions that are readings are met at once, under
    one size of the fault; one that speaks against it, where they are not met under some. Conditions
    that are no reading are taken as met; where one of them alone could speak against, nothing is said.
    """
    for rule in knowledge.rules.values():
        literals = _electric(rule)
        weighs = [weigh for weigh in rule.weighs if weigh.cause == strata.cause]
        if not literals or not weighs:
            continue
        for weigh in weighs:
            met: list[bool] = []
            for at in strata.places.of_kind([rule.at]):
                if strata.place in strata.places.walk(at.id, weigh.of):
                    met += _met(knowledge, strata, at.id, literals)
            words_too = len(literals) < len(rule.when)
            if weigh.against and met and all(met) and words_too:
                continue  # what speaks against it is no reading
            if met:
                yield rule, weigh, not all(met) if weigh.against else any(met)


def _met(
    knowledge: Knowledge, strata: Strata, at: str, literals: Sequence[FindingRef]
) -> list[bool]:
    """Whether all of the conditions are met, by stratum; strata that lack a reading are left out."""
    found = []
    for answers in strata.answers:
        met = []
        for literal in literals:
            keys = [(literal.finding, p) for p in strata.places.walk(at, literal.of)]
            here = [key for key in keys if key in answers]
            normal = knowledge.findings[literal.finding].normal
            if here:
                met.append(
                    any(
                        answers[key] in literal.answers
                        and (answers[key] == normal or strata.usual.get(key) != answers[key])
                        for key in here
                    )
                )
        if len(met) == len(literals):
            found.append(all(met))
    return found


def _words(knowledge: Knowledge, strata: Strata) -> Iterator[tuple[Makes, bool]]:
    """Words of the cause that its strata have readings for, and whether each holds."""
    entry = knowledge.causes[strata.cause]
    for makes, words in ((True, entry.makes), (False, entry.suppresses)):
        for word in words:
            if word.finding not in ELECTRIC:
                continue
            keys = [(word.finding, p) for p in strata.places.walk(strata.place, word.of)]
            said = [_said(s, keys, knowledge, word, strata.usual, makes) for s in strata.answers]
            if not any(said):
                continue
            if makes:
                holds = any(word.answer in answers for answers in said)
            elif word.word == "never":
                holds = all(word.answer not in answers for answers in said)
            else:
                holds = any(set(answers) - {word.answer} for answers in said if answers)
            yield word, holds


def _said(
    answers: Answers,
    keys: Sequence[tuple[str, str]],
    knowledge: Knowledge,
    word: Makes,
    usual: Answers,
    makes: bool,
) -> list[str]:
    """Answers at these places. Where the sound amplifier gives a fault's answer, nothing is shown."""
    normal = knowledge.findings[word.finding or ""].normal
    return [
        answers[key]
        for key in keys
        if key in answers
        and not (makes and word.answer != normal and usual.get(key) == word.answer)
    ]


def _results(
    knowledge: Knowledge,
    verdicts: Mapping[Name, list[tuple[bool, str]]],
    known: set[str],
) -> list[Tried]:
    keys: list[Name] = [
        (cause.id, word.finding or "", word.answer, word.word)
        for cause in knowledge.causes.values()
        for word in (*cause.makes, *cause.suppresses)
        if word.finding in ELECTRIC
    ]
    keys += [
        (weigh.cause, f"rule {rule.id}", _way(weigh), weigh.strength)
        for rule in knowledge.rules.values()
        if _electric(rule)
        for weigh in rule.weighs
    ]
    found = []
    for key in keys:
        seen = verdicts.get(key, [])
        if seen:
            good = [where for holds, where in seen if holds]
            verdict = "holds" if good else "does not"
            why = ", ".join(sorted(set(good or [where for _, where in seen])))
        else:
            verdict = "not tried"
            why = (
                "its fault is in no circuit and no trial"
                if key[0] not in known
                else "no reading at such a place"
            )
        found.append(Tried(*key, verdict, why))
    return found


def shares(found: Sequence[Tried]) -> dict[str, float]:
    """How many words hold, do not, and were not tried; and the share that was tried."""
    counts = {v: sum(t.verdict == v for t in found) for v in ("holds", "does not", "not tried")}
    tried = counts["holds"] + counts["does not"]
    return {**counts, "tried": float(np.round(tried / max(len(found), 1), 3))}


__all__ = ["ELECTRIC", "Tried", "check_physics", "shares"]
