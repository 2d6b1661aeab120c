"""Hazards: words that stop everything, found in notes without tripping on 'no smoke'."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from triage.model.gates import HazardText
from triage.spelling import nearest

NO_SLIPS = frozenset("single singles stock stocks shack shacks smoker smokers smooth flame".split())
"""Words that look like a slip of a hazard's word and are none."""

DENIED = re.compile(
    r"\b(?:no|not|never|without|none|neither|nor|cannot|ain't|aint|[a-z]+n't|isnt|wasnt|didnt"
    r"|doesnt|dont|hasnt|havent|cant|wont|arent)\b"
    r"(?! (?:just|only|longer|more)\b)(?P<between>[\w\s'-]{0,40})$"
)
"""A denial before a hazard word, and what stands between."""
EMPTY = re.compile(
    r"(?:\s*\b(?:a|an|the|any|any sort|sign|signs|trace|hint|visible|actual|real|ever|yet|seen|see"
    r"|saw|smell|smelled|smelt|feel|felt|notice|noticed|had|have|been|be|get|got|give|given|gave"
    r"|gives|it|me|us|of|from|to|there|is|was|\w+ (?:or|nor))\b)*\s*"
)
"""What may stand between for the denial to hold; after anything else it is asked back."""
DOUBT = re.compile(
    r"\b(?:not sure|(?:don't|dont|do not) know|(?:can't|cant|cannot) (?:tell|say))\b"
)


@dataclass(frozen=True)
class Heard:
    """A hazard word in a note: said, or only asked about."""

    hazard: str
    word: str
    sure: Literal["said", "asked"]


def listen(note: str, hazards: Iterable[HazardText]) -> Heard | None:
    """The first hazard a note speaks of; None where it speaks of none, or denies it.

    "no smoke" is nothing; "smoke?" must be asked back, as is what is said in doubt ("not sure if
    it smoked") or where a denial may mean something else ("without touching it I got a shock").
    A slip of the pen in a hazard's word ("smoek") is taken for the word. What is said for sure
    comes before what is only asked.
    """
    asked: Heard | None = None
    known = list(hazards)
    text = _mended(note.lower().replace("\u2019", "'"), known)
    for hazard in known:
        for word in (*hazard.words, hazard.id.replace("_", " ")):
            for found in re.finditer(rf"\b{re.escape(word)}\b", text):
                sure = _surely(text, found)
                if sure == "said":
                    return Heard(hazard.id, word, sure)
                if sure == "asked" and asked is None:
                    asked = Heard(hazard.id, word, sure)
    return asked


def _surely(text: str, found: re.Match[str]) -> Literal["said", "asked"] | None:
    """Whether a hazard word is said, asked about, or denied (None)."""
    before = re.split(r"[.;,!?\n]|\bbut\b|\band\b", text[: found.start()])[-1]
    if DOUBT.search(before):
        return "asked"
    denial = DENIED.search(before)
    if denial is not None:
        return None if EMPTY.fullmatch(denial["between"]) else "asked"
    after = text[found.end() : found.end() + 2]
    return "asked" if "?" in after or text.rstrip().endswith("?") else "said"


def _mended(text: str, hazards: Sequence[HazardText]) -> str:
    """The text with misspelt hazard words as they were meant."""
    words = {w for h in hazards for w in (*h.words, h.id) if w.isalpha()}
    inside = {part for h in hazards for w in h.words for part in w.split()}

    def meant(found: re.Match[str]) -> str:
        word = found[0]
        known = word in words or word in inside or word in NO_SLIPS
        return word if known else nearest(word, sorted(words)) or word

    return re.sub(r"[a-z]+", meant, text)
