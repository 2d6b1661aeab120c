"""A new job: a built-in amplifier, a profile file, or a short set of questions.

The questions are data (``knowledge/questions.yaml``); each sets one field of the profile and may
be answered 'unknown', which leaves the field as it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import yaml
from pydantic import ValidationError

from triage.errors import KnowledgeError, Problem
from triage.knowledge.load import explain
from triage.model.profile import Profile
from triage.terminal import texts
from triage.terminal.asker import Asker, Word
from triage.terminal.commands import Leave, pick
from triage.terminal.screen import Line, danger_lines, plain_lines
from triage.terminal.spoken import understand

Row = Mapping[str, Any]


def choose_profile(
    asker: Asker, profiles: Mapping[str, Profile], questions: Sequence[Row]
) -> Profile:
    """Ask which amplifier it is.

    Raises
    ------
    EOFError, Leave : the person left before a profile was chosen; nothing has been kept.
    """
    asker.show(plain_lines("\n".join(texts.WELCOME), asker.look(), "care"))
    ways = [*profiles, "file", "questions"]
    says = {name: profile.says or name for name, profile in profiles.items()}
    says |= texts.INTAKE_WAYS
    while True:
        chosen = _choose(asker, texts.INTAKE_ASK, [(way, says[way]) for way in ways])
        if chosen is None:
            return ask_profile(asker, questions)
        if chosen in profiles:
            return profiles[chosen]
        if chosen == "questions":
            return ask_profile(asker, questions)
        path = _line(asker, texts.INTAKE_FILE, [])
        try:
            return read_profile(Path(path).expanduser())
        except KnowledgeError as error:
            _say(asker, str(error), "wrong")


def read_profile(path: Path) -> Profile:
    """Profile from a YAML file.

    Raises
    ------
    KnowledgeError : the file is missing, not YAML, or has fields that a profile does not have.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise KnowledgeError(
            [
                Problem(
                    str(path),
                    1,
                    "this profile cannot be read",
                    str(error),
                    "give the path of a YAML file, such as one of knowledge/amplifiers.",
                )
            ]
        ) from error
    try:
        row = yaml.safe_load(text)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        what = str(getattr(error, "problem", None) or error)
        raise KnowledgeError(
            [Problem(str(path), mark.line + 1 if mark else 1, f"not readable as YAML: {what}")]
        ) from error
    try:
        return Profile.model_validate(row)
    except ValidationError as error:
        name = str(row.get("amplifier", "profile")) if isinstance(row, dict) else "profile"
        raise KnowledgeError(
            [_placed(problem, text) for problem in explain(error, str(path), None, (), 1, name)]
        ) from error


def _placed(problem: Problem, text: str) -> Problem:
    """The problem with the line of the last key named in it."""
    keys = problem.what.split(": ")[1].split(".") if ": " in problem.what else []
    for key in reversed(keys):
        for n, row in enumerate(text.splitlines(), 1):
            if f"{key}:" in row:
                return Problem(problem.file, n, problem.what, problem.why, problem.mend)
    return problem


def ask_profile(asker: Asker, questions: Sequence[Row]) -> Profile:
    """Profile from the short set of questions.

    Raises
    ------
    KnowledgeError : a question sets a field that a profile does not have.
    EOFError, Leave : the person left.
    """
    raw: dict[str, Any] = {"amplifier": "yours"}
    i = 0
    while i < len(questions):
        row = questions[i]
        head = f"{row['asks']} ({i + 1} of {len(questions)})"
        choices = [(str(c["is"]), str(c["says"])) for c in row["choices"]]
        asked = _choose(
            asker,
            head,
            [*choices, ("unknown", "I do not know")],
            hint=str(row.get("help", "")),
            many="many" in row,
        )
        if asked == "back":
            i = max(0, i - 1)
            continue
        if asked is not None:
            told = asked.split() if "many" in row else asked
            if row["sets"] == "has":
                told = raw.get("has", {}) | marks(told, [word for word, _ in choices])
            put(raw, str(row["sets"]), told)
        i += 1
    try:
        return Profile.model_validate(raw)
    except ValidationError as error:
        raise KnowledgeError(
            list(explain(error, "questions.yaml", None, (), 1, "profile"))
        ) from error


def marks(chosen: Sequence[str], offered: Sequence[str]) -> dict[str, str]:
    """What it has, as yes and no: whoever answers has looked over the whole list."""
    return {word: "yes" if word in chosen else "no" for word in offered if word != "none"}


def put(raw: dict[str, Any], field: str, value: Any) -> None:
    """Set a dotted field in nested plain values; a whole number given as text becomes one."""
    *heads, last = field.split(".")
    here = raw
    for head in heads:
        here = here.setdefault(head, {})
    here[last] = int(value) if isinstance(value, str) and value.isdigit() else value


def _choose(
    asker: Asker, head: str, choices: Sequence[Word], *, hint: str = "", many: bool = False
) -> str | None:
    """One of the choices (or several, spaced); None for unknown, 'back' for the question before."""
    look = asker.look()
    lines: list[Line] = plain_lines(head, look, "title")
    lines += plain_lines(hint, look) if hint else []
    for i, (word, says) in enumerate(choices, 1):
        text = f"{i} {word.replace('_', ' ')}"
        lines += plain_lines(f"  {text}: {says}" if says != word else f"  {text}", look, "choice")
    asker.show(lines)
    words = [word for word, _ in choices]
    while True:
        typed = _line(asker, texts.PROMPTS["step"], choices)
        if typed == "back":
            return "back"
        parts = typed.replace(",", " ").split() if many else [typed]
        found = [pick(part, words) for part in parts]
        if found and all(word is not None for word in found):
            kept = [word for word in found if word is not None and word != "unknown"]
            return " ".join(kept) or None
        _say(asker, texts.NUMBERED.format(answers=", ".join(words)), "wrong")


def _line(asker: Asker, prompt: str, words: Sequence[Word]) -> str:
    """One line, commands that make sense before a job exists taken care of."""
    while True:
        try:
            typed = asker.ask(prompt, [*words, *texts.INTAKE_WORDS], texts.POWER_WORDS["any"])
        except KeyboardInterrupt:
            raise Leave from None
        spoken = understand(typed, [word for word, _ in words], free=prompt == texts.INTAKE_FILE)
        if spoken.sort == "answer":
            return spoken.rest
        if spoken.word == "danger":
            asker.show(danger_lines(asker.look()))
        elif spoken.word == "pause":
            raise Leave
        elif spoken.word == "back":
            return "back"
        else:
            _say(asker, texts.INTAKE_HELP)


def _say(asker: Asker, text: str, style: str = "text") -> None:
    asker.show(plain_lines(text, asker.look(), style))
