"""Checks of stages: gain, splitter, feedback, power, reflected load, meter loading."""

from __future__ import annotations

from triage.errors import BadReading
from triage.measure import output as o
from triage.measure import stages as s
from triage.measure.asked import Check, Given
from triage.measure.checks import Outcome, Param, against, plain, si, worked_outcome
from triage.measure.loading import loaded
from triage.measure.meters import effect_of
from triage.measure.plots import Gauge
from triage.measure.quantity import Quantity


def _gain(given: Given) -> Outcome:
    mu, rp, rests, marks = _mu_rp(given)
    load = s.plate_load(given.q("load"), given.q("next")) if given.has("next") else given.q("load")
    expected = s.triode_gain(mu, rp, load, given.maybe("cathode") or 0.0)
    low = given.q("cathode").value if given.has("cathode") else 0.0
    words = f"{expected.value:.3g} times expected"
    words += " with the cathode unbypassed." if low else " with the cathode bypassed."
    if not given.has("out") and not given.has("in"):
        return worked_outcome(expected, f"{words[:1].upper()}{words[1:]}", rests_on=rests,
                              marks=marks)  # fmt: skip
    measured = s.stage_gain(given.q("out"), given.q("in"))
    share = s.gain_share(measured, expected)
    verdict = (
        "right" if 0.7 <= share.value <= 1.3
        else "low: a worn tube, a low supply, a dead bypass capacitor, or the meter's loading"
        if share.value < 0.7 else "high: look at the value of the parts, and at feedback lost"
    )  # fmt: skip
    return worked_outcome(
        share, f"{measured.value:.3g} times measured, {words[:-1]}: {verdict}.",
        [("gain measured", measured), ("gain expected", expected)], rests_on=rests, marks=marks,
    )  # fmt: skip


def _mu_rp(given: Given) -> tuple[Quantity, Quantity, str, tuple[str, ...]]:
    """Amplification factor and plate resistance: as typed, else of the tube's first point."""
    if given.has("mu") and given.has("rp"):
        return given.q("mu"), given.q("rp"), "mu and rp as typed", ()
    if not given.has("tube"):
        raise BadReading("gain", "give the tube, or both mu and rp.", "tube=12AX7")
    tube = given.tube()
    for point in tube.points:
        if point.mu and point.gm_ma_per_v:
            memory = point.from_ in given.shelf.from_memory
            where = f"{point.plate_v}, {point.grid_v}"
            rests = f"{tube.type} at {where}: mu {point.mu:g}, gm {point.gm_ma_per_v:g} mA/V"
            rp = plain(point.mu / (point.gm_ma_per_v * 1e-3), "ohm")
            marks = ("mu and gm from memory",) if memory else ()
            return plain(point.mu), rp, rests, marks
    raise BadReading(tube.type, "no mu and gm of it are known: give mu and rp.", "mu=100 rp=62k5")


def _splitter(given: Given) -> Outcome:
    found = s.splitter_balance(given.q("plate_side"), given.q("cathode_side"))
    off = Quantity(abs(found.value - 1.0), found.u, "")
    limit = 0.05
    verdict = against(off, limit, "the two sides are alike (within 5 %)",
                      "the two sides differ: one of the two resistors has drifted, or one side "
                      "is loaded")  # fmt: skip
    gauge = Gauge("Plate side over cathode side", "", found.value, found.u, (0.95, 1.05),
                  ("plate side low", "alike", "cathode side low"))  # fmt: skip
    return worked_outcome(
        found, verdict, rests_on="5 %: common practice, no source",
        marks=("both sides read the same way, with the same meter",), picture=gauge,
    )  # fmt: skip


def _feedback(given: Given) -> Outcome:
    beta = s.feedback_fraction(given.q("series"), given.q("shunt"))
    closed = s.gain_with_feedback(given.q("gain"), beta)
    amount = s.feedback_db(given.q("gain"), closed.quantity)
    verdict = (
        f"Gain falls from {given.value('gain'):.3g} to {closed.value:.3g}, "
        f"{amount.value:.3g} dB of feedback."
    )
    mark = "louder with the loop closed: it is reversed (output transformer or splitter leads)"
    return worked_outcome(closed, verdict, [("feedback", amount), ("share fed back", beta)],
                          marks=(mark,))  # fmt: skip


def _power(given: Given) -> Outcome:
    if given.word("as") == "peak_to_peak":
        found = o.power_of_peak(given.q("volts"), given.q("load"))
    else:
        found = o.output_power(given.q("volts"), given.q("load"))
    return worked_outcome(
        found, f"{si(found.value, 'W')} into {si(given.value('load'), 'ohm')}.",
        marks=("into a load resistor, of a sine below clipping",),
    )  # fmt: skip


def _reflected(given: Given) -> Outcome:
    ratio = o.turns_ratio(given.q("primary"), given.q("secondary"))
    load = o.reflected_load(ratio, given.q("load"))
    return worked_outcome(
        load, f"The primary shows {si(load.value, 'ohm')} with {si(given.value('load'), 'ohm')} "
        "on this secondary.", [("turns ratio", ratio)],
        marks=("low AC volts fed to the secondary make high volts at the primary: clips on while "
               "dead, hands off",),
    )  # fmt: skip


def _damping(given: Given) -> Outcome:
    factor = o.damping_factor(given.q("unloaded"), given.q("loaded"))
    inside = o.output_resistance(given.q("unloaded"), given.q("loaded"), given.q("load"))
    return worked_outcome(
        factor, f"Damping factor {factor.value:.3g}, {si(inside.value, 'ohm')} inside.",
        [("output resistance", inside)],
        marks=("at a small signal; a pentode stage without feedback must not run without a load",),
    )  # fmt: skip


def _meter_loading(given: Given) -> Outcome:
    volts, source, meter = given.q("volts"), given.q("source"), given.meter()
    span = given.value("range") if given.has("range") else meter.range_for(volts.value)
    grid = given.word("at") == "output_grid"
    effect = effect_of(meter, volts, source, span, output_grid=grid)
    size = meter.input_ohm(span)
    loss = Quantity(100.0 * effect.loss, 0.0, "%")
    shown = effect.with_meter
    if shown.rests_on == "":
        shown = loaded(volts, source, size)
    picture = Gauge("Taken away by the meter", "%", loss.value, 0.0, (1.0, 9.0),
                    ("nothing to speak of", "correct for it", "another circuit"))  # fmt: skip
    return worked_outcome(
        shown, f"{effect.says[:1].upper()}{effect.says[1:]}.",
        [("meter", plain(size, "ohm")), ("taken away", loss)], picture=picture,
    )  # fmt: skip


def _sensitivity(given: Given) -> Outcome:
    found = s.sensitivity(given.q("power"), given.q("load"), given.q("gain"))
    return worked_outcome(
        found, f"{si(found.value, 'V')} at the input makes {si(given.value('power'), 'W')}."
    )


def _winding(given: Given) -> Outcome:
    found = o.winding_balance(given.q("first"), given.q("second"))
    verdict = against(found.quantity, 1.3, "the halves are as even as windings are",
                      "the halves differ more than windings do: an open or shorted half?")  # fmt: skip
    gauge = Gauge("Larger half over smaller half", "", found.value, found.u, (1.15, 1.3),
                  ("even", "usual", "uneven"))  # fmt: skip
    return worked_outcome(found, verdict, rests_on="30 % apart by design: common practice, no "
                          "source", marks=("wires lifted or tubes out; DC ohms tell no turns",),
                          picture=gauge)  # fmt: skip


STAGES: tuple[Check, ...] = (
    Check(
        "gain", "gain of a triode stage, measured against expected",
        (
            Param("load", "ohm", "plate resistor"),
            Param("next", "ohm", "grid leak of the next stage", ""),
            Param("cathode", "ohm", "cathode resistor if it is not bypassed", ""),
            Param("tube", "", "tube type, or give mu and rp", "", "tube"),
            Param("mu", "", "amplification factor", ""),
            Param("rp", "ohm", "plate resistance", ""),
            Param("out", "V", "AC volts at the plate", "", reading="ac_volts"),
            Param("in", "V", "AC volts at the grid", "", reading="ac_volts"),
        ),
        _gain, "tube=12AX7 load=100k next=220k out='5.2 V' in='0.1 V'",
    ),
    Check(
        "splitter", "balance of a phase splitter, from its outputs or drops",
        (
            Param("plate_side", "V", "volts on the plate side (AC out, or DC drop)",
                  reading="ac_volts"),
            Param("cathode_side", "V", "the same on the cathode side", reading="ac_volts"),
        ),
        _splitter, "plate_side='12.1 V' cathode_side='12.6 V'", draws=True,
    ),
    Check(
        "feedback", "gain with a feedback loop closed",
        (
            Param("gain", "", "gain with the loop open"),
            Param("series", "ohm", "resistor from the output"),
            Param("shunt", "ohm", "resistor to ground"),
        ),
        _feedback, "gain=200 series=22k shunt=470",
    ),
    Check(
        "power", "output power out of the volts on a load",
        (
            Param("volts", "V", "AC volts on the load", reading="ac_volts"),
            Param("load", "ohm", "load resistor"),
            Param("as", "", "rms or peak_to_peak", "rms", "word", ("rms", "peak_to_peak")),
        ),
        _power, "volts='16 V' load=8",
    ),
    Check(
        "reflected-load", "load that an output transformer shows to the plates",
        (
            Param("primary", "V", "AC volts on the primary", reading="ac_volts"),
            Param("secondary", "V", "AC volts on the secondary tap", reading="ac_volts"),
            Param("load", "ohm", "load on that tap"),
        ),
        _reflected, "primary='100 V' secondary='3.48 V' load=8",
    ),
    Check(
        "damping", "damping factor and output resistance",
        (
            Param("unloaded", "V", "AC volts without the load", reading="ac_volts"),
            Param("loaded", "V", "with it", reading="ac_volts"),
            Param("load", "ohm", "the load"),
        ),
        _damping, "unloaded='1.12 V' loaded='1.00 V' load=8",
    ),
    Check(
        "sensitivity", "input volts for a power, out of the gain",
        (
            Param("power", "W", "power wanted"),
            Param("load", "ohm", "load"),
            Param("gain", "", "volts out over volts in"),
        ),
        _sensitivity, "power='15 W' load=8 gain=36",
    ),
    Check(
        "winding", "how far the two halves of a winding differ",
        (
            Param("first", "ohm", "one half", reading="ohms"),
            Param("second", "ohm", "the other", reading="ohms"),
        ),
        _winding, "first='98 ohm' second='112 ohm'", draws=True,
    ),
    Check(
        "meter-loading", "what a meter does to the point it is put on",
        (
            Param("volts", "V", "volts without the meter", reading="dc_volts"),
            Param("source", "ohm", "resistance behind the point"),
            Param("at", "", "any_point or output_grid (its tube in)", "any_point", "word",
                  ("any_point", "output_grid")),
        ),
        _meter_loading, "volts='15 V' source=200k meter=moving_coil_20k range='20 V'", draws=True,
    ),
)  # fmt: skip
