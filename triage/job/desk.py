"""What a job knows at one moment: observations judged, the assessment, what must be safe first.

Pure: everything follows from the bench (knowledge on this amplifier) and the job's state.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from triage.assess import Assessment, Bench, assess
from triage.errors import BadReading
from triage.evidence.readings import Context, Earlier, Judged, context_of, judge_reading, unit_of
from triage.infer.epochs import changed_by
from triage.infer.gather import Observation
from triage.infer.posterior import RepairProof
from triage.job.fold import Answered, JobState
from triage.job.gatekeeper import SafetyPrices
from triage.job.visit import visit_of
from triage.measure.meters import Meter, load_meters
from triage.measure.tubes import TubeType, load_tubes
from triage.model.base import RESERVED_ANSWERS
from triage.plan.candidates import MEMORY
from triage.safety.facts import AmpFacts
from triage.safety.gates import WHY, passed
from triage.safety.states import power_state
from triage.units import value_of

if TYPE_CHECKING:
    from triage.circuit.expected import Band

CAPACITORS = ("reservoir", "filter_cap", "decoupling_cap", "bias_cap")
MAINS_SIDE = frozenset(
    {"cord", "earth", "line_cap", "mains_fuse", "mains_switch", "power_transformer", "amp"}
)
"""Kinds of places whose repair may change isolation, cord, fuse, earth or line capacitor."""
METER = "digital"


@dataclass(frozen=True)
class Tools:
    """Meters and tubes as loaded; shared by all moments of a job."""

    meters: Mapping[str, Meter]
    tubes: Mapping[str, TubeType]
    from_memory: frozenset[str] = frozenset()
    """Ids of sources nobody has read: limits that rest on them are marked on the screen."""

    @classmethod
    def of(cls, bench: Bench) -> Tools:
        """From the knowledge of a bench."""
        plain = bench.knowledge.plain
        unread = {row["id"] for row in plain["sources"] if row["kind"] == "memory"}
        return cls(load_meters(plain["meters"]), load_tubes(plain["tubes"]), frozenset(unread))

    @property
    def meter(self) -> Meter:
        """The ordinary digital multimeter."""
        return self.meters.get(METER) or next(iter(self.meters.values()))


def amp_facts(bench: Bench) -> AmpFacts:
    """Safety's facts: every capacitor of the supplies must be proven dead by name."""
    nodes = tuple(place.id for place in bench.grounded.places.of_kind(CAPACITORS))
    return AmpFacts.of(bench.profile, nodes)


@dataclass(frozen=True)
class Moment:
    """A job at one moment."""

    bench: Bench
    tools: Tools
    state: JobState
    facts: AmpFacts

    def on_mains_side(self, place: str) -> bool:
        """Whether a repair there asks for the proofs of the mains side again."""
        found = self.bench.grounded.places.by_id.get(place)
        return found is None or found.kind in MAINS_SIDE

    def judge(
        self, finding: str, place: str, typed: str, *, keep: bool = False, then: str = ""
    ) -> Judged:
        """Judge a reading as typed, in the context of everything read before.

        ``then`` is the power state in which it was taken, '' for now.

        Raises
        ------
        BadReading : no number of the unit asked for.
        """
        entry = self.bench.knowledge.findings[finding]
        earlier = dict(self.earlier(finding, place))
        before = [
            a.typed
            for a in self.state.answers
            if a.typed and (a.finding, a.place) == (finding, place)
        ]
        if before and before[-1] != typed:
            earlier[(finding, place)] = before[-1]
        context = self.context(finding, place, earlier, then)
        return judge_reading(entry, typed, self.tools.meter, context, keep=keep)

    def earlier(self, finding: str, place: str) -> Earlier:
        """All other readings as typed."""
        return {
            (a.finding, a.place): a.typed
            for a in self.state.answers
            if a.typed and (a.finding, a.place) != (finding, place)
        }

    def context(self, finding: str, place: str, earlier: Earlier, then: str = "") -> Context:
        """What a reading there may be compared with."""
        band = self.expected(finding, place, then)
        return context_of(
            self.bench.knowledge.findings[finding],
            place,
            self.bench.profile,
            self.bench.grounded.places,
            earlier,
            self.tools.tubes,
            self.tools.from_memory,
            None if band is None else band.mid,
        )

    def expected(self, finding: str, place: str, then: str = "") -> Band | None:
        """What a sound one reads there now, at today's line; None where nobody can say.

        Only at idle: on a limiter, in standby or under drive the volts are others. ``then`` is the
        power state in which it was read, '' for now.
        """
        power = then or power_state(self.state.safety, self.facts.nodes)
        if power != "idle" or self.bench.circuit is None:
            return None
        return self.bench.circuit.readings(self.line_share).get((finding, place))

    @cached_property
    def line_share(self) -> float:
        """Today's line volts as a share of nominal; 1 where it was not read."""
        nominal, typed = self.bench.profile.line.nominal, self.bench.profile.line.measured
        for given in self.state.answers:
            if given.finding == "line_volts" and given.typed:
                typed = given.typed
        if nominal == "unknown" or typed == "unknown":
            return 1.0
        try:
            share = value_of(typed, "V") / value_of(nominal, "V")
        except BadReading:
            return 1.0
        return share if 0.8 <= share <= 1.2 else 1.0

    def observation(self, given: Answered) -> Observation:
        """An answer as evidence; a reading is judged anew from what was typed."""
        chances: Mapping[str, float] = {}
        answer = given.answer
        if given.typed and unit_of(self.bench.knowledge.findings[given.finding]) is not None:
            try:
                judged = self.judge(
                    given.finding, given.place, given.typed, keep=True, then=given.power
                )
            except BadReading:
                judged = None
            if judged is not None and judged.informative:
                answer, chances = judged.answer, dict(judged.chances)
        return Observation(
            given.finding,
            given.place,
            answer,
            chances,
            happening=given.happening,
            epoch=given.epoch,
            stale=self._stale(given),
            said=given.typed or given.answer,
        )

    def _stale(self, given: Answered) -> bool:
        """Whether a later repair may have changed what was found (story and looks stay)."""
        if given.answer in RESERVED_ANSWERS or not self.state.mended:
            return False
        finding = self.bench.knowledge.findings.get(given.finding)
        index = self.bench.grounded.index.get((given.finding, given.place))
        if finding is None or index is None or finding.path == "story":
            return False
        normal = self.bench.grounded.instances[index]
        is_normal = given.answer == normal.answers[normal.normal]
        for mended, changed in zip(self.state.mended, self._changed, strict=True):
            if mended.epoch <= given.epoch:
                continue
            if mended.proof == "passed" and finding.path not in ("look", "smell", "tester"):
                return True
            if index in changed and (changed[index] or not is_normal):
                return True
        return False

    @cached_property
    def _changed(self) -> tuple[Mapping[int, bool], ...]:
        """For every repair made, the findings that it can have changed."""
        return tuple(
            changed_by(self.bench.grounded, self._rows_of(m.repair, m.place))
            for m in self.state.mended
        )

    def _rows_of(self, repair: str, place: str) -> frozenset[int]:
        groups = self.bench.groups
        if (repair, place) not in groups.keys:
            return frozenset()
        wanted = groups.keys.index((repair, place))
        return frozenset(row for row, group in enumerate(groups.of_row) if int(group) == wanted)

    @cached_property
    def observations(self) -> tuple[Observation, ...]:
        """Latest answer of every finding and place, as evidence."""
        return tuple(
            self.observation(given)
            for given in self.state.latest().values()
            if given.finding in self.bench.knowledge.findings
            and given.place in self.bench.grounded.places.by_id
        )

    @cached_property
    def forgotten(self) -> tuple[tuple[str, str], ...]:
        """Findings asked from memory and not remembered: they may still be looked at."""
        return tuple(
            key
            for key, given in self.state.latest().items()
            if given.answer in RESERVED_ANSWERS and given.step.endswith(MEMORY)
        )

    @cached_property
    def asked(self) -> frozenset[int]:
        """Findings that have an answer of any sort."""
        index = self.bench.grounded.index
        return frozenset(index[key] for key in self.state.latest() if key in index)

    @cached_property
    def assessment(self) -> Assessment:
        """Ranking, reasons and next move."""
        declined: dict[str, int] = {}
        refused: set[str] = set()
        for what in self.state.declined:
            if what.startswith("gate:"):
                refused.add(what.removeprefix("gate:"))
            else:
                for name in {what, what.partition("@")[0]}:
                    declined[name] = declined.get(name, 0) + 1
        prices = SafetyPrices(
            self.bench.knowledge, self.state.safety, self.facts, frozenset(refused)
        )
        return assess(
            self.bench,
            self.observations,
            prices,
            complaint_told=self._silence_counts(),
            proofs=self._proofs(),
            declined=declined,
            hazard_open=bool(self.state.safety.hazards),
            tried={(m.repair, m.place) for m in self.state.mended if m.proof == "failed"},
            repeated=self._repeated(),
            forgotten=self.forgotten,
            visit=visit_of(self),
        )

    def _repeated(self) -> tuple[tuple[str, str], ...]:
        """Findings answered more than once since the last repair."""
        since = max((m.epoch for m in self.state.mended), default=0)
        counts = Counter((a.finding, a.place) for a in self.state.answers if a.epoch >= since)
        return tuple(key for key, n in counts.items() if n > 1)

    def _silence_counts(self) -> bool:
        """Whether what nobody mentioned counts: only for a complaint, once it is all told."""
        state = self.state
        told = state.complaint_over and state.silence_counts
        return told and self.bench.profile.route == "fault"

    def _proofs(self) -> tuple[RepairProof, ...]:
        found = []
        for mended in self.state.mended:
            rows = self._rows_of(mended.repair, mended.place)
            if mended.proof in ("passed", "failed") and rows:
                found.append(RepairProof(rows, mended.proof == "passed"))
        return tuple(found)


def permitted(state: JobState, facts: AmpFacts) -> frozenset[str]:
    """Gates that hold now; used to show that taking an answer back never opens one."""
    return frozenset(gate for gate in WHY if passed(gate, state.safety, facts))
