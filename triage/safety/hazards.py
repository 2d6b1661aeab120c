"""Hazards: words that stop everything, found in notes without tripping on 'no smoke'."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from triage.model.gates import HazardText

NEGATED = re.compile(
    r"\b(no|not|never|without|none|neither|nor|isn't|wasn't|didn't|doesn't)\b[\w\s'-]{0,24}$"
)


@dataclass(frozen=True)
class Heard:
    """A hazard word in a note: said, or only asked about."""

    hazard: str
    word: str
    sure: Literal["said", "asked"]


def listen(note: str, hazards: Iterable[HazardText]) -> Heard | None:
    """The first hazard a note speaks of; None where it speaks of none, or denies it.

    "no smoke" is nothing; "smoke?" must be asked back.
    """
    text = note.lower()
    for hazard in hazards:
        for word in (*hazard.words, hazard.id.replace("_", " ")):
            for found in re.finditer(rf"\b{re.escape(word)}\b", text):
                before = re.split(r"[.;,!?]|\bbut\b|\band\b", text[: found.start()])[-1]
                if NEGATED.search(before):
                    continue
                after = text[found.end() : found.end() + 2]
                asked = "?" in after or text.rstrip().endswith("?")
                return Heard(hazard.id, word, "asked" if asked else "said")
    return None
