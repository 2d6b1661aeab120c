"""Checks of tubes: idle, dissipation, matching, heaters, grids, emission, and the tube's own data."""

from __future__ import annotations

from collections.abc import Callable

from triage.measure import currents as c
from triage.measure import grids as g
from triage.measure.asked import Check, Given
from triage.measure.checks import (
    LIMIT_WORDS,
    Outcome,
    Param,
    against,
    percent,
    plain,
    si,
    worked_outcome,
)
from triage.measure.line import heater_share
from triage.measure.plots import Gauge
from triage.measure.quantity import Quantity
from triage.measure.tube_entry import LIMIT_UNITS, TubeType

TUBE = Param("tube", "", "tube type, any usual name", sort="tube")
BIAS = Param("bias", "", "fixed or cathode", "fixed", sort="word", choices=("fixed", "cathode"))


def _rated(given: Given, tube: TubeType) -> tuple[float, str, str]:
    rated, words, mark = given.limit(tube, "plate_w")
    if rated is None:
        raise ValueError(f"no plate dissipation of a {tube.type} is known")
    return rated, words, mark


def _share_gauge(given: Given, title: str, power: Quantity, rated: float, bias: str) -> Gauge:
    takes = given.shelf.findings["idle_current"].takes
    assert takes is not None
    shares = [float(part) for part in str(takes.settings[f"edges_{bias}"]).split(",")]
    names = tuple(word.replace("_", " ") for word in given.shelf.findings["idle_current"].answers)
    return Gauge(title, "W", power.value, power.total_u, tuple(s * rated for s in shares), names)


def _idle(given: Given) -> Outcome:
    tube, bias = given.tube(), given.word("bias")
    rated, words, mark = _rated(given, tube)
    volts, ohm = given.q("volts"), given.q("ohm")
    screen_grid = bool(tube.pins.screen)
    found = c.sense_current(volts, ohm, given.maybe("screen"), screen_grid)
    watts = c.dissipation(given.q("plate"), found.plate, given.maybe("cathode") or 0.0)
    share = c.share_of_rating(watts, rated)
    across = given.q("plate") - (given.maybe("cathode") or 0.0)
    context: dict[str, str | float | Quantity] = {
        "plate_v": across, "plate_w": rated, "bias": bias,
    }  # fmt: skip
    verdict = given.judged("idle_current", found.plate, context)
    also = [("share of the rating", share.quantity), ("plate current", found.plate)]
    if screen_grid:
        also.append(("screen current", found.screen))
    guess = "" if found.screen_known else "screen current estimated at 7 % of the cathode's"
    steps = (*map(str, found.steps), *map(str, share.steps))
    return Outcome(
        watts.quantity,
        f"{percent(share.quantity)} of {si(rated, 'W')}: {given.said('idle_current', verdict)}",
        f"{words}; limits of the finding 'idle current', {bias} bias",
        steps,
        tuple(also),
        tuple(m for m in (mark, guess, tube.note) if m),
        picture=_share_gauge(
            given, f"Plate dissipation at idle, {tube.type}", watts.quantity, rated, bias
        ),
    )


def _dissipation(given: Given) -> Outcome:
    tube = given.tube()
    electrode = given.word("electrode")
    name = "screen_w" if electrode == "screen" else "plate_w"
    rated, words, mark = given.limit(tube, name)
    watts = c.dissipation(
        given.q("volts"), given.q("current"), electrode="g2" if electrode == "screen" else "a"
    )
    if rated is None:
        return worked_outcome(watts, f"{si(watts.value, 'W')}; no such limit of a {tube.type} is "
                              "known.")  # fmt: skip
    share = c.share_of_rating(watts, rated)
    says = against(
        share.quantity, 1.0, "within its rating", "above its rating: switch off, find out why"
    )
    picture = Gauge(
        f"Dissipation of the {electrode}, {tube.type}", "W", watts.value, watts.u,
        (0.7 * rated, rated), ("within 70 %", "70 to 100 %", "over"),
    )  # fmt: skip
    return worked_outcome(
        share,
        f"{si(watts.value, 'W')} is {percent(share.quantity)} of {si(rated, 'W')}. {says}",
        [("dissipation", watts.quantity)],
        rests_on=words, marks=(mark, tube.note), picture=picture,
    )  # fmt: skip


def _matching(given: Given) -> Outcome:
    read = [given.q("first"), given.q("second")]
    read += [q for name in ("third", "fourth") if (q := given.maybe(name)) is not None]
    found = c.mismatch(read)
    share = found.value
    words = (
        "Matched (within 5 %)" if share <= c.MATCHED
        else "Near enough for an old pair (within 20 %)" if share <= 0.20
        else "Not a pair: find out which is off, and set the bias, before buying"
    )  # fmt: skip
    gauge = Gauge("Mismatch of idle currents", "%", 100 * share, 100 * found.u, (5.0, 20.0),
                  ("matched", "usable", "not a pair"))  # fmt: skip
    also = [("unbalanced DC", c.balance(read[0], read[1]).quantity)] if len(read) == 2 else []
    marks = ("both read on one line and one bias setting, or they tell nothing",)
    return worked_outcome(found, f"{words}.", also, marks=marks, picture=gauge)


def _heater(given: Given) -> Outcome:
    read = given.q("volts")
    rated = given.maybe("rated")
    rests, mark = "rated heater volts as typed", ""
    if rated is None:
        tube = given.tube()
        ways = tube.heater_ways()
        best = min(ways, key=lambda way: abs(way[0] - read.value))
        rated, rests = plain(best[0], "V"), f"heater of a {tube.type}: {si(best[0], 'V')}"
        mark = "" if tube.heater.from_ not in given.shelf.from_memory else "heater from memory"
    share = heater_share(read, rated)
    verdict = given.judged("heater_volts", read, {"heater_v": rated})
    deep = (
        "" if abs(share.value - 1) <= 0.05
        else " Within 5 % of nominal tubes live longest (common practice)."
    )  # fmt: skip
    gauge = Gauge(
        "Heater volts", "V", read.value, read.total_u,
        (0.9 * rated.value, 0.95 * rated.value, 1.05 * rated.value, 1.1 * rated.value),
        ("low", "a little low", "right", "a little high", "high"),
    )  # fmt: skip
    caution = "AC range, at the pins, tubes in; the heater may stand on B+ or on the mains"
    return worked_outcome(
        share, given.said("heater_volts", verdict) + deep,
        rests_on=rests, marks=(mark, caution), picture=gauge,
    )  # fmt: skip


def _grid_return(given: Given) -> Outcome:
    tube, bias = given.tube(), given.word("bias")
    total = g.grid_return(
        given.q("leak"), given.maybe("stopper") or 0.0, given.maybe("source") or 0.0,
        int(given.value("sharing")),
    )  # fmt: skip
    limit = tube.return_limit(bias)
    if limit is None or tube.grid_return is None:
        return worked_outcome(total, f"No limit of the grid return of a {tube.type} is known.")
    memory = tube.grid_return.from_ in given.shelf.from_memory
    share = g.return_share(total, limit, from_memory=memory)
    within = share.value <= 1.0
    says = "within the sheet's limit" if within else (
        "above the sheet's limit: watch for drift of the current; many old sets exceed it"
    )  # fmt: skip
    return worked_outcome(
        share, f"{si(total.value, 'ohm')} for each tube, {says}.",
        [("grid return", total.quantity), ("limit", plain(limit, "ohm"))],
        rests_on=f"{tube.type}, {bias} bias", marks=(tube.note,),
    )  # fmt: skip


def _grid_current(given: Given) -> Outcome:
    found = g.grid_current(given.q("shift"), given.q("return"))
    most = 3e-6 if given.word("size") == "output" else 1e-6
    shift = given.q("shift")
    if shift.value <= 0:
        words = "The grid is not above where it should be: no reverse grid current shows."
    elif found.value > most:
        words = (
            f"More than the {si(most, 'A')} usual for a good tube: gas or grid emission, if the "
            "shift goes when the tube is out and follows it to another socket."
        )
    else:
        words = f"Within the {si(most, 'A')} usual for a good tube."
    also = []
    gm = given.maybe("gm")
    if gm is not None:
        also.append(
            ("rise of plate current", g.runaway_gain(gm, found.quantity, given.q("return")))
        )
    mark = "limit of grid current from memory: it informs, and opens no gate"
    loading = "read with 10 MΩ or more: another meter makes the shift itself"
    return worked_outcome(found, words, also, marks=(mark, loading),
                          rests_on="1 µA small tubes, 3 µA output tubes (from memory)")  # fmt: skip


def _coupling(given: Given) -> Outcome:
    leak = g.leak_resistance(
        given.q("source"), given.q("grid"), given.q("return"), given.q("shift")
    )
    context: dict[str, str | float | Quantity] = {}
    verdict = given.judged("cap_leak", leak.quantity, context)
    also = []
    gm = given.maybe("gm")
    if gm is not None:
        also.append(("change of plate current", c.current_change(gm, given.q("shift"))))
    return worked_outcome(
        leak, given.said("cap_leak", verdict), also,
        rests_on="limits of the finding 'cap leak'",
        marks=("with the tube that follows out of its socket, else grid current has a part in it",),
    )  # fmt: skip


def _emission(given: Given) -> Outcome:
    found = c.emission_share(given.q("current"), given.q("expected"))
    gauge = Gauge("Current against the sheet's", "%", 100 * found.value, 100 * found.u,
                  (50.0, 70.0, 130.0), ("spent", "worn", "as new", "above"))  # fmt: skip
    words = found.notes[0] if found.notes else ""
    mark = "at the same plate, screen and grid volts; a strong tube can still be noisy or gassy"
    return worked_outcome(
        found, f"{percent(found.quantity)} of what the type gives: {words}.",
        marks=(mark,), picture=gauge,
    )  # fmt: skip


def _tube(given: Given) -> Outcome:
    tube = given.tube()
    volts = " or ".join(f"{si(v, 'V')} {si(a, 'A')}" for v, a in tube.heater_ways())
    others = [name for name in tube.names() if name != tube.type]
    names = f" (also {', '.join(others)})" if others else ""
    lines = [f"{'heater':<19}  {volts}"]
    marks = []
    for name in tube.limits:
        value, words, mark = given.limit(tube, name)
        if value is not None:
            system = words[words.find("(") :] if "(" in words else ""
            lines.append(f"{LIMIT_WORDS[name]:<19}  {si(value, LIMIT_UNITS[name])} {system}")
        marks += [mark] if mark and mark not in marks else []
    if tube.grid_return is not None:
        for kind in ("fixed", "cathode"):
            limit = tube.return_limit(kind)
            if limit is not None:
                lines.append(f"{'grid return':<19}  {si(limit, 'ohm')} at most, {kind} bias")
    pins = [
        f"{electrode.replace('_', ' ')} {','.join(map(str, numbers))}"
        for electrode, numbers in tube.pins.by_role().items()
    ]
    lines.append(f"{'pins':<19}  {'; '.join(pins)}")
    for point in tube.points:
        screen = f", {point.screen_v} screen ({point.screen_ma})" if point.screen_v else ""
        lines.append(f"{'point':<19}  {point.plate_v} plate{screen}, {point.grid_v} grid: "
                     f"{point.plate_ma}")  # fmt: skip
    if tube.note:
        lines.append(f"{'note':<19}  {tube.note}")
    return Outcome(None, f"{tube.type}{names}: {tube.says[:1].lower()}{tube.says[1:]}.",
                   "sources beside each number in knowledge/tubes", marks=tuple(marks),
                   lines=tuple(line.rstrip() for line in lines))  # fmt: skip


_GM = Param("gm", "S", "transconductance, if its effect is wanted: 4.4 mA/V", "")


def _number(name: str, unit: str, text: str, default: str | None = None, **more: object) -> Param:
    make: Callable[..., Param] = Param
    return make(name, unit, text, default, **more)


TUBES: tuple[Check, ...] = (
    Check(
        "idle", "plate dissipation at idle, from volts over a sense resistor",
        (
            _number("volts", "V", "volts over the sense or cathode resistor", reading="dc_volts"),
            _number("ohm", "ohm", "that resistor, as measured or marked (10 ± 1 %)"),
            _number("plate", "V", "plate volts to ground", reading="dc_volts"),
            _number("cathode", "V", "cathode volts to ground, for cathode bias", "",
                    reading="dc_volts"),
            _number("screen", "A", "screen current, if known; else 7 % of the cathode's", "",
                    reading="dc_ma"),
            TUBE, BIAS,
        ),
        _idle, "volts='470 mV' ohm='10 ± 1 %' plate='402 V' tube=6L6GC bias=fixed", draws=True,
    ),
    Check(
        "dissipation", "power in a plate or screen against its rating",
        (
            _number("volts", "V", "volts from the electrode to the cathode", reading="dc_volts"),
            _number("current", "A", "current into it", reading="dc_ma"),
            TUBE,
            _number("electrode", "", "plate or screen", "plate", sort="word",
                    choices=("plate", "screen")),
        ),
        _dissipation, "volts='250 V' current='48 mA' tube=EL84", draws=True,
    ),
    Check(
        "matching", "how far the idle currents of a pair or a quad lie apart",
        (
            _number("first", "A", "idle current of one tube", reading="dc_ma"),
            _number("second", "A", "of the other", reading="dc_ma"),
            _number("third", "A", "of a third", "", reading="dc_ma"),
            _number("fourth", "A", "of a fourth", "", reading="dc_ma"),
        ),
        _matching, "first='35 mA' second='38.5 mA'", draws=True,
    ),
    Check(
        "heater", "heater volts at the pins against the rating",
        (
            _number("volts", "V", "AC volts at the heater pins", reading="ac_volts"),
            _number("tube", "", "tube type; or give 'rated'", "6L6GC", sort="tube"),
            _number("rated", "V", "rated volts, where no tube type is given", ""),
        ),
        _heater, "volts='5.8 V' tube=6L6GC", draws=True,
    ),
    Check(
        "grid-return", "total grid return of each tube against the sheet's limit",
        (
            TUBE, BIAS,
            _number("leak", "ohm", "grid leak"),
            _number("stopper", "ohm", "grid stopper", ""),
            _number("source", "ohm", "resistance of the bias supply behind the leak", ""),
            _number("sharing", "", "tubes that share this leak", "1"),
        ),
        _grid_return, "tube=6550 bias=fixed leak=220k stopper=1k5",
    ),
    Check(
        "grid-current", "reverse grid current out of the shift of a grid",
        (
            _number("shift", "V", "how far the grid stands above where it should be",
                    reading="dc_volts"),
            _number("return", "ohm", "total grid return"),
            _number("size", "", "output or small tube", "output", sort="word",
                    choices=("output", "small")),
            _GM,
        ),
        _grid_current, "shift='0.5 V' return=500k size=small gm='5.2 mA/V'",
    ),
    Check(
        "coupling", "leak of a coupling capacitor, from the shift of its grid",
        (
            _number("source", "V", "plate volts before the capacitor", reading="dc_volts"),
            _number("grid", "V", "the grid as it reads", reading="dc_volts"),
            _number("return", "ohm", "total grid return"),
            _number("shift", "V", "how far the grid stands above where it should be",
                    reading="dc_volts"),
            _GM,
        ),
        _coupling, "source='258 V' grid='-37.7 V' return=82k shift='1 V' gm='4.4 mA/V'",
    ),
    Check(
        "emission", "a tube's current against what its type gives at the same volts",
        (
            _number("current", "A", "current read", reading="dc_ma"),
            _number("expected", "A", "current of the type there (triage reckon load-line)"),
        ),
        _emission, "current='31 mA' expected='48 mA'", draws=True,
    ),
    Check(
        "tube", "what is known of a tube type: heater, limits, pins, points",
        (TUBE,), _tube, "tube=EL84",
    ),
)  # fmt: skip
