"""Rectifier and reservoir in the time domain: steady state, regulation, switching on.

EMFs are open-circuit RMS volts (of one half for a centre tap); all values SI.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np

from triage.errors import OutOfRange
from triage.measure.child import Diode
from triage.measure.reservoir import Array, Net, Run, run, steady_capacitor, steady_choke
from triage.measure.worked import given
from triage.units import format_si

Kind = Literal["full_wave", "bridge", "half_wave"]
NO_LOAD_OHM = 1e8


@dataclass(frozen=True)
class Load:
    """What the supply feeds: a resistance, a constant current, a bleeder, together.

    ``ohm`` and ``bleed_ohm``: 1 ohm to 100 Mohm or None; ``amps``: 0 to 20 A.

    Raises
    ------
    OutOfRange : a value outside its range, named.
    """

    ohm: float | None = None
    amps: float = 0.0
    bleed_ohm: float | None = None

    def __post_init__(self) -> None:
        given("load current", self.amps, "A", least=0.0, most=20.0)
        for name, ohm in (("load resistance", self.ohm), ("bleeder", self.bleed_ohm)):
            if ohm is not None:
                given(name, ohm, "ohm", least=1.0, most=NO_LOAD_OHM)

    @property
    def siemens(self) -> float:
        """Conductance of load and bleeder together."""
        return sum(1.0 / ohm for ohm in (self.ohm, self.bleed_ohm) if ohm is not None)

    def current(self, volts: float) -> float:
        """Current in A at ``volts``."""
        return self.amps + self.siemens * volts


@dataclass(frozen=True)
class Supply:
    """A rectifier into a reservoir.

    Parameters
    ----------
    kind : ``full_wave`` (centre tap), ``bridge`` or ``half_wave``.
    secondary_v : open-circuit EMF, V RMS, 1 to 5000; of one half for ``full_wave``.
    line_hz : Hz, 10 to 1000.
    source_ohm : ohm in the path of one plate, 0.01 to 100 000; see ``source_resistance``.
    diode : one diode or plate (a bridge conducts through two).
    reservoir_f : F, 10 nF to 1 F: the first capacitor, the one after the choke for choke input.
    load : what draws from it.
    choke_h, choke_ohm : 0.01 to 1000 H for choke input (with 0 to 10 kohm), or None.

    Raises
    ------
    OutOfRange : a value outside its range, or a choke input after a half-wave rectifier.
    """

    kind: Kind
    secondary_v: float
    line_hz: float
    source_ohm: float
    diode: Diode
    reservoir_f: float
    load: Load
    choke_h: float | None = None
    choke_ohm: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in get_args(Kind):
            raise OutOfRange("kind of rectifier", f"'{self.kind}'", ", ".join(get_args(Kind)))
        given("secondary volts", self.secondary_v, "V", least=1.0, most=5000.0)
        given("line frequency", self.line_hz, "Hz", least=10.0, most=1000.0)
        given("source resistance", self.source_ohm, "ohm", least=0.01, most=1e5)
        given("reservoir", self.reservoir_f, "F", least=1e-8, most=1.0)
        given("resistance of the choke", self.choke_ohm, "ohm", least=0.0, most=1e4)
        if self.choke_h is not None:
            given("choke", self.choke_h, "H", least=0.01, most=1000.0)
            if self.kind == "half_wave":
                raise OutOfRange("filter after a half-wave rectifier", "a choke input",
                                 "a capacitor input")  # fmt: skip

    @property
    def path(self) -> Diode:
        """The diode, or two in series in a bridge."""
        return self.diode.in_series() if self.kind == "bridge" else self.diode

    @property
    def ripple_hz(self) -> float:
        """Rate of the ripple: the line's for half wave, double for the others."""
        return self.line_hz * (1.0 if self.kind == "half_wave" else 2.0)

    @property
    def peak_v(self) -> float:
        """Peak of the EMF, V."""
        return math.sqrt(2.0) * self.secondary_v

    def net(self) -> Net:
        """The circuit as it is stepped."""
        return Net(
            self.peak_v, 2.0 * math.pi * self.line_hz, self.kind != "half_wave", self.source_ohm,
            self.path, self.reservoir_f, self.load.siemens, self.load.amps,
            self.choke_h or 0.0, self.choke_ohm,
        )  # fmt: skip


def source_resistance(
    secondary_ohm: float, primary_ohm: float = 0.0, ratio: float = 0.0, added_ohm: float = 0.0
) -> float:
    """Resistance in ohm in the path of one plate: R_s + n^2 R_p + added.

    ``secondary_ohm`` of one half, ``ratio`` n = half-secondary volts over primary volts. Valid for
    0 to 100 kohm each and n to 100.

    Raises
    ------
    OutOfRange : a value outside its range.

    Source
    ------
    Rule of the European rectifier sheets, from memory: 100 + 2.5^2 x 5 = 131 ohm.
    """
    rs = given("secondary resistance", secondary_ohm, "ohm", least=0.0, most=1e5).value
    rp = given("primary resistance", primary_ohm, "ohm", least=0.0, most=1e5).value
    n = given("turns ratio", ratio, "", least=0.0, most=100.0).value
    more = given("added resistance", added_ohm, "ohm", least=0.0, most=1e5).value
    return rs + n * n * rp + more


@dataclass(frozen=True, eq=False)
class Steady:
    """Steady state of a supply over one cycle of the line.

    Arrays of shape (n,): ``t_s``; ``reservoir_v``; ``plate_a``, the current of one plate or path;
    ``total_a``, out of the rectifier. ``inverse_v`` is the peak inverse volts of this load;
    ``continuous`` says whether current never stops (choke input above critical inductance).
    """

    supply: Supply
    t_s: Array
    reservoir_v: Array
    plate_a: Array
    total_a: Array
    dc_v: float
    ripple_pp_v: float
    ripple_rms_v: float
    load_a: float
    peak_a: float
    plate_rms_a: float
    plate_dc_a: float
    winding_rms_a: float
    winding_heat_w: float
    conduction_deg: float
    inverse_v: float
    continuous: bool

    @property
    def steps(self) -> tuple[str, ...]:
        """The reckoning in lines with numbers."""
        s = self.supply
        rms = format_si(s.secondary_v, "V", 4)
        i_rms, heat = format_si(self.winding_rms_a, "A"), format_si(self.winding_heat_w, "W")
        estimate = format_si(self.load_a / (s.ripple_hz * s.reservoir_f), "V")
        return (
            f"peak EMF = √2 × {rms} = {format_si(s.peak_v, 'V', 4)}",
            f"source {format_si(s.source_ohm, 'ohm')} a path, ripple at {s.ripple_hz:g} Hz",
            f"B+ = {format_si(self.dc_v, 'V', 4)} at {format_si(self.load_a, 'A')}",
            f"ripple {format_si(self.ripple_pp_v, 'V')} peak to peak, "
            f"{format_si(self.ripple_rms_v, 'V')} RMS (I/(f × C) = {estimate} at most)",
            f"each path conducts {self.conduction_deg:.0f}° of a cycle, peak "
            f"{format_si(self.peak_a, 'A')}, RMS {format_si(self.plate_rms_a, 'A')}, "
            f"mean {format_si(self.plate_dc_a, 'A')}",
            f"winding {i_rms} RMS; losses in the source resistance {heat}",
        )


def mean(t: Array, y: Array) -> float:
    """Mean over the times ``t`` (n,), which need not be even, by trapezia."""
    return float(np.sum(np.diff(t) * (y[1:] + y[:-1])) / 2.0 / (t[-1] - t[0]))


def steady(supply: Supply) -> Steady:
    """Periodic steady state of a supply.

    Implicit second-order steps over a period, and the start volts for which the period repeats.
    No transformer leakage inductance, no capacitor ESR, constant supply EMF. DC within 0.1 %,
    ripple and peak current within 1 % of a circuit simulator (the tests compare).

    Raises
    ------
    CircuitError : the load takes more current than the supply can give.

    Source
    ------
    Derived here; Schade, Proc. IRE 31 (1943), names the problem and its parameters.
    """
    net = supply.net()
    if net.siemens == 0.0 and net.amps == 0.0:
        t = np.linspace(0.0, net.period, 361)
        held = Run(t, [net.peak_v - net.diode.knee_v] * 361, [0.0] * 361)
        return _told(supply, net, held)
    found = steady_choke(net) if supply.choke_h else steady_capacitor(net)
    return _told(supply, net, found)


def _told(supply: Supply, net: Net, found: Run) -> Steady:
    t, v = found.t, np.asarray(found.v, dtype=np.float64)
    i = np.maximum(np.asarray(found.i, dtype=np.float64), 0.0)
    first = i
    if net.both:
        rest = np.zeros_like(i)
        t, v = np.concatenate((t, t[1:] + net.period)), np.concatenate((v, v[1:]))
        first, i = np.concatenate((i, rest[1:])), np.concatenate((i, i[1:]))
    dc = mean(t, v)
    rms = math.sqrt(mean(t, first**2))
    ways = 1.0 if supply.kind != "bridge" else math.sqrt(2.0)
    halves = 2.0 if supply.kind == "full_wave" else 1.0
    winding = ways * rms
    flows = np.concatenate(((first[:-1] > 0.0) & (first[1:] > 0.0), [False]))[:-1]
    flowing = float(np.sum(np.diff(t)[flows]))
    node = float(np.max(v)) if supply.choke_h is None else net.peak_v
    across = {"full_wave": net.peak_v + node, "bridge": net.peak_v, "half_wave": net.peak_v + node}
    return Steady(
        supply, t, v, first, i, dc, float(np.ptp(v)), math.sqrt(max(mean(t, (v - dc) ** 2), 0.0)),
        supply.load.current(dc), float(first.max()), rms, mean(t, first), winding,
        halves * winding**2 * supply.source_ohm, 360.0 * flowing * supply.line_hz,
        float(across[supply.kind]), bool(i.min() > 0.0),
    )  # fmt: skip


@dataclass(frozen=True)
class Regulation:
    """B+ at a light and a heavy load, and what source resistance that is."""

    light: Steady
    heavy: Steady
    percent: float
    source_ohm: float

    @property
    def steps(self) -> tuple[str, ...]:
        """The reckoning in lines with numbers."""
        a, b = self.light, self.heavy
        return (
            f"light: {a.dc_v:.1f} V at {format_si(a.load_a, 'A')}",
            f"heavy: {b.dc_v:.1f} V at {format_si(b.load_a, 'A')}",
            f"regulation = 100 × ({a.dc_v:.1f} - {b.dc_v:.1f})/{b.dc_v:.1f} = {self.percent:.1f} %",
            f"source = change of volts over change of current = {format_si(self.source_ohm, 'ohm')}",
        )


def regulate(supply: Supply, light: Load, heavy: Load) -> Regulation:
    """B+ between two loads: regulation 100 (V_light - V_heavy)/V_heavy in per cent.

    Raises
    ------
    OutOfRange : the heavy load does not draw more than the light one.
    CircuitError : as ``steady``.

    Source
    ------
    Definition in training manuals on power supplies, from memory.
    """
    a, b = steady(replace(supply, load=light)), steady(replace(supply, load=heavy))
    if not b.load_a > a.load_a:
        raise OutOfRange("heavy load", format_si(b.load_a, "A"), "more than the light load")
    drop = a.dc_v - b.dc_v
    return Regulation(a, b, 100.0 * drop / b.dc_v, drop / (b.load_a - a.load_a))


def switch_on(supply: Supply, cycles: int, phase_deg: float = 90.0) -> Run:
    """Waves from an empty reservoir on, as a ready rectifier meets it at a phase of the line.

    ``cycles`` 1 to 200. 90° (the crest) is the worst without a choke. The load is as given.

    Raises
    ------
    OutOfRange : cycles or phase (0 to 360) outside their range.
    """
    count = int(given("cycles", cycles, "", least=1, most=200).value)
    phase = given("phase", phase_deg, "degree", least=0.0, most=360.0).value
    start = phase / 360.0 / supply.line_hz
    t = start + np.linspace(0.0, count / supply.line_hz, 720 * count + 1)
    return run(supply.net(), t, 0.0)


def dc_uncertainty(supply: Supply, u: Mapping[str, float]) -> float:
    """Standard uncertainty in V of B+ out of those of ``secondary_v``, ``source_ohm``, ...

    First order, by central differences of half an uncertainty; the inputs taken as independent.

    Raises
    ------
    OutOfRange : another name than a number of ``Supply``, or an uncertainty below zero.

    Source
    ------
    JCGM 100, 5.1.3 note 2.
    """
    varied: dict[str, Callable[[float], Supply]] = {
        "secondary_v": lambda x: replace(supply, secondary_v=x),
        "source_ohm": lambda x: replace(supply, source_ohm=x),
        "reservoir_f": lambda x: replace(supply, reservoir_f=x),
        "line_hz": lambda x: replace(supply, line_hz=x),
    }
    total = 0.0
    for name, spread in u.items():
        if name not in varied:
            raise OutOfRange("uncertain input", f"'{name}'", ", ".join(varied))
        half = 0.5 * given(f"uncertainty of {name}", spread, "", least=0.0).value
        value = float(getattr(supply, name))
        high, low = (steady(varied[name](value + sign * half)).dc_v for sign in (1.0, -1.0))
        total += (high - low) ** 2
    return math.sqrt(total)
