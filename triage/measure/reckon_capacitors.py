"""Checks of capacitors: leakage, insulation, reforming, discharge."""

from __future__ import annotations

import math
from typing import Any

from triage.measure.asked import Check, Given
from triage.measure.capacitors import REBOUND, discharge_plan
from triage.measure.checks import Outcome, Param, plain, si
from triage.measure.formulas import leakage_limit
from triage.measure.plots import Axis, Gauge, Graph, Mark, line
from triage.measure.quantity import Quantity

CAPACITOR = Param("capacitor", "F", "capacitor, as marked")
MOST_W = 50.0
"""First watts above which a discharge resistor of 10 W may burn open (common practice)."""
DANGER_J = 0.25
"""Energy from which on a charge is dangerous at 400 V (workplace rules, from memory)."""
NEVER = "a meter proves it dead, at the capacitor's own two terminals; read again after 10 minutes"


def _leakage(given: Given) -> Outcome:
    farad, rated = given.value("capacitor"), given.value("rated")
    limit = leakage_limit(farad, rated)
    factor = (limit * 1e3 - 0.3) / (farad * 1e6)
    steps = (f"I = K × C + 0.3 mA = {factor:.3g} × {farad * 1e6:.4g} + 0.3 = {limit * 1e3:.3g} mA",)
    rests = "K C + 0.3 mA (JAN-C-62), after forming at the working volts"
    if not given.has("current"):
        words = f"A used one may leak {si(limit, 'A')} at most."
        return Outcome(plain(limit, "A"), words, rests, steps,
                       picture=_leak_gauge(plain(limit, "A"), limit))  # fmt: skip
    read = given.q("current")
    context: dict[str, str | float | Quantity] = {"marked": plain(farad, "F"), "rated_v": rated}
    verdict = given.judged("cap_leakage", read, context)
    return Outcome(
        read, f"{given.said('cap_leakage', verdict)} At most {si(limit, 'A')} is allowed.", rests,
        steps, (("limit", plain(limit, "A")),),
        ("still falling: form on; rising: stop, it heats itself",), picture=_leak_gauge(read, limit),
    )  # fmt: skip


def _leak_gauge(read: Quantity, limit: float) -> Gauge:
    return Gauge("Leakage", "A", read.value, read.total_u, (limit / 2, limit),
                 ("small", "within the limit", "too large"))  # fmt: skip


def _discharge(given: Given) -> Outcome:
    volts, ohm, farad = given.value("volts"), given.value("resistor"), given.value("capacitor")
    kind: Any = given.word("kind")
    found = discharge_plan(farad, abs(volts), ohm, kind)
    tau = ohm * farad
    end = 1.4 * max(found.to_10_s, tau)
    t = [end * i / 150 for i in range(151)]
    graph = Graph(
        f"Discharge of {si(farad, 'F')} from {si(volts, 'V')} through {si(ohm, 'ohm')}",
        Axis("time", "s"), Axis("volts left", "V", 0.0),
        (line("volts left", t, [abs(volts) * math.exp(-x / tau) for x in t]),
         line("10 V", [0.0, end], [10.0, 10.0])),
        (Mark(found.to_10_s, 10.0, f"10 V after {si(found.to_10_s, 's')}"),)
        if found.to_10_s > 0 else (),
    )  # fmt: skip
    steps = (
        f"t = R × C × ln(V/10 V) = {si(ohm, 'ohm')} × {si(farad, 'F')} × "
        f"ln({si(volts, 'V')}/10 V) = {si(found.to_10_s, 's')}",
        f"P = V²/R = {si(volts, 'V')}²/{si(ohm, 'ohm')} = {si(found.peak_w, 'W')}",
        f"E = C × V²/2 = {si(found.joule, 'J')}",
    )
    marks = [NEVER]
    if found.peak_w > MOST_W:
        marks.insert(0, "too small a resistor: it would burn open and leave the charge; take 10k, "
                        "5 to 10 W, insulated, rated for the volts")  # fmt: skip
    if found.joule > DANGER_J and abs(volts) > 60:
        marks.append("this charge is dangerous to touch")
    return Outcome(
        plain(found.to_10_s, "s"),
        f"Below 50 V after {si(found.to_50_s, 's')}, below 10 V after {si(found.to_10_s, 's')}.",
        f"exponential discharge; what comes back ({REBOUND[kind]:.0%}): from memory", steps,
        (
            ("peak power", plain(found.peak_w, "W")), ("peak current", plain(found.peak_a, "A")),
            ("energy", plain(found.joule, "J")), ("hold it on, at least", plain(found.hold_s, "s")),
            ("may come back, up to", plain(found.rebound_v, "V")),
            ("resistor rated, at least", plain(found.element_v, "V")),
        ),
        tuple(marks), picture=graph,
    )  # fmt: skip


CAPACITORS: tuple[Check, ...] = (
    Check(
        "leakage", "leakage of an electrolytic against the one limit",
        (
            CAPACITOR,
            Param("rated", "V", "rated volts"),
            Param("current", "A", "leakage as read", "", reading="dc_ma"),
        ),
        _leakage, "capacitor='20 uF' rated='450 V' current='0.8 mA'", draws=True,
    ),
    Check(
        "discharge", "time to discharge a capacitor, and what the resistor bears",
        (
            CAPACITOR,
            Param("volts", "V", "volts at switch-off"),
            Param("resistor", "ohm", "discharge resistor", "10k"),
            Param("kind", "", "what it is made of: much or little comes back", "electrolytic",
                  "word", tuple(REBOUND)),
        ),
        _discharge, "capacitor='40 uF' volts='509 V' resistor=10k", draws=True,
    ),
)  # fmt: skip
