"""One pure function: what is known of an amplifier, in; ranking, reasons and next move, out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from triage.errors import EngineFault
from triage.infer.gather import Fact, Gathered, Observation, gather
from triage.infer.ground import Grounded, Key, ground
from triage.infer.pairs import Pair, rank_pairs
from triage.infer.posterior import Evidence, Model, RepairProof, State
from triage.knowledge.load import Knowledge
from triage.model.base import RESERVED_ANSWERS
from triage.model.profile import Profile
from triage.plan.advise import Advice, Adviser, Gatekeeper, Situation, advise
from triage.plan.candidates import Candidate, ground_done_before, ground_procedures, warm
from triage.plan.costs import RepairGroups
from triage.plan.repeats import SURPRISED
from triage.rules import reference
from triage.rules.engine import RuleEngine
from triage.rules.rounds import Rounds, run_rounds
from triage.rules.templates import Firing, Template, compile_templates

if TYPE_CHECKING:
    from triage.circuit.expected import Expected
    from triage.circuit.likelihood import Likelihood, Visit


@dataclass(frozen=True)
class Bench:
    """Knowledge compiled for one amplifier; made once for a job."""

    knowledge: Knowledge
    profile: Profile
    grounded: Grounded
    model: Model
    groups: RepairGroups
    candidates: tuple[Candidate, ...]
    engine: RuleEngine
    adviser: Adviser = advise

    @classmethod
    def make(cls, knowledge: Knowledge, profile: Profile, adviser: Adviser = advise) -> Bench:
        """Ground the knowledge on a profile and compile the rules."""
        grounded = ground(knowledge, profile)
        engine = RuleEngine(compile_templates(knowledge.rules.values()))
        model, candidates = Model(grounded), tuple(ground_procedures(grounded))
        warm(model, candidates)
        groups = RepairGroups(grounded)
        return cls(knowledge, profile, grounded, model, groups, candidates, engine, adviser)

    def advised_by(self, adviser: Adviser) -> Bench:
        """The same bench with another order of tests; a circuit already solved is kept."""
        made = replace(self, adviser=adviser)
        vars(made).update({k: v for k, v in vars(self).items() if k in ("circuit", "likelihood")})
        return made

    @cached_property
    def done_before(self) -> tuple[Candidate, ...]:
        """Steps that somebody, this person or another, may have done before the job."""
        return ground_done_before(self.grounded)

    @cached_property
    def circuit(self) -> Expected | None:
        """What a sound one reads at each place, where the circuit is known."""
        spec = self.knowledge.circuits.get(self.profile.circuit or "")
        if spec is None:
            return None
        from triage.circuit.expected import Expected  # when a reading first wants it
        from triage.circuit.netlist import build, catalogue

        return Expected(build(spec, catalogue(self.knowledge.plain)))

    @cached_property
    def likelihood(self) -> Likelihood | None:
        """How likely readings are under every fault of the circuit, where it is known."""
        if self.circuit is None:
            return None
        from triage.circuit.faults import faults_of, kinds_of  # when a reading first wants it
        from triage.circuit.likelihood import Likelihood

        kinds = {place.id: place.kind for place in self.grounded.places.by_id.values()}
        ways = kinds_of(self.knowledge.plain["circuit_faults"])
        return Likelihood(self.circuit.net, faults_of(self.circuit.net, ways, kinds))

    @cached_property
    def unweighed(self) -> tuple[Template, ...]:
        """Rules that weigh no suspect (hazards, firsts): no table says whether they should fire."""
        weighed = {rule.rule for rule in self.grounded.rules}
        rules = self.knowledge.rules.values()
        return tuple(compile_templates(rule for rule in rules if rule.id not in weighed))

    def close(self) -> None:
        """Free what the rules engine holds."""
        self.engine.close()


@dataclass(frozen=True)
class Suspect:
    """A cause at a place, with its probability."""

    row: int
    cause: str
    place: str
    says: str
    p: float
    repair: str


@dataclass(frozen=True)
class KindRow:
    """Suspects of one kind of place that share a repair; mass summed over places."""

    kind: str
    repair: str
    label: str
    p: float
    suspects: tuple[Suspect, ...]


@dataclass(frozen=True)
class Reason:
    """Why a suspect stands where it stands: a finding, or a fired rule.

    ``weight``: log10 of the factor by which it speaks for (positive) or against (negative) it.
    """

    sort: str
    text: str
    weight: float
    key: Key | None = None


@dataclass(frozen=True)
class Assessment:
    """Everything that follows from what is known now."""

    bench: Bench
    state: State
    gathered: Gathered
    rounds: Rounds
    healthy: float
    unknown: float
    surprise: float
    hazards: tuple[tuple[str, str], ...]
    advice: Advice
    failed: bool = False

    @cached_property
    def kinds(self) -> tuple[KindRow, ...]:
        """Suspects by kind and repair, likeliest first; made when somebody looks."""
        return _kinds(self.bench, self.state)

    @cached_property
    def pairs(self) -> tuple[Pair, ...]:
        """Pairs of causes, likeliest first, where the findings or a failed proof demand them."""
        demanded = self.surprise > SURPRISED or self.failed
        return tuple(rank_pairs(self.state)[:5]) if demanded else ()

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """All suspects, likeliest first."""
        return tuple(
            sorted((s for kind in self.kinds for s in kind.suspects), key=lambda s: (-s.p, s.row))
        )


def says(grounded: Grounded, row: int) -> str:
    """The conclusion in words, place included: never just 'a coupling capacitor'."""
    hypothesis = grounded.hypotheses[row]
    if row == grounded.healthy:
        return "nothing is wrong with the amplifier"
    if row == grounded.unknown:
        return "something that is not in these files"
    cause = grounded.knowledge.causes[hypothesis.cause]
    fed = grounded.places.walk(hypothesis.place, "self.feeds")
    feeds = ", ".join(grounded.place_name(place) for place in fed) or "the next stage"
    text = cause.says.replace("{place}", grounded.place_name(hypothesis.place))
    return text.replace("{feeds}", feeds)


def assess(
    bench: Bench,
    observations: Sequence[Observation],
    gatekeeper: Gatekeeper,
    *,
    complaint_told: bool = False,
    proofs: tuple[RepairProof, ...] = (),
    declined: Mapping[str, int] | None = None,
    hazard_open: bool = False,
    tried: Iterable[tuple[str, str]] = (),
    repeated: Iterable[Key] = (),
    forgotten: Iterable[Key] = (),
    visit: Visit | None = None,
) -> Assessment:
    """Assess a job.

    Parameters
    ----------
    observations : what is known, latest answer per finding and place.
    gatekeeper : prices (or forbids) procedures for safety's sake.
    complaint_told : the person has said all they want to say unasked.
    proofs : repairs that were made and tried.
    declined : how often a procedure (id) could not be done, and a step at its place (id@place).
    repeated : findings that were answered more than once.
    forgotten : findings asked from memory and not remembered; they may still be looked at.
    visit : the readings as numbers, where the circuit is known; their verdicts are observations too.

    Raises
    ------
    EngineFault : the rules engine failed, or disagrees with the tables.
    """
    grounded = bench.grounded
    facts = {(o.place, o.finding, o.answer) for o in observations if not o.stale}
    rounds = run_rounds(
        bench.engine, facts, grounded.places, lambda firing: _derived(bench, firing)
    )
    derived = [Observation(name, at, said) for at, name, said in sorted(rounds.facts - facts)]
    gathered = gather(
        grounded, [*observations, *derived], complaint_told=complaint_told, proofs=proofs
    )
    _agree(bench, gathered, rounds)
    state = bench.model.state(_together(bench, gathered, observations, visit))
    hazards, firsts = _raised(bench, rounds)
    asked = {grounded.index[o.key] for o in observations if o.key in grounded.index and not o.stale}
    left = {grounded.index[key] for key in forgotten if key in grounded.index}
    situation = Situation(
        state=state,
        groups=bench.groups.after(state.proofs[1]),
        candidates=bench.candidates,
        asked=frozenset(asked - left),
        forgotten=frozenset(left),
        applicable=gathered.applicable,
        declined=dict(declined or {}),
        firsts=firsts,
        hazard_open=hazard_open,
        tried=frozenset(tried),
        musts=musts_of(bench),
        repeated=frozenset(grounded.index[k] for k in repeated if k in grounded.index),
        known={o.key: o.answer for o in observations if not o.stale},
    )
    return Assessment(
        bench=bench,
        state=state,
        gathered=gathered,
        rounds=rounds,
        healthy=float(state.posterior[grounded.healthy]),
        unknown=float(state.posterior[grounded.unknown] + state.posterior @ state.proofs[1]),
        surprise=state.surprise(),
        hazards=hazards,
        advice=bench.adviser(situation, gatekeeper),
        failed=any(not proof.passed for proof in proofs),
    )


def _together(
    bench: Bench, gathered: Gathered, observations: Sequence[Observation], visit: Visit | None
) -> Evidence:
    """Evidence with the readings that count weighed as one, through the circuit."""
    if visit is None or bench.likelihood is None:
        return gathered.evidence
    from triage.infer.circuit_joint import together

    return together(bench.model, bench.likelihood, gathered, observations, visit)


def musts_of(bench: Bench) -> tuple[str, ...]:
    """Procedures that the profile's route wants done before nothing is called wrong."""
    for row in bench.knowledge.plain["routes"]:
        if row["id"] == bench.profile.route:
            return tuple(str(ident) for ident in row["must"])
    return ()


def _derived(bench: Bench, firing: Firing) -> list[Fact]:
    rule = bench.knowledge.rules[firing.rule_id]
    return [
        (place, derives.finding, derives.answer)
        for derives in rule.derives
        for place in bench.grounded.places.walk(firing.at, derives.of)
    ]


def _raised(bench: Bench, rounds: Rounds) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    hazards: list[tuple[str, str]] = []
    firsts: list[str] = []
    for firing in sorted(rounds.firings, key=lambda f: (f.rule_id, f.at)):
        rule = bench.knowledge.rules[firing.rule_id]
        if rule.hazard is not None:
            hazards.append((rule.hazard, firing.at))
        if rule.first is not None:
            firsts.append(rule.first)
    return tuple(hazards), tuple(firsts)


def _agree(bench: Bench, gathered: Gathered, rounds: Rounds) -> None:
    """The engine's firings and the tables' literals must say the same, or nothing is shown.

    Rules that no table holds (hazards above all) are held against the obvious matcher.
    """
    fired = {(firing.rule_id, firing.at) for firing in rounds.firings}
    answers = {
        (place, finding): answer
        for place, finding, answer in gathered.facts
        if answer not in RESERVED_ANSWERS
    }
    expected = set()
    for rule in bench.grounded.rules:
        held = True
        for literal in rule.literals:
            finding, place = bench.grounded.instances[literal.finding].key
            answer = answers.get((place, finding))
            names = bench.grounded.instances[literal.finding].answers
            held = held and answer is not None and literal.mask[names.index(answer)]
        if held:
            expected.add((rule.rule, rule.at))
    found = reference.match(bench.unweighed, rounds.facts, bench.grounded.places)
    expected |= {(firing.rule_id, firing.at) for firing in found}
    missing = expected - fired
    if missing:
        rule_id, at = min(missing)
        raise EngineFault(
            f"the rules engine did not fire '{rule_id}' at {at} although all it asks for is known."
            " Nothing is shown that might rest on it; please report this job's record."
        )


def _kinds(bench: Bench, state: State) -> tuple[KindRow, ...]:
    grounded, listed = bench.grounded, state.posterior * (1.0 - state.proofs[1])
    groups: dict[tuple[str, str], list[Suspect]] = {}
    for row, hypothesis in enumerate(grounded.hypotheses[: grounded.healthy]):
        cause = grounded.knowledge.causes[hypothesis.cause]
        kind = grounded.places.by_id[hypothesis.place].kind
        p, text = float(listed[row]), says(grounded, row)
        suspect = Suspect(row, cause.id, hypothesis.place, text, p, cause.repair)
        groups.setdefault((kind, cause.repair), []).append(suspect)
    rows = []
    for (kind, repair), members in groups.items():
        label, mass = grounded.knowledge.kinds[kind].label, sum(s.p for s in members)
        ordered = tuple(sorted(members, key=lambda s: (-s.p, s.row)))
        rows.append(KindRow(kind, repair, label, mass, ordered))
    return tuple(sorted(rows, key=lambda r: (-r.p, r.kind, r.repair)))


def reasons(assessment: Assessment, row: int) -> tuple[Reason, ...]:
    """What speaks for and against a suspect, strongest first: findings by block, fired rules."""
    state, grounded = assessment.state, assessment.bench.grounded
    found: list[Reason] = []
    for block, logs in state.block_logs.items():
        mean = float(np.log(np.exp(logs) @ grounded.prior))
        weight = (float(logs[row]) - mean) / float(np.log(10.0))
        for f in grounded.blocks[block]:
            item = state.evidence.items.get(f)
            if item is None:
                continue
            instance = grounded.instances[f]
            best = int(np.argmax(item.weights))
            silent = max(item.weights) == 1.0 and sum(item.weights) > 1.0
            if silent and abs(weight) < 0.05:
                continue
            found.append(
                Reason(
                    "not mentioned" if silent else "finding",
                    describe(grounded, instance.key, instance.answers[best]),
                    weight,
                    instance.key,
                )
            )
    if state.evidence.joint is not None:
        logs = state.evidence.joint.logs
        top = float(np.max(logs))
        mean = top + float(np.log(np.exp(logs - top) @ grounded.prior))
        count = state.evidence.joint.count
        text = f"the volts read, {count} of them, taken together through the circuit"
        weight = (float(logs[row]) - mean) / float(np.log(10.0))
        found.append(Reason("readings", text, weight))
    fired = {(f.rule_id, f.at) for f in assessment.rounds.firings}
    for rule in grounded.rules:
        if rule.hypothesis == row and (rule.rule, rule.at) in fired:
            text = assessment.bench.knowledge.rules[rule.rule].why
            found.append(Reason("rule", text, float(np.log10(rule.strength))))
    return tuple(sorted(found, key=lambda r: -abs(r.weight)))


def describe(grounded: Grounded, key: Key, answer: str) -> str:
    """A finding with its place and answer, in words a person reads."""
    finding = grounded.knowledge.findings[key[0]]
    said = finding.says.get(answer, answer.replace("_", " "))
    name = grounded.place_name(key[1])
    question = finding.asks.replace("{place}", name).rstrip("?")
    several = len(grounded.places.of_kind(finding.at)) > 1
    where = f"{name}: " if several and "{place}" not in finding.asks else ""
    return f"{where}{question}: {said}"
