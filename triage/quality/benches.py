"""An amplifier on the bench: its circuit, sound or with a fault, and the answers of its readings."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from triage.circuit.faults import faults_of, kinds_of, variants_of
from triage.circuit.netlist import Netlist, build
from triage.errors import BadReading
from triage.evidence.readings import context_of, judge_reading
from triage.infer.ground import Grounded, ground
from triage.knowledge.load import Knowledge
from triage.measure.koren import TubeModel
from triage.measure.meters import Meter, load_meters
from triage.measure.tubes import TubeType, load_tubes
from triage.model.circuit import GROUND, CircuitSpec, PartSpec
from triage.model.places import Places
from triage.model.profile import Profile
from triage.model.trial import Change, Fit, Trial
from triage.quality.bench_readings import Key, Read, Under, read
from triage.quality.trials import changed, fitted, member, profile_with

Answers = Mapping[Key, str]
UNITS = {"idle_current": "A", "idle_trend": "A", "ripple_rate": "Hz"}
"""Readings in another unit than V."""
DEAD_V = 1.0
"""A node below this is no node to compare with: the main supply is."""
EARLIER = frozenset({"b_plus", "node_volts", "plate_volts"})
SUPPLIES = ("b_plus", "node_volts")
"""Too stiff for a meter to move."""
AT_PLATE = ("plate_volts", "plate_share")
AT_GRID = ("grid_shift_tube_in", "grid_shift_tube_out", "grid_shift_cap_lifted", "bias_at_pin")


@dataclass(frozen=True)
class Strata:
    """What a cause at a place makes of the readings, one set of answers for each size of it.

    ``usual``: answers of the sound amplifier.
    """

    cause: str
    place: str
    places: Places
    answers: tuple[Answers, ...]
    usual: Answers


@dataclass(frozen=True)
class Bench:
    """One amplifier with its circuit."""

    knowledge: Knowledge
    profile: Profile
    grounded: Grounded
    net: Netlist
    fit: Fit | None = None

    @property
    def spec(self) -> CircuitSpec:
        """Its circuit as in the file."""
        return self.net.spec

    @cached_property
    def kinds(self) -> dict[str, str]:
        """Kind of every place."""
        return {place.id: place.kind for place in self.grounded.places.by_id.values()}

    @cached_property
    def sound(self) -> Read:
        """Every reading of the sound amplifier."""
        return read(
            Under(self.net, variants_of(self.net, [None]), self.profile, self.kinds, fit=self.fit)
        )

    @cached_property
    def usual(self) -> dict[Key, str]:
        """Answers of the sound amplifier."""
        return self.judged(self.sound, self.sound)

    def faults(self, electric: Collection[str]) -> Iterator[Strata]:
        """Every cause that a part of the circuit can have, with its strata."""
        kinds = kinds_of(self.knowledge.plain["circuit_faults"])
        by_cause: dict[tuple[str, str], list[Answers]] = {}
        for fault in faults_of(self.net, kinds, self.kinds, signals=True):
            if not fault.causes or fault.place is None:
                continue
            wanted = self._wanted(fault.causes, electric)
            variants = variants_of(self.net, [fault])
            under = Under(self.net, variants, self.profile, self.kinds, fault)
            answers = self.judged(read(under, wanted), self.sound, wanted)
            for cause in fault.causes:
                by_cause.setdefault((cause, fault.place), []).append(answers)
        for (cause, place), found in by_cause.items():
            yield Strata(cause, place, self.grounded.places, tuple(found), self.usual)

    def trials(
        self, trials: Sequence[Trial], models: Mapping[str, TubeModel], electric: Collection[str]
    ) -> Iterator[Strata]:
        """Every cause that a trial puts into this circuit; one trial is one stratum."""
        for trial in trials:
            if trial.circuits and self.spec.circuit not in trial.circuits:
                continue
            base = self.fitted(trial, models)
            kept: dict[tuple[tuple[str, ...], str], Answers] = {}
            for cause in trial.cause:
                for place in base.grounded.places.of_kind(self.knowledge.causes[cause].at):
                    own = base.own(trial, place.id)
                    if own is None:
                        continue
                    if own not in kept:
                        wanted = self._wanted(trial.cause, electric)
                        found = base._tried(trial, own, models, wanted)
                        kept[own] = base.judged(found, base.sound, wanted)
                    yield Strata(cause, place.id, base.grounded.places, (kept[own],), base.usual)

    def _wanted(self, causes: Sequence[str], electric: Collection[str]) -> frozenset[str]:
        """Findings that the causes' words and the rules about them ask for."""
        entries = [self.knowledge.causes[cause] for cause in causes]
        words = {w.finding for e in entries for w in (*e.makes, *e.suppresses) if w.finding}
        for rule in self.knowledge.rules.values():
            if any(weigh.cause in causes for weigh in rule.weighs):
                words |= {literal.finding for literal in rule.when}
        return frozenset(words & set(electric))

    def fitted(self, trial: Trial, models: Mapping[str, TubeModel]) -> Bench:
        """The amplifier as the trial has it built; itself where it asks for nothing."""
        if trial.fit is None:
            return self
        profile = profile_with(self.profile, trial.fit)
        net = build(fitted(self.spec, trial.fit), models)
        return Bench(self.knowledge, profile, ground(self.knowledge, profile), net, trial.fit)

    def own(self, trial: Trial, place: str) -> tuple[tuple[str, ...], str] | None:
        """Tubes and part at a place that the trial needs; None where they are not there."""
        changes = [change for change in (trial.fault, trial.then) if change is not None]
        tubes: tuple[str, ...] = ()
        own = ""
        if any(change.tube is not None for change in changes):
            at = {place, *self.grounded.places.walk(place, "self.feeds")}
            tubes = tuple(name for name, tube in self.spec.tubes.items() if tube.place in at)
            if not tubes:
                return None
        if any(change.own is not None or change.across is not None for change in changes):
            if all(part.place != place for part in self.spec.parts.values()):
                return None
            own = place
        return tubes, own

    def _tried(
        self,
        trial: Trial,
        own: tuple[tuple[str, ...], str],
        models: Mapping[str, TubeModel],
        wanted: frozenset[str],
    ) -> Read:
        """Readings under a trial; trends between its two states."""
        found = self._state(trial, trial.fault, own, models, wanted)
        if trial.then is None:
            return found
        later = self._state(trial, trial.then, own, models, wanted)
        for finding, of, beside in (("idle_trend", "idle_current", "earlier"),
                                    ("bias_driven", "bias_source", "idle")):  # fmt: skip
            for (name, place), value in list(later.values.items()):
                if name == of and (name, place) in found.values:
                    found.values[(finding, place)] = value
                    found.beside[(finding, place)] = {beside: found.values[(name, place)]}
        return found

    def _state(
        self,
        trial: Trial,
        change: Change,
        own: tuple[tuple[str, ...], str],
        models: Mapping[str, TubeModel],
        wanted: frozenset[str],
    ) -> Read:
        spec = changed(self.spec, change, own[0], own[1])

        def under(spec: CircuitSpec) -> Under:
            net = build(spec, models)
            return Under(
                net, member(net, change, own[0]), self.profile, self.kinds,
                fit=self.fit, hum=change.hum, swing=change.drive,
            )  # fmt: skip

        if change.meter is None:
            found = read(under(spec), wanted)
            for key in found.values:
                found.values[key] *= change.reads
            return found
        whole = read(under(spec), wanted).values
        found = Read({key: volts for key, volts in whole.items() if key[0] in SUPPLIES})
        for name, tube in spec.tubes.items():
            for node, findings in ((tube.plate, AT_PLATE), (tube.grid, AT_GRID)):
                if node == GROUND:
                    continue
                put = {"kind": "resistor", "value": change.meter, "nodes": (node, GROUND)}
                parts = {**spec.parts, "meter": PartSpec.model_validate(put)}
                seen = read(under(spec.model_copy(update={"parts": parts})), wanted)
                keys = [(finding, tube.place or name) for finding in findings]
                found.values.update({key: seen.values[key] for key in keys if key in seen.values})
        return found

    @cached_property
    def shelf(self) -> tuple[dict[str, TubeType], Meter]:
        """Tube types, and the meter that is read with."""
        plain = self.knowledge.plain
        return load_tubes(plain["tubes"]), load_meters(plain["meters"])["digital"]

    def judged(
        self, found: Read, sound: Read, wanted: frozenset[str] | None = None
    ) -> dict[Key, str]:
        """Answers of readings, judged against the sound amplifier's as a person's would be.

        ``wanted``: findings that are asked for; all if None.
        """
        tubes, meter = self.shelf
        earlier = {
            key: f"{value:.6g} V"
            for key, value in found.values.items()
            if key[0] in EARLIER and abs(value) > DEAD_V
        }
        answers: dict[Key, str] = {}
        for key, value in found.values.items():
            if wanted is not None and key[0] not in wanted:
                continue
            finding = self.knowledge.findings.get(key[0])
            if finding is None or finding.takes is None or key not in self.grounded.index:
                continue
            before = {k: v for k, v in earlier.items() if k != key}
            context = context_of(
                finding, key[1], self.profile, self.grounded.places, before, tubes,
                expected=sound.values.get(key),
            )  # fmt: skip
            unit = UNITS.get(key[0], "V")
            for name, compared in found.beside.get(key, {}).items():
                context[name] = f"{compared:.6g} {unit}"
            if key[0] == "node_volts" and key in sound.values:
                context["node_before"] = f"{self._by_main(key, found, sound):.6g} V"
            try:
                judged = judge_reading(finding, f"{value:.6g} {unit}", meter, context, keep=True)
            except (BadReading, ValueError):
                continue
            if judged.informative:
                answers[key] = judged.answer
        return answers

    def _by_main(self, key: Key, found: Read, sound: Read) -> float:
        """What a node should have by the main supply as it stands; the main node, by its chart."""
        main = ("b_plus", "amp")
        now, was = found.values.get(main, 0.0), sound.values.get(main, 0.0)
        at_main = abs(sound.values[key] - was) < 1e-6
        share = now / was if abs(now) > DEAD_V and abs(was) > DEAD_V and not at_main else 1.0
        return sound.values[key] * share


def benches(knowledge: Knowledge, models: Mapping[str, TubeModel]) -> list[Bench]:
    """Every circuit that belongs to a built-in amplifier."""
    found = []
    for spec in knowledge.circuits.values():
        profile = knowledge.profiles.get(spec.amplifier or "")
        if profile is not None:
            grounded = ground(knowledge, profile)
            found.append(Bench(knowledge, profile, grounded, build(spec, models)))
    return found
