"""From a view to lines of styled text: pure functions, wrapped to a width, readable without colour.

A line is a tuple of ``(style, text)`` fragments, styles being names of ``style.CLASSES``. Two
forms: columns (a label of at most five letters, then the text), and linear for screen readers and
pipes (each line a sentence with its full label, nothing drawn, nothing redrawn).
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from triage.job.view import Question, Suspicion, View
from triage.terminal import texts
from triage.terminal.style import QUIET, Look, spell

Fragment = tuple[str, str]
Line = tuple[Fragment, ...]


def draw(view: View, look: Look) -> list[Line]:
    """The whole view as lines.

    What can hurt comes first: the power line, then cautions, then why, how and what good looks
    like, the question, and the words that may be typed.
    """
    lines = power_lines(view, look)
    lines += _title(view, look)
    if view.sort == "hazard":
        lines += _block("do", _numbered(view.how), look, style="danger")
    lines += _block("care", view.cautions, look, style="care", mark="! ")
    lines += _block("why", _some(view.why), look)
    if view.sort != "hazard":
        lines += _block("how", _numbered(view.how), look)
    named = tuple(f"{name}: " for name, _ in view.fields)
    rows = tuple(row for row in view.lines if not row.startswith(named))
    lines += _block("", rows, look, style="danger" if view.sort == "hazard" else "text")
    lines += _block("good", _some(view.good), look)
    lines += _block("bad", _some(view.bad), look)
    lines += _block("slips", view.mistakes, look, mark="- ")
    if view.sort == "closed" and not view.lines:
        lines += suspect_lines(view.suspects, look)
    if view.sort == "complaint":
        lines += menu_lines(view, look)
    elif view.sort == "already":
        lines += tick_lines(view, look)
    elif view.questions:
        lines += question_lines(view, 0, look)
    return lines + key_lines(view, look)


def power_text(view: View) -> str:
    """The power state in words; where to switch off stands in the banner."""
    said = " ".join(view.banner).strip()
    meaning = texts.POWER_WORDS.get(view.power, view.power)
    if not said:
        return meaning
    if said.lower().startswith(view.power.replace("_", " ").lower()):
        return said
    return f"{view.power.replace('_', ' ')} - {said}"


def power_lines(view: View, look: Look) -> list[Line]:
    """The power line, first on every page."""
    style = "power" if view.power in QUIET else "power-on"
    return _block("power", (power_text(view),), look, style=style)


def _title(view: View, look: Look) -> list[Line]:
    head = texts.SORT_TITLES[view.sort]
    if view.sort == "step" and view.number:
        head = f"{head} {view.number}"
    text = f"{head.rstrip('?')}: {view.title}" if view.title else head
    if view.minutes and view.sort in ("step", "repair"):
        text += f" ({texts.MINUTES.format(minutes=max(1.0, view.minutes))})"
    style = "danger" if view.sort == "hazard" else "title"
    return [((style, row),) for row in _wrap(text, look, look.width - 1)]


def menu_lines(view: View, look: Look) -> list[Line]:
    """Questions of a complaint as a list to choose from; free words are taken besides."""
    rows = [f"{i} {question.asks}" for i, question in enumerate(view.questions, 1)]
    lines = _block("ask", (texts.MENU,), look) if rows else []
    for row in rows:
        lines += _block("", (row,), look, style="choice", hang=3)
    return lines


def tick_lines(view: View, look: Look) -> list[Line]:
    """A list of which any number may be ticked."""
    question = view.questions[0]
    lines = _block("ask", (question.asks,), look, style="title")
    for i, choice in enumerate(question.choices, 1):
        lines += _block("", (f"{i} {choice.says}",), look, style="choice", hang=3)
    return lines


def question_lines(view: View, index: int, look: Look) -> list[Line]:
    """One question of the view: what is asked, its choices, what may be typed.

    Raises
    ------
    IndexError : ``index`` is not that of a question.
    """
    question = view.questions[index]
    asks = question.asks
    if len(view.questions) > 1:
        asks += f" ({index + 1} of {len(view.questions)})"
    lines = _block("ask", (asks,), look, style="title")
    lines += _block("help", _some(question.help), look)
    lines += _block("expected", _some(question.expected), look)
    return lines + _choices(question, look)


def _choices(question: Question, look: Look) -> list[Line]:
    rows = []
    for i, choice in enumerate(question.choices, 1):
        said = choice.says or choice.answer.replace("_", " ")
        word = choice.answer.replace("_", " ")
        text = f"{i} {word}" if said == word else f"{i} {word}: {said}"
        usual = choice.answer == question.normal
        rows.append((text + (f" {texts.USUAL}" if usual else ""), usual))
    lines: list[Line] = []
    for text, usual in rows:
        lines += _block("", (text,), look, style="usual" if usual else "choice", hang=2)
    if question.unit:
        lines += _block("", (texts.ASK_NUMBER.format(unit=question.unit),), look, style="choice")
    return lines


def suspect_lines(suspects: Sequence[Suspicion], look: Look, limit: int = 6) -> list[Line]:
    """Suspects with their shares in per cent; places indented below."""
    lines: list[Line] = []
    for i, suspect in enumerate(suspects[:limit], 1):
        lines += _block("", (f"{i} {percent(suspect.p)}  {suspect.text}",), look, hang=7)
        inside = [row for row in suspect.places[:3] if row[1] != suspect.text]
        for share, place in inside:
            lines += _block("", (f"     {percent(share)}  {place}",), look, hang=12)
    return lines or _block("", (texts.NOTHING_YET,), look)


def percent(p: float) -> str:
    """A probability as a person reads it: never 0 % or 100 %."""
    if p < 0.005:
        return " <1 %"
    if p > 0.995:
        return ">99 %"
    return f"{100 * p:3.0f} %"


def key_lines(view: View, look: Look) -> list[Line]:
    """The last line: the words that matter here."""
    words = texts.KEYS[view.sort]
    if view.fields:
        words = tuple(word for word in words if word != "done")
    if view.sort == "already" and not view.more:
        words = tuple(word for word in words if word != "more")
    if view.sort == "step" and len(view.questions) == 0:
        words = tuple(word for word in words if word not in ("unknown", "cannot"))
    separator = ", " if look.linear else "  "
    return _block("type", (separator.join(words),), look, style="keys")


def field_help(view: View, name: str) -> str:
    """What a field of an act asks for: the line of the view that begins with its name."""
    begin = f"{name}: "
    return next((row[len(begin) :] for row in view.lines if row.startswith(begin)), "")


def field_choices(view: View, name: str) -> tuple[tuple[str, str], ...]:
    """Named observations that a field accepts, with their meaning: ``(word = meaning; ...)``."""
    if dict(view.fields).get(name) != "choice" or "(" not in field_help(view, name):
        return ()
    listed = field_help(view, name).split("(", 1)[1].rstrip(")")
    pairs = [part.partition(" = ") for part in listed.split("; ")]
    return tuple((word.strip(), means.strip()) for word, sign, means in pairs if sign)


def field_lines(view: View, name: str, look: Look) -> list[Line]:
    """The question for one number, or one named observation, that an act asks for."""
    unit = dict(view.fields).get(name, "")
    choices = field_choices(view, name)
    help_text = field_help(view, name)
    text = help_text.split("(", 1)[0].strip() if choices else help_text or name.replace("_", " ")
    bare = not unit or unit in texts.UNITLESS
    lines = _block("ask", (text if bare else f"{text}, in {unit}",), look, style="title")
    for i, (word, means) in enumerate(choices, 1):
        row = f"{i} {word.replace('_', ' ')}: {means}"
        lines += _block("", (row,), look, style="choice", hang=2)
    return lines


def plain_lines(text: str, look: Look, style: str = "text") -> list[Line]:
    """Free text: its own line breaks kept, long lines wrapped with their indent."""
    lines: list[Line] = []
    for row in text.splitlines() or [""]:
        indent = row[: len(row) - len(row.lstrip())]
        for part in _wrap(row.strip(), look, look.width - 1 - len(indent)):
            lines.append(((style, indent + part),))
    return lines


def help_lines(look: Look) -> list[Line]:
    """All words that may be typed at any prompt."""
    lines: list[Line] = []
    for command in texts.COMMANDS:
        head = f"{command.word} {command.more}".strip()
        if look.linear:
            lines += plain_lines(f"{head}: {command.says}.", look)
            continue
        for i, part in enumerate(_wrap(command.says, look, look.width - 25)):
            lines.append((("label", f"{head if i == 0 else '':<22}"), ("text", part)))
    return lines


def danger_lines(look: Look) -> list[Line]:
    """Hazards with what to do about each at once, before anything is asked."""
    lines = plain_lines(texts.DANGER_HEAD, look, style="danger")
    for i, (_, says, acts) in enumerate(texts.DANGERS, 1):
        lines += plain_lines(f"{i} {says}:", look, style="danger")
        for act in acts:
            lines += plain_lines(f"    {act}", look)
    return lines


def pages(head: Sequence[Line], body: Sequence[Line], height: int) -> list[list[Line]]:
    """Body cut so that each page fits with the head (the power line) above it.

    ``height`` counts all lines of the screen; one is kept for the prompt and one for the state
    line below it, and on all pages but the last one for the call to go on. A question is not cut
    off from its choices where they fit one page together.
    """
    room = max(3, height - len(head) - 2)
    cut: list[list[Line]] = []
    rest = list(body)
    while len(rest) > room:
        asked = _question_at(rest)
        at = room - 1
        if asked is not None and 0 < asked < at and len(rest) - asked <= room:
            at = asked
        cut.append([*head, *rest[:at]])
        rest = rest[at:]
    cut.append([*head, *rest])
    return cut


def _question_at(lines: Sequence[Line]) -> int | None:
    label = f"{texts.LABELS['ask'][0]:<{texts.GAP}}"
    return next((i for i, line in enumerate(lines) if line[0] == ("label", label)), None)


def fragments(lines: Iterable[Line]) -> list[Fragment]:
    """Lines as one list of fragments, each line ended."""
    found: list[Fragment] = []
    for line in lines:
        found += [(f"class:{style}" if style else "", text) for style, text in line]
        found.append(("", "\n"))
    return found


def text_of(lines: Iterable[Line]) -> str:
    """Lines as bare text."""
    return "\n".join("".join(text for _, text in line).rstrip() for line in lines)


def _some(text: str) -> tuple[str, ...]:
    return (text,) if text else ()


def _numbered(rows: Sequence[str]) -> tuple[str, ...]:
    return tuple(f"{i} {row}" for i, row in enumerate(rows, 1))


def _wrap(text: str, look: Look, width: int, hang: int = 0) -> list[str]:
    return textwrap.wrap(
        spell(text, look),
        max(20, width),
        subsequent_indent=" " * hang,
        break_on_hyphens=False,
        drop_whitespace=True,
    ) or [""]


def _block(
    name: str,
    rows: Sequence[str],
    look: Look,
    *,
    style: str = "text",
    mark: str = "",
    hang: int | None = None,
) -> list[Line]:
    """Rows under a label, the label once in columns, on every row in the linear mode."""
    short, full = texts.LABELS.get(name, ("", ""))
    indent = len(mark) if hang is None else hang
    if name == "how":
        indent = 2
    lines: list[Line] = []
    for i, row in enumerate(rows):
        if look.linear:
            text = f"{full}: {row}" if full else row
            lines += [((style, part),) for part in _wrap(text, look, look.width - 1)]
            continue
        lead = row[: len(row) - len(row.lstrip())]
        parts = _wrap(
            mark + row.strip(),
            look,
            look.width - 1 - texts.GAP - len(lead),
            max(0, indent - len(lead)),
        )
        for j, part in enumerate(parts):
            label = short if i == 0 and j == 0 else ""
            lines.append((("label", f"{label:<{texts.GAP}}"), (style, lead + part)))
    return lines
