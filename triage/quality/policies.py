"""Orders of tests to hold the planner against: each gives the next move as the planner does.

All of them make the same repairs, stop when the leading one is as sure, and are stopped by the same
gates; they differ in which test comes next.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from triage.plan.advise import Advice, Adviser, Gatekeeper, Situation, conclude, price, put_first
from triage.plan.advise import advise as planner
from triage.plan.candidates import outcomes
from triage.plan.lookahead import Priced, information
from triage.quality.six_steps import Order, Wiring, next_by_six_steps

Choose = Callable[[Situation, list[Priced]], Priced | None]
TELLS_NOTHING = 0.001
"""Bits below which a test changes nothing."""


def following(choose: Choose) -> Adviser:
    """An adviser that tests as ``choose`` says until the leading repair is sure or none is left."""

    def advise(situation: Situation, gatekeeper: Gatekeeper) -> Advice:
        if situation.hazard_open:
            return Advice("stop", "A hazard is open: nothing else is done until it is dealt with.")
        priced = price(situation, gatekeeper)
        first = put_first(situation, priced)
        if first is not None:
            return first
        chosen = None if situation.sure or not priced else choose(situation, priced)
        if chosen is None:
            return conclude(situation, priced, (), gatekeeper)
        return Advice("step", "It comes next in this order.", chosen.candidate, chosen.findings)

    return advise


def _bits(situation: Situation, priced: Sequence[Priced]) -> list[float]:
    state = situation.state
    return [information(state.posterior, outcomes(state, item.findings)) for item in priced]


def gain_per_cost(situation: Situation, priced: list[Priced]) -> Priced | None:
    """Most bits for a minute; none where nothing tells anything."""
    bits = _bits(situation, priced)
    best = max(range(len(priced)), key=lambda i: (bits[i] / (priced[i].cost + 0.1), -i))
    return priced[best] if bits[best] > TELLS_NOTHING else None


def gain_only(situation: Situation, priced: list[Priced]) -> Priced | None:
    """Most bits, whatever they cost."""
    bits = _bits(situation, priced)
    best = max(range(len(priced)), key=lambda i: (bits[i], -i))
    return priced[best] if bits[best] > TELLS_NOTHING else None


def cheapest(situation: Situation, priced: list[Priced]) -> Priced | None:
    """The cheapest test that tells anything at all."""
    bits = _bits(situation, priced)
    telling = [item for item, b in zip(priced, bits, strict=True) if b > TELLS_NOTHING]
    return min(telling, key=lambda item: (item.cost, item.candidate.key)) if telling else None


def at_random(seed: int) -> Choose:
    """Any test that tells anything, drawn anew at each step from ``seed`` and what is known."""

    def choose(situation: Situation, priced: list[Priced]) -> Priced | None:
        bits = _bits(situation, priced)
        telling = [item for item, b in zip(priced, bits, strict=True) if b > TELLS_NOTHING]
        draw = np.random.default_rng([seed, len(situation.known), len(situation.tried)])
        return telling[int(draw.integers(len(telling)))] if telling else None

    return choose


def six_steps(order: Order, wired: Wiring) -> Choose:
    """The printed six steps, in the order of their file."""

    def choose(situation: Situation, priced: list[Priced]) -> Priced | None:
        by_key = {item.candidate.key: item for item in priced}
        candidates = [item.candidate for item in priced]
        found = next_by_six_steps(order, situation.known, candidates, wired)
        return None if found is None else by_key[found.key]

    return choose


def policies(order: Order, wired: Wiring, seed: int = 1) -> dict[str, Adviser]:
    """All orders by name; ``planner`` is this program's own."""
    return {
        "planner": planner,
        "gain_per_cost": following(gain_per_cost),
        "gain_only": following(gain_only),
        "cheapest": following(cheapest),
        "six_steps": following(six_steps(order, wired)),
        "random": following(at_random(seed)),
    }
