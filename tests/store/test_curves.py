"""Curves of supplies are kept as plain numbers; a damaged file is made anew and never believed."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from tests.circuit.simulator import knowledge
from triage.circuit import supply
from triage.circuit.supply import Curve
from triage.store.curves import file_in, keep, recall


@pytest.fixture(name="curve")
def made(monkeypatch: pytest.MonkeyPatch) -> Curve:
    """A curve, with nothing else known."""
    monkeypatch.setattr(supply, "KNOWN", {})
    spec = knowledge().circuits["shelf_set"]
    return Curve.of(spec.supplies["HT"], spec.line)


def test_a_kept_curve_is_the_same_to_the_last_bit(tmp_path: Path, curve: Curve) -> None:
    """Numbers go through the file unchanged, and are not made again."""
    (of,) = supply.KNOWN
    assert keep(tmp_path, 0)
    supply.KNOWN.clear()

    assert recall(tmp_path) == 1
    kept = supply.KNOWN[of]
    for name in ("amps", "volts", "ripple", "slopes"):
        np.testing.assert_array_equal(getattr(kept, name), getattr(curve, name))
    assert (kept.sign, kept.ripple_hz) == (curve.sign, curve.ripple_hz)
    assert not keep(tmp_path, 1)  # nothing new


@pytest.mark.parametrize(
    "spoil",
    [
        lambda row: row.pop("volts"),
        lambda row: row["amps"].append(9.0),
        lambda row: row["amps"].reverse(),
        lambda row: row["volts"].__setitem__(0, "high"),
        lambda row: row["volts"].__setitem__(0, float("nan")),
        lambda row: row.update(sign="minus"),
    ],
    ids=["a list missing", "longer", "falling", "a word", "not a number", "sign"],
)
def test_a_damaged_file_is_not_believed(tmp_path: Path, curve: Curve, spoil: object) -> None:
    """Nothing of it is taken; the curve is worked out again."""
    keep(tmp_path, 0)
    path = file_in(tmp_path)
    rows = json.loads(path.read_text(encoding="utf-8"))
    spoil(next(iter(rows.values())))  # type: ignore[operator]  # a function of the row
    path.write_text(json.dumps(rows), encoding="utf-8")
    supply.KNOWN.clear()

    assert recall(tmp_path) == 0
    assert supply.KNOWN == {}
    assert len(curve.amps) == len(supply.SHARES)


def test_half_a_file_or_none_is_no_harm(tmp_path: Path, curve: Curve) -> None:
    """A torn file, and a folder that isn't there."""
    keep(tmp_path, 0)
    path = file_in(tmp_path)
    path.write_text(path.read_text(encoding="utf-8")[:100], encoding="utf-8")

    assert recall(tmp_path) == 0
    assert recall(tmp_path / "nowhere") == 0
    assert curve.sign == 1.0
