"""Checks of what is done to an amplifier: insulation, reforming, lamp limiter, fuse."""

from __future__ import annotations

from triage.errors import BadReading, OutOfRange
from triage.measure import capacitors as c
from triage.measure import fuse as f
from triage.measure import limiter as n
from triage.measure.asked import Check, Given
from triage.measure.checks import Outcome, Param, against, plain, si
from triage.measure.quantity import Quantity
from triage.measure.reckon_capacitors import NEVER

KINDS = ("electrolytic", "paper", "polyester", "polypropylene", "ceramic", "mica")
FUSES: dict[str, f.FuseClass] = {
    "time_lag": "T", "quick": "F", "fast_acting": "UL", "time_delay": "UL_delay",
}  # fmt: skip
"""Words for the classes: the first two of IEC, the others of UL."""
LIVE = "a part in circuit: off, discharged and metered dead before a lead is lifted"
NORM = "times and multiples of the class are partly from memory; the make's curve goes before"
FIT = "fit what is marked at the holder; never more because it blew"


def _insulation(given: Given) -> Outcome:
    farad, coupling = given.value("capacitor"), given.word("use") == "coupling"
    least = c.insulation_limit(farad, given.word("kind"), coupling)  # type: ignore[arg-type]  # one of its choices
    says = f"At least {si(least, 'ohm')} is wanted."
    steps = [f"least = {si(least, 'ohm')}, coupling in service" if coupling else
             f"least = min(1500 Mohm uF/{si(farad, 'F')}, 15 Gohm) = {si(least, 'ohm')}"]  # fmt: skip
    also: list[tuple[str, Quantity]] = []
    read = given.maybe("insulation")
    if read is not None:
        says = against(read, least, "insulation too low: replace it", "insulation high enough")
        says += f" At least {si(least, 'ohm')} is wanted."
        also.append(("least wanted", plain(least, "ohm")))
    if given.has("plate"):
        if read is None:
            raise BadReading("insulation", "give what was read, to tell the grid's shift.")
        leak = c.coupling_leak(given.value("plate"), given.value("return"), read.value, farad)
        steps += leak.steps[:1]
        also.append(("shift of the grid", plain(leak.shift_v, "V")))
    rests = "common practice, no source" if coupling else "1500 Mohm uF or 15 Gohm (MIL-C-25)"
    marks = ["an ohmmeter of a few volts proves no insulation: test at the working volts", LIVE]
    if not coupling:
        marks.insert(0, "MIL-C-25 is from memory, for paper at room temperature")
    return Outcome(read or plain(least, "ohm"), says, rests, tuple(steps), tuple(also),
                   tuple(marks))  # fmt: skip


def _reform(given: Given) -> Outcome:
    plan = c.reform_plan(given.value("capacitor"), given.value("rated"), given.value("most"))
    rows = (
        ("current if shorted", plain(plan.short_a, "A")),
        ("watts if shorted", plain(plan.short_w, "W")),
        ("rating of the resistor", plain(plan.resistor_w, "W")),
        ("leakage limit", plain(plan.limit_a, "A")),
        ("energy at full volts", plain(plan.joule, "J")),
    )
    says = (
        f"Through {si(plan.resistor_ohm, 'ohm')}, {plan.resistor_w:g} W or more, in "
        f"{len(plan.stages)} steps up to {si(plan.rated_v, 'V')}."
    )
    return Outcome(
        plain(plan.resistor_ohm, "ohm"), says,
        "current limit and K C + 0.3 mA (JAN-C-62); times: common practice, no source",
        plan.steps, rows, (*plan.cautions, NEVER), plan.steps[3:],
    )  # fmt: skip


def _limiter(given: Given) -> Outcome:
    line = given.value("line")
    lamp = n.Lamp(given.value("lamp"), given.value("lamp_volts") if given.has("lamp_volts")
                  else line)  # fmt: skip
    load = given.value("load")
    found, short = n.expect(lamp, load, line), n.shorted(lamp, line)
    rows = [
        ("volts at the load", plain(found.load_v, "V")),
        ("share of the line", plain(found.load_share)),
        ("current", plain(found.amps, "A")),
        ("current if shorted", plain(short.amps, "A")),
        ("first flash at most", plain(found.flash_a, "A")),
    ]
    lines = [f"a short behind it: {short.says}"]
    try:
        bulb = n.next_bulb(load, line)
        rows.append(("lamp for a second run", plain(bulb.watts, "W")))
        lines.append(f"second run, if calm: {bulb.watts:g} W leaves the load 75 % of the line")
    except OutOfRange as error:
        lines.append(f"second run: {error}")
    lines += [f"means something: {why}" for why in n.STILL_MEANS.values()]
    lines += [f"no use on a lamp: {what.replace('_', ' ')}: {why}"
              for what, why in n.MEANINGLESS.items()]  # fmt: skip
    glow = found.glow.replace("_", " ")
    return Outcome(
        plain(found.lamp_v, "V"),
        f"Settled the lamp is {glow}; a sound load gets {si(found.load_v, 'V')}, "
        f"{found.load_share:.0%} of the line.",
        "lamp rerating, I as V^0.55; looks of the glow: common practice, no source",
        (*found.steps, *short.steps), tuple(rows),
        (n.BANNER, "cold resistance of the lamp is from memory",
         "an incandescent lamp only: LED and fluorescent lamps limit nothing"), tuple(lines),
    )  # fmt: skip


def _fuse(given: Given) -> Outcome:
    rated, kind = given.value("rated"), FUSES[given.word("kind")]
    current = given.q("current")
    found = f.opening(rated, kind, current.value)
    says = f"{found.says[:1].upper()}{found.says[1:]}."
    steps, marks = list(found.steps), [FIT, NORM]
    rows = [("holds at least", plain(found.least_s, "s")),
            ("opens within", plain(found.most_s, "s"))]  # fmt: skip
    rows = [(name, q) for name, q in rows if 0.0 < q.value < float("inf")]
    if given.has("peak"):
        pulse = f.inrush(rated, kind, given.value("peak"), given.value("tau"))
        says += f" Switch-on: {pulse.says}."
        steps += pulse.steps
        rows += [("I²t of the switch-on, A²s", plain(pulse.i2t)),
                 ("sure to stand, A²s", plain(pulse.stands))]  # fmt: skip
    rests = "gates of IEC 60127-2" if kind in ("T", "F") else "gates of UL 248-14"
    return Outcome(current / plain(rated, "A"), says, rests, tuple(steps), tuple(rows),
                   tuple(marks), (f.MEANS[kind],))  # fmt: skip


PLANS: tuple[Check, ...] = (
    Check(
        "insulation", "insulation of a paper, film, ceramic or mica capacitor",
        (
            Param("capacitor", "F", "capacitor, as marked"),
            Param("kind", "", "paper, polyester, polypropylene, ceramic or mica", "paper", "word",
                  KINDS),
            Param("use", "", "coupling (in service) or new (as bought)", "coupling", "word",
                  ("coupling", "new")),
            Param("insulation", "ohm", "insulation as read at its working volts", ""),
            Param("plate", "V", "plate volts before it, to tell the grid's shift", ""),
            Param("return", "ohm", "grid return behind it", "470k"),
        ),
        _insulation, "capacitor='22 nF' insulation='47 Mohm' plate='200 V' return=470k",
    ),
    Check(
        "reform", "plan to reform an electrolytic off its amplifier",
        (
            Param("capacitor", "F", "electrolytic, as marked"),
            Param("rated", "V", "rated volts"),
            Param("most", "A", "most current through the resistor", "5 mA"),
        ),
        _reform, "capacitor='20 uF' rated='450 V'",
    ),
    Check(
        "limiter", "series-lamp (dim-bulb) limiter: glow, volts, next lamp",
        (
            Param("lamp", "W", "rated watts of the lamp"),
            Param("load", "W", "what the amplifier draws at full line"),
            Param("line", "V", "line volts", "120 V"),
            Param("lamp_volts", "V", "rated volts of the lamp; the line's if left out", ""),
        ),
        _limiter, "lamp='60 W' load='100 W'",
    ),
    Check(
        "fuse", "when a fuse opens, and whether it stands the switch-on",
        (
            Param("rated", "A", "rating of the fuse"),
            Param("current", "A", "steady current through it, RMS"),
            Param("kind", "", "time_lag (slow-blow T), quick (F); UL: fast_acting, time_delay",
                  "time_lag", "word", tuple(FUSES)),
            Param("peak", "A", "first peak at switch-on", ""),
            Param("tau", "s", "time constant of the switch-on", "5 ms"),
        ),
        _fuse, "rated='2 A' current='4.2 A' peak='30 A' tau='10 ms'",
    ),
)  # fmt: skip
