"""Read and print values as engineers write them: 4k7, 47 mV, .022 mfd, 0,47 µF, R47, OL, >400 mV.

Inside, everything is SI and float: V A ohm F H W Hz s J S. ``%`` stays per cent, ``degC`` stays degC.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from triage.errors import BadReading

Trend = Literal["", "rising", "falling", "unsteady"]

PREFIXES: dict[str, float] = {
    "p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3, "": 1.0,
    "k": 1e3, "K": 1e3, "M": 1e6, "meg": 1e6, "Meg": 1e6, "G": 1e9,
}  # fmt: skip
_UNITS: dict[str, tuple[str, ...]] = {
    "V": ("V", "v", "volt", "volts", "VDC", "VAC", "Vdc", "Vac", "Vpp", "Vrms"),
    "A": ("A", "amp", "amps", "ampere", "amperes"),
    "ohm": ("ohm", "ohms", "Ohm", "Ohms", "Ω", "Ω", "R"),
    "F": ("F", "farad", "fd", "FD"),
    "H": ("H", "henry", "henries", "Hy", "hy"),
    "W": ("W", "w", "watt", "watts"),
    "Hz": ("Hz", "hz", "HZ", "c/s", "cps", "hertz"),
    "s": ("s", "sec", "second", "seconds"),
    "J": ("J", "joule", "joules"),
    "S": ("S", "siemens", "mho", "mhos", "A/V"),
    "%": ("%", "percent", "per cent"),
    "degC": ("degC", "°C", "C", "deg C"),
    "dB": ("dB", "db", "decibel", "decibels"),
}
_NO_PREFIX = {"%", "degC", "dB"}
_WHOLE: dict[str, tuple[str, float]] = {
    "mfd": ("F", 1e-6), "MFD": ("F", 1e-6), "mf": ("F", 1e-6), "MF": ("F", 1e-6),
    "mmfd": ("F", 1e-12), "MMFD": ("F", 1e-12), "mmf": ("F", 1e-12), "MMF": ("F", 1e-12),
    "µµF": ("F", 1e-12), "uuF": ("F", 1e-12), "megohm": ("ohm", 1e6), "megohms": ("ohm", 1e6),
    "min": ("s", 60.0), "minute": ("s", 60.0), "minutes": ("s", 60.0), "ma": ("A", 1e-3),
    "mv": ("V", 1e-3), "KHz": ("Hz", 1e3), "Mohm": ("ohm", 1e6),
    "h": ("s", 3600.0), "hour": ("s", 3600.0), "hours": ("s", 3600.0),
}  # fmt: skip
LEAST_SIZE, MOST_SIZE = 1e-18, 1e18
"""Sizes in SI between which every number of a bench lies, far inside what floats can bear."""
_OVER = {"ol", "o.l", "o.l.", "over", "overload", "open", "inf", "infinite", "infinity", "∞"}
_NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_PLAIN = re.compile(rf"({_NUMBER})\s*(.*)", re.DOTALL)
_INFIX = re.compile(r"([+-]?)(\d*)(meg|[pnuµμmkKMGRrΩ])(\d+)\s*(.*)", re.DOTALL)
_TREND: dict[str, Trend] = {
    "rising": "rising", "rises": "rising", "climbing": "rising", "going up": "rising",
    "falling": "falling", "falls": "falling", "dropping": "falling", "going down": "falling",
    "unsteady": "unsteady", "jumping": "unsteady", "wandering": "unsteady",
}  # fmt: skip
EXAMPLES = {
    "V": "47 mV or -38 V", "A": "35 mA", "ohm": "4k7 or 1 Mohm", "F": "0.022 uF or 22n",
    "H": "10 H",
    "W": "12 W", "Hz": "120 Hz", "s": "2 min", "J": "5 J", "%": "5 %", "S": "4.4 mA/V",
    "dB": "-12 dB", "degC": "45 degC", "": "3.5",
}  # fmt: skip


@dataclass(frozen=True)
class Typed:
    """What was typed, in SI: ``low``..``high`` (equal for a plain value, infinite for < and >).

    A bare trend ("rising") has ``low`` -inf and ``high`` +inf. ``unit`` is "" if none is known.
    ``over`` says that the meter showed OL. ``had_unit`` tells a typed unit from a supplied one.
    """

    low: float
    high: float
    unit: str
    trend: Trend = ""
    over: bool = False
    had_unit: bool = True

    @property
    def exact(self) -> bool:
        """Whether it is one finite number."""
        return self.low == self.high and math.isfinite(self.low)

    @property
    def value(self) -> float:
        """The number, or the middle of a bounded range.

        Raises
        ------
        BadReading : only a bound or a trend was typed.
        """
        if not (math.isfinite(self.low) and math.isfinite(self.high)):
            raise BadReading(str(self), "this is a bound or a trend, not one number", "47 mV")
        return (self.low + self.high) / 2


def _unit_table() -> dict[str, tuple[str, float]]:
    table: dict[str, tuple[str, float]] = {}
    for unit, spellings in _UNITS.items():
        for spelling in spellings:
            for prefix, factor in PREFIXES.items():
                if prefix and unit in _NO_PREFIX:
                    continue
                table.setdefault(prefix + spelling, (unit, factor))
    for spelling in _UNITS["s"]:
        table[spelling] = ("s", 1.0)
    return table | _WHOLE


_TABLE = _unit_table()


def _suffix(text: str, rest: str, expect: str) -> tuple[str, float, bool]:
    """Unit, factor, and whether a unit was written, of what follows the number."""
    rest = rest.strip()
    if rest == "":
        return expect, 1.0, False
    if rest in PREFIXES and not (rest in _TABLE and _TABLE[rest][0] == expect):
        return expect, PREFIXES[rest], False
    if expect == "F" and rest in ("MFd", "Mfd", "mF"):
        if rest == "mF":
            raise BadReading(text, "'mF' meant microfarad in the old trade, millifarad today",
                             "100 uF or 0.1e-3 F")  # fmt: skip
        return "F", 1e-6, True
    found = _TABLE.get(rest) or _TABLE.get(re.sub(r"\s+", "", rest))
    if found is None:
        raise BadReading(
            text, f"'{rest}' is no unit that is known here", EXAMPLES.get(expect, "47 mV")
        )
    unit, factor = found
    if expect and unit != expect:
        raise BadReading(text, f"this is in {unit}, but {expect} is asked for", EXAMPLES[expect])
    return unit, factor, True


def _number(text: str, digits: str) -> float:
    """Number with point or decimal comma; refuses what could be a thousands comma."""
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", digits):
        raise BadReading(text, "the comma could part thousands or decimals", "1234 or 1.234")
    value = float(digits.replace(",", "."))
    if not math.isfinite(value):
        raise BadReading(text, "the number is too large", "47 mV")
    return value


def _plain(text: str, body: str, expect: str) -> tuple[float, str, bool]:
    """One number with unit -> SI value, unit, whether a unit was written."""
    body = body.strip().replace("\u2212", "-")
    infix = _INFIX.fullmatch(body)
    if infix and expect in ("", "ohm", "F", "H", "V", "A", "W"):
        sign, whole, letter, part, rest = infix.groups()
        if not (letter in "Rr" and expect not in ("", "ohm")):
            number = float(f"{sign}{whole or 0}.{part}")
            ohmic = letter in "RrΩ"
            factor = 1.0 if ohmic else PREFIXES[letter]
            unit, more, had = _suffix(text, rest, "ohm" if ohmic and not expect else expect)
            return _on_a_bench(text, number * factor * more, expect), unit, had or ohmic
    match = _PLAIN.fullmatch(body)
    if match is None:
        raise BadReading(text, "no number was found in it", EXAMPLES.get(expect, "47 mV"))
    value = _number(text, match[1])
    unit, factor, had = _suffix(text, match[2], expect)
    return _on_a_bench(text, value * factor, expect), unit, had


def _on_a_bench(text: str, value: float, expect: str) -> float:
    """Refuse what no bench has in any unit: arithmetic with it runs over, or ends at nothing."""
    if value != 0 and not LEAST_SIZE <= abs(value) <= MOST_SIZE:
        size = "small" if abs(value) < LEAST_SIZE else "large"
        raise BadReading(text, f"the number is too {size}", EXAMPLES.get(expect, "47 mV"))
    return value


def parse(text: str, unit: str = "") -> Typed:
    """Read what a person typed; ``unit`` is the SI unit asked for ("" takes any).

    Takes 4k7, R47, 47 mV, ".022 mfd", "0,47 µF", "mmf", "OL", ">400 mV", "<1", "12 to 15 V",
    "400 mV rising", "rising".

    Raises
    ------
    BadReading : with an example that is accepted.
    """
    body = text.strip()
    trend: Trend = ""
    for word, kind in _TREND.items():
        if body.lower().endswith(word):
            trend, body = kind, body[: -len(word)].strip(" ,;")
            break
    if not body:
        if trend:
            return Typed(-math.inf, math.inf, unit, trend, had_unit=False)
        raise BadReading(text, "nothing was typed", EXAMPLES.get(unit, "47 mV"))
    if body.lower().lstrip("0") in _OVER:
        return Typed(math.inf, math.inf, unit, trend, over=True, had_unit=False)
    bound = re.fullmatch(
        r"(>=?|<=?|≥|≤|over |above |under |below |about |~)\s*(.+)", body, re.DOTALL
    )
    if bound:
        value, found, had = _plain(text, bound[2], unit)
        if bound[1].strip() in (">", ">=", "≥", "over", "above"):
            return Typed(value, math.inf, found, trend, had_unit=had)
        if bound[1].strip() in ("<", "<=", "≤", "under", "below"):
            return Typed(-math.inf, value, found, trend, had_unit=had)
        ends = sorted((value * 0.9, value * 1.1))
        return Typed(ends[0], ends[1], found, trend, had_unit=had)
    ranged = re.fullmatch(rf"(.+?)\s*(?:\bto\b|\.\.|…|–)\s*({_NUMBER}.*)", body, re.DOTALL)
    if ranged:
        return _range(text, ranged[1], ranged[2], unit, trend)
    value, found, had = _plain(text, body, unit)
    return Typed(value, value, found, trend, had_unit=had)


def _range(text: str, first: str, second: str, unit: str, trend: Trend) -> Typed:
    high, found, had = _plain(text, second, unit)
    match = _PLAIN.fullmatch(first.strip())
    if match and not match[2].strip():
        tail = _PLAIN.fullmatch(second.strip())
        low = _plain(text, first + " " + (tail[2] if tail else ""), unit)[0]
    else:
        low = _plain(text, first, found)[0]
    return Typed(min(low, high), max(low, high), found, trend, had_unit=had)


def value_of(text: str | float, unit: str = "") -> float:
    """SI number of a plain value such as a setting in a file: ``value_of("5 Mohm", "ohm")``.

    Raises
    ------
    BadReading : not one plain value of that unit.
    """
    if isinstance(text, (int, float)):
        return float(text)
    typed = parse(text, unit)
    if not typed.exact:
        raise BadReading(text, "one plain value is needed here", EXAMPLES.get(unit, "47 mV"))
    return typed.low


_STEPS = (
    (1e9, "G"),
    (1e6, "M"),
    (1e3, "k"),
    (1.0, ""),
    (1e-3, "m"),
    (1e-6, "µ"),
    (1e-9, "n"),
    (1e-12, "p"),
)
_SIGNS = {"ohm": "Ω", "degC": "°C"}


def format_si(value: float, unit: str = "", digits: int = 3) -> str:
    """Print an SI value with ``digits`` significant figures: ``format_si(2.2e-8, "F")`` -> '22 nF'.

    Resistance is printed with Ω. An infinite value prints as OL.
    """
    if math.isinf(value):
        return "OL" if value > 0 else "-OL"
    shown = _SIGNS.get(unit, unit)
    if value == 0 or unit == "" or unit in _NO_PREFIX:
        text = f"{value:.{digits}g}" if value else "0"
        return f"{text} {shown}".strip()
    rounded = float(f"{value:.{digits}g}")
    steps = [step for step in _STEPS if not (unit == "F" and step[1] in "mMG" and step[1])]
    fits = [pair for pair in steps if abs(rounded) >= pair[0] * 0.9999999999]
    step, prefix = fits[0] if fits else steps[-1]
    number = rounded / step
    places = max(0, digits - 1 - math.floor(math.log10(abs(number)) + 1e-9))
    text = f"{number:.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {prefix}{shown}"
