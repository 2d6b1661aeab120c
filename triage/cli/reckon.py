"""``triage reckon``: the numeric checks, each a command with an example, steps, JSON and a picture."""

from __future__ import annotations

import argparse
import difflib
import json
import re
import sys
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from triage.errors import BadReading

if TYPE_CHECKING:
    from triage.measure.asked import Check
    from triage.measure.checks import Shelf
    from triage.measure.reckon import Reckoned
    from triage.terminal.style import Look

PROG = "triage reckon"
FLAGS = ("json", "steps", "plot", "ascii", "help")
LONG = 12
"""Lines from which on the verdict stands below them, where it is still on the screen."""
ABOUT = (
    "Each check takes values as engineers write them (4k7, '47 mV', '0.022 uF', '10 ± 1 %') and "
    "says what they mean. After ± stands the standard uncertainty."
)


@dataclass
class Asked:
    """What stands on the command line after ``reckon``."""

    name: str = ""
    values: dict[str, str] = field(default_factory=dict)
    files: list[str] = field(default_factory=list)
    flags: set[str] = field(default_factory=set)
    svg: str = ""
    into: str = ""


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Arguments of the command: all of them are read here, not by argparse."""
    found = commands.add_parser(
        "reckon", help="reckon one number of the bench, with steps", add_help=False,
        prefix_chars="\0",
    )  # fmt: skip
    found.add_argument("words", nargs="*")


def read(words: Sequence[str]) -> Asked:
    """Arguments as typed: ``NAME key=value ...`` or ``NAME --key value ...``, flags anywhere.

    A word that is no key goes on with the value before it (``volts=402 V``).

    Raises
    ------
    BadReading : an option without its value.
    """
    asked, key = Asked(), ""
    waiting = list(words)
    while waiting:
        word = waiting.pop(0)
        if word.startswith("--"):
            key, _, value = word[2:].partition("=")
            if key in FLAGS:
                asked.flags.add(key)
                key = ""
                continue
            if not value:
                close = difflib.get_close_matches(key, FLAGS, 1, 0.75)
                if close:
                    raise BadReading(word, f"no such option; did you mean '--{close[0]}'?")
                if not waiting:
                    raise BadReading(word, "its value is missing.", f"{word} 47")
                value = waiting.pop(0)
        elif word == "-h":
            asked.flags.add("help")
            continue
        elif "=" in word and word.split("=")[0].replace("-", "_").isidentifier():
            key, _, value = word.partition("=")
        elif key:
            asked.values[key] += f" {word}"
            continue
        elif not asked.name:
            asked.name = word
            continue
        else:
            asked.files.append(word)
            continue
        _keep(asked, key, value)
        key = "" if key in ("svg", "into") else key
    return asked


def _keep(asked: Asked, key: str, value: str) -> None:
    if key == "svg":
        asked.svg = value
    elif key == "into":
        asked.into = value
    else:
        asked.values[key] = value


def shelf() -> Shelf:
    """Tubes, meters, models and findings out of the knowledge."""
    from triage.cli.opening import open_knowledge
    from triage.measure.checks import Shelf
    from triage.measure.koren import load_models
    from triage.measure.meters import load_meters
    from triage.measure.tubes import load_tubes

    knowledge = open_knowledge()
    plain = knowledge.plain
    memory = frozenset(str(row["id"]) for row in plain["sources"] if row["kind"] == "memory")
    return Shelf(
        load_tubes(plain["tubes"]), load_meters(plain["meters"]), load_models(plain["models"]),
        knowledge.findings, memory,
    )  # fmt: skip


def run(args: argparse.Namespace) -> int:
    """Run one check, or list them."""
    from triage.measure import reckon
    from triage.terminal.style import detect, spell

    asked = read(args.words)
    look = detect()
    if not asked.name:
        print(spell(listing(), look))
        return 0
    check = reckon.find(asked.name)
    if "help" in asked.flags:
        print(spell(usage(check), look))
        return 0
    if check.files:
        return _with_files(check, asked, look)
    if asked.files:
        first = check.params[0].name if check.params else "..."
        raise BadReading(asked.files[0], f"say which value of '{check.name}' it is.",
                         f"'{first}={asked.files[0]}'")  # fmt: skip
    found = reckon.reckon(check.name, asked.values, shelf())
    show(found, asked, look)
    return 0


def _with_files(check: Check, asked: Asked, look: Look) -> int:
    from triage.cli import reckon_chart
    from triage.measure import reckon

    names = [param.name for param in check.params]
    values = dict(zip(names, asked.files, strict=False)) | asked.values
    if len(asked.files) > len(names):
        raise BadReading(asked.files[len(names)], f"'{check.name}' takes {len(names)} files.")
    full = shelf()
    files = {name: reckon_chart.content(name) for name in values.values()}
    full = replace(full, files=files)
    show(reckon.reckon(check.name, values, full), asked, look)
    if asked.into:
        print(reckon_chart.hand_over(asked.into, values, full))
    return 0


def show(found: Reckoned, asked: Asked, look: Look) -> None:
    """Print a check's outcome as asked for, and write its picture."""
    if (asked.svg or "plot" in asked.flags) and found.outcome.picture is None:
        raise BadReading(found.check.name, "this check has no picture.")
    if asked.svg and found.outcome.picture is not None:
        from triage.measure.svg import svg

        _write(asked.svg, svg(found.outcome.picture))
    if "json" in asked.flags:
        print(json.dumps(found.as_dict(), ensure_ascii=False, sort_keys=True))
        return
    drawing = "plot" in asked.flags and found.outcome.picture is not None
    above = told(found, "steps" in asked.flags, look, numbers=not drawing)
    print(above)
    if drawing and found.outcome.picture is not None:
        from triage.measure.textplot import text

        plain = "ascii" in asked.flags or not look.unicode
        width, height = min(look.width, 80) - 1, look.height - above.count("\n") - 3
        print("\n" + "\n".join(text(found.outcome.picture, width, max(12, min(height, 24)), plain)))


def _write(name: str, content: str) -> None:
    try:
        Path(name).write_text(content, encoding="utf-8")
    except OSError as error:
        why = f"the picture cannot be written ({error.strerror})."
        raise BadReading(name, why, "--svg reading.svg") from error
    print(f"Picture in {name}.", file=sys.stderr)


def _wrapped(text: str, indent: int = 2, first: str = "") -> list[str]:
    pad = " " * indent
    return textwrap.wrap(
        text, 78, initial_indent=first or pad, subsequent_indent=pad, break_long_words=False
    )


def told(found: Reckoned, steps: bool, look: Look, numbers: bool = True) -> str:
    """Outcome as lines for a person: the number, the verdict, what it rests on, what to mind.

    Signs that the terminal lacks are put into words before lines are broken, since words are
    longer. ``numbers`` False leaves the further numbers out, to make room for a picture.
    """
    from triage.terminal.style import spell

    def wrapped(text: str, indent: int = 2, first: str = "") -> list[str]:
        return _wrapped(spell(text, look), indent, first)

    out = found.outcome
    lines = [
        f"{found.check.name}: {spell(str(out.result), look)}"
        if out.result is not None and not out.lines
        else found.check.name
    ]
    long = len(out.lines) > LONG
    lines += [] if long else wrapped(out.verdict)
    width = max((len(name) for name, _ in out.also), default=0)
    if numbers and not out.lines:
        lines += [spell(f"  {name:<{width}}  {q}", look) for name, q in out.also]
    for row in (spell(line, look) for line in out.lines):
        column = re.match(r"\S.*?\s{2,}", row)
        lines += wrapped(row, 2 + (column.end() if column else 2), "  ")
    lines += wrapped(out.verdict) if long else []
    if out.rests_on:
        lines += wrapped(f"rests on: {out.rests_on}")
    for mark in out.marks:
        lines += wrapped(mark, 4, "  ! ")
    if steps and out.steps:
        lines += ["  steps:", *(line for row in out.steps for line in wrapped(row, 6, "    "))]
    return "\n".join(lines)


def listing() -> str:
    """All checks by theme, one line each, with one example."""
    from triage.measure.reckon import CHECKS, TABLES

    width = max(map(len, CHECKS))
    lines = [f"usage: {PROG} NAME key=value ... [--steps] [--json] [--plot] [--svg FILE]", ""]
    lines += textwrap.wrap(ABOUT, 78)
    for theme, table in TABLES:
        lines += ["", f"{theme}:"]
        lines += [f"  {check.name:<{width}}  {check.says}" for check in table]
    first = next(iter(CHECKS.values()))
    lines += ["", "For example:", *_command(first)]
    lines += ["", f"'{PROG} NAME --help' tells what a check takes."]
    return "\n".join(lines)


def _command(check: Check) -> list[str]:
    return textwrap.wrap(
        f"{PROG} {check.name} {check.example}", 78, initial_indent="  ", subsequent_indent="    ",
        break_on_hyphens=False, break_long_words=False,
    )  # fmt: skip


def usage(check: Check) -> str:
    """What one check takes, with its example."""
    lines = [f"{check.name}: {check.says}", ""]
    params = check.all_params()
    names = [f"{p.name}={p.unit or ('WORD' if p.sort == 'word' else 'TYPE')}" for p in params]
    names = [
        n if p.unit or p.sort != "number" else f"{p.name}=N"
        for n, p in zip(names, params, strict=True)
    ]
    width = max(map(len, names), default=0)
    for name, param in zip(names, params, strict=True):
        left = (
            "" if param.default is None
            else " (may be left out)" if not param.default else f" ({param.default} if left out)"
        )  # fmt: skip
        lines += _wrapped(f"{param.help}{left}", width + 4, f"  {name:<{width}}  ")
    lines += ["", "For example:", *_command(check)]
    drawn = ", --plot, --svg FILE" if check.draws else ""
    lines += ["", f"Also: --steps, --json{drawn}."]
    return "\n".join(lines)
