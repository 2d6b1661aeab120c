"""Meters as data: what they read, how well, and how they load what they are put on."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import Field

from triage.errors import BadReading, OutOfRange, SafetyRefusal
from triage.measure.loading import MeterEffect, meter_effect, output_grid_effect, unloaded
from triage.measure.quantity import Conditions, Quantity
from triage.measure.waveform import Shape, shown_over_true, true_rms
from triage.measure.worked import Number, Worked, given
from triage.model.base import Entry, Frozen
from triage.units import Typed, format_si

Reading = Literal["dc_volts", "ac_volts", "dc_ma", "ac_ma", "ohms", "hertz", "microfarad", "watts"]
UNITS: dict[str, str] = {
    "dc_volts": "V", "ac_volts": "V", "dc_ma": "A", "ac_ma": "A", "ohms": "ohm", "hertz": "Hz",
    "microfarad": "F", "watts": "W",
}  # fmt: skip


Place = Literal["circuit", "outlet", "panel"]
NEEDS_CATEGORY: dict[str, int] = {"circuit": 0, "outlet": 2, "panel": 3}
"""Measurement category at each place (IEC 61010): none behind a transformer, II at an outlet and
what is plugged in, III in the fixed wiring."""
MARGIN = 1.2
"""A meter bears this times the volts that are expected (bench review: as gate G12)."""


class Accuracy(Frozen):
    """Limits of error: share of the reading, counts of the last digit, share of full scale."""

    of_reading: float = Field(default=0.0, ge=0.0)
    digits: float = Field(default=0.0, ge=0.0)
    of_full_scale: float = Field(default=0.0, ge=0.0)


class Meter(Entry):
    """A meter or class of meters. ``ohm``: fixed input resistance, ``ohm_per_volt``: a mover's.

    ``ac``: whether it responds to true RMS or the average; ``ac_coupled``: AC ranges leave DC out.
    ``rated_v``: most DC volts (``rated_ac_v`` most AC volts RMS); ``category`` of IEC 61010.
    """

    says: str
    kind: Literal["meter", "scope", "probe"] = "meter"
    ohm: float | None = Field(default=None, gt=0.0)
    ohm_ac: float | None = Field(default=None, gt=0.0)
    ohm_per_volt: float | None = Field(default=None, gt=0.0)
    ohm_per_volt_ac: float | None = Field(default=None, gt=0.0)
    ranges_v: list[float] = Field(default_factory=list)
    counts: int | None = Field(default=None, gt=0)
    ac: Literal["true_rms", "average"] = "average"
    ac_coupled: bool = True
    rated_v: float | None = Field(default=None, gt=0.0)
    rated_ac_v: float | None = Field(default=None, gt=0.0)
    category: Literal["CAT II", "CAT III", "CAT IV"] | None = None
    category_v: float | None = Field(default=None, gt=0.0)
    accuracy: dict[Reading, Accuracy]

    def range_for(self, volts: float) -> float | None:
        """Smallest range in volts that holds the reading, or None if the meter has no list."""
        fits = [span for span in sorted(self.ranges_v) if span >= abs(volts)]
        return fits[0] if fits else max(self.ranges_v, default=None)

    def input_ohm(self, range_v: float | None = None, ac: bool = False) -> float:
        """Input resistance in ohm on a range.

        Raises
        ------
        OutOfRange : a moving-coil meter without its range, or a range that is not above zero.
        """
        fixed = (self.ohm_ac or self.ohm) if ac else self.ohm
        if fixed is not None:
            return fixed
        per_volt = (self.ohm_per_volt_ac or self.ohm_per_volt) if ac else self.ohm_per_volt
        if per_volt is None or range_v is None or not 0.0 < range_v < math.inf:
            shown = "not given" if range_v is None else range_v
            raise OutOfRange(
                f"range of meter '{self.id}'", shown, "a range in volts", "say which range was set"
            )
        return per_volt * range_v

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
    return Quantity(value, u, unit, spread, at_least, at_most, trend=typed.trend,
                    conditions=Conditions(meter=meter.id))  # fmt: skip


def bears(meter: Meter, expected_v: Number, ac: bool = False, place: Place = "circuit") -> None:
    """Refuse a meter, scope or probe that does not bear the volts it is meant for.

    Raises
    ------
    SafetyRefusal : no rating known, a rating below 1.2 times the volts, or a measurement category
        below that of the place.
    OutOfRange : volts that are no number, or another place.
    Source: IEC 61010 (measurement categories, read in makers' manuals); margin as gate G12.
    """
    volts = abs(given("expected volts", expected_v, "V").value)
    if place not in NEEDS_CATEGORY:
        raise OutOfRange("place", f"'{place}'", ", ".join(NEEDS_CATEGORY))
    shown, kind = format_si(volts, "V"), "AC" if ac else "DC"
    rated = meter.rated_ac_v if ac else meter.rated_v
    reasons = []
    if rated is None:
        reasons.append(f"the {kind} rating of '{meter.id}' is not known: read it on its case")
    elif rated < MARGIN * volts:
        reasons.append(f"'{meter.id}' is rated {format_si(rated, 'V')} {kind}; {shown} wants "
                       f"{format_si(MARGIN * volts, 'V')} or more")  # fmt: skip
    wanted = NEEDS_CATEGORY[place]
    grade = {None: 0, "CAT II": 2, "CAT III": 3, "CAT IV": 4}[meter.category]
    if grade < wanted:
        reasons.append(f"at the {place} a meter of CAT {'I' * wanted} or higher is wanted; "
                       f"'{meter.id}' has {meter.category or 'no category'}")  # fmt: skip
    elif wanted and (meter.category_v or 0.0) < volts:
        reasons.append(f"'{meter.id}' is {meter.category} to {meter.category_v or 0:g} V only")
    if reasons:
        raise SafetyRefusal([*reasons, "take one that bears it, with leads that bear it too"])


def right_socket(reading: Reading, socket: Literal["volts", "current"]) -> None:
    """Refuse volts or ohms with the red lead in the current socket: there it is a short.

    Raises
    ------
    SafetyRefusal : the lead is in the current socket and it is no current that is to be read.
    """
    if socket == "current" and reading not in ("dc_ma", "ac_ma"):
        raise SafetyRefusal([
            "the red lead is in the current socket: across volts it is a short, and the fuse (or "
            "the meter) goes",
            "with the power off, move it to the volts socket and try the meter on a battery",
        ])  # fmt: skip


def effect_of(
    meter: Meter,
    volts: Number,
    source_ohm: Number | Worked,
    range_v: float | None = None,
    output_grid: bool = False,
) -> MeterEffect:
    """What this meter does to a point of ``volts`` behind ``source_ohm``.

    ``range_v`` defaults to the lowest that holds the volts. ``output_grid``: its tube is in.

    Raises
    ------
    SafetyRefusal : at an output grid, where it would take the bias away.
    OutOfRange : as in ``triage.measure.loading``.
    """
    size = given("volts", volts, "V").value
    span = range_v if range_v is not None else meter.range_for(size)
    ohm = meter.input_ohm(span)
    if output_grid:
        source = source_ohm.quantity if isinstance(source_ohm, Worked) else source_ohm
        return output_grid_effect(volts, source, ohm)
    return meter_effect(volts, source_ohm, ohm)


def corrected(
    reading: Quantity,
    meter: Meter,
    source_ohm: Number | Worked,
    range_v: float | None = None,
    ac: bool = False,
) -> Worked:
    """Volts that were there before the meter was, with the uncertainty of the correction.

    Raises
    ------
    OutOfRange : a range is missing, or the meter halves the volts or worse.
    """
    span = range_v if range_v is not None else meter.range_for(reading.value)
    return unloaded(reading, source_ohm, meter.input_ohm(span, ac))


def true_ac(reading: Quantity, meter: Meter, shape: Shape, dc_v: Number = 0.0) -> Worked:
    """RMS in V of a wave of known shape out of what this meter shows of it on an AC range.

    Raises
    ------
    OutOfRange : DC under the AC with a meter whose AC ranges do not leave it out.
    """
    under = given("DC volts under the AC", dc_v, "V")
    if not meter.ac_coupled and abs(under.value) > 0.05 * abs(reading.value):
        raise OutOfRange("DC volts under the AC", str(under), "none, with this meter,",
                         "a blocking capacitor rated for the full volts, fitted while dead")  # fmt: skip
    return true_rms(reading, meter.ac, shape)


def shape_error(meter: Meter, shape: Shape) -> float:
    """Error of this meter on a wave, as a share of its true RMS (0.11 = reads 11 % high)."""
    return shown_over_true(meter.ac, shape) - 1.0
