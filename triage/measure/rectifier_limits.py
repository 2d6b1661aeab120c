"""A supply against what its rectifier, its capacitors and its cold start allow."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from triage.measure.rectifier import Steady, Supply
from triage.measure.worked import given
from triage.units import format_si

LINE_HIGH = 1.05
"""Line 5 % above nominal, top of the usual service range (ANSI C84.1 range A; from memory)."""
RATING_MARGIN = 1.05
"""A capacitor wants this over the highest peak (common practice, no source)."""
Says = Literal["within", "at_the_limit", "over", "too_little"]
Warms = Literal["filament", "silicon", "cathode"]


@dataclass(frozen=True)
class RectifierLimits:
    """Limits of a rectifier, SI, each None where it is not known.

    ``inverse_v`` V peak a plate, ``peak_a`` A a plate, ``dc_a`` A of the whole tube, ``first_f`` F,
    ``source_ohm`` least ohm in the path of a plate, ``surge_a`` A as a hot tube is switched,
    ``plate_vrms`` V RMS a plate without load, for capacitor input.
    """

    inverse_v: float | None = None
    peak_a: float | None = None
    dc_a: float | None = None
    first_f: float | None = None
    source_ohm: float | None = None
    surge_a: float | None = None
    plate_vrms: float | None = None


@dataclass(frozen=True)
class LimitCheck:
    """One value against one limit: ``share`` is 1 at the limit and above 1 beyond it."""

    name: str
    value: float
    limit: float
    unit: str
    share: float
    says: Says

    def __str__(self) -> str:
        """Render as one line with both numbers."""
        word = "least" if self.name == "source resistance" else "limit"
        return (
            f"{self.name} {format_si(self.value, self.unit)}, {word} "
            f"{format_si(self.limit, self.unit)}: {self.says.replace('_', ' ')}"
        )


def _against(name: str, value: float, limit: float, unit: str, least: bool = False) -> LimitCheck:
    limit = given(f"limit of {name}", limit, unit, above=0.0).value
    share = limit / value if least else value / limit
    beyond: Says = "too_little" if least else "over"
    says: Says = "within" if share < 0.95 else "at_the_limit" if share <= 1.0 + 1e-9 else beyond
    return LimitCheck(name, value, limit, unit, share, says)


def judge_rectifier(
    found: Steady, limits: RectifierLimits, line_high: float = LINE_HIGH
) -> tuple[LimitCheck, ...]:
    """Each known limit of a rectifier against a steady state; what is not known is left out.

    Inverse volts are taken without load at high line (full wave 2 sqrt(2) V, bridge sqrt(2) V,
    half wave 2 sqrt(2) V); peak and DC as they are found. First capacitor, source resistance,
    surge and AC volts a plate (nominal line) count for capacitor input only. From 95 %
    of a limit on it says ``at_the_limit``.

    Raises
    ------
    OutOfRange : a limit that is not above zero, a line factor outside 1 to 1.3.

    Source
    ------
    Circuit theory; NEETS modules 6 and 7 for the inverse volts.
    """
    supply = found.supply
    high = given("line factor", line_high, "", least=1.0, most=1.3).value
    inverse = inverse_peak(supply) * high
    rows: list[tuple[str, float, float | None, str, bool]] = [
        ("inverse volts", inverse, limits.inverse_v, "V", False),
        ("peak current a plate", found.peak_a, limits.peak_a, "A", False),
        ("direct current", found.load_a, limits.dc_a, "A", False),
    ]
    if supply.choke_h is None:
        rows += [
            ("first capacitor", supply.reservoir_f, limits.first_f, "F", False),
            ("source resistance", supply.source_ohm, limits.source_ohm, "ohm", True),
            ("surge", surge(supply, high), limits.surge_a, "A", False),
            ("AC volts a plate", supply.secondary_v, limits.plate_vrms, "V", False),
        ]
    return tuple(
        _against(name, value, limit, unit, least)
        for name, value, limit, unit, least in rows
        if limit is not None
    )


def inverse_peak(supply: Supply) -> float:
    """Peak inverse volts in V without load: full and half wave 2 sqrt(2) V, bridge sqrt(2) V.

    Source
    ------
    Circuit theory; NEETS modules 6 and 7.
    """
    return supply.peak_v * (1.0 if supply.kind == "bridge" else 2.0)


def surge(supply: Supply, line_high: float = LINE_HIGH) -> float:
    """Peak current in A as a ready rectifier meets an empty reservoir at the crest of the line.

    Solves R i + drop(i) = sqrt(2) V k, capacitor input; an upper estimate, since the capacitor
    charges and leakage inductance holds back. Into a choke it is far less.

    Raises
    ------
    OutOfRange : a line factor outside 1 to 1.3.

    Source
    ------
    Ohm's and Child's laws.
    """
    high = given("line factor", line_high, "", least=1.0, most=1.3).value
    return supply.path.current(supply.peak_v * high, supply.source_ohm)


@dataclass(frozen=True)
class ColdStart:
    """What the first capacitor meets before any tube draws current.

    ``peak_v`` V at nominal line, ``high_v`` V at high line, ``wanted_v`` the rating wanted,
    ``surge_a`` A as a ready rectifier is switched on at the crest.
    """

    peak_v: float
    high_v: float
    wanted_v: float
    rated_v: float
    surge_a: float
    enough: bool
    note: str

    @property
    def steps(self) -> tuple[str, ...]:
        """The reckoning in lines with numbers."""
        verdict = "enough" if self.enough else "too little: over-volted at each switch-on"
        return (
            f"peak without load = √2 × V = {self.peak_v:.0f} V, at high line {self.high_v:.0f} V",
            f"wanted = {RATING_MARGIN} × {self.high_v:.0f} V = {self.wanted_v:.0f} V",
            f"rated {self.rated_v:.0f} V: {verdict}",
            f"surge into an empty reservoir at the crest: {format_si(self.surge_a, 'A')}",
            self.note,
        )


NOTES: dict[str, str] = {
    "filament": "a filament is ready in seconds: the full peak comes before any tube draws",
    "silicon": "silicon conducts at once: the full peak comes before any tube draws",
    "cathode": "a cathode warms with the other tubes, but after a short break, or with the output "
    "tubes out, the full peak comes all the same",
}


def cold_start(
    supply: Supply, rated_v: float, warms: Warms = "filament", line_high: float = LINE_HIGH
) -> ColdStart:
    """First capacitor against the peak that stands while the tubes are cold.

    Wanted: 1.05 x sqrt(2) x V x line high; a bleeder or the load of warm tubes is not counted on,
    and a choke input reaches the peak too while nothing draws. ``rated_v`` 1 to 10 000 V, of a
    series stack the sum of its halves (with resistors across each).

    Raises
    ------
    OutOfRange : a rating or line factor (1 to 1.3) outside its range.

    Source
    ------
    sqrt(2) V: circuit theory. Margin: common practice, no source.
    """
    rated = given("rating of the capacitor", rated_v, "V", least=1.0, most=1e4).value
    high = given("line factor", line_high, "", least=1.0, most=1.3).value
    given(f"kind '{warms}'", 1.0 if warms in NOTES else 0.0, "", least=1.0,
          mend="filament, silicon or cathode")  # fmt: skip
    peak = math.sqrt(2.0) * supply.secondary_v
    wanted = RATING_MARGIN * high * peak
    return ColdStart(
        peak, high * peak, wanted, rated, surge(supply, high), rated >= wanted, NOTES[warms]
    )
