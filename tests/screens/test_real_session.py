"""The conversation with a real session on a built-in amplifier: safety words stay in front."""

from __future__ import annotations

import io
import itertools
import random

import pytest

from triage.assess import Bench
from triage.job.events import Event
from triage.job.session import Session
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.terminal.asker import LineAsker
from triage.terminal.run import converse
from triage.terminal.screen import draw, pages, power_lines
from triage.terminal.style import Look

WORDS = (
    "it hums",
    "V3 glows red",
    "left side is dead",
    "enough",
    "1",
    "2",
    "3",
    "unknown",
    "cannot",
    "already",
    "1 2",
    "2 more",
    "none",
    "done",
    "skip",
    "back",
    "why",
    "suspects",
    "why 1",
    "todo",
    "order",
    "sheet",
    "change 3 yes",
    "47 mV",
    "-38 V",
    "400 V",
    "9 V",
    "0.5 V",
    "0.2 ohm",
    "passed",
    "failed",
    "note smells odd",
    "danger smoke",
    "keep",
    "help",
    "",
)


@pytest.fixture(scope="module")
def bench() -> Bench:
    knowledge = load(knowledge_dir())
    return Bench.make(knowledge, knowledge.profiles["linden_hall"])


def _session(bench: Bench) -> tuple[Session, list[Event]]:
    kept: list[Event] = []
    ticks = itertools.count(step=10)
    session = Session(bench, kept.append, lambda: float(next(ticks)), asks_what_was_done=True)
    session.begin()
    return session, kept


def _talk(session: Session, *typed: str) -> str:
    target = io.StringIO()
    source = io.StringIO("".join(f"{line}\n" for line in typed))
    converse(session, LineAsker(source, target, Look(), echo=True))
    return target.getvalue()


def test_a_complaint_in_own_words_leads_to_a_first_question(bench: Bench) -> None:
    """'it hums' is understood, kept, and followed by a step that says how and why."""
    session, kept = _session(bench)
    out = _talk(session, "it hums", "enough")

    assert [e.data["finding"] for e in kept if e.kind == "answer_given"] == ["hum"]
    assert session.state.complaint_over
    assert "Why now:" in out


def test_danger_in_the_middle_locks_the_session_until_it_is_over(bench: Bench) -> None:
    """After 'danger' only the hazard is shown, whatever else is typed."""
    session, _ = _session(bench)
    _talk(session, "it hums", "enough", "danger", "smoke", "unknown", "1")

    assert session.view().sort == "hazard"


@pytest.mark.parametrize("seed", range(6))
def test_random_lines_never_break_and_every_view_fits_80_by_24(bench: Bench, seed: int) -> None:
    """Forty lines at random: no fault, and each page of what is shown then fits the screen."""
    chance = random.Random(seed)
    session, _ = _session(bench)
    look = Look(80, 24)
    _talk(session, "it hums", "enough", *(chance.choice(WORDS) for _ in range(40)))
    view = session.view()
    head = power_lines(view, look)
    cut = pages(head, draw(view, look)[len(head) :], look.height)

    widths = [sum(len(text) for _, text in line) for page in cut for line in page]
    assert max(widths) < look.width
    assert max(len(page) for page in cut) <= look.height - 2


def test_skip_at_the_end_of_a_page_is_taken_before_the_next_answer(bench: Bench) -> None:
    """A step skipped between two pages is gone: what is typed next goes to the step then shown."""
    session, kept = _session(bench)
    session.complaint("it hums")
    session.complaint_over()
    session.already("none")
    for _ in range(20):
        first = session.view()
        look = Look(80, 24)
        head = power_lines(first, look)
        if len(pages(head, draw(first, look)[len(head) :], look.height)) > 1:
            break
        session.cannot()
    target = io.StringIO()
    typed = iter(["skip"])

    class Paged(LineAsker):
        """Pages like a terminal, and types one line."""

        def look(self) -> Look:
            return Look(80, 24)

        def ask(self, prompt: str, words: object, power: str = "") -> str:
            for line in typed:
                return line
            raise EOFError

    converse(session, Paged(io.StringIO(), target, Look()))
    shown = target.getvalue()

    assert [e.data["what"].split("@")[0] for e in kept if e.kind == "declined"][-1] == first.ident
    assert shown.count("Noted. Another way is looked for.") == 1
    after = shown.split("Noted. Another way is looked for.")[1]
    assert first.questions[0].asks[:40] not in " ".join(after.split())
