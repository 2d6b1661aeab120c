"""What checks are made of: parameters, the shelf they look things up on, outcomes, words."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from triage.measure.bands import shares
from triage.measure.koren import TubeModel
from triage.measure.meters import Meter, Reading
from triage.measure.plots import Picture
from triage.measure.quantity import Quantity
from triage.measure.tube_entry import TubeType
from triage.measure.worked import Worked
from triage.model.entries import Finding
from triage.units import format_si

Sort = Literal["number", "word", "tube", "text"]
LIMIT_WORDS = {
    "plate_w": "plate dissipation", "plate_v": "plate volts", "screen_w": "screen dissipation",
    "screen_v": "screen volts", "cathode_ma": "cathode current",
    "heater_cathode_v": "heater to cathode", "inverse_v": "inverse volts",
    "supply_vrms": "volts each plate", "dc_ma": "DC current", "peak_ma": "peak current",
    "transient_ma": "starting peak", "first_cap": "first capacitor",
    "source_ohm_min": "least source",
}  # fmt: skip


@dataclass(frozen=True)
class Param:
    """One value that a check takes.

    ``default`` None: it must be given; "": it may be left out. ``reading``: taken with the meter,
    and therefore uncertain. ``bounds``: ``>400 mV`` and OL are allowed.
    """

    name: str
    unit: str
    help: str
    default: str | None = None
    sort: Sort = "number"
    choices: tuple[str, ...] = ()
    reading: Reading | None = None
    bounds: bool = False


@dataclass(frozen=True)
class Shelf:
    """What checks look up: tubes by plain name, meters, models and findings by id, sources."""

    tubes: Mapping[str, TubeType]
    meters: Mapping[str, Meter]
    models: Mapping[str, TubeModel]
    findings: Mapping[str, Finding]
    from_memory: frozenset[str] = frozenset()
    """Ids of sources that nobody has read."""
    files: Mapping[str, str] = field(default_factory=dict)
    """Text of the files that were named, by name."""


@dataclass(frozen=True)
class Outcome:
    """What a check says.

    ``result`` is its one number (None where the answer is words), ``also`` further named numbers,
    ``marks`` what must be said beside it: limits from memory, cautions, bounds of validity.
    """

    result: Quantity | None
    verdict: str
    rests_on: str = ""
    steps: tuple[str, ...] = ()
    also: tuple[tuple[str, Quantity], ...] = ()
    marks: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    picture: Picture | None = None

    def marking(self, *marks: str) -> Outcome:
        """The same with marks added, each once."""
        told = dict.fromkeys((*self.marks, *(mark for mark in marks if mark)))
        return replace(self, marks=tuple(told))


def worked_outcome(
    worked: Worked, verdict: str, also: Sequence[tuple[str, Worked | Quantity]] = (), **more: Any
) -> Outcome:
    """Outcome of a result that shows its steps; what it notes becomes marks."""
    steps = [str(step) for step in worked.steps]
    marks, numbers = list(worked.notes), []
    for name, other in also:
        if isinstance(other, Worked):
            steps += [str(step) for step in other.steps if str(step) not in steps]
            marks += [note for note in other.notes if note not in marks]
            other = other.quantity
        numbers.append((name, other))
    rests = more.pop("rests_on", "") or worked.rests_on
    marks += [mark for mark in more.pop("marks", ()) if mark and mark not in marks]
    steps += more.pop("steps", ())
    return Outcome(
        worked.quantity, verdict, rests, tuple(steps), tuple(numbers), tuple(marks), **more
    )


METER = (
    Param("meter", "", "the meter it was read with: digital, moving_coil_20k, ...", "digital",
          sort="text"),
    Param("range", "V", "range of a moving-coil meter; the smallest that fits if left out", ""),
)  # fmt: skip


def nearest(word: str, known: Iterable[str]) -> str:
    """'; did you mean ...?' with the nearest known word, else all of them."""
    names = list(known)
    close = difflib.get_close_matches(word, names, 1, 0.5)
    return f"; did you mean '{close[0]}'?" if close else f"; there are {', '.join(names)}."


def sure(words: str, share: float) -> str:
    """A sentence with how sure it is, in per cent; never 100 where it is a reading's verdict."""
    shown = min(99, max(1, round(100 * share)))
    return f"{words[:1].upper()}{words[1:]} ({shown} % sure)."


def against(reading: Quantity, edge: float, below: str, above: str) -> str:
    """Which side of one limit a reading lies on, as a sentence with how sure that is."""
    under, over = shares(reading, [edge])
    return sure(below, under) if under >= over else sure(above, over)


def plain(value: float, unit: str = "") -> Quantity:
    """An exact quantity."""
    return Quantity(value, 0.0, unit)


def percent(share: Quantity) -> str:
    """A share as per cent, with its uncertainty."""
    text = f"{share.value * 100:.3g} %"
    return text + (f" ± {share.total_u * 100:.2g} %" if share.total_u > 0 else "")


def si(value: float, unit: str) -> str:
    """Short print of a value."""
    return format_si(value, unit)
