"""Meters as data: what they read, how well, and how they load what they are put on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import Field

from triage.errors import BadReading
from triage.measure.quantity import Quantity
from triage.model.base import Entry, Frozen
from triage.units import Typed

Reading = Literal["dc_volts", "ac_volts", "dc_ma", "ac_ma", "ohms", "hertz", "microfarad", "watts"]
UNITS: dict[str, str] = {
    "dc_volts": "V", "ac_volts": "V", "dc_ma": "A", "ac_ma": "A", "ohms": "ohm", "hertz": "Hz",
    "microfarad": "F", "watts": "W",
}  # fmt: skip


class Accuracy(Frozen):
    """Limits of error: share of the reading, counts of the last digit, share of full scale."""

    of_reading: float = Field(default=0.0, ge=0.0)
    digits: float = Field(default=0.0, ge=0.0)
    of_full_scale: float = Field(default=0.0, ge=0.0)


class Meter(Entry):
    """A meter or class of meters. ``ohm``: fixed input resistance, ``ohm_per_volt``: a mover's."""

    says: str
    ohm: float | None = Field(default=None, gt=0.0)
    ohm_per_volt: float | None = Field(default=None, gt=0.0)
    ranges_v: list[float] = Field(default_factory=list)
    counts: int | None = Field(default=None, gt=0)
    accuracy: dict[Reading, Accuracy]

    def range_for(self, volts: float) -> float | None:
        """Smallest range in volts that holds the reading, or None if the meter has no list."""
        fits = [span for span in sorted(self.ranges_v) if span >= abs(volts)]
        return fits[0] if fits else max(self.ranges_v, default=None)

    def input_ohm(self, range_v: float | None = None) -> float:
        """Input resistance in ohm on a range.

        Raises
        ------
        ValueError : a moving-coil meter without its range.
        """
        if self.ohm is not None:
            return self.ohm
        if self.ohm_per_volt is None or range_v is None:
            raise ValueError(
                f"meter '{self.id}': the range in volts is needed to know its resistance"
            )
        return self.ohm_per_volt * range_v

    def sharper(self, factor: float) -> Meter:
        """The same meter with its limits of error times ``factor`` (0.5 halves them)."""
        scaled = {
            kind: Accuracy(
                of_reading=limit.of_reading * factor,
                digits=limit.digits * factor,
                of_full_scale=limit.of_full_scale * factor,
            )
            for kind, limit in self.accuracy.items()
        }
        return self.model_copy(update={"accuracy": scaled})

    def limit(self, value: float, reading: Reading, range_v: float | None = None) -> float:
        """Limit of error of an SI ``value``, in its unit; 5 % where the meter says nothing."""
        limit = self.accuracy.get(reading)
        if limit is None:
            return 0.05 * abs(value)
        error = limit.of_reading * abs(value) + limit.of_full_scale * (
            range_v or self.range_for(value) or abs(value)
        )
        return error + limit.digits * self._last_digit(value)

    def _last_digit(self, value: float) -> float:
        if not self.counts or value == 0:
            return 0.0 if not self.counts else 1e-4
        span: float = 10.0 ** math.floor(math.log10(abs(value)))
        scale: float = span / 10 ** math.floor(math.log10(self.counts))
        return scale if abs(value) / scale <= self.counts else scale * 10


def load_meters(rows: Iterable[Mapping[str, Any]]) -> dict[str, Meter]:
    """Meters by id out of the rows of ``knowledge/meters.yaml``."""
    meters = [Meter.model_validate(row) for row in rows]
    return {meter.id: meter for meter in meters}


def take(typed: Typed, reading: Reading, meter: Meter, range_v: float | None = None) -> Quantity:
    """Quantity of a typed reading; the limit is rectangular: u = limit/√3 (JCGM 100, 4.3.7).

    Milliampere and microfarad readings are given in SI (A, F); a bare number there is taken as
    mA or µF, which is what the prompt asks for.

    Raises
    ------
    BadReading : the unit is not that of the reading, or only a trend was typed.
    """
    unit = UNITS[reading]
    if typed.had_unit and typed.unit not in ("", unit):
        raise BadReading(typed.unit, f"{unit} is asked for", f"a value in {unit}")
    bare = {"dc_ma": 1e-3, "ac_ma": 1e-3, "microfarad": 1e-6}.get(reading, 1.0)
    factor = 1.0 if typed.had_unit else bare
    if typed.over:
        return Quantity(math.inf, 0.0, unit, over=True, trend=typed.trend)
    low, high = typed.low * factor, typed.high * factor
    if math.isinf(low) and math.isinf(high):
        raise BadReading(
            typed.trend, "a trend alone needs a value with it", f"400 mV {typed.trend}"
        )
    at_least, at_most = math.isinf(high), math.isinf(low)
    value = low if at_least else high if at_most else (low + high) / 2
    spread = 0.0 if at_least or at_most else (high - low) / 2
    u = meter.limit(value, reading, range_v) / math.sqrt(3)
    return Quantity(value, u, unit, spread, at_least, at_most, trend=typed.trend)
