"""Static lint and every entry's own tries. Each check is a function that yields problems."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from pydantic import ValidationError

from triage.errors import EngineFault, Problem, TriageError
from triage.knowledge.load import Knowledge
from triage.measure.judges import accepts
from triage.measure.meters import UNITS
from triage.model.base import RELATIONS, RESERVED_ANSWERS
from triage.model.entries import MAKES, Cause, Makes
from triage.model.trial import Trial
from triage.quality.attempt import Attempts
from triage.rules.templates import compile_templates

UNASKED = frozenset({"story", "look", "listen", "rate_by_ear", "smell", "touch", "act"})
"""Paths whose findings people mention unasked; readings and trials they do not."""


def problem(kb: Knowledge, folder: str, ident: str, what: str, mend: str = "") -> Problem:
    """A problem at the entry's own file and line."""
    file, line = kb.where.get((folder, ident), (folder, 1))
    return Problem(file, line, f"{ident}: {what}", mend=mend)


def close(word: str, known: Iterable[str]) -> str:
    """The known id closest to a misspelt one, as a mend."""
    from difflib import get_close_matches

    found = get_close_matches(word, list(known), n=1)
    return f"did you mean '{found[0]}'?" if found else "add it, or correct the id."


def check_paths(kb: Knowledge) -> Iterator[Problem]:
    """Walks name relations, two at most."""
    rows: list[tuple[str, str, str]] = []
    for cause in kb.causes.values():
        rows += [("causes", cause.id, m.of) for m in (*cause.makes, *cause.suppresses)]
        rows += [("causes", cause.id, ref.of) for ref in (*cause.damages, *cause.brought_on_by)]
    for finding in kb.findings.values():
        rows += [("findings", finding.id, ref.of) for ref in finding.applies_when]
    for procedure in kb.procedures.values():
        rows += [("procedures", procedure.id, y.of) for y in procedure.yields]
    for rule in kb.rules.values():
        rows += [("rules", rule.id, w.of) for w in rule.when]
        rows += [("rules", rule.id, w.of) for w in rule.weighs]
        rows += [("rules", rule.id, w.of) for w in rule.derives]
    for folder, ident, path in rows:
        steps = [step for step in path.split(".") if step != "self"]
        for step in steps:
            if step not in RELATIONS:
                yield problem(
                    kb,
                    folder,
                    ident,
                    f"'{step}' is no relation",
                    "use one of " + ", ".join(RELATIONS) + ".",
                )
        if len(steps) > 2:
            yield problem(kb, folder, ident, f"'{path}' walks more than two relations")


def check_findings(kb: Knowledge) -> Iterator[Problem]:
    """Tables sum to one, the normal answer is an answer, signs and judges fit."""
    for finding in kb.findings.values():
        if finding.normal not in finding.answers:
            yield problem(kb, "findings", finding.id, f"normal '{finding.normal}' is no answer")
        if set(finding.usual) != set(finding.answers):
            yield problem(
                kb, "findings", finding.id, "'usual' and 'answers' name different answers"
            )
        elif abs(sum(finding.usual.values()) - 1.0) > 1e-9:
            yield problem(
                kb,
                "findings",
                finding.id,
                f"'usual' sums to {sum(finding.usual.values()):.3f}, not 1",
            )
        if any(answer in RESERVED_ANSWERS for answer in finding.answers):
            yield problem(kb, "findings", finding.id, "a reserved word is used as an answer")
        if finding.told != "never" and finding.path not in UNASKED:
            yield problem(
                kb,
                "findings",
                finding.id,
                f"nobody tells '{finding.path}' findings unasked",
                "set told: never; silence on them says nothing.",
            )
        for kind in finding.at:
            if kind not in kb.kinds:
                yield problem(
                    kb,
                    "findings",
                    finding.id,
                    f"unknown kind of place '{kind}'",
                    close(kind, kb.kinds),
                )
        if finding.shows is not None and finding.shows.sign not in kb.signs:
            yield problem(
                kb,
                "findings",
                finding.id,
                f"unknown sign '{finding.shows.sign}'",
                close(finding.shows.sign, kb.signs),
            )
        if finding.takes is not None:
            unit = UNITS.get(finding.takes.reading, "?")
            wrong = accepts(finding.takes.judge, finding.takes.settings, unit, len(finding.answers))
            if wrong:
                yield problem(kb, "findings", finding.id, wrong)


def check_words(kb: Knowledge) -> Iterator[Problem]:
    """Likelihood words name answers that exist, on findings that hang on no sign."""
    for cause in kb.causes.values():
        sums: dict[tuple[str, str], float] = {}
        for word in (*cause.makes, *cause.suppresses):
            yield from _word(kb, cause, word)
            if word.finding and word.word in MAKES and not word.if_:
                key = (word.of, word.finding)
                sums[key] = sums.get(key, 0.0) + MAKES[word.word]
        for (of, finding), total in sums.items():
            if total > 1.25:
                yield problem(
                    kb,
                    "causes",
                    cause.id,
                    f"its words on '{finding}' at {of} sum to {total:.2f}",
                    "keep them to 0.98: one 'usually', or 'often' with 'sometimes'.",
                )


def _word(kb: Knowledge, cause: Cause, word: Makes) -> Iterator[Problem]:
    if (word.finding is None) == (word.sign is None):
        yield problem(kb, "causes", cause.id, "a word names a finding or a sign, one of the two")
        return
    if word.sign is not None:
        if word.sign not in kb.signs:
            yield problem(
                kb, "causes", cause.id, f"unknown sign '{word.sign}'", close(word.sign, kb.signs)
            )
        return
    finding = kb.findings.get(word.finding or "")
    if finding is None:
        yield problem(
            kb,
            "causes",
            cause.id,
            f"unknown finding '{word.finding}'",
            close(word.finding or "", kb.findings),
        )
    elif word.answer not in finding.answers:
        yield problem(
            kb,
            "causes",
            cause.id,
            f"'{word.answer}' is no answer of '{finding.id}'",
            "its answers: " + ", ".join(finding.answers) + ".",
        )
    elif finding.shows is not None:
        yield problem(
            kb,
            "causes",
            cause.id,
            f"'{finding.id}' hangs on the sign '{finding.shows.sign}'",
            "word the sign instead.",
        )


def check_references(kb: Knowledge) -> Iterator[Problem]:
    """Ids that entries name exist: repairs, causes, findings, kinds, gates, hazards, sources."""
    sources = {str(row["id"]) for row in kb.plain["sources"]}
    for cause in kb.causes.values():
        if cause.repair not in kb.repairs:
            yield problem(
                kb,
                "causes",
                cause.id,
                f"unknown repair '{cause.repair}'",
                close(cause.repair, kb.repairs),
            )
        for ref in (*cause.damages, *cause.brought_on_by):
            if ref.cause not in kb.causes:
                yield problem(
                    kb,
                    "causes",
                    cause.id,
                    f"unknown cause '{ref.cause}'",
                    close(ref.cause, kb.causes),
                )
    for procedure in kb.procedures.values():
        for given in procedure.yields:
            if given.finding not in kb.findings:
                yield problem(
                    kb,
                    "procedures",
                    procedure.id,
                    f"unknown finding '{given.finding}'",
                    close(given.finding, kb.findings),
                )
        for gate in (*procedure.needs, *procedure.proves):
            if gate not in kb.gates:
                yield problem(kb, "procedures", procedure.id, f"unknown gate '{gate}'")
    for rule in kb.rules.values():
        for weigh in rule.weighs:
            if weigh.cause not in kb.causes:
                yield problem(
                    kb,
                    "rules",
                    rule.id,
                    f"unknown cause '{weigh.cause}'",
                    close(weigh.cause, kb.causes),
                )
        for literal in rule.when:
            finding = kb.findings.get(literal.finding)
            if finding is None:
                yield problem(
                    kb,
                    "rules",
                    rule.id,
                    f"unknown finding '{literal.finding}'",
                    close(literal.finding, kb.findings),
                )
                continue
            for answer in literal.answers:
                if answer not in (*finding.answers, *RESERVED_ANSWERS):
                    yield problem(
                        kb, "rules", rule.id, f"'{answer}' is no answer of '{finding.id}'"
                    )
        if rule.hazard is not None and rule.hazard not in kb.hazards:
            yield problem(kb, "rules", rule.id, f"unknown hazard '{rule.hazard}'")
        if rule.weighs and len(rule.when) < 2:
            yield problem(
                kb,
                "rules",
                rule.id,
                "one condition is a word of the cause, not a rule",
                "put it into the cause's 'makes'.",
            )
    for folder in (
        "findings",
        "signs",
        "causes",
        "procedures",
        "repairs",
        "rules",
        "kinds",
        "parts",
    ):
        for ident, entry in getattr(kb, folder).items():
            for source in entry.source:
                if source.id not in sources:
                    yield problem(
                        kb,
                        folder,
                        ident,
                        f"unknown source '{source.id}'",
                        close(source.id, sources),
                    )


def check_reach(kb: Knowledge) -> Iterator[Problem]:
    """Every finding can be come by, every gate has a procedure that proves it."""
    yielded = {given.finding for p in kb.procedures.values() for given in p.yields}
    for finding in kb.findings.values():
        if finding.id not in yielded and not finding.derived and finding.id != "proof":
            yield problem(kb, "findings", finding.id, "no procedure yields it")
    proved = {gate for p in kb.procedures.values() for gate in p.proves}
    for gate in kb.gates:
        if gate not in proved and gate not in ("G1", "G13", "G15", "G16"):
            yield problem(kb, "gates", gate, "no procedure proves it")


def check_parts(kb: Knowledge) -> Iterator[Problem]:
    """Every part as named falls under a kind of place, and bears the name of none."""
    for part in kb.parts.values():
        if part.under not in kb.kinds:
            what = f"unknown kind of place '{part.under}'"
            yield problem(kb, "parts", part.id, what, close(part.under, kb.kinds))
        if part.id in kb.kinds:
            yield problem(kb, "parts", part.id, "a kind of place has this name", "choose another.")


def check_routes(kb: Knowledge) -> Iterator[Problem]:
    """Rounds of checks name procedures that exist."""
    for row in kb.plain["routes"]:
        for ident in row["must"]:
            if ident not in kb.procedures:
                what = f"unknown procedure '{ident}'"
                yield problem(kb, "routes", str(row["id"]), what, close(ident, kb.procedures))


def check_trials(kb: Knowledge) -> Iterator[Problem]:
    """Trials of the physics check read well, and name causes and circuits that exist."""
    for row in kb.plain["circuit_trials"]:
        ident = str(row.get("id", "?"))
        try:
            trial = Trial.model_validate(row)
        except ValidationError as error:
            where = ", ".join(".".join(str(s) for s in item["loc"]) for item in error.errors())
            yield problem(kb, "circuit_trials", ident, f"not a trial: {where}")
            continue
        for cause in trial.cause:
            if cause not in kb.causes:
                what = f"unknown cause '{cause}'"
                yield problem(kb, "circuit_trials", ident, what, close(cause, kb.causes))
        for circuit in trial.circuits:
            if circuit not in kb.circuits:
                what = f"unknown circuit '{circuit}'"
                yield problem(kb, "circuit_trials", ident, what, close(circuit, kb.circuits))


def check_rules(kb: Knowledge) -> Iterator[Problem]:
    """The rules compile for the engine."""
    try:
        compile_templates(kb.rules.values())
    except EngineFault as error:
        yield Problem("knowledge/rules", 1, str(error))


CHECKS = (
    check_paths,
    check_findings,
    check_words,
    check_references,
    check_reach,
    check_parts,
    check_routes,
    check_trials,
    check_rules,
)


def run(kb: Knowledge, root: Path | None = None) -> list[Problem]:
    """Every problem of the knowledge; tries are run only where the lint is clean."""
    found = [item for check in CHECKS for item in check(kb)]
    if found:
        return sorted(set(found))
    try:
        attempts = Attempts(kb)
        found = list(attempts.problems(problem))
        attempts.close()
    except TriageError as error:
        found = [Problem("knowledge", 1, str(error))]
    return sorted(set(found))
