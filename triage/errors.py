"""What can go wrong, and how it is told: what, where, why, how to mend.

TriageError
├── KnowledgeError(problems)         files of knowledge, cases, profiles
├── BadReading(typed, accepted)      something typed at a prompt
├── OutOfRange(quantity, value)      a number that a formula is not valid for (a ValueError too)
├── CircuitError(reasons)
├── EngineFault                      the rules engine misbehaved or was fed what it cannot take
├── SafetyRefusal(reasons)           a step was asked for whose gates are not met
└── JournalError(path, line)
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


class TriageError(Exception):
    """Root of all errors that a user may see."""


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong in one file."""

    file: str
    line: int
    what: str
    why: str = ""
    mend: str = ""

    def __str__(self) -> str:
        """Render as ``file:line: what`` with the reason and the mend below."""
        text = f"{self.file}:{self.line}: {self.what}"
        if self.why:
            text += f"\n  {self.why}"
        if self.mend:
            text += f"\n  Mend: {self.mend}"
        return text


class KnowledgeError(TriageError):
    """Files that cannot be used; holds every problem found in one run."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class BadReading(TriageError):
    """A value that cannot be taken as typed."""

    def __init__(self, typed: str, why: str, accepted: str = "") -> None:
        self.typed = typed
        self.why = why
        self.accepted = accepted
        text = f"'{typed}': {why}"
        super().__init__(text + (f" Write for example {accepted}." if accepted else ""))


class OutOfRange(TriageError, ValueError):
    """A number that a formula is not valid for: which quantity, its value, what is allowed."""

    def __init__(self, quantity: str, value: str | float, allowed: str, mend: str = "") -> None:
        self.quantity = quantity
        self.value = value
        self.allowed = allowed
        self.mend = mend
        shown = value if isinstance(value, str) else f"{value:.6g}"
        text = f"{quantity} is {shown}, out of range: {allowed} is allowed."
        super().__init__(text + (f" Mend: {mend}." if mend else ""))


class CircuitError(TriageError):
    """A circuit that cannot be solved, with reasons read off its graph."""

    def __init__(self, reasons: list[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("; ".join(reasons))


class EngineFault(TriageError):
    """The rules engine failed, or was about to be fed what it cannot take."""


class SafetyRefusal(TriageError):
    """A step whose safety conditions are not met; the reasons say what can still be done."""

    def __init__(self, reasons: list[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("; ".join(reasons))


class JournalError(TriageError):
    """A job record that cannot be read as it stands."""

    def __init__(self, path: Path, line: int, what: str, mend: str = "") -> None:
        self.path = path
        self.line = line
        self.what = what
        self.mend = mend
        where = f"{path}:{line}" if line else str(path)
        super().__init__(f"{where}: {what}" + (f"\n  Mend: {mend}" if mend else ""))
