"""How words are coloured. Colour never carries a meaning that the words do not carry too."""

from __future__ import annotations

import os
import sys
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass

CLASSES: dict[str, str] = {
    "power": "bold",
    "power-on": "bold ansired",
    "title": "bold",
    "label": "ansicyan",
    "text": "",
    "care": "ansiyellow",
    "danger": "bold ansired",
    "choice": "",
    "usual": "ansigreen",
    "keys": "ansibrightblack",
    "said": "ansigreen",
    "wrong": "ansiyellow",
}
"""Style class -> colours. Only the sixteen colours that every terminal can be told to change."""

QUIET = frozenset({"cold", "unplugged"})
"""Power states in which the power line is not printed as a warning."""

PLAIN_SIGNS: dict[str, str] = {
    "\u03a9": "ohm",
    "\u2126": "ohm",
    "\u00b5": "u",
    "\u03bc": "u",
    "°": " deg",
    "±": "+/-",
    "×": "x",
    "·": ".",
    "–": "-",
    "—": "-",
    "−": "-",
    "→": "->",
    "≤": "<=",
    "≥": ">=",
    "≈": "about ",
    "√": "sqrt",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
    "…": "...",
    "²": "^2",
    "³": "^3",
    "⁻": "^-",
    "π": "pi",
    "½": "1/2",
}
"""Signs that a terminal without Unicode is given in other words."""


@dataclass(frozen=True)
class Look:
    """What the terminal can do.

    ``width`` and ``height`` are in characters; ``linear`` is the mode for screen readers and
    pipes: no columns, no redraw, every line complete in itself.
    """

    width: int = 80
    height: int = 24
    colour: bool = True
    unicode: bool = True
    linear: bool = False


def detect(environ: Mapping[str, str] | None = None, size: tuple[int, int] | None = None) -> Look:
    """Find out what the terminal can do.

    Parameters
    ----------
    environ : environment; ``NO_COLOR`` (any value but empty) and ``TERM=dumb`` switch colour off,
        ``TRIAGE_LINEAR`` (any value but empty) asks for the linear mode.
    size : columns and lines; None asks the terminal.
    """
    env = os.environ if environ is None else environ
    columns, lines = size if size is not None else _size()
    dumb = env.get("TERM", "") == "dumb"
    encoding = (getattr(sys.stdout, "encoding", None) or "ascii").lower()
    return Look(
        width=max(40, min(columns, 100)),
        height=max(12, lines),
        colour=not env.get("NO_COLOR") and not dumb,
        unicode="utf" in encoding,
        linear=bool(env.get("TRIAGE_LINEAR"))
        or dumb
        or not sys.stdin.isatty()
        or not sys.stdout.isatty(),
    )


def _size() -> tuple[int, int]:
    try:
        size = os.get_terminal_size()
    except OSError:
        return 80, 24
    return size.columns or 80, size.lines or 24


def spell(text: str, look: Look) -> str:
    """Text as the terminal can print it: without Unicode, signs become words (``47 kohm``)."""
    if look.unicode:
        return text
    for sign, word in PLAIN_SIGNS.items():
        text = text.replace(sign, word)
    bare = unicodedata.normalize("NFKD", text)
    return bare.encode("ascii", "ignore").decode("ascii")
