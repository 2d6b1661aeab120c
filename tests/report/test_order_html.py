"""The order of steps as one HTML page: tags balanced, self-contained, cautions first."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest

from tests.report.trees import JOBS, Job, in_reading_order, tree
from triage.report.order_html import order_html

VOID = frozenset({"meta", "br", "hr", "img", "input", "link"})
"""Elements without an end tag that might stand here (HTML Living Standard, 13.1.2; from memory)."""


class Balanced(HTMLParser):
    """Keeps the open elements; an end tag that closes none of them is an error."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.seen: set[str] = set()
        self.attributes: set[str] = set()
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element begins."""
        self.seen.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element that closes itself (in the picture)."""
        self.seen.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_endtag(self, tag: str) -> None:
        """An element ends: the one opened last."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Words; those of the style sheet are none."""
        if self.open and self.open[-1] != "style":
            self.words.append(data)


def read(page: str) -> Balanced:
    """A page read to its end, with nothing left open."""
    reader = Balanced()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


@pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")
def test_tags_are_balanced_and_nothing_comes_from_outside(job: Job) -> None:
    """html.parser: every element closed in its turn; no script, frame, link or source."""
    page = order_html(tree(*job))
    reader = read(page)
    assert reader.seen & {"script", "link", "iframe", "img", "object", "embed", "form"} == set()
    assert not {a for a in reader.attributes if a.startswith("on") or a in ("src", "href")}
    assert re.findall(r"url\(|@import", page) == []
    assert set(re.findall(r"https?://[^\"\s]+", page)) == {"http://www.w3.org/2000/svg"}


@pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")
def test_everything_of_the_tree_is_there_in_order(job: Job) -> None:
    """Acts, gates, steps, cautions, answers and ends, in reading order: gates above steps."""
    found = tree(*job)
    flat = squeezed(" ".join(read(order_html(found)).words))
    at = flat.find("The steps")
    for piece in in_reading_order(found):
        at = flat.find(squeezed(piece), at)
        assert at >= 0, piece


def squeezed(text: str) -> str:
    """Blanks and line breaks as one blank."""
    return re.sub(r"\s+", " ", text).strip()


def test_cautions_come_first_and_the_picture_is_inside() -> None:
    """Before the steps: local codes, licensed practice; after them the picture."""
    page = order_html(tree(*JOBS[0]))
    assert page.find("Local codes and licensed practice") < page.find("<h2>The steps</h2>")
    assert page.find("<h2>The steps</h2>") < page.find("<svg ")
    assert "@media print" in page


def test_the_reader_refuses_a_tag_left_open() -> None:
    """The check can fail."""
    with pytest.raises(AssertionError):
        read("<div><p>open</div>")
