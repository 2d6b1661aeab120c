"""Stages: gain expected and measured, cathode bias, phase splitters, feedback."""

from __future__ import annotations

from triage.measure import maths
from triage.measure.decibels import decibels
from triage.measure.worked import Number, Worked, given, work


def stage_gain(out_v: Number, in_v: Number) -> Worked:
    """Gain as measured, a plain number without sign: V_out/V_in, both AC of one kind.

    Raises
    ------
    OutOfRange : an input that is not above zero.
    Source: definition.
    """
    v_out = given("output volts", out_v, "V", least=0.0)
    v_in = given("input volts", in_v, "V", above=0.0)
    return work("A", "V_out/V_in", v_out / v_in, V_out=v_out, V_in=v_in, rests_on="definition")


def plate_load(plate_ohm: Number, next_ohm: Number) -> Worked:
    """AC load of a plate in ohm: plate resistor and next grid leak in parallel.

    Raises
    ------
    OutOfRange : a resistance that is not above zero.
    Source: parallel resistors.
    """
    r_p = given("plate resistor", plate_ohm, "ohm", above=0.0)
    r_n = given("next grid leak", next_ohm, "ohm", above=0.0)
    return work("R_L", "1/(1/R_P + 1/R_N)", 1.0 / (1.0 / r_p + 1.0 / r_n), R_P=r_p, R_N=r_n,
                rests_on="parallel resistors")  # fmt: skip


def triode_gain(mu: Number, rp_ohm: Number, load_ohm: Number | Worked, cathode_ohm: Number = 0.0
                ) -> Worked:  # fmt: skip
    """Gain expected of a triode stage: mu R_L/(R_L + r_p + (mu + 1) R_k), a plain number.

    ``cathode_ohm`` is the part of the cathode resistor without a bypass capacitor; 0 if bypassed.
    Valid in mid-band, below grid current.

    Raises
    ------
    OutOfRange : mu, r_p or load that are not above zero, R_k below zero.
    Source: text books (equivalent circuit of a triode); Steck ch. 6 prints a worked case.
    """
    m = given("mu", mu, "", above=0.0)
    r_p = given("plate resistance of the tube", rp_ohm, "ohm", above=0.0)
    r_l = given("plate load", load_ohm, "ohm", above=0.0)
    r_k = given("cathode resistor without bypass", cathode_ohm, "ohm", least=0.0)
    before = (load_ohm,) if isinstance(load_ohm, Worked) else ()
    if r_k.value == 0.0 and r_k.total_u == 0.0:
        return work("A", "mu × R_L/(R_L + r_p)", m * (r_l / (r_l + r_p)), before=before, mu=m,
                    R_L=r_l, r_p=r_p, rests_on="equivalent circuit, bypassed")  # fmt: skip
    gain = m * (r_l / (r_l + r_p + (m + 1.0) * r_k))
    return work("A", "mu × R_L/(R_L + r_p + (mu + 1) × R_k)", gain, before=before, mu=m, R_L=r_l,
                r_p=r_p, R_k=r_k, rests_on="equivalent circuit, no bypass")  # fmt: skip


def pentode_gain(gm_siemens: Number, load_ohm: Number | Worked) -> Worked:
    """Gain expected of a pentode stage: gm R_L, for a load far below the tube's own resistance.

    Raises
    ------
    OutOfRange : gm or load that are not above zero.
    Source: text books.
    """
    gm = given("transconductance", gm_siemens, "S", above=0.0)
    r_l = given("plate load", load_ohm, "ohm", above=0.0)
    before = (load_ohm,) if isinstance(load_ohm, Worked) else ()
    return work("A", "gm × R_L", gm * r_l, before=before, gm=gm, R_L=r_l,
                rests_on="load far below the plate resistance")  # fmt: skip


def gain_share(measured: Number | Worked, expected: Number | Worked) -> Worked:
    """Gain measured as a share of the expected one; 70 to 130 % is within the spread of tubes.

    Raises
    ------
    OutOfRange : an expected gain that is not above zero.
    Source: spread of new tubes, a public thread on data sheets.
    """
    a = given("gain measured", measured, "", least=0.0)
    a_exp = given("gain expected", expected, "", above=0.0)
    before = tuple(x for x in (measured, expected) if isinstance(x, Worked))
    return work("share", "A/A_exp", a / a_exp, before=before, A=a, A_exp=a_exp,
                rests_on="30 % spread of tubes")  # fmt: skip


def plate_current(supply_v: Number, plate_v: Number, plate_ohm: Number) -> Worked:
    """Plate current in A of a stage, out of the drop over its plate resistor: (V_bb - V_a)/R_L.

    Raises
    ------
    OutOfRange : a resistor that is not above zero.
    Source: Ohm's law.
    """
    v_bb, v_a = given("supply volts", supply_v, "V"), given("plate volts", plate_v, "V")
    r_l = given("plate resistor", plate_ohm, "ohm", above=0.0)
    return work("I_a", "(V_bb - V_a)/R_L", (v_bb - v_a) / r_l, V_bb=v_bb, V_a=v_a, R_L=r_l,
                rests_on="Ohm's law")  # fmt: skip


def cathode_volts(amps: Number | Worked, ohm: Number) -> Worked:
    """Cathode volts that a current makes over its resistor; the grid is that much negative.

    Raises
    ------
    OutOfRange : a current below zero, a resistor that is not above zero.
    Source: Ohm's law.
    """
    i = given("cathode current", amps, "A", least=0.0)
    r = given("cathode resistor", ohm, "ohm", above=0.0)
    before = (amps,) if isinstance(amps, Worked) else ()
    return work("V_k", "I_k × R_k", i * r, before=before, I_k=i, R_k=r, rests_on="Ohm's law")


def cathode_resistor(bias_v: Number, plate_a: Number, screen_a: Number = 0.0) -> Worked:
    """Cathode resistor in ohm for a bias: V_k/(I_a + I_g2).

    Raises
    ------
    OutOfRange : a bias or current that is not above zero.
    Source: Ohm's law.
    """
    v_k = given("bias", bias_v, "V", above=0.0, mend="give the bias without its minus")
    i_a = given("plate current", plate_a, "A", above=0.0)
    i_g2 = given("screen current", screen_a, "A", least=0.0)
    return work("R_k", "V_k/(I_a + I_g2)", v_k / (i_a + i_g2), V_k=v_k, I_a=i_a, I_g2=i_g2,
                rests_on="Ohm's law")  # fmt: skip


def splitter_balance(plate_side: Number, cathode_side: Number) -> Worked:
    """Ratio of the two outputs of a phase splitter (AC), or of the drops over its resistors (DC).

    In a split-load stage one current flows in both: drops that differ by more than 5 % mean a
    drifted resistor. A long-tailed pair is built with unlike resistors: up to 10 % is usual.

    Raises
    ------
    OutOfRange : a side that is not above zero.
    Source: bench review, section 5.
    """
    plate = given("plate side", plate_side, "V", above=0.0)
    cathode = given("cathode side", cathode_side, "V", above=0.0)
    ratio = plate / cathode
    off = abs(ratio.value - 1.0)
    return work("ratio", "V_plate/V_cathode", ratio, V_plate=plate, V_cathode=cathode,
                notes=("balanced within 5 %" if off <= 0.05 else "off by more than 5 %",),
                rests_on="one current in both halves")  # fmt: skip


def split_load_gain(mu: Number, rp_ohm: Number, half_ohm: Number) -> Worked:
    """Gain to each output of a split-load stage: mu R/(r_p + (mu + 2) R), below one.

    Raises
    ------
    OutOfRange : anything that is not above zero.
    Source: text books (equivalent circuit), equal loads.
    """
    m = given("mu", mu, "", above=0.0)
    r_p = given("plate resistance of the tube", rp_ohm, "ohm", above=0.0)
    r = given("load of each half", half_ohm, "ohm", above=0.0)
    return work("A", "mu × R/(r_p + (mu + 2) × R)", m * (r / (r_p + (m + 2.0) * r)), mu=m, R=r,
                r_p=r_p, rests_on="equivalent circuit, equal halves")  # fmt: skip


def feedback_fraction(series_ohm: Number, shunt_ohm: Number) -> Worked:
    """Share of the output fed back by a divider: R_shunt/(R_shunt + R_series).

    Raises
    ------
    OutOfRange : a resistor that is not above zero.
    Source: voltage divider.
    """
    r_f = given("feedback resistor", series_ohm, "ohm", above=0.0)
    r_s = given("resistor it ends on", shunt_ohm, "ohm", above=0.0)
    return work("beta", "R_s/(R_s + R_f)", r_s / (r_s + r_f), R_s=r_s, R_f=r_f,
                rests_on="voltage divider")  # fmt: skip


def gain_with_feedback(open_gain: Number | Worked, beta: Number | Worked) -> Worked:
    """Gain with negative feedback: A/(1 + A beta).

    Raises
    ------
    OutOfRange : an open gain that is not above zero, beta outside 0 to 1.
    Source: text books on feedback.
    """
    a = given("gain without feedback", open_gain, "", above=0.0)
    b = given("share fed back", beta, "", least=0.0, most=1.0)
    before = tuple(x for x in (open_gain, beta) if isinstance(x, Worked))
    return work("A_f", "A/(1 + A × beta)", a / (a * b + 1.0), before=before, A=a, beta=b,
                rests_on="negative feedback")  # fmt: skip


def feedback_db(open_gain: Number, closed_gain: Number) -> Worked:
    """Amount of feedback in dB: 20 log10(A/A_f). Below 0 dB the feedback is positive.

    Raises
    ------
    OutOfRange : a gain that is not above zero.
    Source: definition.
    """
    a = given("gain without feedback", open_gain, "", above=0.0)
    a_f = given("gain with feedback", closed_gain, "", above=0.0)
    found = work("N", "20 × log10(A/A_f)", decibels(a / a_f), A=a, A_f=a_f, rests_on="definition")
    if a.value < a_f.value:
        found = found.noting("louder with the loop closed: the feedback is reversed, open it again")
    return found


def feedback_steadies(open_gain: Number | Worked, beta: Number | Worked) -> Worked:
    """Share of a change of the open gain that is left with feedback: 1/(1 + A beta).

    A tube 20 % weak in a loop of 20 dB changes the gain by 2 %: gain alone does not show it there.

    Raises
    ------
    OutOfRange : an open gain that is not above zero, beta outside 0 to 1.
    Source: text books on feedback, the derivative of A/(1 + A beta).
    """
    a = given("gain without feedback", open_gain, "", above=0.0)
    b = given("share fed back", beta, "", least=0.0, most=1.0)
    before = tuple(x for x in (open_gain, beta) if isinstance(x, Worked))
    return work("left", "1/(1 + A × beta)", 1.0 / (a * b + 1.0), before=before, A=a, beta=b,
                rests_on="negative feedback")  # fmt: skip


def sensitivity(power_w: Number, load_ohm: Number, gain: Number | Worked) -> Worked:
    """Input in V RMS for a power into a load: √(P R)/A.

    Raises
    ------
    OutOfRange : anything that is not above zero.
    Source: P = V²/R.
    """
    p = given("output power", power_w, "W", above=0.0)
    r = given("load", load_ohm, "ohm", above=0.0)
    a = given("gain", gain, "", above=0.0)
    before = (gain,) if isinstance(gain, Worked) else ()
    return work("V_in", "√(P × R)/A", maths.sqrt(p * r) / a, before=before, P=p, R=r, A=a,
                rests_on="P = V²/R")  # fmt: skip
