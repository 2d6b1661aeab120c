"""Where a value lies: usual, unusual but as sound parts may be, or beyond; and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from triage.errors import OutOfRange
from triage.measure.bands import shares
from triage.measure.quantity import Quantity
from triage.measure.worked import MEMORY
from triage.units import format_si

Lies = Literal["far_below", "below", "within", "above", "far_above"]
ORDER: tuple[Lies, ...] = ("far_below", "below", "within", "above", "far_above")
SURE = 0.80
"""Share from which on the sentence calls it; below, it says that the meter cannot tell."""


@dataclass(frozen=True)
class Placed:
    """A value in its band: the share of each place (sum 1), the likeliest, one plain sentence.

    ``probs`` goes by ``Lies``; ``position`` is 0 at the low edge of the band and 1 at the high one
    (None for OL). ``opens_gate`` is False, always: no verdict here lets anything be switched on.
    """

    lies: Lies
    probs: dict[str, float]
    position: float | None
    band: str
    rests_on: str
    says: str
    from_memory: bool = False
    opens_gate: Literal[False] = False

    @property
    def probability(self) -> float:
        """Share of the likeliest place."""
        return self.probs[self.lies]

    @property
    def bad(self) -> bool:
        """Whether it is, surely enough, beyond what sound parts show."""
        return self.probs["far_below"] + self.probs["far_above"] >= SURE

    @property
    def unusual(self) -> bool:
        """Whether it is likeliest outside the usual band and still as sound parts may be."""
        return self.lies in ("below", "above")


def place(
    reading: Quantity,
    low: float,
    high: float,
    rests_on: str,
    *,
    spread_low: float | None = None,
    spread_high: float | None = None,
    from_memory: bool = False,
) -> Placed:
    """Place a reading against its usual band ``low``..``high`` (SI, the reading's unit).

    ``spread_low``..``spread_high`` is what sound parts show (the band itself where not given).
    What lies between the two is unusual and no fault by itself.

    Raises
    ------
    OutOfRange : edges that do not rise.
    """
    outer_low = low if spread_low is None else spread_low
    outer_high = high if spread_high is None else spread_high
    edges = [outer_low, low, high, outer_high]
    if not outer_low <= low < high <= outer_high:
        raise OutOfRange("edges of the band", str(edges), "edges that rise")
    found = shares(reading, edges)
    probs: dict[str, float] = {
        name: max(0.0, share) for name, share in zip(ORDER, found, strict=True)
    }
    lies = max(ORDER, key=lambda name: probs[name])
    unit = reading.unit
    band = f"{format_si(low, unit)} to {format_si(high, unit)}"
    position = None if reading.over else (reading.value - low) / (high - low)
    says = _says(reading, lies, probs, (band, outer_low, outer_high), position)
    marks = f" ({MEMORY})" if from_memory else ""
    return Placed(lies, probs, position, band, rests_on, f"{says}; {rests_on}{marks}", from_memory)


def _says(
    reading: Quantity,
    lies: Lies,
    probs: dict[str, float],
    band: tuple[str, float, float],
    position: float | None,
) -> str:
    share, usual, unit = probs[lies], band[0], reading.unit
    side = "below" if "below" in lies else "above"
    if share < SURE:
        second = sorted(ORDER, key=lambda name: -probs[name])[1]
        return (
            f"{reading} cannot be placed for sure: {_word(lies)} the usual {usual} ({share:.0%}), "
            f"or {_word(second)} it ({probs[second]:.0%})"
        )
    if lies == "within":
        where = "" if position is None else f", {_where(position)}"
        return f"{reading} is usual: within {usual}{where} ({share:.0%})"
    if lies in ("below", "above"):
        edge = format_si(band[1] if side == "below" else band[2], unit)
        return (
            f"{reading} is unusual: {side} {usual}, yet within what sound parts show "
            f"(to {edge}), so no fault by itself ({share:.0%})"
        )
    return f"{reading} is {side} {usual} and beyond what sound parts show ({share:.0%})"


def _word(lies: Lies) -> str:
    return lies.replace("_", " ")


def _where(position: float) -> str:
    if position < 0.2:
        return "near its low end"
    return "near its high end" if position > 0.8 else "well inside"
