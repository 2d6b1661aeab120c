"""Tube data: limits and their rating system, heaters, pins, typical points, with sources."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import Field, model_validator

from triage.errors import KnowledgeError, Problem
from triage.model.base import Entry, Frozen
from triage.units import value_of

System = Literal["design_centre", "design_maximum", "absolute_maximum", "unknown"]
LimitName = Literal[
    "plate_w",
    "plate_v",
    "screen_w",
    "screen_v",
    "cathode_ma",
    "inverse_v",
    "dc_ma",
    "peak_ma",
    "first_cap",
]
LIMIT_UNITS: dict[str, str] = {
    "plate_w": "W", "plate_v": "V", "screen_w": "W", "screen_v": "V", "cathode_ma": "A",
    "inverse_v": "V", "dc_ma": "A", "peak_ma": "A", "first_cap": "F",
}  # fmt: skip


class Limit(Frozen):
    """A published limit, for one plate or section, with the rating system it is meant in."""

    is_: str = Field(alias="is")
    system: System = "unknown"
    from_: str = Field(alias="from", description="id in sources.yaml")


class Heater(Frozen):
    """Heater volts and amperes; a centre-tapped heater names its two ways."""

    volts: str
    amps: str
    parallel_volts: str | None = None
    parallel_amps: str | None = None
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
    idle: list[int] = Field(default_factory=list, description="not connected, or internally used")


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


class TubeType(Entry):
    """A tube type. Current makes may differ: the sheet of the tube in the socket decides."""

    type: str
    says: str
    aliases: list[str] = Field(default_factory=list)
    sections: int = Field(default=1, ge=1, le=2)
    base_pins: Literal[7, 8, 9]
    heater: Heater
    limits: dict[LimitName, Limit]
    grid_return: Return | None = None
    pins: Pins
    points: list[Point] = Field(default_factory=list)
    note: str = ""

    @model_validator(mode="after")
    def _values_read(self) -> TubeType:
        for name, limit in self.limits.items():
            value_of(limit.is_, LIMIT_UNITS[name])
        used = [pin for _, pins in self.pins if isinstance(pins, list) for pin in pins]
        if any(not 1 <= pin <= self.base_pins for pin in used):
            raise ValueError(f"{self.type}: a pin outside 1..{self.base_pins}")
        return self

    def limit(self, name: LimitName) -> float | None:
        """Limit in SI (W, V, A, F), or None if none is known."""
        found = self.limits.get(name)
        return None if found is None else value_of(found.is_, LIMIT_UNITS[name])

    def heater_ways(self) -> tuple[tuple[float, float], ...]:
        """Volts and amperes of the heater, of both ways if its centre is brought out."""
        heater = self.heater
        ways = [(value_of(heater.volts, "V"), value_of(heater.amps, "A"))]
        if heater.parallel_volts and heater.parallel_amps:
            ways.append((value_of(heater.parallel_volts, "V"), value_of(heater.parallel_amps, "A")))
        return tuple(ways)

    def return_limit(self, bias: str) -> float | None:
        """Largest grid return in ohm under ``fixed`` or ``cathode`` bias; the lower if unknown."""
        if self.grid_return is None:
            return None
        found = {
            kind: value_of(text, "ohm")
            for kind, text in (
                ("fixed", self.grid_return.fixed),
                ("cathode", self.grid_return.cathode),
            )
            if text is not None
        }
        if bias in ("fixed", "cathode"):
            return found.get(bias)
        return min(found.values(), default=None)


def _plain(name: str) -> str:
    return "".join(char for char in name.upper() if char.isalnum())


def load_tubes(rows: Iterable[Mapping[str, Any]]) -> dict[str, TubeType]:
    """Tube types by plain name (``6L6GC``) and by every alias, out of the rows of the files.

    Raises
    ------
    KnowledgeError : two types claim one name.
    """
    tubes: dict[str, TubeType] = {}
    for row in rows:
        tube = TubeType.model_validate(row)
        for name in (tube.type, *tube.aliases):
            other = tubes.setdefault(_plain(name), tube)
            if other is not tube:
                what = f"{tube.type} and {other.type} both claim the name {name}"
                raise KnowledgeError([Problem("tubes", 0, what, mend="leave it to one of them")])
    return tubes


def find_tube(tubes: Mapping[str, TubeType], name: str | None) -> TubeType | None:
    """Tube type by any spelling of its name (case, spaces and strokes do not matter), or None."""
    return None if name is None else tubes.get(_plain(name))
