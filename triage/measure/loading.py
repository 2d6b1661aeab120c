"""Dividers, and what a meter does to the circuit it is put on."""

from __future__ import annotations

from dataclasses import dataclass

from triage.errors import OutOfRange, SafetyRefusal
from triage.measure.quantity import Quantity
from triage.measure.worked import Number, Worked, given, work
from triage.units import format_si

GRID_METER_OHM = 10e6
"""Least input resistance of a meter on an output grid with its tube in (bench review, E20)."""
BIAS_LOSS = 0.05
"""Largest share of the bias that a meter may take away at an output grid (bench practice)."""


def parallel(*ohms: Number) -> Worked:
    """Resistance in ohm of resistors in parallel: 1/(1/R_1 + 1/R_2 + ...).

    Raises
    ------
    OutOfRange : none given, or one that is not above zero.
    Source: Ohm's law.
    """
    if not ohms:
        raise OutOfRange("number of resistors", 0, "one or more")
    read = {
        f"R_{index}": given(f"resistor {index}", ohm, "ohm", above=0.0)
        for index, ohm in enumerate(ohms, 1)
    }
    total = Quantity(0.0, 0.0, "S")
    for one in read.values():
        total = total + 1.0 / one
    formula = "1/(" + " + ".join(f"1/{name}" for name in read) + ")"
    return work("R", formula, 1.0 / total, entered=read, rests_on="Ohm's law")


def divider(volts: Number, top_ohm: Number, bottom_ohm: Number) -> Worked:
    """Volts at the middle of a divider without load: V R_2/(R_1 + R_2).

    Raises
    ------
    OutOfRange : a resistor that is not above zero.
    Source: Ohm's law.
    """
    v = given("volts over the divider", volts, "V")
    r_1 = given("upper resistor", top_ohm, "ohm", above=0.0)
    r_2 = given("lower resistor", bottom_ohm, "ohm", above=0.0)
    return work("V_2", "V × R_2/(R_1 + R_2)", v * (r_2 / (r_1 + r_2)), V=v, R_1=r_1, R_2=r_2,
                rests_on="Ohm's law")  # fmt: skip


def loaded(volts: Number, source_ohm: Number | Worked, meter_ohm: Number) -> Worked:
    """Volts that a meter shows of a source of ``volts`` behind ``source_ohm``: V R_m/(R_m + R_s).

    Raises
    ------
    OutOfRange : a meter that is not above zero ohm, a source below zero.
    Source: Ohm's law.
    """
    v = given("volts without the meter", volts, "V")
    r_s = given("source resistance", source_ohm, "ohm", least=0.0)
    r_m = given("meter resistance", meter_ohm, "ohm", above=0.0)
    before = (source_ohm,) if isinstance(source_ohm, Worked) else ()
    return work("V_m", "V × R_m/(R_m + R_s)", v * (r_m / (r_m + r_s)), before=before, V=v, R_m=r_m,
                R_s=r_s, rests_on="Ohm's law")  # fmt: skip


def unloaded(reading: Number, source_ohm: Number | Worked, meter_ohm: Number) -> Worked:
    """Volts that were there before the meter was: V_m (R_m + R_s)/R_m.

    Valid where the source is a plain resistance. At a grid with an open leak it is not: there the
    meter changes the fault.

    Raises
    ------
    OutOfRange : a correction of more than double, which no reading bears; or as ``loaded``.
    Source: Ohm's law.
    """
    v_m = given("volts as read", reading, "V")
    r_s = given("source resistance", source_ohm, "ohm", least=0.0)
    r_m = given("meter resistance", meter_ohm, "ohm", above=0.0)
    if r_s.value > r_m.value:
        raise OutOfRange("source resistance", str(r_s), f"at most the meter's {r_m}",
                         "a meter of higher resistance, or a higher range")  # fmt: skip
    before = (source_ohm,) if isinstance(source_ohm, Worked) else ()
    return work("V", "V_m × (R_m + R_s)/R_m", v_m * ((r_m + r_s) / r_m), before=before, V_m=v_m,
                R_m=r_m, R_s=r_s, rests_on="Ohm's law")  # fmt: skip


def loading_error(source_ohm: Number | Worked, meter_ohm: Number) -> Worked:
    """Share of the volts that a meter takes away: R_s/(R_s + R_m).

    Raises
    ------
    OutOfRange : as ``loaded``.
    Source: Ohm's law.
    """
    r_s = given("source resistance", source_ohm, "ohm", least=0.0)
    r_m = given("meter resistance", meter_ohm, "ohm", above=0.0)
    before = (source_ohm,) if isinstance(source_ohm, Worked) else ()
    return work("loss", "R_s/(R_s + R_m)", r_s / (r_s + r_m), before=before, R_s=r_s, R_m=r_m,
                rests_on="Ohm's law")  # fmt: skip


@dataclass(frozen=True)
class MeterEffect:
    """What a meter does to the point it is put on: volts with it, its share, one sentence."""

    with_meter: Worked
    loss: float
    says: str


def meter_effect(volts: Number, source_ohm: Number | Worked, meter_ohm: Number) -> MeterEffect:
    """What a meter does to a circuit of ``volts`` behind ``source_ohm``.

    Raises
    ------
    OutOfRange : as ``loaded``.
    Source: Ohm's law; the ten-times rule is that of an Army course (a loss of at most 9 %).
    """
    shown = loaded(volts, source_ohm, meter_ohm)
    loss = loading_error(source_ohm, meter_ohm).value
    size = format_si(given("meter resistance", meter_ohm, "ohm").value, "ohm")
    before = format_si(given("volts without the meter", volts, "V").value, "V")
    now = format_si(shown.value, "V")
    if loss <= 0.01:
        words = f"a meter of {size} takes {loss:.1%} here: leave it out of account"
    elif loss <= 1.0 / 11.0:
        words = f"a meter of {size} makes {now} of {before}: correct for it"
    else:
        words = f"a meter of {size} makes {now} of {before}: the circuit is another one with it on"
    return MeterEffect(shown, loss, words)


def output_grid_effect(bias_v: Number, leak_ohm: Number, meter_ohm: Number) -> MeterEffect:
    """What a meter does to the bias of an output grid whose tube is in; refused if it takes bias.

    Raises
    ------
    SafetyRefusal : the meter is below 10 Mohm, or takes more than 5 % of the bias away.
    OutOfRange : as ``loaded``.
    Source: bench review, E20.
    """
    effect = meter_effect(bias_v, leak_ohm, meter_ohm)
    r_m = given("meter resistance", meter_ohm, "ohm").value
    if r_m >= GRID_METER_OHM and effect.loss <= BIAS_LOSS:
        return effect
    before = format_si(given("bias", bias_v, "V").value, "V")
    raise SafetyRefusal([
        f"a meter of {format_si(r_m, 'ohm')} on this output grid leaves "
        f"{format_si(effect.with_meter.value, 'V')} of {before}: the tube loses its bias and cooks",
        "read it with a meter of 10 Mohm or more, with the output tubes out, or at the supply side "
        "of the grid leak",
    ])  # fmt: skip
