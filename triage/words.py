"""What people say: US and UK words for one thing, and phrases that tell a finding unasked.

The phrases are data (``knowledge/words/``). A row is either ``{id, as: tube, same: [valve]}``
(other words for one word) or ``{id, finding, answer, says: [phrases]}``, with ``denied`` (the
answer when it is denied) and ``also`` (what else it tells: finding -> answer). In a phrase,
``a/b`` stands for either word; between two words of a phrase up to two other words may stand.
Word endings do not matter (hum, hums, humming), nor do slips of the pen in longer words (see ``spelling``).
A row ``{id, kind, called: [phrases]}`` tells which tubes are meant ("one of the big tubes"), and
``{id, plain: [words]}`` lists words that look like a slip of another and are none. ``asks: "yes"``
on a row: with a question mark it tells nothing ("smoke?").
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from triage.spelling import denied, doubted, nearest

GAP = 2
"""Other words allowed between two words of a phrase."""

Side = Literal["left", "right"]


@dataclass(frozen=True)
class Match:
    """One thing understood: a finding with its answer, where it was said to be, the words used.

    ``part`` is a name as drawn (``V3``, ``C9``), or None; it need not exist in the amplifier.
    ``kind`` is a kind of place that was spoken of ("one of the big tubes"), or None.
    """

    finding: str
    answer: str
    side: Side | None
    words: str
    ident: str = ""
    part: str | None = None
    everywhere: bool = False
    kind: str | None = None

    @property
    def place(self) -> str | None:
        """The part named, else the side, else None."""
        return self.part or self.side


@dataclass(frozen=True)
class Phrase:
    """One way to say a finding: for each place in the phrase, the stems accepted there."""

    stems: tuple[frozenset[str], ...]
    finding: str
    answer: str
    ident: str
    text: str
    denied: str | None = None
    also: tuple[tuple[str, str], ...] = ()
    asks: bool = False


@dataclass(frozen=True)
class Phrasebook:
    """All phrases, longest first, and the words that are other words for one."""

    phrases: tuple[Phrase, ...]
    same: dict[str, str]
    called: tuple[tuple[str, tuple[frozenset[str], ...]], ...] = ()
    known: tuple[str, ...] = ()
    plain: frozenset[str] = frozenset()

    @classmethod
    def make(cls, rows: Iterable[Mapping[str, Any]]) -> Phrasebook:
        """Read the rows of ``knowledge/words``.

        Raises
        ------
        KeyError : a row with ``says`` lacks its answer.
        """
        kept = list(rows)
        same = {
            stem(word): stem(str(row["as"]))
            for row in kept
            if "same" in row
            for word in row["same"]
            if " " not in word
        }
        phrases = []
        for row in kept:
            for text in row.get("says", ()) if "finding" in row else ():
                also = tuple((str(key), str(value)) for key, value in row.get("also", {}).items())
                phrases.append(
                    Phrase(
                        _stems(same, text),
                        row["finding"],
                        str(row["answer"]),
                        str(row["id"]),
                        text,
                        row.get("denied"),
                        also,
                        "asks" in row,
                    )
                )
        ordered = sorted(phrases, key=lambda p: (-len(p.stems), p.ident, p.text))
        called = tuple(
            (str(row["kind"]), _stems(same, text)) for row in kept for text in row.get("called", ())
        )
        held = [p.stems for p in ordered] + [stems for _, stems in called]
        known = {word for stems in held for accepted in stems for word in accepted} | same.keys()
        plain = frozenset(stem(word) for row in kept for word in row.get("plain", ()))
        return cls(tuple(ordered), same, called, tuple(sorted(known)), plain)

    def hear(self, text: str) -> tuple[Match, ...]:
        """Understand a complaint in free words.

        Each clause is heard by itself; where two phrases share a word the longer one counts.
        What is denied ("no hum") is left out, unless the phrase says what its denial means.
        """
        found: list[Match] = []
        for clause in _clauses(text, [p.text for p in self.phrases if " and " in p.text]):
            for heard in self._clause(clause):
                if all(_about(h) != _about(heard) for h in found):
                    found.append(heard)
        return tuple(found)

    def _clause(self, clause: str) -> list[Match]:
        asked = "?" in clause
        words = _words(doubted(clause))
        stems = [self.canonical(word) for word in words]
        taken: set[int] = set()
        found: list[tuple[int, Match]] = []
        side, part, both = _side(words), _part(words), "both" in words
        kind = next((kind for kind, wanted in self.called if _match(wanted, stems)), None)
        for phrase in self.phrases:
            at = _match(phrase.stems, stems, taken)
            if at is None:
                continue
            answer: str | None = phrase.answer
            if denied(words, at, taken):
                answer = phrase.denied
            taken |= set(at)
            if answer is None or (asked and phrase.asks):
                continue
            said = " ".join(words[at[0] : at[-1] + 1])
            told = [(phrase.finding, answer)]
            told += phrase.also if answer == phrase.answer else ()
            found += [
                (at[0] + n, Match(f, a, side, said, phrase.ident, part, both, kind))
                for n, (f, a) in enumerate(told)
            ]
        return [heard for _, heard in sorted(found, key=lambda pair: pair[0])]

    def canonical(self, word: str) -> str:
        """Stem of the word this one stands for (``valves`` gives the stem of ``tube``)."""
        bare = stem(word)
        if bare not in self.known and bare not in self.plain:
            bare = nearest(bare, self.known) or bare
        return self.same.get(bare, bare)


def match_complaint(text: str, rows: Iterable[Mapping[str, Any]]) -> tuple[Match, ...]:
    """Understand a complaint with the rows of ``knowledge/words`` (see ``Phrasebook``)."""
    return Phrasebook.make(rows).hear(text)


def stem(word: str) -> str:
    """Word without its ending; doubled last letters are made single.

    Examples
    --------
    >>> stem("humming"), stem("hums"), stem("buzzes"), stem("buzz")
    ('hum', 'hum', 'buz', 'buz')
    """
    text = "".join(sign for sign in word.lower() if sign.isalnum())
    for ending in ("ing", "es", "ed", "s", "e"):
        if text.endswith(ending) and len(text) - len(ending) >= 3 and not text.endswith("ss"):
            text = text[: -len(ending)]
            break
    if len(text) > 3 and text[-1] == text[-2] and text[-1] not in "aeiou":
        text = text[:-1]
    return text


def _canonical(same: Mapping[str, str], word: str) -> str:
    bare = stem(word)
    return same.get(bare, bare)


def _stems(same: Mapping[str, str], text: str) -> tuple[frozenset[str], ...]:
    return tuple(
        frozenset(_canonical(same, part) for part in word.split("/"))
        for word in text.split()
        if word != "and"
    )


def _clauses(text: str, whole: Iterable[str]) -> list[str]:
    """Clauses of a text; phrases that hold an 'and' themselves (``whole``) are not cut."""
    marked = text.lower().replace("'", "").replace("\u2019", "")
    for phrase in whole:
        marked = marked.replace(phrase, phrase.replace(" and ", " & "))
    marked = marked.replace("?", "?|").replace(" but nothing", " nothing")
    for cut in (";", ".", "!", "\n", ",", " but ", " and ", " although ", " while "):
        marked = marked.replace(cut, "|")
    return [clause.strip() for clause in marked.split("|") if clause.strip()]


def _words(clause: str) -> list[str]:
    text = "".join(sign if sign.isalnum() else " " for sign in clause)
    return text.split()


def _side(words: list[str]) -> Side | None:
    sides: set[Side] = set()
    if "left" in words:
        sides.add("left")
    if "right" in words:
        sides.add("right")
    return sides.pop() if len(sides) == 1 else None


def _part(words: list[str]) -> str | None:
    """The first word that is a letter, digits, perhaps a small letter: a part as drawn."""
    for word in words:
        bare = word[1:].rstrip("ab") if word[0] in "vrct" else ""
        if bare.isdigit() and len(bare) <= 3:
            return word[0].upper() + word[1:]
    return None


def _about(heard: Match) -> tuple[str, Side | None, str | None]:
    return heard.finding, heard.side, heard.part


def _match(
    wanted: tuple[frozenset[str], ...], stems: list[str], taken: Collection[int] = ()
) -> tuple[int, ...] | None:
    """Indices of the first free place where the phrase stands in order, gaps allowed; else None."""
    for start, found in enumerate(stems):
        if found not in wanted[0] or start in taken:
            continue
        at = [start]
        for accepted in wanted[1:]:
            reach = range(at[-1] + 1, min(at[-1] + 2 + GAP, len(stems)))
            after = next((i for i in reach if stems[i] in accepted and i not in taken), None)
            if after is None:
                break
            at.append(after)
        if len(at) == len(wanted):
            return tuple(at)
    return None
