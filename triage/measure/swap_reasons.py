"""What a substitution is judged by: the socket's circumstances, a reason, a limit compared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from triage.measure.tube_entry import FLOORS, LIMIT_UNITS, LimitName, System, TubeType
from triage.units import format_si

Level = Literal["good", "differs", "change", "bad"]

STEP_OF: dict[System, int] = {
    "design_centre": 0, "unknown": 0, "design_maximum": 1, "absolute_maximum": 2,
}  # fmt: skip
SYSTEM_STEP = 1.1
"""About a tenth from one rating system to the next (a web journal on tube ratings, Dec 2000; seen)."""
NAMES: dict[LimitName, str] = {
    "plate_w": "plate watts",
    "plate_v": "plate volts",
    "screen_w": "screen watts",
    "screen_v": "screen volts",
    "cathode_ma": "cathode current",
    "heater_cathode_v": "heater to cathode",
    "inverse_v": "peak inverse volts",
    "supply_vrms": "AC volts a plate",
    "dc_ma": "direct current",
    "peak_ma": "peak plate current",
    "transient_ma": "switch-on current",
    "first_cap": "first capacitor",
    "source_ohm_min": "source resistance a plate",
}


@dataclass(frozen=True)
class Circumstances:
    """What is known of the socket. SI; None where nobody said."""

    winding_v: float | None = None
    winding_spare_a: float | None = None
    series_string: bool = False
    heater_cathode_v: float | None = None
    bias: Literal["fixed", "cathode", "unknown"] = "unknown"
    grid_return_ohm: float | None = None
    plate_v: float | None = None
    plate_w: float | None = None
    screen_v: float | None = None
    screen_w: float | None = None
    cathode_a: float | None = None
    supply_vrms: float | None = None
    source_ohm: float | None = None
    dc_a: float | None = None
    first_cap_f: float | None = None
    capacitor_v: float | None = None
    filter_input: Literal["capacitor", "choke"] = "capacitor"


@dataclass(frozen=True)
class Reason:
    """One thing compared: what it is about, how bad, in words, and the sources of its numbers."""

    about: str
    level: Level
    says: str
    sources: tuple[str, ...] = ()


def shown(name: LimitName, value: float) -> str:
    """Engineers' form of a limit's value."""
    return format_si(value, LIMIT_UNITS[name])


def _told(tube: TubeType, name: LimitName) -> str:
    """A limit with its rating system, where that is known."""
    limit = tube.limits[name]
    if limit.slides:
        first, last = limit.slides[0], limit.slides[-1]
        return f"{first.is_} at {first.vrms} to {last.is_} at {last.vrms}"
    system = "" if limit.system == "unknown" else f" ({limit.system.replace('_', ' ')})"
    return f"{limit.is_}{system}"


def _level(tube: TubeType, name: LimitName) -> float | None:
    """A limit brought to the design-centre system, so that two systems may be compared."""
    value = tube.limit(name)
    if value is None or name in ("first_cap", "source_ohm_min"):
        return value
    return value / float(SYSTEM_STEP ** STEP_OF[tube.limits[name].system])


def limit_reason(
    name: LimitName,
    old: TubeType,
    new: TubeType,
    given: float | None,
    *,
    vrms: float | None = None,
) -> Reason | None:
    """Compare a limit of ``new`` with what the socket gives, or else with that of ``old``.

    Parameters
    ----------
    given : what the socket gives, in SI; None where it is not known.
    vrms : AC volts a plate, for a limit that slides with them; None takes its safest row.

    Returns
    -------
    Reason, or None where neither the socket nor the old type says anything about it.
    """
    most, before = new.limit(name), old.limit(name)
    if vrms is not None:
        most = new.limit_at(name, vrms)
    sources = tuple(tube.limits[name].from_ for tube in (old, new) if name in tube.limits)
    if most is None:
        if given is None and before is None:
            return None
        says = f"{NAMES[name]}: no limit of {new.type} is known here, look it up in its sheet"
        return Reason(name, "change", says, sources)
    sign = -1.0 if name in FLOORS else 1.0
    word = "at least" if name in FLOORS else "at most"
    if given is not None:
        level: Level = "good" if sign * given <= sign * most else "bad"
        says = f"{NAMES[name]} {shown(name, given)} here, {word} {shown(name, most)} allowed"
        return Reason(name, level, says, sources)
    there, then = _level(new, name), _level(old, name)
    if there is None or then is None:
        return None
    if sign * there >= sign * then * (1.0 - sign * 0.02):
        return Reason(name, "good", f"{NAMES[name]}: bears as much", sources)
    says = f"{NAMES[name]} {word} {_told(new, name)}, {old.type} {_told(old, name)}"
    return Reason(name, "change", f"{says}: read what the socket gives", sources)
