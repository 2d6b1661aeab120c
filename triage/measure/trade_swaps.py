"""What the trade says of substitutions, as data, to be held against what is worked out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Literal

from pydantic import Field, model_validator

from triage.measure.substitutes import Substitution, substitute
from triage.measure.swap_reasons import Circumstances
from triage.measure.tube_entry import Bias, TubeType
from triage.measure.tubes import find_tube
from triage.model.base import Entry, Frozen
from triage.units import value_of

_UNITS = {"_v": "V", "_a": "A", "_w": "W", "_f": "F", "_ohm": "ohm", "_vrms": "V"}


class At(Frozen):
    """Circumstances as the file tells them; see ``Circumstances``."""

    winding_v: str | None = None
    winding_spare_a: str | None = None
    series_string: bool = False
    heater_cathode_v: str | None = None
    bias: Bias = "unknown"
    grid_return_ohm: str | None = None
    plate_v: str | None = None
    plate_w: str | None = None
    screen_v: str | None = None
    screen_w: str | None = None
    cathode_a: str | None = None
    supply_vrms: str | None = None
    source_ohm: str | None = None
    dc_a: str | None = None
    first_cap_f: str | None = None
    capacitor_v: str | None = None
    filter_input: Literal["capacitor", "choke"] = "capacitor"

    def circumstances(self) -> Circumstances:
        """Give the same in SI."""
        told: dict[str, Any] = {}
        for name, value in self:
            unit = _UNITS.get("_" + name.rsplit("_", 1)[-1])
            told[name] = value_of(value, unit) if isinstance(value, str) and unit else value
        return Circumstances(**told)


class TradeSwap(Entry):
    """One stated substitution: what the trade says, why, and what the computation must say of it."""

    for_: str = Field(alias="for")
    use: str
    verdict: Literal["safe", "with_changes", "unsafe"]
    why: str
    about: str = Field(description="the reason that decides, as the computation names it")
    at: At = At()

    @model_validator(mode="after")
    def _read(self) -> TradeSwap:
        self.at.circumstances()
        return self


def load_swaps(rows: Iterable[Mapping[str, Any]]) -> list[TradeSwap]:
    """Stated substitutions out of the rows of ``knowledge/tubes/``; tube types are left out.

    Raises
    ------
    pydantic.ValidationError : a key or a value that does not read.
    """
    return [TradeSwap.model_validate(row) for row in rows if "use" in row]


def run_swap(swap: TradeSwap, tubes: Mapping[str, TubeType]) -> Substitution:
    """Work out what a stated substitution comes to.

    Raises
    ------
    KeyError : a type that the tube files do not hold.
    """
    old, new = find_tube(tubes, swap.for_), find_tube(tubes, swap.use)
    if old is None or new is None:
        raise KeyError(swap.for_ if old is None else swap.use)
    return substitute(old, new, swap.at.circumstances())
