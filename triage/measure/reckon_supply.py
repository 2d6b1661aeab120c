"""The check of a rectifier and its reservoir in the time domain."""

from __future__ import annotations

from triage.errors import BadReading
from triage.measure import child
from triage.measure.asked import Check, Given
from triage.measure.checks import Outcome, Param, against, plain, si
from triage.measure.plots import Axis, Graph, line
from triage.measure.quantity import Quantity
from triage.measure.rectifier import LINE_HIGH, RATING_MARGIN, Load, Steady, Supply, steady
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
        given.word("kind"),  # type: ignore[arg-type]
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
    """Sentences of what is over a limit of the rectifier, and marks."""
    supply = found.supply
    rows: list[tuple[str, float]] = [
        ("dc_ma", found.load_a), ("peak_ma", found.peak_a), ("inverse_v", found.inverse_v),
    ]  # fmt: skip
    if supply.choke_h is None:
        rows.append(("first_cap", supply.reservoir_f))
    over, marks = [], []
    for name, value in rows:
        limit, words, mark = given.limit(tube, name)
        if limit is None:
            continue
        unit = {"dc_ma": "A", "peak_ma": "A", "inverse_v": "V", "first_cap": "F"}[name]
        if value > limit:
            over.append(f"{words} is {si(value, unit)}, over {si(limit, unit)}")
        if mark and mark not in marks:
            marks.append(mark)
    least, words, _ = given.limit(tube, "source_ohm_min")
    if least is not None and supply.choke_h is None and supply.source_ohm < least:
        over.append(f"the source has {si(supply.source_ohm, 'ohm')}, {tube.type} wants "
                    f"{si(least, 'ohm')} at its highest winding volts")  # fmt: skip
    return over, marks


def _cold_start(given: Given, supply: Supply) -> tuple[Quantity, str]:
    """Volts before the tubes draw, with the line high; and what that means for the capacitor."""
    peak = supply.peak_v - supply.path.knee_v
    high = peak * LINE_HIGH
    wanted = high * RATING_MARGIN
    if not given.has("rated"):
        return plain(peak, "V"), ""
    rated = given.value("rated")
    words = f"the capacitor should bear {si(wanted, 'V')} (line 5 % high, 5 % to spare)"
    if rated < wanted:
        return plain(peak, "V"), f" Too low a rating: {words}, it is rated {si(rated, 'V')}."
    return plain(peak, "V"), f" Its capacitor is rated high enough: {words}."


def _rectifier(given: Given) -> Outcome:
    supply, tube, words = _supply(given)
    found = steady(supply)
    over, marks = _limits(given, found, tube) if tube is not None else ([], [])
    peak, rating = _cold_start(given, supply)
    says = f"B+ {si(found.dc_v, 'V')} with {si(found.ripple_pp_v, 'V')} of ripple peak to peak."
    says += f" Over a limit: {'; '.join(over)}." if over else ""
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
        ("inverse peak", plain(found.inverse_v, "V")),
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
