"""The numbers read at idle as one visit, for the circuit to weigh together."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from triage.errors import BadReading
from triage.evidence.readings import Context, judge_reading
from triage.measure.meters import UNITS

if TYPE_CHECKING:
    from triage.circuit.likelihood import Likelihood, Reading, Visit
    from triage.job.desk import Moment
    from triage.job.fold import Answered

SIGNLESS = frozenset({"bias_source", "bias_at_pin"})
"""Readings whose sign is left out as often as not: they take the sound circuit's."""
SHIFT_V = 1.0
"""A grid that stands farther from 0 V than this may be told as its shift: such a 0 is not used."""


def visit_of(moment: Moment) -> Visit | None:
    """What was read at idle on the amplifier as it stands; None where the circuit weighs nothing.

    Only exact numbers that still count. Nothing is solved where there is none.
    """
    bench = moment.bench
    if (bench.profile.circuit or "") not in bench.knowledge.circuits:
        return None
    counted = {o.key for o in moment.observations if not o.stale}
    wanted = [
        given
        for given in moment.state.latest().values()
        if given.typed and given.power == "idle" and (given.finding, given.place) in counted
    ]
    if not any(given.finding != "line_volts" for given in wanted):
        return None
    from triage.circuit.likelihood import Visit  # when a reading first wants it

    likelihood = bench.likelihood
    assert likelihood is not None
    readings, shares = [], {}
    for given in wanted:
        if (given.finding, given.place) not in likelihood.taps:
            continue
        found = _reading(moment, likelihood, given)
        if found is not None:
            readings.append(found)
            shares[found.key] = _shares(moment, likelihood, given)
    if not readings:
        return None
    line_read = any(a.finding == "line_volts" and a.typed for a in moment.state.answers)
    ohm = moment.tools.meter.ohm or math.inf
    return Visit(tuple(readings), shares, moment.line_share, line_read, ohm)


def _reading(moment: Moment, likelihood: Likelihood, given: Answered) -> Reading | None:
    from triage.circuit.likelihood import Reading

    finding = moment.bench.knowledge.findings[given.finding]
    try:
        judged = moment.judge(given.finding, given.place, given.typed, keep=True, then=given.power)
    except BadReading:
        return None
    if judged.si is None or finding.takes is None:
        return None
    value, key = judged.si, (given.finding, given.place)
    sound = likelihood.sound(key)
    if given.finding in SIGNLESS:
        value = math.copysign(value, sound)
    if given.finding == "grid_shift_tube_in" and abs(sound) > SHIFT_V > abs(value):
        return None
    what: Any = finding.takes.reading
    u = moment.tools.meter.limit(value, what) / math.sqrt(3.0)  # JCGM 100, 4.3.7
    return Reading(key, value, u)


def _shares(moment: Moment, likelihood: Likelihood, given: Answered) -> dict[str, float]:
    """The background's share of each answer: what readings anywhere would be judged."""
    from triage.circuit.likelihood import background_grid

    key = (given.finding, given.place)
    finding = moment.bench.knowledge.findings[given.finding]
    assert finding.takes is not None
    unit, tap = UNITS[finding.takes.reading], likelihood.taps[key]
    sound = float(tap.scale(likelihood.sound(key)))
    context: Context = moment.context(*key, moment.earlier(*key))
    judged_with = (context, moment.tools.meter)
    was, kept = likelihood.judged.get(key, (None, {}))
    if was == judged_with:
        return kept
    shares: dict[str, float] = {}
    for y, weight in background_grid(sound):
        value = tap.floor * math.sinh(y)
        typed = f"{value:.6g} {unit}"
        judged = judge_reading(finding, typed, moment.tools.meter, context, keep=True)
        for answer, chance in judged.chances:
            shares[answer] = shares.get(answer, 0.0) + weight * chance
    likelihood.judged[key] = (judged_with, shares)
    return shares
