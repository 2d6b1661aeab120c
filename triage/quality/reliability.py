"""Reliability diagram: the probability shown against how often it came true."""

from __future__ import annotations

from collections.abc import Sequence

from triage.measure.plots import Axis, Graph, Mark, Series
from triage.quality.compare import calibration
from triage.quality.jobs import Record


def diagram(title: str, records: Sequence[Record]) -> Graph:
    """One point for each tenth of probability, with its number of steps; the diagonal is ideal.

    The error named in the title is the mean gap from the diagonal, weighted by steps (expected
    calibration error).
    """
    error, rows = calibration(records)
    x = tuple(row["forecast"] for row in rows)
    y = tuple(row["came_true"] for row in rows)
    return Graph(
        title=f"{title}: calibration error {error:.3f}",
        x=Axis("probability of the leading repair, as shown", "", 0.0, 1.0),
        y=Axis("share in which it was the right one", "", 0.0, 1.0),
        series=(Series("ideal", (0.0, 1.0), (0.0, 1.0)), Series("as it came", x, y)),
        marks=tuple(Mark(a, b, f"{row['n']:.0f}") for a, b, row in zip(x, y, rows, strict=True)),
    )
