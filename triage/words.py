"""What people say: US and UK words for one thing, and phrases that tell a finding unasked.

The phrases are data (``knowledge/words/``). A row is either ``{id, as: tube, same: [valve]}``
(other words for one word) or ``{id, finding, answer, says: [phrases]}``, with ``denied`` (the
answer when it is denied) and ``also`` (what else it tells: finding -> answer). In a phrase,
``a/b`` stands for either word; between two words of a phrase up to two other words may stand.
Word endings do not matter (hum, hums, humming).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

NOT = frozenset(
    {
        "not",
        "no",
        "never",
        "without",
        "isnt",
        "doesnt",
        "dont",
        "didnt",
        "wasnt",
        "hasnt",
        "stopped",
        "neither",
        "nor",
    }
)
GAP = 2
"""Other words allowed between two words of a phrase."""

Side = Literal["left", "right"]


@dataclass(frozen=True)
class Match:
    """One thing understood: a finding with its answer, where it was said to be, the words used.

    ``part`` is a name as drawn (``V3``, ``C9``), or None; it need not exist in the amplifier.
    """

    finding: str
    answer: str
    side: Side | None
    words: str
    ident: str = ""
    part: str | None = None
    everywhere: bool = False

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


@dataclass(frozen=True)
class Phrasebook:
    """All phrases, longest first, and the words that are other words for one."""

    phrases: tuple[Phrase, ...]
    same: dict[str, str]

    @classmethod
    def make(cls, rows: Iterable[Mapping[str, Any]]) -> Phrasebook:
        """Read the rows of ``knowledge/words``.

        Raises
        ------
        KeyError : a row has neither ``same`` nor ``says``.
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
            if "same" in row:
                continue
            for text in row["says"]:
                stems = tuple(
                    frozenset(_canonical(same, part) for part in word.split("/"))
                    for word in text.split()
                    if word != "and"
                )
                also = tuple((str(key), str(value)) for key, value in row.get("also", {}).items())
                phrases.append(
                    Phrase(
                        stems,
                        row["finding"],
                        str(row["answer"]),
                        str(row["id"]),
                        text,
                        row.get("denied"),
                        also,
                    )
                )
        ordered = sorted(phrases, key=lambda p: (-len(p.stems), p.ident, p.text))
        return cls(tuple(ordered), same)

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
        words = _words(clause)
        stems = [_canonical(self.same, word) for word in words]
        taken: set[int] = set()
        found: list[tuple[int, Match]] = []
        side, part = _side(words), _part(words)
        both = "both" in words
        for phrase in self.phrases:
            at = _match(phrase.stems, stems)
            if at is None or taken & set(at):
                continue
            answer: str | None = phrase.answer
            if _denied(words, at, phrase):
                answer = phrase.denied
            taken |= set(at)
            if answer is None:
                continue
            said = " ".join(words[at[0] : at[-1] + 1])
            found.append(
                (at[0], Match(phrase.finding, answer, side, said, phrase.ident, part, both))
            )
            if answer == phrase.answer:
                found += [
                    (at[0] + 1, Match(key, value, side, said, phrase.ident, part, both))
                    for key, value in phrase.also
                ]
        return [heard for _, heard in sorted(found, key=lambda pair: pair[0])]

    def canonical(self, word: str) -> str:
        """Stem of the word this one stands for (``valves`` gives the stem of ``tube``)."""
        return _canonical(self.same, word)


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


def _clauses(text: str, whole: Iterable[str]) -> list[str]:
    """Clauses of a text; phrases that hold an 'and' themselves (``whole``) are not cut."""
    marked = text.lower().replace("'", "").replace("\u2019", "")
    for phrase in whole:
        marked = marked.replace(phrase, phrase.replace(" and ", " & "))
    for cut in (";", ".", "!", "?", "\n", ",", " but ", " and ", " although ", " while "):
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


def _match(wanted: tuple[frozenset[str], ...], stems: list[str]) -> tuple[int, ...] | None:
    """Indices of the first place where the phrase stands in order, gaps allowed; else None."""
    for start, found in enumerate(stems):
        if found not in wanted[0]:
            continue
        at = [start]
        for accepted in wanted[1:]:
            reach = range(at[-1] + 1, min(at[-1] + 2 + GAP, len(stems)))
            after = next((i for i in reach if stems[i] in accepted), None)
            if after is None:
                break
            at.append(after)
        if len(at) == len(wanted):
            return tuple(at)
    return None


def _denied(words: list[str], at: tuple[int, ...], phrase: Phrase) -> bool:
    own = {i for i in at if words[i] in NOT}
    before = range(max(0, at[0] - 2), at[-1] + 1)
    return any(words[i] in NOT for i in before if i not in own)
