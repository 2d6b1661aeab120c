"""The check of a rectifier and its reservoir in the time domain."""

from __future__ import annotations

from triage.errors import BadReading
from triage.measure import child
from triage.measure.asked import Check, Given
from triage.measure.checks import Outcome, Param, against, plain, si
from triage.measure.plots import Axis, Graph, line
from triage.measure.quantity import Quantity
from triage.measure.rectifier import Load, Steady, Supply, steady
from triage.measure.rectifier_limits import (
    RectifierLimits,
    cold_start,
    inverse_peak,
    judge_rectifier,
)
from triage.measure.tube_entry import TubeType
from triage.units import value_of


def _diode(given: Given) -> tuple[child.Diode, TubeType | None, str]:
    if not given.has("tube"):
        return child.silicon(), None, "silicon, 0.8 V each (from memory)"
    tube = given.tube()
    if tube.drop is None:
        raise BadReading(tube.type, "the drop of this rectifier is not known.", "5U4GB, GZ34, EZ81")
    drops = [(value_of(tube.drop.volts, "V"), value_of(tube.drop.at, "A"))]
    if tube.drop.also is not None:
        drops.append((value_of(tube.drop.also.is_, "V"), drops[0][1]))
    g = child.perveance(drops)
    return child.tube(g), tube, f"{tube.type} by Child's law, {tube.drop.volts} at {tube.drop.at}"


def _supply(given: Given) -> tuple[Supply, TubeType | None, str]:
    diode, tube, words = _diode(given)
    if given.has("current") == given.has("load"):
        raise BadReading("rectifier", "give either the current or the load.", "current='105 mA'")
    load = Load(
        given.value("load") if given.has("load") else None,
        given.value("current") if given.has("current") else 0.0,
        given.value("bleeder") if given.has("bleeder") else None,
    )
    supply = Supply(
        given.word("kind"),  # type: ignore[arg-type]  # one of its choices
        given.value("winding"), given.value("hertz"), given.value("source"), diode,
        given.value("reservoir"), load,
        choke_h=given.value("choke") if given.has("choke") else None,
    )  # fmt: skip
    return supply, tube, words


def _picture(found: Steady) -> Graph:
    """Current of one path as a share of its peak, and the reservoir's ripple about its mean."""
    half = max(found.ripple_pp_v / 2.0, 1e-9)
    peak = max(found.peak_a, 1e-12)
    ripple = (found.reservoir_v - found.dc_v) / half
    return Graph(
        f"Conduction: peaks of {si(found.peak_a, 'A')} a path, ripple {si(found.ripple_pp_v, 'V')}",
        Axis("time", "s"), Axis("share of the peak", "", -1.2, 1.2),
        (line("current", found.t_s, found.total_a / peak),
            line("volts on the reservoir", found.t_s, ripple)),
    )  # fmt: skip


def _limits(given: Given, found: Steady, tube: TubeType) -> tuple[list[str], list[str]]:
    """Lines of each known limit that is reached, and marks."""
    names = ("inverse_v", "peak_ma", "dc_ma", "first_cap", "source_ohm_min", "transient_ma",
             "supply_vrms")  # fmt: skip
    values, marks = [], []
    for name in names:
        limit, _, mark = given.limit(tube, name)
        values.append(limit)
        if mark and mark not in marks:
            marks.append(mark)
    checks = judge_rectifier(found, RectifierLimits(*values))
    return [str(check) for check in checks if check.says != "within"], marks


def _cold_start(given: Given, supply: Supply, tube: TubeType | None) -> tuple[Quantity, str]:
    """Volts before the tubes draw, and what they mean for the first capacitor."""
    peak = plain(supply.peak_v - supply.path.knee_v, "V")
    if not given.has("rated"):
        return peak, ""
    warms = "silicon" if tube is None else "filament" if tube.heater.direct else "cathode"
    cold = cold_start(supply, given.value("rated"), warms)  # type: ignore[arg-type]  # one of its choices
    wanted, rated = si(cold.wanted_v, "V"), si(cold.rated_v, "V")
    if cold.enough:
        return peak, f" The capacitor's {rated} is enough: {wanted} is wanted."
    note = f"{cold.note[:1].upper()}{cold.note[1:]}."
    return peak, f" The capacitor's {rated} is too low: {wanted} is wanted. {note}"


def _rectifier(given: Given) -> Outcome:
    supply, tube, words = _supply(given)
    found = steady(supply)
    over, marks = _limits(given, found, tube) if tube is not None else ([], [])
    peak, rating = _cold_start(given, supply, tube)
    says = f"B+ {si(found.dc_v, 'V')} with {si(found.ripple_pp_v, 'V')} of ripple peak to peak."
    says += f" Look at: {'; '.join(over)}." if over else ""
    says += rating
    read = given.maybe("reading")
    if read is not None:
        share = read / plain(found.dc_v, "V")
        off = Quantity(abs(share.value - 1.0), share.total_u, "")
        says += " " + against(off, 0.10, "B+ as read agrees within 10 %",
                              "B+ as read is more than 10 % away")  # fmt: skip
    rows = (
        ("ripple, RMS", plain(found.ripple_rms_v, "V")),
        ("ripple, peak to peak", plain(found.ripple_pp_v, "V")),
        ("current drawn", plain(found.load_a, "A")),
        ("peak of one path", plain(found.peak_a, "A")),
        ("RMS of the winding", plain(found.winding_rms_a, "A")),
        ("conduction, degrees", plain(found.conduction_deg)),
        ("inverse peak, this load", plain(found.inverse_v, "V")),
        ("inverse peak, no load", plain(inverse_peak(supply), "V")),
        ("B+ before the tubes draw", peak),
    )
    marks.append("with the tubes cold or out B+ goes to its full peak, also on a lamp limiter")
    sags = "no transformer leakage, the winding's volts unloaded"
    return Outcome(
        plain(found.dc_v, "V"), says, f"{words}; time domain, {sags}", found.steps, rows,
        tuple(marks), picture=_picture(found),
    )  # fmt: skip


SUPPLY: tuple[Check, ...] = (
    Check(
        "rectifier", "B+, ripple, peaks and conduction of a rectifier",
        (
            Param("winding", "V", "winding volts RMS without load; of one half for full wave"),
            Param("reservoir", "F", "first capacitor"),
            Param("source", "ohm", "resistance in the path of one plate, primary reflected"),
            Param("current", "A", "direct current drawn, or give the load", ""),
            Param("load", "ohm", "load, or give the current", ""),
            Param("bleeder", "ohm", "bleeder over the reservoir", ""),
            Param("tube", "", "rectifier tube; silicon if left out", "", "tube"),
            Param("kind", "", "full_wave, bridge or half_wave", "full_wave", "word",
                  ("full_wave", "bridge", "half_wave")),
            Param("choke", "H", "choke before the capacitor, for choke input", ""),
            Param("hertz", "Hz", "frequency of the line", "60 Hz"),
            Param("rated", "V", "rated volts of the first capacitor", ""),
            Param("reading", "V", "B+ as read", "", reading="dc_volts"),
        ),
        _rectifier,
        "winding='360 V' reservoir='40 uF' source=76 current='105 mA' tube=5U4GB rated='700 V' "
        "reading='406 V'", draws=True,
    ),
)  # fmt: skip
