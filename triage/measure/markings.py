"""Markings of resistors and capacitors: colour bands, letter codes, three-figure codes.

Source: IEC 60062 (colours and letters, from memory; letter examples seen quoted), EIA-198 (figures
of capacitors, from memory).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from triage.errors import BadReading
from triage.units import format_si

COLOURS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
COLOURS_VALUE: dict[str, float] = {name: float(index) for index, name in enumerate(COLOURS)}
_SAME = {"purple": "violet", "gray": "grey"}
_TIMES = {"gold": -1, "silver": -2, "pink": -3}
_TOLERANCE = {
    "brown": 0.01, "red": 0.02, "orange": 0.0005, "yellow": 0.0002, "green": 0.005, "blue": 0.0025,
    "violet": 0.001, "grey": 0.0005, "gold": 0.05, "silver": 0.10, "none": 0.20,
}  # fmt: skip
"""Tolerance by colour (IEC 60062, from memory). Editions differ on grey (0.01 or 0.05 %): the wider."""
_DRIFT = {
    "black": 250, "brown": 100, "red": 50, "orange": 15, "yellow": 25, "green": 20, "blue": 10,
    "violet": 5, "grey": 1,
}  # fmt: skip
LETTERS = {
    "B": 0.001, "C": 0.0025, "D": 0.005, "F": 0.01, "G": 0.02, "H": 0.03, "J": 0.05, "K": 0.10, "M": 0.20,
}  # fmt: skip
"""Tolerance letters (IEC 60062); B, C, D, F mean pF instead on capacitors below 10 pF."""
_SKEWED = {"S": (-0.20, 0.50), "Z": (-0.20, 0.80), "Q": (-0.10, 0.30), "T": (-0.10, 0.50),
           "P": (0.0, 1.0)}  # fmt: skip
_PICOFARAD = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0}
_DECIMAL = re.compile(r"(\d*)([RKMGTLpnuµμm])(\d*)([A-Z]?)")
_OHM_STEPS = {"L": 1e-3, "R": 1.0, "K": 1e3, "M": 1e6, "G": 1e9, "T": 1e12}
_FARAD_STEPS = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3}
E24 = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
)  # fmt: skip
"""Preferred values of 5 % parts (IEC 60063, from memory)."""


@dataclass(frozen=True)
class Marked:
    """What a marking says: SI value and unit, tolerance down and up as shares, ppm per kelvin.

    ``low`` and ``high`` are the limits of the value. No tolerance marked: 20 % on three bands, and
    None (with limits equal to the value) on codes.
    """

    value: float
    unit: str
    minus: float | None
    plus: float | None
    ppm: int | None = None

    @property
    def low(self) -> float:
        """Least value within tolerance."""
        return self.value * (1.0 + (self.minus or 0.0))

    @property
    def high(self) -> float:
        """Largest value within tolerance."""
        return self.value * (1.0 + (self.plus or 0.0))

    def __str__(self) -> str:
        """Render as '4.7 kΩ ± 5 %'."""
        text = format_si(self.value, self.unit, 4)
        if self.minus is None or self.plus is None:
            return text
        if self.minus == -self.plus:
            return f"{text} ± {self.plus * 100:g} %"
        return f"{text} {self.minus * 100:+g} {self.plus * 100:+g} %"


def resistor_bands(bands: Sequence[str]) -> Marked:
    """Resistor of three to six colour bands, read from the end they crowd at.

    Three: two figures, times (20 %). Four: and tolerance. Five: three figures. Six: and ppm/K.

    Raises
    ------
    BadReading : another number of bands, an unknown colour, or one that has no meaning there.
    """
    names = [_SAME.get(band.strip().lower(), band.strip().lower()) for band in bands]
    typed = " ".join(names)
    if not 3 <= len(names) <= 6:
        raise BadReading(typed, "a resistor has three to six bands", "yellow violet red gold")
    count = 2 if len(names) <= 4 else 3
    figures = [_of(COLOURS_VALUE, name, typed, "figure") for name in names[:count]]
    exponent = _of({**COLOURS_VALUE, **_TIMES}, names[count], typed, "multiplier")
    tolerance = _of(_TOLERANCE, names[count + 1], typed, "tolerance") if len(names) > 3 else 0.20
    ppm = _of(_DRIFT, names[5], typed, "temperature") if len(names) == 6 else None
    number = int("".join(str(int(figure)) for figure in figures))
    value = number * 10.0 ** int(exponent)
    return Marked(value, "ohm", -tolerance, tolerance, None if ppm is None else int(ppm))


def _of(table: dict[str, float] | dict[str, int], name: str, typed: str, what: str) -> float:
    if name not in table:
        raise BadReading(
            typed, f"'{name}' is no {what} (there are {', '.join(table)})", "yellow violet red gold"
        )
    return float(table[name])


def bands_of(ohm: float, tolerance: float = 0.05) -> tuple[str, ...]:
    """Four colour bands of a resistance, to two figures.

    Raises
    ------
    BadReading : no such tolerance band, or a value outside 0.1 ohm to 99 Gohm.
    """
    words = {share: name for name, share in _TOLERANCE.items()}
    if not 0.1 <= ohm < 99.5e9 or tolerance not in words:
        raise BadReading(
            f"{ohm:g} ohm, {tolerance:g}", "four bands cannot say it", "4700 ohm, 0.05"
        )
    mantissa, exponent = f"{ohm:.1e}".split("e")
    figures = mantissa.replace(".", "")
    times = int(exponent) - 1
    multiplier = COLOURS[times] if times >= 0 else {-1: "gold", -2: "silver"}[times]
    found = [*(COLOURS[int(figure)] for figure in figures), multiplier]
    return tuple(found) if tolerance == 0.20 else (*found, words[tolerance])


def resistor_code(text: str) -> Marked:
    """Resistor in letters (IEC 60062): 4K7, R47, 470R, 47K3, 1M0J; or figures: 4702F, 103.

    Raises
    ------
    BadReading : no such code.
    """
    typed = text.strip()
    match = _DECIMAL.fullmatch(typed.upper().replace("Ω", "R"))
    if match and match[2] in _OHM_STEPS and (match[1] or match[3]):
        number = float(f"{match[1] or 0}.{match[3] or 0}")
        return _marked(number * _OHM_STEPS[match[2]], "ohm", match[4], typed, "4K7J")
    figures = re.fullmatch(r"(\d{2,3})(\d)([A-Z]?)", typed.upper())
    if figures and len(figures[1]) + 1 in (3, 4):
        value = int(figures[1]) * 10.0 ** int(figures[2])
        return _marked(value, "ohm", figures[3], typed, "4K7J")
    raise BadReading(typed, "this is no resistor code", "4K7, R47, 470R or 4K7J")


def capacitor_code(text: str) -> Marked:
    """Capacitor in figures (pF): 473K, 104, 4R7D; or letters (IEC 60062): 4n7, µ33, 33p, 3n3J.

    Three figures are two and a number of zeros, in pF; 8 and 9 as the last mean a hundredth and a
    tenth.

    Raises
    ------
    BadReading : no such code.
    """
    typed = text.strip()
    figures = re.fullmatch(r"(\d{2})(\d)([A-Z]?)", typed.upper())
    if figures:
        zeros = {8: -2, 9: -1}.get(int(figures[2]), int(figures[2]))
        return _marked(int(figures[1]) * 10.0**zeros * 1e-12, "F", figures[3], typed, "473K")
    small = re.fullmatch(r"(\d*)R(\d+)([A-Z]?)", typed.upper())
    if small:
        value = float(f"{small[1] or 0}.{small[2]}") * 1e-12
        return _marked(value, "F", small[3], typed, "4R7D")
    match = _DECIMAL.fullmatch(typed)
    if match and match[2] in _FARAD_STEPS and (match[1] or match[3]):
        number = float(f"{match[1] or 0}.{match[3] or 0}")
        return _marked(number * _FARAD_STEPS[match[2]], "F", match[4], typed, "4n7K")
    raise BadReading(typed, "this is no capacitor code", "473K, 104, 4R7D or 4n7K")


def _marked(value: float, unit: str, letter: str, typed: str, example: str) -> Marked:
    if value <= 0.0:
        raise BadReading(typed, "a marked value is above zero", example)
    if not letter:
        return Marked(value, unit, None, None)
    if unit == "F" and value < 9.99e-12 and letter in _PICOFARAD:
        share = _PICOFARAD[letter] * 1e-12 / value
        return Marked(value, unit, -share, share)
    if letter in LETTERS:
        return Marked(value, unit, -LETTERS[letter], LETTERS[letter])
    if letter in _SKEWED:
        return Marked(value, unit, *_SKEWED[letter])
    raise BadReading(typed, f"'{letter}' is no tolerance letter", example)


def nearest_preferred(ohm: float) -> float:
    """Nearest value of the E24 series, by ratio.

    Raises
    ------
    BadReading : not above zero.
    """
    if not 0.0 < ohm < math.inf:
        raise BadReading(str(ohm), "a value above zero is needed", "4700")
    decade = 10.0 ** math.floor(math.log10(ohm))
    choices = [value * decade for value in (*E24, 10.0)]
    return min(choices, key=lambda value: abs(math.log(value / ohm)))
