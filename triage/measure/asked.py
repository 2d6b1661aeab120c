"""A check, and the values typed for it: read when asked for, refused by name.

The tables of checks are ``reckon_*.py``; ``reckon.py`` joins them and runs one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from triage.errors import BadReading, OutOfRange, SafetyRefusal
from triage.measure.bands import Settings, Verdict
from triage.measure.checks import LIMIT_WORDS, METER, Outcome, Param, Shelf, nearest, sure
from triage.measure.judges import Context, judge
from triage.measure.koren import TubeModel, model_of
from triage.measure.meters import Meter, bears, take
from triage.measure.quantity import Quantity
from triage.measure.tube_entry import TubeType
from triage.measure.tubes import find_tube
from triage.measure.worked import MEMORY
from triage.units import EXAMPLES, Typed, parse

_TOLERANCE = re.compile(r"(.+?)\s*(?:±|\+/-|\+-)\s*(\d+(?:[.,]\d+)?)\s*%\s*")
_NEEDS_UNIT = ("A", "F", "S")
"""Units of which nobody means the bare number: 35 is 35 mA on the bench, 47 is 47 µF, 5 is 5 mA/V."""


@dataclass(frozen=True)
class Check:
    """One numeric check. ``example`` is what follows the name on a command line."""

    name: str
    says: str
    params: tuple[Param, ...]
    run: Callable[[Given], Outcome]
    example: str
    draws: bool = False
    files: bool = False

    def all_params(self) -> tuple[Param, ...]:
        """Its own and, where a reading is among them, the meter's."""
        if not any(param.reading for param in self.params):
            return self.params
        return (*self.params, *METER)

    def param(self, name: str) -> Param:
        """Parameter of that name, strokes and underlines alike.

        Raises
        ------
        BadReading : it takes no such value; the nearest is offered.
        """
        wanted = name.strip().lower().replace("-", "_")
        names = [param.name for param in self.all_params()]
        for param in self.all_params():
            if param.name == wanted:
                return param
        raise BadReading(name, f"'{self.name}' takes no such value{nearest(wanted, names)}")


@dataclass
class Given:
    """The values of one check as typed, read when they are asked for."""

    check: Check
    typed: Mapping[str, str]
    shelf: Shelf
    shown: dict[str, str] = field(default_factory=dict)
    doubts: list[str] = field(default_factory=list)
    """Volts that the meter named does not bear, in words."""

    def _text(self, name: str) -> tuple[Param, str]:
        param = self.check.param(name)
        text = self.typed.get(param.name, param.default)
        if text is None:
            wanted = f"{param.name}={_example(param)}"
            raise BadReading(
                self.check.name, f"'{param.name}' is missing: {param.help}.", f"'{wanted}'"
            )
        if text:
            self.shown[param.name] = text
        return param, text.strip()

    def has(self, name: str) -> bool:
        """Whether a value that may be left out is there."""
        return bool(self._text(name)[1])

    def word(self, name: str) -> str:
        """One of the choices, or "" where it was left out.

        Raises
        ------
        BadReading : another word; the nearest is offered.
        """
        param, text = self._text(name)
        if not text or not param.choices:
            return text
        wanted = text.lower().replace("-", "_").replace(" ", "_")
        if wanted not in param.choices:
            raise BadReading(text, f"no such {name}{nearest(wanted, param.choices)}")
        return wanted

    def text(self, name: str) -> str:
        """A text as typed, such as the name of a file."""
        return self._text(name)[1]

    def q(self, name: str) -> Quantity:
        """A number that must be there, SI, with the meter's or a written (± %) uncertainty.

        Raises
        ------
        BadReading : missing, no number, another unit, a bound where a plain value is needed.
        """
        param, text = self._text(name)
        return self._number(param, text)

    def maybe(self, name: str) -> Quantity | None:
        """A number that may be left out."""
        return self.q(name) if self.has(name) else None

    def value(self, name: str) -> float:
        """A number without its uncertainty."""
        return self.q(name).value

    def _number(self, param: Param, text: str) -> Quantity:
        share = 0.0
        tolerance = _TOLERANCE.fullmatch(text)
        if tolerance:
            text, share = tolerance[1], float(tolerance[2].replace(",", ".")) / 100.0
        try:
            typed = parse(text, param.unit)
            self._plain(param, text, typed)
        except BadReading as error:
            raise BadReading(f"{param.name}={error.typed}", error.why, error.accepted) from None
        if param.reading is None:
            limit = abs(typed.low) * share if typed.exact else 0.0
            spread = (typed.high - typed.low) / 2 if math.isfinite(typed.high) else 0.0
            middle = typed.low if typed.over else typed.value
            u = limit / math.sqrt(3)
            return Quantity(middle, u, param.unit, spread, over=typed.over, name=param.name)
        meter = self.meter()
        range_v = self.value("range") if self.has("range") else None
        found = take(typed, param.reading, meter, range_v)
        if param.unit == "V" and math.isfinite(found.value):
            try:
                bears(meter, found.value, ac=param.reading == "ac_volts")
            except SafetyRefusal as refusal:
                self.doubts += [why for why in refusal.reasons[:1] if why not in self.doubts]
        return replace(found, name=param.name)

    def _plain(self, param: Param, text: str, typed: Typed) -> None:
        """Refuse what has no unit where one is needed, and bounds where none are of use."""
        bare = not typed.had_unit and not typed.over
        if bare and param.unit in _NEEDS_UNIT and typed.exact and typed.low != 0:
            if not re.search(r"[a-zA-Zµμ]", text):
                raise BadReading(text, f"its unit is missing ({param.unit} is asked for).",
                                 EXAMPLES[param.unit])  # fmt: skip
        bounded = typed.over or not (math.isfinite(typed.low) and math.isfinite(typed.high))
        if bounded and not param.bounds:
            raise BadReading(text, "one plain value is needed here.", EXAMPLES.get(param.unit, "5"))

    def meter(self) -> Meter:
        """The meter the readings were taken with.

        Raises
        ------
        BadReading : no such meter.
        """
        name = self._text("meter")[1]
        found = self.shelf.meters.get(name.lower().replace("-", "_"))
        if found is None:
            raise BadReading(name, f"no such meter{nearest(name, self.shelf.meters)}")
        return found

    def tube(self, name: str = "tube") -> TubeType:
        """Tube type by any of its names.

        Raises
        ------
        BadReading : none is known by that name; the nearest is offered.
        """
        text = self._text(name)[1]
        found = find_tube(self.shelf.tubes, text)
        if found is None:
            known = sorted({tube.type for tube in self.shelf.tubes.values()})
            raise BadReading(text, f"no data of such a tube{nearest(text.upper(), known)}")
        return found

    def model(self, name: str = "tube") -> TubeModel:
        """Model of a tube, by the id of a set or by any name of the type.

        Raises
        ------
        BadReading : there is no model of it; those there are, are listed.
        """
        text = self._text(name)[1]
        tube = find_tube(self.shelf.tubes, text)
        names = (text,) if tube is None else (text, *tube.names())
        found = model_of(self.shelf.models, *names)
        if found is None:
            known = sorted({model.type for model in self.shelf.models.values()})
            raise BadReading(text, f"no model of such a tube{nearest(text.upper(), known)}")
        return found

    def limit(self, tube: TubeType, name: Any) -> tuple[float | None, str, str]:
        """A tube's limit in SI, the words of its rating, and the mark if it is from memory."""
        row, value = tube.limits.get(name), tube.limit(name)
        if row is None or value is None:
            return None, "", ""
        system = row.system.replace("_", " ")
        words = "" if system == "unknown" else f" ({system})"
        mark = f"{tube.type}: {MEMORY}" if row.from_ in self.shelf.from_memory else ""
        return value, f"{tube.type}, {LIMIT_WORDS[name]}{words}", mark

    def judged(self, finding: str, reading: Quantity, context: Context) -> Verdict:
        """What the judge of a finding says to a reading."""
        entry = self.shelf.findings[finding]
        assert entry.takes is not None
        settings: Settings = entry.takes.settings
        return judge(entry.takes.judge, reading, settings, context, entry.answers)

    def said(self, finding: str, verdict: Verdict) -> str:
        """A verdict as one plain sentence."""
        if not verdict.informative:
            return verdict.says
        words = self.shelf.findings[finding].says.get(verdict.answer, verdict.answer)
        return sure(words, verdict.probs[verdict.answer])


def _example(param: Param) -> str:
    if param.sort == "tube":
        return "6L6GC"
    return param.choices[0] if param.choices else EXAMPLES.get(param.unit, "3.5")


def run(check: Check, typed: Mapping[str, str], shelf: Shelf) -> tuple[Outcome, dict[str, str]]:
    """Outcome of a check on values as typed, and the values that it used.

    Raises
    ------
    BadReading : a value it does not take, a missing one, one that cannot be read.
    OutOfRange : a number that the formula is not valid for.
    """
    named = {check.param(name).name: text for name, text in typed.items()}
    values = {name: text for name, text in named.items() if text.strip()}
    given = Given(check, values, shelf)
    for param in check.params:
        if given.has(param.name) and param.sort == "number":
            given.q(param.name)
    given.shown.clear()
    try:
        outcome = check.run(given)
    except (BadReading, OutOfRange):
        raise
    except ValueError as error:
        raise BadReading(check.name, f"{error}.") from None
    unused = [name for name in values if name not in given.shown and name not in ("meter", "range")]
    outcome = outcome.marking(*(f"'{name}' was not used" for name in unused))
    trends = [
        f"{name} was {trend}: read again when it has settled"
        for name, trend in _trends(check, values).items()
    ]
    return outcome.marking(*trends, *given.doubts), given.shown


def _trends(check: Check, values: Mapping[str, str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, text in values.items():
        param = check.param(name)
        if param.sort == "number" and text:
            typed = parse(text, param.unit) if not _TOLERANCE.fullmatch(text) else None
            if typed is not None and typed.trend:
                found[name] = typed.trend
    return found
