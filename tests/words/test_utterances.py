"""Complaints as people write them: what is heard, what is not, and that hazards never slip by."""

from __future__ import annotations

import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.words.utterances import HAZARDS, SAID
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.model.gates import HazardText
from triage.safety.hazards import listen
from triage.spelling import nearest
from triage.words import Phrasebook, stem

KB = load(knowledge_dir())
BOOK = Phrasebook.make(KB.plain["words"])
DANGERS: list[HazardText] = list(KB.hazards.values())
DANGER_FINDINGS = {"smoke", "tingle"}
WORDS = sorted({w for row in SAID.splitlines() for w in row.split("|")[0].split()})


def rows(table: str) -> list[tuple[str, str]]:
    """The lines of a table, cut at the bar."""
    cut = [line.rsplit("|", 1) for line in table.splitlines() if line]
    return [(text.strip(), wanted.strip()) for text, wanted in cut]


@pytest.mark.parametrize(("text", "wanted"), rows(SAID))
def test_what_people_write_is_heard(text: str, wanted: str) -> None:
    """An utterance tells what it must, and not what it must not."""
    heard = {f"{h.finding}={h.answer}" for h in BOOK.hear(text)}
    must = {word for word in wanted.split() if not word.startswith("!")}
    barred = {word[1:] for word in wanted.split() if word.startswith("!")}

    assert must <= heard
    assert not barred & {said.split("=")[0] for said in heard}
    assert wanted or not heard


@pytest.mark.parametrize(("text", "wanted"), rows(HAZARDS))
def test_a_hazard_is_always_caught_and_its_denial_trips_nothing(text: str, wanted: str) -> None:
    """Said is said, a doubt is asked back, a denial is none."""
    heard = listen(text, DANGERS)

    assert wanted == ("none" if heard is None else f"{heard.hazard} {heard.sure}")


@given(st.text(max_size=200))
@settings(max_examples=200, deadline=None)
def test_any_text_is_taken_without_a_crash(text: str) -> None:
    """Whatever is typed, the ear gives findings and answers that exist, or nothing."""
    for heard in BOOK.hear(text):
        assert heard.answer in KB.findings[heard.finding].answers
    listen(text, DANGERS)


@given(st.text(alphabet=string.whitespace + string.punctuation + string.digits, max_size=60))
def test_a_text_without_words_tells_no_hazard(text: str) -> None:
    """Blanks, signs and digits are no smoke and no shock."""
    assert not DANGER_FINDINGS & {heard.finding for heard in BOOK.hear(text)}
    assert listen(text, DANGERS) is None


@given(st.lists(st.sampled_from(WORDS), max_size=12))
@settings(max_examples=150, deadline=None)
def test_no_hazard_comes_from_words_that_name_none(words: list[str]) -> None:
    """A hazard finding is heard only where one of its own words stands in the text."""
    text = " ".join(words)
    told = [h for h in BOOK.hear(text) if h.finding in DANGER_FINDINGS]
    roots = ("smok", "tingl", "tingel", "shock", "zap")

    assert not told or any(root in text for root in roots)


@given(st.sampled_from(["smoke", "tingle", "shock"]), st.lists(st.sampled_from(WORDS), max_size=6))
@settings(max_examples=150, deadline=None)
def test_a_hazard_word_among_others_is_never_passed_over(word: str, before: list[str]) -> None:
    """Without a denial or a doubt before it, a hazard word is heard whatever stands around it."""
    plain = [w for w in before if listen(w, DANGERS) is None and w.isalpha()]
    kept = [w for w in plain if w not in ("no", "not", "never", "without", "sure", "know", "tell")]

    assert listen(" ".join([*kept, word]), DANGERS) is not None


def slips(word: str) -> list[str]:
    """A word with two letters swapped, one left out, or one doubled, at each place but the first."""
    found = []
    for i in range(1, len(word)):
        found += [word[:i] + word[i + 1 :], word[:i] + word[i] + word[i:]]
        if i + 1 < len(word):
            found.append(word[:i] + word[i + 1] + word[i] + word[i + 2 :])
    return found


def test_most_slips_of_the_pen_are_mended() -> None:
    """At least nine of ten slips in words of six letters or more give the word that was meant."""
    long = [word for word in BOOK.known if len(word) >= 6 and word.isalpha()]
    tried = [(word, slip) for word in long for slip in slips(word)]
    mended = [
        slip for word, slip in tried if slip in BOOK.known or nearest(slip, BOOK.known) == word
    ]

    assert len(mended) >= 0.9 * len(tried)


def test_no_word_of_these_files_is_taken_for_a_slip_of_a_hazard() -> None:
    """Held against all words of the knowledge: only forms of a hazard's own word are heard."""
    texts = [f"{f.asks} {' '.join(f.says.values())}" for f in KB.findings.values()] + [
        c.says for c in KB.causes.values()
    ]
    words = {"".join(c for c in w.lower() if c.isalpha()) for t in texts for w in t.split()}
    wrong = {
        word
        for word in words
        if (heard := listen(word, DANGERS)) is not None and heard.word[:3] not in word
    }

    assert wrong == set()


def test_there_are_enough_ways_to_say_things() -> None:
    """At least 250 other words and phrases, each one only once for one finding."""
    said = {(p.finding, p.answer, p.text) for p in BOOK.phrases}

    assert len(said) + len(BOOK.same) >= 250


def test_the_big_tubes_are_the_output_tubes() -> None:
    """A kind of tube that is spoken of goes with the finding."""
    assert [h.kind for h in BOOK.hear("one of the big valves is dark")] == ["output_tube"]
    assert [h.kind for h in BOOK.hear("a small bottle is not lit")] == ["preamp_tube"]
    assert stem("valves") in BOOK.same
