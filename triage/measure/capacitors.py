"""Capacitors: insulation, reforming, discharge, and what a leaking coupling does.

The one leakage limit is ``formulas.leakage_limit``; nothing here keeps another. Arithmetic proves
nothing dead: a meter across the capacitor's own two terminals does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from triage.errors import OutOfRange
from triage.measure.formulas import discharge_time, leakage_limit, stored_joule
from triage.measure.worked import given
from triage.units import format_si

Dielectric = Literal["electrolytic", "paper", "polyester", "polypropylene", "ceramic", "mica"]
FORM_A = 5e-3
"""Most current in A while reforming: 90 kohm at 450 V, as quoted with the leakage formula."""
FORM_SHARES = (0.25, 0.5, 0.75, 0.9, 1.0)
"""Steps of a reforming, shares of the rated volts (common practice, no source)."""
REBOUND: dict[str, float] = {
    "electrolytic": 0.10, "paper": 0.05, "polyester": 0.005, "polypropylene": 0.001,
    "ceramic": 0.025, "mica": 0.02,
}  # fmt: skip
"""Dielectric absorption, share of the volts that may come back; upper ends, from memory."""
COUPLING_OHM = 100e6
"""Least insulation of a coupling into a grid (common practice, no source)."""
LEAST_DISCHARGE_OHM = 1000.0
"""Below it the resistor itself fails open and leaves the charge (common practice, no source)."""
POWERS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 25.0, 50.0, 100.0)


def resistor_watts(worst_w: float, factor: float = 2.0) -> float:
    """Next usual rating in W at or above ``factor`` times the worst watts, 0 to 50 W.

    Raises
    ------
    OutOfRange : watts outside that range, a factor below 1 or above 10.

    Source
    ------
    Double rating: common practice, no source.
    """
    worst = given("watts", worst_w, "W", least=0.0, most=50.0).value
    wanted = worst * given("factor", factor, "", least=1.0, most=10.0).value
    given("watts to buy", wanted, "W", most=POWERS[-1])
    return next(power for power in POWERS if power >= wanted * (1.0 - 1e-9))


def insulation_limit(farad: float, kind: Dielectric, coupling: bool = False) -> float:
    """Least insulation in ohm of a film, paper, ceramic or mica capacitor at room temperature.

    As a part is bought: 1500 Mohm uF or 15 Gohm, the lower (paper, MIL-C-25, from memory; better
    dielectrics are above it). As a coupling in service (``coupling``): 100 Mohm, below which it is
    refused (common practice, no source). Valid for 10 pF to 100 uF.

    Raises
    ------
    OutOfRange : electrolytics (judged by ``leakage_limit``), or a value outside the range.
    """
    if kind == "electrolytic":
        raise OutOfRange("kind of capacitor", "electrolytic", "film, paper, ceramic or mica",
                         "an electrolytic is judged by its leakage limit")  # fmt: skip
    if kind not in REBOUND:
        raise OutOfRange("kind of capacitor", f"'{kind}'", ", ".join(REBOUND))
    c = given("capacitor", farad, "F", least=1e-11, most=1e-4).value
    return COUPLING_OHM if coupling else min(1.5e9 * 1e-6 / c, 15e9)


@dataclass(frozen=True)
class FormStep:
    """One step of reforming: V applied, least seconds there, current in A at which to go on."""

    volts: float
    least_s: float
    go_on_a: float


@dataclass(frozen=True)
class ReformPlan:
    """How an electrolytic is reformed off the amplifier's own supply.

    ``power`` is the state it counts as: an outside source, energised. ``short_a`` flows and
    ``short_w`` burns in the resistor if the capacitor is shorted at full volts.
    """

    rated_v: float
    resistor_ohm: float
    short_a: float
    short_w: float
    resistor_w: float
    limit_a: float
    stages: tuple[FormStep, ...]
    give_up: tuple[str, ...]
    joule: float
    power: Literal["external"]
    cautions: tuple[str, ...]

    @property
    def steps(self) -> tuple[str, ...]:
        """The plan in lines with numbers."""
        v, r = self.rated_v, format_si(self.resistor_ohm, "ohm")
        lines = [
            f"R = V/I = {v:g} V / {format_si(self.short_a, 'A')} = {r}",
            f"a short burns V²/R = {format_si(self.short_w, 'W')}: buy {self.resistor_w:g} W, "
            "rated for the volts",
            f"leakage limit K × C + 0.3 mA = {format_si(self.limit_a, 'A')}",
        ]
        lines += [
            f"{s.volts:.0f} V for at least {s.least_s / 60:.0f} min, on when "
            f"{format_si(s.go_on_a, 'A')} or less flows" for s in self.stages
        ]  # fmt: skip
        return (*lines, *(f"give up: {line}" for line in self.give_up))


def reform_plan(farad: float, rated_v: float, most_a: float = FORM_A) -> ReformPlan:
    """Reforming of an electrolytic through a resistor R = V/I_max, in five steps of volts.

    Current stays below ``most_a`` whatever the capacitor does. Each step holds until the current is
    below the larger of the leakage limit's share and a tenth of ``most_a``, at the last step the
    limit itself. Valid for 1 to 1000 uF, 10 to 500 V, 0.1 to 5 mA; above 500 V hand over.

    Raises
    ------
    OutOfRange : a value outside its range.

    Source
    ------
    90 kohm and 5 mA at 450 V: quoted with the leakage formula on a mailing list. Maker's note:
    100 kohm above 75 V, then hours at full volts. Times: common practice, no source.
    """
    c = given("capacitor", farad, "F", least=1e-6, most=1e-3).value
    v = given("rated volts", rated_v, "V", least=10.0, most=500.0).value
    amps = given("current limit", most_a, "A", least=1e-4, most=FORM_A).value
    ohm = v / amps
    limit = leakage_limit(c, v)
    charge_s = 5.0 * ohm * c
    stages = tuple(
        FormStep(
            share * v,
            max(1800.0 if share < 1.0 else 3600.0, charge_s),
            min(limit * (share if share < 1.0 else 1.0), 0.5 * amps),
        )
        for share in FORM_SHARES
    )
    give_up = (
        "current that does not fall over 30 min at one step, or rises",
        f"above {format_si(stages[-1].go_on_a, 'A')} after 4 h at full volts",
        "warm to the touch when off and discharged, a bulge, a hiss, wet or a smell: at once",
        "less than 80 % of its capacitance afterwards",
    )
    cautions = (
        "an outside source counts as energised: gates of the state 'external' stand before it",
        "the supply's return goes to the capacitor's own minus, which may not be the chassis",
        "goggles, a cover over the can, out of reach; discharge and meter between steps",
    )
    short_w = v * v / ohm
    return ReformPlan(v, ohm, amps, short_w, resistor_watts(short_w), limit, stages, give_up,
                      stored_joule(v, c), "external", cautions)  # fmt: skip


@dataclass(frozen=True)
class DischargePlan:
    """Discharge of one capacitor: resistor, its peaks, times in s, and the volts that come back."""

    volts: float
    ohm: float
    peak_w: float
    peak_a: float
    joule: float
    to_50_s: float
    to_10_s: float
    rebound_v: float
    element_v: float
    hold_s: float
    cautions: tuple[str, ...]

    @property
    def steps(self) -> tuple[str, ...]:
        """The reckoning in lines with numbers."""
        v, r = format_si(self.volts, "V", 4), format_si(self.ohm, "ohm")
        return (
            f"first current V/R = {v}/{r} = {format_si(self.peak_a, 'A')}, "
            f"first watts V²/R = {format_si(self.peak_w, 'W')}",
            f"energy C × V²/2 = {format_si(self.joule, 'J')}",
            f"R × C × ln(V/50 V) = {self.to_50_s:.2g} s, to 10 V {self.to_10_s:.2g} s",
            f"leave it on {self.hold_s:.0f} s at least; up to {self.rebound_v:.0f} V may come back",
            f"resistor element rated {self.element_v:.0f} V or more; then meter the two terminals",
        )


def discharge_plan(
    farad: float, volts: float, ohm: float = 10e3, kind: Dielectric = "electrolytic"
) -> DischargePlan:
    """Discharge of one capacitor through a resistor: V(t) = V exp(-t/(R C)).

    Resistor 1 kohm to 1 Mohm: one ohm a volt, as in test norms for small parts, is refused, for an
    ordinary resistor opens and leaves the charge. Held 10 R C, and 30 s at least. Element rated
    1.5 times the volts. Valid for 1 nF to 10 mF and 1 to 2000 V.

    Raises
    ------
    OutOfRange : a value outside its range.

    Source
    ------
    Exponential discharge. 10 kohm, 1.5 times: common practice, no source. Rebound: from memory.
    """
    c = given("capacitor", farad, "F", least=1e-9, most=1e-2).value
    v = given("volts", volts, "V", least=1.0, most=2000.0).value
    r = given("discharge resistor", ohm, "ohm", least=LEAST_DISCHARGE_OHM, most=1e6,
              mend="10 kohm, 5 to 10 W, wirewound, insulated").value  # fmt: skip
    if kind not in REBOUND:
        raise OutOfRange("kind of capacitor", f"'{kind}'", ", ".join(REBOUND))
    cautions = (
        "across the capacitor's own two terminals, each half of a stack by itself",
        "a reading below 10 V on the same two points proves it; the arithmetic does not",
        "volts come back: leave the clip on, meter again after each pause",
        "the clip comes off before power: say so each time",
    )
    return DischargePlan(
        v, r, v * v / r, v / r, stored_joule(v, c), discharge_time(v, 50.0, r, c),
        discharge_time(v, 10.0, r, c), REBOUND[kind] * v, 1.5 * v, max(10.0 * r * c, 30.0),
        cautions,
    )  # fmt: skip


@dataclass(frozen=True)
class CouplingLeak:
    """What a leaking coupling does: volts on the next grid, current in A, and against its limit."""

    shift_v: float
    leak_a: float
    share_of_limit: float
    steps: tuple[str, ...]


def coupling_leak(
    plate_v: float, return_ohm: float, insulation_ohm: float, farad: float = 22e-9
) -> CouplingLeak:
    """Shift of a grid by a coupling's insulation: V R/(R + R_leak); no grid current counted.

    ``share_of_limit`` is the least insulation wanted over what is there: above 1 it is beyond it.
    Valid for 0 to 2000 V, 1 kohm to 100 Mohm, insulation 1 kohm to 100 Tohm.

    Raises
    ------
    OutOfRange : a value outside its range.

    Source
    ------
    Voltage divider: 200 V, 470 kohm, 47 Mohm give +1.98 V.
    """
    v = given("plate volts", plate_v, "V", least=0.0, most=2000.0).value
    r = given("grid return", return_ohm, "ohm", least=1e3, most=1e8).value
    leak = given("insulation", insulation_ohm, "ohm", least=1e3, most=1e14).value
    shift, amps = v * r / (r + leak), v / (r + leak)
    wanted = insulation_limit(farad, "paper", coupling=True)
    steps = (
        f"shift = V × R/(R + R_leak) = {v:g} V × {format_si(r, 'ohm')}/"
        f"({format_si(r, 'ohm')} + {format_si(leak, 'ohm')}) = {format_si(shift, 'V')}",
        f"insulation {format_si(leak, 'ohm')}, at least {format_si(wanted, 'ohm')} wanted",
    )
    return CouplingLeak(shift, amps, wanted / leak, steps)


def drawn_down(volts: float, ohm: float, farad: float, seconds: float) -> float:
    """Volts left after ``seconds`` of discharge: V exp(-t/(R C)); for plots and second readings.

    Raises
    ------
    OutOfRange : a resistor or capacitor that is not above zero, time below zero.

    Source
    ------
    Exponential discharge: 36.8 % after one time constant.
    """
    v = given("volts", volts, "V").value
    r = given("resistor", ohm, "ohm", above=0.0).value
    c = given("capacitor", farad, "F", above=0.0).value
    return v * math.exp(-given("time", seconds, "s", least=0.0).value / r / c)
