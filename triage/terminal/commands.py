"""What the command words do; each calls one method of the session."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from triage.errors import BadReading, SafetyRefusal
from triage.terminal import texts
from triage.terminal.asker import Asker
from triage.terminal.desk import Desk, Reply
from triage.terminal.screen import (
    Line,
    danger_lines,
    help_lines,
    plain_lines,
    power_lines,
    suspect_lines,
)
from triage.terminal.spoken import Spoken

Page = Callable[[Sequence[Line], Sequence[Line]], None]


class Leave(Exception):
    """The person is done for now; what was typed is kept."""


class Commands:
    """Runs a command. ``redraw`` is set where the view must be shown whole again."""

    def __init__(self, desk: Desk, asker: Asker, page: Page) -> None:
        self.desk = desk
        self.asker = asker
        self.page = page
        self.redraw = False

    def run(self, spoken: Spoken) -> None:
        """Run one command.

        Raises
        ------
        Leave : after ``pause``.
        """
        act: Callable[[str], None] = getattr(self, f"_do_{spoken.word}")
        try:
            act(spoken.rest)
        except (BadReading, SafetyRefusal) as error:
            self._say(str(error), "wrong")

    def pause(self) -> None:
        """Keep everything and say how to leave the amplifier."""
        reply = self.desk.pause()
        self._say(reply.message or texts.PAUSED)

    def _say(self, text: str, style: str = "text") -> None:
        if text:
            self.asker.show(plain_lines(text, self.asker.look(), style))

    def _reply(self, reply: Reply) -> bool:
        self._say(reply.message, "said" if reply.ok else "wrong")
        if reply.ask:
            self._say(reply.ask, "wrong")
        return reply.ok

    def _show(self, lines: Sequence[Line]) -> None:
        self.page(power_lines(self.desk.view(), self.asker.look()), lines)

    def _text(self, text: str) -> None:
        self._show(plain_lines(text or texts.NOTHING_YET, self.asker.look()))

    def _do_danger(self, rest: str) -> None:
        kinds = [kind for kind, _, _ in texts.DANGERS]
        self.asker.show(danger_lines(self.asker.look()))
        typed = rest
        while True:
            chosen = pick(typed, kinds) if typed else None
            if chosen is not None:
                self.redraw = True
                self._reply(self.desk.hazard(chosen))
                return
            words = [(kind, says) for kind, says, _ in texts.DANGERS]
            try:
                typed = self.asker.ask(texts.PROMPTS["danger"], words, "DANGER")
            except KeyboardInterrupt:
                typed = ""
            if not typed:
                self._say(texts.DANGER_NONE)
                return

    def _do_why(self, rest: str) -> None:
        if not rest:
            view = self.desk.view()
            rows = [view.why, texts.SPLITS if view.splits else "", *view.splits]
            if view.questions and view.questions[0].help:
                rows.append(view.questions[0].help)
            self._text("\n".join(row for row in rows if row))
            return
        number = int(rest) if rest.isdigit() else 0
        if not 1 <= number <= len(self.desk.suspects()):
            self._say(texts.WHY_NUMBER.format(number=rest), "wrong")
            return
        self._text("\n".join(self.desk.reasons(number - 1)))

    def _do_suspects(self, rest: str) -> None:
        self._show(suspect_lines(self.desk.suspects(), self.asker.look()))

    def _do_back(self, rest: str) -> None:
        self.redraw = self._reply(self.desk.back())

    def _do_change(self, rest: str) -> None:
        number, _, answer = rest.partition(" ")
        if number.isdigit() and answer:
            self.redraw = self._reply(self.desk.correct(int(number), answer))
            return
        rows = [f"{n} {said}" for n, said in self.desk.history()]
        self._text("\n".join([*rows, texts.CHANGE_HOW] if rows else [texts.NOTHING_YET]))

    def _do_already(self, rest: str) -> None:
        if self.desk.view().sort != "already":
            self.redraw = self._reply(self.desk.already())

    def _do_skip(self, rest: str) -> None:
        self.redraw = self._reply(self.desk.cannot())

    def _do_todo(self, rest: str) -> None:
        self._text("\n".join(self.desk.left()))

    def _do_order(self, rest: str) -> None:
        depth = int(rest) if rest.isdigit() else 3
        self._text(self.desk.order(max(1, min(depth, 6))))

    def _do_note(self, rest: str) -> None:
        if rest:
            self._reply(self.desk.note(rest))
        else:
            self._say(texts.NOTE_WHAT, "wrong")

    def _do_sheet(self, rest: str) -> None:
        self._text(self.desk.sheet())

    def _do_again(self, rest: str) -> None:
        self.redraw = True

    def _do_pause(self, rest: str) -> None:
        self.pause()
        raise Leave

    def _do_help(self, rest: str) -> None:
        look = self.asker.look()
        keys = [line for row in self.asker.keys() for line in plain_lines(row, look)]
        self._show([*help_lines(look), *keys])


def pick(typed: str, words: Sequence[str]) -> str | None:
    """A word by its number (from 1), itself, or an unambiguous beginning; else None."""
    text = typed.strip().lower().replace(" ", "_")
    if text.isdigit():
        return words[int(text) - 1] if 1 <= int(text) <= len(words) else None
    if text in words:
        return text
    found = [word for word in words if text and word.startswith(text)]
    return found[0] if len(found) == 1 else None
