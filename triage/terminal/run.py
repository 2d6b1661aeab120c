"""One conversation with a session, at a prompt or line by line. Decides nothing."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from triage.errors import BadReading, SafetyRefusal
from triage.job.view import Question, View
from triage.model.base import RESERVED_ANSWERS
from triage.terminal import texts
from triage.terminal.asker import Asker, Word
from triage.terminal.commands import Commands, Leave, pick
from triage.terminal.desk import Desk, Reply
from triage.terminal.screen import (
    Line,
    draw,
    field_choices,
    field_lines,
    pages,
    plain_lines,
    power_lines,
    power_text,
    question_lines,
)
from triage.terminal.spoken import understand


def converse(desk: Desk, asker: Asker) -> None:
    """Talk until the job is closed, paused, or nothing more can be read.

    Every answer has been saved by the session before the next thing is shown.
    """
    Talk(desk, asker).run()


class Talk:
    """The conversation: shows the view, asks, hands what was typed to one session method."""

    def __init__(self, desk: Desk, asker: Asker) -> None:
        self.desk = desk
        self.asker = asker
        self.index = 0
        self.entered: dict[str, str] = {}
        self.shown: View | None = None
        self.interrupts = 0
        self.ahead = ""
        self.chosen: int | None = None
        self.commands = Commands(desk, asker, self.page)

    def run(self) -> None:
        """Turn after turn, until someone leaves."""
        try:
            while True:
                view = self.desk.view()
                self._present(view)
                if not self.commands.redraw:  # else a command at a page's end has led elsewhere
                    self._turn(view)
        except (EOFError, Leave) as end:
            if isinstance(end, EOFError):
                self.commands.pause()

    def _present(self, view: View) -> None:
        """Draw a view that is new; where only the question moved on, the question alone."""
        before = self.shown
        self.shown = view
        look = self.asker.look()
        same = before is not None and _place_of(before) == _place_of(view)
        if self.commands.redraw or not same:
            self.commands.redraw = False
            self.index = 0
            self.entered = {}
            self.chosen = None
            head = power_lines(view, look)
            gap = [] if before is None else [BLANK]
            self.page([*gap, *head], draw(view, look)[len(head) :])
            return
        if before is None or view == before:
            return
        if len(view.questions) < len(before.questions):
            self.index = 0
        if view.questions and view.sort != "complaint":
            self.index = min(self.index, len(view.questions) - 1)
            self.asker.show(question_lines(view, self.index, look))
        elif view.lines != before.lines:
            for line in view.lines:
                self.say(line)

    def page(self, head: Sequence[Line], body: Sequence[Line]) -> None:
        """Show lines, stopping at each screenful (not in the linear mode)."""
        look = self.asker.look()
        if look.linear:
            self.asker.show([*head, *body])
            return
        cut = pages(head, body, look.height)
        for i, lines in enumerate(cut):
            self.asker.show(lines)
            if i + 1 < len(cut):
                typed = self._ask(texts.MORE + " ", ())
                if understand(typed).sort == "command":
                    self.commands.run(understand(typed))
                    if self.commands.redraw:
                        return
                elif typed:
                    self.ahead = typed
                    return

    def say(self, text: str, style: str = "said") -> None:
        """One message under the prompt."""
        if text:
            self.asker.show(plain_lines(text, self.asker.look(), style))

    def _ask(self, prompt: str, words: Sequence[Word]) -> str:
        power = power_text(self.shown) if self.shown is not None else ""
        while True:
            try:
                typed = self.asker.ask(prompt, [*words, *COMMAND_WORDS], power)
            except KeyboardInterrupt:
                self.interrupts += 1
                if self.interrupts > 1:
                    raise EOFError from None
                self.say(texts.INTERRUPTED, "wrong")
                continue
            self.interrupts = 0
            return typed

    def _turn(self, view: View) -> None:
        """Ask once, and hand over what was typed."""
        if view.sort == "act" and self._missing(view):
            name = self._missing(view)[0]
            self.asker.show(field_lines(view, name, self.asker.look()))
        words = self._words(view)
        typed, self.ahead = self.ahead or self._ask(self._prompt(view), words), ""
        spoken = understand(typed, [word for word, _ in words], free=view.sort in texts.FREE_SORTS)
        if spoken.word == "back" and self.entered:
            self.entered.popitem()
        elif spoken.word == "back" and self.chosen is not None:
            self.chosen = None
        elif spoken.sort == "command":
            self.commands.run(spoken)
        else:
            try:
                self._take(view, spoken.rest)
            except (BadReading, SafetyRefusal) as error:
                self.say(str(error), "wrong")

    def _take(self, view: View, text: str) -> None:
        takers: dict[str, Callable[[View, str], None]] = {
            "complaint": self._complaint,
            "already": self._already,
            "step": self._answer,
            "act": self._act,
            "repair": self._repair,
            "proof": self._proof,
            "hazard": self._act,
            "closed": self._closed,
        }
        asks = view.questions and view.sort in ("act", "repair", "hazard")
        if asks and text.lower() != "done":
            self._answer(view, text)
        else:
            takers[view.sort](view, text)

    def _reply(self, reply: Reply) -> bool:
        self.say(reply.message, "said" if reply.ok else "wrong")
        if reply.ask:
            self.say(f"{reply.ask} {texts.CONFIRM_ASK}", "wrong")
        return reply.ok and not reply.ask

    def _complaint(self, view: View, text: str) -> None:
        chosen, self.chosen = self.chosen, None
        if not text:
            self.say(texts.ENOUGH_ASK)
        elif chosen is not None:
            self._reply(self.desk.answer(chosen, text))
        elif text.isdigit() and 1 <= int(text) <= len(view.questions):
            self.chosen = int(text) - 1
            self.asker.show(question_lines(view, self.chosen, self.asker.look()))
        elif text.lower() == "enough":
            self._reply(self.desk.complaint_over())
        else:
            heard = self.desk.complaint(text)
            self.say(heard.message)
            self.say(heard.ask or "", "wrong")

    def _already(self, view: View, text: str) -> None:
        self._reply(self.desk.already(text))

    def _answer(self, view: View, text: str) -> None:
        if not view.questions:
            self._by_hand(text, self.desk.done)
            return
        if not text:
            question = view.questions[self.index]
            words = ", ".join(choice.answer for choice in question.choices)
            self.say(texts.NUMBERED.format(answers=words))
            return
        asked = view.questions
        if not self._reply(self.desk.answer(self.index, text)):
            return
        after = self.desk.view()
        if _place_of(after) == _place_of(view) and after.questions == asked:
            self.index = (self.index + 1) % len(asked)
            self.asker.show(question_lines(after, self.index, self.asker.look()))

    def _missing(self, view: View) -> list[str]:
        if view.questions:
            return []
        return [name for name, _ in view.fields if name not in self.entered]

    def _act(self, view: View, text: str) -> None:
        missing = self._missing(view)
        if missing:
            words = [word for word, _ in field_choices(view, missing[0])]
            text = "" if text.lower() in RESERVED_ANSWERS else text
            self.entered[missing[0]] = pick(text, words) or text
            self.say("" if text else texts.LEFT_OPEN)
            if len(missing) > 1:
                return
        elif text.lower() not in ("done", "yes"):
            self.say(texts.HAZARD_ASK if view.sort == "hazard" else texts.BY_HAND)
            return
        fields = {name: typed for name, typed in self.entered.items() if typed}
        self.entered = {}
        if fields or not missing:
            self._reply(self.desk.confirm(fields))
        else:
            self.say(texts.BY_HAND)

    def _by_hand(self, text: str, act: Callable[[], Reply]) -> None:
        if text.lower() == "done":
            self._reply(act())
        else:
            self.say(texts.BY_HAND)

    def _repair(self, view: View, text: str) -> None:
        self._by_hand(text, self.desk.done)

    def _proof(self, view: View, text: str) -> None:
        if text:
            self._reply(self.desk.proof(text))
        else:
            self.say(texts.PROOF_ASK)

    def _closed(self, view: View, text: str) -> None:
        if not text or text.lower() in ("done", "leave"):
            raise Leave
        self.say(texts.CLOSED_ASK)

    def _prompt(self, view: View) -> str:
        if view.questions and view.sort not in ("complaint", "already", "proof"):
            return texts.PROMPTS["step"]
        missing = self._missing(view) if view.sort == "act" else []
        if missing:
            return f"{missing[0].replace('_', ' ')}: "
        return texts.PROMPTS[view.sort if view.sort != "step" else "act"]

    def _words(self, view: View) -> list[Word]:
        if self.chosen is not None:
            return question_words(view.questions[self.chosen])
        if view.sort == "complaint":
            return [("enough", "all has been said")]
        if view.sort == "already":
            none, more = ("none", "nothing of this"), ("more", "the rest of the list")
            return [none, more] if view.more else [none]
        if view.sort == "proof":
            return [("passed", ""), ("failed", ""), ("unknown", "")]
        if view.questions:
            return question_words(view.questions[min(self.index, len(view.questions) - 1)])
        if view.sort == "act" and self._missing(view):
            return list(field_choices(view, self._missing(view)[0]))
        return [("done", "")] if view.sort != "closed" else []


BLANK: Line = (("", ""),)
COMMAND_WORDS: tuple[Word, ...] = tuple((c.word, c.says) for c in texts.COMMANDS)


def question_words(question: Question) -> list[Word]:
    """Words that answer a question, the reserved ones last."""
    words = [(choice.answer, choice.says) for choice in question.choices]
    given = {word for word, _ in words}
    return words + [(word, "") for word in RESERVED_ANSWERS if word not in given]


def _place_of(view: View) -> tuple[str, str, str, int, str]:
    """What makes two views the same thing to do."""
    return (view.sort, view.ident, view.place, view.number, view.title)
