"""Checks of line, hum and what reaches the chassis; markings of parts; tubes in place of others."""

from __future__ import annotations

import math

from triage.errors import BadReading, OutOfRange
from triage.measure import line as n
from triage.measure import markings as m
from triage.measure import ripple as r
from triage.measure import safety_checks as safe
from triage.measure.asked import Check, Given
from triage.measure.checks import Outcome, Param, against, plain, si, worked_outcome
from triage.measure.plots import Axis, Gauge, Graph, Mark, line
from triage.measure.quantity import Quantity
from triage.measure.substitutes import Circumstances, substitute
from triage.measure.worked import given as limits

KINDS = ("full_wave", "half_wave", "bridge", "doubler")
RECTIFYING = Param("rectifying", "", "half_wave, full_wave, bridge or doubler", "full_wave",
                   "word", KINDS)  # fmt: skip
HERTZ = Param("hertz", "Hz", "frequency of the line: 50 or 60", "60 Hz")


def _line(given: Given) -> Outcome:
    now, nominal = given.q("line"), given.q("nominal")
    k = n.line_factor(now, nominal)
    factor = n.dissipation_factor(k)
    verdict = given.judged("line_volts", now, {"line_nominal_v": nominal})
    also = [("dissipation times", factor)]
    says = given.said("line_volts", verdict)
    marks = ["regulated points do not follow; on a lamp limiter only ratios mean anything"]
    expected = given.maybe("expected")
    if expected is not None:
        today = n.line_corrected(expected, now, nominal)
        also.insert(0, ("expected today", today))
        says += f" {si(expected.value, 'V')} of the chart is {si(today.value, 'V')} today."
    edges = tuple(share * nominal.value for share in (0.94, 1.06))
    gauge = Gauge("Line", "V", now.value, now.total_u, edges, ("low", "right", "high"))
    return worked_outcome(k, says, also, rests_on="limits of the finding 'line volts'",
                          marks=marks, picture=gauge)  # fmt: skip


def _ripple(given: Given) -> Outcome:
    rate = r.ripple_hertz(given.value("hertz"), given.word("rectifying"))
    peak = r.ripple_vpp(given.q("current"), given.q("capacitor"), rate)
    rms = r.sawtooth_rms(peak)
    picture = _ripple_picture(peak.value, rate)
    says = f"About {si(peak.value, 'V')} peak to peak, {si(rms.value, 'V')} RMS at {rate:g} Hz."
    if not given.has("reading"):
        return worked_outcome(peak, says, [("RMS, as a true-RMS meter shows it", rms)],
                              picture=picture)  # fmt: skip
    read = given.q("reading")
    verdict = given.judged("ripple", read, {"expected": rms.quantity, "line_v": 1.0,
                                            "line_nominal_v": 1.0})  # fmt: skip
    left = r.capacitor_from_ripple(given.q("current"), read * (2 * math.sqrt(3.0)), rate)
    says += f" As read: {given.said('ripple', verdict)}"
    marks = ("read on AC through a blocking capacitor, clipped on while dead; an average meter "
             "shows a sawtooth 4 % low",)  # fmt: skip
    return worked_outcome(
        peak, says, [("RMS expected", rms), ("capacitance it speaks of", left)], marks=marks,
        picture=picture,
    )  # fmt: skip


def _ripple_picture(peak: float, rate: float) -> Graph:
    """Sawtooth of three periods: quick charge, straight fall."""
    x: list[float] = []
    y: list[float] = []
    for period in range(3):
        for at, level in ((0.0, -0.5), (0.12, 0.5), (1.0, -0.5)):
            x.append((period + at) / rate)
            y.append(level * peak)
    return Graph(f"Ripple at {rate:g} Hz, linear discharge", Axis("time", "s"),
                 Axis("ripple", "V"), (line("ripple", x, y),))  # fmt: skip


def _hum_rate(given: Given) -> Outcome:
    found = r.rate_says(given.q("rate"), given.value("hertz"), given.word("rectifying"))
    words = {
        "as_built": "As built", "half_missing": "Half of the rectifier missing, or no ripple",
        "not_the_supply": "Not the supply", "unclear": "Unclear",
    }  # fmt: skip
    rate = given.q("rate")
    ratio = Quantity(rate.value / given.value("hertz"), 0.0, "")
    steps = (f"n = f/f_line = {si(rate.value, 'Hz')}/{si(given.value('hertz'), 'Hz')} = "
             f"{ratio.value:.3g}",)  # fmt: skip
    return Outcome(ratio, f"{words[found.says]}: {found.because}.",
                   "rate against the kind of rectifying", steps)  # fmt: skip


def _filter(given: Given) -> Outcome:
    rate = r.ripple_hertz(given.value("hertz"), given.word("rectifying"))
    if given.has("choke") == given.has("resistor"):
        raise BadReading("filter", "give either the choke or the resistor.",
                         "choke='10 H' or resistor=1k")  # fmt: skip
    if given.has("choke"):
        left = r.lc_attenuation(given.q("choke"), given.q("capacitor"), rate)
    else:
        left = r.rc_attenuation(given.q("resistor"), given.q("capacitor"), rate)
    times = 1.0 / left.value
    return worked_outcome(
        left, f"Ripple at {rate:g} Hz is cut {times:.3g} times "
        f"({20 * math.log10(left.value):.1f} dB).", [("cut", plain(times))],
    )  # fmt: skip


def _reactance(given: Given) -> Outcome:
    if given.has("capacitor") == given.has("choke"):
        raise BadReading("reactance", "give either the capacitor or the choke.",
                         "capacitor='25 uF' or choke='10 H'")  # fmt: skip
    if given.has("capacitor"):
        found = r.capacitor_reactance(given.q("capacitor"), given.q("frequency"))
    else:
        found = r.inductor_reactance(given.q("choke"), given.q("frequency"))
    return worked_outcome(found, f"{si(found.value, 'ohm')} at {si(given.value('frequency'), 'Hz')}"
                          ".")  # fmt: skip


def _regulation(given: Given) -> Outcome:
    found = r.regulation(given.q("unloaded"), given.q("loaded"))
    also = []
    current = given.maybe("current")
    if current is not None:
        also.append(("inside the supply", r.source_ohm(given.q("unloaded"), given.q("loaded"),
                                                       current)))  # fmt: skip
    return worked_outcome(found, f"B+ falls by {found.value:.3g} % of its loaded volts.", also)


def _touch(given: Given) -> Outcome:
    network = given.word("network")
    current = safe.touch_current(given.q("volts"), given.value("hertz"), network)  # type: ignore[arg-type]  # one of its choices
    verdict = safe.judge_touch(current, given.word("class"))  # type: ignore[arg-type]  # one of its choices
    limit = safe.TOUCH_LIMIT_A[given.word("class")]
    gauge = Gauge("Touch current", "A", current.value, current.u, (limit / 2, limit),
                  ("below half the limit", "near the limit", "above"))  # fmt: skip
    says = verdict.says.split(" (limit")[0]
    return worked_outcome(
        current, f"{says[:1].upper()}{says[1:]}.",
        marks=(
            "limit from memory: it informs, and opens no gate; local codes come first",
            "network clipped on with the plug out, hands off while it is live; an earthed set reads "
            "near zero whatever is wrong; never lift the earth",
        ),
        picture=gauge,
    )  # fmt: skip


def _line_capacitor(given: Given) -> Outcome:
    found = safe.line_capacitor_current(given.q("capacitor"), given.q("line"), given.value("hertz"))
    limit = safe.TOUCH_LIMIT_A["double_square"]
    share = found.value / limit
    words = (
        "more than a chassis may pass: replace it by a smaller one of safety class Y, or remove it"
        if share > 1 else "below the smaller of the two limits"
    )  # fmt: skip
    gauge = Gauge(
        "Current from the mains to the chassis", "A", found.value, found.u,
        (limit, safe.TOUCH_LIMIT_A["earthed"]),
        ("below both", "over 0.25 mA", "over both"),
    )  # fmt: skip
    return worked_outcome(
        found, f"{si(found.value, 'A')}, {words}.",
        rests_on="limits 0.25 mA (double square) and 0.75 mA (earthed), from memory",
        marks=("only a capacitor of class Y may lie here; one of class X never",), picture=gauge,
    )  # fmt: skip


def _bleeder(given: Given) -> Outcome:
    found = safe.bleeder(given.q("volts"), given.q("resistor"), given.q("capacitor"))
    volts, tau = given.value("volts"), found.time_constant.value
    end = 1.6 * found.to_60_v.value
    t = [end * i / 120 for i in range(121)]
    graph = Graph(
        f"Bleeder {si(given.value('resistor'), 'ohm')}", Axis("time", "s"),
        Axis("volts left", "V", 0.0),
        (line("volts left", t, [volts * math.exp(-x / tau) for x in t]),
         line("60 V", [0.0, end], [60.0, 60.0])),
        (Mark(found.to_60_v.value, 60.0, f"60 V after {si(found.to_60_v.value, 's')}"),),
    )  # fmt: skip
    return worked_outcome(
        found.to_60_v,
        f"Below 60 V after {si(found.to_60_v.value, 's')}; it runs at "
        f"{si(found.watts.value, 'W')}, take one of {si(found.rated_w, 'W')} or more.",
        [("current", found.current), ("power", found.watts)],
        picture=graph,
    )  # fmt: skip


def _markings(given: Given) -> Outcome:
    text, part = given.text("mark"), given.word("part")
    bands = [word for word in text.replace(",", " ").split() if word]
    if len(bands) >= 3:
        found = m.resistor_bands([band.lower() for band in bands])
    elif part == "capacitor":
        found = m.capacitor_code(text)
    else:
        found = m.resistor_code(text)
    value = Quantity(found.value, (found.high - found.low) / 2 / math.sqrt(3.0), found.unit)
    says = f"{found}."
    steps = (f"{text} = {si(found.value, found.unit)}",)
    also = []
    if found.high > found.low:
        also = [("lowest", plain(found.low, found.unit)), ("highest", plain(found.high,
                                                                            found.unit))]  # fmt: skip
    read = given.q("read_ohm") if given.has("read_ohm") else given.maybe("read_farad")
    if read is not None:
        says += " " + _against_marking(read, found)
    return Outcome(value, says, "IEC 60062 and EIA codes, from memory", steps, tuple(also),
                   ("old parts and makers' own codes differ: measure",))  # fmt: skip


def _against_marking(read: Quantity, found: m.Marked) -> str:
    if read.unit != found.unit:
        raise OutOfRange("the value as read", str(read), f"a value in {found.unit}")
    if read.value >= found.value:
        return against(read, max(found.high, found.value * 1.2), "as read within its limits (or 20 %)",
                       "as read it has drifted up beyond 20 %")  # fmt: skip
    return against(read, min(found.low, found.value * 0.8), "as read below its limits: in circuit "
                   "another path may lie across", "as read within its limits (or 20 %)")  # fmt: skip


def _substitute(given: Given) -> Outcome:
    old, new = given.tube("old"), given.tube("new")
    numbers = {
        name: limits(name, given.q(name), given.check.param(name).unit, above=0.0).value
        for name in (
            "plate_v", "screen_v", "grid_return_ohm", "supply_vrms", "dc_a", "first_cap_f",
            "capacitor_v", "winding_spare_a",
        ) if given.has(name)
    }  # fmt: skip
    bias = given.word("bias")
    at = Circumstances(bias=bias or "unknown", **numbers)  # type: ignore[arg-type]  # names checked
    found = substitute(old, new, at)
    words = {"safe": "May go in as it is", "with_changes": "Only with changes, or after looking up",
             "unsafe": "Must not go in"}  # fmt: skip
    levels = {"bad": "never: ", "change": "first: ", "differs": "note: ", "good": "good: "}
    lines = [f"{levels[reason.level]}{reason.says}" for reason in found.reasons]
    memory = any(source in given.shelf.from_memory for source in found.sources())
    mark = "some limits are from memory: the sheet of the very tube decides" if memory else ""
    return Outcome(
        None, f"{words[found.verdict]}: {found.new} in place of {found.old}.",
        "data of both types, pin by pin", (), (), tuple(x for x in (mark,) if x),
        tuple(lines),
    )  # fmt: skip


MAINS: tuple[Check, ...] = (
    Check(
        "line", "what the line as it is does to every expected volt",
        (
            Param("line", "V", "line as read", reading="ac_volts"),
            Param("nominal", "V", "line the chart or nameplate means"),
            Param("expected", "V", "a voltage of the chart, to be brought to today", ""),
        ),
        _line, "line='126 V' nominal='117 V' expected='380 V'", draws=True,
    ),
    Check(
        "ripple", "ripple a reservoir should have at its current, and a reading",
        (
            Param("current", "A", "DC drawn from the reservoir"),
            Param("capacitor", "F", "reservoir"),
            HERTZ, RECTIFYING,
            Param("reading", "V", "AC volts across it as read", "", reading="ac_volts"),
        ),
        _ripple, "current='100 mA' capacitor='47 uF' hertz='60 Hz' reading='12 V'", draws=True,
    ),
    Check(
        "hum-rate", "what the rate of a hum says, for this kind of rectifying",
        (Param("rate", "Hz", "rate of the hum", reading="hertz"), HERTZ, RECTIFYING),
        _hum_rate, "rate='120 Hz' hertz='60 Hz' rectifying=full_wave",
    ),
    Check(
        "filter", "how far a filter section cuts the ripple",
        (
            Param("capacitor", "F", "capacitor behind it"),
            Param("choke", "H", "choke, or give the resistor", ""),
            Param("resistor", "ohm", "resistor, or give the choke", ""),
            HERTZ, RECTIFYING,
        ),
        _filter, "choke='10 H' capacitor='20 uF' hertz='60 Hz'",
    ),
    Check(
        "reactance", "reactance of a capacitor or a choke",
        (
            Param("frequency", "Hz", "frequency"),
            Param("capacitor", "F", "capacitor, or give the choke", ""),
            Param("choke", "H", "choke, or give the capacitor", ""),
        ),
        _reactance, "capacitor='25 uF' frequency='120 Hz'",
    ),
    Check(
        "regulation", "how far B+ falls under load, and the resistance inside",
        (
            Param("unloaded", "V", "B+ without the load", reading="dc_volts"),
            Param("loaded", "V", "B+ with it", reading="dc_volts"),
            Param("current", "A", "current of the load", ""),
        ),
        _regulation, "unloaded='450 V' loaded='400 V' current='100 mA'",
    ),
    Check(
        "touch", "touch current out of the volts over a measuring network",
        (
            Param("volts", "V", "volts RMS on the network", reading="ac_volts"),
            HERTZ,
            Param("class", "", "earthed or double_square", "earthed", "word",
                  ("earthed", "double_square")),
            Param("network", "", "body, plain or iec_500", "body", "word",
                  ("body", "plain", "iec_500")),
        ),
        _touch, "volts='0.75 V' hertz='60 Hz' class=earthed", draws=True,
    ),
    Check(
        "line-capacitor", "current that a capacitor from the mains passes to the chassis",
        (
            Param("capacitor", "F", "capacitor"),
            Param("line", "V", "line"),
            HERTZ,
        ),
        _line_capacitor, "capacitor='0.047 uF' line='120 V' hertz='60 Hz'", draws=True,
    ),
    Check(
        "bleeder", "what a bleeder over a reservoir takes, and how long it needs",
        (
            Param("volts", "V", "volts at switch-off"),
            Param("resistor", "ohm", "bleeder"),
            Param("capacitor", "F", "reservoir"),
        ),
        _bleeder, "volts='406 V' resistor=300k capacitor='40 uF'", draws=True,
    ),
    Check(
        "markings", "value of a part out of its colour bands or its code",
        (
            Param("mark", "", "bands in words ('yellow violet red gold') or a code", sort="text"),
            Param("part", "", "resistor or capacitor, of a code", "resistor", "word",
                  ("resistor", "capacitor")),
            Param("read_ohm", "ohm", "the resistor as read", "", reading="ohms"),
            Param("read_farad", "F", "the capacitor as read", "", reading="microfarad"),
        ),
        _markings, "mark='yellow violet orange silver' read_ohm='58k'",
    ),
    Check(
        "substitute", "whether one tube type may stand in for another, and why",
        (
            Param("old", "", "type the socket was made for", sort="tube"),
            Param("new", "", "type to be put in", sort="tube"),
            Param("bias", "", "fixed or cathode", "", "word", ("fixed", "cathode")),
            Param("plate_v", "V", "plate volts", ""),
            Param("screen_v", "V", "screen volts", ""),
            Param("grid_return_ohm", "ohm", "total grid return", ""),
            Param("supply_vrms", "V", "of a rectifier: winding volts each plate", ""),
            Param("dc_a", "A", "of a rectifier: direct current", ""),
            Param("first_cap_f", "F", "of a rectifier: first capacitor", ""),
            Param("capacitor_v", "V", "of a rectifier: rated volts of that capacitor", ""),
            Param("winding_spare_a", "A", "current to spare on the heater winding", ""),
        ),
        _substitute, "old=5Y3GT new=GZ34 dc_a='70 mA' first_cap_f='20 uF'",
    ),
)  # fmt: skip
