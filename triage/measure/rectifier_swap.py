"""What changes when one rectifier tube stands in for another: limits, warm-up, B+."""

from __future__ import annotations

import math
from dataclasses import dataclass

from triage.measure.swap_reasons import Circumstances, Level, Reason, limit_reason
from triage.measure.tube_entry import LimitName, TubeType

PEAK_OVER_DC = (3.4, 4.2)
"""Peak plate current over direct current, capacitor input: time-domain runs of four supplies (ours)."""
LINE_HIGH = 1.05
"""Line 5 % above nominal, the top of the usual service range (ANSI C84.1, range A; from memory)."""
RATING_MARGIN = 1.05
"""A reservoir wants this over the highest peak; trade, no source."""
SHIFT_V = 10.0
"""A B+ shift of less is within what the line does in a day; ours."""


@dataclass(frozen=True)
class Shift:
    """B+ after the change less B+ before, V, as the least and the most likely."""

    low_v: float
    high_v: float


def b_plus_shift(
    old: TubeType, new: TubeType, dc_a: float, filter_input: str = "capacitor"
) -> Shift | None:
    """How far B+ moves when ``new`` takes the place of ``old``, or None if a drop is not known.

    Parameters
    ----------
    dc_a : direct current of the supply, A, > 0.
    filter_input : ``capacitor`` or ``choke``.

    Notes
    -----
    The difference of the two drops by Child's law at the current a plate carries while it conducts:
    about 3.4 to 4.2 times the direct current into a capacitor, once into a choke. Sag in the
    transformer is left out, so the true shift is rather smaller.
    """
    ratios = PEAK_OVER_DC if filter_input == "capacitor" else (1.0, 1.0)
    found = []
    for ratio in ratios:
        before, after = old.drop_at(ratio * dc_a), new.drop_at(ratio * dc_a)
        if before is None or after is None:
            return None
        found.append(before - after)
    return Shift(min(found), max(found))


def hot_switch_a(tube: TubeType, vrms: float, source_ohm: float) -> float | None:
    """Plate current as a hot rectifier meets an empty capacitor at the crest of the AC, A.

    Solves ``i R + V0 (i / I0)^(2/3) = sqrt(2) V`` at high line by bisection: source resistance a
    plate in ohm, > 0, and Child's law from the drop of the sheet. None if the drop is not known.
    """
    if tube.drop is None:
        return None
    crest = math.sqrt(2.0) * vrms * LINE_HIGH
    low, high = 0.0, crest / source_ohm
    for _ in range(60):
        middle = 0.5 * (low + high)
        if middle * source_ohm + (tube.drop_at(middle) or 0.0) > crest:
            high = middle
        else:
            low = middle
    return high


def _hot_switch(new: TubeType, at: Circumstances) -> list[Reason]:
    """Where a switch puts B+ on while the rectifier is hot (standby, or off and on again)."""
    most = new.limit("transient_ma")
    if most is None or at.supply_vrms is None or not at.source_ohm or at.filter_input == "choke":
        return []
    surge = hot_switch_a(new, at.supply_vrms, at.source_ohm)
    if surge is None:
        return []
    says = f"hot switching {surge:.1f} A, {most:.1f} A allowed"
    level: Level = "good" if surge <= most else "change"
    if level == "change":
        says += ": never switch B+ on a hot rectifier, or add resistance"
    return [Reason("transient_ma", level, says, (new.limits["transient_ma"].from_,))]


def rectifier_reasons(old: TubeType, new: TubeType, at: Circumstances) -> list[Reason]:
    """All reasons that rectifiers alone have."""
    given: dict[LimitName, float | None] = {
        "inverse_v": _inverse_v(at),
        "dc_ma": at.dc_a,
        "heater_cathode_v": at.heater_cathode_v,
    }
    if at.filter_input == "capacitor":
        given |= {
            "supply_vrms": at.supply_vrms,
            "peak_ma": None if at.dc_a is None else PEAK_OVER_DC[1] * at.dc_a,
            "first_cap": at.first_cap_f,
            "source_ohm_min": at.source_ohm,
        }
    if "heater_cathode_v" not in old.limits and at.heater_cathode_v is None:
        given.pop("heater_cathode_v")
    found = [
        limit_reason(name, old, new, value, vrms=at.supply_vrms) for name, value in given.items()
    ]
    kept = [reason for reason in found if reason is not None]
    return [
        *kept,
        *_cathode(old, new),
        *_warm_up(old, new, at),
        *_hot_switch(new, at),
        *_shift(old, new, at),
    ]


def _inverse_v(at: Circumstances) -> float | None:
    """Peak inverse volts of a full-wave circuit, 2 sqrt(2) V a plate at high line."""
    if at.supply_vrms is None:
        return None
    return 2.0 * math.sqrt(2.0) * at.supply_vrms * LINE_HIGH


def _cathode(old: TubeType, new: TubeType) -> list[Reason]:
    """Heater winding: whether B+ sits on it."""
    shared = [bool(set(tube.pins.heater) & set(tube.pins.cathode)) for tube in (old, new)]
    on_b_plus = [tube.heater.direct or both for tube, both in zip((old, new), shared, strict=True)]
    if on_b_plus[0] == on_b_plus[1]:
        return []
    says = "B+ stands on the heater winding with one of them and not with the other"
    return [Reason("heater", "bad", says, (old.pins.from_, new.pins.from_))]


def _warm_up(old: TubeType, new: TubeType, at: Circumstances) -> list[Reason]:
    sources = (old.heater.from_, new.heater.from_)
    if old.heater.direct == new.heater.direct:
        return []
    if old.heater.direct:
        says = "heats slowly: B+ comes with the other tubes, kinder to the capacitors"
        return [Reason("warm_up", "good", says, sources)]
    says = "a filament is ready in seconds: B+ goes to its full peak before any tube draws"
    if at.supply_vrms is None or at.capacitor_v is None:
        return [Reason("warm_up", "change", f"{says}; see what the capacitors bear", sources)]
    peak = math.sqrt(2.0) * at.supply_vrms * LINE_HIGH
    level: Level = "good" if at.capacitor_v >= RATING_MARGIN * peak else "bad"
    says = f"{says}: {peak:.0f} V, capacitors of {at.capacitor_v:.0f} V"
    return [Reason("warm_up", level, says, sources)]


def _shift(old: TubeType, new: TubeType, at: Circumstances) -> list[Reason]:
    sources = tuple(tube.drop.from_ for tube in (old, new) if tube.drop is not None)
    guessed = at.dc_a is None
    dc_a = at.dc_a
    if dc_a is None:
        limits = [tube.limit("dc_ma") for tube in (old, new)]
        dc_a = 0.5 * min((value for value in limits if value is not None), default=0.0)
    shift = b_plus_shift(old, new, dc_a, at.filter_input) if dc_a else None
    if shift is None:
        says = "how far B+ moves is not known: read it, and the idle currents, at once"
        return [Reason("b_plus", "change", says, sources)]
    low, high = sorted((shift.low_v, shift.high_v), key=abs)
    if abs(high) < SHIFT_V:
        return [Reason("b_plus", "good", f"B+ moves by {high:+.0f} V or less", sources)]
    at_what = f" at {dc_a * 1e3:.0f} mA" + (", half the lower limit" if guessed else "")
    says = f"B+ moves by {low:+.0f} to {high:+.0f} V{at_what}"
    if high < 0.0:
        return [Reason("b_plus", "differs", f"{says}: less power", sources)]
    says = f"{says}: capacitors, screens and bias must bear it"
    return [Reason("b_plus", "change", says, sources)]
