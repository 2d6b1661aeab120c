"""Fuses: what a class holds and when it opens, and whether it stands the switch-on.

A fuse is never rated up because it blew: what is marked at the holder stands. Gates of the norms,
not the curve of one make; between gates only bounds can be told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from triage.errors import OutOfRange
from triage.measure.worked import given
from triage.units import format_si

FuseClass = Literal["T", "F", "UL", "UL_delay"]
RATINGS_A = (
    0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0,
    5.0, 6.3,
)  # fmt: skip
"""Rated currents of small IEC fuses, A (R10 series, as IEC 60127-2 lists them; from memory)."""
HOUR = 3600.0


@dataclass(frozen=True)
class Gate:
    """At ``multiple`` times its rating a fuse opens between ``least_s`` and ``most_s``.

    ``most_s`` infinite: it may hold for ever.
    """

    multiple: float
    least_s: float
    most_s: float


GATES: dict[str, tuple[Gate, ...]] = {
    "T": (
        Gate(1.5, HOUR, math.inf), Gate(2.1, 0.0, 120.0), Gate(2.75, 0.6, 10.0),
        Gate(4.0, 0.15, 3.0), Gate(10.0, 0.02, 0.3),
    ),
    "F": (
        Gate(1.5, HOUR, math.inf), Gate(2.1, 0.0, 1800.0), Gate(2.75, 0.05, 2.0),
        Gate(4.0, 0.01, 0.3), Gate(10.0, 0.0, 0.02),
    ),
    "UL": (Gate(1.0, math.inf, math.inf), Gate(1.35, 0.0, HOUR), Gate(2.0, 0.0, 120.0)),
    "UL_delay": (Gate(1.0, math.inf, math.inf), Gate(1.35, 0.0, HOUR), Gate(2.0, 5.0, 120.0)),
}  # fmt: skip
"""T: IEC 60127-2 sheet 3, F: sheet 2, 125 mA to 6.3 A (from memory; 1.5 and 2.1 seen in a posting).

UL 248-14, to 30 A: 100, 135, 200 % seen in a maker's guide; the delay's 5 s (to 3 A) from memory.
"""
MEANS: dict[str, str] = {
    "T": "time-lag (IEC): holds 1.5 times for an hour, stands a switch-on; slow blow in trade",
    "F": "quick (IEC): holds 1.5 times for an hour, opens in 20 ms at ten times: no switch-on surge",
    "UL": "fast-acting (UL): carries its rating, opens within an hour at 1.35 times; run it at 75 %",
    "UL_delay": "time-delay (UL): as UL, and holds 2 times for 5 s at least to 3 A",
}
"""What a class means, one line each; IEC and UL ratings are not the same ampere."""


def _gates(kind: str) -> tuple[Gate, ...]:
    if kind not in GATES:
        raise OutOfRange("class of the fuse", f"'{kind}'", ", ".join(get_args(FuseClass)))
    return GATES[kind]


@dataclass(frozen=True)
class Opening:
    """When a fuse opens: bounds in s, ``most_s`` infinite if it may hold; one sentence."""

    least_s: float
    most_s: float
    says: str
    steps: tuple[str, ...]

    @property
    def may_hold(self) -> bool:
        """Whether it may never open."""
        return math.isinf(self.most_s)


def _seconds(seconds: float) -> str:
    return f"{seconds / 60:.3g} min" if seconds >= 120.0 else format_si(seconds, "s")


def opening(rated_a: float, kind: FuseClass, amps: float) -> Opening:
    """Bounds of the time in which a fuse opens at a steady current in A.

    Between gates: least time of the next gate above, most time of the next below, since a fuse is
    faster at more current. Above the last gate the least is 0. Rating 0.125 to 6.3 A for T and F,
    to 30 A for UL; current 0 to 1000 times it.

    Raises
    ------
    OutOfRange : another class, or a value outside its range.

    Source
    ------
    ``GATES``.
    """
    gates = _gates(kind)
    most = 6.3 if kind in ("T", "F") else 30.0
    rating = given("rating of the fuse", rated_a, "A", least=0.125, most=most).value
    i = given("current", amps, "A", least=0.0, most=1000.0 * rating).value
    multiple = i / rating
    near = 1e-9 * multiple
    least = max((g.least_s for g in gates if g.multiple >= multiple - near), default=0.0)
    longest = min((g.most_s for g in gates if g.multiple <= multiple + near), default=math.inf)
    if math.isinf(least):
        says = "holds"
    elif math.isinf(longest):
        says = f"holds {_seconds(least)}, may hold for ever" if least else "may hold for ever"
    else:
        says = f"opens within {_seconds(longest)}" + (
            f", not before {_seconds(least)}" if least else ""
        )
    step = f"{format_si(i, 'A')} / {format_si(rating, 'A')} = {multiple:.3g} times: {says}"
    return Opening(least, longest, f"{MEANS[kind].split(':')[0]}: {says}", (step,))


def least_i2t(rated_a: float, kind: FuseClass) -> float:
    """Least I²t in A² s that a fuse of the class is sure to stand: (10 I)² x least time there.

    2 I² for T; 0 for F and UL, whose gates promise none. A lower bound of the norm: real time-lag
    fuses stand several times more.

    Raises
    ------
    OutOfRange : as ``opening``.

    Source
    ------
    ``GATES``; I²t of a short pulse: derived here.
    """
    opening(rated_a, kind, 0.0)
    return max(
        ((g.multiple * rated_a) ** 2 * g.least_s for g in _gates(kind) if g.multiple >= 10.0),
        default=0.0,
    )


@dataclass(frozen=True)
class Inrush:
    """A switch-on pulse against a fuse: its I²t and what the class is sure to stand, A² s."""

    i2t: float
    stands: float
    sure: bool
    says: str
    steps: tuple[str, ...]


def inrush(rated_a: float, kind: FuseClass, peak_a: float, seconds: float) -> Inrush:
    """Whether a switch-on pulse is sure to pass: decaying exponential, I²t = I_p² tau/2.

    ``seconds`` is the time constant tau, 0.1 ms to 1 s; peak 0 to 1000 A. Not sure is not "blows":
    the norm alone does not tell.

    Raises
    ------
    OutOfRange : a value outside its range.

    Source
    ------
    Integral of the square of an exponential.
    """
    peak = given("inrush peak", peak_a, "A", least=0.0, most=1000.0).value
    tau = given("time constant", seconds, "s", least=1e-4, most=1.0).value
    pulse, stands = 0.5 * peak * peak * tau, least_i2t(rated_a, kind)
    sure = pulse <= stands
    says = (
        "sure to pass" if sure
        else "the class does not promise it: see the make's melting I²t, and use time-lag"
    )  # fmt: skip
    steps = (
        f"I²t = I_p² × tau/2 = ({format_si(peak, 'A')})² × {format_si(tau, 's')}/2 = {pulse:.3g} A²s",
        f"stands at least {stands:.3g} A²s: {says}",
    )
    return Inrush(pulse, stands, sure, says, steps)


@dataclass(frozen=True)
class LostMarking:
    """Ratings to consider where the marking is lost: never used to replace a marked fuse."""

    low_a: float
    high_a: float
    rated_a: float
    says: str
    steps: tuple[str, ...]


def fuse_for_lost_marking(
    running_a: float, kind: FuseClass = "T", *, confirmed: bool = False
) -> LostMarking:
    """Rating where schematic and marking are lost: 1.5 to 2 times the running RMS current.

    ``confirmed``: a person has said that neither marking nor papers exist; without it, refused.
    Running current 0.06 to 4 A at full line. UL: at least running/0.75 also.

    Raises
    ------
    OutOfRange : not confirmed, or a current outside that range, or no usual rating in between.

    Source
    ------
    Common practice, no source; 75 % for UL from memory.
    """
    _gates(kind)
    if not confirmed:
        raise OutOfRange("marking of the fuse", "not said to be lost", "lost, and said so",
                         "fit what is marked; never more because it blew")  # fmt: skip
    i = given("running current", running_a, "A", least=0.06, most=4.0).value
    low, high = 1.5 * i, 2.0 * i
    fits = [rating for rating in RATINGS_A if low * (1 - 1e-9) <= rating <= high * (1 + 1e-9)]
    if not fits:
        raise OutOfRange("running current", format_si(i, "A"), "one with a usual rating near it")
    says = f"{format_si(fits[0], 'A')} {kind}, by what it draws; a fault must still open it"
    steps = (
        f"1.5 to 2 × {format_si(i, 'A')} = {format_si(low, 'A')} to {format_si(high, 'A')}",
        *opening(fits[0], kind, 10.0 * fits[0]).steps,
    )
    return LostMarking(low, high, fits[0], says, steps)
