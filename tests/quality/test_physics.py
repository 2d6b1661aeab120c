"""Knowledge about volts and currents is true in the circuits, and false words are caught."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.circuit.simulator import knowledge
from triage.model.entries import Makes
from triage.quality.physics import check_physics, shares


@pytest.mark.slow
def test_most_words_hold_in_one_small_circuit_alone() -> None:
    """The practice amplifier: three quarters of what is tried; its cathode bias hides the rest."""
    tried = [t for t in check_physics(knowledge(), ("practice_amp",)) if t.verdict != "not tried"]

    assert len(tried) >= 40
    assert sum(t.verdict == "holds" for t in tried) >= 0.75 * len(tried)
    assert all(t.why for t in tried)


def test_a_false_word_is_caught() -> None:
    """An open plate resistor that was said to leave the plate at its supply does not hold."""
    base = knowledge()
    cause = base.causes["plate_resistor.open"]
    wrong = Makes.model_validate(
        {"of": "self.feeds", "finding": "plate_share", "answer": "at_supply", "word": "usually"}
    )
    made = [w for w in cause.makes if w.finding != "plate_share"]
    changed = cause.model_copy(update={"makes": [*made, wrong]})
    spoilt = replace(base, causes={**base.causes, cause.id: changed})
    found = check_physics(spoilt, ("practice_amp",))
    (row,) = [t for t in found if t.cause == cause.id and t.finding == "plate_share"]

    assert row.verdict == "does not"


@pytest.mark.slow
def test_no_tried_word_is_false_in_any_circuit() -> None:
    """All five circuits; the share that was tried is printed."""
    found = check_physics(knowledge())
    print(shares(found))

    assert [t for t in found if t.verdict == "does not"] == []
