"""Plain files of answers: one ``key: value`` or ``key@place: value`` a line.

Empty lines count for nothing, nor does what follows a ``#`` that stands at the beginning of a line
or between blanks. A key may be given more than once; the order of lines is kept.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from triage.errors import KnowledgeError, Problem

KEY = re.compile(r"[A-Za-z][A-Za-z0-9_]*(\.[A-Za-z0-9_]+)*")
PLACE = re.compile(r"[A-Za-z0-9_.\-]+")
COMMENT = re.compile(r"^\s*#.*$|\s#(\s.*)?$")
EXAMPLE = "Write for example 'grid_dc@V3: -38 V'."


@dataclass(frozen=True)
class Answer:
    """One line: what it answers, where it holds (None: anywhere), what to type, its number."""

    key: str
    value: str
    place: str | None
    line: int


def read(path: Path) -> list[Answer]:
    """Lines of a file of answers, in order.

    Raises
    ------
    KnowledgeError : the file is missing or no text, or lines cannot be read; all are told.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror or "" if isinstance(error, OSError) else "it is no UTF-8 text"
        raise KnowledgeError(
            [Problem(str(path), 0, "the file of answers cannot be read", why)]
        ) from error
    return parse(text, str(path))


def parse(text: str, file: str = "answers") -> list[Answer]:
    """Answers of a text; ``file`` names it in errors.

    Raises
    ------
    KnowledgeError : with every line that cannot be read.
    """
    found: list[Answer] = []
    problems: list[Problem] = []
    for number, raw in enumerate(text.split("\n"), start=1):
        line = COMMENT.sub("", raw).strip()
        if not line:
            continue
        head, colon, value = (part.strip() for part in line.partition(":"))
        key, at, place = (part.strip() for part in head.partition("@"))
        why = _fault(colon, key, at, place, value)
        if why:
            problems.append(Problem(file, number, f"'{line}': {why}", mend=EXAMPLE))
        else:
            found.append(Answer(key, value, place or None, number))
    if problems:
        raise KnowledgeError(problems)
    return found


def _fault(colon: str, key: str, at: str, place: str, value: str) -> str:
    """What is wrong with the parts of a line, '' if nothing."""
    if not colon:
        return "no colon between what is answered and the answer"
    if not KEY.fullmatch(key):
        return f"'{key}' cannot be the name of a finding or act"
    if at and not PLACE.fullmatch(place):
        return f"'{place}' cannot be a place"
    return "" if value else "nothing stands after the colon"
