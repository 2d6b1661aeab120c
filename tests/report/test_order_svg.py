"""The order of steps as SVG: well formed, nothing from outside, boxes apart, words inside."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from tests.report.trees import JOBS, Job, cells, in_reading_order, tree
from triage.report.order_svg import order_svg

SVG = "{http://www.w3.org/2000/svg}"
"""Namespace of SVG (W3C, Scalable Vector Graphics 1.1, section 5.1; from memory)."""
WIDE = 0.62
"""Width of a common sans-serif's average character, in its size; from memory, on the wide side."""


def boxes(root: ET.Element) -> list[tuple[float, float, float, float]]:
    """Outlines of the boxes: left, top, right, bottom; the page and inner outlines left out."""
    found = []
    for rect in root.iter(SVG + "rect"):
        if rect.get("stroke") and rect.get("fill") != "none":
            x, y, w, h = (float(rect.get(k, "nan")) for k in ("x", "y", "width", "height"))
            found.append((x, y, x + w, y + h))
    return found


@pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")
def test_it_is_well_formed_and_draws_on_nothing_from_outside(job: Job) -> None:
    """XML that parses; no script, no link, no picture, no style sheet, no font of its own."""
    drawn = order_svg(tree(*job))
    root = ET.fromstring(drawn)
    assert root.tag == SVG + "svg"
    kinds = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert kinds <= {"svg", "title", "rect", "text", "path"}
    assert re.findall(r"(?:href|url\(|@import|on\w+=)", drawn) == []


@pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")
def test_no_box_lies_over_another_or_outside_the_page(job: Job) -> None:
    """As many boxes as parts, each on the page, no two sharing a point."""
    found = tree(*job)
    root = ET.fromstring(order_svg(found))
    width, height = float(root.get("width", "0")), float(root.get("height", "0"))
    drawn = boxes(root)
    assert len(drawn) == sum(len(cell.parts) for cell in cells(found))
    for n, (left, top, right, bottom) in enumerate(drawn):
        assert left >= 0
        assert top >= 0
        assert right <= width
        assert bottom <= height
        for a, b, c, d in drawn[n + 1 :]:
            assert right <= a or c <= left or bottom <= b or d <= top


@pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")
def test_words_stay_inside_their_boxes(job: Job) -> None:
    """Each line that begins in a box ends in it, by the width of its characters."""
    root = ET.fromstring(order_svg(tree(*job)))
    drawn = boxes(root)
    for text in root.iter(SVG + "text"):
        x, y = float(text.get("x", "nan")), float(text.get("y", "nan"))
        inside = [box for box in drawn if box[0] <= x <= box[2] and box[1] <= y <= box[3]]
        if inside:
            size = float(text.get("font-size", "12")) * WIDE
            assert x + size * len(text.text or "") <= inside[0][2], text.text


def test_all_words_of_the_tree_are_in_the_picture() -> None:
    """Nothing is cut off."""
    found = tree(*JOBS[0])
    root = ET.fromstring(order_svg(found))
    flat = re.sub(r"\s+", " ", " ".join(text.text or "" for text in root.iter(SVG + "text")))
    for piece in in_reading_order(found):
        assert re.sub(r"\s+", " ", piece) in flat, piece


def test_cautions_stand_on_top() -> None:
    """Above the first box."""
    root = ET.fromstring(order_svg(tree(*JOBS[0])))
    top = min(box[1] for box in boxes(root))
    above = " ".join(t.text or "" for t in root.iter(SVG + "text") if float(t.get("y", "0")) < top)
    assert "Local codes and licensed practice come first" in above
