"""Grids: current out of a shift, the total return against the tube's limit, leaking couplings."""

from __future__ import annotations

from triage.errors import OutOfRange
from triage.measure.quantity import Quantity
from triage.measure.worked import MEMORY, Number, Worked, given, work


def grid_return(
    leak_ohm: Number, stopper_ohm: Number = 0.0, source_ohm: Number = 0.0, sharing: int = 1
) -> Worked:
    """Total grid return in ohm of each tube: R_stop + n (R_leak + R_source).

    ``sharing`` tubes on one leak count as that much resistance each, for each adds its current.
    Hold it against the limit for the kind of bias; many old sets exceed it and work, so above the
    limit means "watch for drift", not "this is the fault".

    Raises
    ------
    OutOfRange : a resistor below zero, or fewer than one tube.
    Source: tube manuals, ratings of grid-circuit resistance (from memory); bench review.
    """
    if sharing < 1:
        raise OutOfRange("number of tubes on the leak", sharing, "one or more")
    leak = given("grid leak", leak_ohm, "ohm", least=0.0)
    stop = given("grid stopper", stopper_ohm, "ohm", least=0.0)
    source = given("source of the bias", source_ohm, "ohm", least=0.0)
    n = Quantity(float(sharing), 0.0, "")
    return work("R_g", "R_stop + n × (R_leak + R_source)", stop + (leak + source) * n,
                R_stop=stop, R_leak=leak, R_source=source, n=n,
                rests_on="each tube on a leak adds its grid current")  # fmt: skip


def return_share(total_ohm: Number | Worked, limit_ohm: Number, from_memory: bool = True) -> Worked:
    """Grid return as a share of the tube's limit (1.0 = at the limit).

    Raises
    ------
    OutOfRange : a limit that is not above zero.
    Source: the tube's sheet; ``from_memory`` unless that was read.
    """
    total = given("grid return", total_ohm, "ohm", least=0.0)
    limit = given("limit of the grid return", limit_ohm, "ohm", above=0.0)
    before = (total_ohm,) if isinstance(total_ohm, Worked) else ()
    notes = ("above the sheet's limit: watch for drift",) if total.value > limit.value else ()
    return work("share", "R_g/R_limit", total / limit, before=before, R_g=total, R_limit=limit,
                notes=(*notes, *((MEMORY,) if from_memory else ())),
                rests_on="limit of the grid circuit on the tube's sheet")  # fmt: skip


def grid_current(shift: Number, return_ohm: Number | Worked) -> Worked:
    """Grid current in A out of the shift it makes over the total return: dV_g/R_g.

    A positive shift (less negative grid) is reverse current: gas, or grid emission. Over about
    1 µA in small tubes and 3 µA in output tubes is too much (from memory).

    Raises
    ------
    OutOfRange : a return that is not above zero.
    Source: Ohm's law.
    """
    dv = given("grid shift", shift, "V")
    r = given("total grid return", return_ohm, "ohm", above=0.0)
    before = (return_ohm,) if isinstance(return_ohm, Worked) else ()
    return work("I_g", "dV_g/R_g", dv / r, before=before, dV_g=dv, R_g=r, rests_on="Ohm's law")


def leak_resistance(
    source_v: Number, grid_v: Number, return_ohm: Number, shift: Quantity
) -> Worked:
    """Leak of a coupling capacitor in ohm: (V_source - V_g) R_g/dV_g.

    ``grid_v`` is the grid as it reads, ``shift`` how far it is above where it should be. Valid with
    the output tubes out, so that grid current has no part in the shift.

    Raises
    ------
    OutOfRange : the shift is not above zero, so that no leak can be told from it.
    Source: voltage divider.
    """
    dv = given("grid shift", shift, "V", above=0.0,
               mend="the grid is not above where it should be: no leak can be told from it")  # fmt: skip
    source = given("volts before the capacitor", source_v, "V")
    grid = given("grid volts", grid_v, "V")
    r = given("total grid return", return_ohm, "ohm", above=0.0)
    across = source - grid
    if across.value <= 0.0:
        raise OutOfRange("volts across the capacitor", str(across), "above zero")
    return work("R_leak", "(V_source - V_g)/dV_g × R_g", across / dv * r, V_source=source, V_g=grid,
                dV_g=dv, R_g=r, rests_on="voltage divider")  # fmt: skip


def shift_of_leak(source_v: Number, leak_ohm: Number, return_ohm: Number) -> Worked:
    """Grid shift in V that a leaking coupling capacitor makes: V_source R_g/(R_g + R_leak).

    Raises
    ------
    OutOfRange : a resistance that is not above zero.
    Source: voltage divider.
    """
    source = given("volts before the capacitor", source_v, "V")
    leak = given("leak", leak_ohm, "ohm", above=0.0)
    r = given("total grid return", return_ohm, "ohm", above=0.0)
    return work("dV_g", "V_source × R_g/(R_g + R_leak)", source * (r / (r + leak)),
                V_source=source, R_g=r, R_leak=leak, rests_on="voltage divider")  # fmt: skip


def runaway_gain(gm_siemens: Number, grid_a: Number, return_ohm: Number) -> Worked:
    """Rise of plate current in A that a reverse grid current makes: gm I_g R_g.

    Raises
    ------
    OutOfRange : a transconductance or return below zero.
    Source: RDH4 ch. 3.3, from memory.
    """
    gm = given("transconductance", gm_siemens, "S", least=0.0)
    i = given("grid current", grid_a, "A")
    r = given("total grid return", return_ohm, "ohm", least=0.0)
    return work("dI_a", "gm × I_g × R_g", gm * i * r, gm=gm, I_g=i, R_g=r,
                rests_on="definition of gm, Ohm's law")  # fmt: skip
