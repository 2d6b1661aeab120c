"""What a meter reads at places of an amplifier, out of its solved circuit: volts, currents, hum."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from triage.circuit.faults import Fault
from triage.circuit.netlist import OPEN_S, Netlist
from triage.circuit.small import MIDDLE_HZ, Small
from triage.circuit.solve import Solved, Variants, solve
from triage.circuit.table import GONE, points
from triage.circuit.taps import tubes_out
from triage.model.circuit import GROUND, PartSpec
from triage.model.profile import Profile
from triage.model.trial import Fit, Hum
from triage.quality.driven import drive
from triage.quality.trials import ADDED
from triage.units import value_of

Key = tuple[str, str]
Complex = NDArray[np.complex128]
METER_OHM = "10 Mohm"
"""What a digital meter puts on a point that nothing else holds."""
SHIFTS = ("grid_shift_tube_out", "grid_shift_cap_lifted")
ALTERNATING = ("hum_at_load", "ripple", "ripple_rate", "bias_ripple", "grid_hum")
LEAST_GAIN = 1e-3
"""A half of the splitter with less than this, from the input on, is no half to compare."""
CAPS = ("filter_cap", "decoupling_cap")


@dataclass(frozen=True)
class Read:
    """Values by finding and place, SI, and what each is to be compared with beside its chart.

    ``beside``: context of the judge by its name (``other_half``, ``idle``, ``earlier``), SI.
    """

    values: dict[Key, float] = field(default_factory=dict)
    beside: dict[Key, dict[str, float]] = field(default_factory=dict)


@dataclass(frozen=True)
class Under:
    """One member of a circuit, and the fault or the trial's circumstances it stands for."""

    net: Netlist
    variants: Variants
    profile: Profile
    kinds: Mapping[str, str]
    fault: Fault | None = None
    fit: Fit | None = None
    hum: Hum | None = None
    swing: float | None = None


def read(under: Under, wanted: frozenset[str] | None = None) -> Read:
    """Every reading at idle; empty where no point was found.

    ``wanted``: findings that are asked for, which saves the dear ones that are not; all if None.
    """
    net, variants = under.net, under.variants
    solved = solve(net, variants)
    if not solved.settled[0]:
        return Read()
    found = Read(_direct(under, solved))

    def asked(*findings: str) -> bool:
        return wanted is None or bool(wanted & set(findings))

    if asked(*SHIFTS):
        shifts = _shifted(net, variants)
        found.values.update({key: volts for key, volts in shifts.items() if np.isfinite(volts)})
    if asked("b_plus_driven") or under.swing is not None:
        _driven(under, solved, found)
    if asked(*ALTERNATING, "splitter_balance"):
        small = Small.of(net, variants, solved, [under.fault])
        for key, volts in _alternating(under, small, solved).items():
            found.values.setdefault(key, volts)
        _splitter(under, small, found)
    return found


def _direct(under: Under, solved: Solved) -> dict[Key, float]:
    net, variants, spec = under.net, under.variants, under.net.spec
    by_point = {name: float(values[0]) for name, _, _, values in points(net, solved, variants)}
    got: dict[Key, float] = {}
    for k, (name, supply) in enumerate(spec.supplies.items()):
        if k == 0:
            got[("b_plus", "amp")] = by_point[name]
        if supply.reservoir_place:
            got[("ripple", supply.reservoir_place)] = by_point[f"{name} ripple"]
    for place in spec.names.values():
        got[("bias_source" if place in spec.minus_places else "node_volts", place)] = by_point[
            place
        ]
    out = solve(net, tubes_out(net, variants))
    for name, tube in spec.tubes.items():
        place = tube.place or name
        plate_v, node_v = by_point[f"{name} plate"], _fed_from(under, solved, tube.plate)
        got[("cathode_volts", place)] = by_point[f"{name} cathode"]
        got[("plate_volts", place)] = got[("plate_share", place)] = plate_v
        if node_v is not None:
            got[("plate_resistor_drop", place)] = node_v - plate_v
        got[("grid_shift_tube_in", place)] = by_point[f"{name} grid"]
        if tube.screen is not None:
            got[("screen_volts", place)] = by_point[f"{name} screen"]
            beside = _added_a(under, solved, tube.plate)
            got[("idle_current", place)] = by_point[f"{name} plate current"] + beside
            if under.profile.bias == "fixed" and out.settled[0]:
                got[("bias_at_pin", place)] = _volts(net, out, tube.grid)
    if under.fit is not None:
        told = [("wiper_dc", under.fit.wipers), ("board_dc", under.fit.bare),
                ("speaker_dc", under.fit.speaker)]  # fmt: skip
        for finding, nodes in told:
            for place, node in nodes.items():
                got[(finding, place)] = _volts(net, solved, node)
    return got


def _volts(net: Netlist, solved: Solved, node: str, member: int = 0) -> float:
    at = net.node(node)
    return float(solved.volts[member, at]) if at >= 0 else 0.0


def _fed_from(under: Under, solved: Solved, plate: str) -> float | None:
    """Volts at the other end of the plate's load resistor; None where it has none."""
    for part in under.net.spec.parts.values():
        kind = under.kinds.get(part.place or "")
        if kind == "plate_resistor" and plate in part.nodes:
            other = part.nodes[0] if part.nodes[1] == plate else part.nodes[1]
            return _volts(under.net, solved, other)
    return None


def _added_a(under: Under, solved: Solved, plate: str) -> float:
    """Current in A that leaves the plate's pin through what a trial has put on it."""
    total = 0.0
    for name, part in under.net.spec.parts.items():
        if name.startswith(ADDED) and "leak" in name and plate in part.nodes and part.value:
            other = part.nodes[0] if part.nodes[1] == plate else part.nodes[1]
            across = _volts(under.net, solved, plate) - _volts(under.net, solved, other)
            total += across / value_of(part.value, "ohm")
    return total


def _shifted(net: Netlist, variants: Variants) -> dict[Key, float]:
    """Grid volts of every tube: with this tube out, and with every capacitor at its grid lifted."""
    count = len(net.tubes)
    emission = np.repeat(variants.emission, 2 * count, axis=0)
    gas = np.repeat(variants.gas, 2 * count, axis=0)
    siemens = np.repeat(variants.siemens, 2 * count, axis=0)
    for t, tube in enumerate(net.tubes):
        emission[t, t], gas[t, t] = GONE, 0.0
        own = [i for i, branch in enumerate(net.branches) if branch.startswith(f"{tube.name}.")]
        siemens[t, own] = net.siemens[own]
        for i, part in enumerate(net.spec.parts.values()):
            at_grid = tube.grid in net.ends[i].tolist() or _through_stopper(net, i, tube.grid)
            if part.kind == "capacitor" and tube.grid >= 0 and at_grid:
                siemens[count + t, i] = OPEN_S
                siemens[count + t, _across(net, part)] = OPEN_S
    members = replace(
        variants, emission=emission, gas=gas, siemens=siemens,
        curves=[variants.curves[0]] * (2 * count), line=np.repeat(variants.line, 2 * count),
    )  # fmt: skip
    found = solve(net, members)
    got: dict[Key, float] = {}
    for t, (name, spec) in enumerate(net.spec.tubes.items()):
        place = spec.place or name
        got[("grid_shift_tube_out", place)] = _volts(net, found, spec.grid, t)
        got[("grid_shift_cap_lifted", place)] = _volts(net, found, spec.grid, count + t)
    return got


def _across(net: Netlist, part: PartSpec) -> list[int]:
    """What a trial has put across a part: its leak, which is lifted with it."""
    return [
        i
        for i, (name, other) in enumerate(net.spec.parts.items())
        if name.startswith(ADDED) and other.nodes == part.nodes
    ]


def _through_stopper(net: Netlist, part: int, grid: int) -> bool:
    """Whether a part meets this grid through one resistor of at most 47 kilohm."""
    for i, other in enumerate(net.spec.parts.values()):
        ends = net.ends[i].tolist()
        if other.kind == "resistor" and grid in ends and net.siemens[i] >= 1.0 / 47e3:
            beyond = ends[0] if ends[1] == grid else ends[1]
            if beyond >= 0 and beyond in net.ends[part].tolist():
                return True
    return False


def _alternating(under: Under, small: Small, solved: Solved) -> dict[Key, float]:
    """Hum, ripple behind the reservoirs and its rate, at idle; V RMS and Hz."""
    net, spec = under.net, under.net.spec
    got: dict[Key, float] = {}
    speakers = {hertz: volts[0] for hertz, volts in small.hum().items()}
    put_in = _put_in(under, small)
    mains = value_of(spec.line["hertz"], "Hz")
    for o, channel in enumerate(spec.outputs):
        total = sum(float(volts[o]) ** 2 for volts in speakers.values())
        total += abs(put_in[len(net.nodes) + o]) ** 2
        got[("hum_at_load", channel)] = float(np.sqrt(total))
    minus = {node for node, place in spec.names.items() if place in spec.minus_places}
    ripples: dict[float, list[tuple[float, Complex]]] = {}
    for k, supply in enumerate(spec.supplies.values()):
        curve, place = under.variants.curves[0][k], supply.reservoir_place
        if place is not None and not supply.minus:
            got[("ripple_rate", place)] = curve.ripple_hz
        volts = curve.ripple_at(float(solved.supply_a[0, k]))
        out = small.response(curve.ripple_hz, [(net.fed[k], 1.0)], False)[0]
        ripples.setdefault(curve.ripple_hz, []).append((volts, out / out[net.fed[k]]))
        if supply.minus and supply.place is not None:
            for node in minus:
                got[("bias_ripple", supply.place)] = float(
                    abs(ripples[curve.ripple_hz][-1][1][net.node(node)]) * volts
                )

    def total_at(node: str, rates: tuple[float, ...]) -> float:
        at = net.node(node)
        if at < 0:
            return 0.0
        power = sum(
            (volts * abs(out[at])) ** 2 for hz in rates for volts, out in ripples.get(hz, [])
        )
        return float(np.sqrt(power + (abs(put_in[at]) ** 2 if mains in rates else 0.0)))

    for part in spec.parts.values():
        key = ("ripple", part.place or "")
        if part.kind == "capacitor" and under.kinds.get(key[1]) in CAPS and key not in got:
            node = next((n for n in part.nodes if n != GROUND), GROUND)
            got[key] = total_at(node, tuple(ripples))
    for name, tube in spec.tubes.items():
        if tube.screen is not None:
            got[("grid_hum", tube.place or name)] = total_at(tube.grid, (mains,))
    return got


def _put_in(under: Under, small: Small) -> Complex:
    """Volts of all nodes and speakers of the hum that a trial puts into input stages."""
    net = under.net
    size = len(net.nodes) + len(net.spec.outputs)
    if under.hum is None:
        return np.zeros(size, dtype=np.complex128)
    volts = value_of(under.hum.volts, "V")
    mains = value_of(net.spec.line["hertz"], "Hz")
    grids = [net.node(node) for node in net.spec.inputs.values()]
    if under.hum.through is None:
        return np.asarray(small.response(mains, [(node, volts) for node in grids], True)[0])
    amps = 2.0 * np.pi * mains * value_of(under.hum.through, "F") * volts
    return np.asarray(small.response(mains, [(node, amps) for node in grids], False)[0])


def _splitter(under: Under, small: Small, found: Read) -> None:
    """Halves of a splitter's output at the grids of the output tubes, at middle rates; in place."""
    net, spec = under.net, under.net.spec
    for channel, output in spec.outputs.items():
        senses = {node: sense for winding, sense in output.windings.items()
                  for node in spec.parts[winding].nodes}  # fmt: skip
        if len(set(output.windings.values())) < 2 or channel not in spec.inputs:
            continue
        gains = np.abs(small.gains(channel, MIDDLE_HZ)[0])
        halves: dict[int, list[float]] = {1: [], -1: []}
        for tube in net.tubes:
            plate = net.nodes[tube.plate] if tube.plate >= 0 else GROUND
            if tube.screen >= 0 and tube.grid >= 0 and plate in senses:
                halves[senses[plate]].append(float(gains[tube.grid]))
        one, other = (float(np.mean(each)) if each else 0.0 for each in halves.values())
        if max(one, other) < LEAST_GAIN:
            continue
        for place, kind in under.kinds.items():
            if kind == "driver_tube":
                key = ("splitter_balance", place)
                found.values[key] = one
                found.beside[key] = {"other_half": max(other, LEAST_GAIN * one)}


def _driven(under: Under, solved: Solved, found: Read) -> None:
    """The main supply, and with a swing of the trial's own the currents, under signal; in place."""
    loud = drive(under.net, under.variants, solved, under.swing or 1.0)
    if loud is None:
        return
    idle = found.values[("b_plus", "amp")]
    found.values[("b_plus_driven", "amp")] = loud.main_v
    found.beside[("b_plus_driven", "amp")] = {"idle": idle}
    if under.swing is not None:  # it swings by itself: this is what its meters show
        found.values[("b_plus", "amp")] = loud.main_v
        for name, amps in loud.plate_a.items():
            place = under.net.spec.tubes[name].place or name
            found.values[("idle_current", place)] = amps
