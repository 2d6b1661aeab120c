"""What the line does: expected volts and watts at the line as it is, and heaters."""

from __future__ import annotations

from triage.errors import OutOfRange
from triage.measure.quantity import Quantity
from triage.measure.worked import Number, Worked, given, work

HEATER_TOLERANCE = 0.10
"""Heater volts either way of the rating (tube manuals, from memory; 5 % for long life)."""


def line_factor(line_v: Number, nominal_v: Number) -> Worked:
    """Ratio k of the line now to the nominal line: V_line/V_nom.

    Raises
    ------
    OutOfRange : a nominal line that is not above zero, a line below zero.
    Source: definition.
    """
    line = given("line", line_v, "V", least=0.0)
    nominal = given("nominal line", nominal_v, "V", above=0.0)
    return work("k", "V_line/V_nom", line / nominal, V_line=line, V_nom=nominal,
                rests_on="definition")  # fmt: skip


def line_corrected(
    expected: Number, line_v: Number, nominal_v: Number, regulated: bool = False
) -> Worked:
    """Expected volts at the line as it is: V_exp k; a regulated node stays as it is.

    Unregulated bias comes off the same transformer and scales with k too; so does cathode bias,
    nearly. Dissipation goes as about k^2.5.

    Raises
    ------
    OutOfRange : as ``line_factor``.
    Source: bench practice: all unregulated volts are in proportion to the line.
    """
    volts = given("expected volts", expected, "V")
    if regulated:
        return work("V", "V_exp", volts, V_exp=volts, rests_on="regulated: the line does not act")
    k = line_factor(line_v, nominal_v)
    return work("V", "V_exp × k", volts * k.quantity, before=(k,), V_exp=volts, k=k.quantity,
                rests_on="unregulated volts in proportion to the line")  # fmt: skip


def dissipation_factor(k: Number | Worked) -> Worked:
    """Factor of idle dissipation at line factor k: about k^2.5 (k of volts, k^1.5 of current).

    Valid for k of 0.5 to 1.5.

    Raises
    ------
    OutOfRange : k outside of that.
    Source: three-halves law of current at a bias that scales with the line.
    """
    ratio = given("line factor", k, "", least=0.5, most=1.5)
    before = (k,) if isinstance(k, Worked) else ()
    return work("P_factor", "k^2.5", ratio**2.5, before=before, k=ratio,
                rests_on="three-halves law")  # fmt: skip


def heater_share(volts: Number, rated_v: Number, k: Number | Worked = 1.0) -> Worked:
    """Heater volts as a share of what they should be at the line as it is: V_h/(V_rated k).

    Good from 90 to 110 % (tube manuals, from memory), 95 to 105 % for long life. On a limiter only
    this ratio means anything.

    Raises
    ------
    OutOfRange : rated volts or a line factor that are not above zero.
    """
    v_h = given("heater volts", volts, "V", least=0.0)
    rated = given("rated heater volts", rated_v, "V", above=0.0)
    ratio = given("line factor", k, "", above=0.0)
    share = v_h / (rated * ratio)
    off = abs(share.value - 1.0)
    words = "within 10 %" if off <= HEATER_TOLERANCE else "outside 10 %"
    return work("share", "V_h/(V_rated × k)", share, V_h=v_h, V_rated=rated, k=ratio,
                before=(k,) if isinstance(k, Worked) else (),
                notes=(f"{words} (10 % from memory)",), rests_on="heater tolerance")  # fmt: skip


def heater_string(volts: list[float], line_v: Number, amps: Number) -> Worked:
    """Dropper in ohm of a series string: (V_line - sum of heater volts)/I_h; zero is allowed.

    Raises
    ------
    OutOfRange : heaters that sum to more than the line, or a current that is not above zero.
    Source: Ohm's law.
    """
    if not volts:
        raise OutOfRange("number of heaters", 0, "one or more")
    for one in volts:
        given("heater volts", one, "V", above=0.0)
    total = Quantity(float(sum(volts)), 0.0, "V")
    line = given("line", line_v, "V", least=total.value, mend="check the types in the string")
    i_h = given("heater current", amps, "A", above=0.0)
    return work("R_drop", "(V_line - V_sum)/I_h", (line - total) / i_h, V_line=line, V_sum=total,
                I_h=i_h, rests_on="Ohm's law")  # fmt: skip


def in_proportion(value: Number, reference: Number, unit: str = "V") -> Worked:
    """Ratio of two readings taken under the same line: what is still true on a limiter.

    Raises
    ------
    OutOfRange : a reference of zero, or other units.
    Source: definition.
    """
    top, bottom = given("reading", value, unit), given("reference", reference, unit)
    if bottom.value == 0.0:
        raise OutOfRange("reference", 0.0, "other than zero")
    return work("ratio", "x/x_ref", top / bottom, x=top, x_ref=bottom, rests_on="definition")
