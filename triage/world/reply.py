"""What a bench gives back, and what every simulated bench can do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

from triage.infer.ground import Hypothesis, Key


@dataclass(frozen=True)
class Reply:
    """An answer to one finding; or, with ``reading``, a value as typed that is still to be judged.

    ``answer`` is one of the finding's own, or ``unknown`` / ``cannot``; empty with a reading.
    """

    answer: str
    reading: str | None = None
    happening: Literal["yes", "no", "unknown"] = "yes"


class World(Protocol):
    """A bench with one amplifier on it. The same question gets the same reply."""

    @property
    def truth(self) -> Hypothesis | None:
        """The fault; None where the bench does not know it by a row of its own."""
        ...

    def complaint(self) -> tuple[tuple[Key, Reply], ...]:
        """What its owner says unasked."""
        ...

    def ask(self, finding: str, place: str) -> Reply:
        """The reply to a finding at a place."""
        ...
