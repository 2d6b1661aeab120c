"""Slips of reading: what looks wrong is asked about, never corrected in silence."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from triage.measure.bands import quantity_of
from triage.measure.quantity import Quantity
from triage.units import Typed, format_si

Slip = Literal[
    "thousandfold", "thousandth", "sign", "ac_for_dc", "over_range", "above_all", "unit",
    "current_socket", "wrong_ground",
]  # fmt: skip
Context = Mapping[str, "str | float | Quantity"]

MOST_V = 1500.0
"""Volts above which no amplifier within scope goes; a reading beyond is asked about."""


@dataclass(frozen=True)
class Question:
    """A doubt about a reading: what to ask, and the value meant if the answer is yes.

    ``meant`` is None where the reading has to be taken again.
    """

    slip: Slip
    ask: str
    meant: float | None = None


def doubt(typed: Typed, context: Context) -> Question | None:
    """Question about a typed reading, or None if nothing looks like a slip.

    ``context`` may hold ``expected`` (value in the reading's unit), ``reading`` (dc_volts, ...),
    ``point`` (output_grid, ...), ``max_v`` (highest voltage of the amplifier), ``last_reading``
    (what the meter was set for before), ``between_grounds`` (volts from chassis to B-).
    """
    if typed.over:
        return _over(context)
    if not typed.exact:
        return None
    for check in (_socket, _ground, _sign, _factor, _above_all, _rectified):
        found = check(typed, context)
        if found is not None:
            return found
    return None


def _over(context: Context) -> Question | None:
    reading = str(context.get("reading", ""))
    if reading == "ohms":
        return None
    return Question(
        "over_range",
        "The meter shows over range: is the range too low, or a lead in the wrong jack? "
        "Set the highest range and read again.",
    )


def _socket(typed: Typed, context: Context) -> Question | None:
    """Ask about zero volts right after a current: the red lead may still be in its socket."""
    if context.get("last_reading") not in ("dc_ma", "ac_ma"):
        return None
    if context.get("reading") not in ("dc_volts", "ac_volts") or abs(typed.low) > 0.1:
        return None
    expected = quantity_of(context, "expected", "V")
    if expected is not None and abs(expected.value) < 1.0:
        return None
    return Question(
        "current_socket",
        "Zero volts, and the meter read a current before: power off, and look whether the red lead "
        "is still in the current socket. Move it, try the meter on a battery, and read again.",
    )


def _ground(typed: Typed, context: Context) -> Question | None:
    """Ask about a reading that is off by what lies between chassis and B-."""
    expected = quantity_of(context, "expected", typed.unit)
    between = quantity_of(context, "between_grounds", "V")
    if typed.unit != "V" or expected is None or between is None or abs(between.value) < 2.0:
        return None
    off = abs(typed.low - expected.value)
    if abs(off - abs(between.value)) > 0.1 * abs(between.value) or off < 0.1 * abs(expected.value):
        return None
    return Question(
        "wrong_ground",
        f"{format_si(typed.low, 'V')} is off by the {format_si(abs(between.value), 'V')} between "
        "chassis and B-: was the black clip on the other of the two? Read again from the right one.",
    )


def _sign(typed: Typed, context: Context) -> Question | None:
    negative = context.get("point") == "output_grid" and context.get("bias") == "fixed"
    expected = quantity_of(context, "expected", typed.unit)
    negative = negative or (expected is not None and expected.value < 0)
    if not negative or typed.low <= 0 or typed.low < 1.0:
        return None
    shown = format_si(typed.low, typed.unit)
    return Question(
        "sign",
        f"Fixed bias is negative and {shown} was typed: was it -{shown} on the meter? "
        "If it is truly positive, switch off now: the tube has no bias.",
        -typed.low,
    )


def _factor(typed: Typed, context: Context) -> Question | None:
    expected = quantity_of(context, "expected", typed.unit)
    if expected is None or expected.value == 0 or typed.low == 0:
        return None
    ratio = abs(typed.low / expected.value)
    for slip, factor in (("thousandfold", 1e3), ("thousandth", 1e-3)):
        if 0.5 < ratio / factor < 2.0:
            meant = typed.low / factor
            return Question(
                "thousandfold" if slip == "thousandfold" else "thousandth",
                f"{format_si(typed.low, typed.unit)} is a thousand times off what is usual here: "
                f"was it {format_si(meant, typed.unit)}?",
                meant,
            )
    return None


def _above_all(typed: Typed, context: Context) -> Question | None:
    if typed.unit != "V":
        return None
    highest = quantity_of(context, "max_v", "V")
    limit = MOST_V if highest is None else 1.3 * highest.value
    if abs(typed.low) <= limit:
        return None
    return Question(
        "above_all",
        f"{format_si(typed.low, 'V')} is more than this amplifier should hold "
        f"({format_si(limit, 'V')}): were it millivolts, {format_si(typed.low / 1e3, 'V')}?",
        typed.low / 1e3,
    )


def _rectified(typed: Typed, context: Context) -> Question | None:
    """Ask about AC volts of a DC node: rectifier meters show 1.11 or 2.22 times."""
    if context.get("reading") != "ac_volts":
        return None
    node = quantity_of(context, "node_v", "V")
    if node is None or node.value <= 0:
        return None
    ratio = abs(typed.low) / node.value
    shown = (1.0, math.pi / (2 * math.sqrt(2)), math.pi / math.sqrt(2))
    if not any(abs(ratio - factor) < 0.05 * factor for factor in shown):
        return None
    return Question(
        "ac_for_dc",
        f"{format_si(typed.low, 'V')} AC is about what the DC of {format_si(node.value, 'V')} "
        "makes on a meter's AC range: put a blocking capacitor rated for the full voltage in "
        "series, fitted while dead, and read again.",
    )
