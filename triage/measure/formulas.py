"""Electrical arithmetic of the bench: pure functions, SI in and out, with uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from triage.measure.quantity import Quantity

SCREEN_SHARE = Quantity(0.07, 0.03, "")
"""Screen current as a share of cathode current at idle, where it is not known (common practice)."""


def _q(value: Quantity | float, unit: str) -> Quantity:
    return value if isinstance(value, Quantity) else Quantity(float(value), 0.0, unit)


@dataclass(frozen=True)
class Currents:
    """Cathode, plate and screen current in A; ``screen_known`` tells reading from estimate."""

    cathode: Quantity
    plate: Quantity
    screen: Quantity
    screen_known: bool


def sense_current(
    volts: Quantity, ohm: Quantity | float, screen: Quantity | None = None, screen_grid: bool = True
) -> Currents:
    """Currents of a tube whose cathode current makes ``volts`` across ``ohm``.

    The screen's part is told apart: as given, else estimated by ``SCREEN_SHARE``, zero in a triode.
    """
    cathode = volts / _q(ohm, "ohm")
    if not screen_grid:
        return Currents(cathode, cathode, Quantity(0.0, 0.0, "A"), True)
    if screen is not None:
        return Currents(cathode, cathode - screen, screen, True)
    estimated = cathode * SCREEN_SHARE
    plate_share = Quantity(1.0 - SCREEN_SHARE.value, SCREEN_SHARE.u, "")
    return Currents(cathode, cathode * plate_share, estimated, False)


def cathode_bias_current(volts: Quantity, ohm: Quantity | float, tubes: int = 1) -> Quantity:
    """Cathode current in A of each of ``tubes`` which share a cathode resistor.

    Raises
    ------
    ValueError : fewer than one tube.
    """
    if tubes < 1:
        raise ValueError("at least one tube shares a cathode resistor")
    return volts / _q(ohm, "ohm") / float(tubes)


def dissipation(plate_to_cathode: Quantity | float, current: Quantity) -> Quantity:
    """Power in W: volts from plate (or screen) to cathode times the current into it."""
    return current * _q(plate_to_cathode, "V")


def share_of_rating(power: Quantity, rated_w: float) -> Quantity:
    """Share of the rated dissipation, a plain number (1.0 = at the rating)."""
    return power / Quantity(rated_w, 0.0, "W")


def line_factor(line_v: Quantity | float, nominal_v: float) -> Quantity:
    """Ratio k of the line now to the nominal line."""
    return _q(line_v, "V") / Quantity(nominal_v, 0.0, "V")


def line_corrected(
    expected: Quantity | float, line_v: Quantity | float, nominal_v: float
) -> Quantity:
    """Expected volts at the line as it is: expected times k. Dissipation goes as about k^2.5."""
    return _q(expected, "V") * line_factor(line_v, nominal_v)


def dissipation_factor(k: Quantity | float) -> Quantity:
    """Factor of idle dissipation at line factor k: about k^2.5 (k of volts, k^1.5 of current)."""
    ratio = _q(k, "")
    return Quantity(ratio.value**2.5, 2.5 * ratio.value**1.5 * ratio.total_u, "")


def ripple_hertz(line_hertz: float, rectifying: str) -> float:
    """Ripple frequency in Hz: mains for half wave, double for full wave or bridge.

    Raises
    ------
    ValueError : another kind of rectifying.
    """
    if rectifying == "half_wave":
        return line_hertz
    if rectifying in ("full_wave", "bridge", "doubler"):
        return 2.0 * line_hertz
    raise ValueError(f"rectifying is half_wave, full_wave, bridge or doubler, not '{rectifying}'")


def ripple_vpp(amps: Quantity | float, farad: Quantity | float, ripple_hz: float) -> Quantity:
    """Peak-to-peak ripple in V at the reservoir: I/(f C), linear discharge, an upper estimate."""
    charge = _q(amps, "A") / _q(farad, "F") / ripple_hz
    return Quantity(charge.value, charge.total_u, "V")


def sawtooth_rms(vpp: Quantity) -> Quantity:
    """RMS in V, as an AC meter of true RMS shows it, of a sawtooth: Vpp/(2√3)."""
    return vpp / (2.0 * math.sqrt(3.0))


@dataclass(frozen=True)
class Discharge:
    """Seconds to fall below 50 V and 10 V, and the resistor's first watts and all its joules."""

    to_50_v: float
    to_10_v: float
    peak_w: float
    joule: float


def discharge_time(volts: float, to_volts: float, ohm: float, farad: float) -> float:
    """Seconds until a capacitor falls from ``volts`` to ``to_volts``; 0 if it is below."""
    if abs(volts) <= to_volts:
        return 0.0
    return ohm * farad * math.log(abs(volts) / to_volts)


def discharge(volts: float, ohm: float, farad: float) -> Discharge:
    """Discharge of ``farad`` from ``volts`` through ``ohm``: arithmetic; metering proves it."""
    return Discharge(
        discharge_time(volts, 50.0, ohm, farad),
        discharge_time(volts, 10.0, ohm, farad),
        volts**2 / ohm,
        stored_joule(volts, farad),
    )


def stored_joule(volts: float, farad: float) -> float:
    """Energy in J of a charged capacitor: C V²/2."""
    return farad * volts**2 / 2.0


def stored_coulomb(volts: float, farad: float) -> float:
    """Charge in C of a charged capacitor: C V."""
    return farad * abs(volts)


def leak_resistance(
    source_v: Quantity | float,
    grid_v: Quantity | float,
    return_ohm: Quantity | float,
    shift: Quantity,
) -> Quantity:
    """Leak of a coupling capacitor in ohm: (V_source - V_grid) R_return / shift.

    ``grid_v`` is the grid as it reads, ``shift`` how far it is above where it should be.

    Raises
    ------
    ValueError : the shift is not above zero, so that no leak can be told from it.
    """
    if shift.value <= 0:
        raise ValueError("the grid is not above where it should be: no leak can be told from it")
    across = _q(source_v, "V") - _q(grid_v, "V")
    return across / shift * _q(return_ohm, "ohm")


def current_change(gm_siemens: float, shift: Quantity) -> Quantity:
    """Change of plate current in A by a grid ``shift`` in V: gm times shift, for small shifts."""
    change = shift * gm_siemens
    return Quantity(change.value, change.total_u, "A")


def loaded(volts: float, source_ohm: float, meter_ohm: float) -> float:
    """Volts that a meter shows of a source of ``volts`` behind ``source_ohm``."""
    return volts * meter_ohm / (meter_ohm + source_ohm)


def parallel(*ohms: float) -> float:
    """Resistance in ohm of resistors in parallel."""
    return 1.0 / sum(1.0 / ohm for ohm in ohms)


def leakage_limit(farad: float, rated_v: float) -> float:
    """Largest leakage in A of a used electrolytic: K C + 0.3 mA, C in µF (JAN-C-62).

    K is 0.01 to 100 V, 0.02 to 250 V, 0.025 to 350 V, 0.04 above.
    """
    if rated_v <= 100:
        factor = 0.01
    elif rated_v <= 250:
        factor = 0.02
    elif rated_v <= 350:
        factor = 0.025
    else:
        factor = 0.04
    return (factor * farad * 1e6 + 0.3) * 1e-3


def capacitor_reactance(farad: float, hertz: float) -> float:
    """Reactance in ohm of a capacitor."""
    return 1.0 / (2.0 * math.pi * hertz * farad)


def inductor_reactance(henry: float, hertz: float) -> float:
    """Reactance in ohm of an inductor."""
    return 2.0 * math.pi * hertz * henry
