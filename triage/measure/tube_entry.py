"""One tube type as its file tells it: limits with their rating system, heater, pins, points.

Quantities are engineers' text (``"6.3 V"``, ``"0.1 Mohm"``); what is read out is SI. Every number
names in ``from`` the id of its source in ``knowledge/sources.yaml``. Where two sources differ, the
safer value stands in ``is`` and the other in ``also``.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Literal

from pydantic import Field, model_validator

from triage.model.base import Entry, Frozen
from triage.units import value_of

System = Literal["design_centre", "design_maximum", "absolute_maximum", "unknown"]
Base = Literal["ux4", "ux5", "ux6", "octal", "rimlock", "miniature", "noval", "novar"]
Bias = Literal["fixed", "cathode", "unknown"]
LimitName = Literal[
    "plate_w",
    "plate_v",
    "screen_w",
    "screen_v",
    "cathode_ma",
    "heater_cathode_v",
    "inverse_v",
    "supply_vrms",
    "dc_ma",
    "peak_ma",
    "transient_ma",
    "first_cap",
    "source_ohm_min",
]
LIMIT_UNITS: dict[str, str] = {
    "plate_w": "W", "plate_v": "V", "screen_w": "W", "screen_v": "V", "cathode_ma": "A",
    "heater_cathode_v": "V", "inverse_v": "V", "supply_vrms": "V", "dc_ma": "A", "peak_ma": "A",
    "transient_ma": "A", "first_cap": "F", "source_ohm_min": "ohm",
}  # fmt: skip
FLOORS = frozenset({"source_ohm_min"})
"""Limits one must not fall below; all others must not be exceeded."""
BASE_PINS: dict[str, int] = {
    "ux4": 4, "ux5": 5, "ux6": 6, "miniature": 7, "octal": 8, "rimlock": 8, "noval": 9, "novar": 9,
}  # fmt: skip


class Other(Frozen):
    """What another source says of the same number."""

    is_: str = Field(alias="is")
    from_: str = Field(alias="from")


class Step(Frozen):
    """One row of a limit that slides with the AC volts a plate."""

    vrms: str
    is_: str = Field(alias="is")


class Limit(Frozen):
    """A published limit, for one plate or section, with the rating system it is meant in."""

    is_: str = Field(alias="is")
    system: System = "unknown"
    from_: str = Field(alias="from", description="id in sources.yaml")
    also: Other | None = Field(default=None, description="where sources differ; never the safer")
    slides: list[Step] = Field(default_factory=list, description="by rising AC volts a plate")


class Heater(Frozen):
    """Heater volts and amperes; a centre-tapped heater names its two ways."""

    volts: str
    amps: str
    parallel_volts: str | None = None
    parallel_amps: str | None = None
    direct: bool = Field(default=False, description="a filament that is its own cathode")
    from_: str = Field(alias="from")


class Return(Frozen):
    """Largest total resistance from grid to bias or ground."""

    fixed: str | None = None
    cathode: str | None = None
    from_: str = Field(alias="from")


class Pins(Frozen):
    """Pin numbers of each electrode, of each section in a double tube."""

    from_: str = Field(alias="from")
    heater: list[int] = Field(min_length=2)
    heater_tap: list[int] = Field(default_factory=list)
    plate: list[int] = Field(min_length=1)
    grid: list[int] = Field(default_factory=list)
    screen: list[int] = Field(default_factory=list)
    cathode: list[int] = Field(default_factory=list)
    suppressor: list[int] = Field(default_factory=list)
    diode: list[int] = Field(default_factory=list)
    shield: list[int] = Field(default_factory=list)
    idle: list[int] = Field(default_factory=list, description="not connected, or internally used")

    def by_role(self) -> dict[str, list[int]]:
        """Pins of each electrode that has any."""
        return {name: pins for name, pins in self if isinstance(pins, list) and pins}


class Point(Frozen):
    """A published operating point; currents and gm for one section."""

    plate_v: str
    grid_v: str
    plate_ma: str
    screen_v: str | None = None
    screen_ma: str | None = None
    gm_ma_per_v: float | None = None
    mu: float | None = None
    from_: str = Field(alias="from")

    def plate_watts(self) -> float:
        """Watts at the plate, V x A."""
        return value_of(self.plate_v, "V") * value_of(self.plate_ma, "A")

    def volts(self) -> tuple[float, float]:
        """Plate and screen volts; 0 V where there is no screen."""
        screen = 0.0 if self.screen_v is None else value_of(self.screen_v, "V")
        return value_of(self.plate_v, "V"), screen

    def rated(self) -> tuple[float, float, float | None, str]:
        """Cathode resistor ohm and cathode current A of this point, mu, source.

        R = -Vg / (Ip + Is), Ohm's law; 0 ohm where the grid is at the cathode.
        """
        cathode_a = value_of(self.plate_ma, "A")
        if self.screen_ma is not None:
            cathode_a += value_of(self.screen_ma, "A")
        return -value_of(self.grid_v, "V") / cathode_a, cathode_a, self.mu, self.from_


class Triode(Frozen):
    """The small triode that shares an envelope with a power or signal pentode."""

    from_: str = Field(alias="from")
    plate: int
    grid: int
    cathode: int
    limits: dict[Literal["plate_w", "plate_v", "cathode_ma"], Limit] = Field(default_factory=dict)
    points: list[Point] = Field(default_factory=list)


class Drop(Frozen):
    """Volts lost in a rectifier at a current through one plate, as the sheet states it."""

    volts: str
    at: str
    from_: str = Field(alias="from")
    also: Other | None = None


class Equivalent(Frozen):
    """Another number of this type. Only ``exact`` ones are found under that name."""

    type: str
    numbers: Literal["us", "european", "military", "industrial", "other"]
    match: Literal["exact", "near"] = "exact"
    differs: str = ""
    from_: str = Field(alias="from")

    @model_validator(mode="after")
    def _said(self) -> Equivalent:
        if self.match == "near" and not self.differs:
            raise ValueError(f"{self.type}: what differs must be said where it is only near")
        return self


class TubeType(Entry):
    """A tube type. Current makes may differ: the sheet of the tube in the socket decides."""

    type: str
    says: str
    aliases: list[str] = Field(default_factory=list)
    equivalents: list[Equivalent] = Field(default_factory=list)
    sections: int = Field(default=1, ge=1, le=2)
    base: Base
    base_pins: Literal[4, 5, 6, 7, 8, 9]
    heater: Heater
    limits: dict[LimitName, Limit]
    grid_return: Return | None = None
    pins: Pins
    points: list[Point] = Field(default_factory=list)
    triode: Triode | None = None
    drop: Drop | None = None
    note: str = ""

    @model_validator(mode="after")
    def _values_read(self) -> TubeType:
        for name, limit in self.limits.items():
            self._limit_read(name, limit)
        used = [pin for pins in self.pins.by_role().values() for pin in pins]
        if self.triode is not None:
            used += [self.triode.plate, self.triode.grid, self.triode.cathode]
        if any(not 1 <= pin <= self.base_pins for pin in used):
            raise ValueError(f"{self.type}: a pin outside 1..{self.base_pins}")
        if BASE_PINS[self.base] != self.base_pins:
            raise ValueError(f"{self.type}: a {self.base} base has {BASE_PINS[self.base]} pins")
        if self.drop is not None and not (self.drop_at(1.0) or 0.0) > 0.0:
            raise ValueError(f"{self.type}: a drop of no volts")
        return self

    def _limit_read(self, name: str, limit: Limit) -> None:
        value = value_of(limit.is_, LIMIT_UNITS[name])
        volts = [value_of(row.vrms, "V") for row in limit.slides]
        if volts != sorted(set(volts)):
            raise ValueError(f"{self.type}: rows of {name} do not rise in volts")
        if limit.also is None:
            return
        other = value_of(limit.also.is_, LIMIT_UNITS[name])
        if (other > value) if name in FLOORS else (other < value):
            raise ValueError(f"{self.type}: {name} uses {limit.is_}, {limit.also.is_} is safer")

    def limit(self, name: LimitName) -> float | None:
        """Limit in SI (W, V, A, F, ohm), or None if none is known."""
        found = self.limits.get(name)
        return None if found is None else value_of(found.is_, LIMIT_UNITS[name])

    def limit_at(self, name: LimitName, vrms: float) -> float | None:
        """Limit in SI at ``vrms`` V a plate, straight between the rows of one that slides.

        Below the first row that row holds; above the last, or without rows, the single limit.
        """
        found = self.limits.get(name)
        if found is None or not found.slides:
            return self.limit(name)
        rows = [
            (value_of(row.vrms, "V"), value_of(row.is_, LIMIT_UNITS[name])) for row in found.slides
        ]
        if vrms <= rows[0][0]:
            return rows[0][1]
        for (low, one), (high, two) in pairwise(rows):
            if vrms <= high:
                return float(one + (two - one) * (vrms - low) / (high - low))
        return self.limit(name)

    def heater_ways(self) -> tuple[tuple[float, float], ...]:
        """Volts and amperes of the heater, of both ways if its centre is brought out."""
        heater = self.heater
        ways = [(value_of(heater.volts, "V"), value_of(heater.amps, "A"))]
        if heater.parallel_volts and heater.parallel_amps:
            ways.append((value_of(heater.parallel_volts, "V"), value_of(heater.parallel_amps, "A")))
        return tuple(ways)

    def return_limit(self, bias: str) -> float | None:
        """Largest grid return in ohm under ``fixed`` or ``cathode`` bias.

        Where the bias is unknown, that of fixed bias, which is the lower; None if it is not known.
        """
        if self.grid_return is None:
            return None
        text = self.grid_return.cathode if bias == "cathode" else self.grid_return.fixed
        return None if text is None else value_of(text, "ohm")

    def drop_at(self, plate_a: float) -> float | None:
        """Volts lost at ``plate_a`` A through one plate, or None if the sheet's drop is not known.

        V = V0 (I / I0)^(2/3), Child's law from the one point of the sheet; I >= 0.
        """
        if self.drop is None:
            return None
        volts, at = value_of(self.drop.volts, "V"), value_of(self.drop.at, "A")
        return float(volts * (plate_a / at) ** (2.0 / 3.0))

    def names(self) -> tuple[str, ...]:
        """Every name that means exactly this type, its own first."""
        exact = [other.type for other in self.equivalents if other.match == "exact"]
        return tuple(dict.fromkeys((self.type, *self.aliases, *exact)))

    def sources_used(self) -> frozenset[str]:
        """Ids of all sources that any number of the entry names."""
        told = self.model_dump(by_alias=True, exclude={"source"})
        return frozenset(_from_ids(told)) | {source.id for source in self.source}


def _from_ids(told: object) -> Iterator[str]:
    """Every value under a ``from`` key, however deep."""
    if isinstance(told, dict):
        for key, value in told.items():
            if key == "from":
                yield str(value)
            else:
                yield from _from_ids(value)
    elif isinstance(told, list):
        for value in told:
            yield from _from_ids(value)
