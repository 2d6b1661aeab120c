"""Whether knowledge about volts and currents is physically true, tried in every circuit it fits.

Each word of a cause about a reading that the circuits can give is tried under that cause's own fault:
the reading is judged exactly as a person's would be, and the answer held against the word.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from triage.circuit.faults import Fault, faults_of, kinds_of, variants_of
from triage.circuit.netlist import OPEN_S, Netlist, build, catalogue
from triage.circuit.small import Small
from triage.circuit.solve import Solved, Variants, solve
from triage.circuit.table import GONE, points
from triage.errors import BadReading
from triage.evidence.readings import context_of, judge_reading
from triage.infer.ground import Grounded, ground
from triage.knowledge.load import Knowledge
from triage.measure.meters import load_meters
from triage.measure.tubes import load_tubes
from triage.model.entries import Makes
from triage.model.profile import Profile

Key = tuple[str, str]
UNITS = {"idle_current": "A", "ripple_rate": "Hz"}
"""Readings in another unit than V."""
ELECTRIC = frozenset(
    "b_plus node_volts ripple bias_source bias_at_pin cathode_volts plate_volts plate_share "
    "screen_volts idle_current grid_shift_tube_in grid_shift_tube_out grid_shift_cap_lifted "
    "bias_ripple ripple_rate hum_at_load".split()
)
"""Findings that a solved circuit gives a value for."""
WIDER = frozenset(
    "bias_driven b_plus_driven grid_hum splitter_balance wiper_dc idle_trend plate_resistor_drop "
    "speaker_dc board_dc".split()
)
"""Findings about a volt, current or hum that the circuits don't give yet."""


@dataclass(frozen=True)
class Tried:
    """One word of a cause: ``holds``, ``does not`` or ``not tried``, and where or why."""

    cause: str
    finding: str
    answer: str
    word: str
    verdict: str
    why: str


@dataclass(frozen=True)
class _Bench:
    knowledge: Knowledge
    profile: Profile
    grounded: Grounded
    net: Netlist
    faults: tuple[Fault, ...]

    def answers(self, fault: Fault | None, sound: Mapping[Key, float]) -> dict[Key, str]:
        """Answers of every reading under a fault, judged against the sound amplifier's."""
        variants = variants_of(self.net, [fault])
        found = readings(self.net, variants, self.profile)
        if found:
            found |= signal_readings(self.net, variants, fault)
        tubes = load_tubes(self.knowledge.plain["tubes"])
        meter = load_meters(self.knowledge.plain["meters"])["digital"]
        earlier = {
            key: f"{value:.6g} V"
            for key, value in found.items()
            if key[0] in EARLIER and abs(value) > DEAD_V
        }
        answers: dict[Key, str] = {}
        for key, value in found.items():
            finding = self.knowledge.findings.get(key[0])
            if finding is None or finding.takes is None or key not in self.grounded.index:
                continue
            before = {k: v for k, v in earlier.items() if k != key}
            context = context_of(
                finding, key[1], self.profile, self.grounded.places, before, tubes,
                expected=sound.get(key),
            )  # fmt: skip
            try:
                typed = f"{value:.6g} {UNITS.get(key[0], 'V')}"
                judged = judge_reading(finding, typed, meter, context, keep=True)
            except (BadReading, ValueError):
                continue
            if judged.informative:
                answers[key] = judged.answer
        return answers


DEAD_V = 1.0
"""A node below this is no node to compare with: the main supply is."""
EARLIER = frozenset({"b_plus", "node_volts", "plate_volts"})


def readings(net: Netlist, variants: Variants, profile: Profile) -> dict[Key, float]:
    """What a meter reads at every place of the amplifier; empty where no point was found."""
    found = solve(net, variants)
    if not found.settled[0]:
        return {}
    by_point = {name: float(values[0]) for name, _, _, values in points(net, found, variants)}
    got: dict[Key, float] = {}
    minus = net.spec.minus_places
    for k, (name, supply) in enumerate(net.spec.supplies.items()):
        if k == 0:
            got[("b_plus", "amp")] = by_point[name]
        if supply.reservoir_place:
            got[("ripple", supply.reservoir_place)] = by_point[f"{name} ripple"]
    for place in net.spec.names.values():
        got[("bias_source" if place in minus else "node_volts", place)] = by_point[place]
    fixed = profile.bias == "fixed"
    for name, tube in net.spec.tubes.items():
        place = tube.place or name
        got[("cathode_volts", place)] = by_point[f"{name} cathode"]
        got[("plate_volts", place)] = by_point[f"{name} plate"]
        got[("plate_share", place)] = by_point[f"{name} plate"]
        got[("grid_shift_tube_in", place)] = by_point[f"{name} grid"]
        if tube.screen is not None:
            got[("screen_volts", place)] = by_point[f"{name} screen"]
            got[("idle_current", place)] = by_point[f"{name} plate current"]
            if fixed:
                got[("bias_at_pin", place)] = by_point[f"{name} grid"]
        got[("grid_shift_tube_out", place)] = _pulled(net, variants, name)
        got[("grid_shift_cap_lifted", place)] = _cap_lifted(net, variants, name)
    return got


def _pulled(net: Netlist, variants: Variants, name: str) -> float:
    """Grid volts with this tube out."""
    at = [tube.name for tube in net.tubes].index(name)
    emission = variants.emission.copy()
    emission[:, at] = GONE
    gas = variants.gas.copy()
    gas[:, at] = 0.0
    siemens = variants.siemens.copy()
    own = [i for i, branch in enumerate(net.branches) if branch.startswith(f"{name}.")]
    siemens[:, own] = net.siemens[own]
    found: Solved = solve(net, replace(variants, emission=emission, gas=gas, siemens=siemens))
    return float(found.volts[0, net.tubes[at].grid])


def signal_readings(net: Netlist, variants: Variants, fault: Fault | None) -> dict[Key, float]:
    """What a meter reads of hum and of ripple's rate at places of the amplifier, at idle.

    ``fault``: the one that the only member has, for its capacities.
    """
    solved = solve(net, variants)
    small = Small.of(net, variants, solved, [fault])
    got: dict[Key, float] = {}
    hum = small.hum()
    for o, channel in enumerate(net.spec.outputs):
        total = sum(float(volts[0, o]) ** 2 for volts in hum.values())
        got[("hum_at_load", channel)] = float(np.sqrt(total))
    bias = {node for node, place in net.spec.names.items() if place in net.spec.minus_places}
    for k, supply in enumerate(net.spec.supplies.values()):
        curve, place = variants.curves[0][k], supply.reservoir_place
        if place is not None and not supply.minus:
            got[("ripple_rate", place)] = curve.ripple_hz
        if supply.minus and supply.place is not None:
            ripple = curve.ripple_at(float(solved.supply_a[0, k]))
            out = small.response(curve.ripple_hz, [(net.fed[k], 1.0)], False)[0]
            for node in bias:
                share = abs(out[net.node(node)] / out[net.fed[k]])
                got[("bias_ripple", supply.place)] = float(share * ripple)
    return got


def _cap_lifted(net: Netlist, variants: Variants, name: str) -> float:
    """Grid volts with every capacitor at this grid lifted."""
    grid = next(tube.grid for tube in net.tubes if tube.name == name)
    siemens = variants.siemens.copy()
    for i, part in enumerate(net.spec.parts.values()):
        at_grid = grid in net.ends[i].tolist() or _through_stopper(net, i, grid)
        if part.kind == "capacitor" and at_grid:
            siemens[:, i] = OPEN_S
    found = solve(net, replace(variants, siemens=siemens))
    return float(found.volts[0, grid])


def _through_stopper(net: Netlist, part: int, grid: int) -> bool:
    """Whether a part meets this grid through one resistor of at most 47 kilohm."""
    for i, other in enumerate(net.spec.parts.values()):
        ends = net.ends[i].tolist()
        if other.kind == "resistor" and grid in ends and net.siemens[i] >= 1.0 / 47e3:
            beyond = ends[0] if ends[1] == grid else ends[1]
            if beyond >= 0 and beyond in net.ends[part].tolist():
                return True
    return False


def benches(knowledge: Knowledge) -> list[_Bench]:
    """Every circuit that belongs to a built-in amplifier."""
    models, found = catalogue(knowledge.plain), []
    kinds = kinds_of(knowledge.plain["circuit_faults"])
    for spec in knowledge.circuits.values():
        profile = knowledge.profiles.get(spec.amplifier or "")
        if profile is None:
            continue
        grounded = ground(knowledge, profile)
        kinds_at = {place.id: place.kind for place in grounded.places.by_id.values()}
        net = build(spec, models)
        found.append(
            _Bench(knowledge, profile, grounded, net, faults_of(net, kinds, kinds_at, signals=True))
        )
    return found


def check_physics(knowledge: Knowledge, circuits: Sequence[str] = ()) -> list[Tried]:
    """Every word about a volt or a current, tried wherever a circuit has its cause's fault.

    ``circuits``: only these; all if none is named.
    """
    verdicts: dict[tuple[str, str, str, str], list[tuple[bool, str]]] = {}
    known: set[str] = set()
    for bench in benches(knowledge):
        if circuits and bench.net.spec.circuit not in circuits:
            continue
        sound = readings(bench.net, variants_of(bench.net, [None]), bench.profile)
        usual = bench.answers(None, sound)
        by_cause: dict[Key, list[dict[Key, str]]] = {}
        for fault in bench.faults:
            if fault.causes and fault.place is not None:
                answers = bench.answers(fault, sound)
                for cause in fault.causes:
                    by_cause.setdefault((cause, fault.place), []).append(answers)
        for (cause, place), strata in by_cause.items():
            known.add(cause)
            for word, holds in _words(bench, cause, place, strata, usual):
                key = (cause, word.finding or "", word.answer, word.word)
                verdicts.setdefault(key, []).append((holds, bench.net.spec.circuit))
    return _results(knowledge, verdicts, known)


def _words(
    bench: _Bench,
    cause: str,
    place: str,
    strata: Sequence[Mapping[Key, str]],
    usual: Mapping[Key, str],
) -> Iterator[tuple[Makes, bool]]:
    entry = bench.knowledge.causes[cause]
    for makes, words in ((True, entry.makes), (False, entry.suppresses)):
        for word in words:
            if word.finding not in ELECTRIC:
                continue
            keys = [(word.finding, p) for p in bench.grounded.places.walk(place, word.of)]
            said = [[s[key] for key in keys if key in s] for s in strata]
            if not any(said):
                continue
            if makes:
                holds = any(word.answer in answers for answers in said)
            else:
                holds = any(set(answers) - {word.answer} for answers in said if answers)
            yield word, holds


def _results(
    knowledge: Knowledge,
    verdicts: Mapping[tuple[str, str, str, str], list[tuple[bool, str]]],
    known: set[str],
) -> list[Tried]:
    found = []
    for cause in knowledge.causes.values():
        for word in (*cause.makes, *cause.suppresses):
            if word.finding not in ELECTRIC | WIDER:
                continue
            key = (cause.id, word.finding, word.answer, word.word)
            seen = verdicts.get(key, [])
            if seen:
                good = [where for holds, where in seen if holds]
                verdict = "holds" if good else "does not"
                why = ", ".join(sorted(set(good or [where for _, where in seen])))
            else:
                verdict = "not tried"
                why = (
                    "no circuit gives this reading"
                    if word.finding in WIDER
                    else "its fault is in no circuit"
                    if cause.id not in known
                    else "no reading at such a place"
                )
            found.append(Tried(cause.id, word.finding, word.answer, word.word, verdict, why))
    return found


def shares(found: Sequence[Tried]) -> dict[str, float]:
    """How many words hold, do not, and were not tried; and the share that was tried."""
    counts = {v: sum(t.verdict == v for t in found) for v in ("holds", "does not", "not tried")}
    tried = counts["holds"] + counts["does not"]
    return {**counts, "tried": float(np.round(tried / max(len(found), 1), 3))}
