"""Decibels of voltages and powers, and the reference levels of the trade."""

from __future__ import annotations

import math
from typing import Literal

from triage.errors import OutOfRange
from triage.measure import maths
from triage.measure.quantity import Quantity, derived
from triage.measure.worked import Number, Worked, given, work

Level = Literal["dBu", "dBV", "dBm600"]
REFERENCE_V: dict[str, float] = {
    "dBu": math.sqrt(0.6), "dBV": 1.0, "dBm600": math.sqrt(0.6),
}  # fmt: skip
"""Volts RMS of 0 dB: 1 mW in 600 ohm is √0.6 = 0.7746 V (ITU, IEC 60268, from memory)."""


def decibels(ratio: Quantity, of_power: bool = False) -> Quantity:
    """Decibels of a plain ratio above zero: 20 log10 of volts, 10 log10 of watts.

    Raises
    ------
    OutOfRange : a ratio that is not above zero.
    """
    scaled = maths.log10(ratio) * (10.0 if of_power else 20.0)
    return derived(scaled.affine, "dB", [(scaled, 1.0)])


def db_of_volts(volts: Number, reference_v: Number) -> Worked:
    """Decibels of two volts: 20 log10(V/V_ref).

    Raises
    ------
    OutOfRange : volts that are not above zero.
    Source: definition.
    """
    v = given("volts", volts, "V", above=0.0)
    ref = given("reference volts", reference_v, "V", above=0.0)
    return work("L", "20 × log10(V/V_ref)", decibels(v / ref), V=v, V_ref=ref,
                rests_on="definition")  # fmt: skip


def db_of_power(watts: Number, reference_w: Number) -> Worked:
    """Decibels of two powers: 10 log10(P/P_ref).

    Raises
    ------
    OutOfRange : powers that are not above zero.
    Source: definition.
    """
    p = given("power", watts, "W", above=0.0)
    ref = given("reference power", reference_w, "W", above=0.0)
    return work("L", "10 × log10(P/P_ref)", decibels(p / ref, of_power=True), P=p, P_ref=ref,
                rests_on="definition")  # fmt: skip


def level(volts: Number, name: Level = "dBu") -> Worked:
    """Level of volts RMS against a reference of the trade.

    Raises
    ------
    OutOfRange : another reference, or volts that are not above zero.
    Source: ITU, IEC 60268, from memory.
    """
    if name not in REFERENCE_V:
        raise OutOfRange("reference level", f"'{name}'", ", ".join(REFERENCE_V))
    return db_of_volts(volts, REFERENCE_V[name])


def ratio_of_db(db: Number, of_power: bool = False) -> Worked:
    """Ratio that decibels mean: 10^(L/20) of volts, 10^(L/10) of powers.

    Raises
    ------
    OutOfRange : beyond 2000 dB either way.
    Source: definition.
    """
    name = "dB" if isinstance(db, Quantity) and db.unit == "dB" else ""
    in_db = given("decibels", db, name, least=-2000.0, most=2000.0)
    divisor = 10.0 if of_power else 20.0
    ratio = maths.exp(in_db * (math.log(10.0) / divisor))
    return work("ratio", f"10^(L/{divisor:g})", ratio, L=in_db, rests_on="definition")
