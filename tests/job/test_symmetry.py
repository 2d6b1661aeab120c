"""Names mean nothing: with V3 and V4 (and their parts) exchanged, only the names change."""

from __future__ import annotations

import pytest

from tests.job.helpers import bench, start
from triage.job.session import Session

PAIRS = (
    ("V3", "V4"),
    ("S3", "S4"),
    ("C9", "C10"),
    ("R21", "R22"),
    ("R23", "R24"),
    ("R25", "R26"),
    ("R27", "R28"),
)
OTHER = {a: b for pair in PAIRS for a, b in (pair, pair[::-1])}
EVIDENCE = (
    (("grid_shift_tube_in", "V3", "far_raised"), ("grid_shift_tube_out", "V3", "far_raised")),
    (("getter", "V3", "white"), ("heater", "V3", "dark"), ("heater", "V4", "lit")),
    (("idle_current", "V4", "far_high"), ("idle_current", "V3", "normal"), ("hum", "amp", "loud")),
    (
        ("grid_shift_tube_in", "V4", "raised"),
        ("after_swap", "V4", "moved"),
        ("cap_leak", "C10", "none"),
        ("bias_at_pin", "V4", "right"),
    ),
)


def _judged(rows: tuple[tuple[str, str, str], ...], *, swapped: bool) -> Session:
    session, _, _ = start(skill="technician")
    for finding, place, answer in rows:
        known = bench().knowledge.findings[finding].answers
        word = answer if answer in known else known[-1]
        session.tell(finding, OTHER.get(place, place) if swapped else place, word)
    session.complaint_over()
    return session


@pytest.mark.parametrize("rows", EVIDENCE, ids=lambda rows: "-".join(r[0] for r in rows))
def test_exchanging_v3_and_v4_exchanges_the_conclusion_and_nothing_else(
    rows: tuple[tuple[str, str, str], ...],
) -> None:
    """Every cause at every place has, to 1e-9, the probability of its mirror image."""
    found = _judged(rows, swapped=False).moment.assessment
    mirror = _judged(rows, swapped=True).moment.assessment
    there = {(s.cause, s.place): s.p for s in mirror.suspects}

    for suspect in found.suspects:
        place = OTHER.get(suspect.place, suspect.place)
        assert there[suspect.cause, place] == pytest.approx(suspect.p, abs=1e-9), suspect.says
    assert mirror.unknown == pytest.approx(found.unknown, abs=1e-9)
    assert mirror.healthy == pytest.approx(found.healthy, abs=1e-9)
    assert mirror.surprise == pytest.approx(found.surprise, abs=1e-9)


def test_the_evidence_does_point_to_one_side() -> None:
    """The mirror is not empty: with a far raised grid at V3, C9 stands far above C10."""
    found = _judged(EVIDENCE[0], swapped=False).moment.assessment
    by_place = {s.place: s.p for s in found.suspects if s.cause == "coupling_cap.leaky"}

    assert by_place["C9"] > 20 * by_place["C10"]
