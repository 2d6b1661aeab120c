"""Output: power, the load that the tubes see, winding balance, damping."""

from __future__ import annotations

from triage.errors import OutOfRange
from triage.measure import maths
from triage.measure.worked import Number, Worked, given, work

HALVES_USUAL = 1.3
"""DC resistances of two healthy primary halves differ by up to this ratio (common practice)."""


def output_power(rms_v: Number, load_ohm: Number) -> Worked:
    """Power in W of volts RMS on a load: V²/R. The load is taken as a resistance.

    Raises
    ------
    OutOfRange : volts below zero, a load that is not above zero.
    Source: P = V²/R.
    """
    v = given("volts on the load", rms_v, "V", least=0.0)
    r = given("load", load_ohm, "ohm", above=0.0)
    return work("P", "V²/R", v * v / r, V=v, R=r, rests_on="P = V²/R, RMS of a sine")


def power_of_peak(peak_to_peak_v: Number, load_ohm: Number) -> Worked:
    """Power in W of a sine of so many volts peak to peak: V_pp²/(8 R).

    Raises
    ------
    OutOfRange : volts below zero, a load that is not above zero.
    Source: RMS of a sine.
    """
    v = given("volts peak to peak", peak_to_peak_v, "V", least=0.0)
    r = given("load", load_ohm, "ohm", above=0.0)
    return work("P", "V_pp²/(8 × R)", v * v / (r * 8.0), V_pp=v, R=r, rests_on="RMS of a sine")


def turns_ratio(primary_v: Number, secondary_v: Number) -> Worked:
    """Turns ratio of a transformer out of its volts, unloaded: V_1/V_2.

    Feed the *secondary* with a few volts at most: 6.3 V into an 8 ohm winding of 25:1 makes 158 V
    on the primary.

    Raises
    ------
    OutOfRange : volts that are not above zero.
    Source: ideal transformer.
    """
    v_1 = given("primary volts", primary_v, "V", above=0.0)
    v_2 = given("secondary volts", secondary_v, "V", above=0.0)
    return work("n", "V_1/V_2", v_1 / v_2, V_1=v_1, V_2=v_2, rests_on="ideal transformer")


def reflected_load(ratio: Number | Worked, load_ohm: Number) -> Worked:
    """Load in ohm that the primary shows: n² R.

    Raises
    ------
    OutOfRange : a ratio or load that is not above zero.
    Source: ideal transformer.
    """
    n = given("turns ratio", ratio, "", above=0.0)
    r = given("load", load_ohm, "ohm", above=0.0)
    before = (ratio,) if isinstance(ratio, Worked) else ()
    return work("R_aa", "n² × R", n * n * r, before=before, n=n, R=r, rests_on="ideal transformer")


def ratio_of_loads(primary_ohm: Number, secondary_ohm: Number) -> Worked:
    """Turns ratio of a transformer out of its two impedances: √(Z_1/Z_2).

    Raises
    ------
    OutOfRange : an impedance that is not above zero.
    Source: ideal transformer.
    """
    z_1 = given("primary impedance", primary_ohm, "ohm", above=0.0)
    z_2 = given("secondary impedance", secondary_ohm, "ohm", above=0.0)
    return work("n", "√(Z_1/Z_2)", maths.sqrt(z_1 / z_2), Z_1=z_1, Z_2=z_2,
                rests_on="ideal transformer")  # fmt: skip


def winding_balance(first: Number, second: Number, unit: str = "ohm") -> Worked:
    """Ratio of two halves of a winding, the larger over the smaller: in ohm (DC) or V (AC).

    Ohms of healthy halves differ by up to 1.3 (the outer half has the longer wire); volts by no
    more than 2 %: unlike volts mean shorted turns (common practice, no source).

    Raises
    ------
    OutOfRange : a half that is not above zero, or a unit other than ohm or V.
    """
    if unit not in ("ohm", "V"):
        raise OutOfRange("unit of a winding's halves", unit, "ohm or V")
    a = given("first half", first, unit, above=0.0, mend="zero is a short, OL an open half")
    b = given("second half", second, unit, above=0.0, mend="zero is a short, OL an open half")
    top, bottom = (a, b) if a.value >= b.value else (b, a)
    ratio = top / bottom
    most = HALVES_USUAL if unit == "ohm" else 1.02
    words = "within what healthy halves show" if ratio.value <= most else "more than healthy halves"
    return work("ratio", "x_1/x_2", ratio, x_1=top, x_2=bottom, notes=(words,),
                rests_on="common practice, no source")  # fmt: skip


def output_resistance(unloaded_v: Number, loaded_v: Number, load_ohm: Number) -> Worked:
    """Output resistance in ohm out of volts without and with the load: R (V_0 - V_L)/V_L.

    Take both at a small signal, the unloaded one only where the amplifier bears it: a pentode stage
    without feedback must not run without a load.

    Raises
    ------
    OutOfRange : loaded volts that are not above zero, or above the unloaded ones.
    Source: Ohm's law.
    """
    v_l = given("volts loaded", loaded_v, "V", above=0.0)
    v_0 = given("volts unloaded", unloaded_v, "V", least=v_l.value,
                mend="loaded volts are above unloaded: swapped, or it oscillates")  # fmt: skip
    r = given("load", load_ohm, "ohm", above=0.0)
    return work("R_out", "R × (V_0 - V_L)/V_L", r * ((v_0 - v_l) / v_l), R=r, V_0=v_0, V_L=v_l,
                rests_on="Ohm's law")  # fmt: skip


def damping_factor(unloaded_v: Number, loaded_v: Number) -> Worked:
    """Damping factor, a plain number: V_L/(V_0 - V_L), load over output resistance.

    Raises
    ------
    OutOfRange : loaded volts that are not above zero and below the unloaded ones.
    Source: definition.
    """
    v_l = given("volts loaded", loaded_v, "V", above=0.0)
    v_0 = given("volts unloaded", unloaded_v, "V", above=v_l.value,
                mend="no drop at all: read with one more digit")  # fmt: skip
    return work("DF", "V_L/(V_0 - V_L)", v_l / (v_0 - v_l), V_L=v_l, V_0=v_0,
                rests_on="definition")  # fmt: skip


def line_tap_load(line_v: Number, tap_w: Number) -> Worked:
    """Load in ohm of a speaker transformer's tap on a constant-voltage line: V²/P.

    Raises
    ------
    OutOfRange : volts or watts that are not above zero.
    Source: P = V²/R.
    """
    v = given("line volts", line_v, "V", above=0.0)
    p = given("watts of the tap", tap_w, "W", above=0.0)
    return work("R", "V²/P", v * v / p, V=v, P=p, rests_on="P = V²/R")
