"""Curves of supplies kept from one run to the next: each takes half a second to work out."""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import json
import os
from dataclasses import asdict
from pathlib import Path

import numpy as np

from triage.circuit import supply
from triage.circuit.supply import Curve

VERSION = "1"
"""Raised when the supply solver gives other values for the same supply."""
MOST = 2000
"""A file with more curves than this is begun anew."""
ARRAYS = ("amps", "volts", "ripple", "slopes")


def file_in(folder: Path) -> Path:
    """Where the curves stand: its name says with which shares of current they were made."""
    about = hashlib.sha256(repr((VERSION, supply.SHARES, supply.SAG)).encode()).hexdigest()
    return folder / f"curves-{about[:16]}.json"


def recall(folder: Path) -> int:
    """Take up the curves kept in ``folder`` and keep new ones there at the end; how many there were.

    A file that cannot be read, or that holds anything but curves, is left alone and made anew.
    """
    found = _read(file_in(folder))
    supply.KNOWN.update(found)
    atexit.register(keep, folder, len(found))
    return len(found)


def keep(folder: Path, before: int) -> bool:
    """Write all curves where there are more than ``before``; nothing is lost where it cannot."""
    if len(supply.KNOWN) <= before:
        return False
    rows = {of: _plain(curve) for of, curve in supply.KNOWN.items()}
    path = file_in(folder)
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(f".{os.getpid()}.part")
        part.write_text(json.dumps(rows), encoding="utf-8")
        part.replace(path)
        return True
    return False


def _plain(curve: Curve) -> dict[str, object]:
    row = asdict(curve)
    return {**row, **{name: getattr(curve, name).tolist() for name in ARRAYS}}


def _read(path: Path) -> dict[str, Curve]:
    try:
        rows = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(rows, dict) or len(rows) > MOST:
            return {}
        return {str(of): _curve(row) for of, row in rows.items()}
    except (OSError, ValueError, TypeError, KeyError):
        return {}


def _curve(row: dict[str, object]) -> Curve:
    """A curve out of a row.

    Raises
    ------
    ValueError : arrays that don't belong together, or values that are no numbers.
    """
    arrays = {name: np.array(row[name], dtype=float) for name in ARRAYS}
    sizes = {a.shape for a in arrays.values()}
    if (
        len(sizes) != 1
        or len(sizes.pop()) != 1
        or not all(np.isfinite(a).all() for a in arrays.values())
    ):
        raise ValueError("arrays that don't belong together")
    if len(arrays["amps"]) < 2 or not (np.diff(arrays["amps"]) > 0.0).all():
        raise ValueError("currents that don't rise")
    sign, hertz = (float(str(row[name])) for name in ("sign", "ripple_hz"))
    return Curve(**arrays, sign=sign, ripple_hz=hertz)
