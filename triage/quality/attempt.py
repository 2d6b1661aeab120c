"""Tries: the examples in the entries, run through the real engine and the real ranking."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from triage.assess import Bench
from triage.errors import BadReading, Problem
from triage.evidence.readings import judge_reading
from triage.infer.components import conditional
from triage.infer.gather import Observation, gather
from triage.infer.ground import Grounded
from triage.infer.posterior import Evidence, State
from triage.job.desk import Tools
from triage.knowledge.load import Knowledge
from triage.model.entries import Try

Complain = Callable[[Knowledge, str, str, str], Problem]


@dataclass(frozen=True)
class Shift:
    """How a try moves one cause: probability before and after."""

    before: float
    after: float


def observations(tried: Try) -> list[Observation]:
    """Facts 'PLACE finding answer' of a try.

    Raises
    ------
    BadReading : a fact has not three words.
    """
    found = []
    for fact in tried.facts:
        words = fact.split()
        if len(words) != 3:
            raise BadReading(
                fact, "a fact is written 'PLACE finding answer'", "V3 plate_colour red"
            )
        found.append(Observation(words[1], words[0], words[2]))
    return found


class Attempts:
    """Runs tries; benches are made once per profile."""

    def __init__(self, kb: Knowledge) -> None:
        self.kb = kb
        self.benches: dict[str, Bench] = {}

    def bench(self, profile: str) -> Bench:
        """The bench of a built-in profile.

        Raises
        ------
        KeyError : no such profile.
        """
        if profile not in self.benches:
            self.benches[profile] = Bench.make(self.kb, self.kb.profiles[profile])
        return self.benches[profile]

    def close(self) -> None:
        """Free all rules engines."""
        for bench in self.benches.values():
            bench.close()

    def state(self, bench: Bench, seen: list[Observation]) -> State:
        """Posterior after these observations alone."""
        gathered = gather(bench.grounded, seen, complaint_told=False)
        return bench.model.state(gathered.evidence)

    def shift(self, tried: Try, cause: str) -> Shift:
        """How the facts move one cause (at the try's place, or summed over places)."""
        bench = self.bench(tried.profile)
        rows = _rows(bench.grounded, cause, tried.at)
        if not rows:
            raise KeyError(f"{cause} at {tried.at}")
        prior = bench.model.state(Evidence()).posterior
        after = self.state(bench, observations(tried)).posterior
        return Shift(float(prior[rows].sum()), float(after[rows].sum()))

    def fired(self, tried: Try, rule: str) -> list[str]:
        """Places at which a rule fires on the facts, by the engine."""
        bench = self.bench(tried.profile)
        facts = [(o.place, o.finding, o.answer) for o in observations(tried)]
        firings = bench.engine.match(facts, bench.grounded.places)
        return sorted(f.at for f in firings if f.rule_id == rule)

    def problems(self, complain: Complain) -> Iterator[Problem]:
        """What every try of the knowledge says that is not so."""
        for folder in ("causes", "rules", "findings", "procedures"):
            for ident, entry in getattr(self.kb, folder).items():
                for tried in entry.tries:
                    wrong = self._wrong(folder, ident, tried)
                    if wrong:
                        yield complain(self.kb, folder, ident, wrong)

    def _wrong(self, folder: str, ident: str, tried: Try) -> str:
        try:
            return self._tried(folder, ident, tried)
        except (KeyError, BadReading) as error:
            return f"its try cannot run: {error}"

    def _tried(self, folder: str, ident: str, tried: Try) -> str:
        bench = self.bench(tried.profile)
        for seen in observations(tried):
            if seen.key not in bench.grounded.index:
                return f"its try names {seen.finding} at {seen.place}, which is not there"
            if seen.answer not in bench.grounded.instances[bench.grounded.index[seen.key]].answers:
                return f"its try gives {seen.finding} the answer '{seen.answer}', which it has not"
        if folder == "rules" and tried.fires_at is not None:
            fired = self.fired(tried, ident)
            if fired != sorted(tried.fires_at):
                return f"fires at {fired or 'no place'}, its try says {sorted(tried.fires_at)}"
        if tried.raises is not None:
            shift = self.shift(tried, tried.raises)
            if shift.after <= shift.before:
                return (
                    f"its try should raise {tried.raises}: {shift.before:.4f} -> {shift.after:.4f}"
                )
        if tried.lowers is not None:
            shift = self.shift(tried, tried.lowers)
            if shift.after >= shift.before:
                return (
                    f"its try should lower {tried.lowers}: {shift.before:.4f} -> {shift.after:.4f}"
                )
        if folder == "findings" and tried.reading is not None:
            return self._reading(bench, ident, tried)
        return ""

    def _reading(self, bench: Bench, ident: str, tried: Try) -> str:
        finding = self.kb.findings[ident]
        assert tried.reading is not None
        tools = Tools.of(bench)
        context = {
            "bias": bench.profile.bias,
            "rectifying": bench.profile.rectifying,
            "line_nominal_v": bench.profile.line.nominal,
            "hertz": float(bench.profile.line.hertz)
            if bench.profile.line.hertz != "unknown"
            else 60.0,
        }
        judged = judge_reading(finding, tried.reading, tools.meter, context, keep=True)
        if judged.informative and judged.answer != tried.answer:
            return f"reads '{tried.reading}' as {judged.answer}, its try says {tried.answer}"
        return ""


def _rows(grounded: Grounded, cause: str, place: str | None) -> list[int]:
    return [
        row
        for row, h in enumerate(grounded.hypotheses)
        if h.cause == cause and (place is None or h.place == place)
    ]


def show(kb: Knowledge, ident: str) -> str:
    """What one entry does to a ranking: its tries, with probabilities and rule factors.

    Raises
    ------
    BadReading : no entry has this id.
    """
    attempts = Attempts(kb)
    lines: list[str] = []
    for folder in ("causes", "rules", "findings", "procedures"):
        entry = getattr(kb, folder).get(ident)
        if entry is None:
            continue
        file, line = kb.where[(folder, ident)]
        lines.append(f"{ident} ({folder[:-1]}, {file}:{line})")
        for tried in entry.tries:
            lines += _one(attempts, folder, ident, tried)
        if not entry.tries:
            lines.append("  it has no tries")
    attempts.close()
    if not lines:
        from difflib import get_close_matches

        known = [*kb.causes, *kb.rules, *kb.findings, *kb.procedures]
        near = get_close_matches(ident, known, n=1)
        raise BadReading(ident, "no entry has this id", near[0] if near else "coupling_cap.leaky")
    return "\n".join(lines)


def _factors(grounded: Grounded, ident: str, fired: list[str]) -> list[str]:
    """What a rule adds to its causes' own words, firing and contradicted (semantics 1.2.4)."""
    lines = []
    for rule in grounded.rules:
        if rule.rule != ident or rule.at not in fired:
            continue
        q = 1.0
        for literal in rule.literals:
            table = conditional(grounded, literal.finding, rule.hypothesis)
            if table.ndim == 2:
                sign = grounded.instances[literal.finding].sign
                there = float(grounded.sign_p[sign, rule.hypothesis]) if sign is not None else 0.0
                table = table @ [1.0 - there, there]
            q *= float(table[list(literal.mask)].sum())
        whole = 1.0 + (rule.strength - 1.0) * q
        h = grounded.hypotheses[rule.hypothesis]
        lines.append(
            f"    {h.cause} {h.place}: x {rule.strength / whole:.2f} when it fires, "
            f"x {1.0 / whole:.2f} when contradicted (its words alone expect it {q:.0%})"
        )
    return lines


def _one(attempts: Attempts, folder: str, ident: str, tried: Try) -> list[str]:
    lines = [f"  on {tried.profile}: " + ("; ".join(tried.facts) or f"reading {tried.reading}")]
    if folder == "rules":
        fired = attempts.fired(tried, ident)
        lines.append(f"    fires at: {', '.join(fired) or 'no place'}")
        lines += _factors(attempts.bench(tried.profile).grounded, ident, fired)
    for cause in filter(None, (tried.raises, tried.lowers)):
        shift = attempts.shift(tried, cause)
        lines.append(f"    {cause} {tried.at or ''}: {shift.before:.2%} -> {shift.after:.2%}")
    bench = attempts.bench(tried.profile)
    if tried.facts:
        state = attempts.state(bench, observations(tried))
        top = state.posterior.argsort()[::-1][:5]
        for row in top:
            h = bench.grounded.hypotheses[int(row)]
            lines.append(f"      {state.posterior[row]:6.1%}  {h.cause} {h.place}".rstrip())
    return lines
