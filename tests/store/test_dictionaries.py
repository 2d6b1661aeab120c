"""Dictionaries of faults on disk: the same again, other content apart, damage made good."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.circuit.simulator import circuit
from triage.circuit.dictionary import Dictionary
from triage.circuit.faults import Fault
from triage.circuit.netlist import Netlist
from triage.store import dictionaries
from triage.store.dictionaries import content_of, kept_dictionary


def small() -> tuple[Netlist, tuple[Fault, ...]]:
    """The practice amplifier and a dozen of its faults."""
    net, faults, _ = circuit("practice_amp")
    return net, tuple(f for f in faults if f)[:12]


def same(a: Dictionary, b: Dictionary) -> bool:
    """Whether two dictionaries hold the same to the last bit."""
    return (
        (a.faults, a.points, a.units) == (b.faults, b.points, b.units)
        and np.array_equal(a.values, b.values, equal_nan=True)
        and np.array_equal(a.widths, b.widths)
    )


def test_a_kept_dictionary_is_read_and_not_solved_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second time nothing is solved, and every bit is the same."""
    first = kept_dictionary(*small(), tmp_path)

    def refuse(*_: object) -> Dictionary:
        raise AssertionError("solved again")

    monkeypatch.setattr(dictionaries, "dictionary", refuse)
    assert same(first, kept_dictionary(*small(), tmp_path))
    assert [file.suffix for file in tmp_path.iterdir()] == [".npz"]


@pytest.mark.parametrize("damage", [b"", b"no archive", b"PK\x03\x04 torn", None])
def test_a_damaged_file_is_left_aside_and_made_again(tmp_path: Path, damage: bytes | None) -> None:
    """Empty, foreign, torn, or with arrays of other shapes: solved again, and good from then on."""
    first = kept_dictionary(*small(), tmp_path)
    (file,) = tmp_path.iterdir()
    whole = file.read_bytes()
    if damage is None:
        np.savez(file, points=["a"], units=["V"], values=np.zeros((1, 1)), widths=np.ones(1))
    else:
        file.write_bytes(damage)

    assert same(first, kept_dictionary(*small(), tmp_path))
    assert len(file.read_bytes()) == len(whole)


def test_a_file_cut_or_changed_anywhere_is_never_believed(tmp_path: Path) -> None:
    """Cut at a third, and one byte in the middle turned round: the archive's own sums tell."""
    first = kept_dictionary(*small(), tmp_path)
    (file,) = tmp_path.iterdir()
    whole = file.read_bytes()
    turned = bytearray(whole)
    turned[len(whole) // 2] ^= 0xFF
    for bad in (whole[: len(whole) // 3], bytes(turned)):
        file.write_bytes(bad)

        assert same(first, kept_dictionary(*small(), tmp_path))


def test_pickled_arrays_are_refused(tmp_path: Path) -> None:
    """A file that would run code when read is not read."""
    first = kept_dictionary(*small(), tmp_path)
    (file,) = tmp_path.iterdir()
    with np.load(file) as kept:
        arrays = dict(kept)
    np.savez(file, **{**arrays, "points": arrays["points"].astype(object)})

    assert same(first, kept_dictionary(*small(), tmp_path))


def test_other_circuits_models_faults_and_versions_have_other_names(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whatever changes the values changes the hash."""
    net, faults = small()
    parts = {**net.spec.parts}
    name = next(iter(parts))
    parts[name] = parts[name].model_copy(update={"tol": "3 %"})
    tube = net.tubes[0]
    weaker = replace(tube, model=tube.model.giving(0.9))
    worse = replace(faults[0], kind=faults[0].kind.model_copy(update={"times": 7.0}))
    found = [
        content_of(net, faults),
        content_of(replace(net, spec=net.spec.model_copy(update={"parts": parts})), faults),
        content_of(replace(net, tubes=(weaker, *net.tubes[1:])), faults),
        content_of(net, (worse, *faults[1:])),
        content_of(net, faults[1:]),
    ]
    monkeypatch.setattr(dictionaries, "VERSION", "next")

    assert len({*found, content_of(net, faults)}) == 6


def test_a_folder_that_cannot_be_written_does_no_harm(tmp_path: Path) -> None:
    """A file stands where the folder should be: solved, nothing kept."""
    (tmp_path / "cache").write_text("in the way", encoding="utf-8")

    assert kept_dictionary(*small(), tmp_path / "cache").points
