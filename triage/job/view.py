"""What a person is shown at one moment, as plain values. Terminals draw these; they decide nothing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class Choice:
    """One possible answer: its word in the files, and what a person reads."""

    answer: str
    says: str


@dataclass(frozen=True)
class Question:
    """One finding to be answered at one place. ``unit`` is set where a number may be typed."""

    finding: str
    place: str
    asks: str
    choices: tuple[Choice, ...]
    normal: str
    unit: str | None = None
    expected: str = ""
    help: str = ""


@dataclass(frozen=True)
class Suspicion:
    """A line of the suspects screen."""

    p: float
    text: str
    places: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True)
class View:
    """One thing at a time.

    ``sort`` says what is wanted: ``complaint`` (choose what is noticed), ``already`` (tick what was
    done before), ``step`` (do it, then answer ``questions``), ``act`` (a physical act to confirm:
    power, discharge, clear to power), ``repair``, ``proof``, ``hazard``, ``closed``. ``more``: how many lines
    of a list are left for the next page.
    """

    sort: Literal["complaint", "already", "step", "act", "repair", "proof", "hazard", "closed"]
    title: str
    number: int = 0
    power: str = "unplugged"
    banner: tuple[str, ...] = ()
    why: str = ""
    how: tuple[str, ...] = ()
    good: str = ""
    bad: str = ""
    mistakes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    more: int = 0
    act: str = ""
    ident: str = ""
    place: str = ""
    minutes: float = 0.0
    splits: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    suspects: tuple[Suspicion, ...] = ()
    fields: tuple[tuple[str, str], ...] = field(
        default=(), metadata={"doc": "names and units of numbers an act asks for"}
    )
