"""Currents of a tube, its dissipation against the rating, and how tubes match.

All inputs and results are SI; a float stands for an exact value. Each function refuses what it is
not valid for with OutOfRange, which names the quantity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from triage.errors import OutOfRange
from triage.measure.quantity import Quantity
from triage.measure.worked import MEMORY, Number, Step, Worked, given, work

SCREEN_SHARE = Quantity(0.07, 0.03, "", name="screen share")
"""Screen current as a share of cathode current at idle, where it is not known (common practice)."""
MATCHED = 0.05
"""Idle currents of a matched pair lie within this share of their mean (common practice)."""
NEW_SPREAD = 0.30
"""New tubes of one type spread about so far either way of the sheet (a thread on data sheets)."""

Bias = Literal["fixed", "cathode"]
Stage = Literal["single_ended", "push_pull_ab", "push_pull_b"]


@dataclass(frozen=True)
class Currents:
    """Cathode, plate and screen current in A; ``screen_known`` tells reading from estimate."""

    cathode: Quantity
    plate: Quantity
    screen: Quantity
    screen_known: bool
    steps: tuple[Step, ...] = ()


def sense_current(
    volts: Quantity, ohm: Number, screen: Quantity | None = None, screen_grid: bool = True
) -> Currents:
    """Currents of a tube whose cathode current makes ``volts`` (V) across ``ohm``: I_k = V_s/R_s.

    The screen's part is told apart: as given (A), else estimated by ``SCREEN_SHARE``, zero in a
    triode. Plate and screen current add up to the cathode current, their uncertainty with them.

    Raises
    ------
    OutOfRange : a resistor that is not above zero, or more screen than cathode current.
    Source: Ohm's law; the share is common practice, no source.
    """
    cathode = _ohms_law("I_k", volts, ohm, "V_s", "R_s")
    i_k = cathode.quantity
    if not screen_grid:
        return Currents(i_k, i_k, Quantity(0.0, 0.0, "A"), True, cathode.steps)
    known = screen is not None
    if screen is not None:
        i_g2 = given("screen current", screen, "A")
        if not i_k.one_sided and abs(i_g2.value) > abs(i_k.value):
            raise OutOfRange("screen current", str(i_g2), f"at most the cathode's {i_k}")
        told = Worked(i_g2, (Step("I_g2", "", "", f"{i_g2} as read"),))
    else:
        i_g2 = i_k * SCREEN_SHARE
        told = work("I_g2", "s × I_k", i_g2, I_k=i_k, s=SCREEN_SHARE)
    plate = work(
        "I_a", "I_k - I_g2", i_k * (1.0 - SCREEN_SHARE) if not known else i_k - i_g2,
        before=(cathode, told), I_k=i_k, I_g2=i_g2,
    )  # fmt: skip
    return Currents(i_k, plate.quantity, i_g2, known, plate.steps)


def _ohms_law(symbol: str, volts: Number | Worked, ohm: Number, v: str, r: str) -> Worked:
    across = given("volts across the resistor", volts, "V")
    resistor = given("resistor", ohm, "ohm", above=0.0)
    return work(symbol, f"{v}/{r}", across / resistor, rests_on="Ohm's law",
                entered={v: across, r: resistor})  # fmt: skip


def cathode_bias_current(volts: Number, ohm: Number, tubes: int = 1) -> Worked:
    """Cathode current in A of each of ``tubes`` which share a cathode resistor: V_k/(n R_k).

    Raises
    ------
    OutOfRange : fewer than one tube, or a resistor that is not above zero.
    Source: Ohm's law.
    """
    if tubes < 1:
        raise OutOfRange("number of tubes on the resistor", tubes, "one or more")
    whole = _ohms_law("I", volts, ohm, "V_k", "R_k")
    if tubes == 1:
        return whole
    n = Quantity(float(tubes), 0.0, "")
    return work("I_k", "I/n", whole.quantity / n, before=(whole,), I=whole.quantity, n=n,
                rests_on="Ohm's law, even shares")  # fmt: skip


def dissipation(
    volts: Number, current: Number | Worked, cathode_v: Number = 0.0, electrode: str = "a"
) -> Worked:
    """Power in W of a plate or screen: (V_a - V_k) I_a, with volts of both to one point.

    ``electrode`` is the letter of its symbol: ``a`` for the plate, ``g2`` for the screen.

    Raises
    ------
    OutOfRange : wrong units, or no numbers.
    Source: P = V I.
    """
    v = given("volts of the electrode", volts, "V")
    v_k = given("cathode volts", cathode_v, "V")
    i = given("current into the electrode", current, "A")
    before = (current,) if isinstance(current, Worked) else ()
    names = {f"V_{electrode}": v, f"I_{electrode}": i}
    if v_k.value == 0.0 and v_k.total_u == 0.0:
        return work(f"P_{electrode}", f"V_{electrode} × I_{electrode}", v * i, before=before,
                    rests_on="P = V I", entered=names)  # fmt: skip
    return work(f"P_{electrode}", f"(V_{electrode} - V_k) × I_{electrode}", (v - v_k) * i,
                before=before, rests_on="P = V I", entered=names, V_k=v_k)  # fmt: skip


def share_of_rating(power: Number | Worked, rated_w: Number, from_memory: bool = False) -> Worked:
    """Share of the rated dissipation, a plain number (1.0 = at the rating).

    ``from_memory`` marks a rating nobody has read in its sheet; the result then says so.

    Raises
    ------
    OutOfRange : a rating that is not above zero.
    Source: P/P_max.
    """
    p = given("dissipation", power, "W")
    rated = given("rated dissipation", rated_w, "W", above=0.0)
    before = (power,) if isinstance(power, Worked) else ()
    notes = (MEMORY,) if from_memory else ()
    return work("share", "P/P_max", p / rated, before=before, notes=notes, P=p, P_max=rated,
                rests_on="the tube's rated dissipation")  # fmt: skip


@dataclass(frozen=True)
class IdleBand:
    """Usual idle dissipation as a share of the rating, ``low`` to ``high``, and why."""

    low: float
    high: float
    rests_on: str


def idle_band(stage: Stage, bias: Bias) -> IdleBand:
    """Band of usual idle dissipation by class of operation and kind of bias.

    The tops on fixed bias (85 % single-ended, 70 % push-pull AB) were read in a page on biasing;
    the rest is common practice, no source: on cathode bias up to the rating, by design.

    Raises
    ------
    OutOfRange : another class or bias.
    """
    bands = {
        ("single_ended", "fixed"): (0.70, 0.85), ("single_ended", "cathode"): (0.80, 1.0),
        ("push_pull_ab", "fixed"): (0.50, 0.70), ("push_pull_ab", "cathode"): (0.75, 1.0),
        ("push_pull_b", "fixed"): (0.10, 0.40),
    }  # fmt: skip
    found = bands.get((stage, bias))
    if found is None:
        known = ", ".join(f"{a} on {b} bias" for a, b in bands)
        raise OutOfRange("class of operation", f"{stage} on {bias} bias", known)
    words = f"{stage.replace('_', ' ')}, {bias} bias: common practice, no source"
    return IdleBand(*found, rests_on=words)


def mismatch(currents: Sequence[Quantity]) -> Worked:
    """Largest difference of idle currents as a share of their mean: (I_max - I_min)/I_mean.

    Matched sets lie within 5 %, an old pair within 10 to 20 % (common practice, no source). Valid
    for two or more tubes, with a mean current above zero.

    Raises
    ------
    OutOfRange : fewer than two, or no current in any of them.
    """
    if len(currents) < 2:
        raise OutOfRange("number of tubes to match", len(currents), "two or more")
    read = [given("idle current", current, "A") for current in currents]
    mean = _mean(read)
    if mean.value <= 0.0:
        raise OutOfRange("mean idle current", str(mean), "above zero",
                         "a pair that draws nothing has no match to judge")  # fmt: skip
    top, bottom = max(read, key=lambda q: q.value), min(read, key=lambda q: q.value)
    note = "matched" if (top.value - bottom.value) / mean.value <= MATCHED else "not matched"
    return work("mismatch", "(I_max - I_min)/I_mean", (top - bottom) / mean, I_max=top,
                I_min=bottom, I_mean=mean, rests_on="within 5 %: common practice, no source",
                notes=(f"{note} within {MATCHED:.0%}",))  # fmt: skip


def _mean(read: Sequence[Quantity]) -> Quantity:
    total = read[0]
    for current in read[1:]:
        total = total + current
    return total / float(len(read))


def balance(first: Number, second: Number) -> Worked:
    """Unbalanced DC in an output transformer, in A: I_1 - I_2, with its share of the mean.

    Raises
    ------
    OutOfRange : wrong units.
    Source: definition.
    """
    a, b = given("first current", first, "A"), given("second current", second, "A")
    found = work("dI", "I_1 - I_2", a - b, I_1=a, I_2=b, rests_on="definition")
    mean = (abs(a.value) + abs(b.value)) / 2
    if mean > 0.0:
        share = abs(a.value - b.value) / mean
        found = found.noting(f"{share:.1%} of the mean of the two")
    return found


def current_change(gm_siemens: Number, shift: Quantity) -> Worked:
    """Change of plate current in A by a grid ``shift`` in V: gm dV, for shifts small beside bias.

    Raises
    ------
    OutOfRange : a transconductance (S) below zero.
    Source: definition of gm.
    """
    gm = given("transconductance", gm_siemens, "S", least=0.0)
    dv = given("grid shift", shift, "V")
    return work("dI_a", "gm × dV_g", gm * dv, gm=gm, dV_g=dv, rests_on="definition of gm")


def emission_share(read: Number, expected: Number) -> Worked:
    """Current as a share of what the type gives at the same volts: I/I_exp.

    A new tube may read 70 to 130 % of its sheet; below 70 % it is worn, below 50 % spent (common
    practice, no source).

    Raises
    ------
    OutOfRange : an expected current that is not above zero, a current below zero.
    """
    i = given("current read", read, "A", least=0.0)
    i_exp = given("current expected", expected, "A", above=0.0)
    share = i / i_exp
    away = abs(share.value - 1.0)
    words = ("within the spread of new tubes" if away <= NEW_SPREAD else
             "worn" if 0.5 <= share.value < 1.0 else "spent" if share.value < 0.5 else
             "above the spread of new tubes: look for lost bias before trusting it")  # fmt: skip
    return work("share", "I/I_exp", share, I=i, I_exp=i_exp, notes=(words,),
                rests_on="30 % spread of new tubes; wear limits common practice")  # fmt: skip


def transconductance(di: Number, dv: Number) -> Worked:
    """Transconductance in S out of two readings: gm = dI_a/dV_g.

    Raises
    ------
    OutOfRange : no change of grid volts.
    Source: definition of gm.
    """
    change = given("change of plate current", di, "A")
    swing = given("change of grid volts", dv, "V")
    if swing.value == 0.0:
        raise OutOfRange("change of grid volts", 0.0, "other than zero")
    return work("gm", "dI_a/dV_g", change / swing, dI_a=change, dV_g=swing,
                rests_on="definition of gm")  # fmt: skip
