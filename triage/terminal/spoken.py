"""What a typed line is: a command or an answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from triage.terminal.texts import COMMANDS, SPECIAL

_MORE = {command.word: command.more for command in COMMANDS}
WORDS = tuple(_MORE)


@dataclass(frozen=True)
class Spoken:
    """A typed line, told apart.

    ``sort`` command: ``word`` and what follows it; answer: ``rest`` is the whole line.
    """

    sort: Literal["command", "answer"]
    word: str = ""
    rest: str = ""


def understand(typed: str, answers: Sequence[str] = (), *, free: bool = False) -> Spoken:
    """Tell commands from answers.

    An answer written out wins over a command, a command written out over the beginning of an
    answer, the beginning of an answer over the beginning of a command. Single letters are never
    commands. Where ``free`` words are typed, only whole commands count.

    Parameters
    ----------
    answers : words that the prompt takes as answers.
    """
    text = " ".join(typed.split())
    if text in SPECIAL:
        return Spoken("command", SPECIAL[text])
    lowered = text.lower()
    if lowered.replace(" ", "_") in {answer.lower() for answer in answers}:
        return Spoken("answer", rest=text)
    head, _, rest = text.partition(" ")
    word = SPECIAL.get(head, head.lower())
    if word in _MORE and _may_follow(word, rest):
        return Spoken("command", word, rest)
    if free or rest or len(word) < 2:
        return Spoken("answer", rest=text)
    if any(answer.lower().startswith(word) for answer in answers):
        return Spoken("answer", rest=text)
    could = tuple(command for command in WORDS if command.startswith(word))
    if len(could) == 1:
        return Spoken("command", could[0])
    return Spoken("answer", rest=text)


def _may_follow(word: str, rest: str) -> bool:
    if not rest or word == "danger" or _MORE[word] == "TEXT":
        return True
    return bool(_MORE[word]) and rest[0].isdigit()
