"""What meters read of waves that are no sine: form factors of average-responding meters."""

from __future__ import annotations

import math
from typing import Literal, get_args

from triage.errors import OutOfRange
from triage.measure.quantity import Quantity
from triage.measure.worked import Number, Worked, given, work

Shape = Literal["sine", "square", "triangle", "sawtooth", "full_sine", "half_sine"]
Responds = Literal["true_rms", "average"]
SINE_FACTOR = math.pi / (2.0 * math.sqrt(2.0))
"""RMS over rectified mean of a sine, 1.1107: printed on every average-responding scale."""


def _full_sine() -> tuple[float, float]:
    """RMS and rectified mean of the AC part of a full-wave rectified sine of peak 1."""
    mean = 2.0 / math.pi
    edge = math.asin(mean)
    above = (2.0 / math.pi) * (math.cos(edge) - mean * (math.pi / 2.0 - edge))
    return math.sqrt(0.5 - mean**2), 2.0 * above


def _half_sine() -> tuple[float, float]:
    """RMS and rectified mean of the AC part of a half-wave rectified sine of peak 1."""
    mean = 1.0 / math.pi
    edge = math.asin(mean)
    above = (1.0 / math.pi) * (math.cos(edge) - mean * (math.pi / 2.0 - edge))
    return math.sqrt(0.25 - mean**2), 2.0 * above


AC_PART: dict[str, tuple[float, float]] = {
    "sine": (1.0 / math.sqrt(2.0), 2.0 / math.pi),
    "square": (1.0, 1.0),
    "triangle": (1.0 / math.sqrt(3.0), 0.5),
    "sawtooth": (1.0 / math.sqrt(3.0), 0.5),
    "full_sine": _full_sine(),
    "half_sine": _half_sine(),
}
"""RMS and rectified mean of each wave without its DC, for a peak (or half the swing) of 1."""


def form_factor(shape: Shape) -> float:
    """RMS over rectified mean of a wave without its DC, a plain number (sine 1.111, square 1).

    Raises
    ------
    OutOfRange : another shape.
    Source: integrals; the ratios are tabled in manuals of meters.
    """
    if shape not in AC_PART:
        raise OutOfRange("shape of the wave", f"'{shape}'", ", ".join(get_args(Shape)))
    rms, mean = AC_PART[shape]
    return rms / mean


def shown_over_true(responds: Responds, shape: Shape) -> float:
    """What an AC-coupled meter shows of a wave over its true RMS: 1 for a true-RMS meter.

    Raises
    ------
    OutOfRange : another shape or kind of meter.
    Source: an average-responding meter shows 1.1107 times the rectified mean.
    """
    if responds == "true_rms":
        form_factor(shape)
        return 1.0
    if responds != "average":
        raise OutOfRange("what the meter responds to", f"'{responds}'", "true_rms, average")
    return SINE_FACTOR / form_factor(shape)


def true_rms(reading: Number, responds: Responds, shape: Shape) -> Worked:
    """RMS in V of a wave out of what an AC-coupled meter shows of it.

    Sawtooth (ripple at a reservoir) reads 3.8 % low on an average-responding meter, a square wave
    11 % high.

    Raises
    ------
    OutOfRange : another shape or kind of meter, a reading below zero.
    Source: as ``shown_over_true``.
    """
    v = given("AC reading", reading, "V", least=0.0)
    factor = Quantity(shown_over_true(responds, shape), 0.0, "")
    return work("V_rms", "V_shown/f", v / factor, V_shown=v, f=factor,
                rests_on=f"{responds.replace('_', ' ')} meter on a {shape.replace('_', ' ')}")  # fmt: skip


def dc_on_an_ac_range(dc_v: Number, half_wave: bool = False) -> Worked:
    """What a meter without AC coupling shows of DC on its AC range: 1.11, or 2.22, or nothing.

    A half-wave rectifier meter shows 2.22 times, or zero the other way round.

    Raises
    ------
    OutOfRange : wrong unit.
    Source: as ``shown_over_true``.
    """
    v = given("DC volts", dc_v, "V", least=0.0)
    factor = Quantity(SINE_FACTOR * (2.0 if half_wave else 1.0), 0.0, "")
    return work("V_shown", "f × V_dc", factor * v, f=factor, V_dc=v,
                rests_on="a rectifier meter shows 1.11 times the mean")  # fmt: skip
