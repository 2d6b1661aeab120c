"""The session driven from a file of answers; prints what was asked and what was answered.

An answer is a line ``key: value``. The key is a finding, an act, ``complaint``, ``note``,
``repair`` or ``proof``, with ``@place`` where it holds for one place only. What the file does not
answer is answered 'unknown'; an act it does not speak of cannot be done; nothing implausible is
kept unless the file says ``keep`` on a line of its own for the same key.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from triage.errors import SafetyRefusal
from triage.job.view import Question, View
from triage.terminal.asker import Asker
from triage.terminal.desk import Desk, Reply
from triage.terminal.screen import Line, plain_lines, power_text

LIMIT = 400
"""Turns after which a file that leads nowhere is given up."""


class Scripted(Protocol):
    """One line of a file of answers."""

    @property
    def key(self) -> str:
        """Finding, act, complaint, still (noticed after a failed proof), note, repair or proof."""

    @property
    def place(self) -> str | None:
        """Place it is limited to, else None."""

    @property
    def value(self) -> str:
        """What to type."""

    @property
    def line(self) -> int:
        """Line in the file, from 1."""


@dataclass(frozen=True)
class Said:
    """A line of a file of answers, as plain values."""

    key: str
    value: str
    place: str | None = None
    line: int = 0


@dataclass(frozen=True)
class Outcome:
    """How it ended.

    ``ended`` is the sort of the last view, ``unused`` the lines of the file never asked for,
    ``proven`` whether a repair passed its proof.
    """

    ended: str
    turns: int
    unused: tuple[int, ...]
    proven: bool = False


class _Sheet:
    """The lines of the file, each used at most once, except the last one of a key."""

    def __init__(self, answers: Iterable[Scripted]) -> None:
        self.rows = list(answers)
        self.used: set[int] = set()

    def take(self, key: str, place: str = "") -> str | None:
        fits = [
            i
            for i, row in enumerate(self.rows)
            if row.key == key and row.place in (None, "", place)
        ]
        exact = [i for i in fits if self.rows[i].place] or fits
        fresh = [i for i in exact if i not in self.used]
        if not exact:
            return None
        chosen = fresh[0] if fresh else exact[-1]
        self.used.add(chosen)
        return self.rows[chosen].value

    def keep(self, key: str, place: str) -> bool:
        """Whether the next unused line of this key says 'keep'."""
        for i, row in enumerate(self.rows):
            if i not in self.used and row.key == key and row.place in (None, "", place):
                if row.value == "keep":
                    self.used.add(i)
                    return True
                return False
        return False

    def all_of(self, key: str) -> list[str]:
        found = []
        for i, row in enumerate(self.rows):
            if row.key == key:
                self.used.add(i)
                found.append(row.value)
        return found

    def has(self, key: str) -> bool:
        """Whether any line speaks of this key."""
        return any(row.key == key for row in self.rows)

    def unused(self) -> tuple[int, ...]:
        return tuple(row.line for i, row in enumerate(self.rows) if i not in self.used)


def play(desk: Desk, answers: Sequence[Scripted], asker: Asker, *, limit: int = LIMIT) -> Outcome:
    """Run a session to its end with the answers of a file.

    Parameters
    ----------
    desk : the session; each answer is saved by it before the next is given.
    answers : lines of the file, in order.
    asker : only shown to, never asked.
    limit : turns, > 0.
    """
    return _Play(desk, answers, asker).run(limit)


class _Play:
    def __init__(self, desk: Desk, answers: Sequence[Scripted], asker: Asker) -> None:
        self.desk = desk
        self.sheet = _Sheet(answers)
        self.asker = asker
        self.proven = False

    def run(self, limit: int) -> Outcome:
        for text in self.sheet.all_of("note"):
            self._told(f"note: {text}", self.desk.note(text))
        view = self.desk.view()
        turns = 0
        while turns < limit:
            turns += 1
            self._show(view)
            if view.sort == "closed" or (view.sort == "hazard" and not self.sheet.has(view.ident)):
                break
            self._turn(view)
            after = self.desk.view()
            if after == view:
                self._print("The file has nothing that leads on from here.")
                break
            view = after
        self._last(view)
        return Outcome(view.sort, turns, self.sheet.unused(), self.proven)

    def _turn(self, view: View) -> None:
        try:
            if view.sort == "complaint":
                said = view.ident or "complaint"
                for text in self.sheet.all_of(said):
                    self._told(f"{said}: {text}", self.desk.complaint(text))
                self._told("enough", self.desk.complaint_over())
            elif view.sort == "already":
                text = self.sheet.take("already", view.ident) or "none"
                self._told(f"already: {text}", self.desk.already(text))
            elif view.sort == "step" and view.questions:
                self._answers(view)
            elif view.sort == "proof":
                text = self.sheet.take("proof", view.place) or "unknown"
                reply = self.desk.proof(text)
                self.proven = reply.ok and text == "passed"
                self._told(f"proof: {text}", reply)
            elif view.sort == "repair":
                self._repair(view)
            else:
                self._act(view)
        except SafetyRefusal as refusal:
            self._print(f"Refused: {refusal}")
            self._told("skip", self.desk.cannot())

    def _answers(self, view: View) -> None:
        """Answer every question of a step; the view is taken anew after each."""
        here = view
        at = 0
        while here.sort == "step" and _same(here, view) and at < len(here.questions):
            question = here.questions[at]
            self._answer(at, question)
            after = self.desk.view()
            at = 0 if after.questions != here.questions else at + 1
            here = after

    def _answer(self, index: int, question: Question) -> None:
        text = self.sheet.take(question.finding, question.place) or "unknown"
        reply = self.desk.answer(index, text)
        self._told(f"{question.asks} [{question.place}]: {text}", reply)
        if reply.ask:
            kept = "keep" if self.sheet.keep(question.finding, question.place) else "unknown"
            self._told(f"{reply.ask} {kept}", self.desk.answer(index, kept))
        elif not reply.ok:
            self._told("unknown", self.desk.answer(index, "unknown"))

    def _act(self, view: View) -> None:
        fields: dict[str, str] = {}
        said = self.sheet.take(view.ident, view.place)
        for name, _ in view.fields:
            typed = self.sheet.take(f"{view.ident}.{name}", view.place)
            if typed is None and said is not None and said != "done":
                typed = said
            if typed is not None:
                fields[name] = typed
        if said is None and not fields:
            self._told(f"{view.title}: cannot", self.desk.cannot())
            return
        numbers = ", ".join(f"{name} {typed}" for name, typed in fields.items())
        reply = self.desk.confirm(fields)
        self._told(f"{view.title}: done {numbers}".rstrip(), reply)
        lapsed = not _same(self.desk.view(), view)  # dead was proven too long ago: that comes first
        if (reply.ask or not reply.ok) and not lapsed:
            self._told("cannot", self.desk.cannot())

    def _repair(self, view: View) -> None:
        said = self.sheet.take(view.ident, view.place) or self.sheet.take("repair", view.place)
        if said is None or said == "cannot":
            self._told("repair: cannot", self.desk.cannot())
        else:
            self._told(f"repair: {said}", self.desk.done())

    def _show(self, view: View) -> None:
        look = self.asker.look()
        lines: list[Line] = plain_lines("", look)
        head = f"{view.number}. {view.title}" if view.number else view.title or view.sort
        lines += plain_lines(f"{head}  [{view.sort}; POWER {power_text(view)}]", look, "title")
        lines += plain_lines(f"   why: {view.why}", look) if view.why else []
        for caution in view.cautions:
            lines += plain_lines(f"   ! {caution}", look, "care")
        for row in view.lines:
            lines += plain_lines(f"   {row}", look)
        self.asker.show(lines)

    def _told(self, text: str, reply: Reply) -> None:
        self._print(f"   > {text}")
        if reply.message:
            self._print(f"     {reply.message}")

    def _print(self, text: str) -> None:
        self.asker.show(plain_lines(text, self.asker.look()))

    def _last(self, view: View) -> None:
        self._print("")
        if not view.lines:
            self._print(self.desk.sheet())
        unused = self.sheet.unused()
        if unused:
            few = ", ".join(str(n) for n in unused[:5]) + (" ..." if len(unused) > 5 else "")
            self._print(f"{len(unused)} lines of the file were never asked for (line {few}).")


def _same(a: View, b: View) -> bool:
    return (a.ident, a.place, a.title) == (b.ident, b.place, b.title)
