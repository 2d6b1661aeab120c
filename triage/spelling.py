"""Slips of the pen and denials in free words: which word was meant, and whether it was denied.

A word that is in no phrase is held against those that are (`difflib` of the standard library):
same first letter, about as long, nearly the same letters. Short words are never guessed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from difflib import SequenceMatcher
from functools import lru_cache

SHORTEST = 5
"""Letters of a word below which nothing is guessed: 'ham' is not taken for 'hum'."""
NEAR = 0.8
"""Least share of letters in common and in order; a swapped pair in a word of five gives 0.8."""

NOT = frozenset(
    "not no never without isnt doesnt dont didnt wasnt hasnt havent arent werent wont cant cannot "
    "couldnt wouldnt aint stopped stops stop quit neither nor none".split()
)
STOPS = frozenset({"stopped", "stops", "stop", "quit"})
FILLERS = frozenset(
    "a an the any anything of at all trace sign signs hint more actual real visible obvious or nor "
    "much bit see seen saw hear heard smell smelled smelt feel felt notice noticed find found get "
    "getting got give gives gave do does be been is are was it there ever really longer".split()
)
"""Words a denial reaches over without being spent."""
BARRIERS = frozenset("just only until unless because when whenever then till".split())
"""A denial before one of these does not reach what follows."""
REACH = 2
"""Other words that a denial reaches over."""
DOUBTS = (
    "not sure",
    "dont know",
    "do not know",
    "cant tell",
    "cannot tell",
    "no idea",
    "never checked",
    "havent checked",
)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that a misspelt one was meant to be; None where none is near.

    Examples
    --------
    >>> nearest("crackel", ["crackle", "crack"]), nearest("aunt", ["hum"])
    ('crackle', None)
    """
    return _nearest(word, tuple(known)) if len(word) >= SHORTEST else None


@lru_cache(maxsize=4096)
def _nearest(word: str, known: tuple[str, ...]) -> str | None:
    best, share = None, 0.0
    for other in known:
        if other[:1] != word[:1] or abs(len(other) - len(word)) > 2 or len(other) < SHORTEST - 1:
            continue
        alike = SequenceMatcher(None, word, other, autojunk=False).ratio()
        swapped = sorted(word) == sorted(other)
        least = NEAR if swapped else NEAR + 0.03
        if alike >= least and alike > share:
            best, share = other, alike
    return best


def denied(words: Sequence[str], at: Sequence[int], taken: Collection[int]) -> bool:
    """Whether the words at these places are denied by one before them or among them.

    ``taken``: places that belong to another phrase ('no sound' in 'no sound hum' denies no hum).
    Two denials cancel ('never stops humming').
    """
    own = set(at)
    count = sum(words[i] in NOT for i in range(at[0], at[-1]) if i not in own)
    spent, i = 0, at[0] - 1
    while i >= 0 and spent <= REACH and words[i] not in BARRIERS and i not in taken:
        if words[i] in NOT:
            only = words[i + 1 : i + 2] in (["just"], ["only"])
            count += not only
        elif words[i] not in FILLERS:
            spent += 1
        i -= 1
    return count % 2 == 1


def doubted(clause: str) -> str:
    """The part of a clause that is said for sure: what follows 'not sure if' is left out."""
    for doubt in DOUBTS:
        before, found, _ = clause.partition(doubt)
        if found:
            return before
    return clause
