"""Pictures as data: a graph of lines, or a reading in its bands. ``svg`` and ``textplot`` draw them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from triage.units import format_si

MOST_POINTS = 400
"""Points of a line that are kept: more than a screen or a page can show."""


@dataclass(frozen=True)
class Axis:
    """Name and SI unit of an axis; its ends, or None to take them from what is drawn."""

    name: str
    unit: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Series:
    """One line: points in SI, in the order in which they are joined."""

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.x) != len(self.y) or not self.x:
            raise ValueError(f"'{self.name}': as many x as y are needed, and at least one")
        if not all(map(math.isfinite, (*self.x, *self.y))):
            raise ValueError(f"'{self.name}': every point must be finite")


@dataclass(frozen=True)
class Mark:
    """A point worth a label."""

    x: float
    y: float
    label: str


@dataclass(frozen=True)
class Graph:
    """Lines over two axes."""

    title: str
    x: Axis
    y: Axis
    series: tuple[Series, ...]
    marks: tuple[Mark, ...] = ()

    def ends(self, of: Literal["x", "y"]) -> tuple[float, float]:
        """Lowest and highest value of an axis: as said, else of what is drawn, zero included."""
        axis = self.x if of == "x" else self.y
        values = [v for line in self.series for v in (line.x if of == "x" else line.y)]
        values += [mark.x if of == "x" else mark.y for mark in self.marks]
        span = max(values) - min(values)
        near_zero = min(values) > 0 and min(values) < 2 * span
        low = axis.low if axis.low is not None else (0.0 if near_zero else min(values))
        high = axis.high if axis.high is not None else max(values)
        return (low, high) if high > low else (low - 0.5, low + 0.5)


@dataclass(frozen=True)
class Gauge:
    """A reading in its bands: ``edges`` rise, ``bands`` names one more than there are edges."""

    title: str
    unit: str
    value: float
    u: float
    edges: tuple[float, ...]
    bands: tuple[str, ...]

    def __post_init__(self) -> None:
        if len(self.bands) != len(self.edges) + 1 or not self.edges:
            raise ValueError("a gauge has one band more than edges, and at least one edge")
        if list(self.edges) != sorted(self.edges) or not math.isfinite(self.value):
            raise ValueError("the edges of a gauge rise, and its reading is a number")

    def ends(self) -> tuple[float, float]:
        """Where the scale begins and ends: the edges, the reading, and some room."""
        low = min(self.edges[0], self.value - 2 * self.u)
        high = max(self.edges[-1], self.value + 2 * self.u)
        if low > 0 and self.edges[0] < 0.6 * high:
            return 0.0, high + 0.15 * high
        room = 0.25 * (high - low) or 0.1 * abs(high) or 1.0
        return low - room, high + room

    def band(self) -> str:
        """Name of the band in which the reading lies."""
        return self.bands[sum(1 for edge in self.edges if edge <= self.value)]


Picture = Graph | Gauge


def line(name: str, x: npt.ArrayLike, y: npt.ArrayLike) -> Series:
    """Series of two arrays of one length, thinned to what can be shown."""
    xs, ys = np.asarray(x, dtype=float).ravel(), np.asarray(y, dtype=float).ravel()
    if len(xs) > MOST_POINTS:
        keep = np.unique(np.linspace(0, len(xs) - 1, MOST_POINTS).astype(int))
        xs, ys = xs[keep], ys[keep]
    return Series(name, tuple(map(float, xs)), tuple(map(float, ys)))


def ticks(low: float, high: float, about: int = 6) -> list[float]:
    """Round numbers (1, 2 or 5 times a power of ten) within the ends, about so many."""
    rough = (high - low) / max(about, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(f * power for f in (1.0, 2.0, 5.0, 10.0) if f * power >= rough * 0.9999)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [0.0 if n == 0 else n * step for n in range(first, last + 1)]


def labels(values: Sequence[float], unit: str) -> list[str]:
    """Engineers' labels of ticks, all with the prefix of the largest: '0', '0.5 mA', '1 mA'."""
    top = max((abs(v) for v in values), default=0.0)
    if top == 0 or not unit or unit in ("%", "degC"):
        return [format_si(v, unit, 4) for v in values]
    power = 3 * math.floor(math.log10(top) / 3 + 1e-9)
    shown = format_si(10.0**power, unit, 1).split(" ", 1)[1]
    scale = 10.0**power
    if not format_si(scale, unit, 1).startswith("1 "):  # a unit without that prefix
        return [format_si(v, unit, 4) for v in values]
    return ["0" if v == 0 else f"{v / scale:.4g} {shown}" for v in values]
