"""Series-lamp limiter: the lamp's resistance, what glow to expect, which readings mean nothing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from triage.errors import OutOfRange
from triage.measure.roots import root
from triage.measure.worked import given
from triage.units import format_si

CURRENT_EXPONENT = 0.55
"""I goes as V^0.55 (lamp rerating, seen in an encyclopaedia which cites a standard handbook)."""
COLD_SHARE = 1.0 / 14.0
"""Cold over hot resistance of a mains lamp, about 1/12 to 1/15 (from memory)."""
BULBS_W = (25.0, 40.0, 60.0, 75.0, 100.0, 150.0, 200.0, 300.0)
"""Incandescent lamps as sold, W."""
Glow = Literal["dark", "dull_red", "orange", "bright", "full"]
_GLOWS: tuple[tuple[float, Glow], ...] = (
    (0.10, "dark"), (0.25, "dull_red"), (0.50, "orange"), (0.85, "bright"),
)  # fmt: skip
"""Share of its rated volts up to which a lamp looks so (common practice, no source)."""
MEANINGLESS: dict[str, str] = {
    "bias_current": "heaters run low and B+ is down: idle current on the lamp says nothing",
    "plate_dissipation": "volts and current are both down, and not by one ratio",
    "emission": "cathodes are not at their temperature",
    "hum": "the ripple's size follows a load and a line that are not the real ones",
    "b_plus_as_value": "it depends on the lamp; with tubes cold or out it may be at the full peak",
    "heater_volts": "low by as much as the lamp takes, and not of service",
    "output_power": "the supply collapses with drive",
    "line_leakage": "the lamp lies in the path",
    "fuse_choice": "the lamp, not the fuse, sets the current",
}
"""Readings that mean nothing on a limiter, with the reason; they are taken at full line later."""
STILL_MEANS: dict[str, str] = {
    "short": "a lamp at full brilliance means a short or near short behind it",
    "bias_over_line": "fixed bias over line volts, as a ratio, is the same as at full line",
    "polarity": "sign of a bias, of a rail",
    "presence": "whether a voltage is there at all, and whether the halves are alike",
}
"""What can be told on a limiter."""
BANNER = "A lamp limits current, not voltage: B+ may be at FULL voltage, the chassis fully live."


@dataclass(frozen=True)
class Lamp:
    """A mains incandescent lamp; LED and fluorescent lamps limit nothing.

    ``watts`` 5 to 1000 W at ``rated_v`` 90 to 260 V.

    Raises
    ------
    OutOfRange : a value outside its range.
    """

    watts: float
    rated_v: float

    def __post_init__(self) -> None:
        given("lamp", self.watts, "W", least=5.0, most=1000.0)
        given("rated volts of the lamp", self.rated_v, "V", least=90.0, most=260.0)

    @property
    def hot_ohm(self) -> float:
        """Resistance in ohm at rated volts: V²/W."""
        return self.rated_v**2 / self.watts

    @property
    def cold_ohm(self) -> float:
        """Resistance in ohm at room temperature, as an ohmmeter reads it: a fourteenth of hot."""
        return COLD_SHARE * self.hot_ohm

    def ohm(self, volts: float) -> float:
        """Resistance in ohm with ``volts`` across it, settled: hot (V/V_r)^0.45, not below cold.

        Valid from 0 to 1.1 times the rated volts; below a tenth it is a guess between the two.

        Raises
        ------
        OutOfRange : volts outside that range.

        Source
        ------
        Lamp rerating I ~ V^0.55, so R ~ V^0.45.
        """
        v = given("volts at the lamp", volts, "V", least=0.0, most=1.1 * self.rated_v + 1e-9).value
        share = v / self.rated_v
        return max(self.cold_ohm, self.hot_ohm * float(share ** (1.0 - CURRENT_EXPONENT)))

    def current(self, volts: float) -> float:
        """Settled current in A with ``volts`` across it; range and errors as ``ohm``."""
        return volts / self.ohm(volts)


def lamp_glow(share: float) -> Glow:
    """How a lamp looks at a share of its rated volts, 0 to 1.1.

    Raises
    ------
    OutOfRange : a share outside that range.

    Source
    ------
    Common practice, no source.
    """
    x = given("share of the rated volts", share, "", least=0.0, most=1.1 + 1e-9).value
    return next((word for edge, word in _GLOWS if x <= edge), "full")


@dataclass(frozen=True)
class Expectation:
    """Settled state behind a lamp: V at lamp and load, A, share of line at the load, the glow."""

    lamp_v: float
    load_v: float
    amps: float
    load_share: float
    glow: Glow
    flash_a: float
    says: str
    steps: tuple[str, ...]


def expect(lamp: Lamp, load_w: float, line_v: float, exponent: float = 0.55) -> Expectation:
    """What to expect of a load of ``load_w`` at full line, fed through a lamp.

    Lamp and load carry one current: I_lamp(V - V_load) = I_load(V_load), with
    I_load = W/V (V_load/V)^exponent. ``exponent``: 1 for a resistor, 0.55 for heaters and for an
    amplifier as a whole (heaters take most of it). Valid for 0 to 2000 W, lines of 90 to 1.1 times
    the lamp's volts, exponents 0.3 to 2. ``flash_a`` is the most that the cold lamp lets through.

    Raises
    ------
    OutOfRange : a value outside its range.

    Source
    ------
    Lamp rerating for both; the load's exponent: bench review, common practice.
    """
    watts = given("load", load_w, "W", least=0.0, most=2000.0).value
    line = given("line volts", line_v, "V", least=90.0, most=1.1 * lamp.rated_v).value
    power = given("exponent of the load", exponent, "", least=0.3, most=2.0).value

    def load_a(volts: float) -> float:
        return watts / line * float((max(volts, 0.0) / line) ** power)

    def miss(volts: float) -> float:
        return lamp.current(line - volts) - load_a(volts)

    load_v = line if watts == 0.0 else root(miss, 0.0, line)
    lamp_v = max(line - load_v, 0.0)
    amps = load_a(load_v)
    glow = lamp_glow(lamp_v / lamp.rated_v)
    says = f"{glow.replace('_', ' ')}; {load_v:.0f} V ({load_v / line:.0%}) at the load. {BANNER}"
    steps = (
        f"lamp {format_si(lamp.hot_ohm, 'ohm')} hot, {format_si(lamp.cold_ohm, 'ohm')} cold",
        f"{line:g} V = {lamp_v:.1f} V lamp + {load_v:.1f} V load, both at {format_si(amps, 'A')}",
        f"lamp at {lamp_v / lamp.rated_v:.0%} of its volts: {glow.replace('_', ' ')}",
    )
    return Expectation(lamp_v, load_v, amps, load_v / line, glow, line / lamp.cold_ohm, says, steps)


def shorted(lamp: Lamp, line_v: float) -> Expectation:
    """What a dead short behind the lamp looks like: the whole line at the lamp, full brilliance.

    Raises
    ------
    OutOfRange : a line outside 90 V to 1.1 times the lamp's volts.
    """
    line = given("line volts", line_v, "V", least=90.0, most=1.1 * lamp.rated_v).value
    amps = lamp.current(line)
    glow = lamp_glow(line / lamp.rated_v)
    step = f"short: {line:g} V at the lamp, {format_si(amps, 'A')}, {amps * line:.0f} W"
    return Expectation(line, 0.0, amps, 0.0, glow, line / lamp.cold_ohm,
                       "full brilliance that stays: short behind it", (step,))  # fmt: skip


def next_bulb(load_w: float, line_v: float, least_share: float = 0.75) -> Lamp:
    """Smallest usual lamp that leaves the load at least ``least_share`` of the line.

    For the second run only, once a smaller lamp stayed calm; the first run starts small. Valid for
    1 to 2000 W, lines of 90 to 260 V, shares 0.3 to 0.95.

    Raises
    ------
    OutOfRange : a value outside its range, or no lamp as sold is large enough.

    Source
    ------
    ``expect``; the share: common practice, no source.
    """
    share = given("share of the line", least_share, "", least=0.3, most=0.95).value
    watts = given("load", load_w, "W", least=1.0, most=2000.0).value
    line = given("line volts", line_v, "V", least=90.0, most=260.0).value
    for size in BULBS_W:
        lamp = Lamp(size, line)
        if expect(lamp, watts, line).load_share >= share:
            return lamp
    raise OutOfRange("load", format_si(watts, "W"), f"what {BULBS_W[-1]:g} W of lamp can feed",
                     "several lamps in parallel, or no limiter")  # fmt: skip
