"""All checks by name, and how one is run: the table behind ``triage reckon``."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from triage.errors import BadReading
from triage.measure.asked import Check, run
from triage.measure.checks import Outcome, Shelf, nearest
from triage.measure.quantity import Quantity
from triage.measure.reckon_capacitors import CAPACITORS
from triage.measure.reckon_chart import CHARTS
from triage.measure.reckon_loadline import LOAD_LINES
from triage.measure.reckon_mains import MAINS
from triage.measure.reckon_plans import PLANS
from triage.measure.reckon_stages import STAGES
from triage.measure.reckon_supply import SUPPLY
from triage.measure.reckon_tubes import TUBES

TABLES: tuple[tuple[str, tuple[Check, ...]], ...] = (
    ("tubes", TUBES),
    ("stages", (*LOAD_LINES, *STAGES)),
    ("capacitors", CAPACITORS),
    ("supply, line, parts", (*SUPPLY, *MAINS)),
    ("insulation, reforming, limiter, fuse", PLANS),
    ("whole amplifier", CHARTS),
)
"""Checks by theme, in the order in which they are listed."""
CHECKS: dict[str, Check] = {check.name: check for _, table in TABLES for check in table}
"""Every check by its name."""


@dataclass(frozen=True)
class Reckoned:
    """A check that was run: its outcome, and the values it used as they were typed."""

    check: Check
    inputs: dict[str, str]
    outcome: Outcome

    def as_dict(self) -> dict[str, Any]:
        """The stable form of ``--json``.

        ``check``, ``inputs`` (as typed), ``result`` (SI or None), ``unit``, ``u`` (standard
        uncertainty), ``also`` (further named numbers), ``steps``, ``verdict``, ``rests_on``,
        ``marks``, ``lines`` (answers in words).
        """
        out = self.outcome
        return {
            "check": self.check.name,
            "inputs": self.inputs,
            **_number(out.result),
            "also": [{"name": name, **_number(q)} for name, q in out.also],
            "steps": list(out.steps),
            "verdict": out.verdict,
            "rests_on": out.rests_on,
            "marks": list(out.marks),
            "lines": list(out.lines),
        }


def _number(q: Quantity | None) -> dict[str, Any]:
    if q is None:
        return {"result": None, "unit": "", "u": None}
    return {
        "result": q.value if math.isfinite(q.value) else None,
        "unit": q.unit,
        "u": q.total_u if math.isfinite(q.total_u) else None,
    }


def find(name: str) -> Check:
    """Check of that name, strokes and underlines alike.

    Raises
    ------
    BadReading : there is none; the nearest is offered.
    """
    found = CHECKS.get(name.strip().lower().replace("_", "-"))
    if found is None:
        raise BadReading(name, f"no such check{nearest(name.lower(), CHECKS)}")
    return found


def reckon(name: str, typed: Mapping[str, str], shelf: Shelf) -> Reckoned:
    """Run the check ``name`` on values as typed.

    Raises
    ------
    BadReading : no such check; a value it does not take, a missing one, one that cannot be read.
    OutOfRange : a number that the formula is not valid for.
    """
    check = find(name)
    outcome, inputs = run(check, typed, shelf)
    return Reckoned(check, inputs, outcome)
