"""Filter after a reservoir: what each section leaves of the ripple, and chokes that are enough."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.errors import CircuitError, OutOfRange
from triage.measure.rectifier import Steady
from triage.measure.worked import given
from triage.units import format_si

Waves = NDArray[np.complex128]
HARMONICS = 24


@dataclass(frozen=True)
class Section:
    """One filter section: a series choke or resistor, then a capacitor to ground and a load.

    Parameters
    ----------
    ohm : ohm in series, the choke's resistance if there is a choke; 0 to 10 Mohm, above 0 without.
    farad : F to ground, 1 nF to 1 F.
    draws_a : direct current drawn at its output, 0 to 20 A.
    henry : H of the choke, 0 for a resistor, to 1000.
    esr_ohm : ohm in series with the capacitor, 0 to 100 kohm.

    Raises
    ------
    OutOfRange : a value outside its range, named.
    """

    ohm: float
    farad: float
    draws_a: float = 0.0
    henry: float = 0.0
    esr_ohm: float = 0.0

    def __post_init__(self) -> None:
        given("choke of the section", self.henry, "H", least=0.0, most=1000.0)
        given("series resistance of the section", self.ohm, "ohm", least=0.0, most=1e7)
        if self.henry == 0.0 and self.ohm == 0.0:
            raise OutOfRange("series part of the section", "nothing", "a choke or a resistor")
        given("capacitor of the section", self.farad, "F", least=1e-9, most=1.0)
        given("current at the section", self.draws_a, "A", least=0.0, most=20.0)
        given("ESR of the section", self.esr_ohm, "ohm", least=0.0, most=1e5)


@dataclass(frozen=True)
class Node:
    """Output of a section: V DC, ripple RMS and peak to peak in V, and what passes through, A.

    ``left`` is the share of the lowest ripple component that the section before leaves.
    """

    dc_v: float
    ripple_rms_v: float
    ripple_pp_v: float
    through_a: float
    left: float
    step: str


def spectrum(found: Steady, harmonics: int = HARMONICS) -> Waves:
    """Complex amplitudes (harmonics,) in V peak of the reservoir's ripple, lowest rate first.

    Fourier integral over one cycle of the line at the rates k times ``supply.ripple_hz``.
    ``harmonics`` 1 to 200.

    Raises
    ------
    OutOfRange : a count outside that range.

    Source
    ------
    Definition of the Fourier series.
    """
    count = int(given("harmonics", harmonics, "", least=1, most=200).value)
    t = np.linspace(0.0, 1.0 / found.supply.line_hz, 4097)[:-1]
    v = np.interp(t, found.t_s, found.reservoir_v)
    lines = np.fft.rfft(v) * 2.0 / len(v)
    every = 1 if found.supply.kind == "half_wave" else 2
    picked: Waves = lines[every : every * count + 1 : every]
    return picked


def _transfers(sections: Sequence[Section], hertz: float) -> list[complex]:
    """Share of the section's input left at each output at one rate, the sections after it loading."""
    s = 2j * math.pi * hertz
    found: list[complex] = []
    behind: complex | None = None
    for section in reversed(sections):
        shunt = 1.0 / (section.esr_ohm + 1.0 / (s * section.farad))
        if behind is not None:
            shunt += 1.0 / behind
        series = section.ohm + s * section.henry
        found.append(1.0 / (1.0 + series * shunt))
        behind = series + 1.0 / shunt
    return found[::-1]


def filtered(found: Steady, sections: Sequence[Section]) -> tuple[Node, ...]:
    """DC and ripple after each filter section behind a steady state.

    The reservoir's ripple is taken as a voltage source; sections load those before them; loads draw
    constant current. Valid while the first section's impedance at the ripple is well above the
    reservoir's reactance, and while the sum of ``draws_a`` is what the steady state was taken with.

    Raises
    ------
    OutOfRange : no section.
    CircuitError : a section drops more volts than there are.

    Source
    ------
    Ladder of impedances; derived here.
    """
    if not sections:
        raise OutOfRange("filter", "no section", "one section or more")
    rates = found.supply.ripple_hz * np.arange(1, HARMONICS + 1)
    waves = spectrum(found)
    shares = np.array([_transfers(sections, float(rate)) for rate in rates])
    phases = np.exp(
        2j * math.pi * np.outer(np.linspace(0.0, 1.0, 512), np.arange(1, HARMONICS + 1))
    )
    nodes: list[Node] = []
    dc = found.dc_v
    for k, section in enumerate(sections):
        amps = sum(later.draws_a for later in sections[k:])
        dc -= amps * section.ohm
        if dc <= 0.0:
            raise CircuitError([f"section {k + 1} drops more volts than there are"])
        waves = waves * shares[:, k]
        swing = np.real(phases @ waves)
        rms = math.sqrt(float(np.sum(np.abs(waves) ** 2)) / 2.0)
        left = float(abs(shares[0, k]))
        part = f"{format_si(section.henry, 'H')} " if section.henry else ""
        step = (
            f"section {k + 1}: {part}{format_si(section.ohm, 'ohm')}, "
            f"{format_si(section.farad, 'F')}: {dc:.1f} V at {format_si(amps, 'A')} through it, "
            f"leaves 1/{1.0 / left:.4g} of {rates[0]:g} Hz: {format_si(rms, 'V')} RMS"
        )
        nodes.append(Node(dc, rms, float(np.ptp(swing)), amps, left, step))
    return tuple(nodes)


def critical_inductance(load_ohm: float, line_hz: float) -> float:
    """Least choke in H that keeps current flowing, full-wave choke input: R/(6 pi f).

    Valid for 1 ohm to 100 Mohm (bleeder included) and 10 to 1000 Hz line. The first harmonic alone
    is counted, which is within a few per cent.

    Raises
    ------
    OutOfRange : a value outside its range.

    Source
    ------
    Terman; RDH4 ch. 30.2; Millman (R/1130 at 60 Hz), all from memory.
    """
    r = given("load resistance", load_ohm, "ohm", least=1.0, most=1e8).value
    f = given("line frequency", line_hz, "Hz", least=10.0, most=1000.0).value
    return r / (6.0 * math.pi * f)


def largest_bleeder(henry: float, line_hz: float) -> float:
    """Largest load in ohm, bleeder included, that keeps a choke of ``henry`` conducting: 6 pi f L.

    For a swinging choke take its inductance at small current. 0.01 to 1000 H, 10 to 1000 Hz.

    Raises
    ------
    OutOfRange : a value outside its range.

    Source
    ------
    ``critical_inductance`` turned round: 11.3 kohm for 10 H at 60 Hz.
    """
    inductance = given("choke", henry, "H", least=0.01, most=1000.0).value
    f = given("line frequency", line_hz, "Hz", least=10.0, most=1000.0).value
    return 6.0 * math.pi * f * inductance


def choke_input_volts(secondary_v: float) -> float:
    """Mean in V of a full-wave rectified sine, no losses: 2 sqrt(2)/pi V = 0.900 V RMS.

    Above critical inductance; ``secondary_v`` of one half, 1 to 5000 V.

    Raises
    ------
    OutOfRange : volts outside that range.

    Source
    ------
    Integral of the sine; 0.9 in tables of choke-input filters.
    """
    v = given("secondary volts", secondary_v, "V", least=1.0, most=5000.0).value
    return 2.0 * math.sqrt(2.0) / math.pi * v


def ripple_factor_capacitor(farad: float, load_ohm: float, ripple_hz: float) -> float:
    """Ripple factor of a reservoir, RMS over DC: 1/(2 sqrt(3) f C R), f the ripple's rate.

    Linear discharge: an upper estimate, refused above 0.2 where it no longer holds.

    Raises
    ------
    OutOfRange : a value that is not above zero, or a factor above 0.2.

    Source
    ------
    Millman and Halkias, from memory (2410/(C R) at 60 Hz line, C in uF).
    """
    c = given("capacitor", farad, "F", above=0.0).value
    r = given("load resistance", load_ohm, "ohm", above=0.0).value
    f = given("ripple frequency", ripple_hz, "Hz", above=0.0).value
    factor = 1.0 / (2.0 * math.sqrt(3.0) * f * c * r)
    given("ripple factor", factor, "", most=0.2, mend="solve it in the time domain")
    return factor


def ripple_factor_choke(henry: float, farad: float, line_hz: float) -> float:
    """Ripple factor of a full-wave choke-input section: sqrt(2)/(12 w^2 L C), w of the line.

    Above critical inductance, and where (2 w)^2 L C is at least 4.

    Raises
    ------
    OutOfRange : a value that is not above zero, or a section that does not smooth.

    Source
    ------
    Millman and Halkias, from memory (0.83/(L C) at 60 Hz, C in uF).
    """
    inductance = given("choke", henry, "H", above=0.0).value
    c = given("capacitor", farad, "F", above=0.0).value
    w = 2.0 * math.pi * given("line frequency", line_hz, "Hz", above=0.0).value
    product = w * w * inductance * c
    given("(2 w)^2 L C", 4.0 * product, "", least=4.0, mend="a larger choke or capacitor")
    return math.sqrt(2.0) / (12.0 * product)
