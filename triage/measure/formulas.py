"""Charge of a capacitor: what it holds, how it falls, how much it may leak."""

from __future__ import annotations

import math
from dataclasses import dataclass

from triage.errors import OutOfRange
from triage.measure.worked import given


@dataclass(frozen=True)
class Discharge:
    """Seconds to fall below 50 V and 10 V, and the resistor's first watts and all its joules."""

    to_50_v: float
    to_10_v: float
    peak_w: float
    joule: float


def discharge_time(volts: float, to_volts: float, ohm: float, farad: float) -> float:
    """Seconds until a capacitor falls from ``volts`` to ``to_volts``; 0 if it is below.

    Raises
    ------
    OutOfRange : no volts to fall to, no resistor, no capacitor.
    Source: exponential discharge.
    """
    low = given("volts to fall to", to_volts, "V", above=0.0).value
    r = given("resistor", ohm, "ohm", above=0.0).value
    c = given("capacitor", farad, "F", above=0.0).value
    size = abs(given("volts", volts, "V").value)
    seconds = r * c * (math.log(size) - math.log(low)) if size > low else 0.0
    if math.isinf(seconds):
        raise OutOfRange("resistor", r, "one with which it falls in a finite time")
    return seconds


def discharge(volts: float, ohm: float, farad: float) -> Discharge:
    """Discharge of ``farad`` from ``volts`` through ``ohm``: arithmetic; metering proves it.

    Raises
    ------
    OutOfRange : no resistor, no capacitor.
    """
    return Discharge(
        discharge_time(volts, 50.0, ohm, farad),
        discharge_time(volts, 10.0, ohm, farad),
        (given("volts", volts, "V") ** 2 / given("resistor", ohm, "ohm", above=0.0)).value,
        stored_joule(volts, farad),
    )


def stored_joule(volts: float, farad: float) -> float:
    """Energy in J of a charged capacitor: C V²/2. No figure here is a reassurance.

    Raises
    ------
    OutOfRange : a capacitor below zero, or numbers whose energy is not finite.
    Source: definition.
    """
    c, v = given("capacitor", farad, "F", least=0.0), given("volts", volts, "V")
    return (c * v * v / 2.0).value


def stored_coulomb(volts: float, farad: float) -> float:
    """Charge in C of a charged capacitor: C V.

    Raises
    ------
    OutOfRange : a capacitor below zero, or numbers whose charge is not finite.
    Source: definition.
    """
    c, v = given("capacitor", farad, "F", least=0.0), given("volts", volts, "V")
    return abs((c * v).value)


def leakage_limit(farad: float, rated_v: float) -> float:
    """Largest leakage in A of a used electrolytic: K C + 0.3 mA, C in µF (JAN-C-62).

    K is 0.01 to 100 V, 0.02 to 250 V, 0.025 to 350 V, 0.04 above.

    Raises
    ------
    OutOfRange : a capacitor or voltage that is not above zero.
    Source: JAN-C-62, as quoted with worked answers on a mailing list.
    """
    c = given("capacitor", farad, "F", above=0.0).value
    volts = given("rated volts", rated_v, "V", above=0.0).value
    factor = 0.01 if volts <= 100 else 0.02 if volts <= 250 else 0.025 if volts <= 350 else 0.04
    limit = (factor * c * 1e6 + 0.3) * 1e-3
    if math.isinf(limit):
        raise OutOfRange("capacitor", c, "a capacitor that can be built")
    return limit
