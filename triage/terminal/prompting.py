"""The prompt of a real terminal: completion of answers and commands, power state below it."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Sequence
from dataclasses import replace

from prompt_toolkit import PromptSession, print_formatted_text
from prompt_toolkit.buffer import Buffer
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.formatted_text import FormattedText
from prompt_toolkit.history import DummyHistory
from prompt_toolkit.input import Input
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.output import ColorDepth, Output
from prompt_toolkit.styles import Style

from triage.terminal.asker import Word
from triage.terminal.screen import Line, fragments
from triage.terminal.style import CLASSES, Look, detect, spell


class WordCompleter(Completer):
    """Completes the words of the moment; the meaning of each stands beside it."""

    def __init__(self) -> None:
        self.words: tuple[Word, ...] = ()

    def get_completions(
        self, document: Document, complete_event: CompleteEvent
    ) -> Iterable[Completion]:
        """Words that go on from what is typed before the cursor."""
        typed = document.text_before_cursor.lstrip().lower()
        for word, says in self.words:
            if word.lower().startswith(typed):
                yield Completion(word, start_position=-len(typed), display_meta=says)


class PromptAsker:
    """Asks at a prompt. ``input`` and ``output`` are for tests; None is the real terminal."""

    def __init__(
        self,
        look: Look | None = None,
        *,
        input: Input | None = None,
        output: Output | None = None,
    ) -> None:
        self._fixed = look
        self._output = output
        self._completer = WordCompleter()
        self._style = Style.from_dict({name: style for name, style in CLASSES.items() if style})
        first = self.look()
        self._depth = None if first.colour else ColorDepth.DEPTH_1_BIT
        self.session: PromptSession[str] = PromptSession(
            history=DummyHistory(),
            completer=self._completer,
            complete_while_typing=False,
            style=self._style,
            key_bindings=key_bindings(),
            input=input,
            output=output,
            color_depth=self._depth,
            enable_history_search=False,
            mouse_support=False,
        )

    def look(self) -> Look:
        """The terminal as it is now, or the fixed look of a test."""
        if self._fixed is not None:
            return self._fixed
        size = shutil.get_terminal_size()
        return replace(detect(size=(size.columns, size.lines)), linear=False)

    def show(self, lines: Iterable[Line]) -> None:
        """Print lines in their styles."""
        rows = FormattedText(fragments(lines))
        print_formatted_text(
            rows, style=self._style, output=self._output, end="", color_depth=self._depth
        )

    def keys(self) -> tuple[str, ...]:
        """What the keys do, from their handlers."""
        return key_help()

    def ask(self, prompt: str, words: Sequence[Word], power: str) -> str:
        """Ask for one line, the power state standing below.

        Raises
        ------
        EOFError : Ctrl-D.
        KeyboardInterrupt : Ctrl-C.
        """
        self._completer.words = tuple(words)
        look = self.look()
        state = spell(f"POWER {power}", look)
        if len(state) > look.width - 2:
            state = state[: look.width - 5] + "..."
        return self.session.prompt(prompt, bottom_toolbar=state).strip()


def key_bindings() -> KeyBindings:
    """Keys beside the usual ones of line editing."""
    keys = KeyBindings()

    @keys.add("f1")
    def _help(event: KeyPressEvent) -> None:
        """F1: the words that may be typed."""
        event.app.exit(result="help")

    @keys.add("f2")
    def _danger(event: KeyPressEvent) -> None:
        """F2: danger, at once."""
        event.app.exit(result="danger")

    @keys.add("down")
    def _next(event: KeyPressEvent) -> None:
        """Down: the next word that may be typed."""
        buffer = event.current_buffer
        if buffer.complete_state:
            buffer.complete_next()
        else:
            buffer.start_completion(select_first=True)

    @keys.add("up")
    def _previous(event: KeyPressEvent) -> None:
        """Up: the word before."""
        buffer = event.current_buffer
        if buffer.complete_state:
            buffer.complete_previous()
        else:
            buffer.start_completion(select_last=True)

    @keys.add("escape")
    def _away(event: KeyPressEvent) -> None:
        """Esc: clear what is typed; with nothing typed, back by one answer."""
        if not cleared(event.current_buffer):
            event.app.exit(result="back")

    return keys


def cleared(buffer: Buffer) -> bool:
    """Clear what is typed or offered; False where there was nothing to clear."""
    if not buffer.complete_state and not buffer.text:
        return False
    buffer.cancel_completion()
    buffer.reset()
    return True


def key_help() -> tuple[str, ...]:
    """One line a key, from the docstrings of the handlers."""
    lines = [(binding.handler.__doc__ or "").strip() for binding in key_bindings().bindings]
    return (*lines, "Tab: completes. Ctrl-C: asks what you want. Ctrl-D: keeps all and stops.")
