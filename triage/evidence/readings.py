"""Readings as typed -> answers with chances, judged by the measurement core in their context."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from triage.errors import BadReading
from triage.measure.currents import cathode_bias_current
from triage.measure.judges import judge
from triage.measure.meters import UNITS, Meter, take
from triage.measure.plausible import doubt
from triage.measure.tubes import TubeType, find_tube
from triage.model.entries import Finding
from triage.model.places import Places
from triage.model.profile import Profile
from triage.units import Typed, format_si, parse, value_of

Context = dict[str, Any]
Earlier = Mapping[tuple[str, str], str]
"""Latest reading as typed, by (finding, place)."""


@dataclass(frozen=True)
class Judged:
    """What a reading says: the answer, chances of each, a sentence; ``ask`` where it looks a slip.

    ``informative`` is False where what it must be compared with is not known: then it is kept, and
    the answer is asked in words.
    """

    answer: str
    chances: tuple[tuple[str, float], ...]
    says: str
    informative: bool
    ask: str | None = None
    si: float | None = None
    unit: str = ""


def unit_of(finding: Finding) -> str | None:
    """SI unit of the number a finding takes, or None where it takes words only."""
    return UNITS.get(finding.takes.reading) if finding.takes is not None else None


def context_of(
    finding: Finding,
    place: str,
    profile: Profile,
    places: Places,
    earlier: Earlier,
    tubes: Mapping[str, TubeType],
    from_memory: frozenset[str] = frozenset(),
    expected: float | None = None,
) -> Context:
    """What the judges may compare a reading with, from the profile and earlier readings.

    ``from_memory``: ids of sources nobody has read; a limit that rests on one is marked so.
    ``expected``: what the circuit says a sound amplifier reads here now, SI, if it is known.
    """
    found: Context = {"bias": profile.bias, "rectifying": profile.rectifying}
    if profile.line.nominal != "unknown":
        found["line_nominal_v"] = profile.line.nominal
    if profile.line.hertz != "unknown":
        found["hertz"] = float(profile.line.hertz)
    line = earlier.get(("line_volts", "line"))
    if line is not None or profile.line.measured != "unknown":
        found["line_v"] = line if line is not None else profile.line.measured
    if profile.max_volts != "unknown":
        found["max_v"] = profile.max_volts
    here = places.by_id[place]
    value = here.get("value")
    if value is not None:
        found["nominal_ohm" if finding.takes and finding.takes.reading == "ohms" else "marked"] = (
            value
        )
    tube = find_tube(tubes, here.get("type") or "")
    if tube is not None:
        found |= _tube(tube, from_memory)
    for relation, key in (("self.mate", "mate"), ("self.halves", "other_half")):
        for other in places.walk(place, relation):
            if (finding.id, other) in earlier:
                found[key] = earlier[(finding.id, other)]
    if (finding.id, place) in earlier:
        found["earlier"] = earlier[(finding.id, place)]
    for part in places.walk(place, "self.fed_by"):
        if places.by_id[part].kind == "cathode_resistor" and places.by_id[part].get("value"):
            found["sense_ohm"] = places.by_id[part].get("value")
    found |= _supply(place, places, earlier)
    if finding.takes is not None:
        found["reading"] = finding.takes.reading
        if "point" in finding.takes.settings:
            found["point"] = finding.takes.settings["point"]
        if expected is not None:
            unit = UNITS[finding.takes.reading]
            found["expected"] = f"{expected:.6g} {unit}"
        against = finding.takes.settings.get("against")
        if isinstance(against, str) and against in found:
            found.setdefault("expected", found[against])
    return found


def _tube(tube: TubeType, from_memory: frozenset[str]) -> Context:
    volts = tuple(way[0] for way in tube.heater_ways())
    found: Context = {"heater_v": volts[0], "heater_ways": volts}
    plate_w = tube.limit("plate_w")
    if plate_w is not None:
        found["plate_w"] = plate_w
        if tube.limits["plate_w"].from_ in from_memory:
            found["plate_w_memory"] = "yes"
    return found


def _supply(place: str, places: Places, earlier: Earlier) -> Context:
    found: Context = {}
    for node in places.walk(place, "self.supply"):
        if ("node_volts", node) in earlier:
            found["own_node"] = earlier[("node_volts", node)]
    if "own_node" not in found and ("b_plus", "amp") in earlier:
        found["own_node"] = earlier[("b_plus", "amp")]
    if ("plate_volts", place) in earlier:
        found["plate_v"] = earlier[("plate_volts", place)]
    elif "own_node" in found:
        found["plate_v"] = found["own_node"]
    return found


def judge_reading(
    finding: Finding, text: str, meter: Meter, context: Context, *, keep: bool = False
) -> Judged:
    """Judge one reading as typed.

    ``keep`` accepts what looked like a slip.

    Raises
    ------
    BadReading : it is no number of this unit; the message shows one that would be.
    """
    assert finding.takes is not None
    unit = UNITS[finding.takes.reading]
    reading: Any = finding.takes.reading
    if unit == "A" and "sense_ohm" in context and _in_volts(text):
        return _across_resistor(finding, text, meter, context)
    typed: Typed = parse(text, unit)
    context = _wired(typed, context)
    question = None if keep else doubt(typed, _plain(context, unit))
    if question is not None:
        return Judged("unknown", (), "", False, ask=question.ask)
    quantity = take(typed, reading, meter)
    verdict = judge(finding.takes.judge, quantity, finding.takes.settings, context, finding.answers)
    si = typed.value if typed.exact else None
    return Judged(
        verdict.answer,
        tuple(verdict.probs.items()),
        verdict.says,
        verdict.informative,
        si=si,
        unit=unit,
    )


def _wired(typed: Typed, context: Context) -> Context:
    """Rated heater volts of the way it is wired, series or parallel: the one nearer the reading."""
    ways = context.get("heater_ways", ())
    if len(ways) < 2 or not typed.exact or typed.value <= 0:
        return context
    return {**context, "heater_v": min(ways, key=lambda v: abs(math.log(typed.value / v)))}


def _in_volts(text: str) -> bool:
    try:
        return parse(text, "V").had_unit
    except BadReading:
        return False


def _across_resistor(finding: Finding, text: str, meter: Meter, context: Context) -> Judged:
    """Volts across a sense or cathode resistor, taken for the current they mean."""
    assert finding.takes is not None
    ohm = value_of(context["sense_ohm"], "ohm")
    volts = take(parse(text, "V"), "dc_volts", meter)
    current = cathode_bias_current(volts, ohm).quantity
    verdict = judge(
        finding.takes.judge,
        current,
        finding.takes.settings,
        {**context, "current_of": "cathode"},
        finding.answers,
    )
    says = f"{format_si(current.value, 'A')} through {format_si(ohm, 'ohm')}: {verdict.says}"
    return Judged(
        verdict.answer,
        tuple(verdict.probs.items()),
        says,
        verdict.informative,
        si=current.value,
        unit="A",
    )


def _plain(context: Context, unit: str) -> Context:
    found = dict(context)
    for key in ("expected", "max_v"):
        if isinstance(found.get(key), str):
            try:
                found[key] = value_of(found[key], unit or "V")
            except BadReading:
                del found[key]
    return found
