"""Dictionaries of faults kept on disk by content, so that a circuit is solved once.

A file holds arrays alone and is read without pickle. What cannot be read is made again.
"""

from __future__ import annotations

import hashlib
import json
import os
import struct
import zipfile
import zlib
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from triage.circuit.dictionary import VERSION, Dictionary, dictionary
from triage.circuit.faults import Fault
from triage.circuit.netlist import Netlist

UNREADABLE = (
    OSError,
    ValueError,
    KeyError,
    EOFError,
    TypeError,
    RuntimeError,
    MemoryError,
    OverflowError,
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
)
"""What a damaged archive makes its reader raise."""


def kept_dictionary(net: Netlist, faults: Sequence[Fault], folder: Path | None) -> Dictionary:
    """The dictionary of a circuit, from ``folder`` if it is there, else solved and kept there.

    Parameters
    ----------
    folder : folder of what can be made again; None keeps nothing.
    """
    if folder is None:
        return dictionary(net, faults)
    file = folder / f"faults-{content_of(net, faults)[:32]}.npz"
    found = _read(file, faults)
    if found is None:
        found = dictionary(net, faults)
        _keep(file, found)
    return found


def content_of(net: Netlist, faults: Sequence[Fault]) -> str:
    """Hash of all that a dictionary is made from: circuit, tube models, faults, and the solver."""
    parts = [
        VERSION,
        net.spec.model_dump_json(),
        *(f"{tube.name} {tube.model.model_dump_json()}" for tube in net.tubes),
        *(
            json.dumps([fault.part, fault.place, fault.causes, fault.kind.model_dump_json()])
            for fault in faults
        ),
    ]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def _read(file: Path, faults: Sequence[Fault]) -> Dictionary | None:
    try:
        with file.open("rb") as stream, np.load(stream, allow_pickle=False) as kept:
            points, units = (tuple(map(str, kept[name])) for name in ("points", "units"))
            values, widths = (np.asarray(kept[name]) for name in ("values", "widths"))
    except UNREADABLE:
        return None
    shapes = (values.shape, widths.shape, len(units))
    if shapes != ((1 + len(faults), len(points)), (len(points),), len(points)):
        return None
    if any(kept.dtype != np.float64 for kept in (values, widths)) or not np.all(widths > 0.0):
        return None
    return Dictionary(tuple(faults), points, units, values, widths)


def _keep(file: Path, found: Dictionary) -> None:
    part = file.with_suffix(f".{os.getpid()}.part")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with part.open("wb") as stream:
            np.savez(
                stream,
                points=np.array(found.points, dtype=str),
                units=np.array(found.units, dtype=str),
                values=found.values,
                widths=found.widths,
            )
        part.replace(file)
    except OSError:  # a full or locked disk: it is solved again next time
        return
