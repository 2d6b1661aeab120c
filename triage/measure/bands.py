"""Bands of a number with uncertainty: the share of its distribution that falls in each of them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from triage.errors import BadReading
from triage.measure.quantity import Quantity
from triage.units import format_si, value_of

Settings = Mapping[str, str | float]
_POINTS = 32


@dataclass(frozen=True)
class Verdict:
    """What a reading says: a share for every answer (sum 1), the likeliest, and how it came about.

    ``informative`` is False where something was missing and all answers stay open. ``where``: the
    place in the band of the likeliest answer. ``unusual``: off the usual band, yet as sound parts
    may be. ``opens_gate`` is False, always.
    """

    probs: dict[str, float]
    band: str
    rests_on: str
    says: str
    steps: tuple[str, ...] = ()
    reading: str = ""
    informative: bool = True
    unusual: bool = False
    where: str = ""
    opens_gate: Literal[False] = False

    @property
    def probability(self) -> float:
        """Share of the likeliest answer."""
        return self.probs[self.answer]

    @property
    def answer(self) -> str:
        """The likeliest answer; the first in the finding's order on a tie."""
        return max(self.probs, key=lambda name: self.probs[name])

    @staticmethod
    def of(
        answers: Sequence[str],
        shares: Sequence[float],
        band: str,
        rests: str,
        reading: str,
        where: str = "",
    ) -> Verdict:
        """Verdict from shares in the order of the answers, scaled to sum 1."""
        total = sum(shares) or 1.0
        probs = {name: share / total for name, share in zip(answers, shares, strict=True)}
        best = max(probs, key=lambda name: probs[name])
        lies = f", {where}" if where.startswith("near") else ""
        says = f"{reading} reads as {best.replace('_', ' ')}{lies} ({probs[best]:.0%}); {rests}"
        steps = (f"{reading} against {band}",)
        return Verdict(probs, band, rests, says, steps, reading, where=where)

    @staticmethod
    def sure(answers: Sequence[str], answer: str, rests: str, reading: str) -> Verdict:
        """Verdict with all on one answer."""
        shares = [1.0 if name == answer else 0.0 for name in answers]
        return Verdict.of(answers, shares, answer, rests, reading)

    @staticmethod
    def mean(verdicts: Sequence[Verdict]) -> Verdict:
        """Even mixture, for a condition that is not known (the kind of bias, for one)."""
        if len(verdicts) == 1:
            return verdicts[0]
        names = list(verdicts[0].probs)
        shares = [sum(verdict.probs[name] for verdict in verdicts) for name in names]
        rests = " or ".join(verdict.rests_on for verdict in verdicts)
        bands = " or ".join(verdict.band for verdict in verdicts)
        mixed = Verdict.of(names, shares, bands, rests, verdicts[0].reading)
        return replace(mixed, unusual=any(verdict.unusual for verdict in verdicts))

    def adding(self, steps: Sequence[str]) -> Verdict:
        """The same verdict with steps of the reckoning added."""
        return replace(self, steps=self.steps + tuple(steps))

    def within_spread(self, usual: str, share: float, why: str) -> Verdict:
        """The same verdict, weakened: ``share`` of it is off ``usual`` but as sound parts may be.

        Half of that share goes back to ``usual``; where it is most of the reading, the sentence
        says "unusual" in place of a fault.
        """
        others = {name: p for name, p in self.probs.items() if name != usual and p > 0.0}
        moved = min(share, sum(others.values())) / 2.0
        if usual not in self.probs or moved < 1e-6:
            return self
        total = sum(others.values())
        probs = dict(self.probs)
        for name, p in others.items():
            probs[name] = p - moved * p / total
        probs[usual] += moved
        if share <= 0.5:
            return replace(self, probs=probs, steps=(*self.steps, why))
        says = (
            f"{self.reading} is unusual, yet within what sound parts show: {why}; {self.rests_on}"
        )
        return replace(self, probs=probs, says=says, steps=(*self.steps, why), unusual=True)

    def halved_with(self, answer: str, other: str, why: str) -> Verdict:
        """Share of ``answer`` split evenly with ``other``, since this reading cannot part them."""
        share = self.probs.get(answer, 0.0)
        if share < 1e-6 or other not in self.probs:
            return self
        probs = self.probs | {answer: share / 2, other: self.probs[other] + share / 2}
        return replace(self, probs=probs, says=f"{self.says}; {why}", steps=(*self.steps, why))


def open_verdict(answers: Sequence[str], why: str) -> Verdict:
    """Every answer left open with equal shares: no information, and the reason."""
    share = 1.0 / len(answers)
    return Verdict(
        {name: share for name in answers},
        "none",
        "nothing",
        f"No verdict: {why}.",
        (why,),
        "",
        False,
    )


def quantity_of(
    context: Mapping[str, str | float | Quantity], key: str, unit: str
) -> Quantity | None:
    """Known quantity of the context, or None if it is missing or no plain value of that unit."""
    found = context.get(key)
    if found is None or isinstance(found, bool):
        return None
    if isinstance(found, Quantity):
        return found if math.isfinite(found.value) else None
    if isinstance(found, str):
        try:
            found = value_of(found, unit)
        except BadReading:
            return None
    return Quantity(float(found), 0.0, unit) if math.isfinite(found) else None


def edges_of(settings: Settings, unit: str, key: str = "edges") -> list[float]:
    """Limits between the answers, in SI; empty if none are written.

    Raises
    ------
    BadReading : a limit is no value of that unit.
    """
    text = settings.get(key, "")
    if isinstance(text, (int, float)):
        return [float(text)]
    return [value_of(part.strip(), unit) for part in text.split(",") if part.strip()]


def _below(edge: float, value: float, u: float) -> float:
    if u <= 0.0:
        return 1.0 if value < edge else 0.0
    return 0.5 * math.erfc((value - edge) / (u * math.sqrt(2.0)))


def shares(reading: Quantity, edges: Sequence[float]) -> list[float]:
    """Share of the reading's distribution in each band between rising edges (sum 1).

    Normal with ``u``, spread evenly over a typed range. A one-sided reading leaves the bands beyond
    its bound open with equal shares. OL falls in the top band.
    """
    count = len(edges) + 1
    if reading.over:
        return [0.0] * (count - 1) + [1.0]
    if reading.at_least or reading.at_most:
        inside = sum(1 for edge in edges if edge <= reading.value)
        at_bound = sum(1 for edge in edges if edge < reading.value)
        keep = range(inside, count) if reading.at_least else range(at_bound + 1)
        return [1.0 / len(keep) if index in keep else 0.0 for index in range(count)]
    points = [reading.value]
    if reading.spread > 0:
        points = [
            reading.value + reading.spread * (2 * (index + 0.5) / _POINTS - 1)
            for index in range(_POINTS)
        ]
    below = [0.0]
    for edge in edges:
        below.append(sum(_below(edge, point, reading.u) for point in points) / len(points))
    below.append(1.0)
    return [high - low for low, high in zip(below, below[1:], strict=False)]


def banded(
    reading: Quantity,
    edges: Sequence[float],
    settings: Settings,
    answers: Sequence[str],
    rests: str,
    unit: str,
) -> Verdict:
    """Verdict of bands. ``order: falling`` in the settings: the answers run from high to low.

    ``spread: "0.7, 1.3"`` (in the unit of the edges) is what sound parts show, wider than the usual
    band that lies in it: what falls between the two is unusual, and weak evidence of a fault.
    """
    if len(edges) != len(answers) - 1:
        return open_verdict(answers, f"{len(answers)} answers need {len(answers) - 1} limits")
    found = shares(reading, edges)
    if settings.get("order") == "falling":
        found = found[::-1]
    text = ", ".join(format_si(edge, unit) for edge in edges)
    verdict = Verdict.of(
        answers,
        found,
        f"limits {text}",
        rests,
        str(reading),
        _where(reading, edges, shares(reading, edges)),
    )
    return _spread(verdict, reading, edges, settings, answers, unit)


def _where(reading: Quantity, edges: Sequence[float], found: Sequence[float]) -> str:
    """Place in the likeliest band, in words; empty where the band is open or the reading a bound."""
    if reading.one_sided:
        return ""
    index = max(range(len(found)), key=lambda i: found[i])
    if index in (0, len(edges)):
        near = edges[0] if index == 0 else edges[-1]
        return f"{abs(reading.value - near) / abs(near):.0%} from the limit" if near else ""
    low, high = edges[index - 1], edges[index]
    share = (reading.value - low) / (high - low)
    return (
        "near its low end" if share < 0.2 else "near its high end" if share > 0.8 else "well inside"
    )


def _spread(
    verdict: Verdict,
    reading: Quantity,
    edges: Sequence[float],
    settings: Settings,
    answers: Sequence[str],
    unit: str,
) -> Verdict:
    outer = edges_of(settings, unit, "spread")
    if len(outer) != 2:
        return verdict
    middle = sum(1 for edge in edges if edge <= (outer[0] + outer[1]) / 2)
    low = edges[middle - 1] if middle else -math.inf
    high = edges[middle] if middle < len(edges) else math.inf
    usual = answers[len(answers) - 1 - middle if settings.get("order") == "falling" else middle]
    inner = [max(outer[0], low), min(outer[1], high)]
    _, below, _, above, _ = shares(reading, [outer[0], *inner, outer[1]])
    ends = f"{format_si(outer[0], unit)} to {format_si(outer[1], unit)}"
    return verdict.within_spread(usual, below + above, f"sound parts lie within {ends}")
