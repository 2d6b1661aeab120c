"""What came of something typed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Reply:
    """Whether it was taken, a line to show, and a question to confirm with 'keep'."""

    ok: bool
    message: str = ""
    ask: str | None = None
