"""Ripple and hum: rate relative to the kind of rectifier, size at a reservoir, regulation."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from triage.errors import OutOfRange
from triage.measure.quantity import Quantity
from triage.measure.worked import Number, Worked, given, work

KINDS = ("half_wave", "full_wave", "bridge", "doubler")
RateSays = Literal["as_built", "half_missing", "not_the_supply", "unclear"]


def ripple_hertz(line_hertz: float, rectifying: str) -> float:
    """Ripple frequency in Hz: mains for half wave, double for full wave, bridge and doubler.

    Raises
    ------
    OutOfRange : another kind of rectifying, or a line of no frequency.
    Source: training manuals on power supplies.
    """
    line = given("line frequency", line_hertz, "Hz", above=0.0, most=1000.0).value
    if rectifying == "half_wave":
        return line
    if rectifying in KINDS:
        return 2.0 * line
    raise OutOfRange("kind of rectifying", f"'{rectifying}'", ", ".join(KINDS))


@dataclass(frozen=True)
class RateReading:
    """What the rate of a hum says of the supply: one word, and one sentence."""

    says: RateSays
    because: str


def rate_says(rate_hertz: Number, line_hertz: float, rectifying: str) -> RateReading:
    """What the rate of ripple or hum means, relative to the kind of rectifier.

    A hum at the mains rate is as built in a half-wave set, and half a full-wave rectifier missing,
    a heater leak or an induced hum in others. Within 10 % of a rate counts as that rate.

    Raises
    ------
    OutOfRange : as ``ripple_hertz``.
    Source: bench review of rates; common practice.
    """
    rate = given("rate", rate_hertz, "Hz", above=0.0).value
    built = ripple_hertz(line_hertz, rectifying)
    kind = rectifying.replace("_", " ")
    if abs(rate / built - 1.0) <= 0.10:
        return RateReading("as_built", f"{kind} makes {built:g} Hz as built: look at the reservoir")
    if abs(rate / line_hertz - 1.0) <= 0.10:
        return RateReading("half_missing", f"{kind} should make {built:g} Hz: at {line_hertz:g} Hz "
                           "half of it is missing, or the hum is no ripple (heater, ground)")  # fmt: skip
    if rate > 2.5 * line_hertz:
        return RateReading(
            "not_the_supply", "above twice the line: rasp or a buzz, no plain ripple"
        )
    return RateReading(
        "unclear", f"{rate:g} Hz is no multiple of a {line_hertz:g} Hz line: read again"
    )


@dataclass(frozen=True)
class HumBand:
    """Usual hum at the speaker in V RMS, ``low`` to ``high``, and what that rests on."""

    low: float
    high: float
    rests_on: str


def hum_band(single_ended: bool, feedback: bool, load_ohm: float = 8.0) -> HumBand:
    """Hum that healthy amplifiers leave at the speaker, by output stage, feedback and load.

    At 8 ohm: single-ended 10 to 30 mV without feedback, 2 to 10 mV with it; push-pull 2 to 10 mV
    without, 0.5 to 2 mV with it (common practice, no source); other loads as the root of the ohms.

    Raises
    ------
    OutOfRange : a load outside 1 ohm to 1 kohm.
    """
    load = given("load", load_ohm, "ohm", least=1.0, most=1e3).value
    bands = {
        (True, False): (10e-3, 30e-3), (True, True): (2e-3, 10e-3),
        (False, False): (2e-3, 10e-3), (False, True): (0.5e-3, 2e-3),
    }  # fmt: skip
    low, high = bands[(bool(single_ended), bool(feedback))]
    scale = math.sqrt(load / 8.0)
    stage = "single-ended" if single_ended else "push-pull"
    words = f"{stage}, {'with' if feedback else 'without'} feedback: common practice, no source"
    return HumBand(low * scale, high * scale, words)


def ripple_vpp(amps: Number, farad: Number, ripple_hz: Number) -> Worked:
    """Peak-to-peak ripple in V at the reservoir: I/(f C), f the ripple's rate.

    Linear discharge over a whole period: an upper estimate, good while it is below about a fifth
    of the supply.

    Raises
    ------
    OutOfRange : a current below zero, a capacitor or rate that is not above zero.
    Source: any text on power supplies.
    """
    i = given("current", amps, "A", least=0.0)
    c = given("capacitor", farad, "F", above=0.0)
    f = given("ripple frequency", ripple_hz, "Hz", above=0.0)
    return work("V_pp", "I/(f × C)", i / (f * c), I=i, f=f, C=c,
                rests_on="linear discharge: an upper estimate")  # fmt: skip


def sawtooth_rms(vpp: Number | Worked) -> Worked:
    """RMS in V, as an AC meter of true RMS shows it, of a sawtooth: V_pp/(2√3).

    Raises
    ------
    OutOfRange : below zero.
    Source: Millman and Halkias, from memory; the integral of a straight line.
    """
    v = given("peak-to-peak volts", vpp, "V", least=0.0)
    before = (vpp,) if isinstance(vpp, Worked) else ()
    return work("V_rms", "V_pp/(2√3)", v / (2.0 * math.sqrt(3.0)), before=before, V_pp=v,
                rests_on="sawtooth")  # fmt: skip


def capacitor_from_ripple(amps: Number, vpp: Number, ripple_hz: Number) -> Worked:
    """Capacitance in F that a reservoir's ripple speaks of: I/(f V_pp), an upper estimate.

    Raises
    ------
    OutOfRange : ripple or rate that is not above zero.
    Source: as ``ripple_vpp``, turned round.
    """
    i = given("current", amps, "A", above=0.0)
    v = given("peak-to-peak ripple", vpp, "V", above=0.0)
    f = given("ripple frequency", ripple_hz, "Hz", above=0.0)
    return work("C", "I/(f × V_pp)", i / (f * v), I=i, f=f, V_pp=v,
                rests_on="linear discharge: an upper estimate")  # fmt: skip


def ripple_share(ripple_rms: Number, dc: Number) -> Worked:
    """Ripple factor: RMS of the ripple as a share of the DC, a plain number.

    Raises
    ------
    OutOfRange : DC that is not above zero.
    Source: definition.
    """
    v = given("ripple", ripple_rms, "V", least=0.0)
    d = given("DC volts", dc, "V", above=0.0)
    return work("r", "V_ripple/V_dc", v / d, V_ripple=v, V_dc=d, rests_on="definition")


def regulation(unloaded: Number, loaded: Number) -> Worked:
    """Regulation in per cent: 100 (V_nl - V_fl)/V_fl.

    Raises
    ------
    OutOfRange : loaded volts that are not above zero, or unloaded below loaded.
    Source: training manuals on power supplies, from memory.
    """
    v_fl = given("volts loaded", loaded, "V", above=0.0)
    v_nl = given("volts unloaded", unloaded, "V", least=v_fl.value,
                 mend="loaded volts above unloaded: the line moved, or they are swapped")  # fmt: skip
    percent = Quantity(100.0, 0.0, "%")
    return work("reg", "100 × (V_nl - V_fl)/V_fl", (v_nl - v_fl) / v_fl * percent, V_nl=v_nl,
                V_fl=v_fl, rests_on="definition")  # fmt: skip


def source_ohm(unloaded: Number, loaded: Number, amps: Number) -> Worked:
    """Source resistance in ohm of a supply: (V_nl - V_fl)/I.

    Raises
    ------
    OutOfRange : a current that is not above zero.
    Source: Ohm's law.
    """
    v_nl, v_fl = given("volts unloaded", unloaded, "V"), given("volts loaded", loaded, "V")
    i = given("current", amps, "A", above=0.0)
    return work("R_s", "(V_nl - V_fl)/I", (v_nl - v_fl) / i, V_nl=v_nl, V_fl=v_fl, I=i,
                rests_on="Ohm's law")  # fmt: skip


def rc_attenuation(ohm: Number, farad: Number, hertz: Number) -> Worked:
    """Share of ripple left by an RC section: 1/√(1 + (2π f R C)²).

    Raises
    ------
    OutOfRange : anything that is not above zero.
    Source: text books on filters.
    """
    r = given("resistor", ohm, "ohm", above=0.0)
    c = given("capacitor", farad, "F", above=0.0)
    f = given("ripple frequency", hertz, "Hz", above=0.0)
    x = r * c * f * (2.0 * math.pi)
    left = (x * x + 1.0) ** -0.5
    return work("left", "1/√(1 + (2π × f × R × C)²)", left, f=f, R=r, C=c, rests_on="RC section")


def lc_attenuation(henry: Number, farad: Number, hertz: Number) -> Worked:
    """Share of ripple left by an LC section: 1/((2π f)² L C - 1), above its resonance.

    Raises
    ------
    OutOfRange : below twice the resonance, where it does not smooth.
    Source: RDH4 ch. 31, from memory.
    """
    inductor = given("choke", henry, "H", above=0.0)
    c = given("capacitor", farad, "F", above=0.0)
    f = given("ripple frequency", hertz, "Hz", above=0.0)
    omega = f * (2.0 * math.pi)
    product = omega * omega * inductor * c
    if product.value < 4.0:
        raise OutOfRange("ripple frequency", str(f), "at least twice the filter's resonance",
                         "a larger choke or capacitor")  # fmt: skip
    return work("left", "1/((2π × f)² × L × C - 1)", 1.0 / (product - 1.0), f=f, L=inductor, C=c,
                rests_on="LC section")  # fmt: skip


def capacitor_reactance(farad: Number, hertz: Number) -> Worked:
    """Reactance in ohm of a capacitor: 1/(2π f C).

    Raises
    ------
    OutOfRange : anything that is not above zero.
    Source: definition.
    """
    c = given("capacitor", farad, "F", above=0.0)
    f = given("frequency", hertz, "Hz", above=0.0)
    return work("X_C", "1/(2π × f × C)", 1.0 / (f * c * (2.0 * math.pi)), f=f, C=c,
                rests_on="definition")  # fmt: skip


def inductor_reactance(henry: Number, hertz: Number) -> Worked:
    """Reactance in ohm of an inductor: 2π f L.

    Raises
    ------
    OutOfRange : anything that is not above zero.
    Source: definition.
    """
    inductor = given("inductor", henry, "H", above=0.0)
    f = given("frequency", hertz, "Hz", above=0.0)
    return work("X_L", "2π × f × L", f * inductor * (2.0 * math.pi), f=f, L=inductor,
                rests_on="definition")  # fmt: skip
