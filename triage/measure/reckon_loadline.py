"""Checks by load line: a resistance-coupled stage, an output stage."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from triage.errors import BadReading, OutOfRange
from triage.measure.asked import Check, Given
from triage.measure.checks import Outcome, Param, against, plain, si
from triage.measure.currents import NEW_SPREAD
from triage.measure.koren import TubeModel, flow
from triage.measure.loadline import (
    Output,
    Point,
    Stage,
    idle_point,
    operating_point,
    pair_power,
    single_power,
)
from triage.measure.plots import Axis, Graph, Mark, Series, line
from triage.measure.quantity import Quantity

SPREAD_WORDS = "new tubes of one type spread about 30 % either way of the sheet"


def _parts(given: Given) -> float:
    share = given.value("parts") / 100.0
    if not 0.0 <= share < 0.5:
        raise OutOfRange("parts", f"{100 * share:g} %", "0 to 50 %")
    return share


def _spread(model: TubeModel, plate_a: float) -> float:
    return min(0.9, max(model.misfit_at(plate_a), NEW_SPREAD))


def _between(low: float, middle: float, high: float, unit: str) -> Quantity:
    """Value with what the spread of tubes makes of it, taken as rectangular."""
    return Quantity(middle, abs(high - low) / 2.0 / math.sqrt(3.0), unit)


def _point_rows(low: Point, mid: Point, high: Point) -> list[tuple[str, Quantity]]:
    rows = [
        ("plate volts", _between(low.plate_v, mid.plate_v, high.plate_v, "V")),
        ("cathode volts", _between(low.cathode_v, mid.cathode_v, high.cathode_v, "V")),
        ("grid to cathode", _between(low.grid_v, mid.grid_v, high.grid_v, "V")),
    ]
    if mid.screen_a > 0:
        rows.append(("screen volts", _between(low.screen_v, mid.screen_v, high.screen_v, "V")))
        rows.append(("screen current", _between(low.screen_a, mid.screen_a, high.screen_a, "A")))
    rows.append(("gm", _between(low.gm, mid.gm, high.gm, "S")))
    if math.isfinite(mid.rp):
        rows.append(("rp", plain(mid.rp, "ohm")))
        rows.append(("mu", plain(mid.mu)))
    return rows


def _load_picture(model: TubeModel, stage: Stage, point: Point, title: str) -> Graph:
    """Curves of a few grid volts, the load line, and the point on it."""
    volts = np.linspace(0.0, stage.supply_v, 160)
    screen = point.screen_v - point.cathode_v
    deep = max(2.0 * abs(point.grid_v), 1.0)
    curves: list[Series] = []
    most = 1.25 * stage.supply_v / (stage.load_ohm + stage.cathode_ohm)
    for grid in (0.0, -deep / 2, -deep):
        current = flow(model, volts, grid, screen).plate
        keep = current <= most
        curves.append(line(f"{grid:.3g} V", volts[keep], current[keep]))
    whole = stage.load_ohm + stage.cathode_ohm
    straight = line("load", [0.0, stage.supply_v], [stage.supply_v / whole, 0.0])
    across = point.plate_v - point.cathode_v
    label = f"{si(across, 'V')}, {si(point.plate_a, 'A')}"
    return Graph(
        title, Axis("plate to cathode volts", "V", 0.0, stage.supply_v),
        Axis("plate current", "A", 0.0, most), (straight, *curves),
        (Mark(across, point.plate_a, label),),
    )  # fmt: skip


def _load_line(given: Given) -> Outcome:
    model = given.model()
    stage = Stage(
        given.value("supply"), given.value("load"), given.value("cathode"),
        next_ohm=given.value("next") if given.has("next") else math.inf,
        bias_v=given.value("bias"),
        screen_ohm=given.value("screen") if given.has("screen") else 0.0,
        screen_v=given.value("screen_supply") if given.has("screen_supply") else None,
    )  # fmt: skip
    mid = operating_point(model, stage)
    share, parts = _spread(model, mid.plate_a), _parts(given)
    low, high = (
        operating_point(
            model.giving(1 + sign * share),
            replace(
                stage,
                load_ohm=stage.load_ohm * (1 + sign * parts),
                cathode_ohm=stage.cathode_ohm * (1 - sign * parts),
            ),
        )
        for sign in (-1, 1)
    )
    current = _between(low.plate_a, mid.plate_a, high.plate_a, "A")
    rows = _point_rows(low, mid, high)
    rows += [("gain, cathode bypassed", plain(mid.gain_bypassed)),
             ("gain, unbypassed", plain(mid.gain_unbypassed)),
             ("output, bypassed", plain(mid.out_ohm_bypassed, "ohm")),
             ("dissipation", plain(mid.dissipation_w, "W"))]  # fmt: skip
    verdict = (
        f"A middling {model.type} settles at {si(mid.plate_v, 'V')} on the plate and "
        f"{si(mid.cathode_v, 'V')} on the cathode; {si(high.plate_v, 'V')} to "
        f"{si(low.plate_v, 'V')} is within the spread of tubes and parts."
    )
    read = given.maybe("plate")
    if read is not None:
        verdict += " " + _placed(read, high.plate_v, low.plate_v)
    steps = _load_steps(stage, mid)
    return Outcome(
        current, verdict, f"Koren model '{model.id}' and {SPREAD_WORDS}", steps, tuple(rows),
        tuple(mark for mark in (model.misfit_words, model.note) if mark),
        picture=_load_picture(model, stage, mid, f"{model.type}: load line"),
    )  # fmt: skip


def _load_steps(stage: Stage, mid: Point) -> tuple[str, ...]:
    supply, load = si(stage.supply_v, "V"), si(stage.load_ohm, "ohm")
    total = mid.plate_a + mid.screen_a
    return (
        f"V_a = V_bb - I_a × R_L = {supply} - {si(mid.plate_a, 'A')} × {load} = "
        f"{si(mid.plate_v, 'V')}",
        f"V_k = I_k × R_k = {si(total, 'A')} × {si(stage.cathode_ohm, 'ohm')} = "
        f"{si(mid.cathode_v, 'V')}",
        f"V_gk = V_g - V_k = {si(stage.bias_v, 'V')} - {si(mid.cathode_v, 'V')} = "
        f"{si(mid.grid_v, 'V')}",
        f"I_a is where the tube at {si(mid.plate_v - mid.cathode_v, 'V')} and "
        f"{si(mid.grid_v, 'V')} draws {si(mid.plate_a, 'A')}: found by root, 1e-12 of the supply",
    )


def _placed(read: Quantity, low: float, high: float) -> str:
    within = "the plate as read is within the spread"
    if read.value > high:
        much = "the plate as read is higher than the spread explains: the tube draws too little"
        return against(read, high, within, much)
    little = "the plate as read is lower than the spread explains: the tube draws too much"
    return against(read, low, little, within)


def _output_stage(given: Given) -> Outcome:
    model = given.model()
    kind, shared = given.word("kind"), int(given.value("sharing"))
    if given.has("bias") == given.has("cathode"):
        raise BadReading("output-stage", "give either the cathode resistor or the fixed bias.",
                         "cathode=180 or bias=-38.7")  # fmt: skip
    stage = Output(
        given.value("supply"), given.value("primary"), given.value("load"),
        cathode_ohm=given.value("cathode") if given.has("cathode") else 0.0,
        bias_v=given.value("bias") if given.has("bias") else 0.0,
        screen_v=given.value("screen_supply") if given.has("screen_supply") else None,
        screen_ohm=given.value("screen"), shared=shared,
    )  # fmt: skip
    mid = idle_point(model, stage)
    share = _spread(model, mid.plate_a)
    low, high = (idle_point(model.giving(part), stage) for part in (1 - share, 1 + share))
    watts = _between(low.dissipation_w, mid.dissipation_w, high.dissipation_w, "W")
    power = pair_power(model, stage)[0] if kind == "pair" else single_power(model, stage)[0]
    rows = [("plate current", _between(low.plate_a, mid.plate_a, high.plate_a, "A"))]
    rows += _point_rows(low, mid, high)
    rows.append(("screen dissipation", plain(mid.screen_w, "W")))
    rows.append(("power, most", plain(power, "W")))
    says = f"Each {model.type} idles at {si(mid.dissipation_w, 'W')}"
    marks = [model.misfit_words, model.note]
    rests = f"Koren model '{model.id}' and {SPREAD_WORDS}"
    tube = given.shelf.tubes.get(model.type)
    if tube is not None:
        rated, words, mark = given.limit(tube, "plate_w")
        if rated is not None:
            says += f", {mid.dissipation_w / rated:.0%} of {si(rated, 'W')}"
            marks.append(mark)
            rests += f"; {words}"
    swing = "up to grid current; no sag, no transformer loss"
    return Outcome(
        watts, f"{says}; about {si(power, 'W')} {swing}.",
        rests,
        _load_steps(stage.stage(), mid), tuple(rows), tuple(m for m in marks if m),
        picture=_output_picture(model, stage, mid, kind),
    )  # fmt: skip


def _output_picture(model: TubeModel, stage: Output, mid: Point, kind: str) -> Graph:
    """Curves, and the line of the signal's load through the idle point (of a pair: a quarter)."""
    across, screen = mid.plate_v - mid.cathode_v, mid.screen_v - mid.cathode_v
    load = stage.load_ohm / 4.0 if kind == "pair" else stage.load_ohm
    base = 0.0 if kind == "pair" else mid.plate_a
    end = across if kind == "pair" else across + mid.plate_a * load
    most = 1.2 * (base + across / load)
    wide = min(max(end, across), 2.2 * across)
    volts = np.linspace(0.0, wide, 160)
    curves: list[Series] = []
    for grid in (0.0, mid.grid_v / 2, mid.grid_v):
        current = flow(model, volts, grid, screen).plate
        keep = current <= most
        curves.append(line(f"{grid:.3g} V", volts[keep], current[keep]))
    straight = line("load", [0.0, end], [base + across / load, 0.0])
    mark = Mark(across, mid.plate_a, f"idle {si(across, 'V')}, {si(mid.plate_a, 'A')}")
    return Graph(f"{model.type}: output stage", Axis("plate to cathode volts", "V", 0.0, wide),
                 Axis("plate current", "A", 0.0, most), (straight, *curves), (mark,))  # fmt: skip


TUBE = Param("tube", "", "tube type, or the id of a model set (12ax7_koren)", sort="tube")
_LOADS = (
    Param("supply", "V", "the supply that feeds the plate resistor"),
    Param("load", "ohm", "plate resistor"),
)

LOAD_LINES: tuple[Check, ...] = (
    Check(
        "load-line", "where a resistance-coupled stage settles, and its gain",
        (
            TUBE, *_LOADS,
            Param("cathode", "ohm", "cathode resistor; 0 where the cathode is grounded", "0"),
            Param("next", "ohm", "grid leak of the next stage", ""),
            Param("bias", "V", "grid volts against ground", "0"),
            Param("screen", "ohm", "a pentode's screen resistor", ""),
            Param("screen_supply", "V", "screen volts, or the supply of its resistor", ""),
            Param("parts", "%", "tolerance of the resistors", "10"),
            Param("plate", "V", "plate volts as read, to be judged", "", reading="dc_volts"),
        ),
        _load_line, "tube=12ax7_koren supply='330 V' load=100k cathode=1k5 plate='221 V'",
        draws=True,
    ),
    Check(
        "output-stage", "idle and power of an output tube, or of a pair",
        (
            TUBE,
            Param("supply", "V", "B+ at the transformer"),
            Param("primary", "ohm", "DC resistance of the winding to this plate", "100"),
            Param("load", "ohm", "load the primary shows; of a pair plate to plate"),
            Param("cathode", "ohm", "cathode resistor, for cathode bias", ""),
            Param("bias", "V", "grid volts, for fixed bias", ""),
            Param("screen", "ohm", "screen resistor of each tube", "0"),
            Param("screen_supply", "V", "supply of the screens; B+ if left out", ""),
            Param("sharing", "", "tubes on one cathode resistor", "1"),
            Param("kind", "", "single or pair", "single", "word", ("single", "pair")),
        ),
        _output_stage,
        "tube=6L6GC supply='404 V' load=6k6 bias='-38.7 V' screen=470 kind=pair", draws=True,
    ),
)  # fmt: skip
