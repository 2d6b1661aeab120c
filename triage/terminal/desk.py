"""What the terminal needs of a session. The session decides; the terminal asks and shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from triage.job.view import Suspicion, View


class Reply(Protocol):
    """What came of something typed: taken or not, what to say, and what to ask back."""

    @property
    def ok(self) -> bool:
        """Whether it was taken."""

    @property
    def message(self) -> str:
        """One line to show under the prompt; may be empty."""

    @property
    def ask(self) -> str | None:
        """A question to confirm with 'keep' (or by typing anew), else None."""


class Desk(Protocol):
    """The session as the terminal sees it; every method that takes something has saved it."""

    def view(self) -> View:
        """What is to be shown now."""

    def answer(self, question_index: int, text: str) -> Reply:
        """An answer word, number of a choice, reading, 'unknown', 'cannot' or 'keep'."""

    def confirm(self, fields: dict[str, str]) -> Reply:
        """A physical act was done; numbers as typed, by name of the field."""

    def done(self) -> Reply:
        """The repair was made."""

    def proof(self, text: str) -> Reply:
        """'passed', 'failed' or 'unknown'."""

    def complaint(self, text: str) -> Reply:
        """What is noticed, in own words or as a finding with an answer."""

    def complaint_over(self) -> Reply:
        """All that was noticed has been said."""

    def already(self, text: str = "") -> Reply:
        """Numbers of what was done before, 'none', 'more'; opens the lists where none is shown."""

    def cannot(self) -> Reply:
        """The whole step, act or repair cannot be done."""

    def back(self) -> Reply:
        """Take back the last answer (acts are never taken back)."""

    def correct(self, n: int, text: str) -> Reply:
        """Change the answer numbered ``n`` in ``history``."""

    def history(self) -> Sequence[tuple[int, str]]:
        """Answers given so far, numbered."""

    def note(self, text: str) -> Reply:
        """Keep a note; words of danger in it may lock the session."""

    def hazard(self, kind: str) -> Reply:
        """Something dangerous is happening."""

    def pause(self) -> Reply:
        """Leave the amplifier safe and come back later."""

    def suspects(self) -> Sequence[Suspicion]:
        """Ranked suspects."""

    def reasons(self, index: int) -> Sequence[str]:
        """What speaks for and against suspect ``index`` (0 = first)."""

    def left(self) -> Sequence[str]:
        """What is left to do and was not asked."""

    def order(self, depth: int) -> str:
        """The order of the next steps as text."""

    def sheet(self) -> str:
        """The sheet for whoever takes over."""
