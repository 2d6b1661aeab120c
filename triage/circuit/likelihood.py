"""Readings of one visit against every fault of a circuit: one joint distribution for each.

A reading is compared on a signed log scale. Every point of a fault's range is one Gaussian over all
readings together, so that what a common line, a strong tube or the meter's own scale moves in all of
them is not counted once for each. Its covariance is the fault's own spread of parts and tubes and
the spread pooled over all faults, and what the line, the meter and the model may be off. Densities
are given over the background's, so they have no unit.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from triage.circuit.expected import spread
from triage.circuit.faults import Fault, variants_of
from triage.circuit.netlist import Netlist
from triage.circuit.solve import Solved, Variants, solve
from triage.circuit.strata import Stratum, strata_of
from triage.circuit.taps import Key, Tap, put_on, taps, tubes_out, with_meters
from triage.log_sum import log_sum

Floats = NDArray[np.float64]
SAMPLES = 16
CHUNK = 1024
OWN, POOLED = 0.3, 0.7
"""Shares of a fault's own spread and of the one pooled over faults (semantics 1.2.9)."""
FARTHEST = 1.0
"""A sample farther than this from its fault's middle on the log scale counts as this far."""
MISFIT = 0.03
"""What the model may be off at each point by itself, on the log scale (judgement)."""
MISFIT_V = 0.03
"""And in V, where volts are small: contact potentials, hum taken for DC (judgement)."""
CURRENT_MISFIT = 0.1
"""Plate current is often read with the screen's: that much more on the log scale (judgement)."""
LINE_READ, LINE_ASSUMED = 0.008, 0.03
"""Standard deviation of the log of the line: read on the day, or taken as nominal (judgement)."""
FAITH = 0.98
"""Share of the Gaussian; the rest goes to the background (semantics 1.2.9)."""
SLIP = 0.02
"""Chance that a single reading is a slip (the floor of a typed number)."""
WIDE = 1.5
"""Standard deviation of the background around the sound value: a factor of about 4 each way."""
DEAD = 0.1
"""Share of the background that lies about zero."""
DEAD_WIDTH = 0.5


@dataclass(frozen=True)
class Reading:
    """One reading in SI with its standard uncertainty (meter and spread together)."""

    key: Key
    value: float
    u: float


@dataclass(frozen=True)
class Visit:
    """Readings of one visit: all taken on one amplifier as it stands, at idle.

    ``line`` is the line as a share of nominal, ``line_read`` whether it was read; ``meter_ohm`` the
    input resistance of the meter. ``shares``: for each key the background's share of each answer.
    """

    readings: tuple[Reading, ...]
    shares: Mapping[Key, Mapping[str, float]]
    line: float = 1.0
    line_read: bool = False
    meter_ohm: float = 10e6

    def only(self, keys: Collection[Key]) -> Visit:
        """The readings of some keys."""
        return replace(self, readings=tuple(r for r in self.readings if r.key in keys))


@dataclass(frozen=True)
class Fit:
    """Log densities of a visit's readings over the background's.

    ``by_row``: by (cause, place), every point of its range alike likely. ``sound``: of the sound
    amplifier. ``alone`` and ``sound_alone`` the same for each reading by itself, shape (readings,).
    """

    keys: tuple[Key, ...]
    by_row: Mapping[Key, float]
    sound: float
    alone: Mapping[Key, Floats]
    sound_alone: Floats
    gap: Floats
    covariance: Floats
    background: Floats

    def sound_of(self, which: Sequence[int]) -> float:
        """Log density of some of the readings under the sound circuit over the background's."""
        at = list(which)
        if not at:
            return 0.0
        cov = self.covariance[np.ix_(at, at)]
        return float(_joined(self.gap[None, at], cov[None], self.background[at])[0])


@dataclass
class Likelihood:
    """Joint likelihoods of one circuit; what is solved is kept, and nothing before it is needed."""

    net: Netlist
    faults: Sequence[Fault]
    kept: dict[tuple[Key, float], Floats] = field(default_factory=dict)
    judged: dict[Key, tuple[object, dict[str, float]]] = field(default_factory=dict)
    """The background's share of each answer, and what it was judged with; see ``job.visit``."""

    @cached_property
    def taps(self) -> Mapping[Key, Tap]:
        """Readings that can be used."""
        return taps(self.net)

    @cached_property
    def strata(self) -> tuple[Stratum, ...]:
        """Points of all ranges, in order."""
        return strata_of(self.faults)

    @cached_property
    def _middling(self) -> Variants:
        return variants_of(self.net, [None, *(s.fault for s in self.strata)])

    @cached_property
    def _whole(self) -> tuple[Variants, Solved]:
        """Every fault with samples of parts and tubes, all tubes in."""
        turns = len(self.strata) + 1
        many = self._middling.take(np.repeat(np.arange(turns), SAMPLES))
        loose = spread(self.net, SAMPLES + 1)
        times = loose.siemens[1:] / self.net.siemens
        whole = replace(
            many,
            siemens=many.siemens * np.tile(times, (turns, 1)),
            emission=many.emission * np.tile(loose.emission[1:], (turns, 1)),
        )
        return whole, self._solved(whole)

    @cached_property
    def _pulled(self) -> tuple[Variants, Solved]:
        """The same with the output tubes pulled."""
        bare = tubes_out(self.net, self._whole[0])
        return bare, self._solved(bare)

    def _solved(self, many: Variants) -> Solved:
        sound = solve(self.net, Variants.sound(self.net))
        parts = [
            solve(self.net, many.take(np.arange(at, min(at + CHUNK, len(many.line)))), sound)
            for at in range(0, len(many.line), CHUNK)
        ]
        return Solved(
            np.concatenate([p.volts for p in parts]),
            np.concatenate([p.supply_a for p in parts]),
            np.concatenate([p.settled for p in parts]),
            np.concatenate([p.turns for p in parts]),
        )

    def _deviations(self, key: Key) -> Floats:
        """Samples about their middle on the log scale, (1 + strata, samples); NaN if not solved."""
        if (key, SPREAD) not in self.kept:
            tap = self.taps[key]
            many, found = self._pulled if tap.out else self._whole
            y = tap.scale(tap.values(self.net, found, many)).reshape(-1, SAMPLES)
            middle = np.zeros((len(y), 1))
            some = ~np.isnan(y).all(axis=1)
            middle[some] = np.nanmedian(y[some], axis=1, keepdims=True)
            self.kept[(key, SPREAD)] = np.clip(y - middle, -FARTHEST, FARTHEST)
        return self.kept[(key, SPREAD)]

    @cached_property
    def _lines(self) -> Mapping[bool, tuple[tuple[Variants, Solved], ...]]:
        """Middles at nominal line and a little below it, by whether the output tubes are out."""
        found = {}
        for out in (False, True):
            variants = tubes_out(self.net, self._middling) if out else self._middling
            low = replace(variants, line=variants.line * LOW_LINE)
            found[out] = tuple((v, _near(self.net, v)) for v in (variants, low))
        return found

    def _slopes(self, key: Key) -> tuple[Floats, Floats]:
        """Middles as they are without a meter, and their slope by the log of the line."""
        tap = self.taps[key]
        y, below = (tap.scale(tap.values(self.net, f, v)) for v, f in self._lines[tap.out])
        return y, (y - below) / -math.log(LOW_LINE)

    def _middles(self, key: Key, meter_ohm: float) -> Floats:
        """Middle of every stratum as this meter reads it, and its slope by the log of the line.

        Shape (2, 1 + strata), on the log scale; NaN where no point was found.
        """
        at = (key, meter_ohm)
        if at not in self.kept:
            tap = self.taps[key]
            y, slope = self._slopes(key)
            if tap.sort == "V" and tap.at not in self.net.fed and math.isfinite(meter_ohm):
                net, (variants, _) = with_meters(self.net), self._lines[tap.out][0]
                loaded = put_on(self.net, variants, tap.at, meter_ohm)
                y = tap.scale(tap.values(net, _near(net, loaded), loaded))
            self.kept[at] = np.stack([y, slope])
        return self.kept[at]

    def sound(self, key: Key) -> float:
        """What the middling sound amplifier reads there without a meter, SI."""
        y = float(self._slopes(key)[0][0])
        return self.taps[key].floor * math.sinh(y)

    def fit(self, visit: Visit) -> Fit:
        """Every fault's joint density of the visit's readings, of keys in ``taps``, each once."""
        readings = visit.readings
        own_taps = [self.taps[r.key] for r in readings]
        x = np.array(
            [float(t.scale(np.array(r.value))) for t, r in zip(own_taps, readings, strict=True)]
        )
        both = np.stack([self._middles(r.key, visit.meter_ohm) for r in readings], axis=-1)
        slope = np.nan_to_num(both[1])
        middle = both[0] + slope * math.log(visit.line)
        cov = self._covariances([r.key for r in readings], middle, slope, visit.line_read)
        cov += self._misfit(own_taps, readings)
        background = background_log(x, both[0][0])
        good = np.isfinite(middle.sum(axis=1))
        gap = np.where(good[:, None], x - middle, 0.0)
        logs = _joined(gap, cov, background)
        var = np.einsum("mii->mi", cov)
        alone = -0.5 * (gap**2 / var + np.log(2.0 * np.pi * var)) - background
        alone = np.logaddexp(alone + math.log(FAITH), math.log(1.0 - FAITH))
        logs[~good], alone[~good] = math.log(1.0 - FAITH), math.log(1.0 - FAITH)
        by_row, each = self._by_row(logs, alone)
        keys = tuple(r.key for r in readings)
        return Fit(keys, by_row, float(logs[0]), each, alone[0], gap[0], cov[0], background)

    def _by_row(self, logs: Floats, alone: Floats) -> tuple[dict[Key, float], dict[Key, Floats]]:
        members: dict[Key, list[int]] = {}
        for i, stratum in enumerate(self.strata, start=1):
            for cause in stratum.fault.causes:
                members.setdefault((cause, stratum.fault.place or ""), []).append(i)
        share = {key: math.log(len(rows)) for key, rows in members.items()}
        joint = {key: float(log_sum(logs[rows])) - share[key] for key, rows in members.items()}
        each = {key: log_sum(alone[rows]) - share[key] for key, rows in members.items()}
        return joint, each

    def _covariances(
        self, keys: Sequence[Key], middle: Floats, slope: Floats, line_read: bool
    ) -> Floats:
        """Spread of every stratum, shape (1 + strata, readings, readings), meter and misfit apart."""
        off = np.stack([self._deviations(key) for key in keys], axis=-1)
        solved = np.asarray(np.isfinite(off.sum(axis=-1)))
        off = np.where(solved[:, :, None], off, 0.0)
        counts = solved.sum(axis=1)
        own = np.einsum("msi,msj->mij", off, off) / np.maximum(counts, 1)[:, None, None]
        pooled = own[counts == SAMPLES].mean(axis=0)
        own[counts < SAMPLES] = pooled
        spread_of = OWN * own + POOLED * pooled
        sigma = LINE_READ if line_read else LINE_ASSUMED
        spread_of += sigma**2 * slope[:, :, None] * slope[:, None, :]
        step = self._steps(middle)
        return np.asarray(spread_of + step[:, :, None] * step[:, None, :] / 12.0)

    def _steps(self, middle: Floats) -> Floats:
        """Length of the piece of its range that each stratum stands for, shape as ``middle``."""
        step = np.zeros_like(middle)
        for i, stratum in enumerate(self.strata, start=1):
            beside = [
                j for j in (i - 1, i + 1)
                if 1 <= j <= len(self.strata) and self.strata[j - 1].chain == stratum.chain
            ]  # fmt: skip
            ends = [middle[j] for j in beside] + [middle[i]] * (2 - len(beside))
            if beside:
                step[i] = (
                    (ends[-1] - ends[0]) / 2.0 if len(beside) == 2 else (ends[0] - ends[1]) / 2
                )
        return np.nan_to_num(step)

    def _misfit(self, own_taps: Sequence[Tap], readings: Sequence[Reading]) -> Floats:
        """Meter and model, each reading by itself, shape (readings, readings)."""
        var = []
        for tap, reading in zip(own_taps, readings, strict=True):
            per = 1.0 / math.hypot(reading.value, tap.floor)
            own = CURRENT_MISFIT if tap.sort == "A" else MISFIT
            small = MISFIT_V * per if tap.sort == "V" else 0.0
            var.append((reading.u * per) ** 2 + own**2 + small**2)
        return np.diag(np.array(var))


LOW_LINE = 0.97
"""Share of the nominal line at which the slope by the line is taken."""
SPREAD = -1.0
"""Stands in the place of the meter's ohms for what is kept of the spread."""


def _near(net: Netlist, variants: Variants) -> Solved:
    """All members, started from the first of them (the sound one)."""
    first = solve(net, variants.take(np.arange(1)))
    return solve(net, variants, first)


def background_grid(sound: float, count: int = 40) -> list[tuple[float, float]]:
    """The background as points of equal weight in its two parts: (log scale, weight)."""
    quantile = NormalDist().inv_cdf
    at = [quantile((i + 0.5) / count) for i in range(count)]
    wide = [(sound + WIDE * z, (1.0 - DEAD) / count) for z in at]
    return wide + [(DEAD_WIDTH * z, DEAD / count) for z in at]


def background_log(y: Floats, sound: Floats) -> Floats:
    """Log of the background density at ``y`` on the log scale, around the sound values."""
    wide = -0.5 * ((y - sound) / WIDE) ** 2 - math.log(WIDE)
    dead = -0.5 * (y / DEAD_WIDTH) ** 2 - math.log(DEAD_WIDTH)
    both = np.logaddexp(math.log(1.0 - DEAD) + wide, math.log(DEAD) + dead)
    return np.asarray(both - 0.5 * math.log(2.0 * math.pi))


def _joined(gap: Floats, cov: Floats, background: Floats) -> Floats:
    """Log of the mixed density over the background's, shape (members,).

    Gaussian, or Gaussian with one reading a slip, or background. ``gap`` (members, readings),
    ``cov`` (members, readings, readings), ``background`` log densities (readings,).
    """
    n = gap.shape[1]
    inverse = np.linalg.inv(cov)
    solved = np.einsum("mij,mj->mi", inverse, gap)
    _, size = np.linalg.slogdet(cov)
    whole = -0.5 * (np.einsum("mi,mi->m", gap, solved) + size + n * math.log(2.0 * math.pi))
    over = whole - float(background.sum())
    # leaving one out divides by its density given the others
    var = 1.0 / np.einsum("mii->mi", inverse)
    given = -0.5 * ((solved * var) ** 2 / var + np.log(2.0 * math.pi * var))
    slip = over[:, None] - given + background
    one = math.log(SLIP) + (n - 1) * math.log(1.0 - SLIP)
    fits = np.logaddexp(over + n * math.log(1.0 - SLIP), log_sum(slip.T) + one)
    return np.asarray(np.logaddexp(math.log(FAITH) + fits, math.log(1.0 - FAITH)))
