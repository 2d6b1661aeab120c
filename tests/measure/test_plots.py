"""Pictures: valid XML, round ticks, everything inside the frame, plain text that fits."""

import math
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.measure.plots import Axis, Gauge, Graph, Mark, Series, labels, line, ticks
from triage.measure.svg import HEIGHT, WIDTH, svg
from triage.measure.textplot import text

TIME = np.linspace(0, 5, 2000)
DISCHARGE = Graph(
    'Discharge <of> "C1" & R',
    Axis("time", "s"),
    Axis("volts", "V"),
    (line("C1", TIME, 450 * np.exp(-TIME)), line("10 V", [0, 5], [10, 10])),
    (Mark(3.8, 10, "10 V after 3.8 s"),),
)
IDLE = Gauge("Idle", "W", 17.7, 0.5, (0.9, 9, 22.5, 30), ("none", "low", "normal", "high", "over"))
SVG = "{http://www.w3.org/2000/svg}"


def test_the_svg_is_xml_with_its_words_escaped() -> None:
    """Title with <, & and quotes comes back as it was."""
    root = ElementTree.fromstring(svg(DISCHARGE))
    assert root.attrib["aria-label"] == DISCHARGE.title
    assert [node.text for node in root.iter(f"{SVG}title")] == [DISCHARGE.title]


def test_every_point_of_a_line_lies_on_the_page() -> None:
    """No line leaves its frame, and each is thinned to what can be shown."""
    root = ElementTree.fromstring(svg(DISCHARGE))
    lines = list(root.iter(f"{SVG}polyline"))
    assert len(lines) == 2
    for node in lines:
        points = [tuple(map(float, pair.split(","))) for pair in node.attrib["points"].split()]
        assert 1 < len(points) <= 400
        assert all(0 <= x <= WIDTH and 0 <= y <= HEIGHT for x, y in points)
    assert lines[0].attrib.get("stroke-dasharray") != lines[1].attrib.get("stroke-dasharray")


@given(low=st.floats(-1e3, 1e3), span=st.floats(1e-3, 1e6), about=st.integers(2, 12))
@settings(max_examples=60)
def test_ticks_are_round_and_within(low: float, span: float, about: int) -> None:
    """All ticks lie within the ends, evenly, one, two or five apart."""
    found = ticks(low, low + span, about)
    assert len(found) <= 2 * about + 3
    slack = 1e-6 * span + 1e-9 * abs(low)
    assert all(low - slack <= tick <= low + span + slack for tick in found)
    if len(found) > 1:
        step = found[1] - found[0]
        lead = step / 10 ** math.floor(math.log10(step) + 1e-9)
        assert min(abs(lead - f) for f in (1, 2, 5, 10)) < 1e-3


def test_labels_share_one_prefix() -> None:
    """0 to 2 mA is labelled in mA throughout, ohms with their sign."""
    assert labels([0.0, 0.0005, 0.001, 0.002], "A") == ["0", "0.5 mA", "1 mA", "2 mA"]
    assert labels([50e3, 100e3], "ohm") == ["50 kΩ", "100 kΩ"]
    assert labels([1e-5, 2e-5], "F") == ["10 µF", "20 µF"]


@pytest.mark.parametrize("picture", [DISCHARGE, IDLE], ids=["graph", "gauge"])
@pytest.mark.parametrize("width", [40, 60, 79])
def test_text_fits_its_width_and_plain_text_is_ascii(picture: Graph | Gauge, width: int) -> None:
    """No line is wider than asked; the plain form has no sign beyond ASCII."""
    for plain in (False, True):
        lines = text(picture, width, 18, ascii_only=plain)
        assert all(len(row) <= width for row in lines)
        assert len(lines) <= 20
        if plain:
            assert all(row.isascii() for row in lines)


def test_a_falling_line_falls_in_text_too() -> None:
    """The column of the curve's sign goes down from left to right."""
    rows = [row for row in text(DISCHARGE, 79, 20, ascii_only=True)[:-1] if "*" in row]
    first = [row.index("*") for row in rows]
    assert first == sorted(first) and len(rows) > 8


@pytest.mark.parametrize(("value", "band"), [(0.1, "none"), (9.0, "normal"), (31, "over")])
def test_a_gauge_names_the_band_of_its_reading(value: float, band: str) -> None:
    """An edge belongs to the band above it."""
    gauge = Gauge("Idle", "W", value, 0.1, IDLE.edges, IDLE.bands)
    assert gauge.band() == band
    assert text(gauge)[-1].endswith(band)
    assert f": {band}" in svg(gauge)


@pytest.mark.parametrize(
    "make",
    [
        lambda: Series("a", (1.0,), ()),
        lambda: Series("a", (), ()),
        lambda: Series("a", (1.0,), (math.nan,)),
        lambda: Gauge("g", "V", 1.0, 0.0, (2.0, 1.0), ("a", "b", "c")),
        lambda: Gauge("g", "V", 1.0, 0.0, (), ("a",)),
        lambda: Gauge("g", "V", math.inf, 0.0, (1.0,), ("a", "b")),
        lambda: text(IDLE, 20),
    ],
)
def test_what_cannot_be_drawn_is_refused(make) -> None:
    """Unequal lengths, no points, no numbers, falling edges, too narrow a page."""
    with pytest.raises(ValueError):
        make()


def test_one_flat_point_still_makes_a_picture() -> None:
    """A line without extent gets a scale of its own."""
    flat = Graph("flat", Axis("x", "s"), Axis("y", "V"), (line("", [1.0], [5.0]),))
    assert "polyline" in svg(flat)
    assert any("•" in row for row in text(flat))
