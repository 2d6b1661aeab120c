"""Free words become findings; US and UK words mean the same."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from triage.words import Phrasebook, stem

ROOT = Path(__file__).resolve().parents[2] / "knowledge"


def _rows(folder: str) -> list[dict[str, object]]:
    return [
        row
        for path in sorted((ROOT / folder).rglob("*.yaml"))
        for row in yaml.safe_load(path.read_text(encoding="utf-8"))
    ]


@pytest.fixture(scope="module")
def book() -> Phrasebook:
    return Phrasebook.make(_rows("words"))


def _said(book: Phrasebook, text: str) -> set[tuple[str, str]]:
    return {(heard.finding, heard.answer) for heard in book.hear(text)}


def test_every_phrase_tells_a_finding_with_one_of_its_answers(book: Phrasebook) -> None:
    """No phrase points at a finding or an answer that the files do not have."""
    findings = {row["id"]: row["answers"] for row in _rows("findings")}
    lost = [p.ident for p in book.phrases if p.answer not in findings.get(p.finding, ())]

    assert lost == []


def test_every_phrase_is_heard_as_what_it_says(book: Phrasebook) -> None:
    """Each phrase, said alone in its first alternative, gives its own finding and answer."""
    deaf = []
    for phrase in book.phrases:
        text = " ".join(word.split("/")[0] for word in phrase.text.split())
        if (phrase.finding, phrase.answer) not in _said(book, text):
            deaf.append((phrase.ident, phrase.text, _said(book, text)))

    assert deaf == []


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("It hums", {("hum", "yes")}),
        ("there's a constant 120 hz hum that gets louder", {("hum", "yes")}),
        ("one of the big valves glows cherry red after ten minutes", {("plate_colour", "red")}),
        ("the anode is red", {("plate_colour", "red")}),
        ("the left channel is dead", {("sound", "silent")}),
        ("no sound at all but the valves are lit", {("sound", "silent")}),
        ("it won't turn on", {("powers_up", "nothing")}),
        ("purple haze inside one tube", {("inner_glow", "violet_between")}),
        ("white getter on V3", {("getter", "white")}),
        ("idle current keeps rising", {("idle_trend", "rises")}),
        ("fuse blows when it warms up", {("fuse_blows", "warming_up")}),
        ("no hum, just weak", {("hum", "no"), ("sound", "weak")}),
        ("it doesn't hum", {("hum", "no")}),
        (
            "frying bacon noise, sat in the attic for years",
            {("crackle", "yes"), ("onset", "after_storage")},
        ),
        ("a low hum", {("hum", "yes")}),
        ("cuts in and out", {("happens", "comes_and_goes")}),
        ("I got a shock from the strings", {("tingle", "yes")}),
    ],
)
def test_complaints_in_plain_words_are_understood(
    book: Phrasebook, text: str, expected: set[tuple[str, str]]
) -> None:
    """What a person writes contains what is expected."""
    assert expected <= _said(book, text)


def test_a_side_is_heard_with_its_complaint(book: Phrasebook) -> None:
    """'left' and 'right' go with the words of their own clause."""
    heard = book.hear("left channel dead, right channel hums")

    assert [(h.finding, h.side) for h in heard] == [
        ("sound", "left"),
        ("hum_here", "right"),
        ("hum", "right"),
    ]


def test_a_part_named_as_drawn_is_heard(book: Phrasebook) -> None:
    """'V3', 'v2b' and 'C9' go with the words of their own clause; a number alone is no part."""
    heard = book.hear("V3 glows red, v2b has a white getter, and it hums at 120 cycles")

    assert [(h.finding, h.place) for h in heard] == [
        ("plate_colour", "V3"),
        ("getter", "V2b"),
        ("hum_rate", None),
        ("hum", None),
    ]


def test_both_sides_are_told_as_such(book: Phrasebook) -> None:
    """'both channels are weak' holds everywhere; one side does not."""
    assert [(h.place, h.everywhere) for h in book.hear("both channels are too quiet")] == [
        (None, True)
    ]
    assert [(h.place, h.everywhere) for h in book.hear("left channel too quiet")] == [
        ("left", False)
    ]


def test_a_low_hum_is_not_taken_for_low_volume(book: Phrasebook) -> None:
    """'low' speaks of pitch as often as of loudness: alone it tells nothing."""
    assert _said(book, "a low hum") == {("hum", "yes")}


def test_what_is_not_known_is_not_invented(book: Phrasebook) -> None:
    """Words without a phrase give nothing."""
    assert book.hear("my aunt gave it to me in spring") == ()


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("humming", "hums"),
        ("buzzes", "buzz"),
        ("valves", "valve"),
        ("glowing", "glows"),
    ],
)
def test_endings_do_not_matter(one: str, other: str) -> None:
    """Forms of one word have one stem."""
    assert stem(one) == stem(other)
