"""Results that can be followed: the formula in symbols, with the numbers in it, and the result."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from triage.errors import OutOfRange
from triage.measure.quantity import Contribution, Quantity, components
from triage.units import format_si

Number = Quantity | float
_SYMBOL = re.compile(r"[^\W\d]\w*")
MEMORY = "limit from memory: it informs, and opens no gate"
"""Said beside every limit that nobody has read in its source."""


@dataclass(frozen=True)
class Step:
    """One line of a reckoning: ``symbol = formula = numbers = result``."""

    symbol: str
    formula: str
    numbers: str
    result: str

    def __str__(self) -> str:
        """Render as one line; what says nothing new is left out."""
        parts = [self.symbol, self.formula, self.numbers, self.result]
        return " = ".join(dict.fromkeys(part for part in parts if part))


@dataclass(frozen=True)
class Worked:
    """A result with the steps that led to it, what it rests on, and notes worth reading."""

    quantity: Quantity
    steps: tuple[Step, ...]
    inputs: tuple[tuple[str, Quantity], ...] = ()
    rests_on: str = ""
    notes: tuple[str, ...] = ()

    @property
    def value(self) -> float:
        """The number, SI."""
        return self.quantity.value

    @property
    def u(self) -> float:
        """Its standard uncertainty."""
        return self.quantity.total_u

    @property
    def unit(self) -> str:
        """Its unit."""
        return self.quantity.unit

    def budget(self) -> tuple[Contribution, ...]:
        """What each input adds to the uncertainty, by name, else by its symbol in the steps."""
        symbols: dict[Any, str] = {}
        for symbol, quantity in self.inputs:
            for variable in components(quantity.affine):
                symbols.setdefault(variable, symbol)
        return self.quantity.budget(symbols)

    def noting(self, *notes: str) -> Worked:
        """The same result with notes added."""
        return replace(self, notes=self.notes + tuple(note for note in notes if note))

    def __str__(self) -> str:
        """Render as the result alone."""
        return str(self.quantity)


def step(symbol: str, formula: str, result: Quantity, inputs: dict[str, Quantity]) -> Step:
    """Step with the inputs' numbers put in place of their symbols."""

    def number(match: re.Match[str]) -> str:
        quantity = inputs.get(match[0])
        if quantity is None:
            return match[0]
        shown = format_si(quantity.value, quantity.unit, 4)
        return f"({shown})" if quantity.value < 0 else shown

    return Step(symbol, formula, _SYMBOL.sub(number, formula), str(result))


def work(
    symbol: str,
    formula: str,
    result: Quantity,
    *,
    rests_on: str = "",
    notes: tuple[str, ...] = (),
    before: tuple[Worked, ...] = (),
    entered: Mapping[str, Quantity] | None = None,
    **named: Quantity,
) -> Worked:
    """Result of one formula; ``before`` are the results it was built on, shown first.

    What enters it goes by symbol: as keywords, or in ``entered``.
    """
    inputs = {**(entered or {}), **named}
    steps = tuple(line for earlier in before for line in earlier.steps)
    first = tuple(pair for earlier in before for pair in earlier.inputs)
    told = tuple(note for earlier in before for note in earlier.notes) + notes
    return Worked(
        result,
        (*steps, step(symbol, formula, result, inputs)),
        (*first, *inputs.items()),
        rests_on,
        tuple(dict.fromkeys(told)),
    )


def given(
    name: str,
    x: Number | Worked,
    unit: str,
    *,
    above: float | None = None,
    least: float | None = None,
    most: float | None = None,
    mend: str = "",
) -> Quantity:
    """Input of a formula as a quantity of ``unit``, within its range of validity.

    ``above`` is a bound that is not itself allowed, ``least`` and ``most`` are.

    Raises
    ------
    OutOfRange : another unit, over range, no finite number, or outside the range.
    """
    quantity = _as_quantity(name, x, unit)
    if quantity.over:
        raise OutOfRange(name, "OL", "a number", mend or "use a higher range, or read again")
    if quantity.unit != unit:
        shown = str(quantity) if quantity.unit else f"{quantity} without a unit"
        raise OutOfRange(name, shown, f"a value in {unit}" if unit else "a plain number", mend)
    low = above if above is not None else least
    bad = (
        (above is not None and not quantity.value > above)
        or (least is not None and quantity.value < least)
        or (most is not None and quantity.value > most)
    )
    if bad:
        words = []
        if low is not None:
            words.append(("above " if above is not None else "at least ") + format_si(low, unit))
        if most is not None:
            words.append(f"at most {format_si(most, unit)}")
        raise OutOfRange(name, format_si(quantity.value, unit, 4), " and ".join(words), mend)
    return quantity


def _as_quantity(name: str, x: Number | Worked, unit: str) -> Quantity:
    if isinstance(x, Worked):
        return x.quantity
    if isinstance(x, Quantity):
        return x
    value = float(x)
    if not math.isfinite(value):
        raise OutOfRange(name, value, "a finite number")
    return Quantity(value, 0.0, unit)
