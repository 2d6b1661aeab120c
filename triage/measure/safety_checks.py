"""Touch current, bleeders, capacitors to the mains: numbers for judgement, never keys to a gate.

The limits here are from memory: they may speak against going on and never for it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from triage.errors import OutOfRange
from triage.measure import maths
from triage.measure.quantity import Quantity
from triage.measure.worked import MEMORY, Number, Worked, given, work

Network = Literal["body", "plain", "iec_500"]
Class = Literal["earthed", "double_square"]
NETWORKS: dict[str, tuple[float, float]] = {
    "body": (1500.0, 0.15e-6), "plain": (2000.0, 0.0), "iec_500": (500.0, 0.0),
}  # fmt: skip
"""Ohm and farad in parallel. body: UL and ANSI C101 (from memory); iec_500: IEC 60065, seen quoted;
plain: a bare resistor, which reads less of what is above some kilohertz."""
TOUCH_LIMIT_A: dict[str, float] = {"earthed": 0.75e-3, "double_square": 0.25e-3}
"""RMS limits of portable equipment (IEC 60950-1, from memory)."""
BLEED_TO_V = 60.0


def touch_current(volts_rms: Number, hertz: float, network: Network = "body") -> Worked:
    """Touch current in A RMS out of volts RMS over a measuring network: V/|Z|.

    |Z| = R/√(1 + (2π f R C)²). The network is clipped on with the plug out, and nobody touches the
    set while it is energised. On an earthed set the reading is near zero whatever is wrong, because
    the earth shorts it: that needs a leakage tester. The earth is never lifted.

    Raises
    ------
    OutOfRange : a network that is not known, 0 Hz or above 1 MHz, volts below zero.
    Source: body network of UL/ANSI C101, from memory; 500 ohm of IEC 60065, quoted.
    """
    if network not in NETWORKS:
        raise OutOfRange("measuring network", f"'{network}'", ", ".join(NETWORKS))
    ohm, farad = NETWORKS[network]
    v = given("volts on the network", volts_rms, "V", least=0.0)
    f = given("frequency", hertz, "Hz", above=0.0, most=1e6)
    r = Quantity(ohm, 0.0, "ohm")
    if not farad:
        return work("I", "V/R", v / r, V=v, R=r, rests_on=network)
    z = Quantity(ohm / math.hypot(1.0, 2 * math.pi * f.value * ohm * farad), 0.0, "ohm")
    size = work("Z", "R/√(1 + (2π × f × R × C)²)", z, f=f, R=r, C=Quantity(farad, 0.0, "F"))
    return work("I", "V/Z", v / z, before=(size,), V=v, Z=z,
                rests_on="1500 ohm with 0.15 µF across it, from memory")  # fmt: skip


@dataclass(frozen=True)
class TouchVerdict:
    """Touch current against the limit of its class; ``opens_gate`` is False, always."""

    current: Worked
    share: float
    above: bool
    says: str
    opens_gate: Literal[False] = False


def judge_touch(current: Worked, kind: Class) -> TouchVerdict:
    """Touch current against a limit from memory: it can stop the work, and allows none.

    Raises
    ------
    OutOfRange : another class than earthed or double_square (a two-wire metal chassis has no limit
        that would make it fit to be returned).
    """
    if kind not in TOUCH_LIMIT_A:
        raise OutOfRange("class of protection", f"'{kind}'", ", ".join(TOUCH_LIMIT_A),
                         "a two-wire metal chassis is bench work only")  # fmt: skip
    share = current.value / TOUCH_LIMIT_A[kind]
    above = share > 1.0
    limit = f"{TOUCH_LIMIT_A[kind] * 1e3:g} mA"
    words = (f"above {limit}: do not return it, have it looked at" if above
             else f"{share:.0%} of {limit}")  # fmt: skip
    return TouchVerdict(current, share, above, f"{words} ({MEMORY})")


def line_capacitor_current(farad: Number, line_v: Number, hertz: Number) -> Worked:
    """Current in A RMS through a capacitor from the mains to the chassis: 2π f C V.

    Raises
    ------
    OutOfRange : anything below zero, a frequency that is not above zero.
    Source: reactance of a capacitor.
    """
    c = given("capacitor", farad, "F", least=0.0)
    v = given("line", line_v, "V", least=0.0)
    f = given("line frequency", hertz, "Hz", above=0.0)
    return work("I", "2π × f × C × V", f * c * v * (2.0 * math.pi), f=f, C=c, V=v,
                rests_on="reactance of a capacitor")  # fmt: skip


@dataclass(frozen=True)
class Bleeder:
    """A bleeder at work: current, watts, watts to buy, time constant, seconds to 60 V.

    Its doing its work is proven by a meter, not by this arithmetic.
    """

    current: Worked
    watts: Worked
    rated_w: float
    time_constant: Worked
    to_60_v: Worked


def bleeder(volts: Number, ohm: Number, farad: Number) -> Bleeder:
    """Bleeder over a reservoir: V/R, V²/R, twice that to buy, RC, RC ln(V/60 V).

    Raises
    ------
    OutOfRange : volts at or below 60 V, resistor or capacitor that are not above zero.
    Source: Ohm's law; double rating: common practice, no source.
    """
    v = given("volts", volts, "V", above=BLEED_TO_V, mend="there is nothing to bleed")
    r = given("bleeder", ohm, "ohm", above=0.0)
    c = given("capacitor", farad, "F", above=0.0)
    watts = work("P", "V²/R", v * v / r, V=v, R=r, rests_on="P = V²/R")
    tau = work("tau", "R × C", r * c, R=r, C=c, rests_on="definition")
    low = Quantity(BLEED_TO_V, 0.0, "V")
    time = work("t", "tau × ln(V/V_60)", tau.quantity * maths.log(v / low), before=(tau,),
                tau=tau.quantity, V=v, V_60=low, rests_on="exponential discharge",
                notes=("a meter proves it, not this",))  # fmt: skip
    return Bleeder(work("I", "V/R", v / r, V=v, R=r), watts, 2.0 * watts.value, tau, time)
