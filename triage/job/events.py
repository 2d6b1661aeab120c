"""Events of a job: frozen, versioned, one JSON line each.

Two classes matter: answers may be taken back or corrected; acts never (semantics 3).
"""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import Field, ValidationError

from triage.model.base import Frozen

VERSION = 2
"""2 since ``already_done``; version 1 reads as it is."""
Kind = Literal[
    "job_started",
    "complaint_over",
    "already_done",
    "answer_given",
    "answer_undone",
    "act_done",
    "declined",
    "repair_done",
    "proof_done",
    "step_shown",
    "refused",
    "note_made",
    "closed",
]
ANSWERS = frozenset({"answer_given"})


class Event(Frozen):
    """One line of a job's record.

    ``data`` holds what its kind needs: see ``triage.job.fold``. ``at`` is in seconds.
    """

    v: int = VERSION
    n: int = Field(ge=0)
    at: float
    kind: Kind
    data: dict[str, Any] = Field(default_factory=dict)

    def to_line(self) -> str:
        """The event as one JSON line, without the newline."""
        return self.model_dump_json()

    @classmethod
    def from_line(cls, text: str) -> Event:
        """Read one line.

        Raises
        ------
        ValueError : not an event of this version; the message says which version is wanted.
        """
        try:
            version = json.loads(text).get("v")
        except (ValueError, AttributeError) as error:
            raise ValueError("not a line of a job's record") from error
        if isinstance(version, int) and version > VERSION:
            raise ValueError(
                f"written by a newer program (record version {version}; this one reads {VERSION})"
            )
        try:
            return cls.model_validate_json(text)
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(str(step) for step in first["loc"]) or "line"
            raise ValueError(f"not an event: {where}: {first['msg']}") from error
