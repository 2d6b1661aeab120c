"""A cleared step is made in one place only; taking answers back opens nothing."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from pathlib import Path
from typing import Any, cast

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import triage
from tests.safety.shadow import GOOD, proof_act
from triage.errors import SafetyRefusal
from triage.job.events import Event
from triage.job.fold import fold
from triage.model.entries import Repair
from triage.safety.cleared import Cleared, clear
from triage.safety.facts import AmpFacts
from triage.safety.gates import passed, prove
from triage.safety.states import ACTS, SafetyState, apply

REPAIR = Repair.model_construct(
    id="resolder", opens=False, cautions=[], fits_output_tubes=False, steps=["Solder."]
)


def some() -> Cleared:
    found = clear(REPAIR, "here", SafetyState(), AmpFacts())
    assert isinstance(found, Cleared)
    return found


@pytest.mark.parametrize(
    "way",
    [
        lambda c: Cleared(object(), c.entry, "", "cold", (), ()),
        copy.copy,
        copy.deepcopy,
        pickle.dumps,
        lambda c: setattr(c, "power", "cold"),
        lambda c: delattr(c, "banner"),
        lambda c: type("More", (Cleared,), {}),
    ],
)
def test_a_cleared_step_cannot_be_made_or_changed_elsewhere(way: Any) -> None:
    """Constructor, copy, deep copy, pickle, change, deletion and a subclass are all refused."""
    with pytest.raises(SafetyRefusal):
        way(some())


def test_a_cleared_step_is_no_dataclass_to_be_replaced() -> None:
    """dataclasses.replace does not work on it."""
    with pytest.raises(TypeError):
        dataclasses.replace(cast(Any, some()), power="cold")


def test_no_other_module_mentions_the_seal() -> None:
    """Only triage/safety/cleared.py knows the seal."""
    root = Path(triage.__file__).parent
    users = [p.name for p in root.rglob("*.py") if "_SEAL" in p.read_text(encoding="utf-8")]
    assert users == ["cleared.py"]


ACT = st.sampled_from(sorted(ACTS)).map(lambda kind: {"act": kind})
ROW = st.one_of(
    ACT.map(lambda d: ("act_done", d)),
    st.just(("answer_given", {"finding": "hum", "place": "amp", "answer": "yes"})),
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(ROW, max_size=25))
def test_taking_every_answer_back_leaves_safety_as_it_is(rows: list[tuple[str, Any]]) -> None:
    """Safety is folded from acts alone: undone answers neither open nor shut a gate."""
    events = [Event(n=n, at=float(n), kind=kind, data=data) for n, (kind, data) in enumerate(rows)]
    state = fold(events)
    for given_ in state.answers:
        n = len(events)
        events.append(Event(n=n, at=state.at, kind="answer_undone", data={"target": given_.n}))
    undone = fold(events)
    assert undone.answers == ()
    assert undone.acts == state.acts
    assert undone.safety == state.safety


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.integers(0, 20))
def test_an_act_is_no_answer_and_cannot_be_taken_back(n: int) -> None:
    """Undoing the number of an act is refused."""
    events = [Event(n=i, at=float(i), kind="act_done", data={"act": "time"}) for i in range(n + 1)]
    events.append(Event(n=n + 1, at=99.0, kind="answer_undone", data={"target": n}))
    with pytest.raises(ValueError, match="acts stay done"):
        fold(events)


@pytest.mark.parametrize("gate", sorted(GOOD))
def test_a_gate_recorded_on_a_bare_yes_stays_shut_and_prove_refuses_it(gate: str) -> None:
    """No gate passes without its readings, whether proved or slipped into the record."""
    bare = proof_act(gate, good=False)
    with pytest.raises(SafetyRefusal):
        prove(SafetyState(), bare, AmpFacts())
    assert not passed(gate, apply(SafetyState(), bare), AmpFacts())


def test_a_clear_call_for_a_repair_inside_is_refused_while_charged() -> None:
    """A fresh bench is charged: a repair that opens the cabinet is not shown."""
    inside = cast(Any, REPAIR.model_copy(update={"opens": True}))
    assert not isinstance(clear(inside, "here", SafetyState(), AmpFacts()), Cleared)
