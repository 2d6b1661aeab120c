"""The two ways to ask: line by line from any stream, or at a prompt with completion."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Protocol, TextIO

from triage.terminal.screen import Line, text_of
from triage.terminal.style import Look

Word = tuple[str, str]
"""A word that may be typed, and what it means."""


class Asker(Protocol):
    """Shows lines and asks for one."""

    def look(self) -> Look:
        """What the terminal can do at this moment (it may have been resized)."""

    def show(self, lines: Iterable[Line]) -> None:
        """Print lines."""

    def keys(self) -> tuple[str, ...]:
        """What single keys do, a line each; empty where lines are read whole."""

    def ask(self, prompt: str, words: Sequence[Word], power: str) -> str:
        """Ask for one line.

        Raises
        ------
        EOFError : nothing more will come.
        KeyboardInterrupt : the person wants out of the prompt.
        """


class LineAsker:
    """Reads and writes plain lines; what a pipe, a file or a screen reader gets."""

    def __init__(self, source: TextIO, target: TextIO, look: Look, *, echo: bool = False) -> None:
        self.source = source
        self.target = target
        self._look = replace(look, linear=True, colour=False)
        self.echo = echo

    def look(self) -> Look:
        """Always the linear look, without colour."""
        return self._look

    def show(self, lines: Iterable[Line]) -> None:
        """Write each line and an end of line."""
        text = text_of(lines)
        self.target.write(text + "\n")
        self.target.flush()

    def keys(self) -> tuple[str, ...]:
        """No keys: lines are read whole."""
        return ()

    def ask(self, prompt: str, words: Sequence[Word], power: str) -> str:
        """Write the prompt, read a line; with ``echo`` the line is written back (for logs).

        Raises
        ------
        EOFError : the stream has ended.
        """
        self.target.write(prompt)
        self.target.flush()
        line = self.source.readline()
        if not line:
            self.target.write("\n")
            raise EOFError
        if self.echo:
            self.target.write(line if line.endswith("\n") else line + "\n")
        return line.strip()
