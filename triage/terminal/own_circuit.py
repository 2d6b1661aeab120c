"""The form of an owner's circuit at a terminal: shows a page, asks value after value."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from triage.circuit.form import Form, form_of
from triage.circuit.nearest import QUESTIONS, TUBES_ASK, ranked
from triage.errors import BadReading
from triage.measure.koren import TubeModel
from triage.model.circuit import CircuitSpec
from triage.terminal import texts
from triage.terminal.asker import Asker, Word
from triage.terminal.commands import Leave, pick
from triage.terminal.screen import danger_lines, plain_lines

WELCOME = " ".join((
    "Your own circuit, begun from the nearest built-in one. Nothing is measured here: it is paper",
    "work, do it with the amplifier unplugged. Values as on the bench: 4k7, 0.022 uF. Enter or",
    "'unknown' keeps what stands there, 'back' goes back, 'enough' keeps all the rest, 'pause'",
    "writes what there is and stops.",
))  # fmt: skip
WORDS: tuple[Word, ...] = (
    ("unknown", "keep this value"), ("back", "the value before"), ("enough", "keep all the rest"),
    ("pause", "write what there is and stop"), ("danger", "something smokes, bites or glows"),
)  # fmt: skip
HELP = "Type a value, or: Enter or unknown (keeps), back, enough, pause, danger."
DANGER_FIRST = "Do that first; nothing here is lost. 'pause' writes what there is and stops."
NO_SUCH = "'{typed}' is none of them. Answer with {words}, or Enter if you do not know."
NO_TUBE = "No model of {names}: left out of the comparison."


def choose_base(
    asker: Asker, circuits: Mapping[str, CircuitSpec], models: Mapping[str, TubeModel]
) -> CircuitSpec:
    """Ask what the amplifier is like, and offer the circuits, the nearest first.

    Raises
    ------
    EOFError, Leave : the person left.
    """
    say(asker, WELCOME)
    at = 0
    said: dict[str, str] = {}
    tubes: tuple[str, ...] = ()
    while at <= len(QUESTIONS):
        if at == len(QUESTIONS):
            typed = line(asker, TUBES_ASK, ())
            names = tuple(typed.replace(",", " ").split())
            if typed == "back":
                at -= 1
                continue
            tubes = tuple(n for n in names if n.upper() in models)
            strange = [n for n in names if n not in tubes and n not in ("unknown", "enough")]
            if strange:
                say(asker, NO_TUBE.format(names=", ".join(strange)), "wrong")
            at += 1
            continue
        name, asks, answers = QUESTIONS[at]
        chosen = choice(asker, asks, answers)
        if chosen == "back":
            at = max(0, at - 1)
            continue
        said.pop(name, None)
        if chosen is not None:
            said[name] = chosen
        at += 1
    near = ranked(circuits, said, tubes, models)
    rows = [
        (row.name, f"{circuits[row.name].says} [in common: {', '.join(row.shared) or 'nothing'}]")
        for row in near
    ]
    chosen = choice(asker, "Nearest first. Begin from which? (Enter: 1)", rows)
    return circuits[near[0].name if chosen is None or chosen == "back" else chosen]


def fill(asker: Asker, base: CircuitSpec, models: Mapping[str, TubeModel]) -> tuple[Form, bool]:
    """Ask all values; the form as far as it came, and whether it was gone through to its end."""
    form = form_of(base, models)
    shown = ""
    while (item := form.item) is not None:
        if item.page != shown:
            shown = item.page
            rows = [f"  {other.says}: {form.now(other)}" for other in form.page()]
            count = f" (value {form.at + 1} of {len(form.items)})"
            say(asker, f"\n{shown}{count}", "title")
            say(asker, "\n".join(rows))
        try:
            typed = line(
                asker, f"{item.says}: {form.now(item).rstrip('.')}. Yours? (Enter keeps)", WORDS
            )
        except (EOFError, Leave):
            return form, False
        if typed == "enough":
            break
        if typed == "back":
            form = form.back()
            continue
        try:
            form, remark = form.answer(typed)
        except BadReading as error:
            say(asker, str(error), "wrong")
            continue
        if remark:
            say(asker, remark, "care")
    return form, True


def choice(asker: Asker, asks: str, answers: Sequence[Word]) -> str | None:
    """One of the answers by number or word, 'back', or None if it is not known."""
    rows = [f"  {i} {word.replace('_', ' ')}: {says}" for i, (word, says) in enumerate(answers, 1)]
    words = [word for word, _ in answers]
    say(asker, "\n".join([asks, *rows]))
    while True:
        typed = line(asker, "", answers)
        if typed in ("", "unknown", "enough"):
            return None
        if typed == "back":
            return "back"
        chosen = pick(typed, words)
        if chosen is not None:
            return chosen
        say(asker, NO_SUCH.format(typed=typed, words=", ".join(words)), "wrong")


def line(asker: Asker, asks: str, words: Sequence[Word]) -> str:
    """One line, trimmed; danger and help are answered here.

    Raises
    ------
    EOFError, Leave : the person stops.
    """
    while True:
        if asks:
            say(asker, asks)
        try:
            typed = asker.ask("> ", [*words], texts.POWER_WORDS["any"]).strip()
            low = typed.lower()
            if low in ("danger", "!"):
                _danger(asker)
                continue
        except KeyboardInterrupt:
            raise Leave from None
        if low in ("help", "h", "?"):
            say(asker, HELP)
        elif low in ("pause", "quit", "exit"):
            raise Leave
        else:
            return low if low in ("back", "enough", "unknown") else typed


def _danger(asker: Asker) -> None:
    """Show what to do; the number typed after it is of the danger, never a value of the form.

    Raises
    ------
    EOFError, KeyboardInterrupt : the person stops.
    """
    asker.show(danger_lines(asker.look()))
    words = [(kind, says) for kind, says, _ in texts.DANGERS]
    if asker.ask(texts.PROMPTS["danger"], words, "DANGER").strip():
        say(asker, DANGER_FIRST, "danger")


def say(asker: Asker, text: str, style: str = "text") -> None:
    """Show text in a style."""
    asker.show(plain_lines(text, asker.look(), style))
